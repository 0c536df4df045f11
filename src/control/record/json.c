#include "control/record/json.h"

#include <stddef.h>
#include <string.h>

enum type {
    T_U8,
    T_I8,
    T_BOOL,
    T_U16,
    T_U32,
    T_I32,
    T_TEXT,
    T_VALUE,
    T_KNOWN,
    T_FINDING,
    T_POSITION,
    T_ALTITUDE,
    T_REF
};

struct field {
    uint8_t kind, type;
    const char *name;
    size_t offset;
    size_t has; /* offset of the flag that says it is there; 0: always */
};

#define AT(member) offsetof(struct rp_record, as.member)
#define FIELD(kind, type, member, name)                                                            \
    {                                                                                              \
        RP_REC_##kind, T_##type, #name, AT(member.name), 0                                         \
    }
#define WITH(kind, type, member, name, flag)                                                       \
    {                                                                                              \
        RP_REC_##kind, T_##type, #name, AT(member.name), AT(member.flag)                           \
    }
#define LLS(kind, member)                                                                          \
    FIELD(kind, VALUE, member.lls, headache), FIELD(kind, VALUE, member.lls, gut),                 \
        FIELD(kind, VALUE, member.lls, fatigue), FIELD(kind, VALUE, member.lls, dizziness)

static const struct field fields[] = {
    FIELD(STATION, U8, station, role),
    FIELD(STATION, TEXT, station, name),
    FIELD(STATION, TEXT, station, callsign),
    FIELD(STATION, ALTITUDE, station, altitude),
    FIELD(STATION, POSITION, station, position),
    FIELD(EPISODE, TEXT, opened, patient),
    FIELD(EPISODE, U8, opened, sex),
    WITH(EPISODE, U8, opened, age_y, has_age),
    WITH(EPISODE, U16, opened, weight_kg, has_weight),
    WITH(EPISODE, U32, opened, onset_s, has_onset),
    FIELD(EPISODE, U8, opened, label),
    FIELD(EPISODE, TEXT, opened, label_text),
    LLS(EPISODE, opened),
    FIELD(EPISODE, TEXT, opened, first_sign),
    WITH(EPISODE, U32, opened, reached_s, has_reached),
    FIELD(EPISODE, ALTITUDE, opened, altitude),
    FIELD(EPISODE, POSITION, opened, position),
    FIELD(BACKGROUND, KNOWN, background, allergies),
    FIELD(BACKGROUND, KNOWN, background, medicines),
    FIELD(BACKGROUND, KNOWN, background, history),
    FIELD(BACKGROUND, KNOWN, background, last_meal),
    FIELD(BACKGROUND, KNOWN, background, contact),
    FIELD(STATUS, U8, status, condition),
    FIELD(STATUS, U8, status, phase),
    FIELD(STATUS, U16, status, elapsed_min),
    FIELD(STATUS, U8, status, cycle),
    FIELD(STATUS, U8, status, evac_state),
    FIELD(STATUS, U8, status, mode),
    FIELD(STATUS, U16, status, vitals_age_min),
    FIELD(STATUS, VALUE, status, spo2_pct),
    FIELD(STATUS, VALUE, status, pulse_bpm),
    FIELD(STATUS, VALUE, status, resp_rpm),
    FIELD(STATUS, VALUE, status, acvpu),
    FIELD(STATUS, VALUE, status, gcs_eye),
    FIELD(STATUS, VALUE, status, gcs_verbal),
    FIELD(STATUS, VALUE, status, gcs_motor),
    FIELD(STATUS, VALUE, status, airway),
    FIELD(STATUS, VALUE, status, pain),
    FIELD(STATUS, VALUE, status, oxygen_flow_dlpm),
    FIELD(STATUS, VALUE, status, cylinder_bar),
    FIELD(STATUS, U16, status, pressure_age_min),
    FIELD(STATUS, VALUE, status, systolic_mmhg),
    FIELD(STATUS, VALUE, status, diastolic_mmhg),
    FIELD(STATUS, U16, status, temp_age_min),
    FIELD(STATUS, VALUE, status, temp_dc),
    FIELD(STATUS, U8, status, temp_site),
    FIELD(STATUS, U16, status, score_age_min),
    FIELD(STATUS, VALUE, status, lls),
    FIELD(STATUS, VALUE, status, ataxia),
    FIELD(STATUS, U8, status, next_min),
    FIELD(TREATMENT, U8, treatment, kind),
    FIELD(TREATMENT, TEXT, treatment, name),
    WITH(TREATMENT, U32, treatment, dose_milli, has_dose),
    WITH(TREATMENT, U8, treatment, dose_unit, has_dose),
    FIELD(TREATMENT, U8, treatment, route),
    FIELD(TREATMENT, BOOL, treatment, refused),
    FIELD(TREATMENT, TEXT, treatment, checker),
    FIELD(TREATMENT, TEXT, treatment, text),
    FIELD(TREATMENT, U8, treatment, flags),
    FIELD(TREATMENT, TEXT, treatment, confirmed),
    FIELD(OXYGEN, U8, oxygen, action),
    FIELD(OXYGEN, U8, oxygen, device),
    FIELD(OXYGEN, VALUE, oxygen, flow_dlpm),
    FIELD(OXYGEN, TEXT, oxygen, cylinder),
    FIELD(OXYGEN, VALUE, oxygen, cylinder_bar),
    FIELD(OXYGEN, VALUE, oxygen, water_dl),
    FIELD(CHAMBER, U8, chamber, phase),
    FIELD(CHAMBER, U8, chamber, session),
    FIELD(CHAMBER, U8, chamber, hold_reason),
    FIELD(CHAMBER, VALUE, chamber, gauge_dhpa),
    FIELD(CHAMBER, VALUE, chamber, altimeter_m),
    FIELD(CHAMBER, TEXT, chamber, text),
    FIELD(REASSESS, U8, reassess, condition),
    FIELD(REASSESS, U8, reassess, next),
    LLS(REASSESS, reassess),
    FIELD(REASSESS, VALUE, reassess, functional),
    FIELD(REASSESS, FINDING, reassess, mental_change),
    FIELD(REASSESS, FINDING, reassess, can_walk),
    FIELD(REASSESS, VALUE, reassess, ataxia),
    FIELD(REASSESS, TEXT, reassess, text),
    FIELD(DESCENT, BOOL, descent, descending),
    FIELD(DESCENT, U8, descent, why_not),
    WITH(DESCENT, U16, descent, ask_again_min, has_ask_again),
    FIELD(DESCENT, TEXT, descent, text),
    WITH(DESCENT, U16, descent, way_min, has_way),
    FIELD(NOTE, TEXT, note, text),
    FIELD(EVACUATION, REF, evacuation, revises),
    FIELD(EVACUATION, U8, evacuation, urgency),
    WITH(EVACUATION, U8, evacuation, patients, has_patients),
    WITH(EVACUATION, U16, evacuation, weight_kg, has_weight),
    FIELD(EVACUATION, U8, evacuation, mobility),
    FIELD(EVACUATION, FINDING, evacuation, conscious),
    FIELD(EVACUATION, REF, evacuation, conscious_from),
    FIELD(EVACUATION, FINDING, evacuation, oxygen_needed),
    FIELD(EVACUATION, FINDING, evacuation, lies_flat),
    FIELD(EVACUATION, FINDING, evacuation, site_marked),
    FIELD(EVACUATION, POSITION, evacuation, position),
    FIELD(EVACUATION, ALTITUDE, evacuation, altitude),
    FIELD(EVACUATION, POSITION, evacuation, site),
    WITH(EVACUATION, U16, evacuation, site_length_m, has_site_size),
    WITH(EVACUATION, U16, evacuation, site_width_m, has_site_size),
    FIELD(EVACUATION, U8, evacuation, surface),
    WITH(EVACUATION, U8, evacuation, slope_deg, has_slope),
    FIELD(EVACUATION, TEXT, evacuation, obstacles),
    WITH(EVACUATION, U16, evacuation, wind_kmh, has_wind),
    WITH(EVACUATION, U16, evacuation, wind_from_deg, has_wind_dir),
    WITH(EVACUATION, U16, evacuation, gust_kmh, has_gust),
    WITH(EVACUATION, I8, evacuation, temp_c, has_temp),
    WITH(EVACUATION, U32, evacuation, visibility_m, has_visibility),
    WITH(EVACUATION, U16, evacuation, cloud_base_m, has_cloud_base),
    FIELD(EVACUATION, TEXT, evacuation, weather),
    FIELD(EVACUATION, TEXT, evacuation, hazards),
    FIELD(EVACUATION, TEXT, evacuation, ground_contact),
    WITH(EVACUATION, U8, evacuation, needs, has_needs),
    WITH(EVACUATION, U8, evacuation, party, has_party),
    WITH(EVACUATION, U32, evacuation, daylight_end_s, has_daylight),
    FIELD(EVACUATION, KNOWN, evacuation, insurance),
    FIELD(EVACUATION, TEXT, evacuation, fallback),
    FIELD(EVAC_CANCEL, REF, evac_cancel, request),
    FIELD(EVAC_CANCEL, TEXT, evac_cancel, reason),
    FIELD(ANSWER, REF, answer, about),
    FIELD(ANSWER, U8, answer, kind),
    FIELD(ANSWER, TEXT, answer, whom),
    WITH(ANSWER, U32, answer, eta_s, has_eta),
    FIELD(ANSWER, TEXT, answer, text),
    FIELD(READBACK, REF, readback, about),
    FIELD(READBACK, TEXT, readback, text),
    FIELD(HANDOVER, TEXT, handover, team),
    FIELD(HANDOVER, TEXT, handover, taken_by),
    WITH(HANDOVER, U32, handover, sheet, has_sheet),
    FIELD(HANDOVER, TEXT, handover, sheet_check),
    FIELD(HANDOVER, TEXT, handover, text),
    FIELD(CORRECTION, REF, correction, about),
    FIELD(CORRECTION, REF, correction, replacement),
    FIELD(CORRECTION, TEXT, correction, reason),
    FIELD(CLOSE, U8, close, outcome),
    FIELD(CLOSE, TEXT, close, text),
    FIELD(CLOCK, U8, clock, reason),
    FIELD(CLOCK, I32, clock, offset_s),
    FIELD(CLOCK, BOOL, clock, synced),
    FIELD(ALARM, U8, alarm, action),
    FIELD(ALARM, U8, alarm, rule),
    FIELD(ALARM, U8, alarm, subject),
    WITH(ALARM, U32, alarm, about_s, has_about),
    WITH(ALARM, U32, alarm, until_s, has_until),
    FIELD(ALARM, TEXT, alarm, text),
    FIELD(PUMPING, TEXT, pumping, pumper),
    FIELD(PUMPING, U16, pumping, strokes),
    FIELD(PUMPING, U16, pumping, spell_s),
    FIELD(STOCK, TEXT, stock, name),
    FIELD(STOCK, U32, stock, left_milli),
    FIELD(STOCK, U8, stock, unit),
    FIELD(FLUIDS, VALUE, fluids, urine_ml),
    FIELD(FLUIDS, VALUE, fluids, drunk_ml),
    WITH(FLUIDS, U16, fluids, span_min, has_span),
};

static json_t *value_json(const struct rp_value *value)
{
    if (value->state == RP_UNABLE) {
        return json_string("no result");
    }
    return value->state == RP_MEASURED ? json_integer(value->value) : NULL;
}

static json_t *known_json(const struct rp_known *known)
{
    return known->state == RP_KNOWN
               ? json_pack("{s:s}", "known", known->text)
               : json_string(known->state == RP_NONE_KNOWN ? "none known" : "not asked");
}

static json_t *position_json(const struct rp_position *position)
{
    if (!position->present) {
        return NULL;
    }
    json_t *json = json_pack("{s:i,s:i}", "lat_e6", position->lat_e6, "lon_e6", position->lon_e6);
    if (position->has_accuracy) {
        json_object_set_new(json, "accuracy_m", json_integer(position->accuracy_m));
    }
    return json;
}

static json_t *number_json(uint8_t type, const unsigned char *at)
{
    int8_t small;
    uint16_t word;
    uint32_t large;
    int32_t with_sign;
    switch (type) {
    case T_U8:
        return json_integer(*at);
    case T_I8:
        memcpy(&small, at, sizeof small);
        return json_integer(small);
    case T_U16:
        memcpy(&word, at, sizeof word);
        return json_integer(word);
    case T_U32:
        memcpy(&large, at, sizeof large);
        return json_integer(large);
    default:
        memcpy(&with_sign, at, sizeof with_sign);
        return json_integer(with_sign);
    }
}

static json_t *field_json(uint8_t type, const void *at)
{
    const struct rp_altitude *altitude = at;
    const struct rp_record_ref *ref = at;
    const enum rp_finding *finding = at;
    switch (type) {
    case T_BOOL:
        return json_boolean(*(const bool *)at);
    case T_TEXT:
        return *(const char *)at != '\0' ? json_string(at) : NULL;
    case T_VALUE:
        return value_json(at);
    case T_KNOWN:
        return known_json(at);
    case T_FINDING:
        return *finding == RP_FINDING_NOT_ASKED ? NULL : json_boolean(*finding == RP_FINDING_YES);
    case T_POSITION:
        return position_json(at);
    case T_ALTITUDE:
        return altitude->present
                   ? json_pack("{s:i,s:i}", "m", altitude->metres, "source", altitude->source)
                   : NULL;
    case T_REF:
        return ref->origin != 0
                   ? json_pack("{s:i,s:I}", "origin", ref->origin, "seq", (json_int_t)ref->seq)
                   : NULL;
    default:
        return number_json(type, at);
    }
}

/* The criteria are a list in the record, told by their names here. */
static void add_criteria(json_t *json, const struct rp_rec_episode *opened)
{
    static const char *const names[RP_CRIT_COUNT] = {
#define X(name, word) [RP_CRIT_##name] = word,
        RP_CRITERIA(X)
#undef X
    };
    json_t *criteria = json_object();
    for (size_t i = 0; i < RP_CRIT_COUNT; i++) {
        if (opened->criteria[i] != RP_FINDING_NOT_ASKED) {
            json_object_set_new(criteria, names[i],
                                json_boolean(opened->criteria[i] == RP_FINDING_YES));
        }
    }
    json_object_set_new(json, "criteria", criteria);
}

json_t *rp_record_json(const struct rp_record *record)
{
    const unsigned char *base = (const unsigned char *)record;
    json_t *json = json_object();
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        const struct field *field = &fields[i];
        if (field->kind != record->kind || /* the flags of other kinds are other bytes */
            (field->has != 0 && !*(const bool *)(const void *)(base + field->has))) {
            continue;
        }
        json_t *value = field_json(field->type, base + field->offset);
        if (value != NULL) {
            json_object_set_new(json, field->name, value);
        }
    }
    if (record->kind == RP_REC_EPISODE) {
        add_criteria(json, &record->as.opened);
    }
    return json;
}
