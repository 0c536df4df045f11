/* How strong a frame arrives, and how strong it must be: published tables, in whole dB. */
#ifndef AIR_PROPAGATION_H
#define AIR_PROPAGATION_H

#include <stdbool.h>
#include <stdint.h>

#include "base/rng.h"

/* Which table says when a frame survives another one. */
enum air_capture {
    AIR_CAPTURE_FIXED,    /* one number for the same spreading factor, the others do not disturb */
    AIR_CAPTURE_BOR,      /* the same with 6 dB */
    AIR_CAPTURE_GOURSAUD, /* a table for every pair of spreading factors */
    AIR_CAPTURE_CROCE,
};

/* Weakest signal that is received, in dBm: Semtech SX1272/73 data sheet rev 2 (2014), RFS_L125,
 * RFS_L250 and RFS_L500. spreading_factor 7..12, bandwidth 125000, 250000 or 500000. */
int air_sensitivity_dbm(uint8_t spreading_factor, uint32_t bandwidth_hz);
/* Thermal noise at 290 K in the bandwidth, plus 6 dB of the receiver's own. */
int air_noise_dbm(uint32_t bandwidth_hz);
/* By how much the wanted frame must be above the other; false: the other does not disturb. */
bool air_capture_needs(enum air_capture capture, int fixed_db, uint8_t wanted_sf, uint8_t other_sf,
                       int *out_above_db);

/* Path loss over a distance in dB and the spread of its shadowing, by a model's name: "free"
 * (ITU-R P.525), "bor" (Bor et al., MSWiM 2016), "oulu" (Petajajarvi et al. 2015). False: no such
 * model, or a distance outside 0.001 to 1000 km. */
bool air_path_loss_db(const char *model, double distance_km, double freq_hz, double *out_loss_db,
                      double *out_sigma_db);
/* A normal draw with that standard deviation, rounded; the sum of twelve uniform draws. */
int air_draw_db(struct rp_rng *rng, unsigned sigma_tenth_db);

#endif
