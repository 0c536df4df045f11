/* Fresh air for a patient in a chamber: what a pump must bring so that breathed-out carbon dioxide
 * stays low. All estimates; the party measures its own pump and chamber. Clinical references 2.4:
 * formulas computed there, resting gas exchange from memory, the aim a design judgement. */
#ifndef RP_CLINICAL_PUMP_H
#define RP_CLINICAL_PUMP_H

#include <stdint.h>

/* Carbon dioxide breathed out and oxygen used, litres a minute at 0 C and 760 mmHg: at rest, and in
 * distress (from memory). */
#define RP_PUMP_CO2_REST_LPM     0.25
#define RP_PUMP_O2_REST_LPM      0.30
#define RP_PUMP_CO2_DISTRESS_LPM 0.35
#define RP_PUMP_O2_DISTRESS_LPM  0.42
/* Carbon dioxide in outside air, as a fraction. */
#define RP_PUMP_CO2_OUTSIDE 0.0004
/* The aim: at most 1 % (design judgement). Observed in chambers: above 1 % (Imray et al. 2001). */
#define RP_PUMP_CO2_AIM 0.01

struct rp_pump {
    double outside_hpa; /* station pressure, or a model's (air.h), 200..1080 */
    double air_c;       /* outside temperature, -70..50 */
    double co2_lpm;     /* carbon dioxide breathed out, standard litres a minute, 0.05..3 */
    double o2_lpm;      /* oxygen used, the same, 0.05..3 */
    double stroke_l;    /* litres of outside air a stroke brings, measured, 0.1..20 */
};

/* Every function returns RP_E_INVALID for values outside the bounds given. Flows are litres a
 * minute of outside air, 0.1..1000; fractions 0..1. */

/* The flow, and the strokes a minute rounded up, that hold carbon dioxide at `co2_limit`
 * (0.001..0.1): Qs = CO2 / (limit - outside), brought to outside pressure and temperature. */
int rp_pump_needed(const struct rp_pump *pump, double co2_limit, double *out_flow_lpm,
                   int32_t *out_strokes_per_min);
/* What `litres` of outside air (0..1000) are at 0 C and 760 mmHg; 0 for values outside the bounds.
 */
double rp_pump_standard_l(const struct rp_pump *pump, double litres);
/* Where the chamber settles at this flow: fraction of carbon dioxide (with that of outside air) and
 * of oxygen. RP_E_INVALID also when the flow is too small for the patient's oxygen. */
int rp_pump_steady(const struct rp_pump *pump, double flow_lpm, double *out_co2_fraction,
                   double *out_o2_fraction);
/* When pumping stops, the pressure held: rise of carbon dioxide and fall of oxygen, fractions a
 * minute, in a chamber of volume_l free litres (50..2000) at inside_hpa (200..1400), inside_c. */
int rp_pump_stopped(const struct rp_pump *pump, double volume_l, double inside_hpa, double inside_c,
                    double *out_co2_per_min, double *out_o2_per_min);
/* Minutes in which 63 % of a change is washed out at this flow. */
int rp_pump_washout(const struct rp_pump *pump, double flow_lpm, double volume_l, double inside_hpa,
                    double inside_c, double *out_minutes);
/* What the chamber's air is like after `minutes` (0..1440) of that flow (0: pumping stopped, the
 * pressure held), from given fractions (0..1) on: the same balance, solved for time. The chamber
 * holds volume_l free litres at inside_hpa, inside_c. Oxygen never falls below 0. */
struct rp_pump_air {
    double co2_fraction, o2_fraction;
};
int rp_pump_after(const struct rp_pump *pump, double flow_lpm, double volume_l, double inside_hpa,
                  double inside_c, double minutes, struct rp_pump_air *air);
/* The air of a chamber just closed: outside air. */
#define RP_PUMP_FRESH ((struct rp_pump_air){RP_PUMP_CO2_OUTSIDE, 0.2093})
/* Litres of outside air, and strokes rounded up, from full and unpressurised to gauge_hpa
 * (0..300). */
int rp_pump_fill(const struct rp_pump *pump, double volume_l, double gauge_hpa, double *out_air_l,
                 int32_t *out_strokes);

#endif
