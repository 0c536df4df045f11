#include "page/code.h"

#include <stdlib.h>
#include <string.h>

#include "page/code_text.h"

#define QUIET       4
#define CELL_PIXELS 6
#define ECI_UTF8    26 /* AIM ECI assignment 000026 */

/* Capacities in bytes: ISO/IEC 18004 table 7, version 23-M is 857, version 13-L is 425; 3 bytes
 * less for the mark that says UTF-8. */
const struct page_code_kind page_code_paper = {854, QR_ECLEVEL_M};
const struct page_code_kind page_code_screen = {422, QR_ECLEVEL_L};

static bool is_ascii(const char *text)
{
    for (; *text != '\0'; text++) {
        if ((unsigned char)*text >= 0x80) {
            return false;
        }
    }
    return true;
}

/* A reader takes bytes for Latin-1 unless it is told: what is not ASCII says that it is UTF-8. */
QRcode *page_code_of(const char *text, QRecLevel level)
{
    QRinput *input = QRinput_new2(0, level);
    QRcode *code = NULL;
    if (input == NULL) {
        return NULL;
    }
    if ((is_ascii(text) || QRinput_appendECIheader(input, ECI_UTF8) == 0) &&
        QRinput_append(input, QR_MODE_8, (int)strlen(text), (const unsigned char *)text) == 0) {
        code = QRcode_encodeInput(input);
    }
    QRinput_free(input);
    return code;
}

int page_codes_make(const struct page_sheet *sheet, const struct page_code_kind *kind,
                    struct page_codes *out_codes)
{
    memset(out_codes, 0, sizeof *out_codes);
    int count = page_code_texts(sheet, kind->bytes_max, out_codes->texts, PAGE_CODES_MAX);
    if (count < 0) {
        return -1;
    }
    out_codes->count = (size_t)count;
    for (size_t i = 0; i < out_codes->count; i++) {
        out_codes->codes[i] = page_code_of(out_codes->texts[i], kind->level);
        if (out_codes->codes[i] == NULL) {
            page_codes_free(out_codes);
            return -1;
        }
    }
    return 0;
}

void page_codes_free(struct page_codes *codes)
{
    for (size_t i = 0; i < codes->count; i++) {
        free(codes->texts[i]);
        QRcode_free(codes->codes[i]);
    }
    codes->count = 0;
}

int page_code_cells(const QRcode *code)
{
    return code->width + 2 * QUIET;
}

static bool is_dark(const QRcode *code, int column, int row)
{
    bool inside = column >= 0 && row >= 0 && column < code->width && row < code->width;
    return inside && (code->data[row * code->width + column] & 1) != 0;
}

/* A stencil of one bit a cell: rectangles would be ten times as many bytes in a PDF. */
static cairo_surface_t *make_stencil(const QRcode *code)
{
    cairo_surface_t *stencil =
        cairo_image_surface_create(CAIRO_FORMAT_A8, code->width, code->width);
    unsigned char *bytes = cairo_image_surface_get_data(stencil);
    int stride = cairo_image_surface_get_stride(stencil);
    if (bytes == NULL) {
        cairo_surface_destroy(stencil);
        return NULL;
    }
    cairo_surface_flush(stencil);
    for (int row = 0; row < code->width; row++) {
        for (int column = 0; column < code->width; column++) {
            bytes[row * stride + column] = is_dark(code, column, row) ? 255 : 0;
        }
    }
    cairo_surface_mark_dirty(stencil);
    return stencil;
}

int page_code_draw(cairo_t *cairo, const QRcode *code, double x, double y, double cell)
{
    cairo_surface_t *stencil = make_stencil(code);
    if (stencil == NULL) {
        return -1;
    }
    cairo_pattern_t *pattern = cairo_pattern_create_for_surface(stencil);
    cairo_pattern_set_filter(pattern, CAIRO_FILTER_NEAREST);
    cairo_save(cairo);
    cairo_translate(cairo, x + QUIET * cell, y + QUIET * cell);
    cairo_scale(cairo, cell, cell);
    cairo_mask(cairo, pattern);
    cairo_restore(cairo);
    cairo_pattern_destroy(pattern);
    cairo_surface_destroy(stencil);
    return 0;
}

void page_code_print(const QRcode *code, FILE *out)
{
    for (int row = -QUIET; row < code->width + QUIET; row += 2) {
        fputs("\x1b[30;107m", out); /* black on white */
        for (int column = -QUIET; column < code->width + QUIET; column++) {
            bool above = is_dark(code, column, row), below = is_dark(code, column, row + 1);
            fputs(above ? (below ? "\u2588" : "\u2580") : below ? "\u2584" : " ", out);
        }
        fputs("\x1b[0m\n", out);
    }
}

static cairo_status_t write_bytes(void *stream, const unsigned char *bytes, unsigned len)
{
    return fwrite(bytes, 1, len, stream) == len ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int page_codes_png(const struct page_codes *codes, FILE *out)
{
    int side = 0, result = 0;
    for (size_t i = 0; i < codes->count; i++) {
        int pixels = page_code_cells(codes->codes[i]) * CELL_PIXELS;
        side = pixels > side ? pixels : side;
    }
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, side, side * (int)codes->count);
    cairo_t *cairo = cairo_create(surface);
    cairo_set_source_rgb(cairo, 1, 1, 1);
    cairo_paint(cairo);
    cairo_set_source_rgb(cairo, 0, 0, 0);
    for (size_t i = 0; i < codes->count && result == 0; i++) {
        result = page_code_draw(cairo, codes->codes[i], 0, side * (double)i, CELL_PIXELS);
    }
    cairo_destroy(cairo);
    if (cairo_surface_write_to_png_stream(surface, write_bytes, out) != CAIRO_STATUS_SUCCESS) {
        result = -1;
    }
    cairo_surface_destroy(surface);
    return result;
}
