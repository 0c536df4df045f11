/* Trickle as RFC 6206 section 4.2 defines it; section and rule numbers below are its. */
#include "mesh/state.h"

#include <assert.h>

#define RESTART 8 /* re-fitted with bare engines */
/* Intervals in a row in which this station may keep silent because of what not all of its
 * neighbours hear: between two groups that agree among themselves somebody has to speak. Found by
 * the simulator; the bound is our own choice. */
#define YIELDS_MAX 1

static void begin_interval(struct rp_trickle *trickle, rp_time_us start_us, struct rp_rng *rng)
{
    /* Rule 2: c = 0 and t uniform in [I/2, I). */
    rp_time_us half_us = trickle->interval_us / 2;
    trickle->heard = 0;
    trickle->shared = false;
    trickle->end_us = start_us + trickle->interval_us;
    trickle->fire_us = start_us + rp_rng_between(rng, half_us, trickle->interval_us - 1);
}

void rp_trickle_start(struct rp_trickle *trickle, rp_time_us imin_us, rp_time_us imax_us,
                      unsigned redundancy, rp_time_us now_us, struct rp_rng *rng)
{
    assert(imin_us >= 2 && imax_us >= imin_us && redundancy >= 1);
    trickle->imin_us = imin_us;
    trickle->imax_us = imax_us;
    trickle->redundancy = redundancy;
    trickle->interval_us = imin_us; /* Rule 1 allows any I; a booted station must speak soon. */
    begin_interval(trickle, now_us, rng);
}

void rp_trickle_consistent(struct rp_trickle *trickle, bool shared)
{
    trickle->shared = trickle->shared || shared;
    if (trickle->heard < trickle->redundancy) {
        trickle->heard++; /* Rule 3; more than k makes no difference. */
    }
}

void rp_trickle_inconsistent(struct rp_trickle *trickle, rp_time_us now_us, struct rp_rng *rng)
{
    /* Not quite to Imin: the vector that answers a difference tells more than any digest, and what
     * differs in a busy net mends itself in a while. */
    rp_time_us restart_us = RESTART * trickle->imin_us;
    if (trickle->interval_us > restart_us) {
        trickle->interval_us = restart_us;
        begin_interval(trickle, now_us, rng);
    }
}

bool rp_trickle_poll(struct rp_trickle *trickle, rp_time_us now_us, struct rp_rng *rng)
{
    bool send = false;
    if (now_us >= trickle->fire_us) {
        trickle->fire_us = RP_NEVER;
        bool yields = trickle->heard >= trickle->redundancy; /* Rule 4. */
        trickle->yielded = yields && !trickle->shared ? trickle->yielded + 1 : 0;
        send = !yields || trickle->yielded > YIELDS_MAX;
        trickle->yielded = send ? 0 : trickle->yielded;
    }
    if (now_us >= trickle->end_us) {
        /* Rule 5. An engine that was not asked for long does not catch up: one interval begins
         * now. */
        rp_time_us doubled_us = trickle->interval_us * 2;
        trickle->interval_us = rp_sooner_us(doubled_us, trickle->imax_us);
        bool late = now_us - trickle->end_us >= trickle->interval_us / 2;
        begin_interval(trickle, late ? now_us : trickle->end_us, rng);
    }
    return send;
}

rp_time_us rp_trickle_next(const struct rp_trickle *trickle)
{
    return rp_sooner_us(trickle->fire_us, trickle->end_us);
}
