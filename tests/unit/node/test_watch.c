/* The watch rules at a station: whose rules hold, what the station itself knows, and the treatment
 * clock over a restart and a step of the wall clock. */
#include "rp_test.h"

#include <string.h>

#include "node_kit.h"
#include "node_net.h"

static struct rp_alarms alarms;
static const struct rp_episode *episode;

static const struct rp_alarm *find(struct kit *kit, struct rp_episode_ref ref, const char *rule)
{
    assert_int_equal(rp_node_watch(kit->node, ref, kit->moment, &episode, &alarms), RP_OK);
    for (size_t i = 0; i < alarms.count; i++) {
        if (strcmp(alarms.at[i].rule->word, rule) == 0) {
            return &alarms.at[i];
        }
    }
    return NULL;
}

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
    assert_null(find(&kit, ref, "unacked"));
    struct rp_record record = {.kind = RP_REC_EVACUATION, .episode = ref};
    kit_enter(&kit, &record);
    kit_pass(&kit, 60);
    record = (struct rp_record){.kind = RP_REC_EVACUATION, .episode = ref};
    kit_enter(&kit, &record);
    kit_pass(&kit, 239);
    assert_null(find(&kit, ref, "unacked"));
    kit_pass(&kit, 1); /* of the older one */
    assert_non_null(find(&kit, ref, "unacked"));
    assert_int_equal(find(&kit, ref, "unacked")->sound, RP_SOUND_SOFT);
    kit_restart(&kit);
    kit_pass(&kit, 600);
    assert_int_equal(find(&kit, ref, "unacked")->sound, RP_SOUND_LOUD);
    kit_end(&kit);
    kit = kit_new(2, RP_ROLE_BASE); /* base waits for nobody */
    kit_start(&kit);
    ref = kit_open(&kit, "A");
    record = (struct rp_record){.kind = RP_REC_EVACUATION, .episode = ref};
    kit_enter(&kit, &record);
    kit_pass(&kit, 3600);
    assert_null(find(&kit, ref, "unacked"));
    assert_non_null(find(&kit, ref, "request"));
    kit_end(&kit);
}

static void the_station_tells_of_itself(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    kit_pass(&kit, 600);
    assert_null(find(&kit, ref, "radio")); /* it has none */
    assert_null(find(&kit, ref, "clock"));
    assert_null(find(&kit, ref, "disk"));
    memory_store_fail(kit.store, (struct memory_fault){.count = 1, .code = RP_E_NO_SPACE});
    struct rp_record record = {.kind = RP_REC_NOTE, .episode = ref};
    struct rp_record_ref made;
    strcpy(record.as.note.text, "lost");
    assert_true(rp_node_enter(kit.node, &record, kit.moment, &made, &kit.problem) < 0);
    assert_non_null(find(&kit, ref, "disk"));
    kit_pass(&kit, 599);
    assert_non_null(find(&kit, ref, "disk"));
    kit_pass(&kit, 1);
    assert_null(find(&kit, ref, "disk"));
    memory_store_fail_reads(kit.store, RP_E_IO);
    assert_int_equal(rp_node_watch(kit.node, ref, kit.moment, &episode, &alarms), RP_E_IO);
    memory_store_fail_reads(kit.store, 0);
    kit_end(&kit);

    kit = kit_new(7, RP_ROLE_CAMP);
    strcpy(kit.config.modem, "kiss");
    kit.moment.synced = false;
    kit_start(&kit);
    ref = kit_open(&kit, "A");
    assert_non_null(find(&kit, ref, "clock"));
    assert_null(find(&kit, ref, "radio"));
    kit_pass(&kit, 300);
    assert_non_null(find(&kit, ref, "radio"));
    rp_node_line_opened(kit.node, kit.moment);
    assert_null(find(&kit, ref, "radio"));
    rp_node_line_closed(kit.node, kit.moment);
    assert_null(find(&kit, ref, "radio"));
    kit_pass(&kit, 300);
    assert_non_null(find(&kit, ref, "radio"));
    kit.moment.synced = true;
    rp_node_tick(kit.node, kit.moment);
    assert_null(find(&kit, ref, "clock"));
    kit_end(&kit);
}

static void chamber(struct kit *kit, struct rp_episode_ref ref, enum rp_phase phase)
{
    struct rp_record record = {.kind = RP_REC_CHAMBER, .episode = ref};
    record.as.chamber.phase = (uint8_t)phase;
    record.as.chamber.session = 1;
    kit_enter(kit, &record);
}

static void strokes_are_of_this_run(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "A");
    struct rp_record record = {.kind = RP_REC_DESCENT, .episode = ref};
    kit_enter(&kit, &record);
    chamber(&kit, ref, RP_PHASE_PRESSURISING);
    rp_node_stroke(kit.node, "Jory", kit.moment);
    kit_pass(&kit, 60);
    assert_non_null(find(&kit, ref, "pump"));
    rp_node_stroke(kit.node, "", kit.moment); /* whoever it was: Jory still */
    assert_null(find(&kit, ref, "pump"));
    kit_pass(&kit, 660);
    assert_non_null(find(&kit, ref, "rotation"));
    rp_node_stroke(kit.node, "Jory", kit.moment);
    assert_non_null(find(&kit, ref, "rotation"));
    rp_node_stroke(kit.node, "Sabe", kit.moment);
    assert_null(find(&kit, ref, "rotation"));
    kit_restart(&kit);
    kit_pass(&kit, 60);
    assert_null(find(&kit, ref, "pump")); /* not known any more, and not guessed */
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
        rp_node_tick(kit.node, kit.moment);
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
        if (steps_s[i] == 0) {
            kit_restart(&kit);
        }
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
        cmocka_unit_test(strokes_are_of_this_run),
        cmocka_unit_test(the_treatment_clock_outlives_restart_and_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
