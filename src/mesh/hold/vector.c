/* Vectors: what a station holds of each log. Encoding in PROTOCOL.md, "Vector". */
#include "mesh/state.h"

#define FLAG_COMPLETE  1u
#define TRUNCATED      0x80u
#define RECENT_FIRST   4 /* entries by last change; the others by longest not listed */
#define OFFERS_PER_LOG 4 /* of RP_OFFER_MAX: one long log must not hide the others */

static bool put_runs(struct rp_writer *w, const struct rp_vector_entry *entry, unsigned runs)
{
    struct rp_writer trial = *w;
    bool truncated = entry->truncated || runs < entry->held.run_count;
    bool tail = runs > 0 || truncated;
    rp_put_be(&trial, entry->origin, 2);
    rp_put_varint(&trial, (uint64_t)entry->held.upto << 1 | tail);
    if (tail) {
        rp_put_u8(&trial, (uint8_t)(runs | (truncated ? TRUNCATED : 0)));
    }
    uint32_t below = entry->held.upto;
    for (unsigned i = 0; i < runs; i++) {
        const struct rp_run *run = &entry->held.runs[i];
        rp_put_varint(&trial, run->first - below - 2); /* at least one is missing between */
        rp_put_varint(&trial, run->last - run->first);
        below = run->last;
    }
    if (!trial.failed) {
        *w = trial;
    }
    return !trial.failed;
}

bool rp_vector_put(struct rp_writer *w, const struct rp_vector_entry *entry)
{
    for (unsigned runs = entry->held.run_count + 1u; runs-- > 0;) {
        if (put_runs(w, entry, runs)) {
            return true;
        }
    }
    return false;
}

static void get_runs(struct rp_reader *r, struct rp_vector_entry *entry)
{
    uint8_t head = rp_get_u8(r);
    unsigned runs = head & ~TRUNCATED & 0xffu;
    entry->truncated = (head & TRUNCATED) != 0;
    if (runs > RP_RUNS_MAX || (runs == 0 && !entry->truncated)) {
        r->failed = true;
    }
    uint64_t below = entry->held.upto;
    for (unsigned i = 0; i < runs && !r->failed; i++) {
        uint64_t first = below + 2 + rp_get_varint(r, RP_SEQ_MAX);
        uint64_t last = first + rp_get_varint(r, RP_SEQ_MAX);
        if (last > RP_SEQ_MAX) {
            r->failed = true;
        }
        entry->held.runs[i] = (struct rp_run){(uint32_t)first, (uint32_t)last};
        entry->held.run_count = (uint8_t)(i + 1);
        below = last;
    }
}

bool rp_vector_get(struct rp_reader *r, struct rp_vector_entry *out_entry)
{
    if (rp_reader_left(r) == 0) {
        return false;
    }
    struct rp_vector_entry entry = {.origin = (uint16_t)rp_get_be(r, 2)};
    uint8_t station = rp_origin_station(entry.origin);
    uint64_t mark = rp_get_varint(r, (uint64_t)RP_SEQ_MAX << 1 | 1);
    entry.held.upto = (uint32_t)(mark >> 1);
    if (station < RP_STATION_MIN || station > RP_STATION_MAX) {
        r->failed = true;
    }
    if ((mark & 1) != 0) {
        get_runs(r, &entry);
    }
    if (r->failed) {
        return false;
    }
    *out_entry = entry;
    return true;
}

static struct rp_log *next_listed(struct rp_mesh *mesh, unsigned listed_count, uint32_t round)
{
    struct rp_log *best = NULL;
    for (unsigned i = 0; i < mesh->log_count; i++) {
        struct rp_log *log = &mesh->logs[i];
        if (log->hash == 0 || log->listed == round) {
            continue;
        }
        bool better = best == NULL || (listed_count < RECENT_FIRST ? log->changed > best->changed
                                                                   : log->listed < best->listed);
        best = better ? log : best;
    }
    return best;
}

size_t rp_vector_len(const struct rp_mesh *mesh)
{
    size_t len = 1;
    for (unsigned i = 0; i < mesh->log_count; i++) {
        /* Origin 2, mark 4, count 1, and 3 + 3 for each run. */
        const struct rp_log *log = &mesh->logs[i];
        len += log->hash == 0 ? 0 : 7 + 6u * log->held.run_count;
    }
    return len;
}

size_t rp_vector_write(struct rp_mesh *mesh, uint8_t *buf, size_t cap)
{
    struct rp_writer w = rp_writer_on(buf, cap);
    rp_put_u8(&w, FLAG_COMPLETE);
    uint32_t round = ++mesh->stamp;
    unsigned listed_count = 0;
    bool complete = true;
    struct rp_log *log;
    while ((log = next_listed(mesh, listed_count, round)) != NULL) {
        struct rp_vector_entry entry = {log->origin, false, log->held};
        if (!rp_vector_put(&w, &entry)) {
            complete = false;
            break;
        }
        log->listed = round;
        listed_count++;
    }
    if (!complete && !w.failed) {
        buf[0] = 0;
    }
    return w.failed ? 0 : w.len;
}

/* What is believed of the segments in hand, corrected by what the station says it holds. */
static void correct_beliefs(struct rp_mesh *mesh, uint8_t station,
                            const struct rp_vector_entry *entry, rp_time_us now_us)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (pending->origin != entry->origin) {
            continue;
        }
        if (rp_held_has(&entry->held, pending->seq)) {
            rp_push_holds(mesh, pending, station, false, now_us);
        } else if (!entry->truncated) {
            rp_belief_lacks(pending, station);
        }
    }
}

/* Plans what the station lacks of this log, newest first. */
static unsigned offer(struct rp_mesh *mesh, uint8_t station, const struct rp_log *log,
                      const struct rp_vector_entry *entry, unsigned most, rp_time_us now_us)
{
    uint32_t from = entry->truncated ? rp_held_top(&entry->held) : RP_SEQ_MAX;
    rp_time_us due_us = now_us + rp_pull_answer_wait_us(mesh, station, false);
    unsigned offered = 0;
    uint32_t seq = rp_held_lacking(&log->held, &entry->held, from);
    while (seq > 0 && offered < most && offered < OFFERS_PER_LOG) {
        offered += rp_pull_answer(mesh, log->origin, seq, station, due_us, now_us);
        seq = rp_held_lacking(&log->held, &entry->held, seq - 1);
    }
    return offered;
}

/* Takes one entry in; returns how many segments were offered. *same is cleared on a difference. */
static unsigned take_entry(struct rp_mesh *mesh, uint8_t station,
                           const struct rp_vector_entry *entry, unsigned most, bool *same,
                           rp_time_us now_us)
{
    struct rp_log *log = rp_log_make(mesh, entry->origin);
    if (log == NULL) {
        *same = false;
        return 0;
    }
    correct_beliefs(mesh, station, entry, now_us);
    uint32_t top = rp_held_top(&entry->held);
    if (entry->origin == mesh->config.origin) {
        rp_event_heard(mesh, &entry->held, station);
        if (top > rp_held_top(&log->held)) {
            rp_event_own_ahead(mesh, top, now_us);
        }
    } else {
        log->known = top > log->known ? top : log->known;
        if (rp_held_lacking(&entry->held, &log->held, top) > 0) {
            rp_pull_had(log, &entry->held);
            rp_pull_holder(mesh, log, station, now_us);
        }
    }
    if (entry->truncated || !rp_held_equal(&entry->held, &log->held)) {
        *same = false;
    }
    return offer(mesh, station, log, entry, most, now_us);
}

/* Logs that a complete vector does not name are not held at all by its sender. */
static unsigned take_unlisted(struct rp_mesh *mesh, uint8_t station, uint32_t round, unsigned most,
                              bool *same, rp_time_us now_us)
{
    unsigned offered = 0;
    for (unsigned i = 0; i < mesh->log_count; i++) {
        struct rp_log *log = &mesh->logs[i];
        if (log->hash != 0 && log->seen != round) {
            struct rp_vector_entry none = {.origin = log->origin};
            offered += take_entry(mesh, station, &none, most - offered, same, now_us);
        }
    }
    return offered;
}

static bool well_formed(struct rp_view body)
{
    struct rp_reader r = rp_reader_on(body);
    struct rp_vector_entry entry;
    if (rp_get_u8(&r) > FLAG_COMPLETE) {
        return false;
    }
    while (rp_vector_get(&r, &entry)) {
    }
    return !r.failed;
}

void rp_vector_receive(struct rp_mesh *mesh, uint8_t station, struct rp_view body,
                       rp_time_us now_us)
{
    if (!well_formed(body)) {
        mesh->counters.refused_format++;
        return;
    }
    struct rp_reader r = rp_reader_on(body);
    bool complete = rp_get_u8(&r) == FLAG_COMPLETE;
    bool same = complete;
    uint32_t round = ++mesh->stamp;
    unsigned offered = 0;
    struct rp_vector_entry entry;
    while (rp_vector_get(&r, &entry)) {
        offered += take_entry(mesh, station, &entry, RP_OFFER_MAX - offered, &same, now_us);
        struct rp_log *log = rp_log_find(mesh, entry.origin);
        if (log != NULL) {
            log->seen = round;
        }
    }
    if (complete) {
        take_unlisted(mesh, station, round, RP_OFFER_MAX - offered, &same, now_us);
    }
    if (same) {
        rp_control_same(mesh, station, now_us);
    } else {
        rp_control_difference(mesh, station, now_us);
    }
    if (offered >= OFFERS_PER_LOG) {
        /* It lacks much: it should know how much, so that it asks for the newest first, even when
         * the newest of what is offered is lost. */
        rp_time_us due_us = now_us + rp_wait_us(mesh, 50, 500);
        mesh->vector_us = rp_sooner_us(due_us, mesh->vector_us);
        mesh->vector_for = station;
        return;
    }
    /* Whoever heard this vector knows both sides of the difference with its sender. */
    if (same || (complete && mesh->vector_for == station)) {
        mesh->vector_us = RP_NEVER;
    }
}
