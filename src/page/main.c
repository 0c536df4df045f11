/* ridgepost-page: draws what `ridgepost handover EPISODE --form rows` gives, as PDF or QR codes. */
#include <stdio.h>
#include <string.h>
#include <sysexits.h>

#include <pango/pangocairo.h>

#include "page/code.h"
#include "page/draw.h"

static const char usage[] =
    "usage: ridgepost handover EPISODE --form rows | ridgepost-page pdf|png|qr\n"
    "  pdf  A4 pages to standard output\n"
    "  png  the QR codes as a picture, to standard output\n"
    "  qr   the QR codes on the terminal\n"
    "Not a medical device. A chamber is never a substitute for descent. Follow the treating\n"
    "clinician, local protocols and licensed practice.\n";

static int print_codes(const struct page_codes *codes)
{
    int result = 0;
    for (size_t i = 0; i < codes->count && result == 0; i++) {
        printf("code %zu of %zu\n", i + 1, codes->count);
        result = page_code_print(codes->text[i], stdout);
    }
    return result;
}

static int draw(const char *form, const struct page_sheet *sheet)
{
    struct page_codes codes;
    page_codes_make(sheet, &codes);
    if (strcmp(form, "pdf") == 0) {
        return page_draw_pdf(sheet, stdout);
    }
    return strcmp(form, "png") == 0 ? page_codes_png(&codes, stdout) : print_codes(&codes);
}

/* The libraries keep fonts for the next page: given back, so that a leak of ours stands out. */
static void release_libraries(void)
{
    pango_cairo_font_map_set_default(NULL);
}

int main(int argc, char **argv)
{
    const char *form = argc == 2 ? argv[1] : "";
    if (strcmp(form, "--version") == 0) {
        puts("ridgepost-page " RP_VERSION);
        return EX_OK;
    }
    if (strcmp(form, "pdf") != 0 && strcmp(form, "png") != 0 && strcmp(form, "qr") != 0) {
        fputs(usage, strcmp(form, "--help") == 0 ? stdout : stderr);
        return strcmp(form, "--help") == 0 ? EX_OK : EX_USAGE;
    }
    struct page_sheet sheet;
    const char *problem = page_sheet_read(stdin, &sheet);
    if (problem != NULL) {
        fprintf(stderr, "ridgepost-page: %s\n", problem);
        return EX_DATAERR;
    }
    int result = draw(form, &sheet);
    page_sheet_free(&sheet);
    release_libraries();
    if (result < 0 || fflush(stdout) != 0) {
        fprintf(stderr, "ridgepost-page: the page cannot be written\n");
        return EX_IOERR;
    }
    return EX_OK;
}
