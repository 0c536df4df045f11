#include "rp_test.h"

#include <math.h>
#include <string.h>

#include "clinical/air.h"

#define MMHG    1.333224
#define PSI_HPA 68.94757

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within)) {
        fail_msg("%s: %.4f, expected %.4f within %.4f", what, got, want, within);
    }
}

/* Clinical references 2.2. ISA column: US Standard Atmosphere 1976, table at 500 m steps (3000 m to
 * 9000 m recalled from memory of the table, the rest computed there); West column: West 1996. */
static const struct {
    double altitude_m, isa_hpa, isa_mmhg, west_mmhg, west_hpa, pio2_isa, pio2_west, temp_c;
} ambient[] = {
    {0, 1013.2, 760.0, 759.5, 1012.6, 149.2, 149.1, 15.0},
    {500, 954.6, 716.0, 718.2, 957.5, 140.0, 140.5, 11.8},
    {1000, 898.8, 674.1, 678.6, 904.7, 131.3, 132.2, 8.5},
    {1500, 845.6, 634.2, 640.7, 854.2, 122.9, 124.3, 5.3},
    {2000, 795.0, 596.3, 604.5, 805.9, 115.0, 116.7, 2.0},
    {2500, 746.9, 560.2, 569.8, 759.7, 107.4, 109.4, -1.2},
    {3000, 701.2, 526.0, 536.8, 715.7, 100.2, 102.5, -4.5},
    {3500, 657.8, 493.4, 505.3, 673.7, 93.4, 95.9, -7.7},
    {4000, 616.6, 462.5, 475.3, 633.7, 87.0, 89.7, -11.0},
    {4500, 577.5, 433.2, 446.8, 595.7, 80.8, 83.7, -14.2},
    {5000, 540.5, 405.4, 419.7, 559.5, 75.0, 78.0, -17.5},
    {5500, 505.4, 379.1, 393.9, 525.1, 69.5, 72.6, -20.7},
    {6000, 472.2, 354.2, 369.4, 492.5, 64.3, 67.5, -24.0},
    {6500, 440.8, 330.6, 346.2, 461.5, 59.4, 62.6, -27.2},
    {7000, 411.1, 308.3, 324.2, 432.2, 54.7, 58.0, -30.4},
    {7500, 383.0, 287.3, 303.3, 404.4, 50.3, 53.7, -33.7},
    {8000, 356.5, 267.4, 283.6, 378.2, 46.1, 49.5, -36.9},
    {8500, 331.5, 248.7, 265.0, 353.3, 42.2, 45.6, -40.2},
    {9000, 308.0, 231.0, 247.4, 329.9, 38.5, 42.0, -43.4},
};

static void ambient_table_every_500_m(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof ambient / sizeof ambient[0]; i++) {
        double isa, west;
        assert_int_equal(rp_air_pressure(RP_AIR_ISA, ambient[i].altitude_m, &isa), 0);
        assert_int_equal(rp_air_pressure(RP_AIR_WEST, ambient[i].altitude_m, &west), 0);
        near("ISA hPa", isa, ambient[i].isa_hpa, 0.06);
        near("ISA mmHg", isa / MMHG, ambient[i].isa_mmhg, 0.06);
        near("West mmHg", west / MMHG, ambient[i].west_mmhg, 0.06);
        near("West hPa", west, ambient[i].west_hpa, 0.06);
        near("PIO2 ISA", rp_air_inspired_o2_mmhg(0.2093, isa), ambient[i].pio2_isa, 0.06);
        near("PIO2 West", rp_air_inspired_o2_mmhg(0.2093, west), ambient[i].pio2_west, 0.06);
        near("T", rp_air_standard_temp_c(ambient[i].altitude_m), ambient[i].temp_c, 0.06);
    }
}

/* West et al. 1983 (measured, mmHg): 5400 m 400.4 +- 2.7, 6300 m 351.0 +- 1.0, 8050 m 283.6 +- 1.5,
 * 8848 m 253.0. The model is within 5 mmHg of each; the standard atmosphere is 11-18 too low. */
static void measured_pressures(void **state)
{
    (void)state;
    static const struct {
        double altitude_m, measured_mmhg, west_mmhg, isa_mmhg;
    } points[] = {{5400, 400.4, 398.9, 384.2},
                  {6300, 351.0, 355.3, 339.9},
                  {8050, 283.6, 281.7, 265.5},
                  {8848, 253.0, 252.7, 236.3}};
    for (size_t i = 0; i < 4; i++) {
        double isa, west;
        assert_int_equal(rp_air_pressure(RP_AIR_ISA, points[i].altitude_m, &isa), 0);
        assert_int_equal(rp_air_pressure(RP_AIR_WEST, points[i].altitude_m, &west), 0);
        near("West", west / MMHG, points[i].west_mmhg, 0.06);
        near("ISA", isa / MMHG, points[i].isa_mmhg, 0.06);
        near("West, measured", west / MMHG, points[i].measured_mmhg, 5.0);
        assert_true(isa / MMHG < points[i].measured_mmhg - 10.0);
    }
}

static void both_directions_agree(void **state)
{
    (void)state;
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        for (double m = -500; m <= 9500; m += 50) {
            double hpa, back;
            assert_int_equal(rp_air_pressure((enum rp_air_model)model, m, &hpa), 0);
            assert_int_equal(rp_air_altitude((enum rp_air_model)model, hpa, &back), 0);
            near("round trip", back, m, 0.01);
        }
    }
}

/* Clinical references 2.3: ISA / West metres at +1.5, 2.0 psi, 193 mbar, 3.0 psi; computed there.
 */
static const struct {
    double altitude_m;
    double isa_m[4], west_m[4];
    double pio2_out, pio2_in; /* West, +2 psi */
} chamber[] = {
    {3000, {1903, 1563, 1041, 915}, {1860, 1506, 961, 828}, 102.5, 124.2},
    {3500, {2349, 1993, 1449, 1318}, {2309, 1939, 1373, 1236}, 95.9, 117.6},
    {4000, {2791, 2419, 1853, 1716}, {2753, 2369, 1781, 1638}, 89.7, 111.3},
    {4500, {3230, 2842, 2251, 2109}, {3195, 2794, 2183, 2035}, 83.7, 105.3},
    {5000, {3666, 3260, 2644, 2496}, {3633, 3215, 2580, 2427}, 78.0, 99.6},
    {5500, {4098, 3673, 3031, 2877}, {4067, 3632, 2971, 2813}, 72.6, 94.2},
    {6000, {4525, 4082, 3413, 3252}, {4497, 4043, 3357, 3192}, 67.5, 89.1},
    {6500, {4949, 4485, 3788, 3621}, {4923, 4450, 3736, 3566}, 62.6, 84.3},
    {7000, {5368, 4883, 4157, 3984}, {5344, 4851, 4109, 3932}, 58.0, 79.7},
    {7500, {5782, 5276, 4519, 4340}, {5761, 5246, 4476, 4292}, 53.7, 75.3},
    {8000, {6191, 5662, 4875, 4688}, {6173, 5636, 4835, 4645}, 49.5, 71.2},
};

static void chamber_table(void **state)
{
    (void)state;
    static const double gauges_hpa[4] = {1.5 * PSI_HPA, 2.0 * PSI_HPA, 193.0, 3.0 * PSI_HPA};
    for (size_t i = 0; i < sizeof chamber / sizeof chamber[0]; i++) {
        struct rp_air_site site = {.altitude_m = chamber[i].altitude_m};
        for (size_t g = 0; g < 4; g++) {
            struct rp_air_chamber isa, west;
            assert_int_equal(rp_air_in_chamber(&site, RP_AIR_ISA, gauges_hpa[g], &isa), 0);
            assert_int_equal(rp_air_in_chamber(&site, RP_AIR_WEST, gauges_hpa[g], &west), 0);
            near("ISA equivalent", isa.equivalent_m, chamber[i].isa_m[g], 1.5);
            near("West equivalent", west.equivalent_m, chamber[i].west_m[g], 1.5);
            near("descent", west.descent_m, chamber[i].altitude_m - chamber[i].west_m[g], 1.5);
            if (g == 1) {
                near("PIO2 out", west.inspired_o2_outside_mmhg, chamber[i].pio2_out, 0.06);
                near("PIO2 in", west.inspired_o2_inside_mmhg, chamber[i].pio2_in, 0.06);
            }
            /* (c) UIAA MedCom 2008: simulated descent of 1500-2500 m at 2.0-2.8 psi, 3500-5500 m;
             * accepted +-100 m (clinical references 2.3). */
            if ((g == 1 || g == 2) && site.altitude_m >= 3500 && site.altitude_m <= 5500) {
                assert_true(isa.descent_m >= 1400 && isa.descent_m <= 2600);
                assert_true(west.descent_m >= 1400 && west.descent_m <= 2600);
            }
        }
    }
}

/* (a) Taber 1990: 13,920 ft + 2 psi is 8,400 ft. West 8,451 ft, ISA 8,613 ft (computed in the
 * references). (b) Bartsch et al. 1993: 4559 m + 193 mbar is a descent of 2250 m; ISA 2261 m, West
 * 2328 m. Both accepted +-100 m. */
static void published_chamber_examples(void **state)
{
    (void)state;
    struct rp_air_chamber isa, west;
    struct rp_air_site taber = {.altitude_m = 13920 * 0.3048};
    assert_int_equal(rp_air_in_chamber(&taber, RP_AIR_ISA, 2 * PSI_HPA, &isa), 0);
    assert_int_equal(rp_air_in_chamber(&taber, RP_AIR_WEST, 2 * PSI_HPA, &west), 0);
    near("Taber, West", west.equivalent_m, 8400 * 0.3048, 100);
    near("Taber, ISA", isa.equivalent_m, 8400 * 0.3048, 100);
    near("Taber, West", west.equivalent_m / 0.3048, 8451, 3);
    near("Taber, ISA", isa.equivalent_m / 0.3048, 8613, 3);
    struct rp_air_site bartsch = {.altitude_m = 4559};
    assert_int_equal(rp_air_in_chamber(&bartsch, RP_AIR_ISA, 193, &isa), 0);
    assert_int_equal(rp_air_in_chamber(&bartsch, RP_AIR_WEST, 193, &west), 0);
    near("Bartsch, ISA", isa.descent_m, 2250, 100);
    near("Bartsch, West", west.descent_m, 2250, 100);
    near("Bartsch, ISA", isa.descent_m, 2261, 1);
    near("Bartsch, West", west.descent_m, 2328, 1);
}

/* A measured station pressure replaces the model's: at 5000 m, 10 hPa are about 140 m (clinical
 * references 2.1). */
static void a_measured_pressure_is_preferred(void **state)
{
    (void)state;
    struct rp_air_site model = {.altitude_m = 5000};
    struct rp_air_site measured = {.altitude_m = 5000, .has_station = true, .station_hpa = 549.5};
    struct rp_air_chamber a, b;
    assert_int_equal(rp_air_in_chamber(&model, RP_AIR_WEST, 0, &a), 0);
    assert_int_equal(rp_air_in_chamber(&measured, RP_AIR_WEST, 0, &b), 0);
    near("outside", b.outside_hpa, 549.5, 0);
    near("no pressure, no descent", b.descent_m, 0, 0.01);
    assert_int_equal(rp_air_in_chamber(&measured, RP_AIR_ISA, 2 * PSI_HPA, &a), 0);
    assert_int_equal(rp_air_in_chamber(&measured, RP_AIR_WEST, 2 * PSI_HPA, &b), 0);
    near("a descent is within one model", a.descent_m, b.descent_m, 100);
    assert_int_equal(rp_air_in_chamber(&model, RP_AIR_WEST, 0, &a), 0);
    assert_int_equal(rp_air_in_chamber(&measured, RP_AIR_WEST, 0, &b), 0);
    near("140 m higher", b.equivalent_m - a.equivalent_m, 142, 5);
    measured.station_hpa = 1080.5;
    assert_int_equal(rp_air_in_chamber(&measured, RP_AIR_WEST, 0, &b), RP_E_INVALID);
}

static void bounds_are_refused(void **state)
{
    (void)state;
    double x = -7;
    assert_int_equal(rp_air_pressure(RP_AIR_ISA, -500.5, &x), RP_E_INVALID);
    assert_int_equal(rp_air_pressure(RP_AIR_ISA, 10000.5, &x), RP_E_INVALID);
    assert_int_equal(rp_air_pressure(RP_AIR_WEST, NAN, &x), RP_E_INVALID);
    assert_int_equal(rp_air_altitude(RP_AIR_WEST, 199.9, &x), RP_E_INVALID);
    assert_int_equal(rp_air_altitude(RP_AIR_WEST, 1400.1, &x), RP_E_INVALID);
    assert_int_equal(rp_air_altitude(RP_AIR_ISA, INFINITY, &x), RP_E_INVALID);
    struct rp_air_site site = {.altitude_m = 5000};
    struct rp_air_chamber c = {.descent_m = -7};
    assert_int_equal(rp_air_in_chamber(&site, RP_AIR_ISA, -0.1, &c), RP_E_INVALID);
    assert_int_equal(rp_air_in_chamber(&site, RP_AIR_ISA, 300.1, &c), RP_E_INVALID);
    site.altitude_m = 10001;
    assert_int_equal(rp_air_in_chamber(&site, RP_AIR_ISA, 100, &c), RP_E_INVALID);
    near("untouched", c.descent_m, -7, 0);
    site = (struct rp_air_site){.altitude_m = 0, .has_station = true, .station_hpa = 199.9};
    assert_int_equal(rp_air_in_chamber(&site, RP_AIR_ISA, 100, &c), RP_E_INVALID);
    /* The lowest and the highest pressure there can be. */
    site.station_hpa = 200;
    assert_int_equal(rp_air_in_chamber(&site, RP_AIR_WEST, 0, &c), 0);
    site.station_hpa = 1080;
    assert_int_equal(rp_air_in_chamber(&site, RP_AIR_ISA, 300, &c), 0);
    /* 44330.8 (1 - (1380/1013.25)^0.190263) = -2684, geometric -2683: references 2.1. */
    near("below the sea", c.equivalent_m, -2683, 3);
    c.descent_m = -7;
    near("untouched", x, -7, 0);
    near("untouched", c.descent_m, -7, 0);
}

static void altitudes_are_shown_to_50_m_with_their_model(void **state)
{
    (void)state;
    char text[40];
    rp_air_show_altitude(RP_AIR_ISA, 3260.4, text, sizeof text);
    assert_string_equal(text, "about 3250 m (ISA)");
    rp_air_show_altitude(RP_AIR_WEST, 3215, text, sizeof text);
    assert_string_equal(text, "about 3200 m (West 1996)");
    assert_int_equal(rp_air_round_50m(3225), 3250);
    assert_int_equal(rp_air_round_50m(3224.9), 3200);
    assert_int_equal(rp_air_round_50m(-24.9), 0);
}

/* Clinical references 2.1 and 3.5 (design judgement): 5000 m: ISA 540.5, West 559.5; ISA of 4700 m
 * is 562.4 hPa, so above 642.4 it is refused. */
static void sea_level_pressure_is_refused(void **state)
{
    (void)state;
    struct rp_problem p = {0};
    assert_int_equal(rp_air_check_station(548, 5000, false, &p), 0);
    assert_int_equal(rp_air_check_station(1013, 5000, true, &p), RP_E_INVALID);
    assert_non_null(strstr(p.text, "reduced to sea level"));
    assert_int_equal(rp_air_check_station(642, 5000, true, NULL), 0);
    assert_int_equal(rp_air_check_station(643, 5000, true, NULL), RP_E_INVALID);
    assert_int_equal(rp_air_check_station(642, 5000, false, &p), RP_E_CONFIRM);
    assert_string_equal(p.text, "station-pressure 642.0 hPa is unlikely at 5000 m: outside "
                                "500.5-599.5; check and enter again with --sure");
    assert_int_equal(rp_air_check_station(599, 5000, false, NULL), 0);
    assert_int_equal(rp_air_check_station(501, 5000, false, NULL), 0);
    assert_int_equal(rp_air_check_station(500, 5000, false, NULL), RP_E_CONFIRM);
    assert_int_equal(rp_air_check_station(199, 5000, true, NULL), RP_E_INVALID);
    assert_int_equal(rp_air_check_station(548, 20000, true, NULL), RP_E_INVALID);
}

static void an_altimeter_inside_checks_the_gauge(void **state)
{
    (void)state;
    double error;
    /* 5000 m + 2 psi is 3260 m ISA: see the table above. */
    assert_int_equal(rp_air_altimeter_error(540.5 + 137.9, 3260, &error), 0);
    near("agrees", error, 0, 3);
    assert_int_equal(rp_air_altimeter_error(540.5 + 137.9, 3500, &error), 0);
    near("reads high", error, 240, 3);
    assert_int_equal(rp_air_altimeter_error(199.9, 3500, &error), RP_E_INVALID);
    assert_int_equal(rp_air_altimeter_error(1400.1, 3500, &error), RP_E_INVALID);
    near("untouched", error, 240, 3);
    assert_true(fabs(error) > RP_AIR_ALTIMETER_LIMIT_M);
}

/* Clinical references 2.6: 5000 m at -15 C 5091 m, at 0 C 5640 m; 4300 m at +5 C 4956 m. Wind chill
 * at -15 C: 20 km/h -24, 40 km/h -27, 60 km/h -30. */
static void density_altitude_and_wind_chill(void **state)
{
    (void)state;
    near("DA", rp_air_density_altitude_m(5000, -15), 5091, 1);
    near("DA", rp_air_density_altitude_m(5000, 0), 5640, 1);
    near("DA", rp_air_density_altitude_m(4300, 5), 4956, 1);
    double c;
    assert_int_equal(rp_air_wind_chill(-15, 20, &c), 0);
    near("20", c, -24, 0.5);
    assert_int_equal(rp_air_wind_chill(-15, 40, &c), 0);
    near("40", c, -27, 0.5);
    assert_int_equal(rp_air_wind_chill(-15, 60, &c), 0);
    near("60", c, -30, 0.5);
    assert_int_equal(rp_air_wind_chill(10.1, 20, &c), RP_E_INVALID);
    assert_int_equal(rp_air_wind_chill(10, 4.8, &c), 0);
    assert_int_equal(rp_air_wind_chill(10, 4.7, &c), RP_E_INVALID);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ambient_table_every_500_m),
        cmocka_unit_test(measured_pressures),
        cmocka_unit_test(both_directions_agree),
        cmocka_unit_test(chamber_table),
        cmocka_unit_test(published_chamber_examples),
        cmocka_unit_test(a_measured_pressure_is_preferred),
        cmocka_unit_test(bounds_are_refused),
        cmocka_unit_test(altitudes_are_shown_to_50_m_with_their_model),
        cmocka_unit_test(sea_level_pressure_is_refused),
        cmocka_unit_test(an_altimeter_inside_checks_the_gauge),
        cmocka_unit_test(density_altitude_and_wind_chill),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
