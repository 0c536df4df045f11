/* Illness, allergies, drugs, chamber, oxygen, fluids, background and silences as resources. */
#include <string.h>

#include "handover/data/fhir/write.h"

static void add_condition(struct rp_fhir *f, const char *code, const char *text, unsigned part)
{
    if (!rp_fhir_begin(f, "Condition", RP_FHIR_CONDITION, rp_fhir_episode_ref(f), part)) {
        return;
    }
    rp_fhir_concept(f, "verificationStatus",
                    "http://terminology.hl7.org/CodeSystem/condition-ver-status", "provisional",
                    f->texts->words[RP_TX_SUSPECTED]);
    /* ICD-10 T70.2: other and unspecified effects of high altitude (clinical references 5.2). */
    rp_fhir_concept(f, "code", "http://hl7.org/fhir/sid/icd-10", code, text);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    if (f->ep->opening.has_onset) {
        rp_fhir_time(f, "onsetDateTime", f->ep->opening.onset_s);
    }
    rp_fhir_time(f, "recordedDate", f->ep->opening_from.recorded_s);
    rp_fhir_end(f);
}

void rp_fhir_illness(struct rp_fhir *f)
{
    static const struct {
        uint8_t bit;
        enum rp_text_id word;
    } labels[] = {
        {RP_LABEL_HACE, RP_TX_HACE}, {RP_LABEL_HAPE, RP_TX_HAPE}, {RP_LABEL_AMS, RP_TX_AMS}};
    for (unsigned i = 0; f->ep->opened && i < sizeof labels / sizeof labels[0]; i++) {
        if ((f->ep->opening.label & labels[i].bit) != 0) {
            add_condition(f, "T70.2", f->texts->words[labels[i].word], i);
        }
    }
    const char *other = f->ep->opening.label_text;
    if (f->ep->opened && (f->ep->opening.label & RP_LABEL_OTHER) != 0) {
        add_condition(f, NULL, other[0] != '\0' ? other : f->texts->words[RP_TX_NOT_SAID], 9);
    }
}

static void add_allergy(struct rp_fhir *f, const struct rp_known *what,
                        const struct rp_source *from, unsigned part)
{
    bool wrong = from != NULL && from->voided;
    struct rp_record_ref ref = from != NULL ? from->ref : rp_fhir_episode_ref(f);
    if (what->state == RP_NOT_ASKED ||
        !rp_fhir_begin(f, "AllergyIntolerance", RP_FHIR_ALLERGY, ref, part)) {
        return;
    }
    if (!wrong) { /* the standard allows no clinical status for what was entered in error */
        rp_fhir_concept(f, "clinicalStatus",
                        "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical",
                        "active", NULL);
    }
    rp_fhir_concept(f, "verificationStatus",
                    "http://terminology.hl7.org/CodeSystem/allergyintolerance-verification",
                    wrong ? "entered-in-error" : "unconfirmed", NULL);
    if (what->state == RP_NONE_KNOWN) {
        rp_fhir_concept(f, "code", RP_FHIR_CODES, "no-known-allergy",
                        f->texts->words[RP_TX_NONE_KNOWN]);
    } else {
        rp_fhir_concept(f, "code", NULL, NULL, what->text);
    }
    rp_fhir_reference(f, "patient", RP_FHIR_PATIENT);
    if (from != NULL) {
        rp_fhir_time(f, "recordedDate", from->recorded_s);
        rp_fhir_note(f, from, "");
    }
    rp_fhir_end(f);
}

static bool begin_fact(struct rp_fhir *f, const char *code, enum rp_text_id name, unsigned part)
{
    if (!rp_fhir_begin(f, "Observation", RP_FHIR_FACT, rp_fhir_episode_ref(f), part)) {
        return false;
    }
    rp_json_text(&f->json, "status", "final");
    rp_fhir_concept(f, "code", RP_FHIR_CODES, code, f->texts->words[name]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    return true;
}

/* The answer in force, and every other that was ever given. */
void rp_fhir_allergies(struct rp_fhir *f)
{
    add_allergy(f, &f->ep->background.allergies, NULL, 0);
    for (unsigned i = 0; i < f->ep->known[RP_BG_ALLERGIES].count; i++) {
        const struct rp_known_entry *entry = &f->ep->known[RP_BG_ALLERGIES].at[i];
        add_allergy(f, &entry->what, &entry->from, i + 1);
    }
    /* With entries the section has no place for "not asked". */
    bool open = f->ep->background.allergies.state == RP_NOT_ASKED &&
                f->ep->known[RP_BG_ALLERGIES].count > 0;
    if (open && begin_fact(f, "allergies-not-asked", RP_TX_F_ALLERGIES, 5)) {
        rp_fhir_absent(f, "not-asked", f->texts->words[RP_TX_NOT_ASKED_LOUD]);
        rp_fhir_end(f);
    }
}

static void add_dosage(struct rp_fhir *f, const struct rp_rec_treatment *what)
{
    static const char *const ucum[] = {"1", "mg", "g", "ug", "mL", "{tablet}", "{puff}", "[iU]"};
    bool known_unit = what->dose_unit < sizeof ucum / sizeof ucum[0];
    if (!what->has_dose || !known_unit) { /* a dosage must have a dose */
        return;
    }
    rp_json_object(&f->json, "dosage");
    if (what->route != RP_ROUTE_UNSAID) {
        rp_fhir_concept(
            f, "route", NULL, NULL,
            f->texts->words[rp_text_pick(RP_TX_ROUTE_UNSAID, RP_TX_ROUTE_TOPICAL, what->route)]);
    }
    rp_fhir_quantity(f, "dose", what->dose_milli, 3, ucum[what->dose_unit]);
    rp_json_end_object(&f->json);
}

static void add_dose(struct rp_fhir *f, const struct rp_dose *dose)
{
    const struct rp_rec_treatment *what = &dose->what;
    if (!rp_fhir_begin(f, "MedicationAdministration", RP_FHIR_DOSE, dose->from.ref, 0)) {
        return;
    }
    rp_json_text(&f->json, "status",
                 dose->from.voided ? "entered-in-error"
                 : what->refused   ? "not-done"
                                   : "completed");
    if (what->refused) {
        rp_json_list(&f->json, "statusReason");
        rp_fhir_concept(f, NULL, NULL, NULL, f->texts->words[RP_TX_REFUSED_BY_PATIENT]);
        rp_json_end_list(&f->json);
    }
    rp_fhir_concept(f, "medicationCodeableConcept", NULL, NULL,
                    what->name[0] != '\0' ? what->name : f->texts->words[RP_TX_NOT_SAID]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_time(f, "effectiveDateTime", dose->from.happened_s);
    rp_fhir_note(f, &dose->from, what->has_dose ? what->text : f->texts->words[RP_TX_DOSE_UNKNOWN]);
    add_dosage(f, what);
    rp_fhir_end(f);
}

void rp_fhir_drugs(struct rp_fhir *f)
{
    for (size_t i = 0; i < f->ep->doses.count; i++) {
        add_dose(f, &f->ep->doses.at[i]);
    }
}

void rp_fhir_own_medicines(struct rp_fhir *f)
{
    const struct rp_known *medicines = &f->ep->background.medicines;
    if (medicines->state != RP_KNOWN ||
        !rp_fhir_begin(f, "MedicationStatement", RP_FHIR_STATEMENT, rp_fhir_episode_ref(f), 0)) {
        return;
    }
    rp_json_text(&f->json, "status", "unknown");
    rp_fhir_concept(f, "medicationCodeableConcept", NULL, NULL, medicines->text);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_end(f);
}

static void add_session(struct rp_fhir *f, const struct rp_session *session, unsigned part)
{
    if (!rp_fhir_begin(f, "Procedure", RP_FHIR_SESSION, rp_fhir_episode_ref(f), part)) {
        return;
    }
    uint32_t start_s = session->has_closed ? session->closed_s : session->at_pressure_s;
    bool inside = session->phase >= RP_PHASE_CLOSED && session->phase <= RP_PHASE_DEFLATING;
    rp_json_text(&f->json, "status",
                 session->has_out ? "completed"
                 : inside         ? "in-progress"
                                  : "unknown");
    rp_fhir_concept(f, "code", RP_FHIR_CODES, "chamber-session",
                    f->texts->words[RP_TX_FHIR_CHAMBER]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    if (session->has_closed || session->has_at_pressure || session->has_out) {
        rp_json_object(&f->json, "performedPeriod");
        if (session->has_closed || session->has_at_pressure) {
            rp_fhir_time(f, "start", start_s);
        }
        if (session->has_out) {
            rp_fhir_time(f, "end", session->out_s);
        }
        rp_json_end_object(&f->json);
    }
    char note[240];
    struct rp_textbuf out = rp_textbuf_on(note, sizeof note - 1);
    rp_textbuf_str(&out, f->texts->words[RP_TX_FHIR_MINUTES]);
    rp_textbuf_str(&out, " ");
    rp_textbuf_number(&out, session->at_pressure_total_s / 60, 0);
    if (session->gauge_dhpa.state == RP_MEASURED) {
        rp_textbuf_str(&out, "; ");
        rp_textbuf_str(&out, f->texts->words[RP_TX_FHIR_GAUGE]);
        rp_textbuf_str(&out, " ");
        rp_textbuf_number(&out, session->gauge_dhpa.value, 1);
    }
    note[out.len] = '\0';
    rp_json_list(&f->json, "note");
    rp_json_object(&f->json, NULL);
    rp_fhir_text(f, "text", note);
    rp_json_end_object(&f->json);
    rp_json_end_list(&f->json);
    rp_fhir_end(f);
}

/* LOINC 3151-8, L/min: clinical references 5.1. */
static void add_flow(struct rp_fhir *f, const struct rp_oxygen_entry *entry)
{
    if (!rp_fhir_begin(f, "Observation", RP_FHIR_FLOW, entry->from.ref, 0)) {
        return;
    }
    rp_json_text(&f->json, "status", entry->from.voided ? "entered-in-error" : "final");
    rp_fhir_concept(f, "code", RP_FHIR_LOINC, "3151-8", f->texts->words[RP_TX_W_OXYGEN]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_time(f, "effectiveDateTime", entry->from.happened_s);
    rp_fhir_note(
        f, &entry->from,
        f->texts->words[rp_text_pick(RP_TX_O2_START, RP_TX_O2_READING, entry->what.action)]);
    if (entry->what.flow_dlpm.state == RP_MEASURED) {
        rp_fhir_quantity(f, "valueQuantity", entry->what.flow_dlpm.value, 1, "L/min");
    } else {
        rp_fhir_absent(f, "unknown", f->texts->words[RP_TX_FLOW_UNKNOWN]);
    }
    rp_fhir_end(f);
}

/* A volume is of a stretch of time that ends when it was told. A LOINC code for urine stands in the
 * clinical references (5.1) from memory only, none for what was drunk: so these codes are ours. */
static void add_volume(struct rp_fhir *f, const struct rp_fluids_entry *entry,
                       struct rp_value volume_ml, const char *code, enum rp_text_id name,
                       unsigned part)
{
    if (volume_ml.state == RP_NOT_MEASURED ||
        !rp_fhir_begin(f, "Observation", RP_FHIR_VOLUME, entry->from.ref, part)) {
        return;
    }
    uint32_t end_s = entry->from.happened_s, span_s = entry->what.span_min * 60u;
    rp_json_text(&f->json, "status", entry->from.voided ? "entered-in-error" : "final");
    rp_fhir_concept(f, "code", RP_FHIR_CODES, code, f->texts->words[name]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    if (entry->what.has_span) {
        rp_json_object(&f->json, "effectivePeriod");
        rp_fhir_time(f, "start", end_s > span_s ? end_s - span_s : 0);
        rp_fhir_time(f, "end", end_s);
        rp_json_end_object(&f->json);
    } else {
        rp_fhir_time(f, "effectiveDateTime", end_s);
    }
    rp_fhir_note(f, &entry->from, "");
    if (volume_ml.state == RP_MEASURED) {
        rp_fhir_quantity(f, "valueQuantity", volume_ml.value, 0, "mL");
    } else {
        rp_fhir_absent(f, "unknown", f->texts->words[RP_TX_UNABLE]);
    }
    rp_fhir_end(f);
}

void rp_fhir_treatment(struct rp_fhir *f)
{
    for (unsigned i = 0; i < f->ep->sessions.count; i++) {
        add_session(f, &f->ep->sessions.at[i], i);
    }
    for (size_t i = 0; i < f->ep->oxygen.count; i++) {
        add_flow(f, &f->ep->oxygen.at[i]);
    }
    for (size_t i = 0; i < f->ep->fluids.count; i++) {
        const struct rp_fluids_entry *entry = &f->ep->fluids.at[i];
        add_volume(f, entry, entry->what.urine_ml, "urine-output", RP_TX_URINE, 0);
        add_volume(f, entry, entry->what.drunk_ml, "fluid-drunk", RP_TX_DRUNK, 1);
    }
}

static void add_known(struct rp_fhir *f, const char *code, enum rp_text_id name,
                      const struct rp_known *what, unsigned part)
{
    if (!begin_fact(f, code, name, part)) {
        return;
    }
    if (what->state == RP_NOT_ASKED) {
        rp_fhir_absent(f, "not-asked", f->texts->words[RP_TX_NOT_ASKED]);
    } else {
        rp_fhir_text(f, "valueString",
                     what->state == RP_KNOWN ? what->text : f->texts->words[RP_TX_NONE_KNOWN]);
    }
    rp_fhir_end(f);
}

/* What was written down, and who took the patient: texts of one record each. */
static void add_text(struct rp_fhir *f, const char *code, enum rp_text_id name,
                     const struct rp_source *from, const char *text)
{
    if (!rp_fhir_begin(f, "Observation", RP_FHIR_FACT, from->ref, 0)) {
        return;
    }
    rp_json_text(&f->json, "status", from->voided ? "entered-in-error" : "final");
    rp_fhir_concept(f, "code", RP_FHIR_CODES, code, f->texts->words[name]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_time(f, "effectiveDateTime", from->happened_s);
    if (text[strspn(text, " \t\r\n")] != '\0') {
        rp_fhir_text(f, "valueString", text);
    } else {
        rp_fhir_absent(f, "unknown", f->texts->words[RP_TX_NOT_SAID]);
    }
    rp_fhir_note(f, from, "");
    rp_fhir_end(f);
}

static void add_handover(struct rp_fhir *f, const struct rp_handover_entry *entry)
{
    char text[RP_NOTE_LEN * 2];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
    const struct rp_rec_handover *what = &entry->what;
    rp_textbuf_str(&out, what->team);
    rp_textbuf_str(&out, ", ");
    rp_textbuf_str(&out, what->taken_by);
    if (what->has_sheet) {
        rp_textbuf_str(&out, ", ");
        rp_textbuf_str(&out, f->texts->words[RP_TX_WITH_SHEET]);
        rp_textbuf_str(&out, " ");
        rp_textbuf_number(&out, what->sheet, 0);
        rp_textbuf_str(&out, " ");
        rp_textbuf_str(&out, what->sheet_check);
    }
    rp_textbuf_str(&out, what->text[0] != '\0' ? "; " : "");
    rp_textbuf_str(&out, what->text);
    text[out.len] = '\0';
    f->json.out->full = f->json.out->full || out.full;
    add_text(f, "taken-over", RP_TX_TAKEN_BY, &entry->from, text);
}

void rp_fhir_background(struct rp_fhir *f)
{
    const struct rp_rec_background *b = &f->ep->background;
    const struct rp_rec_episode *o = &f->ep->opening;
    add_known(f, "history", RP_TX_F_HISTORY, &b->history, 0);
    add_known(f, "last-meal", RP_TX_F_LAST_MEAL, &b->last_meal, 1);
    add_known(f, "contact", RP_TX_F_NEXT_OF_KIN, &b->contact, 2);
    if (begin_fact(f, "age", RP_TX_F_AGE, 3)) {
        if (f->ep->opened && o->has_age) {
            rp_fhir_quantity(f, "valueQuantity", o->age_y, 0, "a");
        } else {
            rp_fhir_absent(f, "not-asked", f->texts->words[RP_TX_NOT_ASKED]);
        }
        rp_fhir_end(f);
    }
    if (f->ep->opened && o->has_weight &&
        rp_fhir_begin(f, "Observation", RP_FHIR_FACT, rp_fhir_episode_ref(f), 4)) {
        rp_json_text(&f->json, "status", "final");
        rp_fhir_concept(f, "code", RP_FHIR_LOINC, "29463-7",
                        f->texts->words[RP_TX_F_PATIENT_WEIGHT]);
        rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
        rp_fhir_quantity(f, "valueQuantity", o->weight_kg, 0, "kg");
        rp_fhir_end(f);
    }
    for (size_t i = 0; i < f->ep->notes.count; i++) {
        const struct rp_note_entry *note = &f->ep->notes.at[i];
        add_text(f, "note", RP_TX_L_NOTES, &note->from, note->text);
    }
    for (size_t i = 0; i < f->ep->handovers.count; i++) {
        add_handover(f, &f->ep->handovers.at[i]);
    }
}

void rp_fhir_silences(struct rp_fhir *f)
{
    for (unsigned i = 0; i < f->facts->gap_count && i < RP_SHEET_GAPS_MAX; i++) {
        if (!rp_fhir_begin(f, "Observation", RP_FHIR_SILENCE, rp_fhir_episode_ref(f), i)) {
            continue;
        }
        rp_json_text(&f->json, "status", "final");
        rp_fhir_concept(f, "code", RP_FHIR_CODES, "no-report", f->texts->words[RP_TX_NO_REPORT]);
        rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
        rp_json_object(&f->json, "effectivePeriod");
        rp_fhir_time(f, "start", f->facts->gaps[i].from_s);
        rp_fhir_time(f, "end", f->facts->gaps[i].to_s);
        rp_json_end_object(&f->json);
        rp_fhir_absent(f, "unknown", f->texts->words[RP_TX_NO_REPORT]);
        rp_fhir_end(f);
    }
}
