/* The sheet's rows as data, for a program that draws pages: the same words as the text forms, and
 * what a trend is drawn from. */
#ifndef RP_HANDOVER_DATA_ROWS_H
#define RP_HANDOVER_DATA_ROWS_H

#include "handover/model.h"

/* JSON: {"exercise", "sheet", "check", "opened_at", "episode", "station", "patient", "now_s",
 * "language": "fr", "words": {what is written beside the rows, in that language; "modes": [as enum
 * rp_mode]}, "rows":
 * [{"section", "letter", "style": "plain" | "title" | "banner" | "table", "key", "label", "sum",
 * "struck", "text" | "cells", "loud"}], "trend": [{"taken_s", "mode", "spo2_pct", "pulse_bpm",
 * "resp_rpm"}], "sessions": [{"from_s", "to_s"}], "doses": [{"at_s", "name"}], "gaps": [{"from_s",
 * "to_s"}]}. "key" is the label's in any language ("L_GIVEN"; "NONE": the row goes on under the
 * label above); "sum" is rp_sheet_row_sum; "opened_at" and "episode" are its station and number;
 * "loud" lists the bytes of the text, from and to by turns, that must strike the eye. As
 * rp_form_render. */
int rp_rows_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                   size_t cap);
/* The word of "words" under this key, for a program that is given rows without it; NULL: no such
 * key. And of its "modes": `mode` as enum rp_mode; any other is an unsaid one. */
const char *rp_rows_word(const struct rp_texts *texts, const char *key);
const char *rp_rows_mode_word(const struct rp_texts *texts, size_t mode);

#endif
