/* How long the oxygen lasts, out of the entries of the episode. */
#ifndef RP_INCIDENT_WATCH_OXYGEN_H
#define RP_INCIDENT_WATCH_OXYGEN_H

#include "incident/episode.h"

struct rp_oxygen_left {
    bool known;        /* flow, water volume and pressure are known */
    uint32_t left_s;   /* at the present flow, all cylinders together, above the reserve */
    uint32_t empty_s;  /* net time */
    uint32_t read_s;   /* when a pressure was last read */
    int32_t usable_dl; /* what that is, tenths of free litres, rounded down */
    int32_t flow_dlpm; /* the present flow */
};
/* The episode must be finished. Zeroes when not known. */
void rp_oxygen_left_of(const struct rp_episode *episode, uint32_t now_s,
                       struct rp_oxygen_left *out_left);

#endif
