/* The evacuation request as an alert of the Common Alerting Protocol 1.2 (OASIS, 1 July 2010). */
#ifndef RP_HANDOVER_DATA_CAP_H
#define RP_HANDOVER_DATA_CAP_H

#include "handover/format.h"
#include "handover/model.h"

/* Character data of XML 1.0: & < > " escaped, what must not stand in XML or harms a terminal '?'.
 */
void rp_xml_text(struct rp_textbuf *out, const char *text);

/* The request in force is an Alert, or an Update when it revises another; the newest cancelled one
 * a Cancel; without any request an Alert of unknown urgency. A message's identifier, sender and
 * time are those of the record, so every station makes the same ones and references agree. Urgency
 * and severity: clinical references 4.3. Carries place and needs, no care facts. As rp_form_render.
 */
int rp_cap_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap);

#endif
