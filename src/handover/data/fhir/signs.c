/* Observations: one for each value of each set, and one without a value for each sign that was
 * never taken. */
#include <string.h>

#include "handover/data/fhir/write.h"

#define NO_TEXT RP_TX_NONE

struct sign {
    size_t offset;
    const char *loinc, *loinc_too; /* NULL: none confirmed, `own` is our code */
    const char *own;
    const char *ucum; /* NULL: a choice of words from `first` to `last` */
    enum rp_text_id name, first, last;
    unsigned decimals;
};
#define AT(field) offsetof(struct rp_obs, field)
/* Codes: clinical references 5.1, those marked as read. */
static const struct sign signs[] = {
    {AT(spo2_pct), "59408-5", "2708-6", NULL, "%", RP_TX_SPO2, NO_TEXT, NO_TEXT, 0},
    {AT(pulse_bpm), "8867-4", NULL, NULL, "/min", RP_TX_PULSE, NO_TEXT, NO_TEXT, 0},
    {AT(resp_rpm), "9279-1", NULL, NULL, "/min", RP_TX_RESP, NO_TEXT, NO_TEXT, 0},
    {AT(temp_dc), "8310-5", NULL, NULL, "Cel", RP_TX_F_TEMP, NO_TEXT, NO_TEXT, 1},
    {AT(acvpu), NULL, NULL, "acvpu", NULL, RP_TX_CONSCIOUS_LEVEL, RP_TX_ACVPU_ALERT,
     RP_TX_ACVPU_UNRESPONSIVE, 0},
    {AT(airway), NULL, NULL, "airway", NULL, RP_TX_F_AIRWAY, RP_TX_AIRWAY_CLEAR,
     RP_TX_AIRWAY_DEVICE, 0},
    {AT(lls), NULL, NULL, "lake-louise-2018", "{score}", RP_TX_F_LLS, NO_TEXT, NO_TEXT, 0},
    {AT(ataxia), NULL, NULL, "ataxia-heel-to-toe", "{score}", RP_TX_F_ATAXIA, NO_TEXT, NO_TEXT, 0},
    /* The references have a LOINC code of pain from memory only. */
    {AT(pain), NULL, NULL, "pain-numeric-0-10", "{score}", RP_TX_PAIN, NO_TEXT, NO_TEXT, 0},
};
#define SIGN_COUNT (sizeof signs / sizeof signs[0])
#define PART_BP    100u
#define PART_GCS   101u

static struct rp_value value_at(const struct rp_obs *obs, size_t offset)
{
    struct rp_value value;
    memcpy(&value, (const char *)obs + offset, sizeof value);
    return value;
}

static void put_coding(struct rp_fhir *f, const char *system, const char *code)
{
    rp_json_object(&f->json, NULL);
    rp_json_text(&f->json, "system", system);
    rp_json_text(&f->json, "code", code);
    rp_json_end_object(&f->json);
}

static void put_sign_code(struct rp_fhir *f, const struct sign *sign)
{
    rp_json_object(&f->json, "code");
    rp_json_list(&f->json, "coding");
    if (sign->loinc != NULL) {
        put_coding(f, RP_FHIR_LOINC, sign->loinc);
    }
    if (sign->loinc_too != NULL) {
        put_coding(f, RP_FHIR_LOINC, sign->loinc_too);
    }
    if (sign->own != NULL) {
        put_coding(f, RP_FHIR_CODES, sign->own);
    }
    rp_json_end_list(&f->json);
    rp_fhir_text(f, "text", f->texts->words[sign->name]);
    rp_json_end_object(&f->json);
}

static void put_status(struct rp_fhir *f, const struct rp_obs *obs)
{
    rp_json_text(&f->json, "status", obs->from.voided ? "entered-in-error" : "final");
}

static void put_when(struct rp_fhir *f, const struct rp_obs *obs)
{
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_time(f, "effectiveDateTime", obs->taken_s);
    rp_fhir_concept(
        f, "method", NULL, NULL,
        f->texts->words[rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode)]);
    rp_fhir_note(f, &obs->from, "");
}

static void add_value(struct rp_fhir *f, const struct sign *sign, struct rp_value value)
{
    if (value.state != RP_MEASURED) {
        rp_fhir_absent(f, "unknown", f->texts->words[RP_TX_UNABLE]);
    } else if (sign->ucum != NULL) {
        rp_fhir_quantity(f, "valueQuantity", value.value, sign->decimals, sign->ucum);
    } else {
        rp_fhir_concept(f, "valueCodeableConcept", NULL, NULL,
                        f->texts->words[rp_text_pick(sign->first, sign->last, value.value)]);
    }
}

static void add_sign(struct rp_fhir *f, const struct rp_obs *obs, unsigned index)
{
    struct rp_value value = value_at(obs, signs[index].offset);
    if (value.state == RP_NOT_MEASURED ||
        !rp_fhir_begin(f, "Observation", RP_FHIR_SIGN, obs->from.ref, index)) {
        return;
    }
    put_status(f, obs);
    put_sign_code(f, &signs[index]);
    put_when(f, obs);
    add_value(f, &signs[index], value);
    rp_fhir_end(f);
}

static void add_component(struct rp_fhir *f, const char *loinc, struct rp_value value,
                          const char *ucum)
{
    rp_json_object(&f->json, NULL);
    rp_fhir_concept(f, "code", RP_FHIR_LOINC, loinc, NULL);
    if (value.state == RP_MEASURED) {
        rp_fhir_quantity(f, "valueQuantity", value.value, 0, ucum);
    } else {
        bool tried = value.state == RP_UNABLE;
        rp_fhir_absent(f, tried ? "unknown" : "not-performed",
                       f->texts->words[tried ? RP_TX_UNABLE : RP_TX_NOT_MEASURED]);
    }
    rp_json_end_object(&f->json);
}

static void add_pressure(struct rp_fhir *f, const struct rp_obs *obs)
{
    if (obs->systolic_mmhg.state == RP_NOT_MEASURED ||
        !rp_fhir_begin(f, "Observation", RP_FHIR_SIGN, obs->from.ref, PART_BP)) {
        return;
    }
    put_status(f, obs);
    rp_fhir_concept(f, "code", RP_FHIR_LOINC, "85354-9", f->texts->words[RP_TX_BP]);
    put_when(f, obs);
    rp_json_list(&f->json, "component");
    add_component(f, "8480-6", obs->systolic_mmhg, "mm[Hg]");
    add_component(f, "8462-4", obs->diastolic_mmhg, "mm[Hg]");
    rp_json_end_list(&f->json);
    rp_fhir_end(f);
}

static void add_coma(struct rp_fhir *f, const struct rp_obs *obs)
{
    if (obs->gcs_eye.state == RP_NOT_MEASURED ||
        !rp_fhir_begin(f, "Observation", RP_FHIR_SIGN, obs->from.ref, PART_GCS)) {
        return;
    }
    bool whole = obs->gcs_eye.state == RP_MEASURED && obs->gcs_verbal.state == RP_MEASURED &&
                 obs->gcs_motor.state == RP_MEASURED;
    put_status(f, obs);
    rp_fhir_concept(f, "code", RP_FHIR_LOINC, "9269-2", f->texts->words[RP_TX_GCS]);
    put_when(f, obs);
    if (whole) {
        rp_fhir_quantity(f, "valueQuantity",
                         obs->gcs_eye.value + obs->gcs_verbal.value + obs->gcs_motor.value, 0,
                         "{score}");
    } else {
        rp_fhir_absent(f, "unknown", f->texts->words[RP_TX_UNABLE]);
    }
    rp_json_list(&f->json, "component");
    add_component(f, "9267-6", obs->gcs_eye, "{score}");
    add_component(f, "9270-0", obs->gcs_verbal, "{score}");
    add_component(f, "9268-4", obs->gcs_motor, "{score}");
    rp_json_end_list(&f->json);
    rp_fhir_end(f);
}

static bool ever(const struct rp_episode *ep, size_t offset)
{
    for (size_t i = 0; i < ep->obs.count; i++) {
        if (!ep->obs.at[i].from.voided &&
            value_at(&ep->obs.at[i], offset).state != RP_NOT_MEASURED) {
            return true;
        }
    }
    return false;
}

static void add_missing(struct rp_fhir *f, unsigned index)
{
    if (ever(f->ep, signs[index].offset) ||
        !rp_fhir_begin(f, "Observation", RP_FHIR_ABSENT, rp_fhir_episode_ref(f), index)) {
        return;
    }
    rp_json_text(&f->json, "status", "final");
    put_sign_code(f, &signs[index]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_absent(f, "not-performed", f->texts->words[RP_TX_NOT_MEASURED]);
    rp_fhir_end(f);
}

/* Blood pressure or coma scale, which have parts. */
static void add_missing_panel(struct rp_fhir *f, size_t offset, const char *loinc,
                              enum rp_text_id name, unsigned part)
{
    if (ever(f->ep, offset) ||
        !rp_fhir_begin(f, "Observation", RP_FHIR_ABSENT, rp_fhir_episode_ref(f), part)) {
        return;
    }
    rp_json_text(&f->json, "status", "final");
    rp_fhir_concept(f, "code", RP_FHIR_LOINC, loinc, f->texts->words[name]);
    rp_fhir_reference(f, "subject", RP_FHIR_PATIENT);
    rp_fhir_absent(f, "not-performed", f->texts->words[RP_TX_NOT_MEASURED]);
    rp_fhir_end(f);
}

void rp_fhir_signs(struct rp_fhir *f)
{
    for (size_t i = 0; i < f->ep->obs.count; i++) {
        for (unsigned index = 0; index < SIGN_COUNT; index++) {
            add_sign(f, &f->ep->obs.at[i], index);
        }
        add_pressure(f, &f->ep->obs.at[i]);
        add_coma(f, &f->ep->obs.at[i]);
    }
    for (unsigned index = 0; index < SIGN_COUNT; index++) {
        add_missing(f, index);
    }
    add_missing_panel(f, AT(systolic_mmhg), "85354-9", RP_TX_BP, PART_BP);
    add_missing_panel(f, AT(gcs_eye), "9269-2", RP_TX_GCS, PART_GCS);
}
