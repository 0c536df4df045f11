#include "clinical/air.h"

#include <math.h>
#include <stdio.h>

/* US Standard Atmosphere 1976: sea-level pressure hPa and temperature K, lapse rate K/m, exponent
 * g0 M / (R L), earth radius of the geopotential metre. */
#define SEA_HPA        1013.25
#define SEA_K          288.15
#define LAPSE_K_PER_M  0.0065
#define ISA_EXPONENT   5.255880
#define EARTH_RADIUS_M 6356766.0

/* West 1996: ln(pressure in mmHg) = A - B h - C h^2, h in km. */
#define WEST_A            6.63268
#define WEST_B            0.1112
#define WEST_C            0.00149

#define WATER_VAPOUR_MMHG 47.0 /* saturated at body temperature, standard physiology */

const char *rp_air_model_name(enum rp_air_model model)
{
    return model == RP_AIR_WEST ? "West 1996" : "ISA";
}

/* Written so that NaN is refused. */
static bool within(double value, double low, double high)
{
    return value >= low && value <= high;
}

static double isa_pressure_hpa(double altitude_m)
{
    double geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m);
    return SEA_HPA * pow(1.0 - LAPSE_K_PER_M * geopotential_m / SEA_K, ISA_EXPONENT);
}

static double isa_altitude_m(double pressure_hpa)
{
    double geopotential_m =
        SEA_K / LAPSE_K_PER_M * (1.0 - pow(pressure_hpa / SEA_HPA, 1.0 / ISA_EXPONENT));
    return EARTH_RADIUS_M * geopotential_m / (EARTH_RADIUS_M - geopotential_m);
}

static double west_pressure_hpa(double altitude_m)
{
    double h_km = altitude_m / 1000.0;
    return exp(WEST_A - WEST_B * h_km - WEST_C * h_km * h_km) * RP_AIR_HPA_PER_MMHG;
}

/* The rising root of the quadratic. Its root term is real below 6200 mmHg. */
static double west_altitude_m(double pressure_hpa)
{
    double rest = WEST_A - log(pressure_hpa / RP_AIR_HPA_PER_MMHG);
    return (-WEST_B + sqrt(WEST_B * WEST_B + 4.0 * WEST_C * rest)) / (2.0 * WEST_C) * 1000.0;
}

int rp_air_pressure(enum rp_air_model model, double altitude_m, double *out_hpa)
{
    if (!within(altitude_m, RP_AIR_ALTITUDE_MIN_M, RP_AIR_ALTITUDE_MAX_M)) {
        return RP_E_INVALID;
    }
    *out_hpa = model == RP_AIR_WEST ? west_pressure_hpa(altitude_m) : isa_pressure_hpa(altitude_m);
    return 0;
}

int rp_air_altitude(enum rp_air_model model, double pressure_hpa, double *out_altitude_m)
{
    if (!within(pressure_hpa, RP_AIR_PRESSURE_MIN_HPA, RP_AIR_PRESSURE_MAX_HPA)) {
        return RP_E_INVALID;
    }
    *out_altitude_m =
        model == RP_AIR_WEST ? west_altitude_m(pressure_hpa) : isa_altitude_m(pressure_hpa);
    return 0;
}

double rp_air_standard_temp_c(double altitude_m)
{
    return 15.0 - LAPSE_K_PER_M * EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m);
}

double rp_air_inspired_o2_mmhg(double o2_fraction, double pressure_hpa)
{
    return o2_fraction * (pressure_hpa / RP_AIR_HPA_PER_MMHG - WATER_VAPOUR_MMHG);
}

int rp_air_outside(const struct rp_air_site *site, enum rp_air_model model, double *out_hpa)
{
    if (!site->has_station) {
        return rp_air_pressure(model, site->altitude_m, out_hpa);
    }
    if (!within(site->station_hpa, RP_AIR_PRESSURE_MIN_HPA, 1080.0)) {
        return RP_E_INVALID;
    }
    *out_hpa = site->station_hpa;
    return 0;
}

int rp_air_in_chamber(const struct rp_air_site *site, enum rp_air_model model, double gauge_hpa,
                      struct rp_air_chamber *out_chamber)
{
    struct rp_air_chamber c = {0};
    int code =
        within(gauge_hpa, 0.0, 300.0) ? rp_air_outside(site, model, &c.outside_hpa) : RP_E_INVALID;
    if (code != 0) {
        return code;
    }
    c.inside_hpa = c.outside_hpa + gauge_hpa;
    rp_air_altitude(model, c.inside_hpa, &c.equivalent_m); /* 200..1380 hPa are within bounds */
    /* A measured pressure has its own height in each model: the descent is between two of them. */
    double outside_m = site->altitude_m;
    if (site->has_station) {
        rp_air_altitude(model, c.outside_hpa, &outside_m); /* within bounds: see rp_air_outside */
    }
    c.descent_m = outside_m - c.equivalent_m;
    c.inspired_o2_outside_mmhg = rp_air_inspired_o2_mmhg(RP_AIR_O2_FRACTION, c.outside_hpa);
    c.inspired_o2_inside_mmhg = rp_air_inspired_o2_mmhg(RP_AIR_O2_FRACTION, c.inside_hpa);
    *out_chamber = c;
    return 0;
}

int rp_air_round_50m(double altitude_m)
{
    return (int)lround(altitude_m / 50.0) * 50;
}

void rp_air_show_altitude(enum rp_air_model model, double altitude_m, char *out_text, size_t cap)
{
    snprintf(out_text, cap, "about %d m (%s)", rp_air_round_50m(altitude_m),
             rp_air_model_name(model));
}

int rp_air_check_station(double station_hpa, double altitude_m, bool sure,
                         struct rp_problem *out_problem)
{
    double lower_hpa = 0.0, isa_hpa = 0.0, west_hpa = 0.0;
    if (rp_air_pressure(RP_AIR_ISA, altitude_m, &isa_hpa) != 0) {
        return rp_problem_set(out_problem, RP_E_INVALID, "altitude",
                              "altitude is outside -500 to 10000 m (example: altitude 5480m)");
    }
    rp_air_pressure(RP_AIR_WEST, altitude_m, &west_hpa);
    rp_air_pressure(RP_AIR_ISA, fmax(altitude_m - 300.0, RP_AIR_ALTITUDE_MIN_M), &lower_hpa);
    if (!within(station_hpa, RP_AIR_PRESSURE_MIN_HPA, 1080.0)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "station-pressure",
                              "station-pressure is outside 200-1080 hPa "
                              "(example: station-pressure %.0fhPa)",
                              west_hpa);
    }
    if (station_hpa > lower_hpa + 80.0) {
        return rp_problem_set(out_problem, RP_E_INVALID, "station-pressure",
                              "station-pressure %.1f hPa is too high for %.0f m: it looks reduced "
                              "to sea level; enter the pressure at this place (example: "
                              "station-pressure %.0fhPa)",
                              station_hpa, altitude_m, west_hpa);
    }
    double low_hpa = fmin(isa_hpa, west_hpa) - 40.0, high_hpa = fmax(isa_hpa, west_hpa) + 40.0;
    if (!sure && !within(station_hpa, low_hpa, high_hpa)) {
        return rp_problem_set(out_problem, RP_E_CONFIRM, "station-pressure",
                              "station-pressure %.1f hPa is unlikely at %.0f m: outside %.1f-%.1f; "
                              "check and enter again with --sure",
                              station_hpa, altitude_m, low_hpa, high_hpa);
    }
    return 0;
}

int rp_air_altimeter_error(double inside_hpa, double altimeter_m, double *out_error_m)
{
    double isa_m;
    int code = rp_air_altitude(RP_AIR_ISA, inside_hpa, &isa_m);
    if (code == 0) {
        *out_error_m = altimeter_m - isa_m;
    }
    return code;
}

double rp_air_density_altitude_m(double pressure_altitude_m, double temp_c)
{
    double standard_c = 15.0 - LAPSE_K_PER_M * pressure_altitude_m;
    return pressure_altitude_m + 36.6 * (temp_c - standard_c);
}

int rp_air_wind_chill(double temp_c, double wind_kmh, double *out_chill_c)
{
    if (!within(temp_c, -100.0, 10.0) || !within(wind_kmh, 4.8, 300.0)) {
        return RP_E_INVALID;
    }
    double v = pow(wind_kmh, 0.16);
    *out_chill_c = 13.12 + 0.6215 * temp_c - 11.37 * v + 0.3965 * temp_c * v;
    return 0;
}
