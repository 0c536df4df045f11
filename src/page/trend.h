/* The trend of SpO2, pulse and respiration, with chamber sessions, drugs and silences. */
#ifndef RP_PAGE_TREND_H
#define RP_PAGE_TREND_H

#include "page/pen.h"
#include "page/sheet.h"

/* Whether two sets or more have a value: else there is nothing to draw. */
bool page_trend_has(const struct page_sheet *sheet);
/* Draws at x, y. Each mode has its own mark, and only values of one mode are joined: a chamber
 * value is never compared with one on air. Returns the height it took. */
double page_trend_draw(struct pen *pen, const struct page_sheet *sheet, double x, double y,
                       double width);

#endif
