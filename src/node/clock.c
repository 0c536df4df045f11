/* Net time at this station: its own clock, or a better one heard in the net. Kept over a restart
 * under the value "clock": within one run of the computer the monotonic clock carries it on,
 * whatever the wall clock did meanwhile. */
#include "base/bytes.h"
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

#define VERSION   1
#define VALUE     "clock"
#define VALUE_LEN (1 + 8 + 8 + 8 + 8 + 1)

static void keep(struct rp_node *node)
{
    uint8_t buf[VALUE_LEN];
    struct rp_writer w = rp_writer_on(buf, sizeof buf);
    rp_put_u8(&w, VERSION);
    rp_put_be(&w, (uint64_t)node->config.boot, 8);
    rp_put_be(&w, (uint64_t)node->moment.now_us, 8);
    rp_put_be(&w, (uint64_t)node->moment.unix_s, 8);
    rp_put_be(&w, (uint64_t)(own_net_seconds(node->moment) + node->clock.offset_s), 8);
    rp_put_u8(&w, node->clock.quality);
    int code =
        node->config.store->set_value(node->config.store_ctx, VALUE, (struct rp_view){buf, w.len});
    node->store_failures += code < 0;
}

/* At a start with a clock that nobody vouches for. In the same run of the computer net time goes on
 * as it was. In another one the wall clock is taken to be as far off as it was; and it is never
 * earlier than this station's newest record: a computer without a clock of its own starts in the
 * past. A clock that is right after all is taken once it is synchronised or vouched for. */
static void restore(struct rp_node *node)
{
    uint8_t buf[VALUE_LEN];
    struct rp_node_clock *clock = &node->clock;
    int64_t own_s = own_net_seconds(node->moment), net_s = own_s;
    clock->quality = QUALITY_UNSYNCED;
    int len = node->config.store->get_value(node->config.store_ctx, VALUE, buf, sizeof buf);
    if (len == VALUE_LEN && buf[0] == VERSION) {
        struct rp_reader r = rp_reader_on((struct rp_view){buf + 1, sizeof buf - 1});
        bool same_run = (int64_t)rp_get_be(&r, 8) == node->config.boot;
        rp_time_us at_us = (rp_time_us)rp_get_be(&r, 8);
        int64_t unix_s = (int64_t)rp_get_be(&r, 8), kept_s = (int64_t)rp_get_be(&r, 8);
        uint8_t quality = rp_get_u8(&r);
        if (same_run && node->moment.now_us >= at_us) {
            net_s = kept_s + (node->moment.now_us - at_us) / 1000000;
            clock->quality = quality < QUALITY_HELD ? QUALITY_HELD : quality;
        } else {
            net_s = own_s + kept_s - (unix_s - RP_NET_EPOCH_UNIX_S);
        }
    }
    net_s = net_s < clock->newest_own_s ? clock->newest_own_s : net_s;
    clock->offset_s = net_s - own_s;
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
    bool changed = !clock->started || step_s != 0 || moment.synced != clock->vouched;
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
            restore(node);
        } else if (clock->vouched) {
            clock->quality = QUALITY_HELD;
        }
    }
    clock->vouched = moment.synced;
    clock->started = true;
    if (changed) {
        keep(node);
    }
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
    keep(node);
    int64_t moved_s = clock->offset_s - before_s;
    if (moved_s > STEP_S || moved_s < -STEP_S) {
        note_clock(node, RP_CLOCK_SET, moved_s);
    }
}
