#include "rp_test.h"

#include "clinical/oxygen.h"
#include "ridgepost/error.h"

/* Clinical references 2.5, "Minutes usable with 10 bar reserve" (computed there, rounded to the
 * nearest minute; 4.7 L at 137 bar holds 596.9 L). */
static void published_table(void **state)
{
    (void)state;
    static const struct {
        int32_t water_dl, bar, usable_dl, minutes[4]; /* at 1, 2, 4, 6 L/min, rounded down */
    } rows[] = {
        {20, 150, 2800, {280, 140, 70, 46}},      {20, 200, 3800, {380, 190, 95, 63}},
        {30, 200, 5700, {570, 285, 142, 95}},     {40, 230, 8800, {880, 440, 220, 146}},
        {47, 137, 5969, {596, 298, 149, 99}},     {40, 300, 11600, {1160, 580, 290, 193}},
        {100, 200, 19000, {1900, 950, 475, 316}},
    };
    static const int32_t flows_dlpm[4] = {10, 20, 40, 60};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_cylinder c = {rows[i].water_dl, rows[i].bar};
        int32_t usable_dl, s;
        assert_int_equal(rp_oxygen_usable(&c, 1, 10, &usable_dl), 0);
        assert_int_equal(usable_dl, rows[i].usable_dl);
        for (size_t f = 0; f < 4; f++) {
            assert_int_equal(rp_oxygen_endurance(usable_dl, flows_dlpm[f], &s), 0);
            assert_int_equal(s / 60, rows[i].minutes[f]);
        }
    }
}

/* Clinical references 2.5, worked: two 4 L cylinders at 210 and 160 bar, 3 L/min: 1400 L, 466 min;
 * 9 h is 73 min more; 2.5 L/min lasts, 2.6 falls 2 min short. */
static void worked_example(void **state)
{
    (void)state;
    struct rp_cylinder two[] = {{40, 210}, {40, 160}};
    int32_t usable_dl, s, flow_dlpm;
    assert_int_equal(rp_oxygen_usable(two, 2, RP_OXYGEN_RESERVE_BAR, &usable_dl), 0);
    assert_int_equal(usable_dl, 14000);
    assert_int_equal(rp_oxygen_endurance(usable_dl, 30, &s), 0);
    assert_int_equal(s / 60, 466);
    assert_int_equal((9 * 3600 - s) / 60, 73);
    assert_int_equal(rp_oxygen_flow_until(usable_dl, 9 * 3600, &flow_dlpm), 0);
    assert_int_equal(flow_dlpm, 25);
    assert_int_equal(rp_oxygen_endurance(usable_dl, 25, &s), 0);
    assert_true(s >= 9 * 3600);
    assert_int_equal(rp_oxygen_endurance(usable_dl, 26, &s), 0);
    assert_int_equal(9 * 60 - s / 60, 2);
}

/* Clinical references 2.5: 200 bar at +15 C reads 179 bar at -15 C. */
static void cold_is_not_a_leak(void **state)
{
    (void)state;
    int32_t bar;
    assert_int_equal(rp_oxygen_at_temperature(200, 150, -150, &bar), 0);
    assert_int_equal(bar, 179);
    assert_int_equal(rp_oxygen_at_temperature(179, -150, 150, &bar), 0);
    assert_int_equal(bar, 200);
    assert_int_equal(rp_oxygen_at_temperature(123, 50, 50, &bar), 0);
    assert_int_equal(bar, 123);
    assert_int_equal(rp_oxygen_at_temperature(0, 150, -150, &bar), 0);
    assert_int_equal(bar, 0);
}

static void nothing_left_and_bounds(void **state)
{
    (void)state;
    struct rp_cylinder c = {40, 10};
    int32_t x = -7, s;
    assert_int_equal(rp_oxygen_usable(&c, 1, 10, &s), 0);
    assert_int_equal(s, 0);
    assert_int_equal(rp_oxygen_usable(&c, 0, 10, &s), 0);
    assert_int_equal(s, 0);
    c.pressure_bar = 11;
    assert_int_equal(rp_oxygen_usable(&c, 1, 10, &s), 0);
    assert_int_equal(s, 40);
    c.pressure_bar = 351;
    assert_int_equal(rp_oxygen_usable(&c, 1, 10, &x), RP_E_INVALID);
    c = (struct rp_cylinder){4, 200};
    assert_int_equal(rp_oxygen_usable(&c, 1, 10, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_usable(&c, 33, 10, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_endurance(100, 0, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_endurance(100, 251, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_endurance(-1, 10, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_flow_until(100, 0, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_at_temperature(351, 0, 0, &x), RP_E_INVALID);
    c = (struct rp_cylinder){501, 200};
    assert_int_equal(rp_oxygen_usable(&c, 1, 10, &x), RP_E_INVALID);
    c = (struct rp_cylinder){40, -1};
    assert_int_equal(rp_oxygen_usable(&c, 1, 10, &x), RP_E_INVALID);
    c.pressure_bar = 200;
    assert_int_equal(rp_oxygen_usable(&c, 1, -1, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_usable(&c, 1, 351, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_endurance(10000001, 10, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_flow_until(100, 604801, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_flow_until(-1, 60, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_flow_until(10000001, 60, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_at_temperature(-1, 0, 0, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_at_temperature(100, -701, 0, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_at_temperature(100, 601, 0, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_at_temperature(100, 0, -701, &x), RP_E_INVALID);
    assert_int_equal(rp_oxygen_at_temperature(100, 0, 601, &x), RP_E_INVALID);
    /* An empty cylinder at 1 bar that is cooled far would suck: shown as 0. */
    assert_int_equal(rp_oxygen_at_temperature(0, 600, -700, &s), 0);
    assert_int_equal(s, 0);
    assert_int_equal(x, -7);
    assert_int_equal(rp_oxygen_flow_until(1, 604800, &s), 0);
    assert_int_equal(s, 0);
    assert_int_equal(rp_oxygen_flow_until(10000000, 60, &s), 0);
    assert_int_equal(s, 250);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_table),
        cmocka_unit_test(worked_example),
        cmocka_unit_test(cold_is_not_a_leak),
        cmocka_unit_test(nothing_left_and_bounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
