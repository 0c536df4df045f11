#include "rp_test.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#include "base/rng.h"
#include "handover/check.h"
#include "handover/format.h"
#include "wire/frame.h"

#define SEED 20261125

static char text[256];
static struct rp_textbuf buf;

static void begin(void)
{
    buf = rp_textbuf_on(text, sizeof text - 1);
}

/* The text so far, with plain spaces. */
static const char *shown(void)
{
    assert_false(buf.full);
    text[buf.len] = '\0';
    for (char *at = strchr(text, RP_NO_BREAK_BYTE); at != NULL; at = strchr(at, RP_NO_BREAK_BYTE)) {
        *at = ' ';
    }
    return text;
}

#define ASSERT_SHOWS(expected, call)                                                               \
    do {                                                                                           \
        begin();                                                                                   \
        call;                                                                                      \
        assert_string_equal(shown(), expected);                                                    \
    } while (0)

static void assert_civil(int64_t unix_s, int year, int month, int day, int hour, int minute)
{
    struct rp_civil civil = rp_civil_of(unix_s - RP_NET_EPOCH_UNIX_S);
    assert_int_equal(civil.year, year);
    assert_int_equal(civil.month, month);
    assert_int_equal(civil.day, day);
    assert_int_equal(civil.hour, hour);
    assert_int_equal(civil.minute, minute);
}

/* RFC 3339 section 5.8, first example, and the unix epoch of POSIX.1-2017 4.16. The other times
 * are days on which leap rules show (Gregorian calendar). */
static void dates_match_published_examples(void **state)
{
    (void)state;
    assert_civil(482196050, 1985, 4, 12, 23, 20);
    assert_civil(0, 1970, 1, 1, 0, 0);
    assert_civil(951782400, 2000, 2, 29, 0, 0);
    assert_civil(1835395200, 2028, 2, 29, 0, 0);
    assert_civil(1835481600, 2028, 3, 1, 0, 0);
    assert_civil(4107542400, 2100, 3, 1, 0, 0);
    assert_civil(-1, 1969, 12, 31, 23, 59);
}

/* The C library's gmtime_r is the reference. */
static void dates_match_the_c_library(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED);
    for (int i = 0; i < 20000; i++) {
        time_t unix_s = (time_t)rp_rng_between(&rng, -4000000000, 12000000000);
        struct tm tm;
        assert_non_null(gmtime_r(&unix_s, &tm));
        struct rp_civil civil = rp_civil_of((int64_t)unix_s - RP_NET_EPOCH_UNIX_S);
        bool same = civil.year == tm.tm_year + 1900 && civil.month == tm.tm_mon + 1 &&
                    civil.day == tm.tm_mday && civil.hour == tm.tm_hour &&
                    civil.minute == tm.tm_min && civil.second == tm.tm_sec;
        if (!same) {
            print_error("seed %d, time %lld\n", SEED, (long long)unix_s);
        }
        assert_true(same);
    }
}

#define DAY 86400u

static void times_say_their_day_and_clock(void **state)
{
    (void)state;
    struct rp_time_frame frame = {&rp_texts_english, 328 * DAY + 15 * 3600, true, 20700};
    ASSERT_SHOWS("14:05Z (19:50)", rp_format_time(&buf, &frame, 328 * DAY + 14 * 3600 + 300));
    ASSERT_SHOWS("24 Nov 14:05Z (19:50)",
                 rp_format_time(&buf, &frame, 327 * DAY + 14 * 3600 + 300));
    ASSERT_SHOWS("24 Nov 20:10Z (25 Nov 01:55)",
                 rp_format_time(&buf, &frame, 327 * DAY + 20 * 3600 + 600));
    ASSERT_SHOWS("1 Jan 2027 00:00Z (05:45)", rp_format_time(&buf, &frame, 365 * DAY));
    ASSERT_SHOWS("25 Nov 2026", rp_format_day(&buf, &rp_texts_english, frame.now_s));
    frame.has_local = false;
    ASSERT_SHOWS("14:05Z", rp_format_time(&buf, &frame, 328 * DAY + 14 * 3600 + 300));
    frame.has_local = true;
    frame.utc_offset_s = -5 * 3600;
    ASSERT_SHOWS("02:00Z (24 Nov 21:00)", rp_format_time(&buf, &frame, 328 * DAY + 2 * 3600));
    ASSERT_SHOWS("1 Jan 00:00Z (31 Dec 19:00)", rp_format_time(&buf, &frame, 0));
    ASSERT_SHOWS("-05:00", rp_format_offset(&buf, -18000));
    ASSERT_SHOWS("+05:45", rp_format_offset(&buf, 20700));
    ASSERT_SHOWS("+00:00", rp_format_offset(&buf, 0));
}

static void spans_are_rounded_down(void **state)
{
    (void)state;
    ASSERT_SHOWS("<1 min", rp_format_span(&buf, &rp_texts_english, 59));
    ASSERT_SHOWS("1 min", rp_format_span(&buf, &rp_texts_english, 60));
    ASSERT_SHOWS("59 min", rp_format_span(&buf, &rp_texts_english, 3599));
    ASSERT_SHOWS("1 h 00", rp_format_span(&buf, &rp_texts_english, 3600));
    ASSERT_SHOWS("1 h 40", rp_format_span(&buf, &rp_texts_english, 6000));
    ASSERT_SHOWS("47 h 59", rp_format_span(&buf, &rp_texts_english, 172799));
    ASSERT_SHOWS("2 d 0 h", rp_format_span(&buf, &rp_texts_english, 172800));
    ASSERT_SHOWS("49710 d 6 h", rp_format_span(&buf, &rp_texts_english, UINT32_MAX));
}

static void numbers_keep_their_decimals(void **state)
{
    (void)state;
    ASSERT_SHOWS("36.4", rp_textbuf_number(&buf, 364, 1));
    ASSERT_SHOWS("0.4", rp_textbuf_number(&buf, 4, 1));
    ASSERT_SHOWS("-0.5", rp_textbuf_number(&buf, -5, 1));
    ASSERT_SHOWS("2.0", rp_textbuf_number(&buf, 20, 1));
    ASSERT_SHOWS("0", rp_textbuf_number(&buf, 0, 0));
    ASSERT_SHOWS("-14", rp_textbuf_number(&buf, -14, 0));
    ASSERT_SHOWS("8", rp_textbuf_short_number(&buf, 8000, 3));
    ASSERT_SHOWS("2.5", rp_textbuf_short_number(&buf, 2500, 3));
    ASSERT_SHOWS("0.125", rp_textbuf_short_number(&buf, 125, 3));
    ASSERT_SHOWS("10000", rp_textbuf_short_number(&buf, 10000000, 3));
    ASSERT_SHOWS("-9223372036854775808", rp_textbuf_number(&buf, INT64_MIN, 0));
    ASSERT_SHOWS("007", rp_textbuf_padded(&buf, 7, 3));
}

/* Arithmetic: minutes are 60 times the decimals of the degree. */
static void positions_carry_over_full_minutes(void **state)
{
    (void)state;
    ASSERT_SHOWS("27 59.280 N 086 55.520 E",
                 rp_format_position(&buf, &rp_texts_english, 27988000, 86925333));
    ASSERT_SHOWS("28 00.000 N 087 00.000 W",
                 rp_format_position(&buf, &rp_texts_english, 27999999, -86999999));
    ASSERT_SHOWS("00 00.000 N 000 00.000 E", rp_format_position(&buf, &rp_texts_english, 0, 0));
    ASSERT_SHOWS("90 00.000 S 180 00.000 W",
                 rp_format_position(&buf, &rp_texts_english, -90000000, -180000000));
    ASSERT_SHOWS("00 00.001 S 000 00.001 W", rp_format_position(&buf, &rp_texts_english, -10, -9));
}

static void a_full_buffer_takes_nothing_more(void **state)
{
    (void)state;
    char small[4] = "???";
    struct rp_textbuf b = rp_textbuf_on(small, 3);
    rp_textbuf_str(&b, "ab");
    rp_textbuf_str(&b, "cd");
    assert_true(b.full);
    rp_textbuf_str(&b, "e");
    assert_int_equal(b.len, 2);
    assert_memory_equal(small, "ab?", 3);
}

/* CRC catalogue, CRC-32/ISO-HDLC: check value over "123456789". */
static void crc_matches_the_catalogue(void **state)
{
    (void)state;
    assert_int_equal(rp_sheet_crc32((struct rp_view){(const uint8_t *)"123456789", 9}), 0xcbf43926);
    char check[5];
    rp_sheet_check_letters(0, check);
    assert_string_equal(check, "2222");
    rp_sheet_check_letters(UINT32_MAX, check);
    assert_string_equal(check, "ZZZZ");
    /* 0xcbf43 in groups of five bits: 25, 15, 26, 3: T, H, U, 5. */
    rp_sheet_check_letters(0xcbf43926, check);
    assert_string_equal(check, "THU5");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dates_match_published_examples),
        cmocka_unit_test(dates_match_the_c_library),
        cmocka_unit_test(times_say_their_day_and_clock),
        cmocka_unit_test(spans_are_rounded_down),
        cmocka_unit_test(numbers_keep_their_decimals),
        cmocka_unit_test(positions_carry_over_full_minutes),
        cmocka_unit_test(a_full_buffer_takes_nothing_more),
        cmocka_unit_test(crc_matches_the_catalogue),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
