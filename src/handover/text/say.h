/* The model's rows as words, without any layout: what every form that is read shares. */
#ifndef RP_HANDOVER_TEXT_SAY_H
#define RP_HANDOVER_TEXT_SAY_H

#include "handover/format.h"
#include "handover/model.h"

struct rp_say {
    const struct rp_texts *texts;
    struct rp_time_frame frame;
    bool marks_loud; /* loud words stand between these two bytes, which no text has */
};
#define RP_SAY_LOUD_BYTE     '\x1d'
#define RP_SAY_LOUD_END_BYTE '\x1e'

/* Fixed words; loud ones in capitals. */
void rp_say_word(struct rp_textbuf *p, const struct rp_say *say, enum rp_text_id id, bool loud);
/* One item without its label. In a table: short, without unit or mode. */
void rp_say_item(struct rp_textbuf *p, const struct rp_say *say, const struct rp_sheet_item *item,
                 bool in_table);
/* All items of a row with labels, joined; a corrected row says so. */
void rp_say_row(struct rp_textbuf *p, const struct rp_say *say, const struct rp_sheet_row *row);

/* "sheet 3, check L9MN", with `between` the two. */
void rp_say_sheet(struct rp_textbuf *p, const struct rp_texts *texts,
                  const struct rp_sheet_facts *facts, const char *between);
/* What a form without care facts says of them: that they are on the sheet with its check, which has
 * a number of its own; and how many entries came after the handover. */
void rp_say_elsewhere(struct rp_textbuf *p, const struct rp_texts *texts,
                      const struct rp_sheet_facts *facts);

/* The longest row is a note with who wrote it and why it was corrected: bytes that always hold
 * what rp_say_row writes. */
#define RP_SAY_ROW_MAX 6000

#endif
