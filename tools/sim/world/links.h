/* From a topology to the channel: fixed losses as they are, positions by a path-loss model. */
#ifndef SIM_WORLD_LINKS_H
#define SIM_WORLD_LINKS_H

#include "sim/world/channel.h"
#include "sim/world/settings.h"

void sim_links_fill(struct sim_channel *channel, const struct sim_topology *topology,
                    const struct sim_settings *settings, uint64_t seed);

#endif
