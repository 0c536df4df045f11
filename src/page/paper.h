/* Blank forms for when the station is out of reach: the fields of the screens, in their order, each
 * with the word to type when it is entered late. */
#ifndef RP_PAGE_PAPER_H
#define RP_PAGE_PAPER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "handover/texts.h"

enum paper_kind {
    PAPER_FIELD, /* a label and room to write, or choices to tick */
    PAPER_TABLE, /* columns: the fields that follow, `count` rows to fill in */
    PAPER_COLUMN,
    PAPER_TITLE /* of a part */
};

struct paper_item {
    enum paper_kind kind;
    int share;               /* of a line, in twelfths (of a table: in hundredths); titles: 0 */
    enum rp_text_id text;    /* the label or title */
    enum rp_text_id choices; /* "dark|weather": to be ticked; RP_TX_NONE: to be written */
    const char *word;        /* what is typed at a station, or NULL */
    int count;
};

struct paper_form {
    const char *name;      /* what a person types: "observations" */
    enum rp_text_id title; /* as on paper */
    const char *entry;     /* how to enter it late, by example */
    const struct paper_item *items;
    size_t item_count;
};
extern const struct paper_form paper_forms[];
extern const size_t paper_form_count;

const struct paper_form *paper_find(const char *name);
/* The names and titles, a line each. */
void paper_list(const struct rp_texts *texts, FILE *out);
/* Writes the form as a PDF, marked EXERCISE when it is for one. 0, or -1: it cannot be written. */
int paper_draw(const struct paper_form *form, const struct rp_texts *texts, bool exercise,
               FILE *out);

#endif
