/* Net time at this station: its own clock, or a better one heard in the net. */
#include "node/node_state.h"

/* A wall clock that moves this much against the monotonic one was stepped (NTP slews slower). */
#define STEP_S           2
#define QUALITY_SYNCED   2
#define QUALITY_HELD     8 /* was synchronised since the start, is not now: drifts slowly; ours */
#define QUALITY_UNSYNCED 15

static int64_t own_net_seconds(struct rp_moment moment)
{
    return moment.unix_s - RP_NET_EPOCH_UNIX_S;
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
    int64_t offset_s = moment.synced ? 0 : node->clock.offset_s - step_of(&node->clock, moment);
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

void rp_clock_observe(struct rp_node *node, struct rp_moment moment)
{
    struct rp_node_clock *clock = &node->clock;
    int64_t step_s = step_of(clock, moment);
    if (!clock->started || step_s != 0) {
        clock->last_us = moment.now_us;
        clock->last_unix_s = moment.unix_s;
    }
    int64_t given_up_s = 0; /* what the net's clock had added */
    if (moment.synced) {
        given_up_s = clock->offset_s;
        clock->quality = QUALITY_SYNCED;
        clock->offset_s = 0;
    } else {
        clock->offset_s -= step_s; /* net time goes on as it was */
        if (!clock->started) {
            clock->quality = QUALITY_UNSYNCED;
        } else if (clock->vouched) {
            clock->quality = QUALITY_HELD;
        }
    }
    clock->vouched = moment.synced;
    clock->started = true;
    if (step_s != 0) {
        note_clock(node, RP_CLOCK_STEPPED, step_s);
    } else if (given_up_s > STEP_S || given_up_s < -STEP_S) {
        note_clock(node, RP_CLOCK_SET, -given_up_s);
    }
}

void rp_clock_hear(struct rp_node *node, uint32_t clock_s, uint8_t quality)
{
    struct rp_node_clock *clock = &node->clock;
    if (node->moment.synced || quality + 1 >= clock->quality || quality >= QUALITY_UNSYNCED) {
        return;
    }
    int64_t before_s = clock->offset_s;
    clock->offset_s = (int64_t)clock_s - own_net_seconds(node->moment);
    clock->quality = (uint8_t)(quality + 1); /* one step worse per hop, as RFC 5905's stratum */
    int64_t moved_s = clock->offset_s - before_s;
    if (moved_s > STEP_S || moved_s < -STEP_S) {
        note_clock(node, RP_CLOCK_SET, moved_s);
    }
}
