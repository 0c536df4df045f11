/* The sheet as QR codes (ISO/IEC 18004): plain text that any phone's camera shows, without an app
 * or a network. */
#ifndef RP_PAGE_CODE_H
#define RP_PAGE_CODE_H

#include <cairo.h>
#include <qrencode.h>
#include <stdio.h>

#include "page/sheet.h"

#define PAGE_CODES_MAX 256 /* the fullest episode there can be takes less */

/* How much one code holds, and how much of it may be spoiled and still be read. */
struct page_code_kind {
    size_t bytes_max;
    QRecLevel level;
};
/* On paper: version 23 at most, 117 cells with the quiet zone; 15 % may be snow or a fold. */
extern const struct page_code_kind page_code_paper;
/* On a phone's screen, or a terminal of 80 columns: version 13 at most, 77 columns and 39 rows. */
extern const struct page_code_kind page_code_screen;

struct page_codes {
    size_t count;
    char *texts[PAGE_CODES_MAX]; /* owned */
    QRcode *codes[PAGE_CODES_MAX];
};

/* What a rescuer needs first: who, state, allergies, drugs, what nobody asked, where reports are
 * silent, in as few codes as hold it; what else has room in the last. Each code says EXERCISE, the
 * sheet, and which of how many it is. 0, or -1: it does not fit (nothing to free then). */
int page_codes_make(const struct page_sheet *sheet, const struct page_code_kind *kind,
                    struct page_codes *out_codes);
void page_codes_free(struct page_codes *codes);

/* One code of any text; the caller's, for QRcode_free. NULL: empty, or more than a code holds. */
QRcode *page_code_of(const char *text, QRecLevel level);

/* Cells across, quiet zone of 4 on both sides included (section 6.3.8). */
int page_code_cells(const QRcode *code);
/* One code as a square at x, y, each cell `cell` units. 0, or -1. */
int page_code_draw(cairo_t *cairo, const QRcode *code, double x, double y, double cell);
/* On a terminal, in half blocks, dark on light whatever the terminal's colours. */
void page_code_print(const QRcode *code, FILE *out);
/* All codes in one PNG, below each other, 6 pixels a cell. 0 or -1. */
int page_codes_png(const struct page_codes *codes, FILE *out);

#endif
