/* The air of the baselines, by a protocol that sends what a script says: overlaps, half duplex,
 * loss, the airtime law. The expected fates follow from the model's definition, which is ours. */
#include "rp_test.h"

#include <string.h>

#include "sim/yard/air.h"

#define LOG_MAX 4096
#define MS      INT64_C(1000)

static struct {
    unsigned heard;
    struct {
        unsigned station, from;
        int64_t at_us;
    } at[LOG_MAX];
    unsigned sent;
    int64_t sent_us[LOG_MAX]; /* ends */
} seen;

static size_t no_state(const struct yard *yard)
{
    (void)yard;
    return 0;
}

static void accept(struct yard *yard, unsigned station, uint32_t record)
{
    (void)yard;
    (void)station;
    (void)record;
}

static void hear(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    assert_true(seen.heard < LOG_MAX);
    seen.at[seen.heard].station = station;
    seen.at[seen.heard].from = frame->from;
    seen.at[seen.heard++].at_us = yard->now_us;
}

/* `id` is the length; `generation` tells frames apart. */
static void timer(struct yard *yard, unsigned station, uint32_t id, uint32_t generation)
{
    yard_send(yard, (struct yard_frame){.kind = (uint8_t)(generation >> 8),
                                        .from = (uint8_t)station,
                                        .to = (uint8_t)generation,
                                        .len = (uint16_t)id,
                                        .record = YARD_NO_RECORD});
}

static void sent(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    (void)station;
    (void)frame;
    assert_true(seen.sent < LOG_MAX);
    seen.sent_us[seen.sent++] = yard->now_us;
}

static const struct yard_protocol script = {.name = "script",
                                            .state_size = no_state,
                                            .accept = accept,
                                            .hear = hear,
                                            .timer = timer,
                                            .sent = sent};
static struct sim_topology topology;
/* 40 bytes: 287,744 us; SX1276 data sheet formula, as the published table has it (287.7 ms). */
#define FRAME_US INT64_C(287744)
static struct sim_workload workload = {.radio = {.spreading_factor = 9,
                                                 .bandwidth_hz = 125000,
                                                 .coding_rate = 5,
                                                 .crc = true,
                                                 .preamble_symbols = 8},
                                       .record_bytes = 40,
                                       .records = 1,
                                       .interval_us = 600000000};

static struct yard *open_air(const char *word, uint16_t loss, int64_t budget_us)
{
    memset(&seen, 0, sizeof seen);
    workload.budget_us_per_hour = budget_us;
    assert_int_equal(sim_topology_make(word, loss, &topology, NULL), 0);
    struct yard *yard = yard_open(&script, &topology, &workload, 1);
    assert_non_null(yard);
    return yard;
}

static void run(struct yard *yard)
{
    yard_run(yard, INT64_MAX);
    yard_close(yard);
}

static void a_frame_arrives_when_it_has_ended(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:3", 0, 0);
    yard_timer(yard, 1, 5 * MS, 40, 0);
    run(yard);
    assert_int_equal(seen.heard, 2);
    assert_int_equal(seen.at[0].station + seen.at[1].station, 0 + 2);
    assert_int_equal(seen.at[0].at_us, 5 * MS + FRAME_US);
}

static void the_slightest_overlap_destroys_both(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:3", 0, 0);
    yard_timer(yard, 0, 0, 40, 0); /* hidden from each other */
    yard_timer(yard, 2, FRAME_US - 1, 40, 0);
    run(yard);
    assert_int_equal(seen.heard, 0);

    yard = open_air("chain:3", 0, 0);
    yard_timer(yard, 0, 0, 40, 0);
    yard_timer(yard, 2, FRAME_US, 40, 0); /* starts as the other ends */
    run(yard);
    assert_int_equal(seen.heard, 2);
}

/* s1 - s2 - s3 - s4: s1's and s4's frames never meet; s2's and s4's meet at s3 only. */
static void only_receivers_of_both_lose(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:4", 0, 0);
    yard_timer(yard, 0, 0, 40, 0);
    yard_timer(yard, 3, 0, 40, 0);
    run(yard);
    assert_int_equal(seen.heard, 2);

    yard = open_air("chain:4", 0, 0);
    yard_timer(yard, 1, 0, 40, 0);
    yard_timer(yard, 3, 100 * MS, 40, 0);
    yard_run(yard, INT64_MAX);
    assert_int_equal(seen.heard, 1);
    assert_int_equal(seen.at[0].station, 0);
    assert_int_equal(yard->lost_to_clash, 2);
    yard_close(yard);
}

static void who_sends_hears_nothing(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:2", 0, 0);
    yard_timer(yard, 0, 0, 40, 0);
    yard_timer(yard, 1, 280 * MS, 12, 0); /* starts while hearing; ends later */
    run(yard);
    assert_int_equal(seen.heard, 0);

    yard = open_air("chain:2", 0, 0);
    yard_timer(yard, 0, 0, 40, 0);
    yard_timer(yard, 1, 20 * MS, 12, 0); /* over long before the other's end */
    run(yard);
    assert_int_equal(seen.heard, 0);
}

static void a_spoiled_frame_still_spoils(void **state)
{
    (void)state;
    /* At s2 (the hub) a long frame meets a short one, then a third meets only the long one. */
    struct yard *yard = open_air("star:4", 0, 0);
    yard_timer(yard, 0, 0, 40, 0);
    yard_timer(yard, 2, 10 * MS, 12, 0);
    yard_timer(yard, 3, 200 * MS, 12, 0);
    yard_run(yard, INT64_MAX);
    assert_int_equal(seen.heard, 0);
    assert_int_equal(yard->lost_to_clash, 3);
    yard_close(yard);
}

static void one_queue_sends_one_after_the_other(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:2", 0, 0);
    for (unsigned i = 0; i < 3; i++) {
        yard_timer(yard, 0, 0, 40, i);
    }
    run(yard);
    assert_int_equal(seen.heard, 3);
    assert_int_equal(seen.at[2].at_us, 3 * FRAME_US);
}

static void what_waits_is_not_put_twice(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:2", 0, 0);
    for (unsigned i = 0; i < 5; i++) {
        yard_timer(yard, 0, 0, 40, 7);
    }
    yard_run(yard, INT64_MAX);
    assert_int_equal(seen.heard, 2); /* the one that leaves at once, and one that waits */
    assert_int_equal(yard->dropped, 0);
    yard_close(yard);
}

static void a_full_queue_drops_and_counts(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:2", 0, 0);
    for (unsigned i = 0; i < YARD_QUEUE_MAX + 5; i++) {
        yard_timer(yard, 0, 0, 40, i);
    }
    yard_run(yard, INT64_MAX);
    /* One is on air at once, so the queue holds one more than its size. */
    assert_int_equal(yard->dropped, 4);
    assert_int_equal(seen.sent, YARD_QUEUE_MAX + 1);
    yard_close(yard);
}

/* Binomial, 4000 draws at 0.3: standard deviation 29; within 4 of them. */
static void losses_come_as_often_as_asked(void **state)
{
    (void)state;
    struct yard *yard = open_air("chain:2", 300, 0);
    for (unsigned i = 0; i < 4000; i++) {
        yard_timer(yard, 0, i * 400 * MS, 40, 0);
    }
    yard_run(yard, INT64_MAX);
    assert_in_range(seen.heard, 2800 - 116, 2800 + 116);
    assert_int_equal(yard->lost_to_loss, 4000 - seen.heard);
    yard_close(yard);
}

static void no_sliding_hour_holds_more_than_the_law(void **state)
{
    (void)state;
    const int64_t hour_us = INT64_C(3600000000);
    struct yard *yard = open_air("chain:2", 0, 3 * FRAME_US + 1);
    for (unsigned i = 0; i < 50; i++) {
        yard_timer(yard, 0, (int64_t)i * i * 1000000, 40, i);
    }
    run(yard);
    assert_int_equal(seen.sent, 50);
    for (unsigned i = 3; i < seen.sent; i++) {
        /* The fourth before must have ended an hour before this one starts. */
        assert_true(seen.sent_us[i] - FRAME_US - seen.sent_us[i - 3] >= hour_us);
    }
    assert_int_equal(seen.sent_us[3], FRAME_US + hour_us + FRAME_US); /* and not later either */
}

static void sporadic_records_keep_the_mean_interval(void **state)
{
    (void)state;
    memset(&seen, 0, sizeof seen);
    struct sim_workload sporadic = workload;
    sporadic.sporadic = true;
    sporadic.records = 4000;
    sporadic.interval_us = 60000000;
    assert_int_equal(sim_topology_make("chain:2", 0, &topology, NULL), 0);
    struct yard *yard = yard_open(&script, &topology, &sporadic, 1);
    double mean_s = (double)yard_plan_us(yard) / 1e6 / 3999;
    /* Exponential: the deviation of the mean is 60/sqrt(3999) = 0.95 s; within 4 of them. */
    assert_true(mean_s > 56.2 && mean_s < 63.8);
    unsigned early = 0;
    for (unsigned i = 1; i < 4000; i++) {
        early += yard->records[i].at_us - yard->records[i - 1].at_us < 60000000 ? 1 : 0;
    }
    assert_in_range(early, 2528 - 122, 2528 + 122); /* (1 - 1/e) 3999 = 2528, deviation 30.5 */
    yard_close(yard);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_frame_arrives_when_it_has_ended),
        cmocka_unit_test(the_slightest_overlap_destroys_both),
        cmocka_unit_test(only_receivers_of_both_lose),
        cmocka_unit_test(who_sends_hears_nothing),
        cmocka_unit_test(a_spoiled_frame_still_spoils),
        cmocka_unit_test(one_queue_sends_one_after_the_other),
        cmocka_unit_test(what_waits_is_not_put_twice),
        cmocka_unit_test(a_full_queue_drops_and_counts),
        cmocka_unit_test(losses_come_as_often_as_asked),
        cmocka_unit_test(no_sliding_hour_holds_more_than_the_law),
        cmocka_unit_test(sporadic_records_keep_the_mean_interval),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
