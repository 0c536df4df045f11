/* What is important in a sheet, and what of it is new since another. */
#ifndef RP_CLI_CHANGES_H
#define RP_CLI_CHANGES_H

#include <jansson.h>
#include <stdbool.h>

/* Both: a sheet as `handover --form rows` gives it. Important is what a crew would want to know
 * before it lands: place, state, chamber, request and answers, allergies, drugs, oxygen, decisions,
 * corrections, contradictions. A further set of signs is not, nor what follows from the time of
 * printing. */
bool rp_changes_any(const json_t *before, const json_t *now);
/* Adds to `now` what a sheet shows of it: "since" {"sheet", "check"} of `before`, and "changes", a
 * list of {"label", "text", "gone"}. Rows of `now` that are new get "changed". */
void rp_changes_add(const json_t *before, json_t *now);

#endif
