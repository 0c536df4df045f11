/* The sheet as QR codes (ISO/IEC 18004): plain text that any phone's camera shows, without an app
 * or a network. */
#ifndef RP_PAGE_CODE_H
#define RP_PAGE_CODE_H

#include <stdio.h>

#include <cairo.h>

#include "page/sheet.h"

#define PAGE_CODES_MAX     4
#define PAGE_CODE_TEXT_MAX 600 /* bytes in one code: cells stay large enough for a cold hand */

struct page_codes {
    size_t count;
    char text[PAGE_CODES_MAX][PAGE_CODE_TEXT_MAX + 1]; /* ASCII only: readers disagree on others */
};

/* The rows a rescuer needs first, in the order of the sheet, cut into as few codes as hold them. */
void page_codes_make(const struct page_sheet *sheet, struct page_codes *out_codes);
/* One code as a square at x, y, of `side` units with its quiet zone. 0, or -1: it does not fit. */
int page_code_draw(cairo_t *cairo, const char *text, double x, double y, double side);
/* On a terminal, in half blocks, dark on light whatever the terminal's colours. 0 or -1. */
int page_code_print(const char *text, FILE *out);
/* All codes in one PNG, side by side, 8 pixels a cell. 0 or -1. */
int page_codes_png(const struct page_codes *codes, FILE *out);

#endif
