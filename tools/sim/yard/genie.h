/* The genie: the fewest transmissions, and so the least airtime, by an oracle that knows for free
 * and at once who has received what, and chooses the next transmitter. No protocol can use less on
 * average; the measure of everything else.
 *
 * To base it is the opportunistic bound (EOTX): C(base) = 0,
 *   C(i) = (1 + sum over j of P(best receiver is j) C(j)) / (1 - P(no better station received)),
 * settled in Dijkstra order (Dubois-Ferriere et al. 2007, least-cost opportunistic routing; the
 * algorithm from memory). To everybody it is the exact value over the set S of holders,
 *   V(S) = min over i in S of (1 + sum over m of P(m | i, S) V(S u m)) / (1 - P(nothing new)).
 * Losses are independent; frames all have the same length. */
#ifndef SIM_YARD_GENIE_H
#define SIM_YARD_GENIE_H

#include "sim/topology.h"

#define SIM_GENIE_ALL_MAX    10    /* stations up to which V(S) is computed: 3^10 steps */
#define SIM_GENIE_FRAMES_MAX 20000 /* transmissions after which a quantile counts as unknown */

struct sim_genie {
    bool base_known;        /* a base can be reached */
    double base_frames;     /* expected transmissions until a base holds it */
    int64_t base_us;        /* their airtime */
    bool all_known;         /* at most SIM_GENIE_ALL_MAX stations, all of them reachable */
    double all_frames;      /* expected transmissions until everybody holds it */
    int64_t all_us;         /* their airtime */
    bool quantiles_known;   /* a base is reached within SIM_GENIE_FRAMES_MAX at p95 */
    unsigned p50_frames;    /* transmissions until a base holds it: the smallest n with */
    unsigned p95_frames;    /* P(T <= n) >= 0.5, 0.95; the best holder sends next */
    int64_t p50_us, p95_us; /* the same back to back: the genie's time of an urgent record */
};

/* What one record of station `origin` needs at least, frame_us the time on air of its frame. Links
 * must be SIM_LINK_LOSS or SIM_LINK_NONE: whoever has a channel model puts its losses in first.
 * 0, RP_E_UNSUPPORTED for a SIM_LINK_MODEL, RP_E_INVALID for no such station, RP_E_MEMORY. */
int sim_genie(const struct sim_topology *topology, unsigned origin, int64_t frame_us,
              struct sim_genie *out_genie);

#endif
