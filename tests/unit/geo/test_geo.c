#include "rp_test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/rng.h"
#include "geo/geo.h"

/* One line of points.csv: see make_points.mjs for the programs that made it. */
struct point {
    long lat_e6, lon_e6, easting_cm, northing_cm;
    char grid[20];
};

static int read_points(struct point *out, int cap)
{
    FILE *file = fopen(RP_SOURCE_DIR "/tests/unit/geo/points.csv", "r");
    assert_non_null(file);
    char line[120];
    int count = 0;
    while (fgets(line, sizeof line, file) != NULL && count < cap) {
        struct point *p = &out[count];
        count += sscanf(line, "%ld,%ld,%ld,%ld,%19[A-Z0-9]", &p->lat_e6, &p->lon_e6, &p->easting_cm,
                        &p->northing_cm, p->grid) == 5;
    }
    fclose(file);
    return count;
}

static void without_spaces(const char *text, char *out)
{
    for (; *text != '\0'; text++) {
        if (*text != ' ') {
            *out++ = *text;
        }
    }
    *out = '\0';
}

static struct point points[700];
static int point_count;

static int load(void **state)
{
    (void)state;
    point_count = read_points(points, 700);
    return 0;
}

/* At least 500 points of other programs, the poles and the odd zones of Norway and Svalbard among
 * them: the same square to the metre. */
static void grid_references_are_those_of_other_programs(void **state)
{
    (void)state;
    int poles = 0, north_sea = 0, svalbard = 0;
    assert_true(point_count >= 500);
    for (int i = 0; i < point_count; i++) {
        const struct point *p = &points[i];
        char shown[RP_GEO_TEXT_MAX], bare[RP_GEO_TEXT_MAX];
        assert_int_equal(rp_geo_show_mgrs((int32_t)p->lat_e6, (int32_t)p->lon_e6, 5, shown), 0);
        without_spaces(shown, bare);
        assert_string_equal(bare, p->grid);
        poles += p->grid[0] >= 'A';
        north_sea += strncmp(p->grid, "32V", 3) == 0 && p->lon_e6 < 6000000;
        svalbard +=
            p->lat_e6 >= 72000000 && p->lat_e6 < 84000000 && p->lon_e6 >= 0 && p->lon_e6 < 42000000;
    }
    assert_true(poles >= 100);
    assert_true(north_sea >= 10); /* zone 31 by longitude alone */
    assert_true(svalbard >= 50);
}

static void eastings_and_northings_are_those_of_another_program(void **state)
{
    (void)state;
    for (int i = 0; i < point_count; i++) {
        const struct point *p = &points[i];
        char shown[RP_GEO_TEXT_MAX], want[80];
        assert_int_equal(rp_geo_show_utm((int32_t)p->lat_e6, (int32_t)p->lon_e6, shown), 0);
        bool pole = p->grid[0] >= 'A';
        int letters = pole ? 1 : (int)strspn(p->grid, "0123456789") + 1;
        snprintf(want, sizeof want, "%s%.*s %06ld %07ld", pole ? "UPS " : "", letters, p->grid,
                 p->easting_cm / 100, p->northing_cm / 100);
        assert_string_equal(shown, want);
    }
}

/* GeoConvert and npm mgrs give 45RVL9265795875 for 27.98800 86.92533; the northing is 3095875.32 m
 * and the easting 492657.44 m: the digits are cut. At 28.123456, 86.543217 the northing ends in
 * .8 (PROJ), where rounding would show one metre more. */
static void digits_are_cut_not_rounded(void **state)
{
    (void)state;
    char text[RP_GEO_TEXT_MAX];
    assert_int_equal(rp_geo_show_mgrs(27988000, 86925330, 5, text), 0);
    assert_string_equal(text, "45R VL 92657 95875");
    assert_int_equal(rp_geo_show_mgrs(27988000, 86925330, 4, text), 0);
    assert_string_equal(text, "45R VL 9265 9587");
    assert_int_equal(rp_geo_show_mgrs(27988000, 86925330, 3, text), 0);
    assert_string_equal(text, "45R VL 926 958");
    assert_int_equal(rp_geo_show_mgrs(27988000, 86925330, 2, text), 0);
    assert_string_equal(text, "45R VL 92 95");
    assert_int_equal(rp_geo_show_utm(27988000, 86925330, text), 0);
    assert_string_equal(text, "45R 492657 3095875");
    int beyond_half = 0;
    for (int i = 0; i < point_count; i++) {
        beyond_half += points[i].easting_cm % 100 >= 50;
    }
    assert_true(beyond_half > 100); /* so that the 500 points tell cutting from rounding */
}

static void shown_forms_refuse_what_is_no_position(void **state)
{
    (void)state;
    char text[RP_GEO_TEXT_MAX] = "as it was";
    assert_int_equal(rp_geo_show_mgrs(90000001, 0, 5, text), RP_E_INVALID);
    assert_int_equal(rp_geo_show_mgrs(-90000001, 0, 5, text), RP_E_INVALID);
    assert_int_equal(rp_geo_show_mgrs(0, 180000001, 5, text), RP_E_INVALID);
    assert_int_equal(rp_geo_show_mgrs(0, -180000001, 5, text), RP_E_INVALID);
    assert_int_equal(rp_geo_show_mgrs(0, 0, 1, text), RP_E_INVALID);
    assert_int_equal(rp_geo_show_mgrs(0, 0, 6, text), RP_E_INVALID);
    assert_int_equal(rp_geo_show_utm(90000001, 0, text), RP_E_INVALID);
    assert_string_equal(text, "as it was");
    assert_int_equal(rp_geo_show_mgrs(90000000, 0, 5, text), 0);
    assert_int_equal(rp_geo_show_mgrs(-90000000, 180000000, 5, text), 0);
    assert_int_equal(rp_geo_show_utm(0, -180000000, text), 0);
}

static void accuracy_chooses_the_digits(void **state)
{
    (void)state;
    assert_int_equal(rp_geo_digits(false, 5000), 5);
    assert_int_equal(rp_geo_digits(true, 9), 5);
    assert_int_equal(rp_geo_digits(true, 10), 4);
    assert_int_equal(rp_geo_digits(true, 99), 4);
    assert_int_equal(rp_geo_digits(true, 100), 3);
    assert_int_equal(rp_geo_digits(true, 999), 3);
    assert_int_equal(rp_geo_digits(true, 1000), 2);
}

static void what_is_shown_can_be_read_back(void **state)
{
    (void)state;
    for (int i = 0; i < point_count; i++) {
        for (int digits = 2; digits <= 5; digits++) {
            static const double side_m[] = {1000, 100, 10, 1};
            int32_t from[2] = {(int32_t)points[i].lat_e6, (int32_t)points[i].lon_e6}, lat, lon;
            char text[RP_GEO_TEXT_MAX], again[RP_GEO_TEXT_MAX];
            uint16_t accuracy_m;
            assert_int_equal(rp_geo_show_mgrs(from[0], from[1], digits, text), 0);
            if (rp_geo_parse(text, &lat, &lon, &accuracy_m, NULL) != 0) {
                fail_msg("%s is not read", text);
            }
            assert_int_equal(accuracy_m, (int)side_m[digits - 2]);
            struct rp_geo_line line;
            assert_int_equal(rp_geo_between(from[0], from[1], lat, lon, &line), 0);
            /* Half the diagonal of the square, the scale of the projection and a rounded fix. */
            if (line.distance_m > side_m[digits - 2] * 0.7072 * 1.006 + 0.1) {
                fail_msg("%s: %.2f m away", text, line.distance_m);
            }
            assert_int_equal(rp_geo_show_utm(lat, lon, again), 0);
        }
    }
}

static const struct {
    const char *text;
    int32_t lat_e6, lon_e6;
    uint16_t accuracy_m;
} typed[] = {
    /* The middle of the square, half a metre north-east of 492657 3095875 (PROJ inverse). */
    {"45R VL 92657 95875", 27988002, 86925331, 1},
    {"45rvl9265795875", 27988002, 86925331, 1},
    {"  45R  VL  9265  9587 ", 27987997, 86925305, 10},
    {"45R 492657 3095875", 27987997, 86925326, 1},
    {"45 R 492657 3095875", 27987997, 86925326, 1},
    {"45 north 492657 3095875", 27987997, 86925326, 1},
    {"45N 492657 3095875", 27987997, 86925326, 1}, /* N: both readings are northern */
    {"45 south 492657 3095875", -62268725, 86858558, 1},
    {"27.98800,86.92533", 27988000, 86925330, 0},
    {"27 59.280N 86 55.520E", 27988000, 86925333, 0},
    {"86 55 31.2E 27 59 16.8N", 27988000, 86925333, 0},
    {"5N 6E", 5000000, 6000000, 0},
};

static void every_form_is_read(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof typed / sizeof typed[0]; i++) {
        int32_t lat = 0, lon = 0;
        uint16_t accuracy_m = 99;
        struct rp_problem problem = {0};
        if (rp_geo_parse(typed[i].text, &lat, &lon, &accuracy_m, &problem) != 0) {
            fail_msg("%s: %s", typed[i].text, problem.text);
        }
        if (labs(lat - typed[i].lat_e6) > 1 || labs(lon - typed[i].lon_e6) > 1 ||
            accuracy_m != typed[i].accuracy_m) {
            fail_msg("%s: %d %d %u", typed[i].text, (int)lat, (int)lon, accuracy_m);
        }
    }
}

static const struct {
    const char *text, *why;
} refused[] = {
    {"45R VL 9265 95875", "not as many digits"},
    {"45R VL 1 2", "2 to 5 digits"},
    {"45R VL", "2 to 5 digits"},
    {"45R VL 926571 958751", "2 to 5 digits"},
    {"45R IL 92657 95875", "no such grid square"},
    {"61R VL 92657 95875", "no such grid square"},
    {"45R VL 92657-95875", "letters and digits only"},
    {"45RVL926579587512345678901234", "letters and digits only"},
    {"45I 492657 3095875", "no latitude band"},
    {"61R 492657 3095875", "zone is outside 1-60"},
    {"0R 492657 3095875", "zone is outside 1-60"},
    {"45S 492657 3695875", "write \"south\""},
    {"45U 492657 3095875", "not in that latitude band"},
    {"45R 992657 3095875", "outside the zone"},
    {"45R 492657 30958750", "outside the zone"},
    {"45R 492657", "no such grid square"},
    {"45 west 492657 3095875", "no such grid square"},
    {"45R 492657 3095875 x", "no such grid square"},
    {"45R 4926571234 3095875", "no such grid square"},
    {"95.1,86.9", "latitude is outside 90"},
    {"", "not latitude and longitude"},
};

static void what_cannot_be_a_position_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        int32_t lat = -7, lon = -7;
        uint16_t accuracy_m = 0;
        struct rp_problem problem = {0};
        if (rp_geo_parse(refused[i].text, &lat, &lon, &accuracy_m, &problem) != RP_E_INVALID ||
            strstr(problem.text, refused[i].why) == NULL) {
            fail_msg("%s: %d %s", refused[i].text, problem.code, problem.text);
        }
        assert_int_equal(lat, -7);
        assert_int_equal(lon, -7);
    }
}

/* Vincenty's iteration as in npm geodesy 2.4.0, an independent program; the first line is also a
 * published example: Flinders Peak to Buninyong, 54972.271 m, 306 52 05.37 (GDA technical manual,
 * from memory; its ellipsoid GRS 80 differs by less than 1 mm here). */
static void distance_and_bearing(void **state)
{
    (void)state;
    static const struct {
        int32_t from[2], to[2];
        double distance_m, bearing_deg;
    } lines[] = {
        {{-37951033, 144424868}, {-37652821, 143926496}, 54972.271, 306.8681592},
        {{28104100, 86752300}, {28051200, 86712300}, 7058.738, 213.8573448},
        {{28123456, 86543217}, {28123456, 86643217}, 9824.953, 89.9764313},
        {{28000000, 86000000}, {27000000, 86000000}, 110811.453, 180},
        {{60000000, 5000000}, {78000000, 16000000}, 2046960.217, 7.2474073},
        {{28104100, 86752300}, {28104600, 86753100}, 96.179, 54.8218137},
        {{0, 0}, {500000, 179500000}, 19936288.579, 25.6718729},
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        struct rp_geo_line line;
        assert_int_equal(rp_geo_between(lines[i].from[0], lines[i].from[1], lines[i].to[0],
                                        lines[i].to[1], &line),
                         0);
        if (fabs(line.distance_m - lines[i].distance_m) > 0.15 ||
            fabs(line.bearing_deg - lines[i].bearing_deg) > 0.002) {
            fail_msg("line %zu: %.4f m, %.7f deg", i, line.distance_m, line.bearing_deg);
        }
    }
    struct rp_geo_line line = {.distance_m = -7};
    assert_int_equal(rp_geo_between(90000001, 0, 0, 0, &line), RP_E_INVALID);
    assert_int_equal(rp_geo_between(0, 0, 0, 180000001, &line), RP_E_INVALID);
    assert_true(line.distance_m == -7);
}

/* Any bytes: an answer or a refusal, and what is accepted is a position. */
static void any_text_is_read_or_refused(void **state)
{
    (void)state;
    uint64_t seed = 4501;
    print_message("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    static const char signs[] = "0123456789 RVLNSEWZAB.,-northsu45R VL";
    for (int n = 0; n < 200000; n++) {
        char text[30];
        size_t len = rp_rng_below(&rng, sizeof text);
        for (size_t i = 0; i < len; i++) {
            text[i] = signs[rp_rng_below(&rng, sizeof signs - 1)];
        }
        text[len == sizeof text ? len - 1 : len] = '\0';
        int32_t lat, lon;
        uint16_t accuracy_m;
        if (rp_geo_parse(text, &lat, &lon, &accuracy_m, NULL) == 0) {
            char shown[RP_GEO_TEXT_MAX];
            assert_int_equal(rp_geo_show_mgrs(lat, lon, 5, shown), 0);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grid_references_are_those_of_other_programs),
        cmocka_unit_test(eastings_and_northings_are_those_of_another_program),
        cmocka_unit_test(digits_are_cut_not_rounded),
        cmocka_unit_test(shown_forms_refuse_what_is_no_position),
        cmocka_unit_test(accuracy_chooses_the_digits),
        cmocka_unit_test(what_is_shown_can_be_read_back),
        cmocka_unit_test(every_form_is_read),
        cmocka_unit_test(what_cannot_be_a_position_is_refused),
        cmocka_unit_test(distance_and_bearing),
        cmocka_unit_test(any_text_is_read_or_refused),
    };
    return cmocka_run_group_tests(tests, load, NULL);
}
