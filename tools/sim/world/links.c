#include "sim/world/links.h"

#include <math.h>

void sim_links_fill(struct sim_channel *channel, const struct sim_topology *topology,
                    const struct sim_settings *settings, uint64_t seed)
{
    (void)settings;
    (void)seed;
    for (unsigned from = 0; from < topology->count; from++) {
        for (unsigned to = 0; to < topology->count; to++) {
            const struct sim_link *link = &topology->links[from][to];
            struct sim_path *path = sim_channel_path(channel, from, to);
            path->audible = link->kind == SIM_LINK_LOSS;
            path->loss = link->loss;
            sim_channel_changed(channel, from, to);
        }
    }
}
