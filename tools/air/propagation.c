#include "air/propagation.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#define FACTORS 6 /* 7 to 12 */

static unsigned bandwidth_row(uint32_t bandwidth_hz)
{
    return bandwidth_hz <= 125000 ? 0 : bandwidth_hz <= 250000 ? 1 : 2;
}

int air_sensitivity_dbm(uint8_t spreading_factor, uint32_t bandwidth_hz)
{
    static const int16_t table[3][FACTORS] = {{-124, -127, -130, -133, -135, -137},
                                              {-122, -125, -128, -130, -132, -135},
                                              {-116, -119, -122, -125, -128, -129}};
    return table[bandwidth_row(bandwidth_hz)][spreading_factor - 7];
}

int air_noise_dbm(uint32_t bandwidth_hz)
{
    /* -174 dBm/Hz + 10 log10(125000) = -123.0; each doubling adds 3 dB. */
    return -117 + 3 * (int)bandwidth_row(bandwidth_hz);
}

/* Signal to interference, in dB, that the wanted factor (row) needs over the other (column). */
static const int8_t goursaud[FACTORS][FACTORS] = {
    {6, -16, -18, -19, -19, -20}, {-24, 6, -20, -22, -22, -22}, {-27, -27, 6, -23, -25, -25},
    {-30, -30, -30, 6, -26, -28}, {-33, -33, -33, -33, 6, -29}, {-36, -36, -36, -36, -36, 6},
}; /* Goursaud and Gorce 2015, as the ns-3 lorawan module has them */
static const int8_t croce[FACTORS][FACTORS] = {
    {1, -8, -9, -9, -9, -9},      {-11, 1, -11, -12, -13, -13}, {-15, -13, 1, -13, -14, -15},
    {-19, -18, -17, 1, -17, -18}, {-22, -22, -21, -20, 1, -20}, {-25, -25, -25, -24, -23, 1},
}; /* Croce et al. 2018, as FLoRa has them */

bool air_capture_needs(enum air_capture capture, int fixed_db, uint8_t wanted_sf, uint8_t other_sf,
                       int *out_above_db)
{
    switch (capture) {
    case AIR_CAPTURE_GOURSAUD:
        *out_above_db = goursaud[wanted_sf - 7][other_sf - 7];
        return true;
    case AIR_CAPTURE_CROCE:
        *out_above_db = croce[wanted_sf - 7][other_sf - 7];
        return true;
    case AIR_CAPTURE_BOR:
    case AIR_CAPTURE_FIXED:
        break;
    }
    *out_above_db = capture == AIR_CAPTURE_BOR ? 6 : fixed_db;
    return wanted_sf == other_sf;
}

bool air_path_loss_db(const char *model, double distance_km, double freq_hz, double *out_loss_db,
                      double *out_sigma_db)
{
    if (!(distance_km >= 0.001 && distance_km <= 1000.0)) {
        return false;
    }
    if (strcmp(model, "free") == 0) {
        *out_loss_db = 32.44 + 20.0 * log10(distance_km) + 20.0 * log10(freq_hz / 1e6);
        *out_sigma_db = 0.0;
    } else if (strcmp(model, "bor") == 0) {
        *out_loss_db = 127.41 + 20.8 * log10(distance_km * 1000.0 / 40.0);
        *out_sigma_db = 3.57;
    } else if (strcmp(model, "oulu") == 0) {
        *out_loss_db = 128.95 + 23.2 * log10(distance_km);
        *out_sigma_db = 7.8;
    } else {
        return false;
    }
    return true;
}

int air_draw_db(struct rp_rng *rng, unsigned sigma_tenth_db)
{
    int64_t sum = 0;
    for (int i = 0; i < 12; i++) {
        sum += (int64_t)rp_rng_below(rng, 1000000);
    }
    int64_t tenths = (sum - 6000000 + 6) * (int64_t)sigma_tenth_db / 1000000;
    return (int)(tenths >= 0 ? (tenths + 5) / 10 : (tenths - 5) / 10);
}
