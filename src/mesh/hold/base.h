/* What base holds of each log, as its marks say (base.c). */
#ifndef RP_MESH_HOLD_BASE_H
#define RP_MESH_HOLD_BASE_H

#include "ridgepost/engine.h"
#include "wire/frame.h"

struct rp_log;
struct rp_pending;

#define RP_BASE_MARKS_MAX 4 /* in one acknowledgement */

struct rp_base_mark {
    uint16_t origin;
    uint32_t upto; /* base holds all up to here, 1.. */
};

/* The last segment of a record was kept: base tells what it holds, when the time has come. */
void rp_base_kept(struct rp_mesh *mesh, struct rp_log *log, uint32_t seq, rp_time_us now_us);
/* A member of the net, authenticated, said that base holds all of this log up to here. */
void rp_base_learn(struct rp_mesh *mesh, uint16_t origin, uint32_t upto);
/* The marks for an acknowledgement of a segment of `acked` (NULL: unknown); their count. They
 * count as told. */
unsigned rp_base_compose(struct rp_mesh *mesh, const struct rp_log *acked, struct rp_base_mark *out,
                         rp_time_us now_us);
/* Whether a mark should travel with this segment, sealed in `sealed`, and which. */
bool rp_base_mark_for(struct rp_mesh *mesh, const struct rp_pending *pending, const uint8_t *sealed,
                      struct rp_mark *out_mark);
/* A segment of this log left with a mark. */
void rp_base_marked(struct rp_mesh *mesh, uint16_t origin);
/* An authenticated segment arrived from `station` in a frame whose trailer says that there is a
 * mark. */
void rp_base_heard(struct rp_mesh *mesh, const struct rp_frame_head *head, struct rp_view frame,
                   uint8_t station, rp_time_us now_us);

#endif
