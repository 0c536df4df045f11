/* Two figures of a run: the newest record at base after a cut, from a written truth, and the
 * baselines beside a run. Ours; the baselines' own figures are tested elsewhere. */
#include "rp_test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sim/measure.h"
#include "sim/peers.h"

#define SECOND_US INT64_C(1000000)

static struct sim_topology topology;
static struct sim_settings settings;

/* A record of station 0, in order of making. */
static struct sim_fact_record record(rp_time_us made_s, rp_time_us base_s)
{
    return (struct sim_fact_record){.sort = SIM_SORT_WORKLOAD,
                                    .made_us = made_s * SECOND_US,
                                    .base_us = base_s < 0 ? RP_NEVER : base_s * SECOND_US,
                                    .all_us = RP_NEVER};
}

static rp_time_us newest_s(struct sim_fact_record *records, unsigned count)
{
    assert_int_equal(sim_topology_make("chain:2", 0, &topology, NULL), 0);
    sim_settings_defaults(&settings);
    settings.cuts[0] = (struct sim_cut){0, 1, 20 * SECOND_US, 100 * SECOND_US};
    settings.cut_count = 1;
    struct sim_world *world = calloc(1, sizeof *world);
    assert_non_null(world);
    world->settings = &settings;
    world->topology = &topology;
    world->count = 2;
    world->truth.records = records;
    world->truth.record_count = count;
    struct sim_measure measure;
    sim_measure_init(&measure);
    sim_measure_add(&measure, world, 0);
    assert_int_equal(measure.newest.count, 1);
    rp_time_us time_us = sim_times_quantile(&measure.newest, 950);
    sim_measure_deinit(&measure);
    free(world);
    return time_us == RP_NEVER ? -1 : time_us / SECOND_US;
}

static void the_newest_before_the_end_counts_or_a_newer_one(void **state)
{
    (void)state;
    struct sim_fact_record waited[] = {record(10, 12), record(50, 400), record(90, 150)};
    assert_int_equal(newest_s(waited, 3), 50);
    struct sim_fact_record overtaken[] = {record(10, 12), record(90, 150), record(120, 130)};
    assert_int_equal(newest_s(overtaken, 3), 30);
    struct sim_fact_record old_first[] = {record(50, 101), record(90, 300), record(120, -1)};
    assert_int_equal(newest_s(old_first, 3), 200);
    struct sim_fact_record there[] = {record(10, 12), record(90, 95)};
    assert_int_equal(newest_s(there, 2), 0);
    struct sim_fact_record never[] = {record(10, 12), record(90, -1)};
    assert_int_equal(newest_s(never, 2), -1);
    struct sim_fact_record rescued[] = {record(90, -1), record(500, 600)};
    assert_int_equal(newest_s(rescued, 2), 500);
}

static void peers_run_the_same_workload(void **state)
{
    (void)state;
    struct sim_peers peers = {.seeds = 0};
    struct rp_problem problem;
    assert_int_equal(sim_topology_make("chain:5", 300, &topology, NULL), 0);
    sim_settings_defaults(&settings);
    assert_int_equal(sim_peers_add(&peers, &topology, &settings, 1, &problem), 0);
    assert_int_equal(sim_peers_add(&peers, &topology, &settings, 2, &problem), 0);
    assert_int_equal(peers.seeds, 2);
    for (unsigned i = 0; i < SIM_BASELINE_COUNT; i++) {
        /* One record in 10 minutes for 24 h, twice. */
        assert_int_equal(peers.of[i].originated, 288);
        /* 144 records x 4 hops / 0.7 x 287.744 ms, twice. */
        assert_true(fabs((double)peers.of[i].genie_base_us - 473544411.0) < 1000.0);
    }
    struct sim_workload day = {.radio = {.spreading_factor = 9,
                                         .bandwidth_hz = 125000,
                                         .coding_rate = 5,
                                         .crc = true,
                                         .preamble_symbols = 8},
                               .record_bytes = 40,
                               .records = 144,
                               .interval_us = 600 * SECOND_US,
                               .budget_us_per_hour = 36 * SECOND_US};
    struct sim_baseline_figures one, two;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &day, 1, &one), 0);
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &day, 2, &two), 0);
    assert_int_equal(peers.of[SIM_MPL].airtime_us, one.airtime_us + two.airtime_us);
}

/* Two stations without loss, a record every 600 s, nothing from 3500 s to 7500 s. Who floods once
 * has lost what was made meanwhile, and the next record is made at 7800 s: 300 s and the frame. Who
 * repeats until there is an acknowledgement, 50 times, keeps some of them. */
static void peers_are_cut_too(void **state)
{
    (void)state;
    struct sim_peers peers = {.seeds = 0};
    struct rp_problem problem;
    assert_int_equal(sim_topology_make("chain:2", 0, &topology, NULL), 0);
    sim_settings_defaults(&settings);
    settings.hours_us = 4 * SIM_HOUR_US;
    settings.cuts[0] = (struct sim_cut){0, 1, 3500 * SECOND_US, 7500 * SECOND_US};
    settings.cut_count = 1;
    assert_int_equal(sim_peers_add(&peers, &topology, &settings, 1, &problem), 0);
    assert_int_equal(peers.of[SIM_FLOOD_ONCE].originated, 24);
    assert_int_equal(peers.of[SIM_FLOOD_ONCE].delivered_to_base, 17); /* 3600 to 7200 s are lost */
    int64_t flood_us = peers.of[SIM_FLOOD_ONCE].newest_us;
    assert_true(flood_us > 300 * SECOND_US && flood_us < 302 * SECOND_US);
    assert_true(peers.of[SIM_STOP_WAIT].delivered_to_base > 17);
    assert_true(peers.of[SIM_STOP_WAIT].newest_us >
                0);                            /* behind older ones, and its hour is spent */
    settings.cuts[0].to_us = 40 * SIM_HOUR_US; /* it never ends */
    assert_int_equal(sim_peers_add(&peers, &topology, &settings, 1, &problem), 0);
    assert_int_equal(peers.of[SIM_FLOOD_ONCE].newest_us, -1);
}

static void peers_refuse_what_they_cannot_do(void **state)
{
    (void)state;
    struct sim_peers peers = {.seeds = 0};
    struct rp_problem problem;
    assert_int_equal(sim_topology_make("chain:3", 300, &topology, NULL), 0);
    sim_settings_defaults(&settings);
    topology.links[0][1].kind = SIM_LINK_MODEL;
    assert_int_equal(sim_peers_add(&peers, &topology, &settings, 1, &problem), RP_E_UNSUPPORTED);
    assert_non_null(strstr(problem.text, "example"));
    assert_int_equal(peers.seeds, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_newest_before_the_end_counts_or_a_newer_one),
        cmocka_unit_test(peers_run_the_same_workload),
        cmocka_unit_test(peers_are_cut_too),
        cmocka_unit_test(peers_refuse_what_they_cannot_do),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
