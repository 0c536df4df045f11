/* Trickle, as RFC 6206 section 4.2 defines it. */
#ifndef RP_MESH_TRICKLE_H
#define RP_MESH_TRICKLE_H

#include "base/rng.h"
#include "ridgepost/engine.h"

struct rp_trickle {
    rp_time_us imin_us, imax_us; /* imax as a time, not as a number of doublings */
    unsigned redundancy;         /* k */
    rp_time_us interval_us;      /* I */
    rp_time_us fire_us;          /* t, as a moment; RP_NEVER once passed */
    rp_time_us end_us;           /* end of the interval */
    unsigned heard;              /* c */
    bool shared;                 /* one of them was heard by all who hear this station */
    unsigned yielded;            /* intervals in a row in which it kept silent without that */
};

void rp_trickle_start(struct rp_trickle *trickle, rp_time_us imin_us, rp_time_us imax_us,
                      unsigned redundancy, rp_time_us now_us, struct rp_rng *rng);
/* `shared`: all who hear this station hear that message too. */
void rp_trickle_consistent(struct rp_trickle *trickle, bool shared);
/* Rule 6, but back to 8 Imin, unless the interval is that short already. */
void rp_trickle_inconsistent(struct rp_trickle *trickle, rp_time_us now_us, struct rp_rng *rng);
/* Moves to now; true when the moment t was reached with fewer than k consistent messages heard. */
bool rp_trickle_poll(struct rp_trickle *trickle, rp_time_us now_us, struct rp_rng *rng);
rp_time_us rp_trickle_next(const struct rp_trickle *trickle);

#endif
