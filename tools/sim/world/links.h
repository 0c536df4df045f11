/* From a topology to the channel: fixed losses as they are, positions by a path-loss model.
 *
 * A link between positions has a mean strength: transmit power and antennas, less the path loss,
 * less one draw of shadowing for the pair and a smaller one for each direction. Its loss is the
 * chance that the fading of a frame takes it below the receiver's sensitivity. */
#ifndef SIM_WORLD_LINKS_H
#define SIM_WORLD_LINKS_H

#include "sim/world/channel.h"
#include "sim/world/settings.h"

/* Mean strength at the receiver in dBm; both stations must have a position. */
double sim_links_power_dbm(const struct sim_topology *topology, const struct sim_settings *settings,
                           unsigned from, unsigned to);
/* The weakest signal the receiver reads half of the time, dBm. Spreading factor 7..12, bandwidth
 * 125, 250 or 500 kHz. */
double sim_links_sensitivity_dbm(uint8_t spreading_factor, uint32_t bandwidth_hz);
/* Path loss in dB over d_km, without shadowing. */
double sim_links_path_loss_db(enum sim_path_loss model, double d_km);
/* The share of frames lost, in thousandths, `margin_db` above the sensitivity. */
uint16_t sim_links_loss(double margin_db);
/* The margin that loses this share, dB; 0 and 1000 give the margins of 0.5 and 999.5. */
double sim_links_margin_db(uint16_t loss);

/* Replaces every SIM_LINK_MODEL by a SIM_LINK_LOSS, or by SIM_LINK_NONE when it is too weak even to
 * disturb. */
void sim_links_resolve(struct sim_topology *topology, const struct sim_settings *settings);
/* Fills the channel from a resolved topology. */
void sim_links_fill(struct sim_channel *channel, const struct sim_topology *topology,
                    const struct sim_settings *settings);

#endif
