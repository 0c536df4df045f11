#include "page/draw.h"

#include <cairo-pdf.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <string.h>

#include "page/code.h"
#include "page/trend.h"

/* ISO 216 A4 in points, and a margin that every printer can print. */
#define PAGE_WIDTH   595.28
#define PAGE_HEIGHT  841.89
#define MARGIN       34.0
#define FOOT_HEIGHT  30.0
#define LABEL_WIDTH  84.0
#define TREND_HEIGHT 120.0
#define CODE_SIDE    118.0
/* Large type first; below the smallest a second page is better than a lens (ours). */
static const double sizes[] = {11.0, 10.5, 10.0, 9.5, 9.0};
#define SIZE_COUNT (sizeof sizes / sizeof sizes[0])

/* One pass over the sheet: drawing, or only finding out how many pages it takes. */
struct pass {
    cairo_t *cairo;
    const struct page_sheet *sheet;
    bool draws;
    double size, y;
    int page, pages; /* pages: in all, once known */
    char section[24];
    bool in_table; /* its head is shown already */
};

static double width_inside(void)
{
    return PAGE_WIDTH - 2 * MARGIN;
}

static PangoLayout *lay_out(struct pass *pass, const char *text, double size, bool bold,
                            double width)
{
    PangoLayout *layout = pango_cairo_create_layout(pass->cairo);
    PangoFontDescription *font = pango_font_description_from_string("Sans");
    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout, font);
    pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(layout, text, -1);
    pango_font_description_free(font);
    return layout;
}

static double height_of(PangoLayout *layout)
{
    int height;
    pango_layout_get_size(layout, NULL, &height);
    return (double)height / PANGO_SCALE;
}

/* Shows a text at x, y and returns its height. */
static double put(struct pass *pass, const char *text, double size, bool bold, double x, double y,
                  double width)
{
    PangoLayout *layout = lay_out(pass, text, size, bold, width);
    double height = height_of(layout);
    if (pass->draws) {
        cairo_move_to(pass->cairo, x, y);
        pango_cairo_show_layout(pass->cairo, layout);
    }
    g_object_unref(layout);
    return height;
}

static void rule(struct pass *pass, double y, double weight)
{
    if (pass->draws) {
        cairo_set_line_width(pass->cairo, weight);
        cairo_move_to(pass->cairo, MARGIN, y);
        cairo_line_to(pass->cairo, PAGE_WIDTH - MARGIN, y);
        cairo_stroke(pass->cairo);
    }
}

static void put_foot(struct pass *pass)
{
    char text[300];
    snprintf(text, sizeof text,
             "%sSheet %ld, check %s, %s, page %d of %d. Not a medical device. A chamber is never a "
             "substitute for descent. Follow the treating clinician, local protocols and licensed "
             "practice.",
             pass->sheet->exercise ? "EXERCISE. " : "", pass->sheet->number, pass->sheet->check,
             pass->sheet->station, pass->page, pass->pages);
    rule(pass, PAGE_HEIGHT - MARGIN - FOOT_HEIGHT + 4, 0.7);
    put(pass, text, 7.5, false, MARGIN, PAGE_HEIGHT - MARGIN - FOOT_HEIGHT + 7, width_inside());
}

static void begin_page(struct pass *pass)
{
    static const char banner[] = "EXERCISE - NOT A REAL PATIENT";
    pass->page++;
    pass->y = MARGIN;
    if (pass->sheet->exercise) {
        if (pass->draws) {
            cairo_rectangle(pass->cairo, MARGIN, pass->y, width_inside(), 22);
            cairo_fill(pass->cairo);
            cairo_set_source_rgb(pass->cairo, 1, 1, 1);
        }
        put(pass, banner, 16, true, MARGIN + 120, pass->y + 1, width_inside());
        if (pass->draws) {
            cairo_set_source_rgb(pass->cairo, 0, 0, 0);
        }
        pass->y += 26;
    }
}

static void end_page(struct pass *pass)
{
    put_foot(pass);
    if (pass->draws) {
        cairo_show_page(pass->cairo);
    }
}

/* Makes room for `height`, on the next page if need be. */
static void need(struct pass *pass, double height)
{
    if (pass->y + height > PAGE_HEIGHT - MARGIN - FOOT_HEIGHT) {
        end_page(pass);
        begin_page(pass);
    }
}

static void put_table_row(struct pass *pass, const json_t *row)
{
    /* Shares of the width: time, age, mode, SpO2, pulse, resp, BP, temp, level, GCS, ataxia, LLS.
     */
    static const double shares[] = {14, 8, 9, 6, 6, 6, 10, 9, 9, 8, 7, 6};
    const json_t *cells = json_object_get(row, "cells");
    size_t index;
    json_t *cell;
    bool head = !pass->in_table;
    double x = MARGIN, tallest = 0;
    need(pass, pass->size * 2.6);
    json_array_foreach(cells, index, cell)
    {
        double width = index < 12 ? width_inside() * shares[index] / 98 : 40;
        double height =
            put(pass, json_string_value(cell), pass->size - 1, head, x, pass->y, width - 2);
        tallest = height > tallest ? height : tallest;
        x += width;
    }
    pass->in_table = true;
    pass->y += tallest + 1;
}

static void put_plain_row(struct pass *pass, const json_t *row)
{
    char label[64];
    bool title = page_row_is(row, "style", "title");
    bool struck = json_is_true(json_object_get(row, "struck"));
    const char *text = page_row_text(row, "text");
    bool labelled = page_row_text(row, "label")[0] != '\0';
    bool beside = labelled || page_row_text(row, "letter")[0] != '\0';
    double indent = beside ? LABEL_WIDTH : 0, size = title ? pass->size + 4 : pass->size;
    PangoLayout *layout = lay_out(pass, text, size, title, width_inside() - indent);
    double height = height_of(layout);
    need(pass, height < 120 ? height : 120);
    if (struck) {
        PangoAttrList *list = pango_attr_list_new();
        pango_attr_list_insert(list, pango_attr_strikethrough_new(TRUE));
        pango_layout_set_attributes(layout, list);
        pango_attr_list_unref(list);
    }
    if (labelled) {
        snprintf(label, sizeof label, "%s%s%s", page_row_text(row, "letter"),
                 page_row_text(row, "letter")[0] != '\0' ? "  " : "", page_row_text(row, "label"));
        put(pass, label, pass->size - 1, true, MARGIN, pass->y, LABEL_WIDTH - 4);
    }
    if (pass->draws) {
        cairo_move_to(pass->cairo, MARGIN + indent, pass->y);
        pango_cairo_show_layout(pass->cairo, layout);
    }
    g_object_unref(layout);
    double beside_height = labelled ? pass->size * 1.3 : 0;
    pass->y += (height > beside_height ? height : beside_height) + 1;
}

static void put_row(struct pass *pass, const json_t *row)
{
    if (page_row_is(row, "style", "banner")) {
        return; /* every page has its own */
    }
    if (page_row_is(row, "style", "table")) {
        put_table_row(pass, row);
        return;
    }
    const char *section = page_row_text(row, "section");
    if (strcmp(section, pass->section) != 0 && pass->section[0] != '\0') {
        rule(pass, pass->y + 0.5, strcmp(section, "EVACUATION") == 0 ? 1.6 : 0.3);
        pass->y += 2;
    }
    snprintf(pass->section, sizeof pass->section, "%s", section);
    put_plain_row(pass, row);
}

static void put_trend(struct pass *pass)
{
    need(pass, TREND_HEIGHT + 4);
    if (!pass->draws || page_trend_draw(pass->cairo, pass->sheet, MARGIN, pass->y + 4,
                                        width_inside(), TREND_HEIGHT)) {
        pass->y += TREND_HEIGHT + 4;
    }
}

/* The newest of what a rescuer needs, for a phone. */
static int put_codes(struct pass *pass)
{
    struct page_codes codes;
    int result = 0;
    page_codes_make(pass->sheet, &codes);
    need(pass, CODE_SIDE + 14);
    put(pass, "For a phone's camera (plain text, no network):", 7.5, false, MARGIN, pass->y,
        width_inside());
    for (size_t i = 0; i < codes.count && pass->draws && result == 0; i++) {
        result = page_code_draw(pass->cairo, codes.text[i], MARGIN + (CODE_SIDE + 8) * (double)i,
                                pass->y + 10, CODE_SIDE);
    }
    pass->y += CODE_SIDE + 12;
    return result;
}

static int run_pass(struct pass *pass)
{
    size_t index;
    json_t *row;
    pass->page = 0;
    pass->section[0] = '\0';
    pass->in_table = false;
    begin_page(pass);
    json_array_foreach(pass->sheet->rows, index, row)
    {
        put_row(pass, row);
    }
    put_trend(pass);
    int result = put_codes(pass);
    end_page(pass);
    return result;
}

static cairo_status_t write_bytes(void *stream, const unsigned char *bytes, unsigned len)
{
    return fwrite(bytes, 1, len, stream) == len ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int page_draw_pdf(const struct page_sheet *sheet, FILE *out)
{
    cairo_surface_t *surface =
        cairo_pdf_surface_create_for_stream(write_bytes, out, PAGE_WIDTH, PAGE_HEIGHT);
    struct pass pass = {.cairo = cairo_create(surface), .sheet = sheet};
    /* The largest size that takes the fewest pages. */
    int fewest = 0;
    for (size_t i = SIZE_COUNT; i-- > 0;) {
        pass.size = sizes[i];
        run_pass(&pass);
        fewest = i == SIZE_COUNT - 1 ? pass.page : fewest;
        if (pass.page > fewest) {
            pass.size = sizes[i + 1];
            break;
        }
    }
    pass.pages = fewest;
    pass.draws = true;
    int result = run_pass(&pass);
    cairo_destroy(pass.cairo);
    cairo_surface_finish(surface);
    bool good = cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS;
    cairo_surface_destroy(surface);
    return good ? result : -1;
}
