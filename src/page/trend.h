/* The trend of SpO2, pulse and respiration, with chamber sessions and drugs. */
#ifndef RP_PAGE_TREND_H
#define RP_PAGE_TREND_H

#include <pango/pangocairo.h>

#include "page/sheet.h"

/* Draws into the box; nothing when fewer than two sets have a value. Each mode has its own mark,
 * and only values of one mode are joined: a chamber value is never compared with one on air.
 * Returns false when there was nothing to draw. */
bool page_trend_draw(cairo_t *cairo, const struct page_sheet *sheet, double x, double y,
                     double width, double height);

#endif
