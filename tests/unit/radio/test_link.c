/* Estimates of a link against published values:
 *  P525 ITU-R P.525, free space, 868 MHz: 91.2 105.2 111.2 117.2 125.2 dB at 1 5 10 20 50 km
 *  P526 ITU-R P.526 4.1; J(v) as computed by the OFCOM reference implementation of P.2001, 3.12
 *  SX   SX1272/73 data sheet revision 2 (2014), page 19
 *  OULU Petajajarvi et al. 2015, parameters as in FLoRa's LoRaPathLossOulu.ned */
#include "rp_test.h"

#include <math.h>

#include "radio/plan/link.h"

static void near(double value, double expected, double tolerance)
{
    if (!(fabs(value - expected) <= tolerance)) {
        fail_msg("%.6f instead of %.6f +- %g", value, expected, tolerance);
    }
}

static void free_space_is_p_525(void **state)
{
    (void)state;
    static const struct {
        double km, db;
    } rows[] = {{1, 91.2}, {5, 105.2}, {10, 111.2}, {20, 117.2}, {50, 125.2}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        near(rp_link_free_space_db(rows[i].km * 1000, 868e6), rows[i].db, 0.05);
    }
    /* 433.5 MHz is 6 dB less than 868 */
    near(rp_link_free_space_db(10000, 433.5e6), 111.2 - 6.0, 0.1);
}

static void a_knife_edge_is_p_526(void **state)
{
    (void)state;
    static const struct {
        double v, db;
    } rows[] = {{-0.5, 1.96}, {0, 6.03},  {0.5, 10.29}, {1, 13.93},
                {2, 19.04},   {3, 22.42}, {5, 26.81}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        near(rp_link_edge_db(rows[i].v), rows[i].db, 0.005);
    }
    near(rp_link_edge_db(-0.79), 0, 0);
    near(rp_link_edge_db(-100), 0, 0);
    near(rp_link_edge_db(-0.77), 0.05, 0.05); /* the formula meets 0 there */
}

/* 2 km and 3 km from the ends, 868 MHz, edge 0, 10, 30, 100 m above the line: 6.0 11.8 19.4 29.7 dB
 * (computed from P526 when the facts were gathered). */
static void a_ridge_example_is_reproduced(void **state)
{
    (void)state;
    static const struct {
        double above_m, db;
    } rows[] = {{0, 6.0}, {10, 11.8}, {30, 19.4}, {100, 29.7}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double v = rp_link_edge_v(rows[i].above_m, 2000, 3000, 868e6);
        near(rp_link_edge_db(v), rows[i].db, 0.05);
    }
    /* First Fresnel radius mid-path of 10 km at 868 MHz: 29.5 m (P.526-8 equation 3). There v is
     * the square root of two, by definition of both. */
    near(rp_link_edge_v(29.5, 5000, 5000, 868e6), sqrt(2) * 1.0, 0.01);
}

static void the_line_over_a_ridge_bends_with_the_earth(void **state)
{
    (void)state;
    /* Effective radius 8500 km (P.526-8 section 1): mid-path of 10 km stands 25e6 / 17e6 m up. */
    struct rp_link_ridge ridge = {.from_a_m = 5000, .from_b_m = 5000};
    near(rp_link_ridge_above_m(&ridge), 1.470588, 1e-6);
    ridge = (struct rp_link_ridge){
        .height_a_m = 100, .height_b_m = 200, .top_m = 150, .from_a_m = 10, .from_b_m = 30};
    near(rp_link_ridge_above_m(&ridge), 150 - 125, 0.001);
    ridge.top_m = 100;
    near(rp_link_ridge_above_m(&ridge), -25, 0.001);
}

static void sensitivity_is_the_data_sheets(void **state)
{
    (void)state;
    static const struct {
        uint32_t bandwidth_hz;
        int dbm[6];
    } rows[] = {{125000, {-124, -127, -130, -133, -135, -137}},
                {250000, {-122, -125, -128, -130, -132, -135}},
                {500000, {-116, -119, -122, -125, -128, -129}}};
    int16_t dbm = 1;
    for (size_t i = 0; i < 3; i++) {
        for (uint8_t sf = 7; sf <= 12; sf++) {
            assert_true(rp_link_sensitivity_dbm(sf, rows[i].bandwidth_hz, &dbm));
            assert_int_equal(dbm, rows[i].dbm[sf - 7]);
            /* One-line model: -174 + 10 log BW + 6 dB noise figure + the SNR of SX1276 data sheet
             * revision 4, table 13 (-7.5 dB at SF7, 2.5 less for each step): within 1.5 dB of the
             * table at 125 and 250 kHz. */
            double model_dbm = -174 + 10 * log10(rows[i].bandwidth_hz) + 6 - 7.5 - 2.5 * (sf - 7);
            near(dbm, model_dbm, i < 2 ? 1.5 : 5);
        }
    }
    dbm = 1;
    assert_false(rp_link_sensitivity_dbm(6, 125000, &dbm));
    assert_false(rp_link_sensitivity_dbm(13, 125000, &dbm));
    assert_false(rp_link_sensitivity_dbm(7, 62500, &dbm));
    assert_int_equal(dbm, 1);
}

/* The standard normal distribution: one, two and three deviations leave 15.87, 2.28 and 0.135 %
 * (any table). The deviation is OULU's 7.8 dB. */
static void loss_is_the_tail_of_a_normal_distribution(void **state)
{
    (void)state;
    near(rp_link_expected_loss_pct(0), 50, 1e-9);
    near(rp_link_expected_loss_pct(7.8), 15.87, 0.005);
    near(rp_link_expected_loss_pct(15.6), 2.28, 0.005);
    near(rp_link_expected_loss_pct(23.4), 0.135, 0.0005);
    near(rp_link_expected_loss_pct(-7.8), 84.13, 0.005);
    near(rp_link_expected_loss_pct(200), 0, 1e-9);
}

/* OULU: 128.95 dB at 1 km, 23.2 dB a decade. */
static void range_near_the_ground_is_the_fit(void **state)
{
    (void)state;
    near(rp_link_ground_range_m(128.95), 1000, 0.01);
    near(rp_link_ground_range_m(128.95 + 23.2), 10000, 0.1);
    near(rp_link_ground_range_m(128.95 - 23.2), 100, 0.001);
}

/* The same fit the other way round: 128.95 dB at 1 km and 23.2 dB a decade, but never less than
 * free space. */
static void loss_near_the_ground_is_the_fit(void **state)
{
    (void)state;
    near(rp_link_near_ground_db(1000, 868e6), 128.95, 1e-9);
    near(rp_link_near_ground_db(10000, 868e6), 152.15, 1e-9);
    near(rp_link_near_ground_db(100, 868e6), 105.75, 1e-9);
    for (double distance_m = 10; distance_m <= 500000; distance_m *= 1.5) {
        double loss_db = rp_link_near_ground_db(distance_m, 868e6);
        assert_true(loss_db >= rp_link_free_space_db(distance_m, 868e6));
        near(rp_link_ground_range_m(loss_db), distance_m, distance_m * 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(free_space_is_p_525),
        cmocka_unit_test(a_knife_edge_is_p_526),
        cmocka_unit_test(a_ridge_example_is_reproduced),
        cmocka_unit_test(the_line_over_a_ridge_bends_with_the_earth),
        cmocka_unit_test(sensitivity_is_the_data_sheets),
        cmocka_unit_test(loss_is_the_tail_of_a_normal_distribution),
        cmocka_unit_test(range_near_the_ground_is_the_fit),
        cmocka_unit_test(loss_near_the_ground_is_the_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
