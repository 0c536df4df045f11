/* Observations, drugs given, fluids, allergies and silences as comma-separated values (RFC 4180):
 * one record each, oldest first of its kind; the second column says which. */
#ifndef RP_HANDOVER_DATA_CSV_H
#define RP_HANDOVER_DATA_CSV_H

#include "handover/model.h"
#include "handover/format.h"

/* A field that a person entered, quoted: quotes doubled, line ends and what could harm a terminal
 * replaced. A text that a spreadsheet would take for a formula (= + - @ or their full-width
 * forms first, also after blanks) gets a ' before it. */
void rp_csv_entered(struct rp_textbuf *out, const char *text);
/* Episode and record have their word before them ("episode 7-1"): alone a spreadsheet reads a date
 * and an hour out of them. Lines end with CR LF. A value that was not measured is empty, one that
 * was tried without result is "no result". The first column and its head say EXERCISE or actual.
 * Heads and words are those of the language. As rp_form_render. */
int rp_csv_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap);

#endif
