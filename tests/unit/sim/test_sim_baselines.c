/* The baselines against the published table (the project's own measurement notes, 50 seeds of
 * another program) and against closed forms where there are any. The table gives no details of its
 * protocols (waits, sizes of control frames), so ours meet it within the tolerances said below;
 * measured by us over 10 seeds the differences are at most 5 % in R (14 % for stop-and-wait), 2.5
 * points in delivery, 20 % in p95 (30 % for stop-and-wait). */
#include "rp_test.h"

#include <math.h>

#include "sim/yard/air.h"
#include "sim/yard/baseline.h"

enum { SEEDS = 4 };

static struct sim_topology topology;
/* One 40-byte record per 10 min for 24 h, SF9, 125 kHz, 36 s in a sliding hour. */
static const struct sim_workload day = {.radio = {.spreading_factor = 9,
                                                  .bandwidth_hz = 125000,
                                                  .coding_rate = 5,
                                                  .crc = true,
                                                  .preamble_symbols = 8},
                                        .record_bytes = 40,
                                        .records = 144,
                                        .interval_us = 600000000,
                                        .budget_us_per_hour = 36000000};
static const char *const words[4] = {"chain:5", "grid:3x3", "ladder:5", "clique:8"};
static const uint16_t losses[3] = {100, 300, 500};

struct mean {
    double ratio_base, ratio_all, base_pct, p95_s;
};

static struct mean mean_of(enum sim_baseline which, const char *word, uint16_t loss)
{
    struct mean mean = {.ratio_all = 0.0};
    assert_int_equal(sim_topology_make(word, loss, &topology, NULL), 0);
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct sim_baseline_figures f;
        assert_int_equal(sim_baseline_run(which, &topology, &day, seed, &f), 0);
        assert_int_equal(f.originated, 144);
        assert_int_equal(f.dropped, 0);
        mean.ratio_base += f.ratio_base / SEEDS;
        mean.ratio_all += f.ratio_all / SEEDS;
        mean.base_pct += 100.0 * f.delivered_to_base / f.originated / SEEDS;
        mean.p95_s += f.p95_s / SEEDS;
    }
    return mean;
}

static void assert_near(const char *what, unsigned cell, unsigned loss, double value,
                        double expected, double within)
{
    if (!(fabs(value - expected) <= within)) {
        print_error("%s, %s at %u: %.3f is not %.3f within %.3f (seeds 1-%d)\n", what, words[cell],
                    losses[loss], value, expected, within, SEEDS);
        fail();
    }
}

/* Delivery within 5 points: 576 records give a standard deviation of up to 2.1. */
static void flooding_once_delivers_what_was_published(void **state)
{
    (void)state;
    static const double published[4][3] = {{66, 23, 6}, {69, 48, 20}, {66, 36, 10}, {93, 80, 69}};
    for (unsigned cell = 0; cell < 4; cell++) {
        for (unsigned loss = 0; loss < 3; loss++) {
            struct mean m = mean_of(SIM_FLOOD_ONCE, words[cell], losses[loss]);
            assert_near("delivery", cell, loss, m.base_pct, published[cell][loss], 5.0);
        }
    }
}

/* R within 5 % (the table rounds to a digit: up to 3 %), delivery within 4 points. */
static void flooding_thrice_costs_what_was_published(void **state)
{
    (void)state;
    static const double ratio[4][3] = {
        {3.4, 2.5, 1.5}, {5.8, 4.2, 2.7}, {5.1, 3.7, 2.3}, {15, 9.0, 5.5}};
    static const double delivered[4][3] = {
        {99.6, 90, 58}, {98, 98, 90}, {99, 97, 86}, {99.8, 99, 98}};
    for (unsigned cell = 0; cell < 4; cell++) {
        for (unsigned loss = 0; loss < 3; loss++) {
            struct mean m = mean_of(SIM_FLOOD_THRICE, words[cell], losses[loss]);
            assert_near("R", cell, loss, m.ratio_all, ratio[cell][loss], 0.05 * ratio[cell][loss]);
            assert_near("delivery", cell, loss, m.base_pct, delivered[cell][loss], 4.0);
        }
    }
}

/* R within 8 %, p95 within 30 %, everything delivered. */
static void mpl_costs_what_was_published(void **state)
{
    (void)state;
    static const double ratio[4][3] = {
        {6.3, 5.5, 4.7}, {10.1, 8.2, 6.4}, {8.9, 7.2, 5.7}, {21, 15, 12}};
    static const double p95_s[3][3] = {{22, 45, 178}, {20, 25, 42}, {24, 33, 63}};
    for (unsigned cell = 0; cell < 4; cell++) {
        for (unsigned loss = 0; loss < 3; loss++) {
            struct mean m = mean_of(SIM_MPL, words[cell], losses[loss]);
            assert_near("R", cell, loss, m.ratio_all, ratio[cell][loss], 0.08 * ratio[cell][loss]);
            assert_near("delivery", cell, loss, m.base_pct, 100.0, 1e-9);
            if (cell < 3) {
                assert_near("p95", cell, loss, m.p95_s, p95_s[cell][loss], 0.3 * p95_s[cell][loss]);
            }
        }
    }
}

/* Against the genie to base. R within 20 %, p95 within 35 %: its cost is made by when it repeats,
 * of which the table says nothing. */
static void stop_and_wait_costs_what_was_published(void **state)
{
    (void)state;
    static const double ratio[4][3] = {
        {2.8, 3.7, 4.4}, {3.0, 4.4, 5.6}, {3.3, 4.5, 5.4}, {1.7, 2.0, 2.6}};
    static const double p95_s[3] = {4, 7, 11};
    for (unsigned cell = 0; cell < 4; cell++) {
        for (unsigned loss = 0; loss < 3; loss++) {
            struct mean m = mean_of(SIM_STOP_WAIT, words[cell], losses[loss]);
            assert_near("R", cell, loss, m.ratio_base, ratio[cell][loss], 0.2 * ratio[cell][loss]);
            assert_near("delivery", cell, loss, m.base_pct, 100.0, 1e-9);
            if (cell == 0) {
                assert_near("p95", cell, loss, m.p95_s, p95_s[loss], 0.35 * p95_s[loss]);
            }
        }
    }
}

static struct sim_baseline_figures run(enum sim_baseline which, const char *word, uint16_t loss,
                                       unsigned records)
{
    struct sim_workload workload = day;
    struct sim_baseline_figures f;
    workload.records = records;
    workload.budget_us_per_hour = 0;
    assert_int_equal(sim_topology_make(word, loss, &topology, NULL), 0);
    assert_int_equal(sim_baseline_run(which, &topology, &workload, 1, &f), 0);
    return f;
}

/* Nothing meets on a chain flooded once: q to the power of hops, and each holder sends one frame.
 * 10000 records at 0.7^3 = 0.343: standard deviation 47; within 4. */
static void a_flooded_chain_is_a_power_of_q(void **state)
{
    (void)state;
    struct sim_baseline_figures f = run(SIM_FLOOD_ONCE, "chain:4", 300, 10000);
    assert_in_range(f.delivered_to_base, 3430 - 190, 3430 + 190);
    assert_int_equal(f.delivered_to_all, f.delivered_to_base);
    assert_int_equal(f.airtime_us, (int64_t)f.frames * 287744);
    /* 1 + 0.7 + 0.49 + 0.343 frames a record. */
    assert_in_range(f.frames, 25330 - 350, 25330 + 350);
    assert_int_equal(f.control_us, 0);
}

/* One hop: 1/(q q) frames and 1/q acknowledgements a record; 164.864 ms for 16 bytes (SX1276
 * formula). 587.2 + 235.5 ms at 0.7; genie 411.06 ms. 10000 records: within 3 %. */
static void stop_and_wait_over_one_hop_is_a_closed_form(void **state)
{
    (void)state;
    struct sim_baseline_figures f = run(SIM_STOP_WAIT, "chain:2", 300, 10000);
    assert_int_equal(f.delivered_to_base, 10000);
    double a_record_ms = (double)f.airtime_us / 1e7;
    assert_true(fabs(a_record_ms - 822.8) < 0.03 * 822.8);
    assert_int_equal(f.genie_base_us, INT64_C(411063) * 10000);
    assert_true(fabs(f.ratio_base - 822.8 / 411.06) < 0.06);
    assert_int_equal(f.lost_to_clash, 0);
    /* At the first try, which 0.7 manage: the origin's turn-around of 20 ms and the frame. */
    assert_true(fabs(f.p50_s - 0.307744) < 1e-6);
}

static void without_loss_everything_arrives(void **state)
{
    (void)state;
    for (unsigned which = 0; which < SIM_BASELINE_COUNT; which++) {
        struct sim_baseline_figures f = run(which, "chain:4", 0, 50);
        assert_int_equal(f.delivered_to_base, 50);
        assert_int_equal(f.delivered_to_all, 50);
        assert_int_equal(f.lost_to_loss, 0);
    }
    struct sim_baseline_figures f = run(SIM_FLOOD_THRICE, "chain:4", 0, 50);
    assert_int_equal(f.frames, 3 * 4 * 50);
    f = run(SIM_STOP_WAIT, "chain:4", 0, 50);
    assert_int_equal(f.frames, 2 * 3 * 50);
    /* 40 and 16 bytes: 287.7 and 164.9 ms in the published table of times on air. */
    assert_int_equal(f.airtime_us, 3 * 50 * (287744 + 164864));
}

static void every_reception_has_one_fate(void **state)
{
    (void)state;
    for (unsigned which = 0; which < SIM_BASELINE_COUNT; which++) {
        struct sim_baseline_figures f = run(which, "clique:6", 400, 60);
        assert_int_equal(f.heard + f.lost_to_loss + f.lost_to_clash, 5 * f.frames);
    }
}

static void the_seed_decides_everything(void **state)
{
    (void)state;
    assert_int_equal(sim_topology_make("grid:3x3", 300, &topology, NULL), 0);
    for (unsigned which = 0; which < SIM_BASELINE_COUNT; which++) {
        struct sim_baseline_figures a, b, c;
        assert_int_equal(sim_baseline_run(which, &topology, &day, 5, &a), 0);
        assert_int_equal(sim_baseline_run(which, &topology, &day, 5, &b), 0);
        assert_int_equal(sim_baseline_run(which, &topology, &day, 6, &c), 0);
        assert_int_equal(a.frames, b.frames);
        assert_int_equal(a.airtime_us, b.airtime_us);
        assert_int_equal(a.heard, b.heard);
        assert_int_equal(a.lost_to_clash, b.lost_to_clash);
        assert_int_equal(a.delivered_to_all, b.delivered_to_all);
        assert_true(a.p50_s == b.p50_s && a.p95_s == b.p95_s && a.p99_s == b.p99_s);
        assert_true(a.airtime_us != c.airtime_us && a.p50_s != c.p50_s);
    }
}

/* RFC 6206 section 4.2: a message goes out in the second half of the interval, uniformly; Imin is
 * ten frame times of 287.744 ms. So half arrive by 0.75 Imin and a frame, 95 % by 0.975 Imin. */
static void mpl_listens_half_an_interval(void **state)
{
    (void)state;
    struct sim_baseline_figures f = run(SIM_MPL, "chain:2", 0, 2000);
    assert_int_equal(f.delivered_to_base, 2000);
    assert_true(fabs(f.p50_s - (0.75 * 2.87744 + 0.287744)) < 0.08);
    assert_true(fabs(f.p95_s - (0.975 * 2.87744 + 0.287744)) < 0.04);
}

/* RFC 7731 section 9.2: who sends an old message as its newest shows what it lacks, and that starts
 * again, three times, nobody else being heard. */
static void mpl_sees_by_a_message_what_its_sender_lacks(void **state)
{
    (void)state;
    struct sim_workload two = day;
    two.records = 2;
    assert_int_equal(sim_topology_make("chain:2", 1000, &topology, NULL), 0);
    struct yard *yard = yard_open(&yard_mpl, &topology, &two, 1);
    assert_non_null(yard);
    yard_run(yard, yard_plan_us(yard) + INT64_C(7200000000));
    assert_int_equal(yard->event_count, 0); /* silent */
    uint64_t before = yard->frames;
    struct yard_frame old = {.from = 1, .len = 40, .record = 0, .newest = 1};
    yard_mpl.hear(yard, 0, &old);
    yard_run(yard, INT64_MAX);
    assert_int_equal(yard->frames, before + 3);
    struct yard_frame newest = {.from = 1, .len = 40, .record = 0, .newest = 2};
    yard_mpl.hear(yard, 0, &newest);
    assert_int_equal(yard->event_count, 0);
    yard_close(yard);
}

/* A silent stretch ends MPL's repair: its timers stop after 10 expirations (RFC 7731, 5.4). */
static void mpl_falls_silent(void **state)
{
    (void)state;
    struct sim_baseline_figures f = run(SIM_MPL, "chain:2", 1000, 1);
    assert_int_equal(f.delivered_to_base, 0);
    assert_int_equal(f.frames, 3 + 10);
}

static void what_has_no_path_stays(void **state)
{
    (void)state;
    struct sim_baseline_figures f;
    assert_int_equal(sim_topology_make("chain:4", 100, &topology, NULL), 0);
    topology.links[2][3].kind = SIM_LINK_NONE;
    for (unsigned which = 0; which < SIM_BASELINE_COUNT; which++) {
        assert_int_equal(sim_baseline_run(which, &topology, &day, 1, &f), 0);
        assert_int_equal(f.delivered_to_base, 0);
        assert_false(f.base_known || f.all_known);
        assert_true(f.ratio_base == 0.0 && f.p95_s == 0.0);
    }
    assert_int_equal(f.frames, 0); /* stop-and-wait knows that there is no path */
}

static void many_report(void **state)
{
    (void)state;
    assert_int_equal(sim_topology_make("chain:7", 300, &topology, NULL), 0);
    for (unsigned i = 0; i < 5; i++) {
        topology.stations[i].reports = true;
    }
    struct sim_baseline_figures f;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &day, 1, &f), 0);
    assert_int_equal(f.originated, 720);
    assert_int_equal(f.delivered_to_base, 720);
    /* The genie's hops from five places: (6 + 5 + 4 + 3 + 2) / 0.7 frames of 287.744 ms. */
    assert_true(fabs((double)f.genie_base_us - 144 * 20 / 0.7 * 287744) < 1000.0);
}

static void wrong_questions_are_refused(void **state)
{
    (void)state;
    struct sim_baseline_figures f;
    assert_int_equal(sim_topology_make("chain:3", 100, &topology, NULL), 0);
    struct sim_workload w = day;
    assert_int_equal(sim_baseline_run(SIM_BASELINE_COUNT, &topology, &w, 1, &f), RP_E_INVALID);
    w.record_bytes = 223;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &w, 1, &f), RP_E_INVALID);
    w = day;
    w.records = 0;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &w, 1, &f), RP_E_INVALID);
    w = day;
    w.budget_us_per_hour = 1000;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &w, 1, &f), RP_E_INVALID);
    w = day;
    w.radio.spreading_factor = 6;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &w, 1, &f), RP_E_INVALID);
    topology.stations[0].reports = false;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &day, 1, &f), RP_E_INVALID);
    topology.links[0][2].kind = SIM_LINK_MODEL;
    assert_int_equal(sim_baseline_run(SIM_MPL, &topology, &day, 1, &f), RP_E_UNSUPPORTED);
    assert_string_equal(sim_baseline_name(SIM_FLOOD_THRICE), "flood three times");
    assert_string_equal(sim_baseline_name(SIM_BASELINE_COUNT), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flooding_once_delivers_what_was_published),
        cmocka_unit_test(flooding_thrice_costs_what_was_published),
        cmocka_unit_test(mpl_costs_what_was_published),
        cmocka_unit_test(stop_and_wait_costs_what_was_published),
        cmocka_unit_test(a_flooded_chain_is_a_power_of_q),
        cmocka_unit_test(stop_and_wait_over_one_hop_is_a_closed_form),
        cmocka_unit_test(without_loss_everything_arrives),
        cmocka_unit_test(every_reception_has_one_fate),
        cmocka_unit_test(the_seed_decides_everything),
        cmocka_unit_test(mpl_listens_half_an_interval),
        cmocka_unit_test(mpl_sees_by_a_message_what_its_sender_lacks),
        cmocka_unit_test(mpl_falls_silent),
        cmocka_unit_test(what_has_no_path_stays),
        cmocka_unit_test(many_report),
        cmocka_unit_test(wrong_questions_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
