/* From positions to losses. Free space: ITU-R P.525 (32.44 + 20 log d + 20 log f), worked at 868
 * MHz: 91.2, 105.2, 111.2, 117.2, 125.2 dB at 1, 5, 10, 20, 50 km. Land: Petajajarvi et al. 2015,
 * 128.95 dB at 1 km and 23.2 dB for each decade. Sensitivity: SX1272/73 data sheet rev 2 (2014)
 * page 19. The normal distribution: tables in any statistics book (2.275 % beyond 2 sigma, 15.87 %
 * beyond 1). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "rp_test.h"
#include "sim/world/links.h"

static void near_db(double value, double expected, double within)
{
    if (fabs(value - expected) > within) {
        fail_msg("%.3f is not within %.3f of %.3f", value, within, expected);
    }
}

static void test_path_loss(void **state)
{
    (void)state;
    static const double km[] = {1, 5, 10, 20, 50}, free_db[] = {91.2, 105.2, 111.2, 117.2, 125.2};
    for (size_t i = 0; i < 5; i++) {
        near_db(sim_links_path_loss_db(SIM_PATH_FREE, km[i]), free_db[i], 0.07);
    }
    near_db(sim_links_path_loss_db(SIM_PATH_LAND, 1), 128.95, 0.001);
    near_db(sim_links_path_loss_db(SIM_PATH_LAND, 10), 152.15, 0.001);
}

static void test_sensitivity(void **state)
{
    (void)state;
    near_db(sim_links_sensitivity_dbm(9, 125000), -130, 0);
    near_db(sim_links_sensitivity_dbm(12, 125000), -137, 0);
    near_db(sim_links_sensitivity_dbm(7, 500000), -116, 0);
    near_db(sim_links_sensitivity_dbm(10, 250000), -130, 0);
}

static void test_loss_of_margin(void **state)
{
    (void)state;
    assert_int_equal(sim_links_loss(0), 500);
    assert_int_equal(sim_links_loss(2), 159); /* one sigma of 2 dB */
    assert_int_equal(sim_links_loss(4), 23);
    assert_int_equal(sim_links_loss(-2), 841);
    assert_int_equal(sim_links_loss(20), 0);
    near_db(sim_links_margin_db(500), 0, 0.01);
    near_db(sim_links_margin_db(159), 2, 0.02);
}

static void test_resolve(void **state)
{
    (void)state;
    static const char text[] = "station a 0 0 0 base\nstation b 1000 0 0\nstation c 400000 0 0\n"
                               "station d 0 1000 0\nlink a d 0.25\n";
    struct sim_topology *topology = malloc(sizeof *topology);
    struct sim_settings settings;
    struct rp_problem problem;
    assert_non_null(topology);
    sim_settings_defaults(&settings);
    settings.path_loss = SIM_PATH_FREE;
    assert_int_equal(sim_topology_parse(text, sizeof text - 1, topology, &problem), 0);
    sim_links_resolve(topology, &settings);
    /* 1 km of free space: 18 - 91.2 - (-130) = 56.8 dB above the sensitivity; 400 km: 4.7 dB, but
     * 15 sigma of shadowing would be needed at 1 km. */
    assert_int_equal(topology->links[0][1].kind, SIM_LINK_LOSS);
    assert_int_equal(topology->links[0][1].loss, 0);
    assert_int_equal(topology->links[1][0].loss, 0);
    assert_int_equal(topology->links[0][3].loss, 250); /* a fixed one stays */
    settings.path_loss = SIM_PATH_LAND;
    assert_int_equal(sim_topology_parse(text, sizeof text - 1, topology, &problem), 0);
    sim_links_resolve(topology, &settings);
    /* 400 km over land: 189 dB, 41 dB too weak even to disturb: more than 5 sigma. */
    assert_int_equal(topology->links[0][2].kind, SIM_LINK_NONE);
    /* The terrain is the same for the same seed. */
    double first = sim_links_power_dbm(topology, &settings, 0, 1);
    near_db(sim_links_power_dbm(topology, &settings, 0, 1), first, 0);
    settings.terrain_seed = 77;
    assert_true(fabs(sim_links_power_dbm(topology, &settings, 0, 1) - first) > 1e-6);
    free(topology);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_path_loss),
        cmocka_unit_test(test_sensitivity),
        cmocka_unit_test(test_loss_of_margin),
        cmocka_unit_test(test_resolve),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
