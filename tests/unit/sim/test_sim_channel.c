/* The simulated air. What must happen follows from the rules stated in world/channel.h: half
 * duplex, any overlap destroys both, with capture 6 dB decide (Bor, Roedig, Voigt, Alonso, MSWiM
 * 2016). */
#include "rp_test.h"
#include "sim/world/agenda.h"
#include "sim/world/channel.h"

/* Stations 0 and 1 hear each other not; 2 hears both. */
static void two_and_a_hearer(struct sim_channel *channel, bool capture)
{
    sim_channel_init(channel, 3, capture, 1);
    for (unsigned from = 0; from < 2; from++) {
        sim_channel_path(channel, from, 2)->audible = true;
        sim_channel_changed(channel, from, 2);
    }
}

static bool reaches(struct sim_channel *channel, unsigned from, unsigned to)
{
    struct sim_set reached;
    sim_channel_end(channel, from, &reached);
    return sim_set_has(&reached, to);
}

static void test_alone(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, false);
    sim_channel_begin(&channel, 0, 1000, 2000);
    assert_true(reaches(&channel, 0, 2));
    sim_channel_begin(&channel, 2, 3000, 4000);
    assert_false(reaches(&channel, 2, 0)); /* no link that way */
    assert_int_equal(channel.frames, 2);
    assert_int_equal(channel.collisions, 0);
    sim_channel_deinit(&channel);
}

static void test_overlap_destroys_both(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, false);
    sim_channel_begin(&channel, 0, 1000, 2000);
    sim_channel_begin(&channel, 1, 1999, 2999);
    assert_false(reaches(&channel, 0, 2));
    assert_false(reaches(&channel, 1, 2));
    assert_int_equal(channel.collisions, 2);
    sim_channel_deinit(&channel);
}

static void test_touching_is_no_overlap(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, false);
    sim_channel_begin(&channel, 0, 1000, 2000);
    sim_channel_begin(&channel, 1, 2000, 3000);
    assert_true(reaches(&channel, 0, 2));
    assert_true(reaches(&channel, 1, 2));
    sim_channel_deinit(&channel);
}

static void test_half_duplex(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, false);
    sim_channel_begin(&channel, 0, 1000, 5000);
    sim_channel_begin(&channel, 2, 2000, 3000); /* the hearer speaks in the middle of it */
    sim_channel_abort(&channel, 2);
    assert_false(reaches(&channel, 0, 2));
    sim_channel_deinit(&channel);
}

static void test_capture(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, true);
    sim_channel_path(&channel, 0, 2)->power_cdbm = -10000;
    sim_channel_path(&channel, 1, 2)->power_cdbm = -10600; /* 6.00 dB weaker */
    sim_channel_begin(&channel, 0, 1000, 2000);
    sim_channel_begin(&channel, 1, 1500, 2500);
    assert_true(reaches(&channel, 0, 2));
    assert_false(reaches(&channel, 1, 2));
    sim_channel_path(&channel, 1, 2)->power_cdbm = -10599; /* 5.99 dB weaker: neither survives */
    sim_channel_begin(&channel, 0, 5000, 6000);
    sim_channel_begin(&channel, 1, 5500, 6500);
    assert_false(reaches(&channel, 0, 2));
    assert_false(reaches(&channel, 1, 2));
    sim_channel_deinit(&channel);
}

static void test_cut_and_busy(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, false);
    sim_channel_begin(&channel, 0, 1000, 2000);
    assert_true(sim_channel_busy(&channel, 2));
    assert_false(sim_channel_busy(&channel, 1));
    sim_channel_path(&channel, 0, 2)->cuts = 1;
    sim_channel_changed(&channel, 0, 2);
    assert_false(reaches(&channel, 0, 2));
    sim_channel_deinit(&channel);
}

/* 10,000 frames at a loss of 30 %: 3000 +- 5 standard deviations of 45.8 (binomial). */
static void test_loss(void **state)
{
    (void)state;
    struct sim_channel channel;
    two_and_a_hearer(&channel, false);
    sim_channel_path(&channel, 0, 2)->loss = 300;
    unsigned lost = 0;
    for (rp_time_us at_us = 1; at_us < 10001; at_us++) {
        sim_channel_begin(&channel, 0, at_us, at_us + 1);
        lost += !reaches(&channel, 0, 2);
    }
    assert_in_range(lost, 2771, 3229);
    sim_channel_path(&channel, 0, 2)->loss = 1000;
    sim_channel_begin(&channel, 0, 20000, 20001);
    assert_false(reaches(&channel, 0, 2));
    sim_channel_deinit(&channel);
}

static void test_agenda(void **state)
{
    (void)state;
    struct sim_agenda agenda;
    size_t slot = 99;
    sim_agenda_init(&agenda, 5);
    assert_int_equal(sim_agenda_next(&agenda, &slot), RP_NEVER);
    sim_agenda_set(&agenda, 3, 300);
    sim_agenda_set(&agenda, 1, 100);
    sim_agenda_set(&agenda, 4, 100); /* equal moments: the lower number first */
    sim_agenda_set(&agenda, 0, 50);
    assert_int_equal(sim_agenda_next(&agenda, &slot), 50);
    assert_int_equal(slot, 0);
    sim_agenda_set(&agenda, 0, RP_NEVER);
    sim_agenda_next(&agenda, &slot);
    assert_int_equal(slot, 1);
    sim_agenda_set(&agenda, 1, 400);
    sim_agenda_next(&agenda, &slot);
    assert_int_equal(slot, 4);
    sim_agenda_set(&agenda, 4, RP_NEVER);
    assert_int_equal(sim_agenda_next(&agenda, &slot), 300);
    sim_agenda_set(&agenda, 3, RP_NEVER);
    assert_int_equal(sim_agenda_next(&agenda, &slot), 400);
    assert_int_equal(slot, 1);
    sim_agenda_deinit(&agenda);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_alone),
        cmocka_unit_test(test_overlap_destroys_both),
        cmocka_unit_test(test_touching_is_no_overlap),
        cmocka_unit_test(test_half_duplex),
        cmocka_unit_test(test_capture),
        cmocka_unit_test(test_cut_and_busy),
        cmocka_unit_test(test_loss),
        cmocka_unit_test(test_agenda),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
