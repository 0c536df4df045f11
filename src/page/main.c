/* ridgepost-page: draws what `ridgepost handover EPISODE --form rows` gives, as PDF or QR codes. */
#include <stdio.h>
#include <string.h>
#include <sysexits.h>

#include <pango/pangocairo.h>

#include "page/code.h"
#include "page/draw.h"
#include "page/paper.h"

static const char usage[] =
    "usage: ridgepost handover EPISODE --form rows | ridgepost-page FORM\n"
    "  pdf     A4 pages to standard output\n"
    "  png     the QR codes for paper as a picture, to standard output\n"
    "  screen  the same for a phone's screen: smaller codes, more of them\n"
    "  qr      the QR codes on the terminal\n"
    "   or: ridgepost-page code    one code on the terminal, of the text on standard input\n"
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

static const struct form {
    const char *word;
    const struct page_code_kind *codes; /* NULL: pages */
    int (*write)(const struct page_codes *codes, FILE *out);
} forms[] = {
    {"pdf", NULL, NULL},
    {"png", &page_code_paper, page_codes_png},
    {"screen", &page_code_screen, page_codes_png},
    {"qr", &page_code_screen, print_codes},
};

static const struct form *find_form(const char *word)
{
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        if (strcmp(forms[i].word, word) == 0) {
            return &forms[i];
        }
    }
    return NULL;
}

static int draw(const struct form *form, const struct page_sheet *sheet)
{
    struct page_codes codes;
    if (form->codes == NULL) {
        return page_draw_pdf(sheet, stdout);
    }
    if (page_codes_make(sheet, form->codes, &codes) < 0) {
        return -1;
    }
    int result = form->write(&codes, stdout);
    page_codes_free(&codes);
    return result;
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

/* One code of what is on standard input, whatever it is. */
static int encode_input(void)
{
    char text[1024];
    size_t len = fread(text, 1, sizeof text - 1, stdin);
    text[len] = '\0';
    QRcode *code = len < sizeof text - 1 ? page_code_of(text, page_code_screen.level) : NULL;
    if (code == NULL) {
        fprintf(stderr, "ridgepost-page: no code can be made of that; it takes 1 to %zu bytes\n",
                sizeof text - 2);
        return EX_DATAERR;
    }
    page_code_print(code, stdout);
    QRcode_free(code);
    return fflush(stdout) != 0 ? EX_IOERR : EX_OK;
}

int main(int argc, char **argv)
{
    const char *word = argc == 2 ? argv[1] : "";
    if (argc >= 3 && strcmp(argv[1], "paper") == 0) {
        return blank(argv[2], argv + 3);
    }
    if (strcmp(word, "--version") == 0) {
        puts("ridgepost-page " RP_VERSION);
        return EX_OK;
    }
    if (strcmp(word, "code") == 0) {
        return encode_input();
    }
    const struct form *form = find_form(word);
    if (form == NULL) {
        fputs(usage, strcmp(word, "--help") == 0 ? stdout : stderr);
        return strcmp(word, "--help") == 0 ? EX_OK : EX_USAGE;
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
