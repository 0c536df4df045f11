/* The sheet as A4 pages: black on white, as large as one page allows. */
#ifndef RP_PAGE_DRAW_H
#define RP_PAGE_DRAW_H

#include <stdio.h>

#include "page/sheet.h"

/* Writes a PDF; EXERCISE stands on every page of an exercise. 0, or -1 when it cannot be written.
 */
int page_draw_pdf(const struct page_sheet *sheet, FILE *out);

#endif
