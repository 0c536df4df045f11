/* The watch rules at a station: whose rules hold, what the station itself knows, and the treatment
 * clock over a restart and a step of the wall clock. */
#include "rp_test.h"

#include <string.h>

#include "node_kit.h"
#include "node_net.h"

#include "node/node_state.h" /* the mesh's neighbours, and clocks that no modem brings */

/* 2026-02-25T12:00:00Z is 55 days and 12 hours after the net epoch of 2026-01-01T00:00:00Z. */
#define START_NET_S 4795200u

static void rules_hold_where_they_belong(void **state)
{
    (void)state;
    struct kit camp = kit_new(7, RP_ROLE_CAMP), relay = kit_new(4, RP_ROLE_RELAY),
               base = kit_new(2, RP_ROLE_BASE);
    kit_start(&camp);
    kit_start(&relay);
    kit_start(&base);
    struct rp_episode_ref at_camp = kit_open(&camp, "A"), at_base = kit_open(&base, "B");
    assert_int_equal(rp_node_watch_places(camp.node, at_camp), RP_WATCH_CAMP);
    assert_int_equal(rp_node_watch_places(base.node, at_camp), RP_WATCH_BASE);
    assert_int_equal(rp_node_watch_places(base.node, at_base), RP_WATCH_CAMP | RP_WATCH_BASE);
    assert_int_equal(rp_node_watch_places(camp.node, at_base), 0);
    assert_int_equal(rp_node_watch_places(relay.node, at_camp), 0);
    kit_end(&camp);
    kit_end(&relay);
    kit_end(&base);
}

/* 6.4 H14: an urgent record that is not at base after 5 and 15 min. */
static void an_urgent_record_that_stays_is_told(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    kit_note(&kit, ref, "not urgent");
    kit_pass(&kit, 1800);
    assert_null(kit_alarm(&kit, ref, "unacked"));
    struct rp_record record = {.kind = RP_REC_EVACUATION, .episode = ref};
    kit_enter(&kit, &record);
    kit_pass(&kit, 60);
    record = (struct rp_record){.kind = RP_REC_EVACUATION, .episode = ref};
    kit_enter(&kit, &record);
    kit_pass(&kit, 239);
    assert_null(kit_alarm(&kit, ref, "unacked"));
    kit_pass(&kit, 1); /* of the older one */
    assert_non_null(kit_alarm(&kit, ref, "unacked"));
    uint32_t first_s = kit_alarm(&kit, ref, "unacked")->since_s;
    kit_restart(&kit);
    kit_pass(&kit, 600);
    assert_int_equal(kit_alarm(&kit, ref, "unacked")->since_s, first_s + 600); /* the second time */
    kit_end(&kit);
    kit = kit_new(2, RP_ROLE_BASE); /* base waits for nobody */
    kit_start(&kit);
    ref = kit_open(&kit, "A");
    record = (struct rp_record){.kind = RP_REC_EVACUATION, .episode = ref};
    kit_enter(&kit, &record);
    kit_pass(&kit, 3600);
    assert_null(kit_alarm(&kit, ref, "unacked"));
    assert_non_null(kit_alarm(&kit, ref, "request"));
    kit_end(&kit);
}

static void the_station_tells_of_itself(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    kit_pass(&kit, 600);
    assert_null(kit_alarm(&kit, ref, "radio")); /* it has none */
    assert_null(kit_alarm(&kit, ref, "clock"));
    assert_null(kit_alarm(&kit, ref, "disk"));
    memory_store_fail(kit.store, (struct memory_fault){.count = 1, .code = RP_E_NO_SPACE});
    struct rp_record record = {.kind = RP_REC_NOTE, .episode = ref};
    struct rp_record_ref made;
    strcpy(record.as.note.text, "lost");
    assert_true(rp_node_enter(kit.node, &record, kit.moment, &made, &kit.problem) < 0);
    assert_non_null(kit_alarm(&kit, ref, "disk"));
    kit_pass(&kit, 599);
    assert_non_null(kit_alarm(&kit, ref, "disk"));
    kit_pass(&kit, 1);
    assert_null(kit_alarm(&kit, ref, "disk"));
    memory_store_fail_reads(kit.store, RP_E_IO);
    static struct rp_alarms alarms;
    const struct rp_episode *episode;
    assert_int_equal(rp_node_watch(kit.node, ref, kit.moment, &episode, &alarms), RP_E_IO);
    memory_store_fail_reads(kit.store, 0);
    kit_end(&kit);

    kit = kit_new(7, RP_ROLE_CAMP);
    strcpy(kit.config.modem, "kiss");
    kit.moment.synced = false;
    kit_start(&kit);
    ref = kit_open(&kit, "A");
    assert_non_null(kit_alarm(&kit, ref, "clock"));
    assert_null(kit_alarm(&kit, ref, "radio"));
    kit_pass(&kit, 300);
    assert_non_null(kit_alarm(&kit, ref, "radio"));
    rp_node_line_opened(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "radio"));
    rp_node_line_closed(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "radio"));
    kit_pass(&kit, 300);
    assert_non_null(kit_alarm(&kit, ref, "radio"));
    kit.moment.synced = true;
    rp_node_tick(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "clock"));
    kit_end(&kit);
}

static struct rp_node_status status_of(struct kit *kit)
{
    struct rp_node_status status;
    rp_node_status(kit->node, kit->moment, &status);
    return status;
}

/* 6.5 16: a person is told that the clock was set back while nobody vouches for the time; a note in
 * the log alone is read by nobody. */
static void a_clock_set_back_is_told(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.synced = false;
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    kit_pass(&kit, 600);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    kit.moment.unix_s += 7200; /* forwards is no step back */
    rp_node_tick(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    uint32_t at_s = rp_node_net_time(kit.node, kit.moment);
    kit.moment.unix_s -= 3600;
    rp_node_tick(kit.node, kit.moment);
    kit_pass(&kit, 60);
    assert_non_null(kit_alarm(&kit, ref, "clock-back"));
    assert_string_equal(kit_alarm(&kit, ref, "clock-back")->reason,
                        "this station's clock was set back by 60 min");
    assert_int_equal(kit_alarm(&kit, ref, "clock-back")->since_s, at_s);
    assert_int_equal(status_of(&kit).clock_back_s, 3600);
    kit_restart(&kit); /* the program: the same alarm, so that an answer to it holds */
    assert_non_null(kit_alarm(&kit, ref, "clock-back"));
    assert_int_equal(kit_alarm(&kit, ref, "clock-back")->since_s, at_s);
    kit.moment.unix_s += 3600; /* put right again */
    rp_node_tick(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    assert_int_equal(status_of(&kit).clock_back_s, 0);
    kit.moment.unix_s -= 1800;
    kit_restart(&kit); /* set back while the program was not running */
    assert_non_null(kit_alarm(&kit, ref, "clock-back"));
    kit.moment.synced = true; /* now somebody vouches for it */
    rp_node_tick(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    kit_restart(&kit);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    kit.moment.unix_s -= 600; /* whoever vouches for it has set it */
    rp_node_tick(kit.node, kit.moment);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    kit_end(&kit);
}

/* A computer whose clock has no battery, started again: what nobody vouched for begins anew. */
static void a_clock_that_lost_its_time_while_off_is_told(void **state)
{
    (void)state;
    for (int heard = 0; heard < 2; heard++) { /* before: its own time, or the net's */
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        kit.moment.synced = false;
        kit_start(&kit);
        struct rp_episode_ref ref = kit_open(&kit, "A");
        if (heard) {
            rp_clock_hear(kit.node, 2, rp_node_net_time(kit.node, kit.moment), 2);
        }
        kit_pass(&kit, 7200);
        rp_node_tick(kit.node, kit.moment); /* kept every hour */
        kit_stop(&kit);
        kit.config.boot++;
        kit.moment.now_us = 20 * NODE_NET_SECOND_US;
        kit_start(&kit); /* its clock went on: nothing to tell */
        assert_null(kit_alarm(&kit, ref, "clock-back"));
        kit_stop(&kit);
        kit.config.boot++;
        kit.moment.unix_s -= 3 * 86400;
        kit_start(&kit);
        assert_non_null(kit_alarm(&kit, ref, "clock-back"));
        assert_string_equal(kit_alarm(&kit, ref, "clock-back")->reason,
                            "this station's clock was 3 days or more behind at its start");
        kit.moment.unix_s += 3 * 86400; /* set right by hand: net time does not follow */
        rp_node_tick(kit.node, kit.moment);
        assert_non_null(kit_alarm(&kit, ref, "clock-back"));
        rp_clock_hear(kit.node, 2, START_NET_S + 9000, 2); /* the net has the time */
        assert_null(kit_alarm(&kit, ref, "clock-back"));
        kit.moment.unix_s -= 3600; /* and keeps it, whatever the own clock does */
        rp_node_tick(kit.node, kit.moment);
        assert_null(kit_alarm(&kit, ref, "clock-back"));
        kit_end(&kit);
    }
}

/* What was set back under a running computer goes back at the next start of it: once, not twice.
 * Set right before the start after that, the alarm is over. */
static void a_clock_set_back_goes_back_at_a_start(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.synced = false;
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    kit_pass(&kit, 600);
    kit.moment.unix_s -= 3600;
    rp_node_tick(kit.node, kit.moment);
    assert_string_equal(kit_alarm(&kit, ref, "clock-back")->reason,
                        "this station's clock was set back by 60 min");
    for (int again = 0; again < 2; again++) {
        kit_stop(&kit);
        kit.config.boot++;
        kit_start(&kit);
        assert_string_equal(kit_alarm(&kit, ref, "clock-back")->reason,
                            "this station's clock was 60 min or more behind at its start");
        assert_int_equal(kit_alarm(&kit, ref, "clock-back")->since_s, START_NET_S + 600 - 3600);
    }
    kit_stop(&kit);
    kit.config.boot++;
    kit.moment.unix_s += 3600;
    kit_start(&kit);
    assert_null(kit_alarm(&kit, ref, "clock-back"));
    kit_end(&kit);
}

static void chamber(struct kit *kit, struct rp_episode_ref ref, enum rp_phase phase)
{
    struct rp_record record = {.kind = RP_REC_CHAMBER, .episode = ref};
    record.as.chamber.phase = (uint8_t)phase;
    record.as.chamber.session = 1;
    kit_enter(kit, &record);
}

/* 6.4 H15, B9 (ours): its own battery, since when it is low. */
static void the_battery_is_told(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    assert_null(kit_alarm(&kit, ref, "battery"));
    rp_node_set_battery(kit.node, 21, kit.moment);
    assert_null(kit_alarm(&kit, ref, "battery"));
    rp_node_set_battery(kit.node, 20, kit.moment);
    uint32_t low_s = rp_node_net_time(kit.node, kit.moment);
    kit_pass(&kit, 600);
    rp_node_set_battery(kit.node, 15, kit.moment);
    assert_int_equal(kit_alarm(&kit, ref, "battery")->since_s, low_s);
    kit_pass(&kit, 600);
    rp_node_set_battery(kit.node, 10, kit.moment);
    assert_int_equal(kit_alarm(&kit, ref, "battery")->since_s, low_s + 1200);
    struct rp_node_status status;
    rp_node_status(kit.node, kit.moment, &status);
    assert_int_equal(status.battery_pct, 10);
    assert_int_equal(kit_alarm(&kit, ref, "battery")->sound, RP_SOUND_LOUD);
    rp_node_set_battery(kit.node, 80, kit.moment);
    assert_null(kit_alarm(&kit, ref, "battery"));
    kit_pass(&kit, 600);
    rp_node_set_battery(kit.node, 9, kit.moment);
    assert_int_equal(kit_alarm(&kit, ref, "battery")->since_s, low_s + 1800);
    rp_node_set_battery(kit.node, 101, kit.moment);
    assert_null(kit_alarm(&kit, ref, "battery"));
    rp_node_set_battery(kit.node, -1, kit.moment);
    assert_null(kit_alarm(&kit, ref, "battery"));
    kit_end(&kit);
}

/* One battery, one alarm, however many patients. */
static void the_station_is_told_of_once(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref a = kit_open(&kit, "A"), b = kit_open(&kit, "B");
    rp_node_set_battery(kit.node, 5, kit.moment);
    kit_pass(&kit, 1800);
    for (int i = 0; i < 2; i++) {
        assert_non_null(kit_alarm(&kit, a, "battery"));
        assert_null(kit_alarm(&kit, b, "battery"));
        assert_non_null(kit_alarm(&kit, b, "why-not-down")); /* the patient's own are told */
    }
    kit_close(&kit, a);
    assert_null(kit_alarm(&kit, a, "battery"));
    assert_non_null(kit_alarm(&kit, b, "battery"));
    assert_null(kit_alarm(&kit, a, "battery"));
    kit_end(&kit);
}

static void start_row(struct node_net *net, uint64_t seed, size_t relays)
{
    print_message("seed %lu\n", (unsigned long)seed);
    node_net_start_row(net, seed, relays, 0);
    node_net_up_all(net);
}

static const struct rp_alarm *find_at(struct node_net *net, size_t index, struct rp_episode_ref ref,
                                      const char *rule)
{
    return kit_alarm_at(net->at[index].node, node_net_moment(net, index), ref, rule);
}

/* 6.4 B9: base is told of a hop whose battery is low, that is weak, and that is heard no more. */
static void hops_are_told_at_base(void **state)
{
    (void)state;
    struct node_net net;
    start_row(&net, 611, 0);
    rp_node_set_battery(net.at[0].node, 18, node_net_moment(&net, 0));
    struct rp_episode_ref ref = node_net_open(&net, 0, "A");
    node_net_run(&net, 600 * NODE_NET_SECOND_US);
    assert_non_null(find_at(&net, 1, ref, "hop-battery"));
    assert_int_equal(find_at(&net, 1, ref, "hop-battery")->subject, 7);
    assert_null(find_at(&net, 1, ref, "hop-lost"));
    assert_null(find_at(&net, 1, ref, "hop-weak"));
    uint32_t since_s = find_at(&net, 1, ref, "hop-battery")->since_s;
    rp_node_set_battery(net.at[0].node, 25, node_net_moment(&net, 0)); /* low until above 25 */
    for (int i = 0; i < 40; i++) { /* a link that loses most: reports keep coming */
        node_net_link(&net, 0, 1, 900);
        node_net_note(&net, 0, ref, "still here");
        node_net_run(&net, 120 * NODE_NET_SECOND_US);
        find_at(&net, 1, ref, "hop-weak"); /* as the daemon looks, now and then */
    }
    assert_non_null(find_at(&net, 1, ref, "hop-weak"));
    assert_int_equal(find_at(&net, 1, ref, "hop-battery")->since_s, since_s);
    node_net_link(&net, 0, 1, 0);
    node_net_run(&net, 3600 * NODE_NET_SECOND_US);
    node_net_down(&net, 0);
    node_net_run(&net, 3500 * NODE_NET_SECOND_US);
    rp_time_us waited_us = 0;
    while (find_at(&net, 1, ref, "hop-lost") == NULL && waited_us < 7200 * NODE_NET_SECOND_US) {
        node_net_run(&net, 60 * NODE_NET_SECOND_US);
        waited_us += 60 * NODE_NET_SECOND_US;
    }
    assert_non_null(find_at(&net, 1, ref, "hop-lost"));
    assert_null(find_at(&net, 1, ref, "hop-weak"));
    since_s = find_at(&net, 1, ref, "hop-lost")->since_s;
    node_net_run(&net, 1800 * NODE_NET_SECOND_US);
    assert_int_equal(find_at(&net, 1, ref, "hop-lost")->since_s, since_s);
    node_net_up(&net, 0);
    rp_node_set_battery(net.at[0].node, 90, node_net_moment(&net, 0));
    node_net_run(&net, 1800 * NODE_NET_SECOND_US);
    assert_null(find_at(&net, 1, ref, "hop-lost"));
    assert_null(find_at(&net, 1, ref, "hop-battery"));
    node_net_stop(&net);
}

/* Who fell silent before base was restarted is missed all the same: 60 min after the start, since
 * nobody listened before it; and what was lost before a restart is lost at once. */
static void a_hop_is_missed_over_a_restart(void **state)
{
    (void)state;
    struct node_net net;
    start_row(&net, 613, 0);
    struct rp_episode_ref ref = node_net_open(&net, 0, "A");
    for (int i = 0; i < 20; i++) {
        node_net_run(&net, 60 * NODE_NET_SECOND_US);
        assert_null(find_at(&net, 1, ref, "hop-lost"));
    }
    uint32_t silent_s = rp_net_seconds(net.at[1].node, node_net_moment(&net, 1));
    node_net_down(&net, 0);
    node_net_run(&net, 900 * NODE_NET_SECOND_US);
    node_net_restart(&net, 1);
    node_net_run(&net, 3590 * NODE_NET_SECOND_US);
    assert_null(find_at(&net, 1, ref, "hop-lost"));
    node_net_run(&net, 11 * NODE_NET_SECOND_US);
    const struct rp_alarm *lost = find_at(&net, 1, ref, "hop-lost");
    assert_non_null(lost);
    assert_int_equal(lost->subject, 7);
    assert_in_range(lost->value_s, silent_s - 1200, silent_s); /* kept every 10 min */
    uint32_t since_s = lost->since_s;
    node_net_restart(&net, 1);
    lost = find_at(&net, 1, ref, "hop-lost");
    assert_non_null(lost);
    assert_int_equal(lost->since_s, since_s);
    assert_null(find_at(&net, 1, ref, "hop-weak"));
    node_net_up(&net, 0);
    node_net_run(&net, 1800 * NODE_NET_SECOND_US);
    assert_null(find_at(&net, 1, ref, "hop-lost"));
    node_net_stop(&net);
}

/* A station heard by chance alone, while the way leads over another, is no hop. */
static void who_is_hardly_heard_is_no_hop(void **state)
{
    (void)state;
    struct node_net net;
    start_row(&net, 612, 1);
    node_net_link(&net, 0, 2, 850);
    struct rp_episode_ref ref = node_net_open(&net, 0, "A");
    bool heard = false;
    for (int i = 0; i < 60; i++) {
        node_net_note(&net, 0, ref, "still here");
        node_net_run(&net, 120 * NODE_NET_SECOND_US);
        const struct rp_alarm *weak = find_at(&net, 2, ref, "hop-weak");
        assert_true(weak == NULL || weak->subject != 7);
        struct rp_mesh_neighbour neighbours[RP_STATION_MAX];
        size_t count = rp_mesh_neighbours(net.at[2].node->mesh, neighbours, RP_STATION_MAX);
        for (size_t n = 0; n < count; n++) {
            heard = heard || (neighbours[n].station == 7 && neighbours[n].in_pct < 30);
        }
    }
    assert_true(heard); /* it was a neighbour, and a weak one */
    node_net_stop(&net);
}

static struct rp_watch_station station_of(struct kit *kit, struct rp_episode_ref ref)
{
    struct rp_watch_station station;
    rp_node_watch_station(kit->node, kit_fold(kit, ref), kit->moment, &station);
    return station;
}

static void assert_near(uint32_t time_s, uint32_t expected_s)
{
    assert_in_range(time_s, expected_s - 120, expected_s + 120);
}

/* Sunset on 25 February 2026 (day 55 of net time), computed with PyEphem 4.1.4 with the horizon at
 * -0:50 and no refraction: 12:11:42Z at 28.1041 N 86.7523 E, 22:22:33Z at 45.9 N 70 W. */
static void the_light_is_the_patients(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    assert_false(station_of(&kit, ref).has_daylight_end); /* nobody said where this is */
    kit_stop(&kit);
    kit.config.position =
        (struct rp_position){.present = true, .lat_e6 = 28104100, .lon_e6 = 86752300};
    kit_start(&kit);
    assert_true(station_of(&kit, ref).has_daylight_end);
    assert_near(station_of(&kit, ref).daylight_end_s, 55 * 86400 + 12 * 3600 + 11 * 60 + 42);
    struct rp_record record = {.kind = RP_REC_EPISODE};
    record.as.opened.position =
        (struct rp_position){.present = true, .lat_e6 = 45900000, .lon_e6 = -70000000};
    kit_enter(&kit, &record);
    ref = record.episode;
    assert_near(station_of(&kit, ref).daylight_end_s, 55 * 86400 + 22 * 3600 + 22 * 60 + 33);
    record = (struct rp_record){.kind = RP_REC_EVACUATION, .episode = ref};
    record.as.evacuation.position = kit.config.position; /* the newest word of where */
    kit_enter(&kit, &record);
    assert_near(station_of(&kit, ref).daylight_end_s, 55 * 86400 + 12 * 3600 + 11 * 60 + 42);
    record = (struct rp_record){.kind = RP_REC_EVACUATION, .episode = ref};
    record.as.evacuation.position = (struct rp_position){.present = true, .lat_e6 = -89000000};
    kit_enter(&kit, &record);
    assert_false(station_of(&kit, ref).has_daylight_end); /* the sun does not set there */
    kit_end(&kit);
}

/* Acceptance: phases, holds and totals right after restart and clock step, error below 2 s/h. */
static void the_treatment_clock_outlives_restart_and_step(void **state)
{
    (void)state;
    static const int64_t steps_s[] = {0, 3600, -3600, 86400 * 200, -1800};
    for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        struct rp_course course;
        kit.moment.synced = false; /* no clock but its own */
        kit_start(&kit);
        struct rp_episode_ref ref = kit_open(&kit, "A");
        struct rp_record record = {.kind = RP_REC_DESCENT, .episode = ref};
        kit_enter(&kit, &record);
        chamber(&kit, ref, RP_PHASE_CLOSED);
        kit_pass(&kit, 120);
        chamber(&kit, ref, RP_PHASE_PRESSURISING);
        kit_pass(&kit, 300);
        chamber(&kit, ref, RP_PHASE_AT_PRESSURE);
        kit_pass(&kit, 1200);
        kit.moment.unix_s += steps_s[i]; /* somebody sets the clock */
        kit_pass(&kit, 600);
        if (i % 2 == 0) {
            rp_node_tick(kit.node, kit.moment); /* else the restart is the first to see it */
        }
        kit_restart(&kit);
        chamber(&kit, ref, RP_PHASE_HOLD);
        kit_pass(&kit, 60);
        chamber(&kit, ref, RP_PHASE_AT_PRESSURE);
        kit_pass(&kit, 1740);
        kit_fold(&kit, ref);
        rp_course_of(kit_fold(&kit, ref), NULL, rp_node_net_time(kit.node, kit.moment), &course);
        assert_in_range(course.session_s, 3598, 3602);
        assert_in_range(course.phase_s, 1738, 1742);
        assert_int_equal(course.phase, RP_PHASE_AT_PRESSURE);
        assert_int_equal(kit_fold(&kit, ref)->sessions.at[0].holds, 1);
        chamber(&kit, ref, RP_PHASE_DEFLATING);
        kit_pass(&kit, 180);
        chamber(&kit, ref, RP_PHASE_OUT);
        kit_restart(&kit);
        rp_course_of(kit_fold(&kit, ref), NULL, rp_node_net_time(kit.node, kit.moment), &course);
        assert_in_range(course.total_s, 3598, 3602);
        assert_in_range(course.deflation_s, 178, 182);
        assert_true(course.rebound);
        assert_false(course.clock_stepped);
        kit_end(&kit);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_hold_where_they_belong),
        cmocka_unit_test(an_urgent_record_that_stays_is_told),
        cmocka_unit_test(the_station_tells_of_itself),
        cmocka_unit_test(the_battery_is_told),
        cmocka_unit_test(a_clock_set_back_is_told),
        cmocka_unit_test(a_clock_that_lost_its_time_while_off_is_told),
        cmocka_unit_test(a_clock_set_back_goes_back_at_a_start),
        cmocka_unit_test(the_station_is_told_of_once),
        cmocka_unit_test(hops_are_told_at_base),
        cmocka_unit_test(a_hop_is_missed_over_a_restart),
        cmocka_unit_test(who_is_hardly_heard_is_no_hop),
        cmocka_unit_test(the_light_is_the_patients),
        cmocka_unit_test(the_treatment_clock_outlives_restart_and_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
