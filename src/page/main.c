/* ridgepost-page: draws what `ridgepost handover EPISODE --form rows` gives, as PDF or QR codes. */
#include <stdio.h>
#include <string.h>
#include <sysexits.h>

#include <pango/pangocairo.h>

#include "page/code.h"
#include "page/draw.h"
#include "page/paper.h"

static const char usage[] =
    "usage: ridgepost handover EPISODE --form rows | ridgepost-page pdf|png|qr\n"
    "  pdf  A4 pages to standard output\n"
    "  png  the QR codes as a picture, to standard output\n"
    "  qr   the QR codes on the terminal\n"
    "   or: ridgepost-page paper NAME [exercise] [LANGUAGE]   a blank form as PDF (list: the "
    "names)\n"
    "Not a medical device. A chamber is never a substitute for descent. Follow the treating\n"
    "clinician, local protocols and licensed practice.\n";

static int print_codes(const struct page_codes *codes, FILE *out)
{
    for (size_t i = 0; i < codes->count; i++) {
        fprintf(out, "%zu / %zu\n", i + 1, codes->count);
        page_code_print(codes->codes[i], out);
    }
    return 0;
}

static int draw_codes(const char *form, const struct page_sheet *sheet, FILE *out)
{
    struct page_codes codes;
    bool png = strcmp(form, "png") == 0;
    if (page_codes_make(sheet, png ? &page_code_paper : &page_code_terminal, &codes) < 0) {
        return -1;
    }
    int result = png ? page_codes_png(&codes, out) : print_codes(&codes, out);
    page_codes_free(&codes);
    return result;
}

static int draw(const char *form, const struct page_sheet *sheet)
{
    return strcmp(form, "pdf") == 0 ? page_draw_pdf(sheet, stdout)
                                    : draw_codes(form, sheet, stdout);
}

/* The libraries keep fonts for the next page: given back, so that a leak of ours stands out. */
static void release_libraries(void)
{
    pango_cairo_font_map_set_default(NULL);
}

static int refuse_language(const char *word)
{
    fprintf(stderr, "ridgepost-page: \"%s\" is neither exercise nor a language; these are:\n",
            word);
    for (size_t i = 0; i < rp_texts_count; i++) {
        fprintf(stderr, "%s  %s\n", rp_texts_all[i]->words[RP_TX_LANGUAGE_CODE],
                rp_texts_all[i]->words[RP_TX_LANGUAGE_NAME]);
    }
    return EX_USAGE;
}

/* `words`: what follows the name, to a NULL. */
static int blank(const char *name, char **words)
{
    const struct paper_form *form = paper_find(name);
    const struct rp_texts *texts = &rp_texts_english;
    bool exercise = false;
    for (; *words != NULL; words++) {
        bool marks = strcmp(*words, "exercise") == 0;
        const struct rp_texts *language = marks ? texts : rp_texts_find(*words);
        if (language == NULL) {
            return refuse_language(*words);
        }
        texts = language;
        exercise = exercise || marks;
    }
    if (strcmp(name, "list") == 0) {
        paper_list(texts, stdout);
        return EX_OK;
    }
    if (form == NULL) {
        fprintf(stderr, "ridgepost-page: \"%s\" is no blank form; these are:\n", name);
        paper_list(texts, stderr);
        return EX_USAGE;
    }
    int result = paper_draw(form, texts, exercise, stdout);
    release_libraries();
    return result < 0 || fflush(stdout) != 0 ? EX_IOERR : EX_OK;
}

int main(int argc, char **argv)
{
    const char *form = argc == 2 ? argv[1] : "";
    if (argc >= 3 && strcmp(argv[1], "paper") == 0) {
        return blank(argv[2], argv + 3);
    }
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
