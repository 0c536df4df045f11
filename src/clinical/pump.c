#include "clinical/pump.h"

#include <math.h>
#include <stdbool.h>

#include "clinical/air.h"
#include "ridgepost/error.h"

/* Standard conditions: 0 C, 760 mmHg = 1013.25 hPa. */
#define STANDARD_K   273.15
#define STANDARD_HPA 1013.25

static bool within(double value, double low, double high)
{
    return value >= low && value <= high;
}

static bool pump_valid(const struct rp_pump *p)
{
    return within(p->outside_hpa, 200, 1080) && within(p->air_c, -70, 50) &&
           within(p->co2_lpm, 0.05, 3) && within(p->o2_lpm, 0.05, 3) &&
           within(p->stroke_l, 0.1, 20);
}

/* Standard litres in a litre at that pressure and temperature. */
static double standard_litres(double hpa, double temp_c)
{
    return hpa / STANDARD_HPA * STANDARD_K / (STANDARD_K + temp_c);
}

/* Standard litres in the chamber, or negative for bad values. */
static double content_l(double volume_l, double inside_hpa, double inside_c)
{
    bool valid =
        within(volume_l, 50, 2000) && within(inside_hpa, 200, 1400) && within(inside_c, -70, 50);
    return valid ? volume_l * standard_litres(inside_hpa, inside_c) : -1.0;
}

int rp_pump_needed(const struct rp_pump *pump, double co2_limit, double *out_flow_lpm,
                   int32_t *out_strokes_per_min)
{
    if (!pump_valid(pump) || !within(co2_limit, 0.001, 0.1)) {
        return RP_E_INVALID;
    }
    double standard_lpm = pump->co2_lpm / (co2_limit - RP_PUMP_CO2_OUTSIDE);
    double flow_lpm = standard_lpm / standard_litres(pump->outside_hpa, pump->air_c);
    *out_flow_lpm = flow_lpm;
    *out_strokes_per_min = (int32_t)ceil(flow_lpm / pump->stroke_l);
    return 0;
}

double rp_pump_standard_l(const struct rp_pump *pump, double litres)
{
    bool valid = pump_valid(pump) && within(litres, 0, 1000);
    return valid ? litres * standard_litres(pump->outside_hpa, pump->air_c) : 0;
}

int rp_pump_steady(const struct rp_pump *pump, double flow_lpm, double *out_co2_fraction,
                   double *out_o2_fraction)
{
    if (!pump_valid(pump) || !within(flow_lpm, 0.1, 1000)) {
        return RP_E_INVALID;
    }
    double standard_lpm = flow_lpm * standard_litres(pump->outside_hpa, pump->air_c);
    double co2 = RP_PUMP_CO2_OUTSIDE + pump->co2_lpm / standard_lpm;
    double o2 = RP_AIR_O2_FRACTION - pump->o2_lpm / standard_lpm;
    if (co2 > 1.0 || o2 < 0.0) {
        return RP_E_INVALID;
    }
    *out_co2_fraction = co2;
    *out_o2_fraction = o2;
    return 0;
}

int rp_pump_stopped(const struct rp_pump *pump, double volume_l, double inside_hpa, double inside_c,
                    double *out_co2_per_min, double *out_o2_per_min)
{
    double content = content_l(volume_l, inside_hpa, inside_c);
    if (!pump_valid(pump) || content < 0) {
        return RP_E_INVALID;
    }
    *out_co2_per_min = pump->co2_lpm / content;
    *out_o2_per_min = pump->o2_lpm / content;
    return 0;
}

int rp_pump_washout(const struct rp_pump *pump, double flow_lpm, double volume_l, double inside_hpa,
                    double inside_c, double *out_minutes)
{
    double content = content_l(volume_l, inside_hpa, inside_c);
    if (!pump_valid(pump) || content < 0 || !within(flow_lpm, 0.1, 1000)) {
        return RP_E_INVALID;
    }
    *out_minutes = content / (flow_lpm * standard_litres(pump->outside_hpa, pump->air_c));
    return 0;
}

int rp_pump_after(const struct rp_pump *pump, double flow_lpm, double volume_l, double inside_hpa,
                  double inside_c, double minutes, struct rp_pump_air *air)
{
    double content = content_l(volume_l, inside_hpa, inside_c);
    if (!pump_valid(pump) || content < 0 || !within(flow_lpm, 0, 1000) ||
        !within(minutes, 0, 1440) || !within(air->co2_fraction, 0, 1) ||
        !within(air->o2_fraction, 0, 1)) {
        return RP_E_INVALID;
    }
    /* d(co2)/dt = (made - (co2 - outside) flow) / content; without a flow it only rises. */
    double standard_lpm = flow_lpm * standard_litres(pump->outside_hpa, pump->air_c);
    double part = standard_lpm / content * minutes; /* volumes exchanged */
    double left = exp(-part);
    double gained_min = part > 1e-9 ? minutes * (1 - left) / part : minutes;
    double co2 = RP_PUMP_CO2_OUTSIDE + (air->co2_fraction - RP_PUMP_CO2_OUTSIDE) * left +
                 pump->co2_lpm / content * gained_min;
    double o2 = RP_AIR_O2_FRACTION + (air->o2_fraction - RP_AIR_O2_FRACTION) * left -
                pump->o2_lpm / content * gained_min;
    air->co2_fraction = fmin(co2, 1.0);
    air->o2_fraction = fmax(o2, 0.0);
    return 0;
}

int rp_pump_fill(const struct rp_pump *pump, double volume_l, double gauge_hpa, double *out_air_l,
                 int32_t *out_strokes)
{
    if (!pump_valid(pump) || !within(volume_l, 50, 2000) || !within(gauge_hpa, 0, 300)) {
        return RP_E_INVALID;
    }
    double air_l = volume_l * gauge_hpa / pump->outside_hpa;
    *out_air_l = air_l;
    *out_strokes = (int32_t)ceil(air_l / pump->stroke_l);
    return 0;
}
