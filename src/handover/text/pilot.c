/* The pilot card: read in a shaking cockpit, so few words, and every missing one said. */
#include "handover/text/cards.h"
#include "handover/text/columns.h"
#include "handover/text/filter.h"
#include "incident/assess/assess.h"

static void build_not_reported(struct rp_build *b)
{
    if (b->row.item_count == 0) {
        rp_build_word(b, RP_TX_NOT_REPORTED);
    }
    rp_build_end(b);
}

static void build_place(struct rp_build *b, enum rp_text_id label,
                        const struct rp_position *position)
{
    rp_build_row(b, label);
    if (position->present) {
        rp_build_position(b, position);
    }
    build_not_reported(b);
    if (position->present) {
        rp_build_row(b, RP_TX_NONE);
        rp_build_mgrs(b, position);
        rp_build_end(b);
        rp_build_row(b, RP_TX_NONE);
        rp_build_degrees(b, position);
        rp_build_word(b, RP_TX_DATUM);
        rp_build_end(b);
    }
}

/* 1 ft = 0.3048 m (exact). */
static void build_elevation(struct rp_build *b)
{
    const struct rp_altitude *altitude = rp_episode_altitude(b->ep);
    rp_build_row(b, RP_TX_P_ELEVATION);
    if (altitude->present) {
        int64_t tenths_mm = (int64_t)altitude->metres * 10000;
        rp_build_number(b, RP_TX_NONE, (tenths_mm + (tenths_mm < 0 ? -1524 : 1524)) / 3048, 0,
                        RP_TX_U_FT);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_altitude(b, altitude);
    }
    build_not_reported(b);
}

static void build_site(struct rp_build *b, const struct rp_rec_evacuation *r)
{
    rp_build_row(b, RP_TX_NONE);
    if (r->has_site_size) {
        rp_build_number(b, RP_TX_NONE, r->site_length_m, 0, RP_TX_NONE);
        rp_build_number(b, RP_TX_BY_AREA, r->site_width_m, 0, RP_TX_U_M);
    } else {
        rp_build_labelled(b, RP_TX_SITE_SIZE, RP_TX_NOT_REPORTED);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_labelled(b, RP_TX_SURFACE,
                      r->surface == RP_SURF_UNSAID
                          ? RP_TX_NOT_REPORTED
                          : rp_text_pick(RP_TX_SURF_UNSAID, RP_TX_SURF_SAND, r->surface));
    rp_build_join(b, RP_JOIN_COMMA);
    if (r->has_slope) {
        rp_build_number(b, RP_TX_SLOPE, r->slope_deg, 0, RP_TX_U_DEG);
    } else {
        rp_build_labelled(b, RP_TX_SLOPE, RP_TX_NOT_REPORTED);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_finding(b, RP_TX_SITE_MARKED, r->site_marked);
    rp_build_end(b);
}

static void build_text_row(struct rp_build *b, enum rp_text_id label, const char *text)
{
    rp_build_row(b, label);
    if (text[0] != '\0') {
        rp_build_entered(b, RP_TX_NONE, text);
    }
    build_not_reported(b);
}

/* 1 kt = 1.852 km/h (exact). */
static void build_speed(struct rp_build *b, enum rp_text_id label, uint16_t kmh)
{
    rp_build_number(b, label, kmh, 0, RP_TX_U_KMH);
    rp_build_open(b);
    rp_build_number(b, RP_TX_NONE, ((int64_t)kmh * 1000 + 926) / 1852, 0, RP_TX_U_KT);
    rp_build_close(b);
}

static void build_wind(struct rp_build *b, const struct rp_rec_evacuation *r)
{
    rp_build_row(b, RP_TX_P_WIND);
    if (r->has_wind_dir) {
        rp_build_number(b, RP_TX_WIND_FROM, r->wind_from_deg, 0, RP_TX_U_DEG_TRUE);
    }
    if (r->has_wind) {
        build_speed(b, RP_TX_NONE, r->wind_kmh);
    }
    if (r->has_gust) {
        rp_build_join(b, RP_JOIN_COMMA);
        build_speed(b, RP_TX_GUST, r->gust_kmh);
    }
    build_not_reported(b);
}

static void build_air(struct rp_build *b, const struct rp_rec_evacuation *r)
{
    rp_build_row(b, RP_TX_P_AIR);
    if (r->has_temp) {
        rp_build_number(b, RP_TX_NONE, r->temp_c, 0, RP_TX_U_C);
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (r->has_visibility) {
        rp_build_number(b, RP_TX_VISIBILITY, r->visibility_m, 0, RP_TX_U_M);
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (r->has_cloud_base) {
        rp_build_number(b, RP_TX_CLOUD_BASE, r->cloud_base_m, 0, RP_TX_U_M_AMSL);
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (r->weather[0] != '\0') {
        rp_build_entered(b, RP_TX_NONE, r->weather);
    }
    build_not_reported(b);
}

static void build_load(struct rp_build *b, const struct rp_rec_evacuation *r)
{
    rp_build_row(b, RP_TX_P_LOAD);
    if (r->has_patients) {
        rp_build_number(b, RP_TX_PATIENTS, r->patients, 0, RP_TX_NONE);
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (r->has_weight) {
        rp_build_number(b, RP_TX_NONE, r->weight_kg, 0, RP_TX_U_KG);
        rp_build_word(b, RP_TX_WITH_KIT);
        rp_build_join(b, RP_JOIN_COMMA);
    }
    rp_build_word(b, rp_text_pick(RP_TX_MOB_UNSAID, RP_TX_MOB_STRETCHER, r->mobility));
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_finding(b, RP_TX_LIES_FLAT, r->lies_flat);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_finding(b, RP_TX_OXYGEN_NEEDED, r->oxygen_needed);
    build_not_reported(b);
}

static void build_head(struct rp_build *b, const struct rp_request_entry *entry)
{
    rp_build_row(b, RP_TX_NONE);
    b->row.style = RP_ROW_TITLE;
    rp_build_word(b, RP_TX_PILOT_TITLE);
    rp_build_join(b, RP_JOIN_DASH);
    if (entry != NULL) {
        rp_build_loud(b, rp_text_pick(RP_TX_URG_UNSAID, RP_TX_URG_E4, entry->what.urgency));
    } else {
        rp_build_loud(b, RP_TX_NO_REQUEST_IN_FORCE);
    }
    rp_build_end(b);
}

static void build_request(struct rp_build *b, const struct rp_request_entry *entry)
{
    const struct rp_rec_evacuation *r = &entry->what;
    build_place(b, RP_TX_P_SITE, &r->site);
    build_site(b, r);
    build_text_row(b, RP_TX_OBSTACLES, r->obstacles);
    build_text_row(b, RP_TX_P_HAZARDS, r->hazards);
    build_wind(b, r);
    build_air(b, r);
    rp_build_density_row(b, r, true);
    build_text_row(b, RP_TX_P_CONTACT, r->ground_contact);
    build_load(b, r);
    rp_build_light_row(b, r);
    if (r->has_daylight) {
        rp_build_row(b, RP_TX_NONE);
        rp_build_time(b, RP_TX_DAYLIGHT_END, r->daylight_end_s);
        rp_build_end(b);
    }
    rp_build_row(b, RP_TX_P_TOLD);
    rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_age(b, RP_TX_NONE, entry->from.happened_s);
    rp_build_quality(b, &entry->from);
    rp_build_end(b);
}

/* Where the care facts are, and that the words may be wrong in this language. */
static void build_elsewhere(struct rp_build *b)
{
    rp_build_row(b, RP_TX_P_CARE);
    rp_build_word(b, RP_TX_NOT_HERE);
    rp_build_entered(b, RP_TX_CHECK, b->facts->check);
    rp_build_join(b, RP_JOIN_STOP);
    rp_build_word(b, RP_TX_TRANSLATION_NOTE);
    rp_build_end(b);
}

static void pilot_rows(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg)
{
    struct rp_build b = rp_build_on(facts, visit, arg);
    const struct rp_request_entry *entry = rp_sheet_request_now(b.ep);
    const struct rp_position *position = &b.ep->opening.position;
    if (entry != NULL && entry->what.position.present) {
        position = &entry->what.position;
    }
    rp_build_banner_row(&b);
    build_head(&b, entry);
    build_place(&b, RP_TX_P_PATIENT, position);
    build_elevation(&b);
    if (entry != NULL) {
        build_request(&b, entry);
    } else {
        rp_build_light_row(&b, NULL);
    }
    rp_sheet_build_late(&b);
    build_elsewhere(&b);
    rp_sheet_sections(facts, RP_SECTION_BIT(FOOT), visit, arg);
    rp_build_banner_row(&b);
}

int rp_pilot_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                    size_t cap)
{
    static const struct rp_columns_layout card = {
        .columns = 32, .text_column = 2, .narrow = true, .bare = true, .capitals = true};
    return rp_columns_render_rows(facts, texts, &card, pilot_rows, buf, cap);
}
