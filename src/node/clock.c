/* Net time at this station: its own clock, or a better one heard in the net. */
#include "base/bytes.h"
#include "node/node_state.h"

/* A wall clock that moves this much against the monotonic one was stepped (NTP slews slower). */
#define STEP_S           2
#define LOOK_US          ((rp_time_us)60 * 1000000)
#define QUALITY_SYNCED   2
#define QUALITY_HELD     8 /* was synchronised since the start, is not now: drifts slowly; ours */
#define QUALITY_UNSYNCED 15
#define HOUR_US          ((rp_time_us)3600 * 1000000)
/* A clock nobody confirms gets one step worse in this time: at 500 ppm 43 s, usually 2 s. Ours;
 * RFC 5905 lets its dispersion grow in the same way. */
#define AGE_US (24 * HOUR_US)
/* A source of equal quality gives way to another after some digests that did not come. Ours. */
#define SOURCE_LOST_US (3 * HOUR_US)
#define DRIFT_S        60 /* what a source corrects up to this is drift and needs no note; ours */
#define AGREED_S       10 /* a digest is some seconds on its way; ours */

static int64_t own_net_seconds(struct rp_moment moment)
{
    return moment.unix_s - RP_NET_EPOCH_UNIX_S;
}

/* A time outside what net time can say is no time, whoever calls it synchronised. */
static bool vouched_for(struct rp_moment moment)
{
    int64_t net_s = own_net_seconds(moment);
    return moment.synced && net_s > 0 && net_s < UINT32_MAX;
}

/* How far the wall clock moved against the monotonic one since it was last looked at; 0 unless it
 * was stepped. */
static int64_t step_of(const struct rp_node_clock *clock, struct rp_moment moment)
{
    if (!clock->started) {
        return 0;
    }
    int64_t expected_s = clock->last_unix_s + (moment.now_us - clock->last_us) / 1000000;
    int64_t step_s = moment.unix_s - expected_s;
    return step_s > STEP_S || step_s < -STEP_S ? step_s : 0;
}

uint32_t rp_net_seconds(const struct rp_node *node, struct rp_moment moment)
{
    /* A clock that is not synchronised and steps does not move net time. */
    int64_t offset_s =
        vouched_for(moment) ? 0 : node->clock.offset_s - step_of(&node->clock, moment);
    int64_t net_s = own_net_seconds(moment) + offset_s;
    return net_s < 0 ? 0 : net_s > UINT32_MAX ? UINT32_MAX : (uint32_t)net_s;
}

static void note_clock(struct rp_node *node, enum rp_clock_reason reason, int64_t step_s)
{
    struct rp_record record = {.kind = RP_REC_CLOCK};
    record.as.clock.reason = (uint8_t)reason;
    record.as.clock.offset_s = step_s > INT32_MAX   ? INT32_MAX
                               : step_s < INT32_MIN ? INT32_MIN
                                                    : (int32_t)step_s;
    record.as.clock.synced = node->clock.quality < QUALITY_UNSYNCED;
    struct rp_record_ref ref;
    struct rp_problem problem;
    rp_enter_now(node, &record, &ref, &problem); /* a failed write is counted where it fails */
}

/* --- set back while nobody vouched for the time: a person is told, rule "clock-back" --- */

#define BACK_KEY "clock.back"
#define BACK_LEN 9

static void keep_back(struct rp_node *node)
{
    const struct rp_node_clock *clock = &node->clock;
    uint8_t bytes[BACK_LEN];
    struct rp_writer w = rp_writer_on(bytes, sizeof bytes);
    rp_put_be(&w, clock->back_s, 4);
    rp_put_be(&w, clock->back_at_s, 4);
    rp_put_u8(&w, clock->back_at_start);
    node->store_failures += node->config.store->set_value(node->config.store_ctx, BACK_KEY,
                                                          rp_view_of(bytes, w.len)) < 0;
}

static void load_back(struct rp_node *node)
{
    struct rp_node_clock *clock = &node->clock;
    uint8_t bytes[BACK_LEN];
    if (node->config.store->get_value(node->config.store_ctx, BACK_KEY, bytes, sizeof bytes) ==
        BACK_LEN) {
        struct rp_reader r = rp_reader_on(rp_view_of(bytes, sizeof bytes));
        clock->back_s = (uint32_t)rp_get_be(&r, 4);
        clock->back_at_s = (uint32_t)rp_get_be(&r, 4);
        clock->back_at_start = rp_get_u8(&r) != 0;
    }
}

static void set_back(struct rp_node *node, int64_t back_s, uint32_t at_s, bool at_start)
{
    struct rp_node_clock *clock = &node->clock;
    clock->back_s = back_s <= STEP_S ? 0 : back_s < UINT32_MAX ? (uint32_t)back_s : UINT32_MAX;
    clock->back_at_s = at_s;
    clock->back_at_start = at_start;
    keep_back(node);
}

/* The own clock was moved by step_s under a running computer, and net time went on. Forwards takes
 * away from what it was set back: who made a mistake has put it right. What was lost at a start is
 * not put right so, for net time does not follow. */
static void count_step(struct rp_node *node, int64_t step_s, uint32_t at_s)
{
    const struct rp_node_clock *clock = &node->clock;
    bool at_start = clock->back_s > 0 && clock->back_at_start;
    if (step_s < -STEP_S) {
        set_back(node, clock->back_s - step_s, at_s, at_start);
    } else if (step_s > STEP_S && clock->back_s > 0 && !at_start) {
        set_back(node, clock->back_s - step_s, clock->back_at_s, false);
    }
}

/* At a start of the computer the own clock is back_s behind what net time was, or in front of it
 * (negative); net time is at_s now. Past what was once lost there is nothing to tell any more. */
static void count_start(struct rp_node *node, int64_t back_s, uint32_t at_s)
{
    const struct rp_node_clock *clock = &node->clock;
    if (back_s > STEP_S) {
        set_back(node, back_s, at_s, true);
    } else if (clock->back_s > 0 &&
               (!clock->back_at_start || at_s >= (int64_t)clock->back_at_s + clock->back_s)) {
        set_back(node, 0, 0, false);
    }
}

/* Somebody vouches for the time now. */
static void forget_back(struct rp_node *node)
{
    if (node->clock.back_s > 0 && node->clock.quality < QUALITY_UNSYNCED) {
        node->clock.back_s = 0;
        keep_back(node);
    }
}

/* --- kept over a restart: net time at a moment of the monotonic clock --- */

#define KEY      "clock"
#define KEPT_LEN 29

static void keep_clock(struct rp_node *node, struct rp_moment moment)
{
    struct rp_node_clock *clock = &node->clock;
    uint8_t bytes[KEPT_LEN];
    struct rp_writer w = rp_writer_on(bytes, sizeof bytes);
    rp_put_be(&w, (uint64_t)node->config.boot, 8);
    rp_put_be(&w, (uint64_t)moment.now_us, 8);
    rp_put_be(&w, (uint64_t)clock->offset_s, 8);
    rp_put_be(&w, rp_net_seconds(node, moment), 4);
    rp_put_u8(&w, clock->quality);
    clock->saved_us = moment.now_us;
    node->store_failures +=
        node->config.store->set_value(node->config.store_ctx, KEY, rp_view_of(bytes, w.len)) < 0;
}

void rp_clock_resume(struct rp_node *node, struct rp_moment moment)
{
    struct rp_node_clock *clock = &node->clock;
    uint8_t bytes[KEPT_LEN];
    clock->heard_us = clock->aged_us = moment.now_us;
    load_back(node);
    int len = node->config.store->get_value(node->config.store_ctx, KEY, bytes, sizeof bytes);
    if (vouched_for(moment) || len != KEPT_LEN) {
        return;
    }
    struct rp_reader r = rp_reader_on(rp_view_of(bytes, sizeof bytes));
    bool same_run = (int64_t)rp_get_be(&r, 8) == node->config.boot;
    rp_time_us at_us = (rp_time_us)rp_get_be(&r, 8);
    int64_t offset_s = (int64_t)rp_get_be(&r, 8);
    int64_t net_s = (int64_t)rp_get_be(&r, 4), own_s = own_net_seconds(moment);
    uint8_t quality = rp_get_u8(&r);
    if (!same_run && quality >= QUALITY_UNSYNCED) {
        /* What nobody vouched for ends with the run: the wall clock as it stands. */
        count_start(node, net_s - own_s, own_s > 0 ? (uint32_t)own_s : 0);
        return;
    }
    clock->started = true;
    clock->last_us = moment.now_us;
    clock->last_unix_s = moment.unix_s;
    clock->quality = QUALITY_UNSYNCED;
    if (same_run && at_us <= moment.now_us) {
        /* Whatever the wall clock did, this one went on, and a treatment that is timed with it. */
        clock->offset_s = net_s + (moment.now_us - at_us) / 1000000 - own_s;
        clock->quality = quality;
        if (quality >= QUALITY_UNSYNCED && net_s > 0) { /* before the epoch nothing was counted */
            count_step(node, offset_s - clock->offset_s, rp_net_seconds(node, moment));
        }
        clock->aged_us = at_us;
        clock->heard_us = at_us - SOURCE_LOST_US; /* whoever is heard first takes over */
        return;
    }
    /* The wall clock may have gone on by its battery, or stood still: it is never earlier than it
     * was, and nobody vouches for it. */
    int64_t short_s = net_s - own_s - offset_s;
    clock->offset_s = short_s > 0 ? net_s - own_s : offset_s;
    count_start(node, short_s, rp_net_seconds(node, moment));
}

/* --- */

static void grow_old(struct rp_node_clock *clock, rp_time_us now_us)
{
    for (; now_us - clock->aged_us >= AGE_US; clock->aged_us += AGE_US) {
        if (clock->quality < QUALITY_UNSYNCED) {
            clock->quality++;
        }
    }
}

void rp_clock_observe(struct rp_node *node, struct rp_moment moment)
{
    struct rp_node_clock *clock = &node->clock;
    int64_t step_s = step_of(clock, moment);
    /* Looked at anew now and then: what NTP slews adds up to seconds in days, and is no step. */
    if (!clock->started || step_s != 0 || moment.now_us - clock->last_us >= LOOK_US) {
        clock->last_us = moment.now_us;
        clock->last_unix_s = moment.unix_s;
    }
    int64_t given_up_s = 0; /* what the net's clock had added */
    bool changed = !clock->started || vouched_for(moment) != clock->vouched || step_s != 0;
    if (vouched_for(moment)) {
        given_up_s = clock->offset_s;
        clock->quality = QUALITY_SYNCED;
        clock->offset_s = 0;
        clock->source = 0;
        clock->heard_us = clock->aged_us = moment.now_us;
        clock->agreed = clock->agreed && step_s == 0;
    } else {
        clock->offset_s -= step_s; /* net time goes on as it was */
        clock->agreed = false;
        grow_old(clock, moment.now_us);
        if (!clock->started) {
            clock->quality = QUALITY_UNSYNCED;
        } else if (clock->vouched) {
            clock->quality = QUALITY_HELD;
        }
        if (clock->quality >= QUALITY_UNSYNCED) {
            count_step(node, step_s, rp_net_seconds(node, moment));
        }
    }
    forget_back(node);
    clock->vouched = vouched_for(moment);
    clock->started = true;
    if (changed || moment.now_us - clock->saved_us >= HOUR_US) {
        keep_clock(node, moment);
    }
    if (step_s != 0) {
        note_clock(node, RP_CLOCK_STEPPED, step_s);
    } else if (given_up_s > STEP_S || given_up_s < -STEP_S) {
        note_clock(node, RP_CLOCK_SET, -given_up_s);
    }
}

/* Another synchronised clock agrees: now the wall clock may tell how old airtime of earlier runs of
 * the computer is. */
static void compare_clocks(struct rp_node *node, uint32_t clock_s, uint8_t quality)
{
    int64_t apart_s = (int64_t)clock_s - own_net_seconds(node->moment);
    bool agrees = apart_s <= AGREED_S && apart_s >= -AGREED_S && quality <= QUALITY_SYNCED;
    if (agrees && !node->clock.agreed && !node->in_flight) {
        node->clock.agreed = true; /* charge_age_us asks for it */
        bool loaded = rp_intake_load_charges(node) >= 0;
        node->clock.agreed = loaded; /* else the next digest tries again */
        node->store_failures += !loaded;
    }
}

static bool is_better(const struct rp_node_clock *clock, uint8_t station, uint8_t quality,
                      rp_time_us now_us)
{
    if (quality == clock->quality) { /* the same source again, or another for one that is gone */
        return station == clock->source || now_us - clock->heard_us >= SOURCE_LOST_US;
    }
    return quality < clock->quality;
}

void rp_clock_hear(struct rp_node *node, uint8_t station, uint32_t clock_s, uint8_t quality)
{
    struct rp_node_clock *clock = &node->clock;
    rp_time_us now_us = node->moment.now_us;
    if (vouched_for(node->moment)) {
        compare_clocks(node, clock_s, quality);
        return;
    }
    uint8_t taken = (uint8_t)(quality + 1); /* one step worse per hop, as RFC 5905's stratum */
    if (clock_s == 0 || quality >= QUALITY_UNSYNCED - 1 ||
        !is_better(clock, station, taken, now_us)) {
        return;
    }
    bool first = taken < clock->quality;
    int64_t before_s = clock->offset_s;
    clock->offset_s = (int64_t)clock_s - own_net_seconds(node->moment);
    clock->quality = taken;
    clock->source = station;
    clock->heard_us = clock->aged_us = now_us;
    forget_back(node);
    int64_t moved_s = clock->offset_s - before_s;
    moved_s = moved_s < 0 ? -moved_s : moved_s;
    if (first || moved_s > STEP_S) {
        keep_clock(node, node->moment);
    }
    if (moved_s > (first ? STEP_S : DRIFT_S)) {
        note_clock(node, RP_CLOCK_SET, clock->offset_s - before_s);
    }
}
