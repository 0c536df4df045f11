/* The second half of the table: oxygen, scores, units, the treatment clock, places and daylight. */
#include <stdio.h>
#include <string.h>

#include "clinical/news2.h"
#include "clinical/oxygen.h"
#include "clinical/quantity.h"
#include "clinical/score.h"
#include "clinical/score/cold.h"
#include "clinical/sky/daylight.h"
#include "geo/geo.h"
#include "incident/watch/plan.h"
#include "numbers.h"

void numbers_oxygen_rows(void)
{
    static const int32_t flows_dlpm[] = {10, 20, 40, 60};
    static const struct {
        int32_t water_dl, bar, usable_l, minutes[4];
    } rows[] = {{20, 150, 280, {280, 140, 70, 47}},     {20, 200, 380, {380, 190, 95, 63}},
                {30, 200, 570, {570, 285, 142, 95}},    {40, 230, 880, {880, 440, 220, 147}},
                {47, 137, 597, {597, 298, 149, 99}},    {40, 300, 1160, {1160, 580, 290, 193}},
                {100, 200, 1900, {1900, 950, 475, 317}}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct rp_cylinder one = {rows[i].water_dl, rows[i].bar};
        int32_t usable_dl = 0, lasts_s = 0;
        char name[60];
        rp_oxygen_usable(&one, 1, RP_OXYGEN_RESERVE_BAR, &usable_dl);
        snprintf(name, sizeof name, "%.1f L at %d bar, L usable", rows[i].water_dl / 10.0,
                 rows[i].bar);
        numbers_row(name, "clinical references 2.5 (C)", rows[i].usable_l, usable_dl / 10.0, 0.5,
                    0);
        for (size_t f = 0; f < 4; f++) {
            rp_oxygen_endurance(usable_dl, flows_dlpm[f], &lasts_s);
            snprintf(name, sizeof name, "the same at %d L/min, min", flows_dlpm[f] / 10);
            numbers_row(name, "clinical references 2.5 (C)", rows[i].minutes[f], lasts_s / 60.0,
                        1.0, 0);
        }
    }
    struct rp_cylinder two[] = {{40, 210}, {40, 160}};
    int32_t usable_dl = 0, lasts_s = 0, flow_dlpm = 0, bar = 0;
    rp_oxygen_usable(two, 2, RP_OXYGEN_RESERVE_BAR, &usable_dl);
    rp_oxygen_endurance(usable_dl, 30, &lasts_s);
    rp_oxygen_flow_until(usable_dl, 9 * 3600, &flow_dlpm);
    rp_oxygen_at_temperature(200, 150, -150, &bar);
    numbers_row("4 L at 210 and 160 bar, L usable", "clinical references 2.5 (C)", 1400,
                usable_dl / 10.0, 0.05, 0);
    numbers_row("the same at 3 L/min, min", "clinical references 2.5 (C)", 466, lasts_s / 60, 0.5,
                0);
    numbers_row("flow that lasts 9 h, L/min", "clinical references 2.5 (C)", 2.5, flow_dlpm / 10.0,
                0.01, 1);
    numbers_row("200 bar of +15 C at -15 C, bar", "clinical references 2.5 (C)", 179, bar, 0.5, 0);
}

static int part_score(enum rp_news2_part part, int32_t value_in)
{
    struct rp_news2_input input = {.on_oxygen = RP_TRUTH_NO};
    struct rp_reading *const readings[] = {[RP_NEWS2_RESP] = &input.resp_rpm,
                                           [RP_NEWS2_SPO2] = &input.spo2_pct,
                                           [RP_NEWS2_SYSTOLIC] = &input.systolic_mmhg,
                                           [RP_NEWS2_PULSE] = &input.pulse_bpm,
                                           [RP_NEWS2_TEMP] = &input.temp_dc};
    struct rp_news2 news;
    *readings[part] = (struct rp_reading){true, value_in};
    rp_news2_score(&input, &news);
    return news.parts[part].value;
}

/* Where the score of a part changes, from low to high: the highest value before each step. */
void numbers_news2_rows(void)
{
    static const struct {
        enum rp_news2_part part;
        int32_t most, edges[5];
    } rows[] = {{RP_NEWS2_RESP, 60, {8, 11, 20, 24}},
                {RP_NEWS2_SPO2, 100, {91, 93, 95}},
                {RP_NEWS2_SYSTOLIC, 300, {90, 100, 110, 219}},
                {RP_NEWS2_PULSE, 250, {40, 50, 90, 110, 130}},
                {RP_NEWS2_TEMP, 450, {350, 360, 380, 390}}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        size_t found = 0;
        for (int32_t v = 0; v < rows[i].most && found < 5; v++) {
            if (part_score(rows[i].part, v) != part_score(rows[i].part, v + 1)) {
                char name[60];
                snprintf(name, sizeof name, "NEWS2 %s, last before step %zu",
                         rp_news2_part_word(rows[i].part), found + 1);
                numbers_row(name, "RCP 2017, chart 1", rows[i].edges[found], v, 0.5, 0);
                found++;
            }
        }
        for (; found < 5 && rows[i].edges[found] != 0; found++) {
            numbers_row("NEWS2: a step of the chart that is not there", "RCP 2017, chart 1",
                        rows[i].edges[found], 0, 0.5, 0);
        }
    }
    struct rp_news2_input healthy = {.resp_rpm = {true, 16},
                                     .spo2_pct = {true, 80},
                                     .systolic_mmhg = {true, 120},
                                     .pulse_bpm = {true, 80},
                                     .temp_dc = {true, 370},
                                     .acvpu = {true, 0},
                                     .on_oxygen = RP_TRUTH_NO};
    struct rp_news2 news;
    rp_news2_score(&healthy, &news);
    numbers_row("NEWS2 of a healthy climber, SpO2 80 %", "RCP 2017, chart 1", 3,
                news.with_spo2.score, 0.5, 0);
    numbers_row("the same without SpO2", "ours", 0, news.without_spo2.score, 0.5, 0);
    struct rp_news2_input worst = {.resp_rpm = {true, 30},
                                   .spo2_pct = {true, 60},
                                   .systolic_mmhg = {true, 70},
                                   .pulse_bpm = {true, 140},
                                   .temp_dc = {true, 340},
                                   .acvpu = {true, 4},
                                   .on_oxygen = RP_TRUTH_YES};
    rp_news2_score(&worst, &news);
    numbers_row("NEWS2, highest total", "RCP 2017, chart 1", 20, news.with_spo2.score, 0.5, 0);
}

void numbers_score_rows(void)
{
    static const int32_t grades[] = {3, 6, 10}, core_dc[] = {350, 319, 279, 239};
    for (int grade = RP_LLS_MILD; grade <= RP_LLS_SEVERE; grade++) {
        for (int total = 1; total <= 12; total++) {
            int left = total - 1;
            int32_t items[4] = {1, 0, 0, 0}; /* with headache */
            for (int i = 0; i < 4; i++) {
                int more = left < 3 - items[i] ? left : 3 - items[i];
                items[i] += more;
                left -= more;
            }
            struct rp_lls lls = {
                {true, items[0]}, {true, items[1]}, {true, items[2]}, {true, items[3]}};
            struct rp_lls_result result;
            rp_lls_score(&lls, &result);
            if ((int)result.grade == grade) {
                char name[60];
                snprintf(name, sizeof name, "Lake Louise 2018, least total of grade %d", grade);
                numbers_row(name, "Roach 2018", grades[grade - 1], total, 0.5, 0);
                break;
            }
        }
    }
    for (int stage = 1; stage <= 4; stage++) {
        struct rp_cold_input input = {.core_dc = {true, core_dc[stage - 1]}};
        struct rp_cold cold;
        char name[60];
        rp_cold_stage(&input, &cold);
        snprintf(name, sizeof name, "Swiss stage at %.1f C", core_dc[stage - 1] / 10.0);
        numbers_row(name, "SJTREM 27 (2019), table 1", stage, cold.by_core.value, 0.5, 0);
    }
    int32_t total = 0;
    rp_gcs_total(1, 1, 1, &total);
    numbers_row("Glasgow Coma Scale, lowest", "scale (M)", 3, total, 0.5, 0);
    rp_gcs_total(4, 5, 6, &total);
    numbers_row("Glasgow Coma Scale, highest", "scale (M)", 15, total, 0.5, 0);
    static const struct {
        int32_t altitude_m;
        const char *source;
        double mean_pct, tolerance;
    } means[] = {{3500, "trek cohort 2021, group means", 89.0, 1.0},
                 {4260, "Wagner 2012, measured", 84.4, 2.0},
                 {5005, "Imray 2001, measured", 79.5, 2.0},
                 {5050, "J Appl Physiol 124:930, measured", 82, 2.0}};
    for (size_t i = 0; i < COUNT(means); i++) {
        struct rp_spo2_band band;
        rp_spo2_band_at(means[i].altitude_m, &band);
        numbers_at("mean SpO2 of the band, %", means[i].altitude_m, "m", means[i].source,
                   means[i].mean_pct, band.mean_tenths / 10.0, means[i].tolerance, 1);
    }
}

/* What is typed, in the stored unit. Half a stored unit is the rounding. */
void numbers_unit_rows(void)
{
    static const struct {
        const char *text;
        enum rp_dimension dimension;
        double stored, half;
    } rows[] = {{"2psi", RP_DIM_PRESSURE, 1378.9514, 0.5},
                {"138hPa", RP_DIM_PRESSURE, 1380, 0},
                {"103.4mmHg", RP_DIM_PRESSURE, 1378.554, 0.5},
                {"13.8kPa", RP_DIM_PRESSURE, 1380, 0},
                {"760mmHg", RP_DIM_PRESSURE, 10132.5, 0.5},
                {"29.9213inHg", RP_DIM_PRESSURE, 10132.5, 0.6},
                {"140cmH2O", RP_DIM_PRESSURE, 1372.93, 0.5},
                {"13900ft", RP_DIM_LENGTH, 4236.72, 0.5},
                {"97.5F", RP_DIM_BODY_TEMP, 363.889, 0.5},
                {"98.6F", RP_DIM_BODY_TEMP, 370, 0.01},
                {"20kt", RP_DIM_SPEED, 37.04, 0.5},
                {"160lb", RP_DIM_BODY_MASS, 72.5748, 0.5},
                {"2600psi", RP_DIM_CYLINDER, 179.264, 0.5}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        int32_t stored = 0;
        char name[60];
        rp_quantity_parse(rows[i].dimension, "typed", rows[i].text, &stored, NULL);
        snprintf(name, sizeof name, "\"%s\" in its stored unit", rows[i].text);
        numbers_row(name, "NIST SP 811, exact or standard (M)", rows[i].stored, stored,
                    rows[i].half + 0.001, 2);
    }
}

void numbers_clock_rows(void)
{
    const struct rp_watch_plan *plan = &rp_watch_plan_default;
    numbers_row("one session, min", "pararescue handbook 8th ed.", 60, plan->session_s / 60.0, 0.5,
                0);
    numbers_row("held improvement, AMS, h", "Taber 1990", 2, plan->ams.field_s / 3600.0, 0.01, 1);
    numbers_row("held improvement, HAPE, h", "Taber 1990", 4, plan->hape.field_s / 3600.0, 0.01, 1);
    numbers_row("held improvement, HACE, h", "Taber 1990", 6, plan->hace.field_s / 3600.0, 0.01, 1);
    numbers_row("AMS, at least, h", "common practice, no source", 1, plan->ams.least_s / 3600.0,
                0.01, 1);
    numbers_row("HAPE, from, h", "common practice, no source", 2, plan->hape.least_s / 3600.0, 0.01,
                1);
    numbers_row("HAPE, to, h", "common practice, no source", 4, plan->hape.usual_s / 3600.0, 0.01,
                1);
    numbers_row("HACE, from, h", "common practice, no source", 4, plan->hace.least_s / 3600.0, 0.01,
                1);
    numbers_row("HACE, to, h", "common practice, no source", 6, plan->hace.usual_s / 3600.0, 0.01,
                1);
    numbers_row("deflation, min", "common practice, no source", 3, plan->deflation_s / 60.0, 0.01,
                1);
    numbers_row("watch for relapse, h", "no difference at 12 h: Bartsch 1993", 12,
                plan->rebound_s / 3600.0, 0.01, 1);
    numbers_row("gauge, target, hPa", "2 psi: Taber 1990, handbook", 2 * PSI_HPA,
                plan->gauge_target_dhpa / 10.0, 0.06, 1);
    numbers_row("gauge, most, hPa", "highest of the trials: Imray 2001", 199.5,
                plan->gauge_max_dhpa / 10.0, 0.6, 1);
}

/* Every point of the recorded file: how many come out the same, to the metre. */
static void grid_row(void)
{
    FILE *file = fopen(RP_SOURCE_DIR "/tests/unit/geo/points.csv", "r");
    long lat_e6, lon_e6, east_cm, north_cm;
    char line[120], grid[20];
    int points = 0, same = 0;
    while (file != NULL && fgets(line, sizeof line, file) != NULL) {
        char shown[RP_GEO_TEXT_MAX], bare[RP_GEO_TEXT_MAX] = "";
        if (sscanf(line, "%ld,%ld,%ld,%ld,%19[A-Z0-9]", &lat_e6, &lon_e6, &east_cm, &north_cm,
                   grid) != 5) {
            continue;
        }
        points++;
        rp_geo_show_mgrs((int32_t)lat_e6, (int32_t)lon_e6, 5, shown);
        for (size_t i = 0, len = 0; shown[i] != '\0'; i++) {
            if (shown[i] != ' ') {
                bare[len++] = shown[i];
                bare[len] = '\0';
            }
        }
        same += strcmp(bare, grid) == 0;
    }
    if (file != NULL) {
        fclose(file);
    }
    numbers_row("grid references the same, of these points", "npm mgrs 2.2.0; PROJ 9.1.1",
                points > 0 ? points : 500, same, 0.5, 0);
}

void numbers_place_rows(void)
{
    static const struct {
        int32_t from[2], to[2];
        double distance_m, bearing_deg;
    } lines[] = {{{28104100, 86752300}, {28051200, 86712300}, 7058.738, 213.8573448},
                 {{28123456, 86543217}, {28123456, 86643217}, 9824.953, 89.9764313},
                 {{28000000, 86000000}, {27000000, 86000000}, 110811.453, 180},
                 {{60000000, 5000000}, {78000000, 16000000}, 2046960.217, 7.2474073},
                 {{0, 0}, {500000, 179500000}, 19936288.579, 25.6718729}};
    struct rp_geo_line line;
    grid_row();
    rp_geo_between(-37951033, 144424868, -37652821, 143926496, &line);
    numbers_row("Flinders Peak - Buninyong, m", "GDA technical manual (M)", 54972.271,
                line.distance_m, 0.15, 2);
    numbers_row("the same, bearing, deg", "GDA technical manual (M)", 306.86816, line.bearing_deg,
                0.001, 4);
    for (size_t i = 0; i < COUNT(lines); i++) {
        char name[60];
        rp_geo_between(lines[i].from[0], lines[i].from[1], lines[i].to[0], lines[i].to[1], &line);
        snprintf(name, sizeof name, "line %zu, m", i + 1);
        numbers_row(name, "npm geodesy 2.4.0 (Vincenty)", lines[i].distance_m, line.distance_m,
                    0.15, 2);
        snprintf(name, sizeof name, "line %zu, bearing, deg", i + 1);
        numbers_row(name, "npm geodesy 2.4.0 (Vincenty)", lines[i].bearing_deg, line.bearing_deg,
                    0.002, 4);
    }
}

/* Minutes of the day in UTC, by PyEphem 4.1.4 with the almanacs' definitions (-0:50, -6). The days
 * are those of net time, 0: 2026-01-01. */
void numbers_daylight_rows(void)
{
    static const struct {
        int32_t lat_e6, lon_e6;
        uint32_t day, hour;
        double rise_min, set_min, dusk_min; /* beyond 1440: the next day */
    } rows[] = {{28104100, 86752300, 78, 6, 17, 12 * 60 + 24, 12 * 60 + 48},
                {28104100, 86752300, 328, 6, 42, 11 * 60 + 17, 11 * 60 + 42},
                {28104100, 86752300, 354, 6, 60, 11 * 60 + 22, 11 * 60 + 48},
                {-32650000, -70010000, 379, 17, 9 * 60 + 48, 23 * 60 + 51, 24 * 60 + 19},
                {51476900, 0, 1632, 12, 3 * 60 + 43, 20 * 60 + 21, 21 * 60 + 9},
                {-54800000, -68300000, 171, 16, 12 * 60 + 59, 20 * 60 + 11, 20 * 60 + 57}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct rp_daylight day;
        char name[60], place[30];
        double midnight_s = rows[i].day * 86400.0;
        rp_daylight_at(rows[i].lat_e6, rows[i].lon_e6, rows[i].day * 86400 + rows[i].hour * 3600,
                       &day);
        snprintf(place, sizeof place, "%.1f, %.1f, day %u", rows[i].lat_e6 / 1e6,
                 rows[i].lon_e6 / 1e6, rows[i].day);
        snprintf(name, sizeof name, "%s: sunrise, min", place);
        numbers_row(name, "PyEphem 4.1.4", rows[i].rise_min,
                    ((double)day.sunrise_s - midnight_s) / 60, 2, 1);
        snprintf(name, sizeof name, "%s: sunset, min", place);
        numbers_row(name, "PyEphem 4.1.4", rows[i].set_min,
                    ((double)day.sunset_s - midnight_s) / 60, 2, 1);
        snprintf(name, sizeof name, "%s: civil twilight, min", place);
        numbers_row(name, "PyEphem 4.1.4", rows[i].dusk_min, ((double)day.dusk_s - midnight_s) / 60,
                    2, 1);
    }
    struct rp_daylight day;
    rp_daylight_at(51476900, 0, 1632u * 86400 + 12 * 3600, &day);
    numbers_row("sunset Greenwich 21 Jun 2030, min", "printed tables, London (M)", 1221,
                (double)(day.sunset_s % 86400) / 60, 2, 1);
}
