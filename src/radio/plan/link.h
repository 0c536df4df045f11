/* Estimates of a radio link, for planning: free space, one ridge, what the receiver needs. An
 * estimate is never a promise; nothing that is sent or counted depends on it. */
#ifndef RP_RADIO_PLAN_LINK_H
#define RP_RADIO_PLAN_LINK_H

#include <stdbool.h>
#include <stdint.h>

/* Loss in free space (ITU-R P.525), in dB. Both arguments above 0. */
double rp_link_free_space_db(double distance_m, double freq_hz);

/* A ridge between two antennas. Heights over one datum, metres; distances along the ground. */
struct rp_link_ridge {
    double height_a_m, height_b_m; /* of the antennas */
    double top_m;
    double from_a_m, from_b_m; /* both above 0 */
};
/* How far the top stands above the straight line between the antennas; negative: below. The curve
 * of the Earth is in it, with the effective radius of 8500 km. */
double rp_link_ridge_above_m(const struct rp_link_ridge *ridge);
/* The parameter v of a knife edge `above_m` over the line (ITU-R P.526, 4.1). */
double rp_link_edge_v(double above_m, double from_a_m, double from_b_m, double freq_hz);
/* Loss over a knife edge, in dB (ITU-R P.526, 4.1); 0 below v = -0.78. */
double rp_link_edge_db(double v);

/* The weakest signal a modem receives, in dBm: data sheet values for 125, 250 and 500 kHz and a
 * spreading factor of 7 to 12; false for others. */
bool rp_link_sensitivity_dbm(uint8_t spreading_factor, uint32_t bandwidth_hz,
                             int16_t *out_sensitivity_dbm);

/* Share of places, or of moments, where a link of this margin in dB loses its frames, 0..100: the
 * loss spreads around its mean as a normal distribution in dB. */
double rp_link_expected_loss_pct(double margin_db);

/* Mean loss near the ground over open land, in dB, by the same measurement as below; never less than
 * in free space at that frequency. distance_m above 0. */
double rp_link_near_ground_db(double distance_m, double freq_hz);

/* How far a link near the ground reaches, in metres, when power, antenna gains and sensitivity
 * leave `budget_db` for the path: half of all places at that distance hear. From one measurement
 * near 868 MHz; hills, valleys and glaciers differ. */
double rp_link_ground_range_m(double budget_db);

#endif
