/* The protocol table of drugs as a file: text the expedition's doctor writes and signs.
 *
 *     [protocol]
 *     title = Expedition protocol            ; required
 *     reviewed_by = Dr Lindqvist             ; left out: not reviewed
 *     reviewed_on = 2026-10-05
 *     [drug]                                 ; once per drug, at most RP_DRUGS_MAX
 *     name = dexamethasone                   ; required
 *     also = dexa, dexamethason              ; other names, commas between
 *     route = po, im, iv                     ; po, sl, im, iv, sc, inhaled, pr, nasal, topical
 *     dose = 4mg                             ; usual dose
 *     single_max = 8mg                       ; the doses of one drug are in one unit
 *     day_max = 20mg                         ; most in any 24 h
 *     interval = 6h
 *     vasodilator = no                       ; acts on the pulmonary vessels
 *     allergy = steroid                      ; words in an allergy that forbid it
 *     caution = raises blood sugar           ; at most four lines of it
 *     source = who published it, and where   ; required
 *
 * '#' or ';' begins a comment line, " ;" a comment after a value. */
#ifndef RP_PORT_PROTOCOL_H
#define RP_PORT_PROTOCOL_H

#include "base/problem.h"
#include "incident/watch/protocol.h"
#include "ridgepost/view.h"

/* Reads the file; *out_protocol is untouched on failure. Stops at the first error: an unknown
 * section or key, one given twice, a value out of its bounds; the problem names file, line and
 * example. RP_E_INVALID, RP_E_FORMAT, RP_E_TOO_LONG, RP_E_NOT_FOUND, RP_E_PERMISSION, RP_E_IO,
 * RP_E_MEMORY. */
int rp_protocol_read(const char *path, struct rp_protocol *out_protocol,
                     struct rp_problem *out_problem);
/* The same for text in memory; `name` stands for the file. */
int rp_protocol_parse(const char *name, struct rp_view text, struct rp_protocol *out_protocol,
                      struct rp_problem *out_problem);

#endif
