#include "rp_test.h"

#include <math.h>
#include <stddef.h>

#include "clinical/air.h"
#include "clinical/pump.h"
#include "ridgepost/error.h"

#define TWO_PSI_HPA 137.895

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within)) {
        fail_msg("%s: %.4f, expected %.4f within %.4f", what, got, want, within);
    }
}

/* Calm patient, air at -15 C, West pressure, 2 L strokes: what the tables of the references take.
 */
static struct rp_pump pump_at(double altitude_m)
{
    struct rp_pump p = {.air_c = -15, .co2_lpm = 0.25, .o2_lpm = 0.30, .stroke_l = 2.0};
    assert_int_equal(rp_air_pressure(RP_AIR_WEST, altitude_m, &p.outside_hpa), 0);
    return p;
}

/* Acceptance of the job: 5000 m, -15 C, 0.25 L/min, 2 L, 1 %: 44.6 L/min, 23 strokes a minute. */
static void acceptance_figure(void **state)
{
    (void)state;
    struct rp_pump p = pump_at(5000);
    double flow, co2, o2;
    int32_t strokes;
    assert_int_equal(rp_pump_needed(&p, 0.01, &flow, &strokes), 0);
    near("flow", flow, 44.6, 0.05);
    assert_int_equal(strokes, 23);
    assert_int_equal(rp_pump_steady(&p, 23 * 2.0, &co2, &o2), 0);
    assert_true(co2 <= 0.01);
    assert_int_equal(rp_pump_steady(&p, 22 * 2.0, &co2, &o2), 0);
    assert_true(co2 > 0.01);
    /* 559.5 hPa at -15 C: 2 L hold 2 x 0.5522 x 1.0581 standard litres. */
    near("standard litres of a stroke", rp_pump_standard_l(&p, 2), 1.169, 0.001);
    assert_true(rp_pump_standard_l(&p, 0) == 0 && rp_pump_standard_l(&p, 1000) > 500);
    assert_true(rp_pump_standard_l(&p, -0.1) == 0 && rp_pump_standard_l(&p, 1000.1) == 0);
    p.air_c = 51;
    assert_true(rp_pump_standard_l(&p, 2) == 0);
}

/* Clinical references 2.4: steady CO2 % at 20..60 L/min, 0.25 L/min, -15 C, without the 0.04 % of
 * outside air; and the flow for 1 % calm and distressed (also without it: hence 1.04 % here). */
static void steady_table(void **state)
{
    (void)state;
    static const struct {
        double altitude_m, co2_pct[5], calm_lpm, distressed_lpm;
    } rows[] = {
        {3500, {1.78, 1.18, 0.89, 0.71, 0.59}, 36, 50},
        {4000, {1.89, 1.26, 0.94, 0.76, 0.63}, 38, 53},
        {4500, {2.01, 1.34, 1.00, 0.80, 0.67}, 40, 56},
        {5000, {2.14, 1.43, 1.07, 0.86, 0.71}, 43, 60},
        {5500, {2.28, 1.52, 1.14, 0.91, 0.76}, 46, 64},
        {6000, {2.43, 1.62, 1.22, 0.97, 0.81}, 49, 68},
        {7000, {2.77, 1.85, 1.38, 1.11, 0.92}, 55, 78},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_pump p = pump_at(rows[i].altitude_m);
        double co2, o2, flow;
        int32_t strokes;
        for (int f = 0; f < 5; f++) {
            assert_int_equal(rp_pump_steady(&p, 20 + 10 * f, &co2, &o2), 0);
            near("steady CO2", 100 * co2, rows[i].co2_pct[f] + 0.04, 0.006);
        }
        assert_int_equal(rp_pump_needed(&p, 0.0104, &flow, &strokes), 0);
        near("calm", flow, rows[i].calm_lpm, 0.6);
        p.co2_lpm = RP_PUMP_CO2_DISTRESS_LPM;
        assert_int_equal(rp_pump_needed(&p, 0.0104, &flow, &strokes), 0);
        near("distressed", flow, rows[i].distressed_lpm, 0.6);
    }
}

/* Clinical references 2.4: 5000 m, 2 psi, 40 L/min: FO2 0.1965, inspired 93.5 mmHg and not 99.6; at
 * 20 L/min 87.4. */
static void used_up_oxygen(void **state)
{
    (void)state;
    struct rp_pump p = pump_at(5000);
    double co2, o2, inside_hpa = p.outside_hpa + TWO_PSI_HPA;
    near("fresh", rp_air_inspired_o2_mmhg(RP_AIR_O2_FRACTION, inside_hpa), 99.6, 0.06);
    assert_int_equal(rp_pump_steady(&p, 40, &co2, &o2), 0);
    near("FO2", o2, 0.1965, 0.00006);
    near("40 L/min", rp_air_inspired_o2_mmhg(o2, inside_hpa), 93.5, 0.06);
    assert_int_equal(rp_pump_steady(&p, 20, &co2, &o2), 0);
    near("20 L/min", rp_air_inspired_o2_mmhg(o2, inside_hpa), 87.4, 0.06);
}

/* Clinical references 2.4: 500 L at 2 psi: CO2 rises 0.067, 0.074, 0.082 % a minute at 4000, 5000,
 * 6000 m; 1 % to 2 % in 15, 13.5, 12 min; oxygen falls 0.08-0.10 % a minute; washout at 40 L/min
 * 14-15 min. The references do not say the inside temperature; 5 C fits. */
static void pumping_stops(void **state)
{
    (void)state;
    static const double altitude_m[3] = {4000, 5000, 6000}, rise_pct[3] = {0.067, 0.074, 0.082},
                        minutes[3] = {15, 13.5, 12};
    for (int i = 0; i < 3; i++) {
        struct rp_pump p = pump_at(altitude_m[i]);
        double rise, fall, washout, inside_hpa = p.outside_hpa + TWO_PSI_HPA;
        assert_int_equal(rp_pump_stopped(&p, 500, inside_hpa, 5, &rise, &fall), 0);
        near("rise", 100 * rise, rise_pct[i], 0.0006);
        near("1 % to 2 %", 0.01 / rise, minutes[i], 0.3);
        near("oxygen", 100 * fall, 0.09, 0.0105);
        assert_int_equal(rp_pump_washout(&p, 40, 500, inside_hpa, 5, &washout), 0);
        near("washout", washout, 14.5, 0.8);
    }
}

/* Clinical references 2.4: 500 L to 2 psi: 102 L of outside air at 3500 m, 123 at 5000, 140 at
 * 6000, 159 at 7000; 51, 62, 70, 80 strokes of 2 L, to the nearest there, rounded up here. */
static void filling(void **state)
{
    (void)state;
    static const double altitude_m[4] = {3500, 5000, 6000, 7000}, air_l[4] = {102, 123, 140, 159};
    static const int strokes[4] = {52, 62, 71, 80}; /* 51.2 needs 52, 70.01 needs 71 */
    for (int i = 0; i < 4; i++) {
        struct rp_pump p = pump_at(altitude_m[i]);
        double air;
        int32_t n;
        assert_int_equal(rp_pump_fill(&p, 500, TWO_PSI_HPA, &air, &n), 0);
        near("air", air, air_l[i], 0.6);
        assert_int_equal(n, strokes[i]);
    }
}

/* The same figures as a course in time (clinical references 2.4): at 40 L/min the steady state is
 * reached, 63 % of the way after one time constant; after a stop from 1 % it takes 13.5 min to 2 %
 * and 27 min to 3 % at 5000 m. */
static void air_inside_over_time(void **state)
{
    (void)state;
    struct rp_pump p = pump_at(5000);
    double co2, o2, washout, inside_hpa = p.outside_hpa + TWO_PSI_HPA;
    assert_int_equal(rp_pump_steady(&p, 40, &co2, &o2), 0);
    assert_int_equal(rp_pump_washout(&p, 40, 500, inside_hpa, 5, &washout), 0);
    struct rp_pump_air air = RP_PUMP_FRESH;
    assert_int_equal(rp_pump_after(&p, 40, 500, inside_hpa, 5, washout, &air), 0);
    near("CO2 after one time constant", air.co2_fraction,
         RP_PUMP_CO2_OUTSIDE + (co2 - RP_PUMP_CO2_OUTSIDE) * 0.63212, 0.000002);
    near("O2 after one time constant", air.o2_fraction, 0.2093 - (0.2093 - o2) * 0.63212, 0.000002);
    assert_int_equal(rp_pump_after(&p, 40, 500, inside_hpa, 5, 240, &air), 0);
    near("CO2 in the end", 100 * air.co2_fraction, 1.07 + 0.04, 0.006); /* the table, 2.4 */
    near("O2 in the end", air.o2_fraction, 0.1965, 0.00006);
    air = (struct rp_pump_air){0.01, 0.2};
    assert_int_equal(rp_pump_after(&p, 0, 500, inside_hpa, 5, 13.5, &air), 0);
    near("13.5 min after a stop", air.co2_fraction, 0.02, 0.0001);
    assert_int_equal(rp_pump_after(&p, 0, 500, inside_hpa, 5, 13.5, &air), 0);
    near("27 min after a stop", air.co2_fraction, 0.03, 0.0002);
    near("oxygen used meanwhile", air.o2_fraction, 0.2 - 27 * 0.0009, 0.0009);
    assert_int_equal(rp_pump_after(&p, 0, 50, inside_hpa, 5, 1440, &air), 0);
    near("never more than all", air.co2_fraction, 1, 0);
    near("never less than none", air.o2_fraction, 0, 0);
}

/* Each bound by itself, on both edges. */
static void course_bounds(void **state)
{
    (void)state;
    struct rp_pump p = pump_at(5000), bad = p;
    struct rp_pump_air air = RP_PUMP_FRESH;
    bad.stroke_l = 0;
    assert_int_equal(rp_pump_after(&bad, 40, 500, 700, 5, 1, &air), RP_E_INVALID);
    assert_int_equal(rp_pump_after(&p, 40, 49.9, 700, 5, 1, &air), RP_E_INVALID);
    assert_int_equal(rp_pump_after(&p, -0.1, 500, 700, 5, 1, &air), RP_E_INVALID);
    assert_int_equal(rp_pump_after(&p, 1000.1, 500, 700, 5, 1, &air), RP_E_INVALID);
    assert_int_equal(rp_pump_after(&p, 40, 500, 700, 5, -0.1, &air), RP_E_INVALID);
    assert_int_equal(rp_pump_after(&p, 40, 500, 700, 5, 1440.1, &air), RP_E_INVALID);
    near("untouched", air.o2_fraction, 0.2093, 0);
    struct rp_pump_air odd = {-0.01, 0.2};
    assert_int_equal(rp_pump_after(&p, 40, 500, 700, 5, 1, &odd), RP_E_INVALID);
    odd = (struct rp_pump_air){0.01, 1.01};
    assert_int_equal(rp_pump_after(&p, 40, 500, 700, 5, 1, &odd), RP_E_INVALID);
    assert_int_equal(rp_pump_after(&p, 0, 50, 200, -70, 0, &air), 0);
    assert_int_equal(rp_pump_after(&p, 1000, 2000, 1400, 50, 1440, &air), 0);
}

/* Every member of the pump and every argument, just outside both of its bounds and on them. */
static void every_bound_on_both_edges(void **state)
{
    (void)state;
    static const struct {
        size_t offset;
        double low, high;
    } members[] = {{offsetof(struct rp_pump, outside_hpa), 200, 1080},
                   {offsetof(struct rp_pump, air_c), -70, 50},
                   {offsetof(struct rp_pump, co2_lpm), 0.05, 3},
                   {offsetof(struct rp_pump, o2_lpm), 0.05, 3},
                   {offsetof(struct rp_pump, stroke_l), 0.1, 20}};
    double x, y;
    int32_t n;
    for (size_t i = 0; i < sizeof members / sizeof members[0]; i++) {
        for (int edge = 0; edge < 4; edge++) {
            struct rp_pump p = pump_at(5000);
            double *member = (double *)(void *)((char *)&p + members[i].offset);
            *member = edge < 2 ? members[i].low : members[i].high;
            *member += edge == 0 ? -0.01 : edge == 3 ? 0.01 : 0;
            int expected = edge == 0 || edge == 3 ? RP_E_INVALID : 0;
            assert_int_equal(rp_pump_needed(&p, 0.01, &x, &n), expected);
            assert_int_equal(rp_pump_steady(&p, 500, &x, &y), expected);
            assert_int_equal(rp_pump_stopped(&p, 500, 700, 5, &x, &y), expected);
            assert_int_equal(rp_pump_washout(&p, 40, 500, 700, 5, &x), expected);
            assert_int_equal(rp_pump_fill(&p, 500, 100, &x, &n), expected);
        }
    }
    struct rp_pump p = pump_at(5000);
    static const double contents[][3] = {{49.9, 700, 5},   {2000.1, 700, 5},  {500, 199.9, 5},
                                         {500, 1400.1, 5}, {500, 700, -70.1}, {500, 700, 50.1}};
    for (size_t i = 0; i < sizeof contents / sizeof contents[0]; i++) {
        const double *c = contents[i];
        assert_int_equal(rp_pump_stopped(&p, c[0], c[1], c[2], &x, &y), RP_E_INVALID);
        assert_int_equal(rp_pump_washout(&p, 40, c[0], c[1], c[2], &x), RP_E_INVALID);
    }
    assert_int_equal(rp_pump_washout(&p, 0, 500, 700, 5, &x), RP_E_INVALID);
    assert_int_equal(rp_pump_washout(&p, 1000.1, 500, 700, 5, &x), RP_E_INVALID);
    assert_int_equal(rp_pump_steady(&p, 1000.1, &x, &y), RP_E_INVALID);
    assert_int_equal(rp_pump_fill(&p, 49.9, 100, &x, &n), RP_E_INVALID);
    assert_int_equal(rp_pump_fill(&p, 2000.1, 100, &x, &n), RP_E_INVALID);
    assert_int_equal(rp_pump_fill(&p, 500, -0.1, &x, &n), RP_E_INVALID);
    /* More carbon dioxide than air, while the oxygen would last. */
    p.co2_lpm = 3;
    p.o2_lpm = 0.05;
    assert_int_equal(rp_pump_steady(&p, 2, &x, &y), RP_E_INVALID);
}

static void bounds_are_refused(void **state)
{
    (void)state;
    struct rp_pump good = pump_at(5000), bad;
    double x, y;
    int32_t n;
    assert_int_equal(rp_pump_needed(&good, 0.0004, &x, &n), RP_E_INVALID);
    assert_int_equal(rp_pump_needed(&good, 0.11, &x, &n), RP_E_INVALID);
    assert_int_equal(rp_pump_steady(&good, 0, &x, &y), RP_E_INVALID);
    assert_int_equal(rp_pump_steady(&good, 1, &x, &y), RP_E_INVALID); /* no oxygen would be left */
    assert_int_equal(rp_pump_stopped(&good, 49, 700, 5, &x, &y), RP_E_INVALID);
    assert_int_equal(rp_pump_stopped(&good, 500, 1401, 5, &x, &y), RP_E_INVALID);
    assert_int_equal(rp_pump_washout(&good, NAN, 500, 700, 5, &x), RP_E_INVALID);
    assert_int_equal(rp_pump_fill(&good, 500, 301, &x, &n), RP_E_INVALID);
    bad = good;
    bad.stroke_l = 0;
    assert_int_equal(rp_pump_needed(&bad, 0.01, &x, &n), RP_E_INVALID);
    bad = good;
    bad.outside_hpa = NAN;
    assert_int_equal(rp_pump_needed(&bad, 0.01, &x, &n), RP_E_INVALID);
    bad = good;
    bad.co2_lpm = 3.1;
    assert_int_equal(rp_pump_needed(&bad, 0.01, &x, &n), RP_E_INVALID);
    bad = good;
    bad.air_c = -71;
    assert_int_equal(rp_pump_fill(&bad, 500, 100, &x, &n), RP_E_INVALID);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acceptance_figure),
        cmocka_unit_test(steady_table),
        cmocka_unit_test(used_up_oxygen),
        cmocka_unit_test(pumping_stops),
        cmocka_unit_test(filling),
        cmocka_unit_test(bounds_are_refused),
        cmocka_unit_test(air_inside_over_time),
        cmocka_unit_test(course_bounds),
        cmocka_unit_test(every_bound_on_both_edges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
