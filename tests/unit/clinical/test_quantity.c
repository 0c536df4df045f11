#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "base/rng.h"
#include "clinical/position.h"
#include "clinical/quantity.h"

/* Published factors: BIPM SI brochure (9th ed.) and NIST SP 811 appendix B for ft, in, lb, kt, mph,
 * psi, mmHg, inHg, cmH2O (from memory); 2 psi ~ 100 mmHg and 193 mbar = 2.80 psi = 145 mmHg,
 * 19.95 kPa = 2.89 psi = 150 mmHg from the chamber trials quoted in the clinical references 1.4
 * (Bartsch 1993, Keller 1995, Imray 2001); 13,920 ft = 4243 m from Taber 1990. */
static const struct {
    enum rp_dimension dimension;
    const char *text;
    int32_t value;
} good[] = {
    {RP_DIM_PRESSURE, "138hPa", 1380},
    {RP_DIM_PRESSURE, "138", 1380},
    {RP_DIM_PRESSURE, "138 hpa", 1380},
    {RP_DIM_PRESSURE, "2psi", 1379}, /* 137.895 hPa */
    {RP_DIM_PRESSURE, "2.0 PSI", 1379},
    {RP_DIM_PRESSURE, "103mmHg", 1373}, /* 137.322 hPa */
    {RP_DIM_PRESSURE, "103.4mmHg", 1379},
    {RP_DIM_PRESSURE, "13.8kPa", 1380},
    {RP_DIM_PRESSURE, "193mbar", 1930},
    {RP_DIM_PRESSURE, "2.80psi", 1931}, /* 193.053 hPa */
    {RP_DIM_PRESSURE, "19.95kPa", 1995},
    {RP_DIM_PRESSURE, "760mmHg", 10133}, /* 1013.25 hPa */
    {RP_DIM_PRESSURE, "29.9213inHg", 10133},
    {RP_DIM_PRESSURE, "140cmH2O", 1373},
    {RP_DIM_PRESSURE, "0.138bar", 1380},
    {RP_DIM_CYLINDER, "180bar", 180},
    {RP_DIM_CYLINDER, "180", 180},
    {RP_DIM_CYLINDER, "2600psi", 179}, /* 179.26 bar */
    {RP_DIM_CYLINDER, "20MPa", 200},
    {RP_DIM_LENGTH, "5480m", 5480},
    {RP_DIM_LENGTH, "5480", 5480},
    {RP_DIM_LENGTH, "13900ft", 4237}, /* 4236.72 m */
    {RP_DIM_LENGTH, "13920ft", 4243},
    {RP_DIM_LENGTH, "3km", 3000},
    {RP_DIM_LENGTH, "-10m", -10},
    {RP_DIM_BODY_TEMP, "36.4", 364},
    {RP_DIM_BODY_TEMP, "36.4C", 364},
    {RP_DIM_BODY_TEMP, "97.5F", 364}, /* 36.39 C */
    {RP_DIM_BODY_TEMP, "98.6F", 370},
    {RP_DIM_BODY_TEMP, "32F", 0},
    {RP_DIM_AIR_TEMP, "-15C", -15},
    {RP_DIM_AIR_TEMP, "-40F", -40},
    {RP_DIM_AIR_TEMP, "5F", -15},
    {RP_DIM_AIR_TEMP, "-2.5", -3}, /* halves away from zero */
    {RP_DIM_DURATION, "3h", 10800},
    {RP_DIM_DURATION, "45min", 2700},
    {RP_DIM_DURATION, "45", 2700},
    {RP_DIM_DURATION, "1h30", 5400},
    {RP_DIM_DURATION, "1h30min", 5400},
    {RP_DIM_DURATION, "1.5h", 5400},
    {RP_DIM_DURATION, "90s", 90},
    {RP_DIM_DURATION, "2d4h", 187200},
    {RP_DIM_DURATION, "45 min", 2700},
    {RP_DIM_DURATION, "0min", 0},
    {RP_DIM_DOSE_MASS, "8mg", 8000},
    {RP_DIM_DOSE_MASS, "0.5g", 500000},
    {RP_DIM_DOSE_MASS, "250mcg", 250},
    {RP_DIM_VOLUME, "4L", 40},
    {RP_DIM_VOLUME, "4700ml", 47},
    {RP_DIM_FLUID, "0.5L", 500},
    {RP_DIM_FLUID, "250mL", 250},
    {RP_DIM_FLOW, "2L/min", 20},
    {RP_DIM_FLOW, "2.5", 25},
    {RP_DIM_FLOW, "2lpm", 20},
    {RP_DIM_SPEED, "20kt", 37}, /* 37.04 km/h */
    {RP_DIM_SPEED, "10m/s", 36},
    {RP_DIM_SPEED, "36km/h", 36},
    {RP_DIM_SPEED, "25mph", 40},     /* 40.23 km/h */
    {RP_DIM_BODY_MASS, "160lb", 73}, /* 72.57 kg */
    {RP_DIM_BODY_MASS, "72", 72},
    {RP_DIM_PERCENT, "71%", 71},
    {RP_DIM_PERCENT, "71", 71},
    {RP_DIM_RATE, "96/min", 96},
    {RP_DIM_RATE, "96bpm", 96},
    {RP_DIM_BLOOD, "118mmHg", 118},
    {RP_DIM_ANGLE, "270deg", 270},
    {RP_DIM_YEARS, "34y", 34},
    {RP_DIM_COUNT, "3", 3},
};

static void published_conversions(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        int32_t value = -12345;
        struct rp_problem p = {0};
        int code = rp_quantity_parse(good[i].dimension, "x", good[i].text, &value, &p);
        if (code != 0 || value != good[i].value) {
            fail_msg("%s: code %d value %d (%s)", good[i].text, code, (int)value, p.text);
        }
    }
}

static void every_dimension_has_a_working_example(void **state)
{
    (void)state;
    static const char *const examples[] = {
#define X(name, stored, units, example) example,
        RP_DIMENSIONS(X)
#undef X
    };
    for (size_t i = 0; i < RP_DIM_COUNT_OF; i++) {
        int32_t value;
        assert_int_equal(rp_quantity_parse((enum rp_dimension)i, "x", examples[i], &value, NULL),
                         0);
    }
}

static void refused(enum rp_dimension dimension, const char *text)
{
    int32_t value = -12345;
    struct rp_problem p = {0};
    int code = rp_quantity_parse(dimension, "x", text, &value, &p);
    if (code != RP_E_INVALID || value != -12345 || strstr(p.text, "example: ") == NULL) {
        fail_msg("\"%s\" as dimension %d: code %d value %d", text, (int)dimension, code,
                 (int)value);
    }
}

/* Text that is no quantity of any dimension. */
static void garbage_is_refused_everywhere(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",
        " ",
        "NaN",
        "nan",
        "inf",
        "1e9",
        "1e2m",
        "0x10",
        "+5",
        "--5",
        "5-",
        "1,5",
        "5,480",
        ".5",
        "5.",
        "5..1",
        "5.1.2",
        " 5",
        "5 ",
        "5  m",
        "m",
        "hPa",
        "5hPa5",
        "5furlong",
        "5m m",
        "5\n",
        "5;",
        "5psi!",
        "\xc2\xb5",
        "12345678901234567890",
        "9999999999999",
        "0.0000000001",
        "%",
        "5%%",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        for (int d = 0; d < RP_DIM_COUNT_OF; d++) {
            refused((enum rp_dimension)d, bad[i]);
        }
    }
}

static void wrong_dimensions_are_refused_and_named(void **state)
{
    (void)state;
    refused(RP_DIM_PRESSURE, "2m");
    refused(RP_DIM_PRESSURE, "36.4C");
    refused(RP_DIM_LENGTH, "2psi");
    refused(RP_DIM_LENGTH, "5480ftm");
    refused(RP_DIM_BODY_TEMP, "36.4K");
    refused(RP_DIM_CYLINDER, "180hPa");
    refused(RP_DIM_CYLINDER, "180mbar");
    refused(RP_DIM_SPEED, "20m");
    refused(RP_DIM_PERCENT, "71.5");
    refused(RP_DIM_RATE, "96.5");
    refused(RP_DIM_COUNT, "3.0");
    refused(RP_DIM_PERCENT, "-1");
    refused(RP_DIM_PRESSURE, "-1");
    refused(RP_DIM_PRESSURE, "999999999bar");
    refused(RP_DIM_FLUID, "3000000L");
    refused(RP_DIM_LENGTH, "1000000001m"); /* both bounds of what is converted */
    refused(RP_DIM_LENGTH, "-1000000001m");
    refused(RP_DIM_LENGTH, "-1000000000km");
    refused(RP_DIM_PRESSURE, "1.0000001hPa");
    struct rp_problem p = {0};
    int32_t value;
    rp_quantity_parse(RP_DIM_PRESSURE, "gauge", "2m", &value, &p);
    assert_string_equal(p.field, "gauge");
    assert_string_equal(p.text, "gauge \"2m\": not a unit of it; units: hPa, mbar, kPa, mmHg, psi, "
                                "inHg, cmH2O, bar (example: 138hPa)");
}

static void durations_refuse_what_is_unclear(void **state)
{
    (void)state;
    static const char *const bad[] = {"30min1h", "1h1h",   "1h60",   "1h90min",  "1h 30",
                                      "1d30",    "1.5h30", "1hh",    "-1h",      "1m",
                                      "h",       "1:30",   "99999d", "1min30",   "9999999h",
                                      "1{",      "1[",     "1h{",    "24855d23h"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        refused(RP_DIM_DURATION, bad[i]);
    }
}

static void doses_keep_the_unit_they_were_given_in(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        uint32_t milli;
        int unit; /* the numbers of the wire's dose units */
    } doses[] = {
        {"8mg", 8000, 1},     {"0.5g", 500, 2},      {"250mcg", 250000, 3},    {"500mL", 500000, 4},
        {"0.5L", 500000, 4},  {"1 tablet", 1000, 5}, {"0.5tab", 500, 5},       {"2puffs", 2000, 6},
        {"100IU", 100000, 7}, {"0.001mg", 1, 1},     {"10000mg", 10000000, 1},
    };
    for (size_t i = 0; i < sizeof doses / sizeof doses[0]; i++) {
        struct rp_amount a = {0, RP_AMOUNT_NONE};
        assert_int_equal(rp_amount_parse(doses[i].text, &a, NULL), 0);
        assert_int_equal(a.milli, doses[i].milli);
        assert_int_equal(a.unit, doses[i].unit);
    }
    static const char *const bad[] = {
        "1000000001mg", "10001mg", "0mg", "",      "8",        "8 ",          "8kg", "mg",
        "-8mg",         "8mgmg",   "0mg", "1e3mg", "0.0001mg", "10000.001mg", "11L", "8,5mg"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct rp_amount a = {77, RP_AMOUNT_NONE};
        struct rp_problem p = {0};
        if (rp_amount_parse(bad[i], &a, &p) != RP_E_INVALID || a.milli != 77) {
            fail_msg("\"%s\" was taken", bad[i]);
        }
        assert_string_equal(p.field, "dose");
    }
}

static void positions_in_each_form(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t lat_e6, lon_e6;
    } positions[] = {
        {"27.98800,86.92533", 27988000, 86925330},
        {"27.98800, 86.92533", 27988000, 86925330},
        {"27.988N 86.92533E", 27988000, 86925330},
        {"86.92533E 27.988N", 27988000, 86925330},
        {"27 59.280N 86 55.520E", 27988000, 86925333},
        {"27 59.280 n, 86 55.520 e", 27988000, 86925333},
        {"27 59 16.8N 86 55 31.2E", 27988000, 86925333},
        {"-33.5,-70.25", -33500000, -70250000},
        {"33.5S 70.25W", -33500000, -70250000},
        {"0,0", 0, 0},
        {"90,180", 90000000, 180000000},
        {"-90,-180", -90000000, -180000000},
        {"27.987999999,86.925330499", 27988000, 86925330},
        {"0 0.00003N 0 0.00002E", 1, 0}, /* half a millionth rounds away from zero */
    };
    for (size_t i = 0; i < sizeof positions / sizeof positions[0]; i++) {
        int32_t lat = 1, lon = 1;
        struct rp_problem p = {0};
        int code = rp_position_parse(positions[i].text, &lat, &lon, &p);
        if (code != 0 || lat != positions[i].lat_e6 || lon != positions[i].lon_e6) {
            fail_msg("%s: %d %d %d (%s)", positions[i].text, code, (int)lat, (int)lon, p.text);
        }
    }
}

/* On a sphere of 6371 km a degree is 111.195 km; across 180 degrees the short way counts. */
static void positions_apart(void **state)
{
    (void)state;
    assert_in_range((int)rp_position_apart_m(28000000, 86000000, 29000000, 86000000), 111190,
                    111200);
    assert_in_range((int)rp_position_apart_m(60000000, 5000000, 60000000, 6000000), 55590, 55605);
    assert_in_range((int)rp_position_apart_m(0, 179500000, 0, -179500000), 111190, 111200);
    assert_int_equal((int)rp_position_apart_m(1, 2, 1, 2), 0);
}

static void unclear_positions_are_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",
        "27",
        "27 59",
        "27.988 86.925",
        "90.000001,0",
        "0,180.000001",
        "-91,0",
        "86.9N 27.9E 1",
        "96.9N 27.9E",
        "27N 28N",
        "27N",
        "27 60N 86 0E",
        "27.5 30N 86E",
        "27 59 60N 86E",
        "-27N 86E",
        "27,86,5",
        "27,86N",
        "nan,nan",
        "27.98800,86.92533 ",
        "1e1,2",
        "27 59.28 1 1N 86E",
        "90 0.001N 0E",
        "999999999999 1N 0E",
        "27.0000000001,86",
        "27X 86Y",
        ",",
        "N E",
        "180 0 0.1E 0N",
        "27.9,",
        "27.9;86.9",
        "27.9{E 86N",
        "27.9[,86.9",
        "27.9{,86.9",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        int32_t lat = 7, lon = 7;
        struct rp_problem p = {0};
        int code = rp_position_parse(bad[i], &lat, &lon, &p);
        if (code != RP_E_INVALID || lat != 7 || lon != 7 || strstr(p.text, "example: ") == NULL) {
            fail_msg("\"%s\": %d", bad[i], code);
        }
    }
}

/* What is printed is what is read: every stored value survives being shown and typed again. */
static void random_round_trips(void **state)
{
    (void)state;
    uint64_t seed = 20240611;
    print_message("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    for (int i = 0; i < 20000; i++) {
        char text[80];
        int32_t value;
        int dhpa = (int)rp_rng_between(&rng, 0, 10800);
        snprintf(text, sizeof text, "%d.%dhPa", dhpa / 10, dhpa % 10);
        assert_int_equal(rp_quantity_parse(RP_DIM_PRESSURE, "x", text, &value, NULL), 0);
        assert_int_equal(value, dhpa);
        int metres = (int)rp_rng_between(&rng, -450, 8900);
        snprintf(text, sizeof text, "%dm", metres);
        assert_int_equal(rp_quantity_parse(RP_DIM_LENGTH, "x", text, &value, NULL), 0);
        assert_int_equal(value, metres);
        int seconds = (int)rp_rng_between(&rng, 0, 604800);
        snprintf(text, sizeof text, "%dh%dmin%ds", seconds / 3600, seconds / 60 % 60, seconds % 60);
        assert_int_equal(rp_quantity_parse(RP_DIM_DURATION, "x", text, &value, NULL), 0);
        assert_int_equal(value, seconds);
        int lat_e6 = (int)rp_rng_between(&rng, -90000000, 90000000), lat, lon;
        unsigned size = lat_e6 < 0 ? (unsigned)-lat_e6 : (unsigned)lat_e6;
        snprintf(text, sizeof text, "%s%u.%06u,0", lat_e6 < 0 ? "-" : "", size / 1000000,
                 size % 1000000);
        assert_int_equal(rp_position_parse(text, &lat, &lon, NULL), 0);
        assert_int_equal(lat, lat_e6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_conversions),
        cmocka_unit_test(every_dimension_has_a_working_example),
        cmocka_unit_test(garbage_is_refused_everywhere),
        cmocka_unit_test(wrong_dimensions_are_refused_and_named),
        cmocka_unit_test(durations_refuse_what_is_unclear),
        cmocka_unit_test(doses_keep_the_unit_they_were_given_in),
        cmocka_unit_test(positions_in_each_form),
        cmocka_unit_test(unclear_positions_are_refused),
        cmocka_unit_test(positions_apart),
        cmocka_unit_test(random_round_trips),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
