#include "page/code.h"

#include <string.h>

#include <qrencode.h>

#define QUIET       4 /* cells around a code (ISO/IEC 18004 section 6.3.8) */
#define CELL_PIXELS 8

/* What is not ASCII becomes the nearest plain thing: a no-break space a space, the rest "?". */
static void add_ascii(char *out, size_t cap, const char *text)
{
    size_t len = strlen(out);
    const unsigned char *at = (const unsigned char *)text;
    while (*at != '\0' && len + 1 < cap) {
        if (*at < 0x80) {
            out[len++] = (char)*at++;
            continue;
        }
        out[len++] = at[0] == 0xc2 && at[1] == 0xa0 ? ' ' : '?';
        at++;
        while ((*at & 0xc0) == 0x80) {
            at++;
        }
    }
    out[len] = '\0';
}

static const char *const wanted[] = {"HEADLINE",  "PATIENT",   "TIME",       "COMPLAINT",
                                     "TREATMENT", "ALLERGIES", "EVACUATION", "UNKNOWNS"};

static bool is_wanted(const json_t *row)
{
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
        if (page_row_is(row, "section", wanted[i])) {
            return !page_row_is(row, "style", "table") &&
                   !json_is_true(json_object_get(row, "struck"));
        }
    }
    return false;
}

/* A line goes whole into the code it fits; a longer one than a code is cut, and says so. */
static void add_line(struct page_codes *codes, const char *line)
{
    static const char more[] = "... see the sheet";
    char *text = codes->text[codes->count - 1];
    size_t room = PAGE_CODE_TEXT_MAX - strlen(text), need = strlen(line) + 1;
    if (need > room && codes->count < PAGE_CODES_MAX) {
        text = codes->text[codes->count++];
        room = PAGE_CODE_TEXT_MAX;
    }
    size_t kept = need <= room ? need - 1 : room > sizeof more ? room - sizeof more : 0;
    memcpy(text + strlen(text), line, kept);
    text[strlen(text)] = '\0';
    if (kept + 1 < need && room > sizeof more) {
        strcat(text, more);
    }
    if (strlen(text) < PAGE_CODE_TEXT_MAX) {
        strcat(text, "\n");
    }
}

void page_codes_make(const struct page_sheet *sheet, struct page_codes *out_codes)
{
    char line[2000];
    size_t index;
    json_t *row;
    memset(out_codes, 0, sizeof *out_codes);
    out_codes->count = 1;
    snprintf(line, sizeof line, "%sHANDOVER sheet %ld check %s",
             sheet->exercise ? "EXERCISE - NOT REAL. " : "", sheet->number, sheet->check);
    add_line(out_codes, line);
    json_array_foreach(sheet->rows, index, row)
    {
        if (is_wanted(row)) {
            line[0] = '\0';
            add_ascii(line, sizeof line, page_row_text(row, "label"));
            add_ascii(line, sizeof line, line[0] != '\0' ? " " : "");
            add_ascii(line, sizeof line, page_row_text(row, "text"));
            add_line(out_codes, line);
        }
    }
    add_line(out_codes, "Not a medical device: check the patient.");
}

static QRcode *encode(const char *text)
{
    return QRcode_encodeString8bit(text, 0, QR_ECLEVEL_M);
}

/* Dark cells that touch in a row are one rectangle: a tenth of the size in a PDF. */
static void draw_cells(cairo_t *cairo, const QRcode *code, int row, double x, double y, double cell)
{
    const unsigned char *cells = code->data + row * code->width;
    int column = 0;
    while (column < code->width) {
        int end = column;
        while (end < code->width && (cells[end] & 1)) {
            end++;
        }
        if (end > column) {
            cairo_rectangle(cairo, x + (column + QUIET) * cell, y + (row + QUIET) * cell,
                            (end - column) * cell, cell);
        }
        column = end + 1;
    }
}

int page_code_draw(cairo_t *cairo, const char *text, double x, double y, double side)
{
    QRcode *code = encode(text);
    if (code == NULL) {
        return -1;
    }
    for (int row = 0; row < code->width; row++) {
        draw_cells(cairo, code, row, x, y, side / (code->width + 2 * QUIET));
    }
    cairo_fill(cairo);
    QRcode_free(code);
    return 0;
}

static bool is_dark(const QRcode *code, int column, int row)
{
    bool inside = column >= 0 && row >= 0 && column < code->width && row < code->width;
    return inside && (code->data[row * code->width + column] & 1) != 0;
}

int page_code_print(const char *text, FILE *out)
{
    QRcode *code = encode(text);
    if (code == NULL) {
        return -1;
    }
    for (int row = -QUIET; row < code->width + QUIET; row += 2) {
        fputs("\x1b[30;107m", out); /* black on white */
        for (int column = -QUIET; column < code->width + QUIET; column++) {
            bool above = is_dark(code, column, row), below = is_dark(code, column, row + 1);
            fputs(above ? (below ? "\u2588" : "\u2580") : below ? "\u2584" : " ", out);
        }
        fputs("\x1b[0m\n", out);
    }
    QRcode_free(code);
    return 0;
}

static cairo_status_t write_bytes(void *stream, const unsigned char *bytes, unsigned len)
{
    return fwrite(bytes, 1, len, stream) == len ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int page_codes_png(const struct page_codes *codes, FILE *out)
{
    int side = 0;
    for (size_t i = 0; i < codes->count; i++) {
        QRcode *code = encode(codes->text[i]);
        if (code == NULL) {
            return -1;
        }
        int pixels = (code->width + 2 * QUIET) * CELL_PIXELS;
        side = pixels > side ? pixels : side;
        QRcode_free(code);
    }
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, side * (int)codes->count, side);
    cairo_t *cairo = cairo_create(surface);
    cairo_set_antialias(cairo, CAIRO_ANTIALIAS_NONE);
    cairo_set_source_rgb(cairo, 1, 1, 1);
    cairo_paint(cairo);
    cairo_set_source_rgb(cairo, 0, 0, 0);
    for (size_t i = 0; i < codes->count; i++) {
        page_code_draw(cairo, codes->text[i], (double)(side * (int)i), 0, side);
    }
    cairo_destroy(cairo);
    bool good =
        cairo_surface_write_to_png_stream(surface, write_bytes, out) == CAIRO_STATUS_SUCCESS;
    cairo_surface_destroy(surface);
    return good ? 0 : -1;
}
