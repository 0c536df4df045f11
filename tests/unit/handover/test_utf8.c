/* wcwidth is an X/Open function of the C library. */
#define _XOPEN_SOURCE 700
#include "rp_test.h"

#include <locale.h>
#include <wctype.h>

#include <locale.h>
#include <string.h>
#include <wchar.h>

#include "handover/format.h"
#include "handover/utf8.h"

static void assert_reads(const char *bytes, size_t len, uint32_t code)
{
    uint32_t read;
    assert_int_equal(rp_utf8_next(bytes, &read), len);
    assert_int_equal(read, code);
}

/* RFC 3629 section 7, examples; section 3, table of lengths. */
static void reads_the_examples_of_the_rfc(void **state)
{
    (void)state;
    assert_reads("A", 1, 0x41);
    assert_reads("\xe2\x89\xa2", 3, 0x2262);
    assert_reads("\xce\x91", 2, 0x391);
    assert_reads("\xed\x95\x9c", 3, 0xd55c);
    assert_reads("\xe6\x97\xa5", 3, 0x65e5);
    assert_reads("\xf0\xa3\x8e\xb4", 4, 0x233b4);
    assert_reads("\xf4\x8f\xbf\xbf", 4, 0x10ffff);
}

/* RFC 3629 sections 3, 4 and 10: surrogates, long forms, what no byte may be, cut sequences. */
static void refuses_what_is_no_utf8(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "\xc0\x80",
        "\xc1\xbf",
        "\xe0\x80\xaf",
        "\xf0\x80\x80\xaf",
        "\xed\xa0\x80",
        "\xed\xbf\xbf",
        "\xf4\x90\x80\x80",
        "\xf8\x88",
        "\x80",
        "\xbf",
        "\xff",
        "\xfe",
        "\xe2\x89",
        "\xce",
        "\xf0\xa3\x8e",
        "\xe2\x89Z", /* Z is no hexadecimal digit */
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_reads(bad[i], 1, UINT32_MAX);
    }
}

/* The C library's wcwidth (its table is made from the Unicode Character Database): never narrower
 * than that, so that no line grows beyond its end. */
static void never_narrower_than_the_c_library_says(void **state)
{
    (void)state;
    if (setlocale(LC_CTYPE, "C.UTF-8") == NULL) {
        skip();
    }
    unsigned checked = 0;
    for (uint32_t code = 0x20; code <= 0x10ffff; code++) {
        int width = rp_utf8_hostile(code) ? -1 : wcwidth((wchar_t)code);
        if (width < 0) {
            continue;
        }
        checked++;
        if (rp_utf8_width(code) < (unsigned)width) {
            print_error("U+%04X: %u, library %d\n", (unsigned)code, rp_utf8_width(code), width);
        }
        assert_true(rp_utf8_width(code) >= (unsigned)width);
    }
    assert_true(checked > 100000);
}

static void marks_take_no_column_and_wide_ones_two(void **state)
{
    (void)state;
    assert_int_equal(rp_utf8_columns("abc", 3), 3);
    assert_int_equal(rp_utf8_columns("e\xcc\x81", 3), 1);
    assert_int_equal(rp_utf8_columns("\xe5\xb1\xb1\xe7\x94\xb0", 6), 4);
    assert_int_equal(rp_utf8_columns("\xe0\xa4\x95\xe0\xa5\x81", 6), 1);
}

/* ECMA-48 controls (C0, C1) and the bidirectional controls of Unicode Standard Annex 9. */
static void nothing_hostile_gets_through(void **state)
{
    (void)state;
    char text[64];
    struct rp_textbuf buf = rp_textbuf_on(text, sizeof text - 1);
    rp_textbuf_entered(&buf, "a\x1b[2J\tb\nc\x7f\xc2\x9b"
                             "31m\xe2\x80\xae"
                             "d\xff\xef\xbb\xbf.\x1f.");
    text[buf.len] = '\0';
    assert_string_equal(text, "a?[2J b c??31m?d??.?.");
    static const uint32_t hostile[] = {0x00,   0x1b,   0x7f,   0x80,   0x9b,   0x9f,   0x061c,
                                       0x200e, 0x200f, 0x202a, 0x202e, 0x2066, 0x2069, 0x2028};
    for (size_t i = 0; i < sizeof hostile / sizeof hostile[0]; i++) {
        assert_true(rp_utf8_hostile(hostile[i]));
    }
    assert_false(rp_utf8_hostile(' '));
    assert_false(rp_utf8_hostile('~'));
    assert_false(rp_utf8_hostile(0xa0));
    assert_false(rp_utf8_hostile(0x200d)); /* joiners are part of words */
}

/* The upper case of the C library's own tables, for every code point of up to two bytes. */
static void capitals_are_those_of_the_c_library(void **state)
{
    (void)state;
    assert_non_null(setlocale(LC_CTYPE, "C.UTF-8"));
    unsigned letters = 0;
    for (uint32_t code = 1; code < 0x530; code++) {
        uint32_t known = (uint32_t)towupper((wint_t)code), ours = rp_utf8_capital(code);
        bool same_bytes = (known < 0x80) == (code < 0x80) && known < 0x800;
        bool letter = code < 0x180 || (code >= 0x3ac && code < 0x3cf && code != 0x3b0) ||
                      (code >= 0x430 && code < 0x460);
        if (letter && same_bytes && code != 0xb5) { /* the micro sign stays one */
            assert_int_equal(ours, known);
            letters += known != code;
        } else {
            assert_int_equal(ours, code);
        }
    }
    assert_true(letters > 150);
    setlocale(LC_CTYPE, "C");
}

static void a_text_is_made_capitals_in_place(void **state)
{
    (void)state;
    char text[] = "\xc3\xa9t\xc3\xa9 \xc3\x9f \xce\xb1 \xe6\xb0\xb4 \xff\xc3";
    rp_utf8_capitalise(text, sizeof text - 1);
    assert_string_equal(text, "\xc3\x89T\xc3\x89 \xc3\x9f \xce\x91 \xe6\xb0\xb4 \xff\xc3");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(capitals_are_those_of_the_c_library),
        cmocka_unit_test(a_text_is_made_capitals_in_place),
        cmocka_unit_test(reads_the_examples_of_the_rfc),
        cmocka_unit_test(refuses_what_is_no_utf8),
        cmocka_unit_test(never_narrower_than_the_c_library_says),
        cmocka_unit_test(marks_take_no_column_and_wide_ones_two),
        cmocka_unit_test(nothing_hostile_gets_through),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
