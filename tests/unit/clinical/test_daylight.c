#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "clinical/sky/daylight.h"
#include "ridgepost/error.h"

#define EPOCH_UNIX_S 1767225600 /* 2026-01-01Z */

/* "2026-11-25 11:17" as net time. */
static int64_t net(const char *text)
{
    struct tm t = {0};
    assert_int_equal(
        sscanf(text, "%d-%d-%d %d:%d", &t.tm_year, &t.tm_mon, &t.tm_mday, &t.tm_hour, &t.tm_min),
        5);
    t.tm_year -= 1900;
    t.tm_mon -= 1;
    return (int64_t)timegm(&t) - EPOCH_UNIX_S;
}

/* Dawn, sunrise, sunset and dusk in UTC, to the nearest minute, by PyEphem 4.1.4 (package
 * python3-ephem, VSOP87 planetary theory; no refraction model, horizons -0:50 and -6 of the centre
 * of the sun, the definitions of the printed almanacs), for the solar day around local noon. The
 * row of Greenwich agrees with the printed tables for London at midsummer, 04:43 and 21:21 summer
 * time (from memory). "" where the sun does not cross. */
static const struct {
    int32_t lat_e6, lon_e6;
    const char *noonish, *dawn, *rise, *set, *dusk;
} days[] = {
    {28104100, 86752300, "2026-03-20 06:00", "2026-03-19 23:54", "2026-03-20 00:17",
     "2026-03-20 12:24", "2026-03-20 12:48"},
    {28104100, 86752300, "2026-06-21 06:00", "2026-06-20 22:50", "2026-06-20 23:17",
     "2026-06-21 13:13", "2026-06-21 13:39"},
    {28104100, 86752300, "2026-11-25 06:00", "2026-11-25 00:17", "2026-11-25 00:42",
     "2026-11-25 11:17", "2026-11-25 11:42"},
    {28104100, 86752300, "2026-12-21 06:00", "2026-12-21 00:34", "2026-12-21 01:00",
     "2026-12-21 11:22", "2026-12-21 11:48"},
    {-32650000, -70010000, "2027-01-15 17:00", "2027-01-15 09:20", "2027-01-15 09:48",
     "2027-01-15 23:51", "2027-01-16 00:19"},
    {46000000, 7700000, "2028-02-29 11:00", "2028-02-29 05:39", "2028-02-29 06:09",
     "2028-02-29 17:15", "2028-02-29 17:45"},
    {63070000, -151000000, "2029-05-20 22:00", "2029-05-20 11:01", "2029-05-20 12:45",
     "2029-05-21 07:19", "2029-05-21 09:07"},
    {-150000, 37300000, "2033-09-01 09:00", "2033-09-01 03:07", "2033-09-01 03:28",
     "2033-09-01 15:34", "2033-09-01 15:55"},
    {51476900, 0, "2030-06-21 12:00", "2030-06-21 02:55", "2030-06-21 03:43", "2030-06-21 20:21",
     "2030-06-21 21:09"},
    {35880000, 76510000, "2031-07-30 07:00", "2031-07-29 23:31", "2031-07-30 00:00",
     "2031-07-30 14:01", "2031-07-30 14:29"},
    {-54800000, -68300000, "2026-06-21 16:00", "2026-06-21 12:14", "2026-06-21 12:59",
     "2026-06-21 20:11", "2026-06-21 20:57"},
    {-3070000, 37350000, "2034-12-31 09:00", "2034-12-31 03:02", "2034-12-31 03:25",
     "2034-12-31 15:42", "2034-12-31 16:05"},
    {69650000, 18960000, "2027-12-21 11:00", "2027-12-21 08:31", "", "", "2027-12-21 12:53"},
    {64100000, -21900000, "2027-06-21 13:00", "", "2027-06-21 02:56", "2027-06-22 00:03", ""},
    {28100000, 179900000, "2026-11-25 00:00", "2026-11-24 18:04", "2026-11-24 18:30",
     "2026-11-25 05:05", "2026-11-25 05:30"},
    {28100000, -179900000, "2026-11-25 23:00", "2026-11-25 18:04", "2026-11-25 18:29",
     "2026-11-26 05:04", "2026-11-26 05:29"},
};

static int64_t worst_s;

static void near(const char *what, size_t row, int64_t got_s, const char *text)
{
    int64_t apart_s = llabs(got_s - net(text));
    worst_s = apart_s > worst_s ? apart_s : worst_s;
    if (apart_s > 120) {
        fail_msg("row %zu %s: %lld s away", row, what, (long long)apart_s);
    }
}

static void events_within_two_minutes(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof days / sizeof days[0]; i++) {
        struct rp_daylight day;
        assert_int_equal(
            rp_daylight_at(days[i].lat_e6, days[i].lon_e6, (uint32_t)net(days[i].noonish), &day),
            0);
        assert_int_equal(day.sun == RP_SUN_CROSSES, days[i].rise[0] != '\0');
        assert_int_equal(day.twilight == RP_SUN_CROSSES, days[i].dawn[0] != '\0');
        if (day.sun == RP_SUN_CROSSES) {
            near("sunrise", i, day.sunrise_s, days[i].rise);
            near("sunset", i, day.sunset_s, days[i].set);
        }
        if (day.twilight == RP_SUN_CROSSES) {
            near("dawn", i, day.dawn_s, days[i].dawn);
            near("dusk", i, day.dusk_s, days[i].dusk);
        }
    }
    print_message("largest difference: %lld s, of which up to 30 s by whole minutes\n",
                  (long long)worst_s);
}

/* The sun stays up or down beyond the polar circles: 69.65 N in midsummer and midwinter. */
static void polar_day_and_night(void **state)
{
    (void)state;
    struct rp_daylight day;
    uint32_t summer = (uint32_t)net("2027-06-21 11:00"), winter = (uint32_t)net("2027-12-21 11:00");
    assert_int_equal(rp_daylight_at(69650000, 18960000, summer, &day), 0);
    assert_int_equal(day.sun, RP_SUN_STAYS_ABOVE);
    assert_int_equal(day.twilight, RP_SUN_STAYS_ABOVE);
    assert_true(rp_daylight_is_light(&day, summer));
    assert_int_equal(rp_daylight_at(69650000, 18960000, winter, &day), 0);
    assert_int_equal(day.sun, RP_SUN_STAYS_BELOW);
    assert_int_equal(day.twilight, RP_SUN_CROSSES);
    assert_int_equal(rp_daylight_at(90000000, 0, winter, &day), 0);
    assert_int_equal(day.twilight, RP_SUN_STAYS_BELOW);
    assert_false(rp_daylight_is_light(&day, winter));
    assert_int_equal(rp_daylight_at(-90000000, 180000000, winter, &day), 0);
    assert_int_equal(day.sun, RP_SUN_STAYS_ABOVE);
}

static void the_day_is_that_of_the_place(void **state)
{
    (void)state;
    /* 17:00Z is 22:47 by the sun at 86.75 E: still that day; 19:00Z is the next. */
    struct rp_daylight evening, night;
    assert_int_equal(
        rp_daylight_at(28104100, 86752300, (uint32_t)net("2026-11-25 17:00"), &evening), 0);
    assert_int_equal(rp_daylight_at(28104100, 86752300, (uint32_t)net("2026-11-25 19:00"), &night),
                     0);
    assert_in_range(night.sunset_s - evening.sunset_s, 86400 - 60, 86400 + 60);
    assert_true(evening.dawn_s < evening.sunrise_s && evening.sunrise_s < evening.noon_s &&
                evening.noon_s < evening.sunset_s && evening.sunset_s < evening.dusk_s);
}

static void light_is_from_dawn_to_dusk(void **state)
{
    (void)state;
    struct rp_daylight day = {.twilight = RP_SUN_CROSSES, .dawn_s = 1000, .dusk_s = 2000};
    assert_false(rp_daylight_is_light(&day, 999));
    assert_true(rp_daylight_is_light(&day, 1000));
    assert_true(rp_daylight_is_light(&day, 2000));
    assert_false(rp_daylight_is_light(&day, 2001));
}

/* Ours: sunset 11:17Z, 4 h down, 2 h margin: 05:17Z. */
static void last_start_of_a_descent(void **state)
{
    (void)state;
    struct rp_daylight day = {.sunset_s = net("2026-11-25 11:17")};
    uint32_t descent_s = 4 * 3600;
    assert_int_equal(rp_daylight_last_start(&day, descent_s, RP_DESCENT_MARGIN_OF(descent_s)),
                     net("2026-11-25 05:17"));
    assert_int_equal(rp_daylight_last_start(&day, 0, 0), day.sunset_s);
}

static void bounds_are_refused(void **state)
{
    (void)state;
    struct rp_daylight day = {.noon_s = -7};
    assert_int_equal(rp_daylight_at(90000001, 0, 0, &day), RP_E_INVALID);
    assert_int_equal(rp_daylight_at(-90000001, 0, 0, &day), RP_E_INVALID);
    assert_int_equal(rp_daylight_at(0, 180000001, 0, &day), RP_E_INVALID);
    assert_int_equal(rp_daylight_at(0, -180000001, 0, &day), RP_E_INVALID);
    assert_int_equal(day.noon_s, -7);
    assert_int_equal(rp_daylight_at(0, 180000000, 0, &day), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(events_within_two_minutes),
        cmocka_unit_test(polar_day_and_night),
        cmocka_unit_test(the_day_is_that_of_the_place),
        cmocka_unit_test(light_is_from_dawn_to_dusk),
        cmocka_unit_test(last_start_of_a_descent),
        cmocka_unit_test(bounds_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
