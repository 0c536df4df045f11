/* The treatment clock. Common practice, no source: at least 1 h AMS, 2-4 h HAPE, 4-6 h HACE,
 * deflation about 3 min. Field series 2, 4, 6 h: Taber 1990. Session of 1 h: pararescue handbook,
 * 8th ed. Watch for relapse 12 h: Keller 1995, Bartsch 1993. */
#include "watch_kit.h"

#include <stdio.h>

#include "base/rng.h"

static struct rp_course course;

static void clock_at(uint32_t minute)
{
    rp_episode_finish(&kit, minute * MIN);
    rp_course_of(&kit, NULL, minute * MIN, &course);
}

static void two_sessions(void)
{
    watch_start();
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_chamber(112, RP_PHASE_PRESSURISING, 1);
    watch_chamber(115, RP_PHASE_AT_PRESSURE, 1);
    watch_chamber(175, RP_PHASE_DEFLATING, 1);
    watch_chamber(178, RP_PHASE_OUT, 1);
    watch_descent(200, false, 0);
    watch_chamber(240, RP_PHASE_CLOSED, 2);
    watch_chamber(245, RP_PHASE_AT_PRESSURE, 2);
}

static void phases_and_totals(void **state)
{
    (void)state;
    watch_start();
    clock_at(105);
    assert_false(course.inside);
    assert_int_equal(course.sessions, 0);
    assert_int_equal(course.phase, RP_PHASE_NONE);
    two_sessions();
    clock_at(275);
    assert_true(course.inside);
    assert_int_equal(course.session, 2);
    assert_int_equal(course.phase, RP_PHASE_AT_PRESSURE);
    assert_int_equal(course.phase_since_s, 245 * MIN);
    assert_int_equal(course.phase_s, 30 * MIN);
    assert_int_equal(course.session_s, 30 * MIN);
    assert_int_equal(course.session_left_s, 30 * MIN);
    assert_int_equal(course.sessions, 2);
    assert_int_equal(course.total_s, 90 * MIN);
    assert_int_equal(course.unanswered, 0);
    assert_false(course.older_dropped);
    assert_false(course.clock_stepped);
    assert_true(course.has_deflation);
    assert_int_equal(course.deflation_s, 3 * MIN);
    assert_false(course.deflation_fast);
    watch_chamber(280, RP_PHASE_AT_PRESSURE, 2); /* told again: the phase goes on */
    clock_at(320);
    assert_int_equal(course.phase_since_s, 245 * MIN);
    assert_int_equal(course.session_left_s, 0);
    watch_chamber(320, RP_PHASE_DEFLATING, 2);
    clock_at(321);
    assert_int_equal(course.phase, RP_PHASE_DEFLATING);
    assert_int_equal(course.phase_s, MIN);
    watch_chamber(321, RP_PHASE_OUT, 2);
    clock_at(330);
    assert_false(course.inside);
    assert_int_equal(course.session_left_s, 0);
    assert_int_equal(course.deflation_s, MIN);
    assert_true(course.deflation_fast); /* under 90 s */
}

static void plan_goes_by_the_longest_illness(void **state)
{
    (void)state;
    static const struct {
        uint8_t label, illness;
        uint32_t least_min, usual_min, field_min;
    } rows[] = {
        {RP_LABEL_AMS, RP_LABEL_AMS, 60, 60, 120},
        {RP_LABEL_HAPE, RP_LABEL_HAPE, 120, 240, 240},
        {RP_LABEL_HACE, RP_LABEL_HACE, 240, 360, 360},
        {RP_LABEL_HAPE | RP_LABEL_HACE, RP_LABEL_HACE, 240, 360, 360},
        {RP_LABEL_AMS | RP_LABEL_HAPE, RP_LABEL_HAPE, 120, 240, 240},
        {RP_LABEL_OTHER, 0, 0, 0, 0},
        {0, 0, 0, 0, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        kit_start();
        struct rp_record r = kit_record(RP_REC_EPISODE, 100 * MIN);
        r.as.opened.label = rows[i].label;
        kit_add(&r, CAMP, 1);
        clock_at(110);
        assert_int_equal(course.illness, rows[i].illness);
        assert_int_equal(course.plan.least_s, rows[i].least_min * MIN);
        assert_int_equal(course.plan.usual_s, rows[i].usual_min * MIN);
        assert_int_equal(course.plan.field_s, rows[i].field_min * MIN);
    }
    struct rp_watch_plan own = rp_watch_plan_default;
    own.session_s = 2 * 3600;
    two_sessions();
    rp_episode_finish(&kit, 275 * MIN);
    rp_course_of(&kit, &own, 275 * MIN, &course);
    assert_int_equal(course.session_left_s, 90 * MIN);
}

static void rebound_watch(void **state)
{
    (void)state;
    two_sessions();
    clock_at(250);
    assert_false(course.rebound);
    watch_chamber(300, RP_PHASE_OUT, 2);
    clock_at(301);
    assert_true(course.rebound);
    assert_int_equal(course.rebound_from_s, 300 * MIN);
    assert_int_equal(course.rebound_until_s, 1020 * MIN);
    assert_int_equal(course.rebound_check_s, 330 * MIN);
    struct rp_record r = kit_record(RP_REC_STATUS, 310 * MIN);
    r.as.status.temp_dc = kit_value(364);
    r.as.status.temp_site = RP_SITE_ORAL;
    watch_add(&r); /* no look at SpO2 or level */
    clock_at(311);
    assert_int_equal(course.rebound_check_s, 330 * MIN);
    r = kit_record(RP_REC_STATUS, 312 * MIN);
    r.as.status.acvpu.state = RP_UNABLE;
    watch_add(&r);
    clock_at(313);
    assert_int_equal(course.rebound_check_s, 342 * MIN);
    watch_spo2(320, RP_MODE_AIR, 70);
    kit_correct(900, 321 * MIN, watch_last(), kit_ref(0, 0));
    clock_at(322);
    assert_int_equal(course.rebound_check_s, 342 * MIN);
    clock_at(1019);
    assert_true(course.rebound);
    clock_at(1020);
    assert_false(course.rebound);
    r = kit_record(RP_REC_HANDOVER, 330 * MIN);
    watch_add(&r);
    clock_at(331);
    assert_false(course.rebound);
    two_sessions();
    watch_chamber(300, RP_PHASE_OUT, 2);
    r = kit_record(RP_REC_CLOSE, 301 * MIN);
    watch_add(&r);
    clock_at(302);
    assert_false(course.rebound);
    watch_start(); /* taken out before pressure: nothing to lose again */
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_chamber(111, RP_PHASE_OUT, 1);
    clock_at(112);
    assert_false(course.rebound);
    assert_false(course.inside);
}

static void why_not_down_before_each_session(void **state)
{
    (void)state;
    watch_start(); /* answered at 100 */
    clock_at(105);
    assert_false(course.why_not_due);
    assert_int_equal(course.why_not->from.happened_s, 100 * MIN);
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    clock_at(111);
    assert_true(course.why_not_due); /* for the next one */
    assert_true(rp_course_answered(&kit, 1));
    assert_false(rp_course_answered(&kit, 2));
    watch_chamber(120, RP_PHASE_OUT, 1);
    watch_descent(121, false, 0);
    clock_at(122);
    assert_false(course.why_not_due);
    kit_correct(900, 123 * MIN, watch_last(), kit_ref(0, 0));
    clock_at(124);
    assert_true(course.why_not_due);
    watch_chamber(130, RP_PHASE_CLOSED, 2); /* entered late, without an answer */
    clock_at(131);
    assert_int_equal(course.unanswered, 1);
    kit_start();
    clock_at(100);
    assert_true(course.why_not_due);
    assert_null(course.why_not);
    kit_chamber(5, 100 * MIN, RP_PHASE_CLOSED, 255);
    clock_at(101);
    assert_false(course.why_not_due); /* no session can follow */
    assert_int_equal(course.unanswered, 1);
}

/* Within one second the order in one log decides; another log's answer counts. */
static void answers_of_the_same_second(void **state)
{
    (void)state;
    kit_start();
    kit_chamber(10, 100, RP_PHASE_CLOSED, 1);
    struct rp_record r = kit_record(RP_REC_DESCENT, 100);
    kit_add(&r, CAMP, 9);
    rp_episode_finish(&kit, 200);
    assert_false(rp_course_answered(&kit, 2));
    kit_add(&r, CAMP, 11);
    rp_episode_finish(&kit, 200);
    assert_true(rp_course_answered(&kit, 2));
    kit_start();
    kit_chamber(10, 100, RP_PHASE_CLOSED, 1);
    kit_chamber(11, 99, RP_PHASE_CLOSED, 2); /* and this one was an error */
    kit_correct(12, 101, kit_ref(CAMP, 11), kit_ref(0, 0));
    kit_add(&r, BASE, 9);
    rp_episode_finish(&kit, 200);
    assert_true(rp_course_answered(&kit, 2));
}

static void head_end(void **state)
{
    (void)state;
    two_sessions();
    clock_at(250);
    assert_false(course.head_up); /* HACE */
    struct rp_record r = kit_record(RP_REC_EPISODE, 251 * MIN);
    r.as.opened.criteria[RP_CRIT_DYSPNOEA_REST] = RP_FINDING_YES;
    watch_add(&r);
    clock_at(252);
    assert_true(course.head_up);
    r.time_s = 253 * MIN;
    r.as.opened.criteria[RP_CRIT_DYSPNOEA_REST] = RP_FINDING_NO;
    r.as.opened.label = RP_LABEL_HAPE;
    watch_add(&r);
    clock_at(254);
    assert_true(course.head_up);
    watch_chamber(255, RP_PHASE_OUT, 2);
    clock_at(256);
    assert_false(course.head_up);
}

static void a_stepped_clock_is_said(void **state)
{
    (void)state;
    two_sessions();
    watch_chamber(200, RP_PHASE_DEFLATING, 2); /* later in the log, earlier by its clock */
    clock_at(300);
    assert_true(course.clock_stepped);
    kit_correct(900, 301 * MIN, watch_last(), kit_ref(0, 0));
    clock_at(302);
    assert_false(course.clock_stepped);
    /* A late entry is no step: it says when it happened. */
    struct rp_record r = kit_record(RP_REC_CHAMBER, 300 * MIN);
    r.as.chamber.phase = RP_PHASE_HOLD;
    r.as.chamber.session = 1;
    r.ago_s = 180 * MIN;
    watch_add(&r);
    clock_at(303);
    assert_false(course.clock_stepped);
    assert_int_equal(course.total_s, 60 * MIN + 58 * MIN);
    r.time_s = 100 * MIN; /* another station's clock is its own */
    watch_add_at(&r, BASE);
    clock_at(303);
    assert_false(course.clock_stepped);
}

static void odd_entries(void **state)
{
    (void)state;
    watch_start();
    watch_chamber(110, RP_PHASE_NONE, 1); /* a phase that is none */
    clock_at(111);
    assert_false(course.inside);
    watch_chamber(120, RP_PHASE_OUT, 2); /* out before deflating: no deflation time */
    watch_chamber(121, RP_PHASE_DEFLATING, 2);
    clock_at(122);
    assert_false(course.has_deflation);
    struct rp_record r = kit_record(RP_REC_CLOSE, 130 * MIN);
    watch_add(&r);
    clock_at(131);
    assert_false(course.inside); /* closed, whatever was not entered */
    for (uint8_t s = 3; s < 3 + RP_EP_SESSIONS_MAX; s++) {
        watch_chamber(130u + s, RP_PHASE_OUT, s);
    }
    clock_at(300);
    assert_true(course.older_dropped);
    watch_start();
    for (uint32_t i = 0; i <= RP_EP_CHAMBER_MAX; i++) {
        watch_chamber(110 + i, RP_PHASE_AT_PRESSURE, 1);
    }
    clock_at(600);
    assert_true(course.older_dropped);
}

/* The same clock whatever the order of arrival, and after a restart, which is just another fold. */
static void order_of_arrival_changes_nothing(void **state)
{
    (void)state;
    uint64_t seed = 20261125;
    struct rp_rng rng = rp_rng_seeded(seed);
    struct rp_record records[12];
    size_t count = 0;
    static const struct {
        uint32_t minute;
        enum rp_phase phase;
        uint8_t session;
    } events[] = {{110, RP_PHASE_CLOSED, 1},      {112, RP_PHASE_PRESSURISING, 1},
                  {115, RP_PHASE_AT_PRESSURE, 1}, {130, RP_PHASE_HOLD, 1},
                  {133, RP_PHASE_AT_PRESSURE, 1}, {175, RP_PHASE_DEFLATING, 1},
                  {178, RP_PHASE_OUT, 1},         {240, RP_PHASE_CLOSED, 2},
                  {245, RP_PHASE_AT_PRESSURE, 2}, {290, RP_PHASE_OUT, 2}};
    printf("seed %llu\n", (unsigned long long)seed);
    for (size_t i = 0; i < sizeof events / sizeof events[0]; i++) {
        records[count] = kit_record(RP_REC_CHAMBER, events[i].minute * MIN);
        records[count].as.chamber.phase = (uint8_t)events[i].phase;
        records[count++].as.chamber.session = events[i].session;
    }
    records[count++] = kit_record(RP_REC_DESCENT, 109 * MIN);
    records[count++] = kit_record(RP_REC_DESCENT, 200 * MIN);
    for (int round = 0; round < 200; round++) {
        size_t order[12];
        for (size_t i = 0; i < count; i++) {
            size_t j = rp_rng_next(&rng) % (i + 1);
            order[i] = order[j];
            order[j] = i;
        }
        kit_start();
        for (size_t i = 0; i < count; i++) {
            kit_add(&records[order[i]], CAMP, (uint32_t)order[i] + 1);
        }
        clock_at(300);
        assert_int_equal(course.total_s, (60 + 45) * MIN);
        assert_int_equal(course.sessions, 2);
        assert_int_equal(course.unanswered, 0);
        assert_int_equal(course.rebound_until_s, 1010 * MIN);
        assert_int_equal(course.rebound_check_s, 320 * MIN);
        assert_int_equal(course.deflation_s, 3 * MIN);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(phases_and_totals),
        cmocka_unit_test(plan_goes_by_the_longest_illness),
        cmocka_unit_test(rebound_watch),
        cmocka_unit_test(why_not_down_before_each_session),
        cmocka_unit_test(answers_of_the_same_second),
        cmocka_unit_test(head_end),
        cmocka_unit_test(a_stepped_clock_is_said),
        cmocka_unit_test(odd_entries),
        cmocka_unit_test(order_of_arrival_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
