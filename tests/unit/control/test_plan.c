/* `airtime` and `path`: what they tell of numbers known from elsewhere, and what they refuse.
 * Airtimes: 48 bytes at 125 kHz, 4/5, preamble 8 last 97.5 ms at SF7 to 2302 ms at SF12 (the SX127x
 * formula, data sheet revision 4, 4.1.1.7; the table was computed apart from this program). Path:
 * see tests/unit/radio/test_link.c. */
#include "rp_test.h"

#include <math.h>
#include <string.h>

#include "ctl.h"

static const json_t *data_of(const struct ctl *ctl)
{
    return json_object_get(ctl->reply, "data");
}

static double real_of(const struct ctl *ctl, const char *key)
{
    const json_t *value = json_object_get(data_of(ctl), key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static json_int_t row_of(const struct ctl *ctl, size_t index, const char *key)
{
    const json_t *rows = json_object_get(data_of(ctl), "spreading_factors");
    const json_t *value = json_object_get(json_array_get(rows, index), key);
    assert_true(json_is_integer(value));
    return json_integer_value(value);
}

static void a_report_costs_what_the_formula_says(void **state)
{
    (void)state;
    static const json_int_t airtimes_ms[] = {97, 175, 308, 575, 1233, 2302};
    static const json_int_t per_hour[] = {369, 206, 116, 62, 29, 15}; /* at 1 %, same table */
    struct ctl ctl = ctl_new();
    ctl.kit.config.net.duty_permille = 10;
    ctl.kit.config.net.urgent_reserve_pct = 0;
    strcpy(ctl.kit.config.net.band, "eu-q");
    ctl_restart(&ctl);
    const char *text = ctl_ok(&ctl, "airtime");
    assert_non_null(strstr(text, "budget  36.0 s in any sliding hour (10 of 1000)"));
    assert_non_null(strstr(text, "ETSI EN 300 220-2 V3.2.1 table B.1"));
    assert_non_null(strstr(text, "SF9 *"));
    for (size_t i = 0; i < 6; i++) {
        json_int_t airtime_us = row_of(&ctl, i, "airtime_us");
        assert_in_range(airtime_us, airtimes_ms[i] * 1000 - 600, airtimes_ms[i] * 1000 + 600);
        assert_int_equal(row_of(&ctl, i, "per_hour"), per_hour[i]);
        assert_int_equal(row_of(&ctl, i, "share_ppm"), airtime_us * 1000000 / 36000000);
    }
    assert_int_equal(real_of(&ctl, "budget_ms"), 36000);
    assert_int_equal(real_of(&ctl, "spent_ms"), 0);
    /* 120 bytes at SF12 last longer than 3.6 s, the advice of ERC/REC 70-03 at 1 %. */
    assert_non_null(strstr(ctl_ok(&ctl, "airtime 120"), "NOT ALLOWED: above 3600 ms"));
    ctl_end(&ctl);
}

/* 360 s are 10 % of an hour, 30 % of them are kept; 10 s are spent. */
static void what_is_spent_is_told(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl.kit.config.net.duty_permille = 100;
    struct rp_charge charge = {.at_us = ctl.kit.moment.now_us,
                               .unix_s = ctl.kit.moment.unix_s,
                               .synced = true,
                               .airtime_us = 10000000};
    assert_int_equal(ctl.kit.config.store->charge(ctl.kit.store, &charge), 0);
    ctl_restart(&ctl);
    const char *text = ctl_ok(&ctl, "airtime 48");
    assert_non_null(strstr(text, "budget  360.0 s in any sliding hour (100 of 1000), kept for "
                                 "urgent 108.0 s\nspent   10.0 s in the last hour; left 242.0 s, "
                                 "for urgent 350.0 s\n"));
    assert_non_null(strstr(text, "band    none: no limit set: ask your regulator\n"));
    ctl_end(&ctl);
}

static void near(double value, double expected, double tolerance)
{
    if (!(fabs(value - expected) <= tolerance)) {
        fail_msg("%.6f instead of %.6f +- %g", value, expected, tolerance);
    }
}

/* 868 MHz: 105.2 dB at 5 km; an edge 2 km and 3 km from the ends and 30 m above the line takes
 * 19.4 dB. The curve of the Earth lifts the edge by 2 km * 3 km / 17000 km = 0.35 m. */
static void a_path_is_the_sum_of_its_parts(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "path distance 5km frequency 868MHz power 14dBm gain 2dBi antenna 2m ridge "
                 "31.65m at 2km");
    near(real_of(&ctl, "free_space_db"), 105.2, 0.05);
    near(real_of(&ctl, "ridge_above_m"), 30, 0.01);
    near(real_of(&ctl, "ridge_db"), 19.4, 0.05);
    near(real_of(&ctl, "received_dbm"), 14 + 2 + 2 - 105.2 - 19.4, 0.1);
    /* SX1272/73 data sheet revision 2, page 19: -130 dBm at SF9, 125 kHz */
    assert_int_equal(row_of(&ctl, 2, "sensitivity_dbm"), -130);
    const json_t *rows = json_object_get(data_of(&ctl), "spreading_factors");
    const json_t *margin = json_object_get(json_array_get(rows, 2), "margin_db");
    near(json_real_value(margin), 14 + 2 + 2 - 105.2 - 19.4 + 130, 0.1);
    /* Near the ground (Petajajarvi 2015): 128.95 + 23.2 log 5 = 145.17 dB in place of free space.
     */
    near(real_of(&ctl, "near_ground_db"), 145.17, 0.05);
    near(json_real_value(json_object_get(json_array_get(rows, 2), "near_ground_margin_db")),
         14 + 2 + 2 - 145.17 - 19.4 + 130, 0.1);
    const char *text = ctl_ok(&ctl, "path distance 5km");
    assert_memory_equal(text, "ESTIMATE", 8);
    assert_non_null(strstr(text, "Try the link before you rely on it."));
    assert_null(json_object_get(data_of(&ctl), "ridge_db"));
    ctl_end(&ctl);
}

/* One minute of latitude is a nautical mile of 1852 m, less 0.3 % this near the equator (the radius
 * along the meridian is 6349 km at 28 degrees of latitude, WGS 84: 1847 m). */
static void two_places_give_the_distance(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl.kit.config.position = (struct rp_position){.present = true, .lat_e6 = 28000000};
    ctl.kit.config.altitude = (struct rp_altitude){true, 5480, RP_ALT_UNSAID};
    ctl_restart(&ctl);
    ctl_ok(&ctl, "path from 28,0 to 28.016667,0");
    near(real_of(&ctl, "distance_m"), 1847, 1);
    ctl_ok(&ctl, "path to 28.016667,0 altitude 5480m 4480m");
    near(real_of(&ctl, "distance_m"), 1847, 1);
    near(real_of(&ctl, "slant_m"), 2100, 1); /* 1000 m lower: Pythagoras */
    ctl_ok(&ctl, "path from 7 to 28.016667,0 altitude 5480m");
    near(real_of(&ctl, "slant_m"), 1847, 1);
    ctl_refused(&ctl, "path to 28.016667,0", "RP_E_INVALID",
                "altitude: that of one end is not known; give both (example: altitude 5480m "
                "4310m)");
    ctl.kit.config.position.present = false;
    ctl_restart(&ctl);
    ctl_refused(&ctl, "path to 28,86", "RP_E_NOT_FOUND",
                "from: this station's own position is not configured; give it (example: from "
                "28.1041,86.7523)");
    ctl.kit.config.position.present = true;
    ctl_restart(&ctl);
    ctl_refused(&ctl, "path from 7 to 7", "RP_E_INVALID",
                "the two places are 0 m apart, which is not 10 m to 500 km (example: path "
                "distance 5km antenna 2m 5m ridge 30m at 2km)");
    ctl_end(&ctl);
}

struct row {
    const char *line, *code, *text;
};

static const struct row rows[] = {
    {"airtime 0", "RP_E_INVALID",
     "bytes \"0\": a frame of this net has 1 to 120 bytes (example: airtime 48)"},
    {"airtime 121", "RP_E_INVALID",
     "bytes \"121\": a frame of this net has 1 to 120 bytes (example: airtime 48)"},
    {"airtime 48B", "RP_E_INVALID",
     "bytes \"48B\": a frame of this net has 1 to 120 bytes (example: airtime 48)"},
    {"airtime 48 49", "RP_E_FORMAT", "\"49\" is one word too many (example: airtime 48)"},
    {"path distance 9.9m", "RP_E_INVALID",
     "distance \"9.9m\" is not 10 m to 500 km (example: distance 5km)"},
    {"path distance 500.001km", "RP_E_INVALID",
     "distance \"500.001km\" is not 10 m to 500 km (example: distance 5km)"},
    {"path distance infkm", "RP_E_INVALID",
     "distance \"infkm\" is not 10 m to 500 km (example: distance 5km)"},
    {"path distance 0x5km", "RP_E_INVALID",
     "distance \"0x5km\" is not 10 m to 500 km (example: distance 5km)"},
    {"path distance 5", "RP_E_INVALID",
     "distance \"5\" is not 10 m to 500 km (example: distance 5km)"},
    {"path distance 5km altitude 8901m", "RP_E_INVALID",
     "altitude \"8901m\" is not -450 m to 8900 m (example: altitude 5480m 4310m)"},
    {"path distance 5km antenna 0m", "RP_E_INVALID",
     "antenna \"0m\" is not 0.1 m to 100 m over the ground (example: antenna 2m 5m)"},
    {"path distance 5km gain 31dBi", "RP_E_INVALID",
     "gain \"31dBi\" is not -30 dBi to 30 dBi (example: gain 2.15dBi 5dBi)"},
    {"path distance 5km power 14", "RP_E_INVALID",
     "power \"14\" is not -30 dBm to 40 dBm (example: power 14dBm)"},
    {"path distance 5km frequency 2400MHz", "RP_E_INVALID",
     "frequency \"2400MHz\" is not 137 MHz to 1020 MHz (example: frequency 869.525MHz)"},
    {"path distance 5km bandwidth 126kHz", "RP_E_INVALID",
     "bandwidth 126000 Hz is not 125, 250 or 500 kHz (example: bandwidth 125kHz)"},
    {"path distance 5km ridge 30m", "RP_E_FORMAT",
     "ridge: say how far it is from the first end (example: ridge 5300m at 2km)"},
    {"path distance 5km ridge 30m at 5km", "RP_E_INVALID",
     "the ridge at 5000 m is not between the ends, which are 5000 m apart (example: ridge 5300m at "
     "2km)"},
    {"path distance 5km to 28,86", "RP_E_FORMAT",
     "distance and two places exclude each other (example: path distance 5km antenna 2m 5m ridge "
     "30m at 2km)"},
    {"path to 98", "RP_E_NOT_FOUND",
     "to: the position of station 98 is not known here; give it (example: to 28.0900,86.7600)"},
    {"path to 91,0", "RP_E_INVALID",
     "position \"91,0\": latitude is outside 90 degrees (is it the longitude?) (example: "
     "27.98800,86.92533 or 27 59.280N 86 55.520E)"},
    {"path from 28,86", "RP_E_FORMAT",
     "path: say where to, or how far (example: path to 4, or path distance 5km antenna 2m 5m "
     "ridge 30m at 2km)"},
    {"path far", "RP_E_FORMAT",
     "\"far\" is not known here; words: from, to, distance, altitude, antenna, ridge, gain, power, "
     "frequency, bandwidth (example: path distance 5km antenna 2m 5m ridge 30m at 2km)"},
};

static void what_cannot_be_is_refused_with_bound_and_example(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        ctl_refused(&ctl, rows[i].line, rows[i].code, rows[i].text);
    }
    ctl_end(&ctl);
}

/* Each bound from inside. */
static void the_bounds_themselves_are_taken(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "airtime 1",
        "airtime 120",
        "path distance 10m",
        "path distance 500km",
        "path distance 5km altitude -450m 8900m antenna 0.1m 100m gain -30dBi 30dBi",
        "path distance 5km power -30dBm frequency 137MHz bandwidth 500kHz",
        "path distance 5km power 40dBm frequency 1020MHz bandwidth 250kHz ridge -450m at 1m",
        "path distance 5km ridge 8900m at 4.999km",
    };
    struct ctl ctl = ctl_new();
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        ctl_ok(&ctl, lines[i]);
    }
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_report_costs_what_the_formula_says),
        cmocka_unit_test(what_is_spent_is_told),
        cmocka_unit_test(a_path_is_the_sum_of_its_parts),
        cmocka_unit_test(two_places_give_the_distance),
        cmocka_unit_test(what_cannot_be_is_refused_with_bound_and_example),
        cmocka_unit_test(the_bounds_themselves_are_taken),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
