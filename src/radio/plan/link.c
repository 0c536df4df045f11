#include "radio/plan/link.h"

#include <math.h>

#define PI              3.14159265358979323846
#define MEAN_RADIUS_M   6371008.8 /* IUGG mean radius R1 of GRS 80 */
#define CURVED_RADIUS_M 8500000.0 /* effective Earth radius, ITU-R P.526-8 section 1 */
#define LIGHT_M_PER_S   299792458.0
#define EDGE_V_LEAST    (-0.78) /* ITU-R P.526, 4.1 */
#define SPREADING_MIN   7
#define SPREADING_MAX   12
/* Petajajarvi et al. 2015, measured from a car: mean loss 128.95 dB at 1 km, exponent 2.32, spread
 * 7.8 dB (parameters as in FLoRa, LoRaPathLossOulu.ned). */
#define GROUND_1KM_DB    128.95
#define GROUND_EXPONENT  2.32
#define GROUND_SPREAD_DB 7.8

double rp_link_free_space_db(double distance_m, double freq_hz)
{
    return 32.44 + 20 * log10(distance_m / 1000) + 20 * log10(freq_hz / 1e6);
}

double rp_link_ridge_above_m(const struct rp_link_ridge *ridge)
{
    double share = ridge->from_a_m / (ridge->from_a_m + ridge->from_b_m);
    double line_m = ridge->height_a_m + (ridge->height_b_m - ridge->height_a_m) * share;
    double bulge_m = ridge->from_a_m * ridge->from_b_m / (2 * CURVED_RADIUS_M);
    return ridge->top_m + bulge_m - line_m;
}

double rp_link_edge_v(double above_m, double from_a_m, double from_b_m, double freq_hz)
{
    double wave_m = LIGHT_M_PER_S / freq_hz;
    return above_m * sqrt(2 / wave_m * (1 / from_a_m + 1 / from_b_m));
}

double rp_link_edge_db(double v)
{
    if (v <= EDGE_V_LEAST) {
        return 0;
    }
    double from_v = v - 0.1;
    return 6.9 + 20 * log10(sqrt(from_v * from_v + 1) + from_v);
}

bool rp_link_sensitivity_dbm(uint8_t spreading_factor, uint32_t bandwidth_hz,
                             int16_t *out_sensitivity_dbm)
{
    /* SX1272/73 data sheet revision 2 (2014), page 19: RFS_L125, RFS_L250, RFS_L500, SF7 to SF12.
     */
    static const struct {
        uint32_t bandwidth_hz;
        int16_t dbm[SPREADING_MAX - SPREADING_MIN + 1];
    } rows[] = {{125000, {-124, -127, -130, -133, -135, -137}},
                {250000, {-122, -125, -128, -130, -132, -135}},
                {500000, {-116, -119, -122, -125, -128, -129}}};
    for (unsigned i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (rows[i].bandwidth_hz == bandwidth_hz && spreading_factor >= SPREADING_MIN &&
            spreading_factor <= SPREADING_MAX) {
            *out_sensitivity_dbm = rows[i].dbm[spreading_factor - SPREADING_MIN];
            return true;
        }
    }
    return false;
}

double rp_link_expected_loss_pct(double margin_db)
{
    return 50 * erfc(margin_db / (GROUND_SPREAD_DB * sqrt(2)));
}

double rp_link_near_ground_db(double distance_m, double freq_hz)
{
    double ground_db = GROUND_1KM_DB + 10 * GROUND_EXPONENT * log10(distance_m / 1000);
    double free_db = rp_link_free_space_db(distance_m, freq_hz);
    return ground_db > free_db ? ground_db : free_db;
}

double rp_link_ground_range_m(double budget_db)
{
    return 1000 * pow(10, (budget_db - GROUND_1KM_DB) / (10 * GROUND_EXPONENT));
}
