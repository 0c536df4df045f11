/* A handover as a FHIR R4 (4.0.1) document Bundle in JSON, for the hospital. LOINC and UCUM codes
 * only where the clinical references (5.1) read them in a published list; everything else has codes
 * of our own, in the code system RP_FHIR_CODES. */
#ifndef RP_HANDOVER_DATA_FHIR_FHIR_H
#define RP_HANDOVER_DATA_FHIR_FHIR_H

#include "handover/model.h"

/* As rp_form_render. What was not measured has a data absent reason, what was corrected the status
 * entered-in-error, an exercise the tag EXERCISE on the Bundle and on every resource. */
int rp_fhir_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                   size_t cap);

#endif
