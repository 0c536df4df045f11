/* Belief: for each recent segment and each station heard of, how likely the station lacks it. */
#include "mesh/state.h"

unsigned rp_belief_uncovered(const struct rp_mesh *mesh, const struct rp_pending *pending,
                             rp_time_us now_us)
{
    unsigned sum = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        unsigned lack = pending->lack[mesh->neighbours[slot].station];
        if (lack > 0 && rp_neighbour_usable(mesh, slot, now_us)) {
            sum += lack;
        }
    }
    return sum;
}

uint8_t rp_belief_sole(const struct rp_mesh *mesh, const struct rp_pending *pending,
                       const struct rp_neighbour *neighbour)
{
    unsigned sole = 255;
    for (uint8_t other = RP_STATION_MIN; other <= mesh->station_top; other++) {
        if (other != mesh->station && neighbour->hears[other] >= RP_USABLE_Q8) {
            sole = rp_mul8(sole, pending->lack[other]);
        }
    }
    return (uint8_t)sole;
}

unsigned rp_belief_forsaken(const struct rp_mesh *mesh, const struct rp_pending *pending,
                            rp_time_us now_us)
{
    unsigned sum = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        unsigned lack = pending->lack[neighbour->station];
        if (lack > 0 && rp_neighbour_usable(mesh, slot, now_us)) {
            sum += rp_mul8(lack, rp_belief_sole(mesh, pending, neighbour));
        }
    }
    return sum;
}

void rp_belief_holds(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t station)
{
    if (pending->own) {
        rp_event_heard_one(mesh, pending->seq, station);
    }
    pending->lack[station] = 0;
}

void rp_belief_lacks(struct rp_pending *pending, uint8_t station)
{
    pending->lack[station] = 255;
}

void rp_belief_covers(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t from,
                      uint8_t share_q8)
{
    for (uint8_t station = RP_STATION_MIN; station <= mesh->station_top; station++) {
        if (pending->lack[station] > 0 && station != from) {
            uint8_t reach_q8 = rp_mul8(share_q8, rp_link_q8(mesh, from, station));
            uint8_t lack = rp_mul8(pending->lack[station], 255u - reach_q8);
            pending->lack[station] = lack > 0 ? lack : 1; /* 0 is for those known to hold it */
        }
    }
}

void rp_belief_trailer(struct rp_mesh *mesh, struct rp_pending *pending,
                       const struct rp_trailer *trailer, rp_time_us now_us)
{
    pending->touched_us = now_us;
    if (trailer->station == 0) {
        return; /* a trailer that is not believed */
    }
    rp_belief_holds(mesh, pending, trailer->station);
    rp_belief_covers(mesh, pending, trailer->station, 255);
    if (trailer->previous != 0 && trailer->previous != mesh->station) {
        rp_belief_holds(mesh, pending, trailer->previous);
        rp_belief_covers(mesh, pending, trailer->previous, 255);
    }
    if (trailer->named != 0 && trailer->named != mesh->station) {
        rp_belief_covers(mesh, pending, trailer->named,
                         rp_link_q8(mesh, trailer->station, trailer->named));
    }
}
