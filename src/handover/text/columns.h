/* The sheet as columns of plain text: 80 for a page, 42 and 32 for a receipt printer's roll (common
 * widths of 80 mm and 58 mm paper; common practice, no source). No printer language. */
#ifndef RP_HANDOVER_TEXT_COLUMNS_H
#define RP_HANDOVER_TEXT_COLUMNS_H

#include "handover/format.h"
#include "handover/model.h"

struct rp_columns_layout {
    unsigned columns;     /* width of the paper */
    unsigned text_column; /* where text begins beside or under its label */
    bool narrow;          /* labels on lines of their own, a table as paragraphs */
    bool bare;            /* no margin letters and no rules: rows in another order than the sheet */
    bool capitals;        /* small letters as capitals */
};
extern const struct rp_columns_layout rp_columns_80, rp_columns_42, rp_columns_32;

/* Renders the model to buf, NUL-terminated; returns the length without NUL, or RP_E_TOO_LONG
 * (buf is then an empty text, when cap is not 0). Lines end with LF, hold at most
 * layout->columns columns by rp_utf8_width, and no control byte. Text that was entered is broken at
 * spaces; a word longer than a line is broken between characters; nothing is cut. */
int rp_columns_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts,
                      const struct rp_columns_layout *layout, char *buf, size_t cap);
/* The same for rows that another function than rp_sheet_model hands out. */
typedef void rp_columns_rows(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg);
int rp_columns_render_rows(const struct rp_sheet_facts *facts, const struct rp_texts *texts,
                           const struct rp_columns_layout *layout, rp_columns_rows *rows, char *buf,
                           size_t cap);

#endif
