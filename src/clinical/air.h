/* Air pressure and altitude, outside and in a chamber. Estimates: every function names its model,
 * and what is shown to a person is rounded to 50 m with the model's name. A measured station
 * pressure is always better than either model.
 *
 * Sources: US Standard Atmosphere 1976 / ISO 2533:1975 (constants as read in a university copy and
 * from memory); West, J Appl Physiol 81:1850 (1996), equation as coded in a public physiology model
 * that cites it. West fits high mountains within about 30 degrees of the equator all year and to
 * about 60 degrees in summer (range from memory); the standard atmosphere under-predicts Himalayan
 * pressure (West et al., J Appl Physiol 54:1188, 1983). */
#ifndef RP_CLINICAL_AIR_H
#define RP_CLINICAL_AIR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/problem.h"

enum rp_air_model { RP_AIR_ISA, RP_AIR_WEST, RP_AIR_MODELS };

/* Units: 1 mmHg = 1.333224 hPa (clinical references 2.1, from memory). */
#define RP_AIR_HPA_PER_MMHG 1.333224

/* Bounds of every function below; outside them they return RP_E_INVALID. */
#define RP_AIR_ALTITUDE_MIN_M   (-500.0)
#define RP_AIR_ALTITUDE_MAX_M   10000.0
#define RP_AIR_PRESSURE_MIN_HPA 200.0
#define RP_AIR_PRESSURE_MAX_HPA 1400.0 /* sea level and the largest gauge pressure */

/* "ISA" or "West 1996". */
const char *rp_air_model_name(enum rp_air_model model);
/* Pressure in hPa at a geometric altitude in metres above mean sea level. */
int rp_air_pressure(enum rp_air_model model, double altitude_m, double *out_hpa);
/* The altitude, metres, at which the model has that pressure. */
int rp_air_altitude(enum rp_air_model model, double pressure_hpa, double *out_altitude_m);
/* Standard air temperature in degrees Celsius at an altitude in metres. */
double rp_air_standard_temp_c(double altitude_m);
/* Pressure of inspired oxygen, mmHg: fraction * (pressure - 47 mmHg of water vapour); the fraction
 * of outside air is RP_AIR_O2_FRACTION. Standard physiology, from memory. */
#define RP_AIR_O2_FRACTION 0.2093
double rp_air_inspired_o2_mmhg(double o2_fraction, double pressure_hpa);

/* Where a chamber stands. */
struct rp_air_site {
    double altitude_m; /* geometric, above mean sea level */
    bool has_station;  /* a pressure was measured here, not reduced to sea level */
    double station_hpa;
};
/* Outside pressure: the measured one if there is one, else the model's. */
int rp_air_outside(const struct rp_air_site *site, enum rp_air_model model, double *out_hpa);

struct rp_air_chamber {
    double outside_hpa, inside_hpa;
    double equivalent_m; /* the altitude the model gives the inside pressure */
    double descent_m;    /* altitude of the outside pressure in the same model, minus that */
    double inspired_o2_outside_mmhg, inspired_o2_inside_mmhg;
};
/* A chamber at gauge pressure gauge_hpa (0..300) on that site. The altitude is that of pressure
 * alone: used-up oxygen makes it worse (pump.h). */
int rp_air_in_chamber(const struct rp_air_site *site, enum rp_air_model model, double gauge_hpa,
                      struct rp_air_chamber *out_chamber);

/* To the nearest 50 m, halves away from zero. */
int rp_air_round_50m(double altitude_m);
/* "about 3250 m (ISA)". Writes at most cap bytes with the NUL. */
void rp_air_show_altitude(enum rp_air_model model, double altitude_m, char *out_text, size_t cap);

/* Checks a pressure entered as station pressure. RP_E_INVALID when it is so high for the altitude
 * that it must be reduced to sea level (above ISA of 300 m lower, plus 80 hPa; design judgement,
 * clinical references 2.1) or outside 200-1080 hPa; RP_E_CONFIRM, unless `sure`, when it is more
 * than 40 hPa outside what the two models give (3.5). */
int rp_air_check_station(double station_hpa, double altitude_m, bool sure,
                         struct rp_problem *out_problem);

/* An ordinary altimeter inside the chamber reads the ISA altitude of the inside pressure, so it
 * checks the gauge: reading minus that altitude, metres. Beyond +-150 m one of the two is wrong
 * (design judgement, clinical references 1.4). */
#define RP_AIR_ALTIMETER_LIMIT_M 150.0
int rp_air_altimeter_error(double inside_hpa, double altimeter_m, double *out_error_m);

/* Density altitude, metres, of a pressure altitude and an outside temperature: PA + 36.6 m per
 * degree above standard (formula from memory). */
double rp_air_density_altitude_m(double pressure_altitude_m, double temp_c);
/* Wind chill in degrees Celsius (North American index of 2001, from memory). RP_E_INVALID outside
 * its range: temperature at most 10 C, wind at least 4.8 km/h. */
int rp_air_wind_chill(double temp_c, double wind_kmh, double *out_chill_c);

#endif
