/* Pull: asking for holes without end, answering once. The numbers were fitted in a prototype. */
#include "mesh/state.h"

#include <string.h>

#define ASK_LOW_MS       300
#define ASK_HIGH_MS      6000
#define ASK_PER_HOP_MS   3000 /* who is nearer the origin asks first, and passes it on */
#define FIRST_ASK_MS     6000 /* then 12, 24 ... s */
#define ASK_MAX_US       (600 * RP_SECOND_US) /* never rarer than this */
#define ASK_MAX_LEAST_US (60 * RP_SECOND_US)  /* over the poorest link; own choice */
#define ROTATE_AFTER     8
/* Where fewer than four needs in ten are answered they keep the first pace for three times as many
 * as an answer takes on average: 19 of 20 have come then ((1 - q)^(3 / q) is below e^-3). Fitted
 * with bare engines: p95 of chain:5 at 50 % 553 s to 180 s, airtime 1.70 to 1.67. Over better links
 * it brings nothing, and on ladders it costs. */
#define POOR_Q8         102
#define USUAL_TIMES     3
#define USUAL_MOST      12
#define ATTEMPTS_MAX    20   /* where the count stops, not the asking */
#define GATHER_MS       2000 /* logs due this soon share a need */
#define FLOWING_MS      3000
#define FLOWING_MOST_MS 60000 /* nor put off for longer than this after a hole was seen */
#define MANY            4     /* a backlog, no single loss */
#define ANSWERS_Q8      153   /* 0.6: leave it to the one named */
#define OPEN_ANSWERS    4
#define ANSWER_SPACE_MS 600               /* a frame of 288 ms and its gap */
#define RUNS_TIGHT      (RP_RUNS_MAX - 4) /* from here on no new runs are asked for */

/* The chance that a need is heard and its answer, too, by the best neighbour. */
static uint32_t answered_q8(const struct rp_mesh *mesh)
{
    uint32_t best_q8 = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        uint32_t both_q8 = rp_mul8(neighbour->in_q16 >> 8, neighbour->out_q8);
        best_q8 = neighbour->station != 0 && both_q8 > best_q8 ? both_q8 : best_q8;
    }
    return best_q8;
}

/* Where the growth of the pause ends: rarely when one need is likely to be answered, more often
 * over a poor link, where most needs or answers are lost. */
static rp_time_us ask_most_us(uint32_t best_q8)
{
    rp_time_us most_us = ASK_MAX_US * 2 * best_q8 / 255; /* the full pause from 0.7 both ways */
    most_us = most_us > ASK_MAX_LEAST_US ? most_us : ASK_MAX_LEAST_US;
    return most_us < ASK_MAX_US ? most_us : ASK_MAX_US;
}

rp_time_us rp_pull_pause_us(struct rp_mesh *mesh, uint8_t attempts)
{
    uint32_t best_q8 = answered_q8(mesh);
    rp_time_us most_us = mesh->store_failing ? ASK_MAX_US : ask_most_us(best_q8);
    rp_time_us pause_us = rp_scale_us(mesh, FIRST_ASK_MS) + 2 * RP_LATENCY_US;
    /* There needs in vain are no sign that nobody holds it, and how many it takes does not depend
     * on their pace. */
    unsigned usual = best_q8 >= POOR_Q8 ? 1 : USUAL_TIMES * 255 / (best_q8 + 1);
    for (unsigned i = usual < USUAL_MOST ? usual : USUAL_MOST; i < attempts && pause_us < most_us;
         i++) {
        pause_us += pause_us / 2;
    }
    pause_us = rp_sooner_us(pause_us, most_us);
    return pause_us * rp_rng_between(&mesh->rng, 750, 1250) / 1000;
}

static void ask_by(struct rp_log *log, rp_time_us due_us)
{
    log->need_us = rp_sooner_us(due_us, log->need_us);
}

static void count_attempt(struct rp_log *log)
{
    if (log->attempts < ATTEMPTS_MAX) {
        log->attempts++;
    } else {
        log->attempts--; /* odd and even in turn: see choose_answerer and ask_from */
    }
}

/* Holes are normal while a log is being pushed, newest and most important first: ask when nothing
 * has come for a while; but never put it off for long. */
static rp_time_us after_flow_us(struct rp_mesh *mesh, const struct rp_log *log, rp_time_us due_us)
{
    if (!log->flowed) {
        return due_us;
    }
    rp_time_us flow_us =
        log->flow_us + rp_wait_us(mesh, FLOWING_MS, 2 * FLOWING_MS) + RP_LATENCY_US;
    bool long_put_off = flow_us - log->hole_us >= rp_scale_us(mesh, FLOWING_MOST_MS);
    return flow_us > due_us && !long_put_off ? flow_us : due_us;
}

void rp_pull_wanted(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us)
{
    if (log->need_us == RP_NEVER && rp_log_missing(log)) {
        log->hole_us = now_us;
        uint32_t later_ms = ASK_PER_HOP_MS * log->pace.hops;
        rp_time_us wait_us = rp_wait_us(mesh, ASK_LOW_MS + later_ms, ASK_HIGH_MS + later_ms);
        log->need_us = after_flow_us(mesh, log, now_us + wait_us);
    }
}

void rp_pull_flowing(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us)
{
    log->flowed = true;
    log->flow_us = now_us;
    if (log->need_us != RP_NEVER) {
        log->need_us = after_flow_us(mesh, log, log->need_us);
    }
}

void rp_pull_holder(struct rp_mesh *mesh, struct rp_log *log, uint8_t station, rp_time_us now_us)
{
    log->holder = station;
    if (!mesh->store_failing) {
        log->attempts = 0;
        ask_by(log, after_flow_us(mesh, log, now_us + rp_wait_us(mesh, 300, 3000)));
    }
    rp_pull_wanted(mesh, log, now_us);
}

static bool was_asked(const struct rp_mesh *mesh, uint16_t origin, uint32_t seq)
{
    for (unsigned i = 0; i < mesh->need_count; i++) {
        const struct rp_need_entry *entry = &mesh->need_asked[i];
        if (entry->origin == origin && seq <= entry->last && seq + entry->count > entry->last) {
            return true;
        }
    }
    return false;
}

void rp_pull_progress(struct rp_mesh *mesh, struct rp_log *log, uint32_t seq, bool answer,
                      rp_time_us now_us)
{
    log->attempts = 0;
    bool asked = mesh->need_open > 0 && was_asked(mesh, log->origin, seq);
    mesh->need_open -= asked;
    if (!rp_log_missing(log)) {
        log->need_us = RP_NEVER;
    } else if (asked && answer && log->need_us != RP_NEVER) {
        /* Answers are coming in: ask again when the last has come, or when they have stopped. */
        log->need_us =
            now_us + (mesh->need_open == 0 ? rp_wait_us(mesh, 100, 400)
                                           : rp_wait_us(mesh, 2000, 3000) + RP_LATENCY_US);
    } else {
        rp_pull_wanted(mesh, log, now_us);
        rp_pull_flowing(mesh, log, now_us);
    }
}

void rp_pull_failed(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us)
{
    mesh->store_failing = true;
    count_attempt(log);
    log->need_us = now_us + rp_pull_pause_us(mesh, log->attempts);
}

rp_time_us rp_pull_next(const struct rp_mesh *mesh)
{
    rp_time_us next_us = RP_NEVER;
    for (unsigned i = 0; i < mesh->log_count; i++) {
        const struct rp_log *log = &mesh->logs[i];
        next_us = rp_sooner_us(log->need_us, next_us);
        next_us = rp_sooner_us(log->pace.due_us, next_us);
    }
    return next_us;
}

static uint8_t choose_answerer(struct rp_mesh *mesh, const struct rp_log *log)
{
    uint8_t best = 0;
    uint64_t best_score = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        if (neighbour->station == 0) {
            continue;
        }
        uint64_t score = (uint64_t)(neighbour->in_q16 >> 8) * neighbour->out_q8 * 64;
        score *= neighbour->station == log->holder ? 4 : 1;
        score *= neighbour->station == log->via ? 4 : 1; /* nearer the origin */
        if (log->attempts % 2 == 1) {
            score = score / 256 * rp_rng_below(&mesh->rng, 256);
        }
        if (score > best_score) {
            best = neighbour->station;
            best_score = score;
        }
    }
    return best;
}

/* Where to begin: with the newest. But nobody may hold that any more (its origin lost its database
 * before others had heard it), and a need has room for few: after some needs in vain every second
 * one begins anywhere, or what can be had below is never asked for. Found by the simulator. */
static uint32_t ask_from(struct rp_mesh *mesh, const struct rp_log *log)
{
    if (log->attempts <= ROTATE_AFTER || log->attempts % 2 == 0) {
        return log->known;
    }
    uint32_t from = (uint32_t)rp_rng_between(&mesh->rng, 1, log->known);
    return rp_held_below(&log->held, from, false) > 0 ? from : log->known;
}

void rp_pull_had(struct rp_log *log, const struct rp_held *theirs)
{
    log->had_count = 0;
    uint32_t seq = rp_held_top(theirs);
    while (log->had_count < RP_HAD_MAX && seq > 0) {
        uint32_t last = rp_held_lacking(theirs, &log->held, seq);
        if (last == 0) {
            break;
        }
        uint32_t mine = rp_held_below(&log->held, last, true);
        uint32_t none = rp_held_below(theirs, last, false);
        seq = mine > none ? mine : none;
        log->had[log->had_count++] = (struct rp_run){seq + 1, last};
    }
}

/* What a neighbour said it holds. Where an origin has lost its database much of its old log is held
 * by nobody, and asking newest first came upon the rest by chance only. Found by the simulator. */
static unsigned ask_had(const struct rp_mesh *mesh, const struct rp_log *log, uint32_t most,
                        struct rp_need_entry *entries, unsigned count, uint32_t *asked)
{
    /* While storage is not known to be mended each need is for one segment, and nothing starts the
     * attempts anew: every second one goes on with what can be had. Found by the simulator. */
    bool rotates = log->attempts > ROTATE_AFTER && !(mesh->store_failing && log->attempts % 2 == 0);
    bool tight = log->held.run_count >= RUNS_TIGHT || rotates;
    for (unsigned i = 0; !tight && i < log->had_count; i++) {
        uint32_t first = log->had[i].first;
        uint32_t last = rp_held_below(&log->held, log->had[i].last, false);
        while (count < RP_NEED_MAX && *asked < most && last >= first) {
            uint32_t below = rp_held_below(&log->held, last, true);
            below = below >= first ? below : first - 1;
            uint32_t len = last - below;
            len = len < most - *asked ? len : most - *asked;
            entries[count++] = (struct rp_need_entry){log->origin, last, len};
            *asked += len;
            last = rp_held_below(&log->held, below, false);
        }
    }
    return count;
}

/* Missing ranges of one log, newest first; returns the new count of entries. */
static unsigned ask_for(struct rp_mesh *mesh, const struct rp_log *log,
                        struct rp_need_entry *entries, unsigned count, uint32_t *asked)
{
    uint32_t most = mesh->store_failing ? 1 : RP_ANSWER_MAX;
    unsigned before = count;
    count = ask_had(mesh, log, most, entries, count, asked);
    if (count > before) {
        return count;
    }
    uint32_t seq = ask_from(mesh, log);
    while (count < RP_NEED_MAX && *asked < most) {
        uint32_t last = rp_held_below(&log->held, seq, false);
        if (last == 0) {
            break;
        }
        uint32_t below = rp_held_below(&log->held, last, true);
        uint32_t len = last - below;
        len = len < most - *asked ? len : most - *asked;
        if (log->held.run_count >= RUNS_TIGHT && last > rp_held_top(&log->held)) {
            last = below + len; /* next to what is held, so that no run is added */
        }
        entries[count++] = (struct rp_need_entry){log->origin, last, len};
        *asked += len;
        seq = below;
    }
    return count;
}

unsigned rp_pull_compose(struct rp_mesh *mesh, struct rp_need_entry *out_entries,
                         uint8_t *out_answerer, rp_time_us now_us)
{
    rp_time_us until_us = now_us + rp_scale_us(mesh, GATHER_MS);
    unsigned count = 0;
    uint32_t asked = 0;
    const struct rp_log *chief = NULL;
    for (unsigned i = 0; i < mesh->log_count && count < RP_NEED_MAX; i++) {
        struct rp_log *log = &mesh->logs[i];
        if (log->pace.due_us <= now_us) {
            chief = chief == NULL ? log : chief;
            out_entries[count++] = (struct rp_need_entry){log->origin, log->known + 1, 0};
            rp_due_asked(mesh, log, now_us);
        }
    }
    /* First the logs that are due, then those that will be soon. */
    for (unsigned i = 0; i < 2 * mesh->log_count; i++) {
        struct rp_log *log = &mesh->logs[i % mesh->log_count];
        if (log->need_us > (i < mesh->log_count ? now_us : until_us)) {
            continue;
        }
        unsigned before = count;
        count = ask_for(mesh, log, out_entries, count, &asked);
        if (!rp_log_missing(log)) {
            log->need_us = RP_NEVER;
        } else if (count > before) {
            chief = chief == NULL ? log : chief;
            count_attempt(log);
            log->hole_us = now_us;
            log->need_us = after_flow_us(mesh, log, now_us + rp_pull_pause_us(mesh, log->attempts));
        } else {
            log->need_us = now_us + rp_wait_us(mesh, 1000, 2000); /* the need was full */
        }
    }
    mesh->need_open = asked;
    mesh->need_count = count;
    if (asked >= MANY && count < RP_NEED_MAX) {
        /* After a partition the newest is sent first, and when it is lost nobody here knows of it:
         * ask for what is newer than all that is known, too. */
        out_entries[count++] = (struct rp_need_entry){chief->origin, chief->known + 1, 0};
    }
    memcpy(mesh->need_asked, out_entries, mesh->need_count * sizeof out_entries[0]);
    *out_answerer = chief != NULL ? choose_answerer(mesh, chief) : 0;
    return count;
}

rp_time_us rp_pull_answer_wait_us(struct rp_mesh *mesh, uint8_t station, bool named)
{
    if (named) {
        return rp_wait_us(mesh, 50, 600);
    }
    /* Others who hear the needer may answer too: the more, the wider the spread. */
    unsigned others = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        uint8_t other = mesh->neighbours[slot].station;
        others += other != 0 && other != station && rp_link_q8(mesh, other, station) >= 77;
    }
    return rp_wait_us(mesh, 2300, 2300 + 2000 + 1000 * others) + RP_LATENCY_US;
}

static bool add_stored(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, rp_time_us now_us)
{
    uint8_t sealed[RP_FRAME_LEN_MAX], plain[RP_FRAME_LEN_MAX];
    int len = mesh->config.store.get(mesh->config.store.ctx, origin, seq, sealed, sizeof sealed);
    if (len <= 0 || len > (int)sizeof sealed) {
        return false;
    }
    struct rp_frame_head head;
    int plain_len = rp_frame_open(mesh->config.seal, rp_view_of(sealed, (size_t)len), &head, plain,
                                  sizeof plain);
    if (plain_len < 0) {
        return false;
    }
    struct rp_view view = rp_view_of(plain, (size_t)plain_len);
    struct rp_pending *pending = rp_queue_add(mesh, origin, seq, view, head.first, now_us);
    if (pending == NULL) {
        return false;
    }
    /* Taken out of storage for one needer: the others are not known to lack it. */
    memset(pending->lack, 0, sizeof pending->lack);
    return true;
}

bool rp_pull_answer(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, uint8_t station,
                    rp_time_us due_us, rp_time_us now_us)
{
    struct rp_pending *pending = rp_queue_find(mesh, origin, seq);
    if (pending == NULL) {
        if (!add_stored(mesh, origin, seq, now_us)) {
            return false;
        }
        pending = rp_queue_find(mesh, origin, seq);
    }
    rp_belief_lacks(pending, station);
    pending->touched_us = now_us;
    if (pending->state == RP_PENDING_AWAIT) {
        pending->state = RP_PENDING_FORWARD; /* one more frame serves both */
    } else if (!rp_pending_sends(pending)) {
        pending->state = RP_PENDING_ANSWER;
        pending->due_us = due_us;
    }
    pending->due_us = rp_sooner_us(due_us, pending->due_us);
    return true;
}

/* Somebody else asks for what is missing here too: his answer will do for both. */
static void defer(struct rp_mesh *mesh, struct rp_log *log, uint8_t station, uint8_t answerer,
                  rp_time_us now_us)
{
    bool upstream = station == log->via;
    bool heard = answerer != mesh->station && rp_neighbour_slot(mesh, answerer) >= 0;
    if (log->need_us == RP_NEVER || (!upstream && !heard)) {
        return;
    }
    uint32_t pause_ms = upstream ? 2 * FIRST_ASK_MS : FIRST_ASK_MS;
    rp_time_us due_us = now_us + rp_wait_us(mesh, pause_ms * 7 / 10, pause_ms * 13 / 10);
    log->need_us = due_us > log->need_us ? due_us : log->need_us;
}

/* `station` misses what was promised after `last - 1`. */
static unsigned open_need(struct rp_mesh *mesh, struct rp_log *log, uint8_t station, uint32_t last,
                          bool silent, rp_time_us due_us, rp_time_us now_us)
{
    unsigned answers = 0;
    uint32_t seq = rp_held_top(&log->held);
    while (seq >= last && answers < OPEN_ANSWERS) {
        answers += silent || rp_pull_answer(mesh, log->origin, seq, station, due_us, now_us);
        seq = rp_held_below(&log->held, seq - 1, true);
    }
    if (answers == 0 && log->pace.due_us != RP_NEVER && station == log->via) {
        rp_time_us later_us =
            now_us + rp_wait_us(mesh, 2 * FIRST_ASK_MS * 7 / 10, 2 * FIRST_ASK_MS * 13 / 10);
        log->pace.due_us = later_us > log->pace.due_us ? later_us : log->pace.due_us;
    }
    return answers;
}

/* A station that asks for many knows of none that is newer than all it asks for: what was sent to
 * it goes again, first, unless it is known to hold it; it would have been heard passing it on.
 * Over a good link the one loss in ten was thought too unlikely, and the newest report after a
 * partition came last of all (measured, chain of 5 at 10 %: p95 562 s, now 218 s). */
static void repeat_newer(struct rp_mesh *mesh, uint8_t station, const struct rp_need_entry *entry,
                         rp_time_us due_us, rp_time_us now_us)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (pending->origin == entry->origin && pending->seq > entry->last &&
            pending->class == RP_CLASS_STATUS && pending->state == RP_PENDING_IDLE &&
            pending->lack[station] > 0) {
            rp_pull_answer(mesh, pending->origin, pending->seq, station, due_us, now_us);
        }
    }
}

/* Whether the named answerer probably serves the needer: then nobody else need, who may not hear
 * it. If not, the needer asks again, now and then another one. */
static bool likely_answers(const struct rp_mesh *mesh, uint8_t station, uint8_t answerer)
{
    return answerer != 0 && rp_mul8(rp_link_q8(mesh, station, answerer),
                                    rp_link_q8(mesh, answerer, station)) >= ANSWERS_Q8;
}

void rp_pull_need(struct rp_mesh *mesh, uint8_t station, uint8_t answerer,
                  const struct rp_need_entry *entries, unsigned count, rp_time_us now_us)
{
    bool named = answerer == mesh->station;
    bool silent = !named && likely_answers(mesh, station, answerer);
    rp_time_us due_us = now_us + rp_pull_answer_wait_us(mesh, station, named);
    unsigned answers = 0, wanted = 0;
    for (unsigned i = 0; i < count; i++) {
        wanted += entries[i].count;
    }
    for (unsigned i = 0; i < count; i++) {
        struct rp_log *log = rp_log_make(mesh, entries[i].origin);
        if (log == NULL) {
            continue;
        }
        uint32_t last = entries[i].last;
        if (entries[i].count == 0) {
            answers += open_need(mesh, log, station, last, silent, due_us, now_us);
            continue;
        }
        if (last > rp_held_top(&log->held) && log->origin == mesh->config.origin) {
            rp_event_own_ahead(mesh, last, now_us);
            continue;
        }
        log->known = last > log->known ? last : log->known;
        if (named && wanted >= MANY && answers == 0) {
            repeat_newer(mesh, station, &entries[i], due_us, now_us);
        }
        uint32_t least = last - entries[i].count; /* asked for down to the one above this */
        uint32_t seq = rp_held_below(&log->held, last, true);
        while (!silent && seq > least && answers < RP_ANSWER_MAX) {
            rp_time_us space_us = answers * rp_scale_us(mesh, ANSWER_SPACE_MS);
            answers += rp_pull_answer(mesh, log->origin, seq, station,
                                      due_us + (named ? 0 : space_us), now_us);
            seq = rp_held_below(&log->held, seq - 1, true);
        }
        if (rp_held_below(&log->held, last, false) > least) {
            defer(mesh, log, station, answerer, now_us);
            rp_pull_wanted(mesh, log, now_us);
        }
    }
}

void rp_ack_plan(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, bool urgent,
                 rp_time_us due_us)
{
    for (unsigned i = 0; i < mesh->ack_count; i++) {
        struct rp_ack_due *ack = &mesh->acks[i];
        if (ack->origin == origin && ack->seq == seq) {
            ack->due_us = rp_sooner_us(due_us, ack->due_us);
            return;
        }
    }
    unsigned place = mesh->ack_count;
    if (place == RP_ACKS_MAX) {
        /* Full: a routine one gives way to an urgent one; its sender asks again. */
        mesh->counters.queue_full++;
        for (place = 0; place < RP_ACKS_MAX && mesh->acks[place].urgent; place++) {
        }
        if (place == RP_ACKS_MAX || !urgent) {
            return;
        }
    } else {
        mesh->ack_count++;
    }
    mesh->acks[place] = (struct rp_ack_due){origin, seq, urgent, due_us};
}

void rp_ack_cancel(struct rp_mesh *mesh, uint16_t origin, uint32_t seq)
{
    for (unsigned i = 0; i < mesh->ack_count; i++) {
        if (mesh->acks[i].origin == origin && mesh->acks[i].seq == seq) {
            mesh->acks[i] = mesh->acks[--mesh->ack_count];
            return;
        }
    }
}
