/* Net time and the notes of it. */
#include "rp_test.h"

#include <string.h>

#include "node_kit.h"
#include "node_net.h"

#include "node/node_state.h" /* rp_clock_hear: no modem brings a clock better than synchronised yet */

/* 2026-02-25T12:00:00Z is 55 days and 12 hours after the net epoch of 2026-01-01T00:00:00Z. */
#define START_NET_S 4795200u

static int decode(void *arg, const struct rp_record_row *row)
{
    return rp_record_decode(row->body, row->origin, arg);
}

struct notes {
    size_t count;
    struct rp_record last;
};

static int count_note(void *arg, const struct rp_record_row *row)
{
    struct notes *notes = arg;
    notes->count++;
    return decode(&notes->last, row);
}

static struct notes clock_notes(struct rp_node *node)
{
    struct notes notes = {0};
    struct rp_record_filter filter = {.kind = RP_REC_CLOCK};
    assert_int_equal(rp_node_each_record(node, &filter, count_note, &notes), RP_OK);
    return notes;
}

static uint32_t time_of(struct kit *kit, struct rp_record_ref ref, bool *out_unsynced)
{
    struct rp_record record;
    assert_int_equal(rp_node_record(kit->node, ref, decode, &record), RP_OK);
    *out_unsynced = record.unsynced;
    return record.time_s;
}

static void a_step_of_an_unsynchronised_clock_keeps_net_time(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    bool unsynced;
    kit.moment.synced = false;
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    assert_int_equal(time_of(&kit, kit_note(&kit, ref, "x"), &unsynced), START_NET_S);
    assert_true(unsynced);
    kit_pass(&kit, 60);
    kit.moment.unix_s += 86400;
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 60);
    /* The entry itself is the first to see the step. */
    assert_int_equal(time_of(&kit, kit_note(&kit, ref, "y"), &unsynced), START_NET_S + 60);
    assert_true(unsynced);
    struct notes notes = clock_notes(kit.node);
    assert_int_equal(notes.count, 1);
    assert_int_equal(notes.last.as.clock.reason, RP_CLOCK_STEPPED);
    assert_int_equal(notes.last.as.clock.offset_s, 86400);
    assert_false(notes.last.as.clock.synced);
    kit_pass(&kit, 60);
    rp_node_tick(kit.node, kit.moment);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 120);
    kit.moment.unix_s -= 2 * 86400;
    rp_node_tick(kit.node, kit.moment);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 120);
    assert_int_equal(clock_notes(kit.node).last.as.clock.offset_s, -2 * 86400);
    kit_end(&kit);
}

static void a_step_of_a_synchronised_clock_is_taken_and_noted(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    kit_pass(&kit, 10);
    kit.moment.unix_s += 3; /* above the 2 s that count as slewing */
    rp_node_tick(kit.node, kit.moment);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 13);
    struct notes notes = clock_notes(kit.node);
    assert_int_equal(notes.count, 1);
    assert_int_equal(notes.last.as.clock.offset_s, 3);
    assert_true(notes.last.as.clock.synced);
    kit_pass(&kit, 10);
    kit.moment.unix_s += 2;
    rp_node_tick(kit.node, kit.moment);
    assert_int_equal(clock_notes(kit.node).count, 1);
    kit_end(&kit);
}

/* NTP slews by up to 500 ppm: seconds in hours, which is no step and no news. */
static void slewing_is_no_step(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    for (unsigned i = 0; i < 30; i++) {
        kit_pass(&kit, 1999);
        kit.moment.unix_s++;
        rp_node_tick(kit.node, kit.moment);
    }
    assert_int_equal(clock_notes(kit.node).count, 0);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 60000);
    kit_end(&kit);
}

static void synchronising_later_ends_the_mark(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    bool unsynced;
    kit.moment.synced = false;
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    kit_pass(&kit, 60);
    kit.moment.synced = true;
    kit.moment.unix_s += 600;
    assert_int_equal(time_of(&kit, kit_note(&kit, ref, "x"), &unsynced), START_NET_S + 660);
    assert_false(unsynced);
    struct rp_node_status status;
    rp_node_status(kit.node, kit.moment, &status);
    assert_true(status.clock_synced);
    kit_end(&kit);
}

/* A clock before the net epoch (no battery: 1970) gives net time 0, never a wrapped one. */
static void a_clock_before_the_epoch_gives_0(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.unix_s = 100;
    kit.moment.synced = false;
    kit_start(&kit);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), 0);
    kit_open(&kit, "A");
    kit_end(&kit);
}

static bool knows_the_time(void *arg)
{
    return node_net_status(arg, 0).clock_synced;
}

static void an_unsynchronised_station_takes_a_better_clock(void **state)
{
    (void)state;
    struct node_net net;
    node_net_start_row(&net, 3, 0, 0);
    net.at[0].synced = false;
    net.at[0].clock_offset_s = -40 * 86400;
    node_net_up_all(&net);
    assert_true(node_net_run_until(&net, knows_the_time, &net, 600 * NODE_NET_SECOND_US) > 0);
    uint32_t camp_s = node_net_time(&net, 0);
    uint32_t base_s = node_net_time(&net, 1);
    assert_in_range(camp_s, base_s - 2, base_s + 2); /* frame and rounding */
    struct notes notes = clock_notes(net.at[0].node);
    assert_true(notes.count >= 1);
    assert_int_equal(notes.last.as.clock.reason, RP_CLOCK_SET);
    assert_in_range(notes.last.as.clock.offset_s, 40 * 86400 - 2, 40 * 86400 + 2);
    assert_true(notes.last.as.clock.synced);
    /* Base, which is synchronised, follows nobody. */
    node_net_run(&net, 600 * NODE_NET_SECOND_US);
    assert_int_equal(node_net_time(&net, 1), START_NET_S + net.now_us / NODE_NET_SECOND_US);
    node_net_stop(&net);
}

/* Found by the simulator (storm, seed 313): a clock of the best quality, then the usual one, wrote
 * a note for every digest heard, hundreds in a day. */
static void a_worse_clock_does_not_follow_a_better_one(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.synced = false;
    kit_start(&kit);
    for (unsigned i = 0; i < 5; i++) {
        kit_pass(&kit, 10);
        rp_node_tick(kit.node, kit.moment);
        rp_clock_hear(kit.node, 3, START_NET_S + 1000 + 20 * i, 1); /* of a satellite receiver */
        kit_pass(&kit, 10);
        rp_node_tick(kit.node, kit.moment);
        rp_clock_hear(kit.node, 2, START_NET_S + 500000, 2); /* of a synchronised computer */
    }
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 1000 + 90);
    assert_int_equal(clock_notes(kit.node).count, 1);
    kit_end(&kit);
}

/* A digest of that station arrives now. */
static void hear(struct kit *kit, uint8_t station, uint32_t clock_s, uint8_t quality)
{
    rp_node_tick(kit->node, kit->moment);
    rp_clock_hear(kit->node, station, clock_s, quality);
}

/* What was learnt in the net outlives a restart of the program, whatever the wall clock did
 * meanwhile: the monotonic clock of the same run of the computer goes on. */
static void net_time_outlives_a_restart(void **state)
{
    (void)state;
    static const int64_t steps_s[] = {0, 86400, -40 * 86400};
    for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        struct rp_node_status status;
        kit.moment.synced = false;
        kit.moment.now_us = 50 * NODE_NET_SECOND_US;
        kit_start(&kit);
        hear(&kit, 2, START_NET_S + 5000, 2);
        kit_pass(&kit, 1800);
        kit_stop(&kit);
        kit_pass(&kit, 1800);
        kit.moment.unix_s += steps_s[i];
        kit_start(&kit);
        rp_node_status(kit.node, kit.moment, &status);
        assert_true(status.clock_synced);
        assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 5000 + 3600);
        hear(&kit, 3, START_NET_S, 3); /* a worse one than the first */
        assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 5000 + 3600);
        hear(&kit, 3, START_NET_S + 8601, 2);
        assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 8601);
        kit_end(&kit);
    }
}

/* Another run of the computer: its clock is vouched for by nobody, but it never shows less than
 * before, and keeps its error when it went on by a battery. */
static void net_time_does_not_go_back_over_a_reboot(void **state)
{
    (void)state;
    for (int battery = 0; battery < 2; battery++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        struct rp_node_status status;
        kit.moment.synced = false;
        kit.moment.now_us = 50 * NODE_NET_SECOND_US;
        kit_start(&kit);
        hear(&kit, 2, START_NET_S + 5000, 2);
        kit_stop(&kit);
        kit_pass(&kit, 600);
        kit.config.boot++;
        kit.moment.now_us = 20 * NODE_NET_SECOND_US;
        kit.moment.unix_s = battery ? kit.moment.unix_s : 100; /* 1970 */
        kit_start(&kit);
        rp_node_status(kit.node, kit.moment, &status);
        assert_false(status.clock_synced);
        assert_int_equal(rp_node_net_time(kit.node, kit.moment),
                         START_NET_S + 5000 + (battery ? 600 : 0));
        kit_pass(&kit, 60);
        assert_int_equal(rp_node_net_time(kit.node, kit.moment),
                         START_NET_S + 5060 + (battery ? 600 : 0));
        hear(&kit, 2, START_NET_S + 9000, 2);
        assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 9000);
        kit_end(&kit);
    }
}

/* A clock that nobody ever vouched for goes on over a restart of the program, for the sake of what
 * is timed with it; once the computer itself was started anew it is taken as it stands, for it may
 * have been set. */
static void a_clock_set_by_hand_is_taken_at_a_start_of_the_computer(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.synced = false;
    kit.moment.unix_s -= 86400;
    kit_start(&kit);
    kit_pass(&kit, 7200);
    rp_node_tick(kit.node, kit.moment);
    kit_stop(&kit);
    kit.moment.unix_s += 86400 - 7200;
    kit_start(&kit);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S - 86400 + 7200);
    kit_stop(&kit);
    kit.config.boot++;
    kit.moment.now_us = 20 * NODE_NET_SECOND_US;
    kit_start(&kit);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S);
    kit_end(&kit);
}

/* Found by the simulator (storm, seed 2018): a clock before the epoch that was called synchronised
 * stood still at net time 0, and whoever followed it wrote a note for every digest, for ever. */
static void a_time_before_the_epoch_is_never_synchronised(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    struct rp_node_status status;
    kit.moment.unix_s = RP_NET_EPOCH_UNIX_S - 86400;
    kit_start(&kit);
    rp_node_status(kit.node, kit.moment, &status);
    assert_false(status.clock_synced);
    hear(&kit, 2, 0, 2);
    rp_node_status(kit.node, kit.moment, &status);
    assert_false(status.clock_synced);
    hear(&kit, 2, START_NET_S, 2);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S);
    kit_pass(&kit, 600);
    rp_node_tick(kit.node, kit.moment);
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 600);
    assert_int_equal(clock_notes(kit.node).count, 1);
    kit_end(&kit);
}

/* A bad crystal, 500 ppm: 43 s a day. With what base says in its digests the camp stays near, for
 * days, and fills no log with notes. */
static void a_drifting_clock_follows_its_source(void **state)
{
    (void)state;
    struct node_net net;
    node_net_start_row(&net, 4, 0, 0);
    net.at[0].synced = false;
    net.at[0].clock_offset_s = 3000;
    node_net_up_all(&net);
    uint32_t most_s = 0;
    for (unsigned minute = 0; minute < 3 * 1440; minute += 33) { /* 1 s in 33 min: 505 ppm */
        node_net_run(&net, 33 * 60 * NODE_NET_SECOND_US);
        net.at[0].clock_offset_s++;
        uint32_t camp_s = node_net_time(&net, 0);
        uint32_t base_s = node_net_time(&net, 1);
        uint32_t apart_s = camp_s > base_s ? camp_s - base_s : base_s - camp_s;
        most_s = minute >= 60 && apart_s > most_s ? apart_s : most_s;
    }
    print_message("at most %u s apart\n", most_s);
    assert_true(most_s <= 15); /* some hours of digests that were left out: 2 s an hour */
    assert_true(clock_notes(net.at[0].node).count <= 2);
    node_net_stop(&net);
}

/* Two sources of equal quality that differ: it keeps to one, and takes the other only when that one
 * is not heard any more. */
static void an_equal_clock_takes_over_only_when_the_first_is_gone(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.synced = false;
    kit_start(&kit);
    uint32_t net_s = START_NET_S + 1000;
    for (unsigned hour = 0; hour < 6; hour++) {
        hear(&kit, 2, net_s, 2);
        hear(&kit, 3, net_s + 40, 2);
        assert_int_equal(rp_node_net_time(kit.node, kit.moment), net_s);
        kit_pass(&kit, 3600);
        net_s += 3600;
    }
    hear(&kit, 3, net_s + 40, 2); /* one hour */
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), net_s);
    kit_pass(&kit, 7200);
    net_s += 7200;
    hear(&kit, 3, net_s + 40, 2); /* three hours */
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), net_s + 40);
    assert_int_equal(clock_notes(kit.node).count, 1); /* 40 s are drift */
    kit_end(&kit);
}

/* Nobody was heard for days: the quality falls by one a day, and at last the time is marked. */
static void a_clock_that_is_alone_grows_old(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    struct rp_node_status status;
    kit.moment.synced = false;
    kit_start(&kit);
    hear(&kit, 2, START_NET_S + 1000, 2); /* now of quality 3 */
    kit_pass(&kit, 86400 * 12 - 10);
    rp_node_tick(kit.node, kit.moment);
    rp_node_status(kit.node, kit.moment, &status);
    assert_true(status.clock_synced);
    hear(&kit, 4, 77, 14); /* is 14 now: worse */
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S + 1000 + 86400 * 12 - 10);
    kit_pass(&kit, 20);
    rp_node_tick(kit.node, kit.moment);
    rp_node_status(kit.node, kit.moment, &status);
    assert_false(status.clock_synced);
    hear(&kit, 4, START_NET_S, 5); /* anything is better now */
    assert_int_equal(rp_node_net_time(kit.node, kit.moment), START_NET_S);
    kit_end(&kit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_step_of_an_unsynchronised_clock_keeps_net_time),
        cmocka_unit_test(a_step_of_a_synchronised_clock_is_taken_and_noted),
        cmocka_unit_test(slewing_is_no_step),
        cmocka_unit_test(synchronising_later_ends_the_mark),
        cmocka_unit_test(a_clock_before_the_epoch_gives_0),
        cmocka_unit_test(an_unsynchronised_station_takes_a_better_clock),
        cmocka_unit_test(a_worse_clock_does_not_follow_a_better_one),
        cmocka_unit_test(net_time_outlives_a_restart),
        cmocka_unit_test(net_time_does_not_go_back_over_a_reboot),
        cmocka_unit_test(a_clock_set_by_hand_is_taken_at_a_start_of_the_computer),
        cmocka_unit_test(a_time_before_the_epoch_is_never_synchronised),
        cmocka_unit_test(a_drifting_clock_follows_its_source),
        cmocka_unit_test(an_equal_clock_takes_over_only_when_the_first_is_gone),
        cmocka_unit_test(a_clock_that_is_alone_grows_old),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
