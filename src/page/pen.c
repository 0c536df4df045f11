#include "page/pen.h"

#include <cairo-pdf.h>

#define FOOT_HEIGHT   26.0
#define BANNER_HEIGHT 24.0
#define LINE_PITCH    1.2 /* of the size */

/* The first family is what tools/packages.sh installs; any other is a way out. Fontconfig finds
 * another font for a script that these do not have. */
#define FAMILIES "Noto Sans,DejaVu Sans,Sans"

PangoLayout *pen_layout(struct pen *pen, const char *text, struct pen_type type, double width)
{
    PangoLayout *layout = pango_cairo_create_layout(pen->cairo);
    PangoFontDescription *font = pango_font_description_from_string(FAMILIES);
    pango_font_description_set_absolute_size(font, type.size * PANGO_SCALE);
    pango_font_description_set_weight(font, type.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_width(layout, width > 0 ? (int)(width * PANGO_SCALE) : -1);
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(layout, text, -1);
    if (type.struck || type.marks != NULL) {
        PangoAttrList *list =
            type.marks != NULL ? pango_attr_list_copy(type.marks) : pango_attr_list_new();
        if (type.struck) {
            pango_attr_list_insert(list, pango_attr_strikethrough_new(TRUE));
        }
        pango_layout_set_attributes(layout, list);
        pango_attr_list_unref(list);
    }
    return layout;
}

static double height_of(PangoLayout *layout)
{
    int height;
    pango_layout_get_size(layout, NULL, &height);
    return (double)height / PANGO_SCALE;
}

/* A line that a shown iterator stands at. Fonts leave more room between lines than one page has;
 * scripts that are taller than Latin keep what they need. */
struct line {
    double x, height, base;
};

static struct line measure_line(PangoLayoutIter *iter, double size)
{
    PangoRectangle box;
    pango_layout_iter_get_line_extents(iter, NULL, &box);
    double tall = (double)box.height / PANGO_SCALE;
    double above = (double)(pango_layout_iter_get_baseline(iter) - box.y) / PANGO_SCALE;
    double height = tall > 1.5 * size ? tall : LINE_PITCH * size;
    return (struct line){(double)box.x / PANGO_SCALE, height, above + (height - tall) / 2};
}

double pen_flow_height(PangoLayout *layout, double size)
{
    double sum = 0;
    PangoLayoutIter *iter = pango_layout_get_iter(layout);
    do {
        sum += measure_line(iter, size).height;
    } while (pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
    return sum;
}

void pen_flow(struct pen *pen, PangoLayout *layout, double size, double x)
{
    PangoLayoutIter *iter = pango_layout_get_iter(layout);
    do {
        struct line line = measure_line(iter, size);
        pen_need(pen, line.height);
        if (pen->draws) {
            cairo_move_to(pen->cairo, x + line.x, pen->y + line.base);
            pango_cairo_show_layout_line(pen->cairo, pango_layout_iter_get_line_readonly(iter));
        }
        pen->y += line.height;
    } while (pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
}

static double show(struct pen *pen, PangoLayout *layout, bool white, double x, double y)
{
    double height = height_of(layout);
    if (pen->draws) {
        cairo_set_source_rgb(pen->cairo, white, white, white);
        cairo_move_to(pen->cairo, x, y);
        pango_cairo_show_layout(pen->cairo, layout);
        cairo_set_source_rgb(pen->cairo, 0, 0, 0);
    }
    g_object_unref(layout);
    return height;
}

double pen_text(struct pen *pen, const char *text, struct pen_type type, double x, double y,
                double width)
{
    return show(pen, pen_layout(pen, text, type, width), type.white, x, y);
}

double pen_middle(struct pen *pen, const char *text, struct pen_type type, double x, double y,
                  double width)
{
    PangoLayout *layout = pen_layout(pen, text, type, width);
    pango_layout_set_alignment(layout, PANGO_ALIGN_CENTER);
    return show(pen, layout, type.white, x, y);
}

double pen_width(struct pen *pen, const char *text, struct pen_type type)
{
    PangoLayout *layout = pen_layout(pen, text, type, 0);
    int width;
    pango_layout_get_size(layout, &width, NULL);
    g_object_unref(layout);
    return (double)width / PANGO_SCALE;
}

void pen_rule(struct pen *pen, double x, double y, double width, double weight)
{
    if (pen->draws) {
        cairo_set_line_width(pen->cairo, weight);
        cairo_move_to(pen->cairo, x, y);
        cairo_line_to(pen->cairo, x + width, y);
        cairo_stroke(pen->cairo);
    }
}

void pen_box(struct pen *pen, double x, double y, double width, double height, double weight)
{
    if (pen->draws) {
        cairo_set_line_width(pen->cairo, weight);
        cairo_rectangle(pen->cairo, x, y, width, height);
        cairo_stroke(pen->cairo);
    }
}

void pen_block(struct pen *pen, double x, double y, double width, double height)
{
    if (pen->draws) {
        cairo_rectangle(pen->cairo, x, y, width, height);
        cairo_fill(pen->cairo);
    }
}

static void begin_page(struct pen *pen)
{
    pen->page++;
    pen->y = PEN_MARGIN;
    if (pen->banner != NULL) {
        pen_block(pen, PEN_MARGIN, pen->y, PEN_INSIDE, BANNER_HEIGHT);
        pen_middle(pen, pen->banner, (struct pen_type){.size = 13, .bold = true, .white = true},
                   PEN_MARGIN, pen->y + 2.5, PEN_INSIDE);
        pen->y += BANNER_HEIGHT + 4;
    }
}

void pen_start(struct pen *pen, bool draws)
{
    pen->draws = draws;
    pen->page = 0;
    begin_page(pen);
}

/* "page {} of {}" with the two numbers in place of the holes. */
static void say_page(const struct pen *pen, char *out, size_t cap)
{
    int numbers[2] = {pen->page, pen->pages}, next = 0;
    size_t len = 0;
    for (const char *at = pen->page_of; *at != '\0' && len + 12 < cap; at++) {
        if (at[0] == '{' && at[1] == '}' && next < 2) {
            len += (size_t)snprintf(out + len, cap - len, "%d", numbers[next++]);
            at++;
        } else {
            out[len++] = *at;
        }
    }
    out[len] = '\0';
}

void pen_end_page(struct pen *pen)
{
    char text[500], page[64];
    double y = PEN_HEIGHT - PEN_MARGIN - FOOT_HEIGHT;
    say_page(pen, page, sizeof page);
    snprintf(text, sizeof text, "%.400s - %s", pen->name, page);
    pen_rule(pen, PEN_MARGIN, y + 2, PEN_INSIDE, 0.7);
    pen_text(pen, text, (struct pen_type){.size = 9, .bold = true}, PEN_MARGIN, y + 3, PEN_INSIDE);
    pen_text(pen, pen->foot, (struct pen_type){.size = 7.5}, PEN_MARGIN, y + 15, PEN_INSIDE);
    if (pen->draws) {
        cairo_show_page(pen->cairo);
    }
}

double pen_room(const struct pen *pen)
{
    return PEN_HEIGHT - PEN_MARGIN - FOOT_HEIGHT - pen->y;
}

void pen_need(struct pen *pen, double height)
{
    if (height > pen_room(pen)) {
        pen_end_page(pen);
        begin_page(pen);
    }
}

static cairo_status_t write_bytes(void *stream, const unsigned char *bytes, unsigned len)
{
    return fwrite(bytes, 1, len, stream) == len ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int pen_pdf(FILE *out, struct pen *pen, int (*draw)(struct pen *pen, void *arg), void *arg)
{
    cairo_surface_t *surface =
        cairo_pdf_surface_create_for_stream(write_bytes, out, PEN_WIDTH, PEN_HEIGHT);
    pen->cairo = cairo_create(surface);
    int result = draw(pen, arg);
    cairo_destroy(pen->cairo);
    cairo_surface_finish(surface);
    bool good = cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS;
    cairo_surface_destroy(surface);
    return good ? result : -1;
}
