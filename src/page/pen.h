/* Pages of A4, written from top to bottom: what the sheet and the blank forms share. */
#ifndef RP_PAGE_PEN_H
#define RP_PAGE_PEN_H

#include <pango/pangocairo.h>
#include <stdbool.h>
#include <stdio.h>

/* ISO 216 A4 in points, and a margin that every printer can print. */
#define PEN_WIDTH  595.28
#define PEN_HEIGHT 841.89
#define PEN_MARGIN 30.0
#define PEN_INSIDE (PEN_WIDTH - 2 * PEN_MARGIN)

/* How a text is set. All sizes in points. */
struct pen_type {
    double size;
    bool bold, struck, white;
    PangoAttrList *marks; /* borrowed, or NULL: more attributes of parts of the text */
};

struct pen {
    cairo_t *cairo;
    bool draws;          /* false: only finds out how much room things take */
    const char *banner;  /* across the top of every page, or NULL */
    const char *name;    /* at the bottom of every page: which sheet, of whom */
    const char *foot;    /* the cautions, below it */
    const char *page_of; /* "page {} of {}" */
    double y;            /* where the next thing goes */
    int page, pages;     /* pages: in all, once known */
};

/* Begins the first page again, drawing or not. */
void pen_start(struct pen *pen, bool draws);
/* Ends the page with its foot. */
void pen_end_page(struct pen *pen);
/* Makes room for `height`, on the next page if need be. */
void pen_need(struct pen *pen, double height);
/* The room left on this page. */
double pen_room(const struct pen *pen);

/* The text as it would be set in `width`; the caller unrefs it. */
PangoLayout *pen_layout(struct pen *pen, const char *text, struct pen_type type, double width);
/* Its height when it flows, set with little space between the lines. */
double pen_flow_height(PangoLayout *layout, double size);
/* Shows it at x and pen->y line by line, on the next page where this one ends, and moves on. */
void pen_flow(struct pen *pen, PangoLayout *layout, double size, double x);
/* Sets a text at x, y (not pen->y) and returns its height. */
double pen_text(struct pen *pen, const char *text, struct pen_type type, double x, double y,
                double width);
/* The same in the middle of `width`. */
double pen_middle(struct pen *pen, const char *text, struct pen_type type, double x, double y,
                  double width);
/* The width of a text on one line. */
double pen_width(struct pen *pen, const char *text, struct pen_type type);
void pen_rule(struct pen *pen, double x, double y, double width, double weight);
void pen_box(struct pen *pen, double x, double y, double width, double height, double weight);
/* A black box, for white text. */
void pen_block(struct pen *pen, double x, double y, double width, double height);

/* Writes a PDF to `out`: draw(pen, arg) is called with a pen whose cairo is set; its result, or -1
 * when the file cannot be written. */
int pen_pdf(FILE *out, struct pen *pen, int (*draw)(struct pen *pen, void *arg), void *arg);

#endif
