#include "dump.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct out {
    char *text;
    uint32_t now_s;
};

static void put(struct out *out, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void put(struct out *out, const char *format, ...)
{
    size_t len = strlen(out->text);
    va_list args;
    va_start(args, format);
    if (len > 0) {
        len += (size_t)snprintf(out->text + len, DUMP_LEN - len, " ");
    }
    vsnprintf(out->text + len, DUMP_LEN - len, format, args);
    va_end(args);
}

static void value(struct out *out, const char *name, struct rp_value value)
{
    if (value.state == RP_MEASURED) {
        put(out, "%s=%d", name, value.value);
    } else if (value.state == RP_UNABLE) {
        put(out, "%s=unable", name);
    }
}

static void number(struct out *out, const char *name, bool has, long number)
{
    if (has) {
        put(out, "%s=%ld", name, number);
    }
}

static void text(struct out *out, const char *name, const char *text)
{
    if (text[0] != '\0') {
        put(out, "%s=\"%s\"", name, text);
    }
}

static void when(struct out *out, const char *name, bool has, uint32_t time_s)
{
    if (has) {
        put(out, "%s=now%+ld", name, (long)time_s - (long)out->now_s);
    }
}

static void finding(struct out *out, const char *name, enum rp_finding finding)
{
    if (finding != RP_FINDING_NOT_ASKED) {
        put(out, "%s=%s", name, finding == RP_FINDING_YES ? "yes" : "no");
    }
}

static void known(struct out *out, const char *name, const struct rp_known *known)
{
    if (known->state != RP_NOT_ASKED) {
        put(out, "%s=%s%s", name, known->state == RP_NONE_KNOWN ? "NONE" : "",
            known->state == RP_KNOWN ? known->text : "");
    }
}

static void position(struct out *out, const char *name, const struct rp_position *at)
{
    if (at->present) {
        put(out, "%s=%d,%d", name, (int)at->lat_e6, (int)at->lon_e6);
    }
}

static void altitude(struct out *out, const struct rp_altitude *altitude)
{
    if (altitude->present) {
        put(out, "altitude=%d/%u", altitude->metres, altitude->source);
    }
}

static void reference(struct out *out, const char *name, struct rp_record_ref ref)
{
    if (ref.origin != 0) {
        put(out, "%s=%u:%u", name, ref.origin >> 9, (unsigned)ref.seq);
    }
}

static void scores(struct out *out, const struct rp_lls_items *items)
{
    value(out, "headache", items->headache);
    value(out, "gut", items->gut);
    value(out, "fatigue", items->fatigue);
    value(out, "dizziness", items->dizziness);
}

static void opened(struct out *out, const struct rp_rec_episode *r)
{
    text(out, "patient", r->patient);
    number(out, "sex", r->sex != 0, r->sex);
    number(out, "age_y", r->has_age, r->age_y);
    number(out, "weight_kg", r->has_weight, r->weight_kg);
    when(out, "onset", r->has_onset, r->onset_s);
    number(out, "label", r->label != 0, r->label);
    text(out, "label_text", r->label_text);
    for (int i = 0; i < RP_CRIT_COUNT; i++) {
        char name[8];
        snprintf(name, sizeof name, "c%d", i);
        finding(out, name, r->criteria[i]);
    }
    scores(out, &r->lls);
    text(out, "first_sign", r->first_sign);
    when(out, "reached", r->has_reached, r->reached_s);
    altitude(out, &r->altitude);
    position(out, "position", &r->position);
}

static void background(struct out *out, const struct rp_rec_background *r)
{
    known(out, "allergies", &r->allergies);
    known(out, "medicines", &r->medicines);
    known(out, "history", &r->history);
    known(out, "last_meal", &r->last_meal);
    known(out, "contact", &r->contact);
}

static void status(struct out *out, const struct rp_rec_status *r)
{
    number(out, "condition", r->condition != 0, r->condition);
    number(out, "phase", r->phase != 0, r->phase);
    number(out, "elapsed_min", r->phase != 0, r->elapsed_min);
    number(out, "cycle", r->cycle != 0, r->cycle);
    number(out, "evac", r->evac_state != 0, r->evac_state);
    number(out, "mode", r->mode != 0, r->mode);
    number(out, "vitals_age_min", r->vitals_age_min != 0, r->vitals_age_min);
    value(out, "spo2", r->spo2_pct);
    value(out, "pulse", r->pulse_bpm);
    value(out, "resp", r->resp_rpm);
    value(out, "acvpu", r->acvpu);
    value(out, "airway", r->airway);
    value(out, "pain", r->pain);
    value(out, "eye", r->gcs_eye);
    value(out, "verbal", r->gcs_verbal);
    value(out, "motor", r->gcs_motor);
    value(out, "flow_dlpm", r->oxygen_flow_dlpm);
    value(out, "cylinder_bar", r->cylinder_bar);
    number(out, "pressure_age_min", r->pressure_age_min != 0, r->pressure_age_min);
    value(out, "systolic", r->systolic_mmhg);
    value(out, "diastolic", r->diastolic_mmhg);
    number(out, "temp_age_min", r->temp_age_min != 0, r->temp_age_min);
    value(out, "temp_dc", r->temp_dc);
    number(out, "site", r->temp_site != 0, r->temp_site);
    number(out, "score_age_min", r->score_age_min != 0, r->score_age_min);
    value(out, "lls", r->lls);
    value(out, "ataxia", r->ataxia);
    number(out, "next_min", r->next_min != 0, r->next_min);
}

static void treatment(struct out *out, const struct rp_rec_treatment *r)
{
    put(out, "kind=%u", r->kind);
    text(out, "name", r->name);
    number(out, "dose_milli", r->has_dose, (long)r->dose_milli);
    number(out, "unit", r->has_dose, r->dose_unit);
    number(out, "route", r->route != 0, r->route);
    number(out, "refused", r->refused, 1);
    text(out, "checker", r->checker);
    text(out, "text", r->text);
    number(out, "flags", r->flags != 0, r->flags);
    text(out, "confirmed", r->confirmed);
}

static void oxygen(struct out *out, const struct rp_rec_oxygen *r)
{
    put(out, "action=%u", r->action);
    number(out, "device", r->device != 0, r->device);
    value(out, "flow_dlpm", r->flow_dlpm);
    text(out, "cylinder", r->cylinder);
    value(out, "cylinder_bar", r->cylinder_bar);
    value(out, "water_dl", r->water_dl);
}

static void chamber(struct out *out, const struct rp_rec_chamber *r)
{
    put(out, "phase=%u session=%u", r->phase, r->session);
    number(out, "hold", r->hold_reason != 0, r->hold_reason);
    value(out, "gauge_dhpa", r->gauge_dhpa);
    value(out, "altimeter_m", r->altimeter_m);
    text(out, "text", r->text);
}

static void reassess(struct out *out, const struct rp_rec_reassess *r)
{
    put(out, "condition=%u", r->condition);
    number(out, "next", r->next != 0, r->next);
    scores(out, &r->lls);
    value(out, "functional", r->functional);
    finding(out, "mental", r->mental_change);
    finding(out, "walks", r->can_walk);
    value(out, "ataxia", r->ataxia);
    text(out, "text", r->text);
}

static void descent(struct out *out, const struct rp_rec_descent *r)
{
    put(out, "descending=%d", r->descending);
    number(out, "why_not", r->why_not != 0, r->why_not);
    number(out, "again_min", r->has_ask_again, r->ask_again_min);
    text(out, "text", r->text);
}

static void evacuation(struct out *out, const struct rp_rec_evacuation *r)
{
    reference(out, "revises", r->revises);
    put(out, "urgency=%u", r->urgency);
    number(out, "patients", r->has_patients, r->patients);
    number(out, "weight_kg", r->has_weight, r->weight_kg);
    number(out, "mobility", r->mobility != 0, r->mobility);
    finding(out, "conscious", r->conscious);
    reference(out, "conscious_from", r->conscious_from);
    finding(out, "oxygen", r->oxygen_needed);
    finding(out, "flat", r->lies_flat);
    finding(out, "marked", r->site_marked);
    position(out, "position", &r->position);
    altitude(out, &r->altitude);
    position(out, "site", &r->site);
    number(out, "length_m", r->has_site_size, r->site_length_m);
    number(out, "width_m", r->has_site_size, r->site_width_m);
    number(out, "surface", r->surface != 0, r->surface);
    number(out, "slope_deg", r->has_slope, r->slope_deg);
    text(out, "obstacles", r->obstacles);
    number(out, "wind_kmh", r->has_wind, r->wind_kmh);
    number(out, "from_deg", r->has_wind_dir, r->wind_from_deg);
    number(out, "gust_kmh", r->has_gust, r->gust_kmh);
    number(out, "temp_c", r->has_temp, r->temp_c);
    number(out, "visibility_m", r->has_visibility, (long)r->visibility_m);
    number(out, "cloud_m", r->has_cloud_base, r->cloud_base_m);
    text(out, "weather", r->weather);
    text(out, "hazards", r->hazards);
    text(out, "contact", r->ground_contact);
    number(out, "needs", r->has_needs, r->needs);
    number(out, "party", r->has_party, r->party);
    when(out, "daylight", r->has_daylight, r->daylight_end_s);
    known(out, "insurance", &r->insurance);
    text(out, "fallback", r->fallback);
}

static void others(struct out *out, const struct rp_record *record)
{
    switch (record->kind) {
    case RP_REC_NOTE:
        text(out, "text", record->as.note.text);
        break;
    case RP_REC_FLUIDS:
        value(out, "urine", record->as.fluids.urine_ml);
        value(out, "drunk", record->as.fluids.drunk_ml);
        number(out, "span_min", record->as.fluids.has_span, record->as.fluids.span_min);
        break;
    case RP_REC_EVAC_CANCEL:
        reference(out, "request", record->as.evac_cancel.request);
        text(out, "reason", record->as.evac_cancel.reason);
        break;
    case RP_REC_ANSWER:
        reference(out, "about", record->as.answer.about);
        put(out, "kind=%u", record->as.answer.kind);
        text(out, "whom", record->as.answer.whom);
        when(out, "eta", record->as.answer.has_eta, record->as.answer.eta_s);
        text(out, "text", record->as.answer.text);
        break;
    case RP_REC_READBACK:
        reference(out, "about", record->as.readback.about);
        text(out, "text", record->as.readback.text);
        break;
    case RP_REC_HANDOVER:
        text(out, "team", record->as.handover.team);
        text(out, "taken_by", record->as.handover.taken_by);
        number(out, "sheet", record->as.handover.has_sheet, (long)record->as.handover.sheet);
        text(out, "check", record->as.handover.sheet_check);
        text(out, "text", record->as.handover.text);
        break;
    case RP_REC_CORRECTION:
        reference(out, "about", record->as.correction.about);
        reference(out, "with", record->as.correction.replacement);
        text(out, "reason", record->as.correction.reason);
        break;
    case RP_REC_CLOSE:
        put(out, "outcome=%u", record->as.close.outcome);
        text(out, "text", record->as.close.text);
        break;
    default:
        put(out, "?");
        break;
    }
}

void dump_record(const struct rp_record *record, uint32_t now_s, char out_text[DUMP_LEN])
{
    struct out out = {out_text, now_s};
    out_text[0] = '\0';
    put(&out, "%d", record->kind);
    number(&out, "urgent", record->urgent, 1);
    number(&out, "ago_s", record->ago_s != 0, (long)record->ago_s);
    number(&out, "via", record->via != 0, record->via);
    text(&out, "by", record->by);
    switch (record->kind) {
    case RP_REC_EPISODE:
        opened(&out, &record->as.opened);
        break;
    case RP_REC_BACKGROUND:
        background(&out, &record->as.background);
        break;
    case RP_REC_STATUS:
        status(&out, &record->as.status);
        break;
    case RP_REC_TREATMENT:
        treatment(&out, &record->as.treatment);
        break;
    case RP_REC_OXYGEN:
        oxygen(&out, &record->as.oxygen);
        break;
    case RP_REC_CHAMBER:
        chamber(&out, &record->as.chamber);
        break;
    case RP_REC_REASSESS:
        reassess(&out, &record->as.reassess);
        break;
    case RP_REC_DESCENT:
        descent(&out, &record->as.descent);
        break;
    case RP_REC_EVACUATION:
        evacuation(&out, &record->as.evacuation);
        break;
    default:
        others(&out, record);
        break;
    }
}
