#include "support_record.h"

#include <string.h>

#include "wire/frame.h"

struct maker {
    struct rp_rng *rng;
    unsigned fill_pct;
};

static bool set(struct maker *m)
{
    return rp_rng_below(m->rng, 100) < m->fill_pct;
}

/* Uniform, but the edges often. */
static int64_t pick(struct maker *m, int64_t low, int64_t high)
{
    switch (rp_rng_below(m->rng, 8)) {
    case 0:
        return low;
    case 1:
        return high;
    default:
        return rp_rng_between(m->rng, low, high);
    }
}

#define CHOICE(m, member, high) ((member) = set(m) ? (uint8_t)pick(m, 0, high) : 0)

static enum rp_finding finding(struct maker *m)
{
    return set(m) ? (enum rp_finding)pick(m, 0, 2) : RP_FINDING_NOT_ASKED;
}

static void value(struct maker *m, struct rp_value *out, int low, int high)
{
    if (set(m)) {
        bool unable = rp_rng_below(m->rng, 5) == 0;
        out->state = unable ? RP_UNABLE : RP_MEASURED;
        out->value = unable ? 0 : (int16_t)pick(m, low, high);
    }
}

static void text(struct maker *m, char *out, size_t len_max)
{
    static const char *const parts[] = {
        "a", "Z", "7", " ", "-", "\xc3\xb8", "\xe2\x82\x82", "\xf0\x9f\x8f\x94"};
    size_t len = 0, want = set(m) ? (size_t)pick(m, 1, (int64_t)len_max) : 0;
    for (;;) {
        const char *part = parts[rp_rng_below(m->rng, 8)];
        if (len + strlen(part) > want) {
            return;
        }
        memcpy(out + len, part, strlen(part));
        len += strlen(part);
    }
}

static void known(struct maker *m, struct rp_known *out)
{
    out->state = set(m) ? (enum rp_asked)pick(m, 0, 2) : RP_NOT_ASKED;
    if (out->state == RP_KNOWN) {
        strcpy(out->text, "x");
        text(m, out->text + 1, RP_LINE_LEN - 1);
    }
}

static uint16_t origin(struct maker *m)
{
    return rp_origin_make((uint8_t)pick(m, 1, 99), (uint16_t)pick(m, 0, 511));
}

static void reference(struct maker *m, struct rp_record_ref *out, bool must)
{
    if (must || set(m)) {
        out->seq = (uint32_t)pick(m, 1, 2097151);
        out->origin = set(m) ? origin(m) : 0;
    }
}

static void position(struct maker *m, struct rp_position *out)
{
    if (set(m)) {
        out->present = true;
        out->lat_e6 = (int32_t)pick(m, -90000000, 90000000);
        out->lon_e6 = (int32_t)pick(m, -180000000, 180000000);
        out->has_accuracy = set(m);
        out->accuracy_m = out->has_accuracy ? (uint16_t)pick(m, 0, 65535) : 0;
    }
}

static void altitude(struct maker *m, struct rp_altitude *out)
{
    if (set(m)) {
        out->present = true;
        out->metres = (int16_t)pick(m, -450, 8900);
        out->source = (uint8_t)pick(m, 0, 3);
    }
}

static void score_items(struct maker *m, struct rp_lls_items *out)
{
    value(m, &out->headache, 0, 3);
    value(m, &out->gut, 0, 3);
    value(m, &out->fatigue, 0, 3);
    value(m, &out->dizziness, 0, 3);
}

#define MAYBE(m, flag, member, low, high)                                                          \
    do {                                                                                           \
        if (set(m)) {                                                                              \
            (flag) = true;                                                                         \
            (member) = (__typeof__(member))pick(m, low, high);                                     \
        }                                                                                          \
    } while (0)

static void make_station(struct maker *m, struct rp_record *record)
{
    struct rp_rec_station *r = &record->as.station;
    CHOICE(m, r->role, 2);
    text(m, r->name, 24);
    text(m, r->callsign, 24);
    altitude(m, &r->altitude);
    position(m, &r->position);
}

static void make_episode(struct maker *m, struct rp_record *record)
{
    struct rp_rec_episode *r = &record->as.opened;
    text(m, r->patient, 24);
    CHOICE(m, r->sex, 3);
    MAYBE(m, r->has_age, r->age_y, 0, 110);
    MAYBE(m, r->has_weight, r->weight_kg, 2, 250);
    MAYBE(m, r->has_onset, r->onset_s, 0, UINT32_MAX);
    MAYBE(m, r->has_reached, r->reached_s, 0, UINT32_MAX);
    CHOICE(m, r->label, 15);
    text(m, r->label_text, 120);
    for (size_t i = 0; i < RP_CRIT_COUNT; i++) {
        r->criteria[i] = finding(m);
    }
    score_items(m, &r->lls);
    text(m, r->first_sign, 120);
    altitude(m, &r->altitude);
    position(m, &r->position);
}

static void make_background(struct maker *m, struct rp_record *record)
{
    struct rp_rec_background *r = &record->as.background;
    known(m, &r->allergies);
    known(m, &r->medicines);
    known(m, &r->history);
    known(m, &r->last_meal);
    known(m, &r->contact);
}

static void make_status(struct maker *m, struct rp_record *record)
{
    struct rp_rec_status *r = &record->as.status;
    CHOICE(m, r->condition, 6);
    CHOICE(m, r->phase, 6);
    r->elapsed_min = set(m) ? (uint16_t)pick(m, 0, 1100) : 0;
    CHOICE(m, r->cycle, 20);
    CHOICE(m, r->evac_state, 7);
    CHOICE(m, r->mode, 4);
    r->vitals_age_min = set(m) ? (uint16_t)pick(m, 0, 1500) : 0;
    r->pressure_age_min = set(m) ? (uint16_t)pick(m, 0, 1500) : 0;
    r->temp_age_min = set(m) ? (uint16_t)pick(m, 0, 65535) : 0;
    r->score_age_min = set(m) ? (uint16_t)pick(m, 0, 400) : 0;
    value(m, &r->spo2_pct, 0, 100);
    value(m, &r->pulse_bpm, 0, 300);
    value(m, &r->resp_rpm, 0, 90);
    value(m, &r->acvpu, 0, 4);
    value(m, &r->gcs_eye, 1, 4);
    r->gcs_verbal.state = r->gcs_motor.state = r->gcs_eye.state;
    if (r->gcs_eye.state == RP_MEASURED) {
        r->gcs_verbal.value = (int16_t)pick(m, 1, 5);
        r->gcs_motor.value = (int16_t)pick(m, 1, 6);
    }
    value(m, &r->oxygen_flow_dlpm, 0, 250);
    value(m, &r->cylinder_bar, 0, 350);
    CHOICE(m, r->next_min, 120);
    value(m, &r->systolic_mmhg, 30, 300);
    value(m, &r->diastolic_mmhg, 10, 200);
    value(m, &r->temp_dc, 100, 450);
    CHOICE(m, r->temp_site, 3);
    value(m, &r->lls, 0, 12);
    value(m, &r->ataxia, 0, 4);
    value(m, &r->airway, 0, 4);
    value(m, &r->pain, 0, 10);
}

static void make_treatment(struct maker *m, struct rp_record *record)
{
    struct rp_rec_treatment *r = &record->as.treatment;
    CHOICE(m, r->kind, 2);
    text(m, r->name, 24);
    MAYBE(m, r->has_dose, r->dose_milli, 1, 10000000);
    CHOICE(m, r->dose_unit, 7);
    CHOICE(m, r->route, 9);
    r->refused = set(m);
    text(m, r->checker, 24);
    text(m, r->text, 120);
    CHOICE(m, r->flags, 127);
    text(m, r->confirmed, 24);
}

static void make_oxygen(struct maker *m, struct rp_record *record)
{
    struct rp_rec_oxygen *r = &record->as.oxygen;
    CHOICE(m, r->action, 3);
    CHOICE(m, r->device, 3);
    value(m, &r->flow_dlpm, 0, 250);
    text(m, r->cylinder, 24);
    value(m, &r->cylinder_bar, 0, 350);
    value(m, &r->water_dl, 5, 500);
}

static void make_chamber(struct maker *m, struct rp_record *record)
{
    struct rp_rec_chamber *r = &record->as.chamber;
    CHOICE(m, r->phase, 6);
    r->session = (uint8_t)pick(m, 1, 255);
    CHOICE(m, r->hold_reason, 6);
    value(m, &r->gauge_dhpa, 0, 3000);
    value(m, &r->altimeter_m, -450, 8900);
    text(m, r->text, 120);
}

static void make_reassess(struct maker *m, struct rp_record *record)
{
    struct rp_rec_reassess *r = &record->as.reassess;
    CHOICE(m, r->condition, 6);
    CHOICE(m, r->next, 4);
    score_items(m, &r->lls);
    value(m, &r->functional, 0, 3);
    r->mental_change = finding(m);
    r->can_walk = finding(m);
    value(m, &r->ataxia, 0, 4);
    text(m, r->text, 120);
}

static void make_descent(struct maker *m, struct rp_record *record)
{
    struct rp_rec_descent *r = &record->as.descent;
    r->descending = set(m);
    CHOICE(m, r->why_not, 6);
    MAYBE(m, r->has_ask_again, r->ask_again_min, 1, 1440);
    MAYBE(m, r->has_way, r->way_min, 1, 2880);
    text(m, r->text, 120);
}

static void make_note(struct maker *m, struct rp_record *record)
{
    text(m, record->as.note.text, 1000);
}

static void make_evacuation(struct maker *m, struct rp_record *record)
{
    struct rp_rec_evacuation *r = &record->as.evacuation;
    reference(m, &r->revises, false);
    CHOICE(m, r->urgency, 4);
    MAYBE(m, r->has_patients, r->patients, 1, 50);
    MAYBE(m, r->has_weight, r->weight_kg, 2, 250);
    CHOICE(m, r->mobility, 3);
    r->conscious = finding(m);
    reference(m, &r->conscious_from, false);
    r->oxygen_needed = finding(m);
    r->lies_flat = finding(m);
    r->site_marked = finding(m);
    position(m, &r->position);
    altitude(m, &r->altitude);
    position(m, &r->site);
    MAYBE(m, r->has_site_size, r->site_length_m, 1, 1000);
    r->site_width_m = r->has_site_size ? (uint16_t)pick(m, 1, 1000) : 0;
    CHOICE(m, r->surface, 5);
    MAYBE(m, r->has_slope, r->slope_deg, 0, 60);
    text(m, r->obstacles, 120);
    MAYBE(m, r->has_wind, r->wind_kmh, 0, 250);
    MAYBE(m, r->has_wind_dir, r->wind_from_deg, 0, 359);
    MAYBE(m, r->has_gust, r->gust_kmh, 0, 250);
    MAYBE(m, r->has_temp, r->temp_c, -70, 50);
    MAYBE(m, r->has_visibility, r->visibility_m, 0, 50000);
    MAYBE(m, r->has_cloud_base, r->cloud_base_m, 0, 12000);
    text(m, r->weather, 120);
    text(m, r->hazards, 120);
    text(m, r->ground_contact, 120);
    MAYBE(m, r->has_needs, r->needs, 0, 15);
    MAYBE(m, r->has_party, r->party, 0, 100);
    MAYBE(m, r->has_daylight, r->daylight_end_s, 0, UINT32_MAX);
    known(m, &r->insurance);
    text(m, r->fallback, 120);
}

static void make_evac_cancel(struct maker *m, struct rp_record *record)
{
    reference(m, &record->as.evac_cancel.request, true);
    text(m, record->as.evac_cancel.reason, 120);
}

static void make_answer(struct maker *m, struct rp_record *record)
{
    struct rp_rec_answer *r = &record->as.answer;
    r->kind = (uint8_t)pick(m, 1, 7);
    reference(m, &r->about, r->kind <= 4);
    text(m, r->whom, 24);
    MAYBE(m, r->has_eta, r->eta_s, 0, UINT32_MAX);
    text(m, r->text, 120);
}

static void make_readback(struct maker *m, struct rp_record *record)
{
    reference(m, &record->as.readback.about, true);
    text(m, record->as.readback.text, 120);
}

static void make_receipt(struct maker *m, struct rp_record *record)
{
    struct rp_rec_receipt *r = &record->as.receipt;
    r->count = (uint8_t)pick(m, 1, 12);
    for (size_t i = 0; i < r->count; i++) {
        struct rp_receipt_entry *e = &r->entries[i];
        e->origin = origin(m);
        e->upto = (uint32_t)pick(m, 0, 2097151);
        if (e->upto < 2097150 && set(m)) {
            e->also_first = (uint32_t)pick(m, e->upto + 2, 2097151);
            e->also_last = (uint32_t)pick(m, e->also_first, 2097151);
        }
    }
}

static void make_handover(struct maker *m, struct rp_record *record)
{
    struct rp_rec_handover *r = &record->as.handover;
    text(m, r->team, 24);
    text(m, r->taken_by, 24);
    MAYBE(m, r->has_sheet, r->sheet, 0, UINT32_MAX);
    text(m, r->sheet_check, 24);
    text(m, r->text, 120);
}

static void make_correction(struct maker *m, struct rp_record *record)
{
    reference(m, &record->as.correction.about, true);
    reference(m, &record->as.correction.replacement, false);
    text(m, record->as.correction.reason, 120);
}

static void make_close(struct maker *m, struct rp_record *record)
{
    CHOICE(m, record->as.close.outcome, 5);
    text(m, record->as.close.text, 120);
}

static void make_clock(struct maker *m, struct rp_record *record)
{
    CHOICE(m, record->as.clock.reason, 2);
    record->as.clock.offset_s = set(m) ? (int32_t)pick(m, INT32_MIN, INT32_MAX) : 0;
    record->as.clock.synced = set(m);
}

static void make_alarm(struct maker *m, struct rp_record *record)
{
    struct rp_rec_alarm *r = &record->as.alarm;
    CHOICE(m, r->action, 1);
    r->rule = (uint8_t)pick(m, 1, 255);
    CHOICE(m, r->subject, 255);
    MAYBE(m, r->has_about, r->about_s, 0, UINT32_MAX);
    MAYBE(m, r->has_until, r->until_s, 0, UINT32_MAX);
    text(m, r->text, 120);
}

static void make_pumping(struct maker *m, struct rp_record *record)
{
    struct rp_rec_pumping *r = &record->as.pumping;
    text(m, r->pumper, 24);
    r->strokes = (uint16_t)pick(m, 1, 3000);
    r->spell_s = set(m) ? (uint16_t)pick(m, 0, 3600) : 0;
}

static void make_stock(struct maker *m, struct rp_record *record)
{
    struct rp_rec_stock *r = &record->as.stock;
    text(m, r->name, 24);
    r->left_milli = set(m) ? (uint32_t)pick(m, 0, 10000000) : 0;
    CHOICE(m, r->unit, 7);
}

static void make_fluids(struct maker *m, struct rp_record *record)
{
    struct rp_rec_fluids *r = &record->as.fluids;
    value(m, &r->urine_ml, 0, 3000);
    value(m, &r->drunk_ml, 0, 5000);
    MAYBE(m, r->has_span, r->span_min, 1, 1440);
}

void record_random(struct rp_rng *rng, enum rp_record_kind kind, unsigned fill_pct,
                   struct rp_record *out_record)
{
    static void (*const makers[])(struct maker *, struct rp_record *) = {
        [RP_REC_STATION] = make_station,       [RP_REC_EPISODE] = make_episode,
        [RP_REC_BACKGROUND] = make_background, [RP_REC_STATUS] = make_status,
        [RP_REC_TREATMENT] = make_treatment,   [RP_REC_OXYGEN] = make_oxygen,
        [RP_REC_CHAMBER] = make_chamber,       [RP_REC_REASSESS] = make_reassess,
        [RP_REC_DESCENT] = make_descent,       [RP_REC_NOTE] = make_note,
        [RP_REC_EVACUATION] = make_evacuation, [RP_REC_EVAC_CANCEL] = make_evac_cancel,
        [RP_REC_ANSWER] = make_answer,         [RP_REC_READBACK] = make_readback,
        [RP_REC_RECEIPT] = make_receipt,       [RP_REC_HANDOVER] = make_handover,
        [RP_REC_CORRECTION] = make_correction, [RP_REC_CLOSE] = make_close,
        [RP_REC_CLOCK] = make_clock,           [RP_REC_ALARM] = make_alarm,
        [RP_REC_PUMPING] = make_pumping,       [RP_REC_STOCK] = make_stock,
        [RP_REC_FLUIDS] = make_fluids,
    };
    struct maker m = {rng, fill_pct};
    memset(out_record, 0, sizeof *out_record);
    out_record->kind = kind;
    out_record->urgent = set(&m);
    out_record->exercise = set(&m);
    out_record->unsynced = set(&m);
    out_record->time_s = (uint32_t)pick(&m, 0, UINT32_MAX);
    out_record->ago_s = set(&m) ? (uint32_t)pick(&m, 0, 604800) : 0;
    bool must = kind == RP_REC_STATUS || kind == RP_REC_EPISODE;
    out_record->episode.number = must || set(&m) ? (uint8_t)pick(&m, 1, 255) : 0;
    out_record->episode.origin = out_record->episode.number > 0 && set(&m) ? origin(&m) : 0;
    CHOICE(&m, out_record->via, 2);
    text(&m, out_record->by, 24);
    makers[kind](&m, out_record);
}

/* The steps, from PROTOCOL.md "Ages". */
static uint16_t age_rounded(uint16_t age_min, const uint16_t *steps, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (age_min <= steps[i]) {
            return steps[i];
        }
    }
    return steps[count - 1];
}

static void expected_status(struct rp_rec_status *s)
{
    static const uint16_t fine[] = {0,   1,   2,   3,   4,   5,   6,   8,   10,   12,  15,
                                    18,  20,  25,  30,  35,  40,  45,  50,  60,   75,  90,
                                    120, 150, 180, 240, 300, 360, 480, 720, 1080, 1440};
    static const uint16_t coarse[] = {0, 5, 15, 30, 60, 120, 360, 1440};
    s->elapsed_min = s->elapsed_min > 1023 ? 1023 : s->elapsed_min;
    s->cycle = s->cycle > 15 ? 15 : s->cycle;
    s->vitals_age_min = age_rounded(s->vitals_age_min, fine, 32);
    s->pressure_age_min = age_rounded(s->pressure_age_min, coarse, 8);
    s->temp_age_min = age_rounded(s->temp_age_min, coarse, 8);
    s->score_age_min = age_rounded(s->score_age_min, coarse, 8);
    s->oxygen_flow_dlpm.value = (int16_t)((s->oxygen_flow_dlpm.value + 2) / 5 * 5);
}

static void fill_in(struct rp_record_ref *ref, uint16_t own)
{
    if (ref->seq > 0 && ref->origin == 0) {
        ref->origin = own;
    }
}

void record_expected(const struct rp_record *record, uint16_t own, struct rp_record *out_record)
{
    *out_record = *record;
    if (record->episode.number > 0 && record->episode.origin == 0) {
        out_record->episode.origin = own;
    }
    switch (record->kind) {
    case RP_REC_STATUS:
        expected_status(&out_record->as.status);
        break;
    case RP_REC_EVACUATION:
        fill_in(&out_record->as.evacuation.revises, own);
        fill_in(&out_record->as.evacuation.conscious_from, own);
        break;
    case RP_REC_EVAC_CANCEL:
        fill_in(&out_record->as.evac_cancel.request, own);
        break;
    case RP_REC_ANSWER:
        fill_in(&out_record->as.answer.about, own);
        break;
    case RP_REC_READBACK:
        fill_in(&out_record->as.readback.about, own);
        break;
    case RP_REC_CORRECTION:
        fill_in(&out_record->as.correction.about, own);
        fill_in(&out_record->as.correction.replacement, own);
        break;
    default:
        break;
    }
}
