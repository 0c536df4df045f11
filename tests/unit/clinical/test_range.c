#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "clinical/range.h"

/* Clinical references, section 3.5 (design judgement there), as stored integers; scores by their
 * definitions; the rest as the record schema bounds them. */
static const struct {
    const char *word;
    int32_t hard_min, hard_max, likely_min, likely_max;
} expected[] = {
    {"spo2", 0, 100, 50, 100},
    {"pulse", 0, 300, 35, 180},
    {"resp", 0, 90, 8, 50},
    {"systolic", 30, 300, 80, 200},
    {"diastolic", 10, 200, 40, 120},
    {"temp", 100, 450, 340, 405},
    {"gcs-eye", 1, 4, 1, 4},
    {"gcs-verbal", 1, 5, 1, 5},
    {"gcs-motor", 1, 6, 1, 6},
    {"gcs", 3, 15, 3, 15},
    {"lls-item", 0, 3, 0, 3},
    {"lls", 0, 12, 0, 12},
    {"ataxia", 0, 4, 0, 4},
    {"functional", 0, 3, 0, 3},
    {"pain-score", 0, 10, 0, 10},
    {"urine", 0, 3000, 0, 3000},
    {"fluid", 0, 5000, 0, 5000},
    {"over", 60, 86400, 60, 86400},
    {"flow", 0, 250, 0, 80},
    {"cylinder", 0, 350, 0, 300},
    {"water", 5, 500, 5, 500},
    {"gauge", 0, 3000, 800, 2200},
    {"station-pressure", 2000, 10800, 2000, 10800},
    {"altitude", -450, 8900, -450, 8900},
    {"altimeter", -450, 8900, -450, 8900},
    {"age", 0, 110, 0, 110},
    {"weight", 2, 250, 2, 250},
    {"latitude", -90000000, 90000000, -90000000, 90000000},
    {"longitude", -180000000, 180000000, -180000000, 180000000},
    {"accuracy", 0, 65535, 0, 100},
    {"wind", 0, 250, 0, 250},
    {"gust", 0, 250, 0, 250},
    {"wind-from", 0, 359, 0, 359},
    {"air-temp", -70, 50, -70, 50},
    {"visibility", 0, 50000, 0, 50000},
    {"cloud-base", 0, 12000, 0, 12000},
    {"slope", 0, 60, 0, 60},
    {"site-length", 1, 1000, 1, 1000},
    {"site-width", 1, 1000, 1, 1000},
    {"patients", 1, 50, 1, 50},
    {"party", 0, 100, 0, 100},
    {"session", 1, 255, 1, 255},
    {"ask-again", 60, 86400, 60, 86400},
    {"next-report", 300, 7200, 300, 7200},
    {"stroke", 1, 200, 5, 60},
    {"strokes", 1, 300, 1, 80},
    {"volume", 500, 20000, 2000, 10000},
    {"stopped", 0, 86400, 0, 7200},
    {"reserve", 0, 350, 0, 50},
    {"until", 1, 604800, 1, 604800},
    {"descent", 0, 172800, 0, 86400},
    {"way-down", 60, 172800, 600, 86400},
    {"ago", 0, 604800, 0, 86400},
};
#define EXPECTED_COUNT (sizeof expected / sizeof expected[0])

static void every_range_is_tested(void **state)
{
    (void)state;
    assert_int_equal(EXPECTED_COUNT, RP_RANGE_COUNT);
    for (size_t i = 0; i < EXPECTED_COUNT; i++) {
        assert_ptr_equal(rp_range_find(expected[i].word), rp_range_of((enum rp_range_id)i));
    }
    assert_null(rp_range_find("SPO2"));
    assert_null(rp_range_find(""));
}

static void hard_bounds_hold_on_both_edges_even_when_sure(void **state)
{
    (void)state;
    for (size_t i = 0; i < EXPECTED_COUNT; i++) {
        const struct rp_range *r = rp_range_find(expected[i].word);
        for (int sure = 0; sure < 2; sure++) {
            struct rp_problem p = {0};
            assert_int_equal(rp_range_check(r, expected[i].hard_min - 1, sure, &p), RP_E_INVALID);
            assert_int_equal(p.code, RP_E_INVALID);
            assert_string_equal(p.field, expected[i].word);
            assert_non_null(strstr(p.text, "is outside"));
            assert_non_null(strstr(p.text, "example: "));
            assert_int_equal(rp_range_check(r, expected[i].hard_max + 1, sure, NULL), RP_E_INVALID);
        }
        assert_int_equal(rp_range_check(r, expected[i].hard_min, true, NULL), 0);
        assert_int_equal(rp_range_check(r, expected[i].hard_max, true, NULL), 0);
        assert_int_equal(rp_range_check(r, INT32_MIN, true, NULL), RP_E_INVALID);
        assert_int_equal(rp_range_check(r, INT32_MAX, true, NULL), RP_E_INVALID);
    }
}

static void unlikely_values_ask_on_both_edges(void **state)
{
    (void)state;
    for (size_t i = 0; i < EXPECTED_COUNT; i++) {
        const struct rp_range *r = rp_range_find(expected[i].word);
        assert_int_equal(rp_range_check(r, expected[i].likely_min, false, NULL), 0);
        assert_int_equal(rp_range_check(r, expected[i].likely_max, false, NULL), 0);
        if (expected[i].likely_min > expected[i].hard_min) {
            struct rp_problem p = {0};
            int32_t below = expected[i].likely_min - 1;
            assert_int_equal(rp_range_check(r, below, false, &p), RP_E_CONFIRM);
            assert_non_null(strstr(p.text, "--sure"));
            assert_int_equal(rp_range_check(r, below, true, NULL), 0);
        }
        if (expected[i].likely_max < expected[i].hard_max) {
            int32_t above = expected[i].likely_max + 1;
            assert_int_equal(rp_range_check(r, above, false, NULL), RP_E_CONFIRM);
            assert_int_equal(rp_range_check(r, above, true, NULL), 0);
        }
    }
}

static void texts_say_value_unit_bound_and_example(void **state)
{
    (void)state;
    struct rp_problem p = {0};
    rp_range_check(rp_range_find("spo2"), 171, false, &p);
    assert_string_equal(p.text, "spo2 171 % is outside 0-100 (example: spo2 71 air)");
    rp_range_check(rp_range_find("spo2"), 40, false, &p);
    assert_string_equal(p.text, "spo2 40 % is unlikely: outside 50-100; check and enter again "
                                "with --sure");
    rp_range_check(rp_range_find("temp"), 975, false, &p);
    assert_string_equal(p.text, "temp 97.5 C is outside 10.0-45.0 (example: temp 36.4 oral)");
    rp_range_check(rp_range_find("altitude"), 18000, false, &p);
    assert_string_equal(p.text,
                        "altitude 18000 m is outside -450 to 8900 (example: altitude 5480m)");
    rp_range_check(rp_range_find("latitude"), -90000001, false, &p);
    assert_string_equal(p.text, "latitude -90.000001 degrees is outside -90.000000 to 90.000000 "
                                "(example: at 27.98800,86.92533)");
    rp_range_check(rp_range_find("gcs"), 2, false, &p);
    assert_string_equal(p.text, "gcs 2 is outside 3-15 (example: gcs 14)");
}

/* Clinical references 3.5: altitude +-500 m from the last fix, station pressure +-40 hPa. */
static void values_far_from_the_expected_ask(void **state)
{
    (void)state;
    const struct rp_range *altitude = rp_range_of(RP_RANGE_ALTITUDE);
    assert_int_equal(rp_range_check_near(altitude, 5480, 5000, 500, false, NULL), 0);
    assert_int_equal(rp_range_check_near(altitude, 5500, 5000, 500, false, NULL), 0);
    assert_int_equal(rp_range_check_near(altitude, 5501, 5000, 500, false, NULL), RP_E_CONFIRM);
    assert_int_equal(rp_range_check_near(altitude, 4500, 5000, 500, false, NULL), 0);
    struct rp_problem p = {0};
    assert_int_equal(rp_range_check_near(altitude, 4499, 5000, 500, false, &p), RP_E_CONFIRM);
    assert_string_equal(p.text, "altitude 4499 m is unlikely: outside 4500-5500; check and enter "
                                "again with --sure");
    assert_int_equal(rp_range_check_near(altitude, 4499, 5000, 500, true, NULL), 0);
    assert_int_equal(rp_range_check_near(altitude, 9000, 8900, 500, true, NULL), RP_E_INVALID);
    const struct rp_range *pb = rp_range_of(RP_RANGE_STATION_PRESSURE);
    assert_int_equal(rp_range_check_near(pb, 5405 + 400, 5405, 400, false, NULL), 0);
    assert_int_equal(rp_range_check_near(pb, 10130, 5405, 400, false, NULL), RP_E_CONFIRM);
}

static void a_0_that_means_nothing_is_refused(void **state)
{
    (void)state;
    const struct rp_range *flow = rp_range_of(RP_RANGE_FLOW);
    struct rp_problem p = {0};
    assert_int_equal(rp_range_check_some(flow, 0, "2L/min", &p), RP_E_INVALID);
    assert_string_equal(p.field, "flow");
    assert_string_equal(p.text, "flow 0.0 L/min is outside 0.1-25.0 (example: 2L/min)");
    assert_int_equal(rp_range_check_some(flow, 1, "2L/min", NULL), 0);
    assert_int_equal(rp_range_check_some(flow, 250, "2L/min", NULL), 0);
    assert_int_equal(rp_range_check_some(flow, 251, "2L/min", NULL), RP_E_INVALID);
    const struct rp_range *water = rp_range_of(RP_RANGE_WATER); /* has no 0 anyway */
    assert_int_equal(rp_range_check_some(water, 5, "4L", NULL), 0);
    assert_int_equal(rp_range_check_some(water, 4, "4L", NULL), RP_E_INVALID);
}

static void diastolic_is_below_systolic(void **state)
{
    (void)state;
    assert_int_equal(rp_range_check_blood(118, 74, NULL), 0);
    assert_int_equal(rp_range_check_blood(75, 74, NULL), 0);
    assert_int_equal(rp_range_check_blood(74, 74, NULL), RP_E_INVALID);
    struct rp_problem p = {0};
    assert_int_equal(rp_range_check_blood(74, 118, &p), RP_E_INVALID);
    assert_string_equal(p.text,
                        "diastolic 118 mmHg is not below systolic 74 mmHg (example: bp 118/74)");
}

static void parse_converts_and_checks(void **state)
{
    (void)state;
    int32_t value = -7;
    assert_int_equal(rp_range_parse(rp_range_find("gauge"), "2psi", false, &value, NULL), 0);
    assert_int_equal(value, 1379);
    assert_int_equal(rp_range_parse(rp_range_find("temp"), "97.5F", false, &value, NULL), 0);
    assert_int_equal(value, 364);
    value = -7;
    assert_int_equal(rp_range_parse(rp_range_find("temp"), "97.5", false, &value, NULL),
                     RP_E_INVALID);
    assert_int_equal(rp_range_parse(rp_range_find("spo2"), "40%", false, &value, NULL),
                     RP_E_CONFIRM);
    assert_int_equal(rp_range_parse(rp_range_find("spo2"), "71m", false, &value, NULL),
                     RP_E_INVALID);
    assert_int_equal(rp_range_parse(rp_range_find("latitude"), "27.9", false, &value, NULL),
                     RP_E_INVALID);
    assert_int_equal(value, -7);
    assert_int_equal(rp_range_parse(rp_range_find("spo2"), "40", true, &value, NULL), 0);
    assert_int_equal(value, 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_range_is_tested),
        cmocka_unit_test(hard_bounds_hold_on_both_edges_even_when_sure),
        cmocka_unit_test(unlikely_values_ask_on_both_edges),
        cmocka_unit_test(texts_say_value_unit_bound_and_example),
        cmocka_unit_test(values_far_from_the_expected_ask),
        cmocka_unit_test(a_0_that_means_nothing_is_refused),
        cmocka_unit_test(diastolic_is_below_systolic),
        cmocka_unit_test(parse_converts_and_checks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
