/* Push once, by name: beliefs, whom to name, and a bounded insistence.
 * The numbers without another source were fitted in a prototype. */
#include "mesh/state.h"

/* What differs between routine and urgent segments. Times are reference milliseconds. */
struct profile {
    uint32_t named_low_ms, named_high_ms; /* wait of the named station */
    uint32_t ack_low_ms, ack_high_ms;
    unsigned named_least, unnamed_least; /* expected stations uncovered, 255 each */
    uint8_t lack_least;                  /* of the named station, to send again */
    uint8_t sends_max;
    uint32_t again_ms;   /* wait for the named station after the first frame */
    unsigned growth_pct; /* of that wait, per frame */
    unsigned jitter_pct;
};

static const struct profile profiles[2] = {
    [0] = {.named_low_ms = 50,
           .named_high_ms = 300,
           .ack_low_ms = 30,
           .ack_high_ms = 150,
           .named_least = 77,    /* 0.3 */
           .unnamed_least = 230, /* 0.9 */
           .lack_least = 38,     /* 0.15 */
           .sends_max = 4,
           .again_ms = 4000,
           .growth_pct = 130,
           .jitter_pct = 50},
    [1] = {.named_low_ms = 20,
           .named_high_ms = 30,
           .ack_low_ms = 10,
           .ack_high_ms = 30,
           .named_least = 13,    /* 0.05 */
           .unnamed_least = 382, /* 1.5 */
           .lack_least = 1,      /* not 0.02: see most_sends */
           .sends_max = 20,
           .again_ms = 320,
           .growth_pct = 108,
           .jitter_pct = 10},
};

/* After this many pushes without any sign of life a neighbour is named, but hardly insisted on:
 * it may be gone, or it may be an end of a path that only speaks when named. Own choice. */
#define SILENT_MAX      3
#define SENDS_TO_SILENT 2
/* Where another station could serve the named one, its pull costs less than insistence. Fitted with
 * bare engines. */
#define SENDS_IF_OTHERS 2

/* Late single sends after the insistence ended without any sign: a loss of minutes (somebody in
 * the way, weather) outlives the quick ones. They follow after 20-40, 40-80 and 80-160 s. */
#define LATE_MAX       2
#define LATE_FIRST_MS  20000u
#define LATE_URGENT_MS 2000u /* 2-4, 4-8 and 8-16 s */

/* A named station that is heard with something else is busy: its silence is judged so much later,
 * so many times. Own choice: the exchange it is in takes about that long. */
#define BUSY_MS          2000
#define POSTPONED_MAX    4

#define COPY_LOW_MS      80 /* second copy of an urgent segment, without channel sensing */
#define COPY_HIGH_MS     120
#define COVER_LEAST      128 /* half a station behind the named one */
#define USABLE_BEHIND_Q8 77  /* 0.3, as for own neighbours */
/* Rounds of an own urgent segment until its receipt: 8 s, growing by half, at most ten minutes.
 * Own choice; the design asks for growing waits inside the reserve. */
#define ROUND_FIRST_MS  8000
#define ROUND_APART_MS  4000 /* a copy that late after one's own sending is a new round */
#define ROUND_MAX_US    (600 * RP_SECOND_US)
#define ROUNDS_FREE     4  /* the first rounds come whatever they cost */
#define ROUND_FRAMES    3u /* a round: two copies, and one more */
#define ROUND_RAREST_US (2 * RP_HOUR_US)

static const struct profile *profile_of(const struct rp_pending *pending)
{
    return &profiles[pending->urgent];
}

/* ceil(ln 0.025 / ln(1 - q)) for the link to the named station, at least 2. */
static uint8_t sends_for(uint8_t out_q8, uint8_t sends_max)
{
    static const uint8_t least_q8[] = {215, 181, 154, 134, 117, 105}; /* 2, 3, 4 ... sends */
    uint8_t sends = 2;
    for (unsigned i = 0; i < sizeof least_q8 && out_q8 < least_q8[i]; i++) {
        sends++;
    }
    return sends < sends_max ? sends : sends_max;
}

uint8_t rp_push_lack_least(const struct rp_pending *pending)
{
    return profile_of(pending)->lack_least;
}

static void plan(struct rp_pending *pending, enum rp_pending_state state, rp_time_us due_us)
{
    pending->state = state;
    pending->due_us = due_us;
}

/* All repetitions together may take half of what is reserved for urgent traffic: with many urgent
 * segments and no receipts each is repeated more rarely. */
static rp_time_us round_least_us(const struct rp_mesh *mesh)
{
    uint64_t wanted = 0;
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        wanted += mesh->pending[i].receipt_wanted;
    }
    uint64_t share_us =
        (uint64_t)mesh->config.budget_us_per_hour * mesh->config.urgent_reserve_pct / 200;
    uint64_t needed_us = wanted * ROUND_FRAMES * mesh->frame40_us;
    uint64_t rounds_apart = share_us > 0 ? needed_us * RP_HOUR_US / share_us : RP_HOUR_US;
    return (rp_time_us)(rounds_apart < ROUND_RAREST_US ? rounds_apart : ROUND_RAREST_US);
}

static rp_time_us round_wait_us(struct rp_mesh *mesh, const struct rp_pending *pending)
{
    rp_time_us wait_us = rp_wait_us(mesh, ROUND_FIRST_MS, ROUND_FIRST_MS * 5 / 4);
    for (unsigned round = 0; round < pending->repeats && wait_us < ROUND_MAX_US; round++) {
        wait_us += wait_us / 2;
    }
    wait_us = wait_us < ROUND_MAX_US ? wait_us : ROUND_MAX_US;
    if (pending->repeats >= ROUNDS_FREE) {
        rp_time_us least_us = round_least_us(mesh);
        wait_us = wait_us > least_us ? wait_us : least_us;
    }
    return wait_us;
}

void rp_push_done(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    pending->named = 0;
    pending->touched_us = now_us;
    if (!pending->receipt_wanted) {
        plan(pending, RP_PENDING_IDLE, RP_NEVER);
        return;
    }
    plan(pending, RP_PENDING_REPEAT, now_us + round_wait_us(mesh, pending));
}

void rp_push_own(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    pending->receipt_wanted = pending->urgent && !mesh->config.is_base;
    pending->promise = mesh->promise;
    plan(pending, RP_PENDING_FORWARD, now_us + rp_wait_us(mesh, 0, 50));
}

static void plan_ack(struct rp_mesh *mesh, const struct rp_pending *pending, bool second_copy,
                     rp_time_us now_us)
{
    const struct profile *profile = profile_of(pending);
    rp_time_us due_us = now_us + rp_wait_us(mesh, profile->ack_low_ms, profile->ack_high_ms);
    if (pending->urgent && !second_copy) {
        /* Its sender sends a second copy now, and would not hear the acknowledgement. */
        due_us += rp_scale_us(mesh, COPY_HIGH_MS) + RP_LATENCY_US + mesh->frame40_us;
    }
    rp_ack_plan(mesh, pending->origin, pending->seq, pending->urgent, due_us);
}

/* A routine segment cannot be forwarded at once: another push is under way, or queued. */
static bool busy(const struct rp_mesh *mesh, const struct rp_pending *besides)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        const struct rp_pending *pending = &mesh->pending[i];
        bool active = pending->state == RP_PENDING_AWAIT ||
                      (pending->state == RP_PENDING_FORWARD && pending->late == 0);
        if (active && pending != besides) {
            return true;
        }
    }
    return false;
}

void rp_push_accepted(struct rp_mesh *mesh, struct rp_pending *pending,
                      const struct rp_trailer *trailer, rp_time_us now_us)
{
    const struct profile *profile = profile_of(pending);
    pending->previous = trailer->station;
    pending->hops = trailer->hops < RP_HOPS_MAX ? trailer->hops + 1 : RP_HOPS_MAX;
    pending->promise = trailer->promise;
    rp_belief_trailer(mesh, pending, trailer, now_us);
    unsigned lacking = rp_belief_uncovered(mesh, pending, now_us);
    bool named = trailer->named == mesh->station;
    if (named && lacking >= profile->named_least) {
        if (!pending->urgent && busy(mesh, pending)) {
            plan_ack(mesh, pending, trailer->retransmission, now_us);
        }
        plan(pending, RP_PENDING_FORWARD,
             now_us + rp_wait_us(mesh, profile->named_low_ms, profile->named_high_ms));
    } else if (named || (pending->urgent && mesh->config.is_base)) {
        plan_ack(mesh, pending, trailer->retransmission, now_us);
    } else if (rp_belief_forsaken(mesh, pending, now_us) >= profile->unnamed_least) {
        unsigned others = rp_neighbours_usable(mesh, now_us);
        others = others > 2 ? others - 1 : 1;
        uint32_t spread_ms = 1000 + 500 * (others - 1);
        plan(pending, RP_PENDING_OFFER,
             now_us + RP_LATENCY_US + rp_wait_us(mesh, 2500, 2500 + spread_ms));
    }
}

/* Named for a segment that is held already: send again what still makes progress, else say so. */
static void named_again(struct rp_mesh *mesh, struct rp_pending *pending,
                        const struct rp_trailer *trailer, rp_time_us now_us)
{
    const struct profile *profile = profile_of(pending);
    rp_time_us soon_us = now_us + rp_wait_us(mesh, profile->named_low_ms, profile->named_high_ms);
    bool lacking = rp_belief_uncovered(mesh, pending, now_us) >= profile->named_least;
    if (rp_pending_sends(pending) && (lacking || pending->state == RP_PENDING_ANSWER)) {
        if (!pending->urgent && busy(mesh, pending)) {
            plan_ack(mesh, pending, trailer->retransmission, now_us);
        }
        plan(pending, RP_PENDING_FORWARD, soon_us < pending->due_us ? soon_us : pending->due_us);
    } else if (pending->state == RP_PENDING_AWAIT && trailer->retransmission) {
        plan(pending, RP_PENDING_FORWARD, soon_us);
    } else if (pending->urgent && trailer->retransmission && !mesh->config.is_base &&
               pending->state == RP_PENDING_IDLE &&
               now_us - pending->sent_us > rp_scale_us(mesh, ROUND_APART_MS)) {
        /* The origin insists, so base has not receipted: a round all along the path. */
        pending->sends = 0;
        pending->repeats = 1;
        plan(pending, RP_PENDING_FORWARD, soon_us);
    } else {
        plan_ack(mesh, pending, trailer->retransmission, now_us);
    }
}

void rp_push_overheard(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, bool urgent,
                       const struct rp_trailer *trailer, rp_time_us now_us)
{
    bool named = trailer->named == mesh->station;
    struct rp_pending *pending = rp_queue_find(mesh, origin, seq);
    if (pending == NULL) {
        if (named || (urgent && mesh->config.is_base)) {
            struct rp_pending known = {.origin = origin, .seq = seq, .urgent = urgent};
            plan_ack(mesh, &known, trailer->retransmission, now_us);
        }
        return;
    }
    rp_belief_trailer(mesh, pending, trailer, now_us);
    if (named) {
        named_again(mesh, pending, trailer, now_us);
    } else if (trailer->station != 0 && pending->named == trailer->station) {
        rp_push_done(mesh, pending, now_us); /* the forward heard is the acknowledgement */
        rp_contend_won(mesh, now_us);
    } else if (pending->state == RP_PENDING_ANSWER) {
        rp_push_done(mesh, pending, now_us); /* one copy heard cancels the other answers */
    } else if (urgent && mesh->config.is_base) {
        plan_ack(mesh, pending, trailer->retransmission, now_us);
    }
}

void rp_push_holds(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t station, bool forwards,
                   rp_time_us now_us)
{
    rp_belief_holds(mesh, pending, station);
    if (pending->named != station ||
        (pending->state != RP_PENDING_AWAIT && pending->state != RP_PENDING_FORWARD)) {
        return;
    }
    if (forwards && !pending->urgent) {
        /* It has others to forward first. Nothing is sent again, but the next push waits for it:
         * what it cannot pass on yet would only meet its frames. */
        uint32_t wait_ms = profile_of(pending)->again_ms;
        plan(pending, RP_PENDING_AWAIT, now_us + rp_wait_us(mesh, wait_ms, 2 * wait_ms));
    } else {
        rp_push_done(mesh, pending, now_us);
        rp_contend_won(mesh, now_us);
    }
}

bool rp_push_fire(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t *out_named,
                  rp_time_us now_us)
{
    if (pending->state == RP_PENDING_ANSWER) {
        *out_named = 0;
        return true;
    }
    const struct profile *profile = profile_of(pending);
    if (!pending->own && pending->sends == 0 && pending->repeats == 0) {
        bool offer = pending->state == RP_PENDING_OFFER;
        unsigned least = offer ? profile->unnamed_least : profile->named_least;
        unsigned lacking = offer ? rp_belief_forsaken(mesh, pending, now_us)
                                 : rp_belief_uncovered(mesh, pending, now_us);
        if (lacking < least) {
            if (!offer) {
                plan_ack(mesh, pending, true, now_us);
            }
            rp_push_done(mesh, pending, now_us);
            return false;
        }
    }
    bool kept = pending->sends > 0 && pending->named != 0;
    *out_named =
        kept ? pending->named : rp_name_choose(mesh, pending, pending->repeats > 0, now_us);
    return true;
}

static rp_time_us await_us(struct rp_mesh *mesh, const struct rp_pending *pending, size_t frame_len)
{
    const struct profile *profile = profile_of(pending);
    uint64_t wait_ms = profile->again_ms;
    for (unsigned n = 1; n < pending->sends; n++) {
        wait_ms = wait_ms * profile->growth_pct / 100;
    }
    uint32_t low_ms = (uint32_t)wait_ms;
    rp_time_us wait_us = rp_wait_us(mesh, low_ms, low_ms + low_ms * profile->jitter_pct / 100);
    /* Never shorter than the named station needs to forward. */
    rp_time_us least_us = rp_scale_us(mesh, profile->named_high_ms) +
                          rp_airtime_of_us(mesh, frame_len) + RP_LATENCY_US;
    return wait_us > least_us ? wait_us : least_us;
}

void rp_push_sent(struct rp_mesh *mesh, struct rp_pending *pending, size_t frame_len,
                  rp_time_us now_us)
{
    pending->touched_us = now_us;
    mesh->urgent_us = pending->urgent ? now_us : mesh->urgent_us;
    pending->aired = true;
    pending->sent_us = now_us;
    rp_belief_covers(mesh, pending, mesh->station, 255);
    rp_ack_cancel(mesh, pending->origin, pending->seq); /* the frame itself says it is held */
    if (pending->state == RP_PENDING_ANSWER) {
        rp_push_done(mesh, pending, now_us);
        return;
    }
    pending->sends = pending->sends < UINT8_MAX ? pending->sends + 1 : UINT8_MAX;
    pending->postponed = 0;
    if (pending->urgent && pending->sends == 1) {
        plan(pending, RP_PENDING_FORWARD,
             now_us + RP_LATENCY_US + rp_wait_us(mesh, COPY_LOW_MS, COPY_HIGH_MS));
    } else if (pending->named != 0) {
        plan(pending, RP_PENDING_AWAIT, now_us + await_us(mesh, pending, frame_len));
    } else {
        rp_push_done(mesh, pending, now_us);
    }
}

void rp_push_alive(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (pending->state != RP_PENDING_AWAIT || pending->named != station || pending->urgent ||
            pending->postponed >= POSTPONED_MAX) {
            continue;
        }
        rp_time_us due_us = now_us + rp_wait_us(mesh, BUSY_MS, 2 * BUSY_MS) + RP_LATENCY_US;
        if (due_us > pending->due_us) {
            pending->due_us = due_us;
            pending->postponed++;
        }
    }
}

/* How often a segment is sent to a named station that stays silent. An urgent one goes on by the
 * link alone: what a neighbour last said of it may flatter. */
static uint8_t most_sends(const struct rp_mesh *mesh, const struct rp_pending *pending,
                          const struct rp_neighbour *neighbour)
{
    uint8_t by_link = sends_for(neighbour->out_q8, profiles[0].sends_max);
    if (neighbour->silent >= SILENT_MAX) {
        return pending->urgent ? by_link : SENDS_TO_SILENT;
    }
    if (!pending->urgent && rp_belief_sole(mesh, pending, neighbour) < RP_SOLE_Q8) {
        return SENDS_IF_OTHERS;
    }
    return pending->urgent && 3 * by_link < profiles[1].sends_max ? 3 * by_link
           : pending->urgent                                      ? profiles[1].sends_max
                                                                  : by_link;
}

/* The named station had to speak and did not. */
static void judge_silence(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    const struct profile *profile = profile_of(pending);
    int slot = rp_neighbour_slot(mesh, pending->named);
    if (slot < 0 || pending->lack[pending->named] == 0) {
        rp_push_done(mesh, pending, now_us);
        return;
    }
    struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    unsigned lack = pending->lack[pending->named];
    unsigned missed_q8 = 255u - rp_link_q8(mesh, neighbour->station, mesh->station);
    unsigned heard_nothing = lack + rp_mul8(255u - lack, missed_q8);
    pending->lack[pending->named] = (uint8_t)(lack * 255 / heard_nothing);
    if (pending->lack[pending->named] >= profile->lack_least &&
        pending->sends < most_sends(mesh, pending, neighbour)) {
        plan(pending, RP_PENDING_FORWARD, now_us);
        return;
    }
    if (pending->late < (rp_due_regular(mesh, pending->log) ? 0 : LATE_MAX) &&
        neighbour->silent < SILENT_MAX) {
        pending->late++;
        uint32_t wait_ms = (pending->urgent ? LATE_URGENT_MS : LATE_FIRST_MS) << pending->late;
        plan(pending, RP_PENDING_FORWARD, now_us + rp_wait_us(mesh, wait_ms / 2, wait_ms));
        return;
    }
    neighbour->silent = neighbour->silent < UINT8_MAX ? neighbour->silent + 1 : UINT8_MAX;
    if (!rp_due_regular(mesh, pending->log) && now_us >= mesh->doubt_us &&
        mesh->digest_us == RP_NEVER) {
        /* A digest lets it find out that it lacks something; at most one in a while. */
        mesh->doubt_us = now_us + 16 * mesh->trickle.imin_us;
        mesh->digest_us = now_us + rp_wait_us(mesh, 4000, 16000);
    }
    rp_push_done(mesh, pending, now_us);
}

void rp_push_tick(struct rp_mesh *mesh, rp_time_us now_us)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (now_us < pending->due_us) {
            continue;
        }
        if (pending->state == RP_PENDING_AWAIT) {
            judge_silence(mesh, pending, now_us);
        } else if (pending->state == RP_PENDING_REPEAT) {
            pending->sends = 0;
            pending->repeats = pending->repeats < UINT8_MAX ? pending->repeats + 1 : UINT8_MAX;
            plan(pending, RP_PENDING_FORWARD, now_us);
        }
    }
}
