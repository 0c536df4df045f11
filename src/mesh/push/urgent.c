/* What is different for urgent segments: a second copy or channel sensing, and above it the
 * origin's rounds until base's receipt. */
#include "mesh/push/profile.h"

/* Rounds of an own urgent segment until its receipt: 8 s, growing by half, at most ten minutes.
 * Own choice; the design asks for growing waits inside the reserve. */
#define ROUND_FIRST_MS  8000
#define ROUND_APART_MS  4000 /* a copy that late after one's own sending is a new round */
#define ROUND_MAX_US    (600 * RP_SECOND_US)
#define ROUNDS_FREE     4  /* the first rounds come whatever they cost */
#define ROUND_FRAMES    3u /* a round: two copies, and one more */
#define ROUND_RAREST_US (2 * RP_HOUR_US)

/* With channel sensing: how long after the own frame the named station must be on air (measured in
 * the prototype as 50-70 ms; a serial modem adds its latency), and the wait when it is. */
#define LOOK_LOW_MS    50
#define LOOK_HIGH_MS   70
#define FORWARDING_MS  600
#define FORWARDING_PCT 130

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

rp_time_us rp_urgent_round_us(struct rp_mesh *mesh, const struct rp_pending *pending,
                              rp_time_us now_us)
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
    return now_us + wait_us;
}

bool rp_urgent_is_round(const struct rp_mesh *mesh, const struct rp_pending *pending,
                        rp_time_us now_us)
{
    return pending->urgent && !mesh->config.is_base && pending->state == RP_PENDING_IDLE &&
           now_us - pending->sent_us > rp_scale_us(mesh, ROUND_APART_MS);
}

void rp_urgent_sent(struct rp_mesh *mesh, struct rp_pending *pending, size_t frame_len,
                    rp_time_us now_us)
{
    if (mesh->sense.known && pending->named != 0) {
        pending->looked = false;
        rp_push_plan(pending, RP_PENDING_AWAIT,
                     now_us + RP_LATENCY_US + rp_wait_us(mesh, LOOK_LOW_MS, LOOK_HIGH_MS));
    } else if (pending->sends == 1) {
        rp_push_plan(pending, RP_PENDING_FORWARD,
                     now_us + RP_LATENCY_US + rp_wait_us(mesh, RP_COPY_LOW_MS, RP_COPY_HIGH_MS));
    } else if (pending->named != 0) {
        rp_push_plan(pending, RP_PENDING_AWAIT,
                     now_us + rp_insist_await_us(mesh, pending, frame_len));
    } else {
        rp_push_done(mesh, pending, now_us);
    }
}

bool rp_urgent_looks(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    if (!pending->urgent || !mesh->sense.known || pending->looked) {
        return false;
    }
    pending->looked = true;
    if (mesh->sense.busy || mesh->sense.busy_us > pending->sent_us) {
        uint32_t wait_ms = rp_push_grown_ms(FORWARDING_MS, FORWARDING_PCT, pending->sends);
        rp_push_plan(pending, RP_PENDING_AWAIT,
                     now_us + rp_wait_us(mesh, wait_ms, wait_ms * 11 / 10));
        return true;
    }
    return false;
}
