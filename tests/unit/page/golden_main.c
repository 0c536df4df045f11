/* The words of the pages and codes as reviewed: the rows of tests/golden/forms drawn and read back
 * by poppler's pdftotext, the codes' texts, the blank forms, and the numbers of their fields that
 * the bedside page shows. With the argument "write" the files in tests/golden/page are written
 * anew, for a person to read before they are committed.
 *
 * What a line holds and where it ends depends on the fonts: these are compared word by word. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <pango/pangocairo.h>

#include "page/code.h"
#include "page/code_text.h"
#include "page/draw.h"
#include "page/paper.h"
#include "pdf_text.h"

#define TEXT_MAX 65536

static char made[TEXT_MAX], expected[TEXT_MAX];

static const char *const stories[] = {"typical", "exercise", "none_known", "corrected"};
#define STORY_COUNT (sizeof stories / sizeof stories[0])

static FILE *open_golden(const char *folder, const char *name, const char *suffix, const char *mode)
{
    char path[512];
    snprintf(path, sizeof path, "%s/tests/golden/%s/%s%s", RP_SOURCE_DIR, folder, name, suffix);
    FILE *file = fopen(path, mode);
    if (file == NULL) {
        print_error("cannot open %s\n", path);
    }
    assert_non_null(file);
    return file;
}

static void read_story(const char *story, struct page_sheet *out_sheet)
{
    char name[64];
    snprintf(name, sizeof name, "%s_rows", story);
    FILE *file = open_golden("forms", name, ".json", "rb");
    assert_null(page_sheet_read(file, out_sheet));
    fclose(file);
}

static void make_page(size_t story, bool with_words)
{
    struct page_sheet sheet;
    read_story(stories[story], &sheet);
    if (!with_words) {
        assert_int_equal(json_object_del(sheet.root, "words"), 0);
    }
    FILE *pdf = pdf_open();
    assert_int_equal(page_draw_pdf(&sheet, pdf), 0);
    pdf_close(pdf, made, sizeof made);
    page_sheet_free(&sheet);
}

static void make_codes(size_t story)
{
    struct page_sheet sheet;
    static char *texts[PAGE_CODES_MAX];
    size_t len = 0;
    read_story(stories[story], &sheet);
    int count = page_code_texts(&sheet, page_code_paper.bytes_max, texts, PAGE_CODES_MAX);
    assert_true(count > 0);
    for (int i = 0; i < count; i++) {
        len += (size_t)snprintf(made + len, sizeof made - len, "%s", texts[i]);
        free(texts[i]);
    }
    page_sheet_free(&sheet);
}

static void make_paper(size_t form, const struct rp_texts *texts)
{
    FILE *pdf = pdf_open();
    assert_int_equal(paper_draw(&paper_forms[form], texts, false, pdf), 0);
    pdf_close(pdf, made, sizeof made);
}

/* White space and line ends are not compared. */
static void squeeze(char *text)
{
    size_t len = 0;
    for (const char *at = text; *at != '\0'; at++) {
        if (strchr(" \n\f", *at) == NULL) {
            text[len++] = *at;
        }
    }
    text[len] = '\0';
}

static void compare_or_write(const char *name, bool writes)
{
    FILE *file = open_golden("page", name, ".txt", writes ? "wb" : "rb");
    if (writes) {
        fputs(made, file);
    } else {
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
        squeeze(expected);
        squeeze(made);
        if (strcmp(made, expected) != 0) {
            print_error("%s.txt differs; it would be: %s\n", name, made);
        }
        assert_string_equal(made, expected);
    }
    fclose(file);
}

#define NUMBERS "src/web/assets/numbers.js"

static bool has_number(const struct paper_item *item)
{
    return item->kind == PAPER_FIELD || item->kind == PAPER_COLUMN;
}

/* "1.7 1.20": where a form has this text. Empty: nowhere. */
static void put_numbers(size_t form, enum rp_text_id text, char *buf, size_t size)
{
    int number = 0;
    size_t len = 0;
    buf[0] = '\0';
    for (size_t i = 0; i < paper_forms[form].item_count; i++) {
        const struct paper_item *item = &paper_forms[form].items[i];
        number += has_number(item);
        if (has_number(item) && item->text == text && len < size) {
            int put =
                snprintf(buf + len, size - len, "%s%zu.%d", len > 0 ? " " : "", form + 1, number);
            len += (size_t)put;
        }
    }
}

/* The numbers of all fields, for the bedside page. */
static void make_numbers(void)
{
    size_t len = (size_t)snprintf(made, sizeof made,
                                  "\"use strict\";\n// Made from src/page/paper_forms.c by "
                                  "`test_page_golden write`.\n\nconst paperNumbers = {\n");
    for (size_t form = 0; form < paper_form_count; form++) {
        for (int id = 0; id < RP_TX_COUNT; id++) {
            char numbers[80];
            const char *key = rp_text_key((enum rp_text_id)id);
            put_numbers(form, (enum rp_text_id)id, numbers, sizeof numbers);
            if (numbers[0] != '\0') {
                assert_int_equal(strncmp(key, "PAPER_", 6), 0);
                len += (size_t)snprintf(made + len, sizeof made - len, "  \"%s.%s\": \"%s\",\n",
                                        paper_forms[form].name, key + 6, numbers);
            }
        }
    }
    snprintf(made + len, sizeof made - len, "};\n");
}

/* Every number that the panels name is one of paperNumbers. */
static void check_panels(void)
{
    static char panels[TEXT_MAX];
    size_t named = 0;
    FILE *file = fopen(RP_SOURCE_DIR "/src/web/assets/panels.js", "rb");
    assert_non_null(file);
    panels[fread(panels, 1, sizeof panels - 1, file)] = '\0';
    fclose(file);
    for (size_t form = 0; form < paper_form_count; form++) {
        char begin[64];
        snprintf(begin, sizeof begin, "\"%s.", paper_forms[form].name);
        for (const char *at = panels; (at = strstr(at, begin)) != NULL; at++) {
            char key[80];
            snprintf(key, sizeof key, "  %.*s\": ", (int)strcspn(at + 1, "\"") + 1, at);
            if (strstr(made, key) == NULL) {
                print_error("panels.js names %s\n", key);
            }
            assert_non_null(strstr(made, key));
            named++;
        }
    }
    assert_true(named > 40);
}

/* The drawn form in `made` has each label behind its number. */
static void check_drawn_numbers(const struct paper_form *form)
{
    static char text[TEXT_MAX];
    int number = 0;
    memcpy(text, made, sizeof text);
    squeeze(text);
    for (size_t i = 0; i < form->item_count; i++) {
        char label[200];
        if (has_number(&form->items[i])) {
            snprintf(label, sizeof label, "%d%s", ++number,
                     rp_texts_english.words[form->items[i].text]);
            squeeze(label);
            if (strstr(text, label) == NULL) {
                print_error("%s: no %s\n", form->name, label);
            }
            assert_non_null(strstr(text, label));
        }
    }
}

static void do_numbers(bool writes)
{
    FILE *file = fopen(RP_SOURCE_DIR "/" NUMBERS, writes ? "wb" : "rb");
    assert_non_null(file);
    make_numbers();
    if (writes) {
        fputs(made, file);
    } else {
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
        assert_string_equal(made, expected);
        check_panels();
    }
    fclose(file);
}

static void do_all(bool writes)
{
    char name[64];
    for (size_t i = 0; i < STORY_COUNT; i++) {
        make_page(i, true);
        snprintf(name, sizeof name, "%s_page", stories[i]);
        compare_or_write(name, writes);
        make_codes(i);
        snprintf(name, sizeof name, "%s_codes", stories[i]);
        compare_or_write(name, writes);
    }
    for (size_t i = 0; i < paper_form_count * rp_texts_count; i++) {
        const struct paper_form *form = &paper_forms[i % paper_form_count];
        const struct rp_texts *texts = rp_texts_all[i / paper_form_count];
        bool english = texts == &rp_texts_english;
        make_paper(i % paper_form_count, texts);
        if (english) {
            check_drawn_numbers(form);
        }
        snprintf(name, sizeof name, "paper_%s%s%s", form->name, english ? "" : "_",
                 english ? "" : texts->words[RP_TX_LANGUAGE_CODE]);
        compare_or_write(name, writes);
    }
    do_numbers(writes);
}

static void pages_are_as_reviewed(void **state)
{
    (void)state;
    do_all(false);
}

/* Rows that bring no words with them are drawn with the English ones. */
static void rows_without_words_read_the_same(void **state)
{
    (void)state;
    for (size_t i = 0; i < STORY_COUNT; i++) {
        char name[64];
        make_page(i, false);
        snprintf(name, sizeof name, "%s_page", stories[i]);
        compare_or_write(name, false);
    }
}

int main(int argc, char **argv)
{
    int failed = 0;
    if (argc == 2 && strcmp(argv[1], "write") == 0) {
        do_all(true);
    } else {
        const struct CMUnitTest tests[] = {cmocka_unit_test(pages_are_as_reviewed),
                                           cmocka_unit_test(rows_without_words_read_the_same)};
        failed = cmocka_run_group_tests(tests, NULL, NULL);
    }
    pango_cairo_font_map_set_default(NULL);
    return failed;
}
