/* The airtime of the last hour outlives a restart, a step of the wall clock, a restart of the
 * computer, and a change of the sub-band. That the hour slides, is counted by sub-band and must
 * persist: ETSI EN 300 220-2 V3.2.1 table B.1 (10 % of one hour is 360 s); Saelens et al. 2019,
 * EURASIP JWCN, figure 2, on bursts either side of a clock hour. */
#include "rp_test.h"

#include <string.h>

#include "node_kit.h"
#include "node_net.h"

#include "node/node_state.h" /* rp_clock_hear: a clock of another station */

enum { BUDGET_MS = 360000, SPENT_MS = 10000 };

static struct kit start_in_band_p(void)
{
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    strcpy(kit.config.net.band, "eu-p");
    kit.config.net.duty_permille = 100;
    kit.config.boot = 1;
    kit.moment.now_us = 10000 * NODE_NET_SECOND_US;
    return kit;
}

/* As the station itself charges: by its present moment. */
static void spend(struct kit *kit, uint32_t freq_hz)
{
    struct rp_charge charge = {.boot = kit->config.boot,
                               .at_us = kit->moment.now_us,
                               .unix_s = kit->moment.unix_s,
                               .synced = kit->moment.synced,
                               .freq_hz = freq_hz,
                               .airtime_us = SPENT_MS * 1000};
    assert_int_equal(kit->config.store->charge(kit->store, &charge), 0);
}

static void reboot(struct kit *kit, int64_t uptime_s)
{
    kit->config.boot++;
    kit->moment.now_us = uptime_s * NODE_NET_SECOND_US;
}

/* After a start and a digest of base, whose clock is that much ahead. */
static void expect_spent_beside_ms(struct kit *kit, int64_t ahead_s, uint8_t quality,
                                   unsigned spent_ms)
{
    struct rp_node_status status;
    kit_restart(kit);
    rp_clock_hear(kit->node, 2, (uint32_t)(kit->moment.unix_s - RP_NET_EPOCH_UNIX_S + ahead_s),
                  quality);
    rp_node_status(kit->node, kit->moment, &status);
    assert_int_equal(status.airtime_left_urgent_ms, BUDGET_MS - spent_ms);
}

static void expect_spent_ms(struct kit *kit, unsigned spent_ms)
{
    struct rp_node_status status;
    kit_restart(kit);
    rp_node_status(kit->node, kit->moment, &status);
    assert_int_equal(status.airtime_left_urgent_ms, BUDGET_MS - spent_ms);
}

static void a_restart_forgets_nothing_for_an_hour(void **state)
{
    (void)state;
    struct kit kit = start_in_band_p();
    expect_spent_ms(&kit, 0);
    spend(&kit, 869525000);
    expect_spent_ms(&kit, SPENT_MS);
    kit_pass(&kit, 1800);
    spend(&kit, 869525000);
    expect_spent_ms(&kit, 2 * SPENT_MS);
    kit_pass(&kit, 1800);
    expect_spent_ms(&kit, 2 * SPENT_MS);
    kit_pass(&kit, 60);
    expect_spent_ms(&kit, SPENT_MS);
    kit_end(&kit);
}

static void a_step_of_the_wall_clock_changes_nothing(void **state)
{
    (void)state;
    static const int64_t steps_s[] = {86400, -86400, 3600, -3600, 400000000};
    for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        struct kit kit = start_in_band_p();
        spend(&kit, 869525000);
        kit_pass(&kit, 60);
        kit.moment.unix_s += steps_s[i];
        expect_spent_ms(&kit, SPENT_MS);
        kit_pass(&kit, 3500);
        expect_spent_ms(&kit, SPENT_MS);
        kit_pass(&kit, 100);
        expect_spent_ms(&kit, 0);
        kit_end(&kit);
    }
}

/* No clock that can be believed: only the new run's own age is sure. A synchronised one is believed
 * once a synchronised one of another station agrees within 10 s; that clock may be wrong by itself,
 * so 120 s count as nothing. Own choices. */
static void a_computer_without_a_clock_counts_from_its_start(void **state)
{
    (void)state;
    static const struct {
        bool synced_then, synced_now;
        int64_t ahead_s; /* of base's clock */
        uint8_t quality;
        bool believed;
    } rows[] = {
        {false, false, 0, 2, false},   {true, false, 0, 2, false},  {false, true, 0, 2, false},
        {true, true, 0, 2, true},      {true, true, 10, 2, true},   {true, true, -10, 1, true},
        {true, true, 11, 2, false},    {true, true, -11, 2, false}, {true, true, 0, 3, false},
        {true, true, 86400, 2, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct kit kit = start_in_band_p();
        kit.moment.synced = rows[i].synced_then;
        spend(&kit, 869525000);
        kit.moment.synced = rows[i].synced_now;
        kit.moment.unix_s += 86400;
        reboot(&kit, 60);
        unsigned spent_ms = rows[i].believed ? 0 : SPENT_MS;
        expect_spent_ms(&kit, SPENT_MS); /* before anybody was heard */
        expect_spent_beside_ms(&kit, rows[i].ahead_s, rows[i].quality, spent_ms);
        kit_pass(&kit, 3500);
        expect_spent_beside_ms(&kit, rows[i].ahead_s, rows[i].quality, spent_ms);
        kit_pass(&kit, 100);
        expect_spent_ms(&kit, 0);
        kit_end(&kit);
    }
}

static void two_good_clocks_tell_the_age_over_a_reboot(void **state)
{
    (void)state;
    struct kit kit = start_in_band_p();
    spend(&kit, 869525000);
    kit.moment.unix_s += 3000;
    reboot(&kit, 20);
    expect_spent_beside_ms(&kit, 0, 2, SPENT_MS);
    kit_pass(&kit, 710);
    expect_spent_beside_ms(&kit, 0, 2, SPENT_MS);
    kit_pass(&kit, 70);
    expect_spent_beside_ms(&kit, 0, 2, 0);
    expect_spent_ms(&kit, SPENT_MS); /* of a start before anybody was heard */
    kit_end(&kit);
}

/* Nor may a storage that cannot be read just then make the hour look free. */
static void an_hour_that_cannot_be_read_is_spent(void **state)
{
    (void)state;
    struct kit kit = start_in_band_p();
    struct rp_node_status status;
    uint32_t net_s = (uint32_t)(kit.moment.unix_s - RP_NET_EPOCH_UNIX_S);
    spend(&kit, 869525000);
    kit_restart(&kit);
    memory_store_fail_reads(kit.store, RP_E_IO);
    rp_clock_hear(kit.node, 2, net_s, 2);
    memory_store_fail_reads(kit.store, RP_OK);
    rp_node_status(kit.node, kit.moment, &status);
    assert_int_equal(status.airtime_left_urgent_ms, 0);
    assert_int_equal(status.store_failures, 1);
    rp_clock_hear(kit.node, 2, net_s, 2); /* the next digest */
    rp_node_status(kit.node, kit.moment, &status);
    assert_int_equal(status.airtime_left_urgent_ms, BUDGET_MS - SPENT_MS);
    kit_end(&kit);
}

/* A run's earlier charges are older than its last one by what that run's own clock says. */
static void what_was_old_before_a_reboot_stays_older(void **state)
{
    (void)state;
    struct kit kit = start_in_band_p();
    kit.moment.synced = false;
    spend(&kit, 869525000);
    kit_pass(&kit, 3000);
    spend(&kit, 869525000);
    reboot(&kit, 500);
    expect_spent_ms(&kit, 2 * SPENT_MS);
    kit_pass(&kit, 200);
    expect_spent_ms(&kit, SPENT_MS);
    kit_end(&kit);
}

static void each_sub_band_has_its_own_hour(void **state)
{
    (void)state;
    struct kit kit = start_in_band_p();
    spend(&kit, 869525000); /* band P */
    spend(&kit, 869850000); /* band Q */
    expect_spent_ms(&kit, SPENT_MS);
    strcpy(kit.config.net.band, "eu-q");
    kit.config.net.profile.freq_hz = 869850000;
    expect_spent_ms(&kit, SPENT_MS);
    strcpy(kit.config.net.band, "eu-m");
    kit.config.net.profile.freq_hz = 868300000;
    expect_spent_ms(&kit, 0);
    spend(&kit, 0); /* of a log that did not keep the frequency: counts everywhere */
    expect_spent_ms(&kit, SPENT_MS);
    strcpy(kit.config.net.band, "none"); /* no sub-bands are known: all of it */
    expect_spent_ms(&kit, 3 * SPENT_MS);
    kit_end(&kit);
}

/* What a station with a radio charges by itself carries its run, clock and frequency. */
static int last_charge(void *arg, const struct rp_charge *charge)
{
    *(struct rp_charge *)arg = *charge;
    return 1;
}

static void a_station_charges_what_it_sends(void **state)
{
    (void)state;
    struct node_net net;
    node_net_start(&net, 20);
    struct rp_node_config config = node_net_config(7, RP_ROLE_CAMP);
    config.boot = 77;
    size_t camp = node_net_add(&net, &config);
    node_net_up(&net, camp);
    node_net_run(&net, 60 * NODE_NET_SECOND_US);
    struct rp_charge charge = {0};
    assert_int_equal(memory_store_ops()->each_charge(net.at[camp].store, last_charge, &charge), 1);
    assert_int_equal(charge.boot, 77);
    assert_int_equal(charge.freq_hz, 869525000);
    assert_true(charge.airtime_us > 0);
    assert_false(charge.synced); /* nobody was heard who agrees with its clock */
    assert_in_range(charge.at_us, 0, net.now_us);
    assert_int_equal(charge.unix_s, NODE_NET_START_S + charge.at_us / NODE_NET_SECOND_US);
    struct rp_node_config base = node_net_config(2, RP_ROLE_BASE);
    size_t other = node_net_add(&net, &base);
    node_net_link(&net, camp, other, 0);
    node_net_up(&net, other);
    node_net_run(&net, 3600 * NODE_NET_SECOND_US);
    assert_int_equal(memory_store_ops()->each_charge(net.at[camp].store, last_charge, &charge), 1);
    assert_true(charge.synced);
    node_net_stop(&net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_restart_forgets_nothing_for_an_hour),
        cmocka_unit_test(a_step_of_the_wall_clock_changes_nothing),
        cmocka_unit_test(a_computer_without_a_clock_counts_from_its_start),
        cmocka_unit_test(two_good_clocks_tell_the_age_over_a_reboot),
        cmocka_unit_test(an_hour_that_cannot_be_read_is_spent),
        cmocka_unit_test(what_was_old_before_a_reboot_stays_older),
        cmocka_unit_test(each_sub_band_has_its_own_hour),
        cmocka_unit_test(a_station_charges_what_it_sends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
