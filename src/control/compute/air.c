/* Pressure, the chamber, its air, and the weather outside. */
#include <math.h>
#include <stdio.h>

#include "clinical/air.h"
#include "clinical/pump.h"
#include "control/compute/compute.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* The altitude given, or this station's. */
static int need_altitude(struct rp_show *show, struct rp_compute_word *word, const char *example)
{
    struct rp_altitude altitude;
    struct rp_position position;
    if (!word->given && rp_compute_home(show, &altitude, &position) && altitude.present) {
        word->value = altitude.metres;
        word->given = true;
    }
    return rp_compute_need(show, word, example);
}

static void add_both(struct rp_show *show, const char *key, double isa, double west)
{
    json_object_set_new(show->data, key, json_pack("{s:f,s:f}", "isa", isa, "west_1996", west));
}

static int check_station(struct rp_show *show, const struct rp_compute_word *station,
                         int32_t altitude_m)
{
    return station->given ? rp_air_check_station(station->value / 10.0, altitude_m,
                                                 show->entry->sure, show->entry->problem)
                          : RP_OK;
}

static void show_altimeter(struct rp_show *show, double altimeter_m, const double inside_hpa[2])
{
    double apart_m = 0, least_m = 1e9;
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        if (rp_air_altimeter_error(inside_hpa[model], altimeter_m, &apart_m) == 0 &&
            fabs(apart_m) < fabs(least_m)) {
            least_m = apart_m;
        }
    }
    rp_text_add(show->text, "altimeter inside %.0f m: %+.0f m from the gauge%s\n", altimeter_m,
                least_m,
                fabs(least_m) > RP_AIR_ALTIMETER_LIMIT_M
                    ? " - GAUGE AND ALTIMETER DISAGREE by more than 150 m: one is wrong"
                    : ", they agree (within 150 m)");
    json_object_set_new(show->data, "altimeter_error_m", json_real(least_m));
}

int rp_compute_chamber(struct rp_show *show)
{
    static const char example[] = "compute chamber 5480m 2psi";
    struct rp_compute_word words[] = {
        {"altitude", RP_RANGE_ALTITUDE, true, "altitude 5480m", 0, false},
        {"gauge", RP_RANGE_GAUGE, true, "gauge 2psi", 0, false},
        {"station-pressure", RP_RANGE_STATION_PRESSURE, false, "station-pressure 548hPa", 0, false},
        {"altimeter", RP_RANGE_ALTIMETER, false, "altimeter 3650m", 0, false},
    };
    unsigned flags;
    int code = rp_compute_read(show, words, COUNT(words), NULL, &flags, example);
    code = code == RP_OK ? need_altitude(show, &words[0], example) : code;
    code = code == RP_OK ? rp_compute_need(show, &words[1], example) : code;
    code = code == RP_OK ? check_station(show, &words[2], words[0].value) : code;
    if (code < 0) {
        return code;
    }
    struct rp_air_site site = {words[0].value, words[2].given, words[2].value / 10.0};
    struct rp_air_chamber air[RP_AIR_MODELS];
    double gauge_hpa = words[1].value / 10.0, inside_hpa[RP_AIR_MODELS];
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        code = rp_air_in_chamber(&site, (enum rp_air_model)model, gauge_hpa, &air[model]);
        if (code < 0) {
            return rp_problem_set(show->entry->problem, code, "altitude",
                                  "no model holds for these values (example: %s)", example);
        }
        inside_hpa[model] = air[model].inside_hpa;
    }
    rp_text_add(show->text, "outside %s; gauge %.1f psi (%.0f hPa, %.0f mmHg)\n",
                site.has_station ? "as measured" : "by model, not measured", gauge_hpa / 68.94757,
                gauge_hpa, gauge_hpa / RP_AIR_HPA_PER_MMHG);
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        char shown[40];
        rp_air_show_altitude((enum rp_air_model)model, air[model].equivalent_m, shown,
                             sizeof shown);
        rp_text_add(show->text,
                    "like %s, %d m lower; inside %.0f hPa; inspired oxygen %.0f, outside %.0f "
                    "mmHg\n",
                    shown, rp_air_round_50m(air[model].descent_m), air[model].inside_hpa,
                    air[model].inspired_o2_inside_mmhg, air[model].inspired_o2_outside_mmhg);
    }
    add_both(show, "equivalent_m", air[RP_AIR_ISA].equivalent_m, air[RP_AIR_WEST].equivalent_m);
    add_both(show, "inspired_o2_mmhg", air[RP_AIR_ISA].inspired_o2_inside_mmhg,
             air[RP_AIR_WEST].inspired_o2_inside_mmhg);
    if (words[3].given) {
        show_altimeter(show, words[3].value, inside_hpa);
    }
    rp_text_add(show->text, "used-up oxygen makes it worse: see compute pump. A chamber is never a "
                            "substitute for descent\n");
    return RP_OK;
}

int rp_compute_pressure(struct rp_show *show)
{
    static const char example[] = "compute pressure 5480m, or compute pressure 527hPa";
    struct rp_compute_word words[] = {
        {"altitude", RP_RANGE_ALTITUDE, true, "altitude 5480m", 0, false},
        {"station-pressure", RP_RANGE_STATION_PRESSURE, true, "station-pressure 548hPa", 0, false},
    };
    unsigned flags;
    int code = rp_compute_read(show, words, COUNT(words), NULL, &flags, example);
    if (code == RP_OK && !words[1].given) {
        code = need_altitude(show, &words[0], example);
    }
    code = code == RP_OK && words[0].given ? check_station(show, &words[1], words[0].value) : code;
    for (int model = 0; code == RP_OK && model < RP_AIR_MODELS; model++) {
        double hpa = words[1].value / 10.0, metres = words[0].value;
        char shown[40];
        if (words[0].given) {
            code = rp_air_pressure((enum rp_air_model)model, metres, &hpa);
            rp_text_add(show->text, "%d m: %.1f hPa, %.1f mmHg, inspired oxygen %.1f mmHg (%s)\n",
                        words[0].value, hpa, hpa / RP_AIR_HPA_PER_MMHG,
                        rp_air_inspired_o2_mmhg(RP_AIR_O2_FRACTION, hpa),
                        rp_air_model_name((enum rp_air_model)model));
        }
        if (code == RP_OK && words[1].given) {
            hpa = words[1].value / 10.0;
            code = rp_air_altitude((enum rp_air_model)model, hpa, &metres);
            rp_air_show_altitude((enum rp_air_model)model, metres, shown, sizeof shown);
            rp_text_add(show->text, "%.1f hPa measured: %s; inspired oxygen %.1f mmHg\n", hpa,
                        shown, rp_air_inspired_o2_mmhg(RP_AIR_O2_FRACTION, hpa));
        }
        json_object_set_new(show->data, model == RP_AIR_ISA ? "isa" : "west_1996",
                            json_pack("{s:f,s:f}", "hpa", hpa, "altitude_m", metres));
    }
    return code;
}

enum { P_ALTITUDE, P_TEMP, P_GAUGE, P_VOLUME, P_STROKE, P_STROKES, P_STATION, P_STOPPED, P_COUNT };

/* One stroke every five seconds: common practice, no source. */
#define RULE_STROKES_PER_MIN 12.0
#define MMHG(hpa)            ((hpa) / RP_AIR_HPA_PER_MMHG)

static void show_air(struct rp_show *show, const char *what, const struct rp_pump_air *air,
                     double inside_hpa)
{
    rp_text_add(show->text, "%s: CO2 %.2f %%%s, oxygen %.2f %%, inspired oxygen %.1f mmHg\n", what,
                100 * air->co2_fraction, air->co2_fraction > RP_PUMP_CO2_AIM ? " (above 1 %)" : "",
                100 * air->o2_fraction, rp_air_inspired_o2_mmhg(air->o2_fraction, inside_hpa));
}

static void show_needed(struct rp_show *show, const struct rp_pump *pump, const char *who)
{
    double flow = 0;
    int32_t strokes = 0;
    rp_pump_needed(pump, RP_PUMP_CO2_AIM, &flow, &strokes);
    rp_text_add(show->text,
                "%s: %.0f L/min of outside air, %d strokes of %.1f L a minute, hold CO2 at 1 %%\n",
                who, flow, strokes, pump->stroke_l);
    json_object_set_new(show->data, pump->co2_lpm > 0.3 ? "distress" : "rest",
                        json_pack("{s:f,s:i}", "flow_lpm", flow, "strokes_per_min", strokes));
}

/* What the trade's rule gives, and why it differs. */
static void show_rule(struct rp_show *show, const struct rp_pump *pump)
{
    double co2 = 0, o2 = 0, flow_lpm = 0, least_l;
    int32_t strokes = 0;
    rp_pump_needed(pump, RP_PUMP_CO2_AIM, &flow_lpm, &strokes);
    least_l = flow_lpm / RULE_STROKES_PER_MIN;
    rp_text_add(show->text,
                "practical rule: one stroke every 5 s, 12 a minute (common practice, no "
                "source)");
    if (rp_pump_steady(pump, RULE_STROKES_PER_MIN * pump->stroke_l, &co2, &o2) != 0) {
        rp_text_add(show->text, ": it would not bring the oxygen used\n");
        return;
    }
    rp_text_add(show->text, ": it settles at CO2 %.1f %%, oxygen %.1f %%\n", 100 * co2, 100 * o2);
    if (strokes > RULE_STROKES_PER_MIN) {
        rp_text_add(
            show->text,
            "  the need is %.1f times that: a stroke of %.1f L holds %.1f L of gas as at sea "
            "level and 0 C;\n"
            "  the thinner the air, the less. 12 a minute are enough from %.1f L a stroke\n",
            strokes / RULE_STROKES_PER_MIN, pump->stroke_l,
            rp_pump_standard_l(pump, pump->stroke_l), least_l);
    } else {
        rp_text_add(show->text, "  that is enough here with strokes of %.1f L\n", pump->stroke_l);
    }
    rp_text_add(show->text,
                "  the relief pressure (2 psi, common practice) changes how long filling "
                "takes, not this need\n");
    json_object_set_new(show->data, "rule",
                        json_pack("{s:f,s:f,s:f,s:f}", "strokes_per_min", RULE_STROKES_PER_MIN,
                                  "co2_fraction", co2, "o2_fraction", o2, "least_stroke_l",
                                  least_l));
}

static int show_course(struct rp_show *show, const struct rp_pump *pump,
                       const struct rp_compute_word *words, double inside_hpa)
{
    const double volume_l = words[P_VOLUME].value / 10.0, inside_c = 5; /* ours: a body warms it */
    double flow_lpm = words[P_STROKES].value * pump->stroke_l, washout_min = 0, fill_l = 0;
    int32_t fill_strokes = 0;
    struct rp_pump_air air = RP_PUMP_FRESH;
    char what[60];
    rp_pump_fill(pump, volume_l, inside_hpa - pump->outside_hpa, &fill_l, &fill_strokes);
    rp_text_add(show->text, "from full to this pressure: %.0f L, %d strokes\n", fill_l,
                fill_strokes);
    if (words[P_STROKES].given &&
        rp_pump_washout(pump, flow_lpm, volume_l, inside_hpa, inside_c, &washout_min) == 0) {
        rp_text_add(show->text, "time constant at %d strokes a minute: %.0f min\n",
                    words[P_STROKES].value, washout_min);
        rp_pump_after(pump, flow_lpm, volume_l, inside_hpa, inside_c, 30, &air);
        show_air(show, "after 30 min of that", &air, inside_hpa);
        rp_pump_after(pump, flow_lpm, volume_l, inside_hpa, inside_c, 600, &air);
        show_air(show, "settled", &air, inside_hpa);
    }
    double stopped_min = words[P_STOPPED].given ? words[P_STOPPED].value / 60.0 : 5;
    int code = rp_pump_after(pump, 0, volume_l, inside_hpa, inside_c, stopped_min, &air);
    snprintf(what, sizeof what, "%.0f min after a stop, pressure held", stopped_min);
    show_air(show, what, &air, inside_hpa);
    json_object_set_new(
        show->data, "after_stop",
        json_pack("{s:f,s:f}", "co2_fraction", air.co2_fraction, "o2_fraction", air.o2_fraction));
    return code;
}

int rp_compute_pump(struct rp_show *show)
{
    static const char example[] = "compute pump 5000m -15C gauge 2psi volume 500L stroke 2L";
    static const char *const flags_known[] = {"distress", NULL};
    struct rp_compute_word words[P_COUNT] = {
        [P_ALTITUDE] = {"altitude", RP_RANGE_ALTITUDE, true, "altitude 5000m", 0, false},
        [P_TEMP] = {"air-temp", RP_RANGE_AIR_TEMP, true, "air-temp -15C", 0, false},
        [P_GAUGE] = {"gauge", RP_RANGE_GAUGE, true, "gauge 2psi", 0, false},
        [P_VOLUME] = {"volume", RP_RANGE_BAG_VOLUME, false, "volume 500L", 0, false},
        [P_STROKE] = {"stroke", RP_RANGE_STROKE, false, "stroke 2L", 0, false},
        [P_STROKES] = {"strokes", RP_RANGE_STROKES, false, "strokes 12/min", 0, false},
        [P_STATION] = {"station-pressure", RP_RANGE_STATION_PRESSURE, false,
                       "station-pressure 548hPa", 0, false},
        [P_STOPPED] = {"stopped", RP_RANGE_STOPPED, false, "stopped 5min", 0, false},
    };
    unsigned flags;
    int code = rp_compute_read(show, words, P_COUNT, flags_known, &flags, example);
    code = code == RP_OK ? need_altitude(show, &words[P_ALTITUDE], example) : code;
    for (int i = P_TEMP; code == RP_OK && i <= P_STROKE; i++) {
        code = rp_compute_need(show, &words[i], example);
    }
    code = code == RP_OK ? check_station(show, &words[P_STATION], words[P_ALTITUDE].value) : code;
    if (code < 0) {
        return code;
    }
    struct rp_air_site site = {words[P_ALTITUDE].value, words[P_STATION].given,
                               words[P_STATION].value / 10.0};
    struct rp_pump pump = {.air_c = words[P_TEMP].value,
                           .co2_lpm = RP_PUMP_CO2_DISTRESS_LPM,
                           .o2_lpm = RP_PUMP_O2_DISTRESS_LPM,
                           .stroke_l = words[P_STROKE].value / 10.0};
    rp_air_outside(&site, RP_AIR_WEST, &pump.outside_hpa);
    double inside_hpa = pump.outside_hpa + words[P_GAUGE].value / 10.0;
    rp_text_add(show->text, "outside %.0f hPa (%s), %d C; estimates, resting values from memory\n",
                pump.outside_hpa, site.has_station ? "measured" : "West 1996", words[P_TEMP].value);
    show_needed(show, &pump, "in distress");
    if ((flags & 1u) == 0) {
        pump.co2_lpm = RP_PUMP_CO2_REST_LPM;
        pump.o2_lpm = RP_PUMP_O2_REST_LPM;
        show_needed(show, &pump, "at rest");
    }
    show_rule(show, &pump);
    return show_course(show, &pump, words, inside_hpa);
}

int rp_compute_weather(struct rp_show *show)
{
    static const char example[] = "compute weather 5000m -15C wind 40km/h";
    struct rp_compute_word words[] = {
        {"altitude", RP_RANGE_ALTITUDE, true, "altitude 5000m", 0, false},
        {"air-temp", RP_RANGE_AIR_TEMP, true, "air-temp -15C", 0, false},
        {"wind", RP_RANGE_WIND, true, "wind 40km/h", 0, false},
        {"station-pressure", RP_RANGE_STATION_PRESSURE, false, "station-pressure 548hPa", 0, false},
    };
    unsigned flags;
    int code = rp_compute_read(show, words, COUNT(words), NULL, &flags, example);
    code = code == RP_OK ? need_altitude(show, &words[0], example) : code;
    code = code == RP_OK ? rp_compute_need(show, &words[1], example) : code;
    code = code == RP_OK ? check_station(show, &words[3], words[0].value) : code;
    if (code < 0) {
        return code;
    }
    /* Pressure altitude: of the measured pressure, else the altitude itself. */
    double pressure_m = words[0].value, chill_c = 0;
    if (words[3].given) {
        rp_air_altitude(RP_AIR_ISA, words[3].value / 10.0, &pressure_m);
    }
    double density_m = rp_air_density_altitude_m(pressure_m, words[1].value);
    rp_text_add(show->text, "density altitude about %d m (%s)\n", rp_air_round_50m(density_m),
                words[3].given ? "pressure measured" : "pressure not measured: ISA");
    json_object_set_new(show->data, "density_altitude_m", json_real(density_m));
    if (words[2].given && rp_air_wind_chill(words[1].value, words[2].value, &chill_c) == 0) {
        rp_text_add(show->text, "wind chill %.0f C (index of 2001)\n", chill_c);
        json_object_set_new(show->data, "wind_chill_c", json_real(chill_c));
    }
    return RP_OK;
}
