/* What base holds of each log: told by base in an acknowledgement now and then, and passed on, from
 * station to station, with the segments of the same log that are sent anyway (PROTOCOL.md, "Base
 * mark"). Whoever overhears one frame of a neighbour nearer base knows it too. */
#include "mesh/state.h"

/* Base tells unasked after so many 40-byte frames' time divided by the duty cycle (half an hour at
 * SF9 and 1 %), and in half of that when it acknowledges anyway. */
#define TELL_FRAMES  64
#define TELL_MOST_US (2 * RP_HOUR_US)
/* A new mark is said again until the station that this log comes from has been heard with it, but
 * no more often than this; the origin does not say it, and base has other ways to learn. */
#define TELLS           6
#define TELLS_TO_ORIGIN 3
#define TELLS_OF_BASE   3
/* After a mark with a wrong proof none is believed for so long, so that guessing takes for ever:
 * 2000 guesses at 26 bits in 14 days. */
#define DISTRUST_US (600 * RP_SECOND_US)

static rp_time_us spacing_us(const struct rp_mesh *mesh)
{
    uint64_t budget_us = mesh->config.budget_us_per_hour;
    uint64_t wait_us = (uint64_t)mesh->frame40_us * TELL_FRAMES * RP_HOUR_US;
    wait_us = budget_us > 0 ? wait_us / budget_us : TELL_MOST_US;
    return wait_us < (uint64_t)TELL_MOST_US ? (rp_time_us)wait_us : TELL_MOST_US;
}

/* At base: something is to be told of this log, and the last time was so long ago. */
static bool news(const struct rp_mesh *mesh, const struct rp_log *log, rp_time_us pause_us,
                 rp_time_us now_us)
{
    return mesh->config.is_base && log->origin != mesh->config.origin &&
           log->held.upto > log->at_base && now_us >= log->told_us + pause_us;
}

void rp_base_kept(struct rp_mesh *mesh, struct rp_log *log, uint32_t seq, rp_time_us now_us)
{
    bool again = mesh->config.is_base && log->tells > 0;
    if (again || news(mesh, log, spacing_us(mesh), now_us)) {
        rp_ack_plan(mesh, log->origin, seq, false, now_us + rp_wait_us(mesh, 30, 150));
    }
}

void rp_base_learn(struct rp_mesh *mesh, uint16_t origin, uint32_t upto)
{
    struct rp_log *log = rp_log_find(mesh, origin);
    bool mine = origin == mesh->config.origin;
    if (log == NULL || mesh->config.is_base || upto <= log->at_base ||
        (mine && upto > rp_held_top(&log->held))) {
        return;
    }
    log->at_base = upto;
    log->tells = log->via == rp_origin_station(origin) ? TELLS_TO_ORIGIN : TELLS;
    if (rp_origin_station(origin) == mesh->station) {
        struct rp_mesh_event event = {.kind = RP_MESH_AT_BASE, .origin = origin, .seq = upto};
        rp_event_push(mesh, &event);
    }
}

unsigned rp_base_compose(struct rp_mesh *mesh, const struct rp_log *acked, struct rp_base_mark *out,
                         rp_time_us now_us)
{
    unsigned count = 0;
    for (unsigned i = 0; i < mesh->log_count && count < RP_BASE_MARKS_MAX; i++) {
        struct rp_log *log = &mesh->logs[i];
        if (news(mesh, log, spacing_us(mesh) / 2, now_us) && log->held.upto > 1) {
            log->told_us = now_us;
            log->tells = TELLS_OF_BASE;
        } else if (log != acked || log->tells == 0 || log->origin == mesh->config.origin) {
            continue;
        }
        log->at_base = mesh->config.is_base ? log->held.upto : log->at_base;
        log->tells--;
        out[count++] = (struct rp_base_mark){log->origin, log->at_base};
    }
    return count;
}

bool rp_base_mark_for(struct rp_mesh *mesh, const struct rp_pending *pending, const uint8_t *sealed,
                      struct rp_mark *out_mark)
{
    const struct rp_log *log = &mesh->logs[pending->log];
    struct rp_frame_head head;
    if (rp_frame_head_read(rp_view_of(sealed, RP_HEAD_LEN_MAX), &head) < 0 || pending->urgent ||
        log->tells == 0 || log->origin == mesh->config.origin || pending->seq < log->at_base ||
        pending->seq - log->at_base > RP_MARK_BACK_MAX) {
        return false;
    }
    out_mark->back = (uint8_t)(pending->seq - log->at_base);
    out_mark->proof = rp_seal_proof(mesh->config.seal, head.epoch, log->origin, log->at_base);
    return true;
}

void rp_base_marked(struct rp_mesh *mesh, uint16_t origin)
{
    struct rp_log *log = rp_log_find(mesh, origin);
    if (log != NULL && log->tells > 0) {
        log->tells--;
    }
}

void rp_base_heard(struct rp_mesh *mesh, const struct rp_frame_head *head, struct rp_view frame,
                   uint8_t station, rp_time_us now_us)
{
    struct rp_log *log = rp_log_find(mesh, head->origin);
    struct rp_mark mark;
    bool known = rp_mark_read(frame, &mark) && mark.back < head->counter &&
                 rp_seal_proof(mesh->config.seal, head->epoch, head->origin,
                               head->counter - mark.back) == mark.proof;
    if (!known) {
        mesh->counters.refused_auth++;
        mesh->distrust_us = now_us + DISTRUST_US;
    } else if (now_us >= mesh->distrust_us) {
        uint32_t upto = head->counter - mark.back;
        rp_base_learn(mesh, head->origin, upto);
        if (log != NULL && station == log->via && upto >= log->at_base) {
            log->tells = 0;
        }
    }
}
