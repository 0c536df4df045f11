/* Naming: at most one station, that reaches the most who probably lack the segment. */
#include "mesh/state.h"

#define COVER_LEAST 128 /* half a station behind the named one (measured in the prototype) */
/* Over a poorer link the end of a path confirms: 0.65 (measured in the prototype), and in a busy
 * hour 0.45. */
#define MUST_ACK_Q8 166
/* One not heard for this long confirms once, or is found missing. Own choice. */
#define CONFIRMS_US      (2 * RP_HOUR_US)
#define MUST_ACK_BUSY_Q8 115

/* The best link to z from here or from any usable neighbour. */
static uint8_t best_access(const struct rp_mesh *mesh, uint8_t z, rp_time_us now_us)
{
    uint8_t best_q8 = rp_link_q8(mesh, mesh->station, z);
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        uint8_t station = mesh->neighbours[slot].station;
        uint8_t link_q8 = station != 0 ? rp_link_q8(mesh, station, z) : 0;
        if (link_q8 > best_q8 && rp_neighbour_usable(mesh, slot, now_us)) {
            best_q8 = link_q8;
        }
    }
    return best_q8;
}

/* A poor link creates no obligation, unless there is no better way to that station. */
static bool serves(const struct rp_mesh *mesh, uint8_t via, uint8_t z, rp_time_us now_us)
{
    uint8_t link_q8 = rp_link_q8(mesh, via, z);
    return link_q8 >= RP_USABLE_Q8 ||
           (link_q8 >= RP_POOR_Q8 && link_q8 >= best_access(mesh, z, now_us));
}

/* Expected stations that lack it behind `via` (255 each), and *out_gain, how many of them a frame
 * of `via` would serve. */
static unsigned cover_behind(const struct rp_mesh *mesh, const struct rp_pending *pending,
                             uint8_t via, rp_time_us now_us, unsigned *out_gain)
{
    unsigned cover = 0, gain = 0;
    for (uint8_t z = RP_STATION_MIN; z <= mesh->station_top; z++) {
        if (pending->lack[z] == 0 || z == mesh->station || z == via ||
            !serves(mesh, via, z, now_us)) {
            continue;
        }
        unsigned lack = rp_mul8(pending->lack[z], 255u - rp_link_q8(mesh, mesh->station, z));
        cover += lack;
        gain += rp_mul8(rp_link_q8(mesh, via, z), lack);
    }
    *out_gain = gain;
    return cover;
}

/* How much there is to naming a neighbour; 0 nothing. In this order: base when it must confirm, one
 * with stations behind it, one that never said what it hears, one that must confirm. */
static uint64_t weight_of(const struct rp_mesh *mesh, const struct rp_pending *pending,
                          const struct rp_neighbour *neighbour, unsigned lacking, rp_time_us now_us)
{
    bool wanted = lacking >= rp_push_lack_least(pending);
    bool regular = rp_due_regular(mesh, pending->log);
    if (neighbour->is_base && (pending->urgent || (!regular && wanted))) {
        return ((uint64_t)4 << 40) + neighbour->out_q8;
    }
    unsigned gain;
    if (cover_behind(mesh, pending, neighbour->station, now_us, &gain) >= COVER_LEAST) {
        return ((uint64_t)3 << 40) + (uint64_t)neighbour->out_q8 * gain;
    }
    if (!neighbour->has_row) {
        return ((uint64_t)2 << 40) + (uint64_t)neighbour->out_q8 * lacking;
    }
    bool end = neighbour->is_leaf || neighbour->is_base || pending->urgent ||
               rp_belief_sole(mesh, pending, neighbour) >= RP_SOLE_Q8;
    bool busy = rp_ledger_load_pct(&mesh->ledger, now_us) >= RP_BUSY_PCT;
    bool asks_itself =
        regular && !pending->urgent && neighbour->out_q8 >= (busy ? MUST_ACK_BUSY_Q8 : MUST_ACK_Q8);
    if (end && !asks_itself && wanted) {
        return ((uint64_t)1 << 40) + (uint64_t)neighbour->out_q8 * lacking +
               (neighbour->is_base ? 255u * 255u : 0);
    }
    return 0;
}

uint8_t rp_name_choose(const struct rp_mesh *mesh, const struct rp_pending *pending, bool again,
                       rp_time_us now_us)
{
    uint8_t best = 0;
    uint64_t best_weight = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        unsigned lacking = again ? 255u : pending->lack[neighbour->station];
        if (lacking == 0 || !rp_neighbour_usable(mesh, slot, now_us)) {
            continue;
        }
        uint64_t weight = weight_of(mesh, pending, neighbour, lacking, now_us);
        if (weight > best_weight) {
            best = neighbour->station;
            best_weight = weight;
        }
    }
    return best;
}
