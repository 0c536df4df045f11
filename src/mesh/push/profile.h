/* What differs between routine and urgent segments, and what the files of this folder share. */
#ifndef RP_MESH_PUSH_PROFILE_H
#define RP_MESH_PUSH_PROFILE_H

#include "mesh/state.h"

/* Times are reference milliseconds; stations are counted 255 each. */
struct rp_profile {
    uint32_t named_low_ms, named_high_ms; /* wait of the named station */
    uint32_t ack_low_ms, ack_high_ms;
    unsigned named_least;   /* uncovered stations from which the named one forwards */
    unsigned unnamed_least; /* forsaken stations from which another one does */
    uint8_t lack_least;     /* of the named station, to send again */
    uint8_t sends_max;
    uint32_t again_ms;      /* wait for the named station after the first frame */
    uint32_t again_busy_ms; /* the same while other segments wait here */
    unsigned growth_pct;    /* of that wait, per frame */
    unsigned jitter_pct;
};

const struct rp_profile *rp_profile_of(const struct rp_pending *pending);

/* Second copy of an urgent segment, without channel sensing (measured in the prototype). */
#define RP_COPY_LOW_MS  80
#define RP_COPY_HIGH_MS 120

void rp_push_plan(struct rp_pending *pending, enum rp_pending_state state, rp_time_us due_us);
/* Another routine push is under way, or queued. */
bool rp_push_busy(const struct rp_mesh *mesh, const struct rp_pending *besides);
/* A wait that grows with each send, and not without end. */
uint32_t rp_push_grown_ms(uint32_t first_ms, unsigned growth_pct, unsigned sends);
/* How long to wait for the named station after a frame of this length. */
rp_time_us rp_insist_await_us(struct rp_mesh *mesh, const struct rp_pending *pending,
                              size_t frame_len);
/* The named station had to speak and did not. */
void rp_insist_judge(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us);
/* When the next round of an own urgent segment begins. */
rp_time_us rp_urgent_round_us(struct rp_mesh *mesh, const struct rp_pending *pending,
                              rp_time_us now_us);
/* A named station is told again of an urgent segment: is it a new round of the origin? */
bool rp_urgent_is_round(const struct rp_mesh *mesh, const struct rp_pending *pending,
                        rp_time_us now_us);
/* An urgent frame has left: the second copy, or a look at the channel. */
void rp_urgent_sent(struct rp_mesh *mesh, struct rp_pending *pending, size_t frame_len,
                    rp_time_us now_us);
/* The first look at the channel after an urgent frame: true when the named station is forwarding,
 * and is waited for. */
bool rp_urgent_looks(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us);

#endif
