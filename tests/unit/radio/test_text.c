#include "rp_test.h"

#include <stdbool.h>
#include <string.h>

#include "base/bytes.h"
#include "radio/text.h"
#include "ridgepost/error.h"

static struct rp_view text_of(const char *text)
{
    return rp_view_of(text, strlen(text));
}

/* RFC 4648 section 10; the padding is left off as its section 3.2 allows. */
static void base64_matches_the_published_vectors(void **state)
{
    (void)state;
    static const struct {
        const char *bytes, *text, *padded;
    } rows[] = {
        {"", "", ""},
        {"f", "Zg", "Zg=="},
        {"fo", "Zm8", "Zm8="},
        {"foo", "Zm9v", "Zm9v"},
        {"foob", "Zm9vYg", "Zm9vYg=="},
        {"fooba", "Zm9vYmE", "Zm9vYmE="},
        {"foobar", "Zm9vYmFy", "Zm9vYmFy"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[16];
        uint8_t bytes[16];
        size_t len = strlen(rows[i].bytes);
        assert_int_equal(rp_base64_len(len), strlen(rows[i].text));
        rp_base64_encode(text_of(rows[i].bytes), text);
        assert_memory_equal(text, rows[i].text, strlen(rows[i].text));
        assert_int_equal(rp_base64_decode(text_of(rows[i].text), bytes, sizeof bytes), len);
        assert_memory_equal(bytes, rows[i].bytes, len);
        assert_int_equal(rp_base64_decode(text_of(rows[i].padded), bytes, sizeof bytes), len);
        assert_memory_equal(bytes, rows[i].bytes, len);
    }
}

/* RFC 4648 section 4, table 1: values 62 and 63 are + and /. */
static void base64_uses_the_plain_alphabet(void **state)
{
    (void)state;
    char text[4];
    rp_base64_encode(rp_view_of("\xfb\xff\xbf", 3), text);
    assert_memory_equal(text, "+/+/", 4);
}

/* RFC 4648 sections 3.3 (foreign characters) and 3.5 (unused bits). */
static void base64_refuses_what_is_not_base64(void **state)
{
    (void)state;
    uint8_t bytes[4];
    static const char *const bad[] = {"A",    "AAAAA", "Zh",    "Zm9",  "Zm 9", "Zg=",   "=",
                                      "====", "Z===",  "Zm9v=", "Zm-v", "Zm,v", "Zg==Zg"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        if (rp_base64_decode(text_of(bad[i]), bytes, sizeof bytes) != RP_E_FORMAT) {
            fail_msg("accepted %s", bad[i]);
        }
    }
    assert_int_equal(rp_base64_decode(rp_view_of("Zm\0v", 4), bytes, sizeof bytes), RP_E_FORMAT);
    assert_int_equal(rp_base64_decode(text_of("Zm9vYmE"), bytes, sizeof bytes), RP_E_TOO_LONG);
}

static void every_byte_survives_base64_and_hex(void **state)
{
    (void)state;
    uint8_t bytes[256], back[256];
    char text[512];
    for (unsigned i = 0; i < 256; i++) {
        bytes[i] = (uint8_t)i;
    }
    rp_base64_encode(rp_view_of(bytes, 256), text);
    assert_int_equal(rp_base64_decode(rp_view_of(text, rp_base64_len(256)), back, 256), 256);
    assert_memory_equal(back, bytes, 256);
    rp_hex_encode(rp_view_of(bytes, 256), text);
    assert_int_equal(rp_hex_decode(rp_view_of(text, 512), back, 256), 256);
    assert_memory_equal(back, bytes, 256);
}

/* RFC 4648 section 10, base 16; section 8 has upper case, the modules print either. */
static void hex_takes_either_case(void **state)
{
    (void)state;
    uint8_t bytes[4];
    char text[6];
    rp_hex_encode(text_of("foo"), text);
    assert_memory_equal(text, "666f6f", 6);
    assert_int_equal(rp_hex_decode(text_of("666F6F"), bytes, sizeof bytes), 3);
    assert_memory_equal(bytes, "foo", 3);
    assert_int_equal(rp_hex_decode(text_of("aBcD"), bytes, sizeof bytes), 2);
    assert_memory_equal(bytes, "\xab\xcd", 2);
    assert_int_equal(rp_hex_decode(text_of("abc"), bytes, sizeof bytes), RP_E_FORMAT);
    assert_int_equal(rp_hex_decode(text_of("ag"), bytes, sizeof bytes), RP_E_FORMAT);
    assert_int_equal(rp_hex_decode(text_of("0`"), bytes, sizeof bytes), RP_E_FORMAT);
    assert_int_equal(rp_hex_decode(text_of("1\x11"), bytes, sizeof bytes), RP_E_FORMAT);
    assert_int_equal(rp_hex_decode(text_of("0011223344"), bytes, sizeof bytes), RP_E_TOO_LONG);
}

static void numbers_are_taken_whole_or_not_at_all(void **state)
{
    (void)state;
    int32_t number = 77;
    struct rp_view text = text_of("-128,9");
    assert_true(rp_text_take_number(&text, -128, 127, &number));
    assert_int_equal(number, -128);
    assert_true(rp_text_take(&text, ","));
    assert_true(rp_text_take_number(&text, 0, 10, &number));
    assert_int_equal(number, 9);
    assert_int_equal(text.len, 0);
    static const char *const bad[] = {"", "-", "x", "-129", "128", "1234567890", "99999999999999"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        text = text_of(bad[i]);
        if (rp_text_take_number(&text, -128, 127, &number)) {
            fail_msg("accepted %s", bad[i]);
        }
        assert_int_equal(text.len, strlen(bad[i]));
        assert_int_equal(number, 9);
    }
}

static void words_are_compared_whole(void **state)
{
    (void)state;
    assert_true(rp_text_is(text_of("ok"), "ok"));
    assert_false(rp_text_is(text_of("ok "), "ok"));
    assert_false(rp_text_is(text_of("o"), "ok"));
    assert_true(rp_text_starts(text_of("radio_rx 00"), "radio_rx "));
    assert_false(rp_text_starts(text_of("radio_rx"), "radio_rx "));
    assert_true(rp_text_contains(text_of("\xfcRN2483 1.0.5"), "RN2483"));
    assert_true(rp_text_contains(text_of("xxRN2483"), "RN2483"));
    assert_false(rp_text_contains(text_of("RN248"), "RN2483"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(base64_matches_the_published_vectors),
        cmocka_unit_test(base64_uses_the_plain_alphabet),
        cmocka_unit_test(base64_refuses_what_is_not_base64),
        cmocka_unit_test(every_byte_survives_base64_and_hex),
        cmocka_unit_test(hex_takes_either_case),
        cmocka_unit_test(numbers_are_taken_whole_or_not_at_all),
        cmocka_unit_test(words_are_compared_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
