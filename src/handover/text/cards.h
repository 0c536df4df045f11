/* Forms for one reader each, from the rows of the sheet. All as rp_form_render. */
#ifndef RP_HANDOVER_TEXT_CARDS_H
#define RP_HANDOVER_TEXT_CARDS_H

#include "handover/model.h"

/* ISBAR: everything on the sheet in the order in which a doctor is spoken to (clinical references
 * 4.1), 80 columns. */
int rp_isbar_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                    size_t cap);
/* Evacuation request for the operator of a helicopter (clinical references 4.2), 80 columns. */
int rp_request_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                      size_t cap);
/* Pilot card: what the pilot needs, capitals, 32 columns. Carries no care facts. */
int rp_pilot_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                    size_t cap);

#endif
