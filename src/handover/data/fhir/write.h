/* Pieces of FHIR that every resource needs. Internal to this folder. */
#ifndef RP_HANDOVER_DATA_FHIR_WRITE_H
#define RP_HANDOVER_DATA_FHIR_WRITE_H

#include "handover/build.h"
#include "handover/data/json.h"

#define RP_FHIR_CODES "urn:x-ridgepost:codes"
#define RP_FHIR_LOINC "http://loinc.org"
#define RP_FHIR_UCUM  "http://unitsofmeasure.org"

/* The resources of one section of the Composition. */
enum rp_fhir_section {
    RP_FHIR_ILLNESS,
    RP_FHIR_ALLERGIES,
    RP_FHIR_DRUGS,
    RP_FHIR_OWN_MEDICINES,
    RP_FHIR_SIGNS,
    RP_FHIR_TREATMENT,
    RP_FHIR_BACKGROUND,
    RP_FHIR_SILENCES,
    RP_FHIR_SECTIONS
};

/* Kinds of resources, for their ids: never renumber. */
enum rp_fhir_kind {
    RP_FHIR_COMPOSITION = 1,
    RP_FHIR_PATIENT = 2,
    RP_FHIR_DEVICE = 3,
    RP_FHIR_CONDITION = 4,
    RP_FHIR_ALLERGY = 5,
    RP_FHIR_DOSE = 6,
    RP_FHIR_STATEMENT = 7,
    RP_FHIR_SIGN = 8,
    RP_FHIR_ABSENT = 9,
    RP_FHIR_SESSION = 10,
    RP_FHIR_FLOW = 11,
    RP_FHIR_FACT = 12,
    RP_FHIR_SILENCE = 13,
    RP_FHIR_BUNDLE = 14,
    RP_FHIR_VOLUME = 15
};

struct rp_fhir {
    const struct rp_sheet_facts *facts;
    const struct rp_episode *ep;
    const struct rp_texts *texts;
    struct rp_json json;
    bool listing; /* only references to the resources are written */
    size_t listed;
};

/* Starts a resource. False when listing: a reference was written, nothing else is wanted. The id is
 * a UUID of version 8 (RFC 9562): kind, record and part, so the same in every copy. */
bool rp_fhir_begin(struct rp_fhir *f, const char *type, enum rp_fhir_kind kind,
                   struct rp_record_ref ref, unsigned part);
void rp_fhir_end(struct rp_fhir *f);
void rp_fhir_uuid(struct rp_fhir *f, const char *key, enum rp_fhir_kind kind,
                  struct rp_record_ref ref, unsigned part);
struct rp_record_ref rp_fhir_episode_ref(const struct rp_fhir *f);
void rp_fhir_reference(struct rp_fhir *f, const char *key, enum rp_fhir_kind kind);
/* Nothing for an empty text: FHIR has no empty strings. */
void rp_fhir_text(struct rp_fhir *f, const char *key, const char *text);
void rp_fhir_time(struct rp_fhir *f, const char *key, uint32_t time_s);
/* {"coding": [{system, code}], "text"}; code or text may be NULL. */
void rp_fhir_concept(struct rp_fhir *f, const char *key, const char *system, const char *code,
                     const char *text);
/* {"value", "unit", "system", "code"} of UCUM. */
void rp_fhir_quantity(struct rp_fhir *f, const char *key, int64_t value, unsigned decimals,
                      const char *ucum);
void rp_fhir_absent(struct rp_fhir *f, const char *reason, const char *text);
/* "note": [{"text"}] from who, how it was entered, and why it was corrected. */
void rp_fhir_note(struct rp_fhir *f, const struct rp_source *from, const char *text);
void rp_fhir_meta(struct rp_fhir *f);

/* Each writes the resources of a section. */
void rp_fhir_signs(struct rp_fhir *f);
void rp_fhir_illness(struct rp_fhir *f);
void rp_fhir_allergies(struct rp_fhir *f);
void rp_fhir_drugs(struct rp_fhir *f);
void rp_fhir_own_medicines(struct rp_fhir *f);
void rp_fhir_treatment(struct rp_fhir *f);
void rp_fhir_background(struct rp_fhir *f);
void rp_fhir_silences(struct rp_fhir *f);

#endif
