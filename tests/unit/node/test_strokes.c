/* Strokes of the pump: recorded in stretches by person, kept over a restart. The spans (two minutes
 * of quiet, ten minutes of one stretch, 20 s lost at most) are ours. */
#include "rp_test.h"

#include <string.h>

#include "node_kit.h"
#include "node_net.h"

static struct rp_episode_ref at_pressure(struct kit *kit)
{
    struct rp_episode_ref ref = kit_open(kit, "A");
    struct rp_record record = {.kind = RP_REC_DESCENT, .episode = ref};
    kit_enter(kit, &record);
    record = (struct rp_record){.kind = RP_REC_CHAMBER, .episode = ref};
    record.as.chamber.phase = RP_PHASE_PRESSURISING;
    record.as.chamber.session = 1;
    kit_enter(kit, &record);
    return ref;
}

/* `count` strokes, one each 5 s; the clock stands at the last one. */
static void pump(struct kit *kit, struct rp_episode_ref ref, const char *pumper, int count)
{
    for (int i = 0; i < count; i++) {
        kit_pass(kit, 5);
        rp_node_stroke(kit->node, ref, pumper, kit->moment);
    }
}

static void tick(struct kit *kit, int64_t span_s)
{
    kit_pass(kit, span_s);
    rp_node_tick(kit->node, kit->moment);
}

static const struct rp_rec_pumping *stretch(struct kit *kit, struct rp_episode_ref ref,
                                            uint16_t index)
{
    const struct rp_episode *ep = kit_fold(kit, ref);
    assert_true(index < ep->pumping.count);
    return &ep->pumping.at[index].what;
}

static void the_rules_hear_strokes(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    rp_node_stroke(kit.node, ref, "Jory", kit.moment);
    kit_pass(&kit, 60);
    assert_non_null(kit_alarm(&kit, ref, "pump"));
    rp_node_stroke(kit.node, ref, "", kit.moment); /* whoever it was: Jory still */
    assert_null(kit_alarm(&kit, ref, "pump"));
    kit_pass(&kit, 660);
    assert_non_null(kit_alarm(&kit, ref, "rotation"));
    rp_node_stroke(kit.node, ref, "Jory", kit.moment);
    assert_non_null(kit_alarm(&kit, ref, "rotation"));
    rp_node_stroke(kit.node, ref, "Sabe", kit.moment);
    assert_null(kit_alarm(&kit, ref, "rotation"));
    kit_end(&kit);
}

static void stretches_are_recorded(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    assert_int_equal(rp_node_wake(kit.node), RP_NEVER);
    pump(&kit, ref, "Jory", 37);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 0);
    pump(&kit, ref, "Sabe", 12); /* another person begins another stretch */
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    assert_string_equal(stretch(&kit, ref, 0)->pumper, "Jory");
    assert_int_equal(stretch(&kit, ref, 0)->strokes, 37);
    assert_int_equal(stretch(&kit, ref, 0)->spell_s, 180);
    assert_int_equal(rp_node_wake(kit.node), kit.moment.now_us + 120 * NODE_NET_SECOND_US);
    tick(&kit, 119);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    tick(&kit, 1); /* two minutes of quiet end one; it happened at its last stroke */
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 2);
    assert_int_equal(stretch(&kit, ref, 1)->strokes, 12);
    assert_int_equal(kit_fold(&kit, ref)->pumping.at[1].from.happened_s,
                     rp_node_net_time(kit.node, kit.moment) - 120);
    assert_int_equal(rp_node_wake(kit.node), RP_NEVER);
    tick(&kit, 3600);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 2);
    pump(&kit, ref, "", 250); /* nobody named: Sabe still; cut after ten minutes, without a gap */
    tick(&kit, 120);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 5);
    assert_string_equal(stretch(&kit, ref, 2)->pumper, "Sabe");
    uint32_t strokes = 0, spell_s = 0;
    for (uint16_t i = 2; i < 5; i++) {
        strokes += stretch(&kit, ref, i)->strokes;
        spell_s += stretch(&kit, ref, i)->spell_s;
        assert_true(stretch(&kit, ref, i)->spell_s <= 600);
    }
    assert_int_equal(strokes, 250);
    assert_int_equal(spell_s, 249 * 5);
    kit_end(&kit);
}

/* What is told of no episode is for the rules alone. */
static void strokes_of_no_episode_are_not_recorded(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit), none = {0, 0};
    uint32_t writes = memory_store_writes(kit.store);
    pump(&kit, none, "Jory", 40);
    tick(&kit, 200);
    assert_int_equal(memory_store_writes(kit.store), writes);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 0);
    assert_non_null(kit_alarm(&kit, ref, "pump"));
    pump(&kit, none, "Jory", 10);
    pump(&kit, ref, "Jory", 10); /* named now: a stretch of its own */
    tick(&kit, 120);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    assert_int_equal(stretch(&kit, ref, 0)->strokes, 10);
    kit_end(&kit);
}

/* A restart forgets at most 20 s of strokes, at every moment of a stretch; the count of writes is
 * bounded too. */
static void a_restart_loses_little(void **state)
{
    (void)state;
    for (int before = 1; before <= 30; before++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        kit_start(&kit);
        struct rp_episode_ref ref = at_pressure(&kit);
        uint32_t writes = memory_store_writes(kit.store);
        pump(&kit, ref, "Jory", before);
        assert_true(memory_store_writes(kit.store) - writes <= 1 + (uint32_t)before * 5 / 20);
        kit_restart(&kit);
        kit_pass(&kit, 61); /* the rules know who pumped and when */
        assert_non_null(kit_alarm(&kit, ref, "pump"));
        rp_node_stroke(kit.node, ref, "", kit.moment);
        assert_null(kit_alarm(&kit, ref, "pump"));
        tick(&kit, 120);
        assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
        assert_string_equal(stretch(&kit, ref, 0)->pumper, "Jory");
        assert_in_range(stretch(&kit, ref, 0)->strokes, before > 3 ? before - 3 : 1, before + 1);
        assert_int_equal(stretch(&kit, ref, 0)->spell_s, (before - 1) * 5 + 61);
        kit_restart(&kit); /* what is recorded is not recorded again */
        tick(&kit, 300);
        assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
        kit_end(&kit);
    }
}

/* A power cut between the record and what is kept of the strokes: not recorded twice. */
static void a_cut_after_the_record_does_not_repeat_it(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    pump(&kit, ref, "Jory", 25);
    memory_store_fail(kit.store, (struct memory_fault){.after = 1, .count = 9, .code = RP_E_IO});
    tick(&kit, 120);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    memory_store_fail(kit.store, (struct memory_fault){0});
    kit_restart(&kit);
    tick(&kit, 300);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    kit_end(&kit);
}

static void a_planned_end_loses_nothing(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit), none = {0, 0};
    rp_node_settle(kit.node); /* nothing to keep */
    pump(&kit, none, "Jory", 2);
    rp_node_settle(kit.node);
    pump(&kit, ref, "Jory", 26);
    rp_node_stroke(kit.node, ref, "Jory", kit.moment); /* in the same second */
    rp_node_settle(kit.node);
    uint32_t writes = memory_store_writes(kit.store);
    rp_node_settle(kit.node);
    assert_int_equal(memory_store_writes(kit.store), writes);
    kit_restart(&kit);
    tick(&kit, 120);
    assert_int_equal(stretch(&kit, ref, 0)->strokes, 27);
    assert_int_equal(stretch(&kit, ref, 0)->spell_s, 125);
    kit_end(&kit);
}

static void a_long_absence_ends_the_stretch(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    pump(&kit, ref, "Jory", 25);
    uint32_t last_s = rp_node_net_time(kit.node, kit.moment);
    kit_stop(&kit);
    kit_pass(&kit, 7200);
    kit_start(&kit);
    tick(&kit, 120);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    assert_in_range(kit_fold(&kit, ref)->pumping.at[0].from.happened_s, last_s - 20, last_s);
    kit_end(&kit);
}

/* A computer that begins in the past: net time goes on, and the strokes with it. */
static void a_clock_that_lost_the_time_keeps_the_strokes(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit.moment.synced = false;
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    pump(&kit, ref, "Jory", 25);
    rp_node_settle(kit.node);
    kit_stop(&kit);
    kit.config.boot++;
    kit.moment.unix_s = 1000;
    kit_start(&kit);
    rp_node_stroke(kit.node, ref, "", kit.moment);
    tick(&kit, 120);
    assert_true(kit_fold(&kit, ref)->pumping.count >= 1);
    assert_string_equal(stretch(&kit, ref, 0)->pumper, "Jory");
    kit_end(&kit);
}

static void a_full_disk_is_tried_again(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    pump(&kit, ref, "Jory", 25);
    memory_store_fail(kit.store, (struct memory_fault){.count = 1, .code = RP_E_NO_SPACE});
    tick(&kit, 120);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 0);
    assert_int_equal(rp_node_wake(kit.node), kit.moment.now_us + 60 * NODE_NET_SECOND_US);
    tick(&kit, 60);
    assert_int_equal(kit_fold(&kit, ref)->pumping.count, 1);
    assert_int_equal(stretch(&kit, ref, 0)->strokes, 25);
    kit_end(&kit);
}

/* Strokes are no word from a person: base goes on waiting for its report. */
static void strokes_are_no_report(void **state)
{
    (void)state;
    struct kit kit = kit_new(2, RP_ROLE_BASE);
    kit_start(&kit);
    struct rp_episode_ref ref = at_pressure(&kit);
    for (int i = 0; i < 6; i++) {
        pump(&kit, ref, "Jory", 120);
        tick(&kit, 120);
    }
    assert_true(kit_fold(&kit, ref)->pumping.count >= 6);
    assert_non_null(kit_alarm(&kit, ref, "report"));
    kit_end(&kit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_rules_hear_strokes),
        cmocka_unit_test(stretches_are_recorded),
        cmocka_unit_test(strokes_of_no_episode_are_not_recorded),
        cmocka_unit_test(a_restart_loses_little),
        cmocka_unit_test(a_cut_after_the_record_does_not_repeat_it),
        cmocka_unit_test(a_planned_end_loses_nothing),
        cmocka_unit_test(a_long_absence_ends_the_stretch),
        cmocka_unit_test(a_clock_that_lost_the_time_keeps_the_strokes),
        cmocka_unit_test(a_full_disk_is_tried_again),
        cmocka_unit_test(strokes_are_no_report),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
