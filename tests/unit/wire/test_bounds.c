/* Every number of every record at both edges of its bounds and one beyond, with the name that the
 * refusal gives. The bounds are written out from the comments of src/wire/record.h. */
#include "rp_test.h"

#include <string.h>

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "support_record.h"
#include "wire/record.h"
#include "wire/record_row.h"

#define OF(m)    offsetof(struct rp_record, m), sizeof(((struct rp_record *)0)->m)
#define HAS(m)   offsetof(struct rp_record, m)
#define NO_FLAG  0
#define VALUE(m) offsetof(struct rp_record, m.value), 2, offsetof(struct rp_record, m.state)
#define IS_VALUE true

static const struct {
    enum rp_record_kind kind;
    const char *name;
    size_t at, size, has_at;
    int64_t low, high;
    bool is_value;
} bounds[] = {
    {RP_REC_NOTE, "ago_s", OF(ago_s), NO_FLAG, 0, 604800, false},
    {RP_REC_NOTE, "via", OF(via), NO_FLAG, 0, 2, false},
    {RP_REC_STATION, "role", OF(as.station.role), NO_FLAG, 0, 2, false},
    {RP_REC_STATION, "altitude", OF(as.station.altitude.metres), HAS(as.station.altitude.present),
     -450, 8900, false},
    {RP_REC_STATION, "position.lat_e6", OF(as.station.position.lat_e6),
     HAS(as.station.position.present), -90000000, 90000000, false},
    {RP_REC_STATION, "position.lon_e6", OF(as.station.position.lon_e6),
     HAS(as.station.position.present), -180000000, 180000000, false},
    {RP_REC_EPISODE, "sex", OF(as.opened.sex), NO_FLAG, 0, 3, false},
    {RP_REC_EPISODE, "age_y", OF(as.opened.age_y), HAS(as.opened.has_age), 0, 110, false},
    {RP_REC_EPISODE, "weight_kg", OF(as.opened.weight_kg), HAS(as.opened.has_weight), 2, 250,
     false},
    {RP_REC_EPISODE, "label", OF(as.opened.label), NO_FLAG, 0, 15, false},
    {RP_REC_EPISODE, "lls.gut", VALUE(as.opened.lls.gut), 0, 3, IS_VALUE},
    {RP_REC_EPISODE, "criteria[RP_CRIT_COUGH]", OF(as.opened.criteria[RP_CRIT_COUGH]), NO_FLAG, 0,
     2, false},
    {RP_REC_STATUS, "condition", OF(as.status.condition), NO_FLAG, 0, 6, false},
    {RP_REC_STATUS, "phase", OF(as.status.phase), NO_FLAG, 0, 6, false},
    {RP_REC_STATUS, "evac_state", OF(as.status.evac_state), NO_FLAG, 0, 7, false},
    {RP_REC_STATUS, "mode", OF(as.status.mode), NO_FLAG, 0, 4, false},
    {RP_REC_STATUS, "spo2_pct", VALUE(as.status.spo2_pct), 0, 100, IS_VALUE},
    {RP_REC_STATUS, "pulse_bpm", VALUE(as.status.pulse_bpm), 0, 300, IS_VALUE},
    {RP_REC_STATUS, "resp_rpm", VALUE(as.status.resp_rpm), 0, 90, IS_VALUE},
    {RP_REC_STATUS, "acvpu", VALUE(as.status.acvpu), 0, 4, IS_VALUE},
    {RP_REC_STATUS, "airway", VALUE(as.status.airway), 0, 4, IS_VALUE},
    {RP_REC_STATUS, "pain", VALUE(as.status.pain), 0, 10, IS_VALUE},
    {RP_REC_STATUS, "oxygen_flow_dlpm", VALUE(as.status.oxygen_flow_dlpm), 0, 250, IS_VALUE},
    {RP_REC_STATUS, "cylinder_bar", VALUE(as.status.cylinder_bar), 0, 350, IS_VALUE},
    {RP_REC_STATUS, "systolic_mmhg", VALUE(as.status.systolic_mmhg), 30, 300, IS_VALUE},
    {RP_REC_STATUS, "diastolic_mmhg", VALUE(as.status.diastolic_mmhg), 10, 200, IS_VALUE},
    {RP_REC_STATUS, "temp_dc", VALUE(as.status.temp_dc), 100, 450, IS_VALUE},
    {RP_REC_STATUS, "temp_site", OF(as.status.temp_site), NO_FLAG, 0, 3, false},
    {RP_REC_STATUS, "lls", VALUE(as.status.lls), 0, 12, IS_VALUE},
    {RP_REC_STATUS, "ataxia", VALUE(as.status.ataxia), 0, 4, IS_VALUE},
    {RP_REC_STATUS, "next_min", OF(as.status.next_min), NO_FLAG, 0, 120, false},
    {RP_REC_TREATMENT, "kind", OF(as.treatment.kind), NO_FLAG, 0, 2, false},
    {RP_REC_TREATMENT, "dose_milli", OF(as.treatment.dose_milli), HAS(as.treatment.has_dose), 1,
     10000000, false},
    {RP_REC_TREATMENT, "dose_unit", OF(as.treatment.dose_unit), NO_FLAG, 0, 7, false},
    {RP_REC_TREATMENT, "route", OF(as.treatment.route), NO_FLAG, 0, 9, false},
    {RP_REC_OXYGEN, "action", OF(as.oxygen.action), NO_FLAG, 0, 3, false},
    {RP_REC_OXYGEN, "device", OF(as.oxygen.device), NO_FLAG, 0, 3, false},
    {RP_REC_OXYGEN, "flow_dlpm", VALUE(as.oxygen.flow_dlpm), 0, 250, IS_VALUE},
    {RP_REC_OXYGEN, "cylinder_bar", VALUE(as.oxygen.cylinder_bar), 0, 350, IS_VALUE},
    {RP_REC_OXYGEN, "water_dl", VALUE(as.oxygen.water_dl), 5, 500, IS_VALUE},
    {RP_REC_CHAMBER, "phase", OF(as.chamber.phase), NO_FLAG, 0, 6, false},
    {RP_REC_CHAMBER, "session", OF(as.chamber.session), NO_FLAG, 1, 255, false},
    {RP_REC_CHAMBER, "hold_reason", OF(as.chamber.hold_reason), NO_FLAG, 0, 6, false},
    {RP_REC_CHAMBER, "gauge_dhpa", VALUE(as.chamber.gauge_dhpa), 0, 3000, IS_VALUE},
    {RP_REC_CHAMBER, "altimeter_m", VALUE(as.chamber.altimeter_m), -450, 8900, IS_VALUE},
    {RP_REC_REASSESS, "condition", OF(as.reassess.condition), NO_FLAG, 0, 6, false},
    {RP_REC_REASSESS, "next", OF(as.reassess.next), NO_FLAG, 0, 4, false},
    {RP_REC_REASSESS, "functional", VALUE(as.reassess.functional), 0, 3, IS_VALUE},
    {RP_REC_REASSESS, "ataxia", VALUE(as.reassess.ataxia), 0, 4, IS_VALUE},
    {RP_REC_DESCENT, "why_not", OF(as.descent.why_not), NO_FLAG, 0, 6, false},
    {RP_REC_DESCENT, "way_min", OF(as.descent.way_min), HAS(as.descent.has_way), 1, 2880, false},
    {RP_REC_DESCENT, "ask_again_min", OF(as.descent.ask_again_min), HAS(as.descent.has_ask_again),
     1, 1440, false},
    {RP_REC_EVACUATION, "urgency", OF(as.evacuation.urgency), NO_FLAG, 0, 4, false},
    {RP_REC_EVACUATION, "patients", OF(as.evacuation.patients), HAS(as.evacuation.has_patients), 1,
     50, false},
    {RP_REC_EVACUATION, "weight_kg", OF(as.evacuation.weight_kg), HAS(as.evacuation.has_weight), 2,
     250, false},
    {RP_REC_EVACUATION, "mobility", OF(as.evacuation.mobility), NO_FLAG, 0, 3, false},
    {RP_REC_EVACUATION, "surface", OF(as.evacuation.surface), NO_FLAG, 0, 5, false},
    {RP_REC_EVACUATION, "slope_deg", OF(as.evacuation.slope_deg), HAS(as.evacuation.has_slope), 0,
     60, false},
    {RP_REC_EVACUATION, "wind_kmh", OF(as.evacuation.wind_kmh), HAS(as.evacuation.has_wind), 0, 250,
     false},
    {RP_REC_EVACUATION, "wind_from_deg", OF(as.evacuation.wind_from_deg),
     HAS(as.evacuation.has_wind_dir), 0, 359, false},
    {RP_REC_EVACUATION, "gust_kmh", OF(as.evacuation.gust_kmh), HAS(as.evacuation.has_gust), 0, 250,
     false},
    {RP_REC_EVACUATION, "temp_c", OF(as.evacuation.temp_c), HAS(as.evacuation.has_temp), -70, 50,
     false},
    {RP_REC_EVACUATION, "visibility_m", OF(as.evacuation.visibility_m),
     HAS(as.evacuation.has_visibility), 0, 50000, false},
    {RP_REC_EVACUATION, "cloud_base_m", OF(as.evacuation.cloud_base_m),
     HAS(as.evacuation.has_cloud_base), 0, 12000, false},
    {RP_REC_EVACUATION, "needs", OF(as.evacuation.needs), HAS(as.evacuation.has_needs), 0, 15,
     false},
    {RP_REC_EVACUATION, "party", OF(as.evacuation.party), HAS(as.evacuation.has_party), 0, 100,
     false},
    {RP_REC_EVACUATION, "site.lat_e6", OF(as.evacuation.site.lat_e6),
     HAS(as.evacuation.site.present), -90000000, 90000000, false},
    {RP_REC_EVACUATION, "revises", OF(as.evacuation.revises.seq), NO_FLAG, 0, 2097151, false},
    {RP_REC_EVACUATION, "conscious_from", OF(as.evacuation.conscious_from.seq), NO_FLAG, 0, 2097151,
     false},
    {RP_REC_EVAC_CANCEL, "request", OF(as.evac_cancel.request.seq), NO_FLAG, 1, 2097151, false},
    {RP_REC_READBACK, "about", OF(as.readback.about.seq), NO_FLAG, 1, 2097151, false},
    {RP_REC_CORRECTION, "about", OF(as.correction.about.seq), NO_FLAG, 1, 2097151, false},
    {RP_REC_CLOSE, "outcome", OF(as.close.outcome), NO_FLAG, 0, 5, false},
    {RP_REC_CLOCK, "reason", OF(as.clock.reason), NO_FLAG, 0, 2, false},
    {RP_REC_TREATMENT, "flags", OF(as.treatment.flags), NO_FLAG, 0, 127, false},
    {RP_REC_ALARM, "action", OF(as.alarm.action), NO_FLAG, 0, 1, false},
    {RP_REC_ALARM, "rule", OF(as.alarm.rule), NO_FLAG, 1, 255, false},
    {RP_REC_PUMPING, "strokes", OF(as.pumping.strokes), NO_FLAG, 1, 3000, false},
    {RP_REC_PUMPING, "spell_s", OF(as.pumping.spell_s), NO_FLAG, 0, 3600, false},
    {RP_REC_STOCK, "left_milli", OF(as.stock.left_milli), NO_FLAG, 0, 10000000, false},
    {RP_REC_STOCK, "unit", OF(as.stock.unit), NO_FLAG, 0, 7, false},
    {RP_REC_FLUIDS, "urine_ml", VALUE(as.fluids.urine_ml), 0, 3000, IS_VALUE},
    {RP_REC_FLUIDS, "drunk_ml", VALUE(as.fluids.drunk_ml), 0, 5000, IS_VALUE},
    {RP_REC_FLUIDS, "span_min", OF(as.fluids.span_min), HAS(as.fluids.has_span), 1, 1440, false},
};

static void store(struct rp_record *record, size_t at, size_t size, int64_t value)
{
    uint64_t bits = (uint64_t)value;
    for (size_t i = 0; i < size; i++) { /* little endian, as every machine this is tested on */
        ((uint8_t *)record)[at + i] = (uint8_t)(bits >> (8 * i));
    }
}

static void base_record(size_t row, struct rp_record *record)
{
    memset(record, 0, sizeof *record);
    record->kind = bounds[row].kind;
    record->episode.number = 1;
    record->as.chamber.session = record->kind == RP_REC_CHAMBER ? 1 : record->as.chamber.session;
    record->as.alarm.rule = record->kind == RP_REC_ALARM ? 1 : record->as.alarm.rule;
    record->as.pumping.strokes = record->kind == RP_REC_PUMPING ? 1 : record->as.pumping.strokes;
    if (record->kind == RP_REC_CORRECTION || record->kind == RP_REC_READBACK) {
        record->as.readback.about.seq = 1; /* first member of both */
    }
    if (bounds[row].has_at != 0) {
        store(record, bounds[row].has_at, bounds[row].is_value ? 4 : 1,
              bounds[row].is_value ? RP_MEASURED : 1);
    }
}

static void edge_is(size_t row, int64_t value, bool legal)
{
    struct rp_record record, want, got;
    uint8_t buf[RP_RECORD_LEN_MAX];
    const char *field = "nothing";
    base_record(row, &record);
    store(&record, bounds[row].at, bounds[row].size, value);
    int len = rp_record_encode(&record, buf, sizeof buf, &field);
    if (legal) {
        assert_true(len > 0);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        record_expected(&record, RIDGE, &want);
        assert_memory_equal(&want, &got, sizeof want);
    } else {
        assert_int_equal(len, RP_E_INVALID);
        assert_string_equal(field, bounds[row].name);
    }
}

static bool fits(size_t row, int64_t value)
{
    bool is_signed = bounds[row].is_value || bounds[row].low < 0;
    int64_t span = INT64_C(1) << (8 * bounds[row].size - (is_signed ? 1 : 0));
    return value < span && value >= (is_signed ? -span : 0);
}

static void numbers_hold_at_both_edges(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof bounds / sizeof bounds[0]; i++) {
        edge_is(i, bounds[i].low, true);
        edge_is(i, bounds[i].high, true);
        if (fits(i, bounds[i].low - 1)) {
            edge_is(i, bounds[i].low - 1, false);
        }
        if (fits(i, bounds[i].high + 1)) {
            edge_is(i, bounds[i].high + 1, false);
        }
    }
}

/* Texts: the longest fits; without its NUL it is refused by name. */
static void texts_hold_at_their_edge(void **state)
{
    (void)state;
    static const struct {
        enum rp_record_kind kind;
        const char *name;
        size_t at, size;
    } texts[] = {
        {RP_REC_NOTE, "by", OF(by)},
        {RP_REC_NOTE, "text", OF(as.note.text)},
        {RP_REC_STATION, "callsign", OF(as.station.callsign)},
        {RP_REC_EPISODE, "patient", OF(as.opened.patient)},
        {RP_REC_TREATMENT, "checker", OF(as.treatment.checker)},
        {RP_REC_EVACUATION, "fallback", OF(as.evacuation.fallback)},
        {RP_REC_HANDOVER, "team", OF(as.handover.team)},
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct rp_record record;
        uint8_t buf[RP_RECORD_LEN_MAX];
        const char *field = "nothing";
        memset(&record, 0, sizeof record);
        record.kind = texts[i].kind;
        record.episode.number = 1;
        memset((uint8_t *)&record + texts[i].at, 'x', texts[i].size - 1);
        assert_true(rp_record_encode(&record, buf, sizeof buf, &field) > 0);
        ((uint8_t *)&record)[texts[i].at + texts[i].size - 1] = 'x';
        assert_int_equal(rp_record_encode(&record, buf, sizeof buf, &field), RP_E_TOO_LONG);
        assert_string_equal(field, texts[i].name);
        ((uint8_t *)&record)[texts[i].at + texts[i].size - 1] = '\0';
        ((uint8_t *)&record)[texts[i].at] = 0x1b;
        assert_int_equal(rp_record_encode(&record, buf, sizeof buf, &field), RP_E_INVALID);
        assert_string_equal(field, texts[i].name);
    }
}

static int encode(const struct rp_record *record, const char **out_field)
{
    uint8_t buf[RP_RECORD_LEN_MAX];
    return rp_record_encode(record, buf, sizeof buf, out_field);
}

static void members_that_depend_on_each_other(void **state)
{
    (void)state;
    const char *field = NULL;
    struct rp_record r = {.kind = RP_REC_STATUS};
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    assert_string_equal(field, "episode");
    r.kind = RP_REC_EPISODE;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    r = (struct rp_record){.kind = RP_REC_NOTE, .episode = {RIDGE, 0}};
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    r.episode = (struct rp_episode_ref){100 << 9, 1};
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    r.episode = (struct rp_episode_ref){99 << 9, 1};
    assert_true(encode(&r, &field) > 0);
    r = (struct rp_record){.kind = RP_REC_BACKGROUND};
    r.as.background.allergies.state = RP_KNOWN;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    assert_string_equal(field, "allergies");
    r.as.background.allergies.state = (enum rp_asked)3;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    r = (struct rp_record){.kind = RP_REC_ANSWER};
    r.as.answer.kind = RP_ANS_REFUSED;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    assert_string_equal(field, "about");
    r.as.answer.kind = RP_ANS_ETA;
    assert_true(encode(&r, &field) > 0);
    r.as.answer.about.origin = RIDGE;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
}

/* The coma scale: all 120 combinations, none, unable, and what is neither. */
static void coma_scale_is_all_three_or_none(void **state)
{
    (void)state;
    const char *field = NULL;
    struct rp_record r, got;
    uint8_t buf[RP_RECORD_LEN_MAX];
    memset(&r, 0, sizeof r);
    r.kind = RP_REC_STATUS;
    r.episode = (struct rp_episode_ref){RIDGE, 1};
    struct rp_rec_status *s = &r.as.status;
    s->gcs_eye.state = s->gcs_verbal.state = s->gcs_motor.state = RP_MEASURED;
    for (int i = 0; i < 6 * 7 * 8; i++) {
        int eye = i % 6, verbal = i / 6 % 7, motor = i / 42;
        s->gcs_eye.value = (int16_t)eye;
        s->gcs_verbal.value = (int16_t)verbal;
        s->gcs_motor.value = (int16_t)motor;
        int len = rp_record_encode(&r, buf, sizeof buf, &field);
        bool legal = eye >= 1 && eye <= 4 && verbal >= 1 && verbal <= 5 && motor >= 1 && motor <= 6;
        assert_int_equal(len > 0, legal);
        if (legal) {
            assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
            assert_memory_equal(&got, &r, sizeof r);
        } else {
            assert_int_equal(len, RP_E_INVALID);
            assert_string_equal(field, "gcs_eye");
        }
    }
    s->gcs_eye.value = s->gcs_verbal.value = s->gcs_motor.value = 1;
    s->gcs_verbal.state = RP_UNABLE;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
    s->gcs_verbal.state = RP_NOT_MEASURED;
    assert_int_equal(encode(&r, &field), RP_E_INVALID);
}

/* The tables themselves: a digit's radix holds all its values, and the numbers fit their fields. */
static void tables_leave_room(void **state)
{
    (void)state;
    for (int kind = 1; kind <= RP_REC_LAST; kind++) {
        struct rp_digits largest = {{0}};
        const struct rp_row_table *table = &rp_record_rows[kind];
        for (size_t i = table->count; i-- > 0;) {
            const struct rp_row *row = &table->rows[i];
            if (row->field != 0) {
                continue;
            }
            int64_t step = row->step > 0 ? row->step : 1;
            int64_t low = row->has_at != 0 || row->type == RP_ROW_VALUE ? row->min : 0;
            int64_t codes =
                (row->max - low) / step + 1 + (row->has_at != 0) + 2 * (row->type == RP_ROW_VALUE);
            assert_true(codes <= row->radix);
            assert_true(rp_digits_push(&largest, row->radix, (uint16_t)(row->radix - 1)));
        }
        size_t len_max = kind == RP_REC_STATUS ? 16 : kind == RP_REC_EVACUATION ? 13 : 8;
        assert_true(rp_digits_len(&largest) <= len_max);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_hold_at_both_edges),
        cmocka_unit_test(texts_hold_at_their_edge),
        cmocka_unit_test(members_that_depend_on_each_other),
        cmocka_unit_test(coma_scale_is_all_three_or_none),
        cmocka_unit_test(tables_leave_room),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
