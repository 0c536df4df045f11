#include "handover/text/filter.h"

#include "clinical/air.h"
#include "clinical/sky/daylight.h"
#include "incident/assess/assess.h"

struct filter {
    uint32_t sections;
    rp_sheet_visit *visit;
    void *arg;
};

struct rp_build rp_build_on(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg)
{
    return (struct rp_build){.facts = facts,
                             .in = facts->input,
                             .ep = facts->input->episode,
                             .visit = visit,
                             .arg = arg,
                             .section = RP_SECTION_HEADLINE};
}

static void pass(void *arg, const struct rp_sheet_row *row)
{
    const struct filter *filter = arg;
    if ((filter->sections >> row->section & 1) != 0 && row->style != RP_ROW_BANNER) {
        filter->visit(filter->arg, row);
    }
}

void rp_sheet_sections(const struct rp_sheet_facts *facts, uint32_t sections, rp_sheet_visit *visit,
                       void *arg)
{
    struct filter filter = {sections, visit, arg};
    rp_sheet_model(facts, pass, &filter);
}

void rp_build_banner_row(struct rp_build *b)
{
    if (b->ep->exercise) {
        rp_build_row(b, RP_TX_NONE);
        b->row.style = RP_ROW_BANNER;
        rp_build_loud(b, RP_TX_EXERCISE);
        rp_build_end(b);
    }
}

void rp_build_title_row(struct rp_build *b, enum rp_text_id words)
{
    rp_build_row(b, RP_TX_NONE);
    b->row.style = RP_ROW_TITLE;
    rp_build_word(b, words);
    rp_build_end(b);
}

/* The pressure of the model at that height, as the height where the standard atmosphere has it. */
static int density_altitude(enum rp_air_model model, double altitude_m, double temp_c,
                            double *out_density_m)
{
    double hpa, pressure_altitude_m;
    int code = rp_air_pressure(model, altitude_m, &hpa);
    code = code == 0 ? rp_air_altitude(RP_AIR_ISA, hpa, &pressure_altitude_m) : code;
    if (code == 0) {
        *out_density_m = rp_air_density_altitude_m(pressure_altitude_m, temp_c);
    }
    return code;
}

/* 1 ft = 0.3048 m (exact); to 100 ft, as finely as the estimate deserves. */
static int64_t feet(int64_t metres)
{
    int64_t tenths_mm = metres * 10000;
    return (tenths_mm + (metres < 0 ? -152400 : 152400)) / 304800 * 100;
}

static void build_density(struct rp_build *b, const double density_m[RP_AIR_MODELS], bool in_feet)
{
    static const enum rp_text_id units[RP_AIR_MODELS] = {
        [RP_AIR_ISA] = RP_TX_U_M_ISA, [RP_AIR_WEST] = RP_TX_U_M_WEST};
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        int rounded_m = rp_air_round_50m(density_m[model]);
        rp_build_number(b, model == 0 ? RP_TX_DENSITY_ALTITUDE : RP_TX_EQUIVALENT_OR, rounded_m, 0,
                        units[model]);
        if (in_feet) {
            rp_build_open(b);
            rp_build_number(b, RP_TX_NONE, feet(rounded_m), 0, RP_TX_U_FT);
            rp_build_close(b);
        }
    }
}

void rp_build_density_row(struct rp_build *b, const struct rp_rec_evacuation *request, bool in_feet)
{
    const struct rp_altitude *altitude = rp_episode_altitude(b->ep);
    bool has_temp = request != NULL && request->has_temp;
    double density_m[RP_AIR_MODELS];
    rp_build_row(b, RP_TX_L_DENSITY);
    if (!altitude->present || !has_temp) {
        rp_build_word(b, RP_TX_DENSITY_UNKNOWN);
        rp_build_labelled(b, RP_TX_NONE, altitude->present ? RP_TX_F_AIR_TEMP : RP_TX_F_ALTITUDE);
        rp_build_word(b, RP_TX_NOT_REPORTED);
    } else if (density_altitude(RP_AIR_ISA, altitude->metres, request->temp_c, &density_m[0]) ==
                   0 &&
               density_altitude(RP_AIR_WEST, altitude->metres, request->temp_c, &density_m[1]) ==
                   0) {
        build_density(b, density_m, in_feet);
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_word(b, RP_TX_DENSITY_BASIS);
    }
    rp_build_end(b);
}

/* The day that holds now, or the next when its last light is over. */
static int light_of(const struct rp_position *position, uint32_t now_s, struct rp_daylight *day)
{
    int code = rp_daylight_at(position->lat_e6, position->lon_e6, now_s, day);
    if (code == 0 && day->twilight == RP_SUN_CROSSES && day->dusk_s < (int64_t)now_s &&
        now_s < UINT32_MAX - 86400u) {
        code = rp_daylight_at(position->lat_e6, position->lon_e6, now_s + 86400u, day);
    }
    return code;
}

static void build_light_time(struct rp_build *b, enum rp_text_id label, int64_t time_s)
{
    if (time_s >= 0 && time_s <= UINT32_MAX) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_time(b, label, (uint32_t)time_s);
    }
}

void rp_build_light_row(struct rp_build *b, const struct rp_rec_evacuation *request)
{
    const struct rp_position *position = &b->ep->opening.position;
    struct rp_daylight day;
    if (request != NULL && request->position.present) {
        position = &request->position;
    }
    rp_build_row(b, RP_TX_L_LIGHT);
    if (!position->present || light_of(position, b->in->now_s, &day) != 0) {
        rp_build_word(b, RP_TX_LIGHT_UNKNOWN);
    } else if (day.sun != RP_SUN_CROSSES || day.twilight != RP_SUN_CROSSES) {
        rp_build_word(b, RP_TX_LIGHT_POLAR);
    } else {
        build_light_time(b, RP_TX_FIRST_LIGHT, day.dawn_s);
        build_light_time(b, RP_TX_SUNRISE, day.sunrise_s);
        build_light_time(b, RP_TX_SUNSET, day.sunset_s);
        build_light_time(b, RP_TX_LAST_LIGHT, day.dusk_s);
        rp_build_open(b);
        rp_build_word(b, RP_TX_LIGHT_BASIS);
        rp_build_close(b);
    }
    rp_build_end(b);
}
