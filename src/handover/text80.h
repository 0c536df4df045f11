/* The sheet as 80 columns of text. */
#ifndef RP_HANDOVER_TEXT80_H
#define RP_HANDOVER_TEXT80_H

#include "handover/format.h"
#include "handover/model.h"

#define RP_TEXT80_COLUMNS 80

/* Renders the model to buf, NUL-terminated; returns the length without NUL, or RP_E_TOO_LONG
 * (buf is then an empty text, when cap is not 0). Lines end with LF, hold at most 80 columns by
 * rp_utf8_width, and no control byte. Text that was entered is broken at spaces; a word longer
 * than a line is broken between characters; nothing is cut. */
int rp_text80_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                     size_t cap);

#endif
