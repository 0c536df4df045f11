/* Over random episodes: neither the page nor the codes lose an allergy, a drug, a silence or the
 * EXERCISE mark. The page is read back by poppler's pdftotext; what a decoder reads in the codes is
 * the affair of the system tests, here it is their texts. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <pango/pangocairo.h>

#include "handover/format.h"
#include "handover/forms.h"
#include "page/code.h"
#include "page/code_text.h"
#include "page/draw.h"
#include "pdf_text.h"
#include "random_episode.h"

#define SEED        20261126
#define CODE_ROUNDS 40
#define PAGE_ROUNDS 8
#define ID_LEN      6 /* every random text begins with so many letters of its own */
#define TEXT_MAX    (4 * 1048576)

static struct scenario scenario;
static char rows[RP_FORM_LEN_MAX], found[TEXT_MAX], squeezed[TEXT_MAX];

/* Without white space (no-break spaces too), so that a wrapped line is found again. */
static void squeeze(const char *text, char *out)
{
    size_t len = 0;
    for (; *text != '\0'; text++) {
        if (text[0] == '\xc2' && text[1] == '\xa0') {
            text++;
        } else if (strchr(" \n\f\x1f", *text) == NULL) {
            out[len++] = *text;
        }
    }
    out[len] = '\0';
}

struct place {
    const char *where;
    int round;
};

static void expect(const struct place *place, const char *what, const char *text)
{
    char needle[256];
    squeeze(text, needle);
    if (strstr(squeezed, needle) == NULL) {
        print_error("seed %d, round %d: %s \"%s\" is not in the %s\n", SEED, place->round, what,
                    text, place->where);
    }
    assert_non_null(strstr(squeezed, needle));
}

/* The letters that only this text begins with. */
static void expect_id(const struct place *place, const char *what, const char *text)
{
    char id[ID_LEN + 1];
    if (strlen(text) >= ID_LEN) {
        snprintf(id, sizeof id, "%.*s", ID_LEN, text);
        expect(place, what, id);
    }
}

static void expect_gaps(const struct place *place)
{
    struct rp_gap gaps[RP_SHEET_GAPS_MAX];
    const struct rp_time_frame frame = {&rp_texts_english, scenario.input.now_s,
                                        scenario.input.has_local, scenario.input.utc_offset_s};
    size_t count = rp_episode_gaps(&scenario.episode, RP_SHEET_GAP_S, scenario.input.now_s, gaps,
                                   RP_SHEET_GAPS_MAX);
    for (size_t i = 0; i < count; i++) {
        char text[64];
        struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
        rp_format_time(&out, &frame, gaps[i].from_s);
        text[out.len] = '\0';
        expect(place, "the begin of a silence", text);
    }
}

static void expect_care(const struct place *place, bool voided_too)
{
    const struct rp_episode *ep = &scenario.episode;
    if (ep->background.allergies.state == RP_KNOWN) {
        expect_id(place, "the allergy", ep->background.allergies.text);
    }
    for (size_t i = 0; i < ep->known[RP_BG_ALLERGIES].count; i++) {
        const struct rp_known_entry *entry = &ep->known[RP_BG_ALLERGIES].at[i];
        if (voided_too || !entry->from.voided) {
            expect_id(place, "an earlier allergy", entry->what.text);
        }
    }
    for (size_t i = 0; i < ep->doses.count; i++) {
        if (voided_too || !ep->doses.at[i].from.voided) {
            expect_id(place, "a drug", ep->doses.at[i].what.name);
        }
    }
    expect_gaps(place);
}

static void read_sheet(struct page_sheet *out_sheet)
{
    int len =
        rp_form_make(rp_form_find("rows"), &scenario.input, &rp_texts_english, rows, sizeof rows);
    assert_true(len > 0);
    FILE *stream = fmemopen(rows, (size_t)len, "r");
    assert_non_null(stream);
    assert_null(page_sheet_read(stream, out_sheet));
    fclose(stream);
}

/* What stands below the first line of each, one after the other; every one says EXERCISE. */
static void check_codes(const struct page_sheet *sheet, const struct page_code_kind *kind,
                        int round)
{
    static char *texts[PAGE_CODES_MAX];
    struct place place = {"codes", round};
    int count = page_code_texts(sheet, kind->bytes_max, texts, PAGE_CODES_MAX);
    assert_true(count > 0);
    found[0] = '\0';
    size_t len = 0;
    for (int i = 0; i < count; i++) {
        assert_true(strlen(texts[i]) <= kind->bytes_max);
        assert_int_equal(strstr(texts[i], "EXERCISE - NOT A REAL PATIENT") != NULL,
                         scenario.episode.exercise);
        const char *body = strchr(texts[i], '\n');
        assert_non_null(body);
        len += (size_t)snprintf(found + len, sizeof found - len, "%s", body + 1);
        free(texts[i]);
    }
    squeeze(found, squeezed);
    expect_care(&place, false);
}

static void no_code_loses_care(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED);
    for (int round = 0; round < CODE_ROUNDS; round++) {
        struct page_sheet sheet;
        if (round == 0) {
            fullest_episode(&scenario);
        } else {
            random_episode(&scenario, &rng, round % 2 == 1);
        }
        read_sheet(&sheet);
        check_codes(&sheet, &page_code_paper, round);
        check_codes(&sheet, &page_code_screen, round);
        page_sheet_free(&sheet);
    }
}

/* The page's text as pdftotext finds it; returns how many pages it has. */
static int read_page(const struct page_sheet *sheet)
{
    int pages = 0;
    FILE *pdf = pdf_open();
    assert_int_equal(page_draw_pdf(sheet, pdf), 0);
    size_t len = pdf_close(pdf, found, sizeof found);
    for (size_t i = 0; i < len; i++) {
        pages += found[i] == '\f';
    }
    squeeze(found, squeezed);
    return pages;
}

static int count_of(const char *needle)
{
    int count = 0;
    for (const char *at = found; (at = strstr(at, needle)) != NULL; at += strlen(needle)) {
        count++;
    }
    return count;
}

static void check_page(int round)
{
    struct page_sheet sheet;
    struct place place = {"page", round};
    read_sheet(&sheet);
    int pages = read_page(&sheet);
    assert_int_equal(count_of("EXERCISE - NOT A REAL PATIENT"),
                     scenario.episode.exercise ? pages : 0);
    expect_care(&place, true);
    page_sheet_free(&sheet);
}

static void no_page_loses_care(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED + 1);
    for (int round = 0; round < PAGE_ROUNDS; round++) {
        random_episode(&scenario, &rng, false);
        check_page(round);
    }
    fullest_episode(&scenario);
    check_page(PAGE_ROUNDS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_code_loses_care),
                                       cmocka_unit_test(no_page_loses_care)};
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    pango_cairo_font_map_set_default(NULL);
    return failed;
}
