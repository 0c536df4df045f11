/* Rules of the chamber. Triggers: clinical references 6.4 H1, H2, H6, H8, H11-H13, 6.5 1 (ours,
 * design judgement), 1.4; the sources beside each rule in src/incident/watch/rules.c. */
#include "watch_kit.h"

static void in_chamber(void)
{
    watch_start();
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_chamber(112, RP_PHASE_PRESSURISING, 1);
    watch_gauge(115, RP_PHASE_AT_PRESSURE, 1, 1380);
}

static void pump(void **state)
{
    (void)state;
    in_chamber();
    watch_quiet("pump", 130); /* a crew that tells no strokes is not nagged */
    watch_in.station.has_tick = true;
    watch_in.station.tick_s = 120 * MIN;
    assert_null(watch_at_s("pump", 120 * MIN + 59));
    watch_fires("pump", 121, RP_SOUND_LOUD, "no stroke for 60 s");
    assert_int_equal(watch_at_s("pump", 120 * MIN + 119)->sound, RP_SOUND_LOUD);
    watch_fires("pump", 122, RP_SOUND_FAST, "no stroke for 120 s");
    watch_in.station.tick_s = 122 * MIN;
    watch_clears("pump", 122);
    watch_in.station.tick_s = 109 * MIN; /* of the session before */
    watch_quiet("pump", 130);
    watch_in.station.tick_s = 120 * MIN;
    watch_chamber(130, RP_PHASE_HOLD, 1);
    assert_non_null(watch_at("pump", 131)); /* fresh air is needed on a hold too */
    watch_chamber(132, RP_PHASE_DEFLATING, 1);
    watch_clears("pump", 133);
}

static void pump_only_while_inside(void **state)
{
    (void)state;
    watch_start();
    watch_in.station.has_tick = true;
    watch_in.station.tick_s = 105 * MIN;
    watch_quiet("pump", 130);
    watch_chamber(110, RP_PHASE_CLOSED, 1); /* not pressurised yet */
    watch_in.station.tick_s = 111 * MIN;
    watch_quiet("pump", 130);
    watch_chamber(112, RP_PHASE_PRESSURISING, 1);
    assert_non_null(watch_at("pump", 130));
    watch_condition(131, RP_COND_DEAD);
    watch_quiet("pump", 132);
    kit_correct(900, 133 * MIN, kit_ref(CAMP, 13), kit_ref(0, 0)); /* the closing was an error */
    assert_null(watch_at("pump", 134));
}

/* Target 2 psi, 137.9 hPa (Taber 1990); a trial's highest was 199.5 hPa (Imray 2001). */
static void pressure(void **state)
{
    (void)state;
    in_chamber();
    watch_quiet("pressure", 120);
    watch_gauge(120, RP_PHASE_AT_PRESSURE, 1, 1228); /* 137.9 - 15 = 122.9 hPa */
    assert_null(watch_at_s("pressure", 120 * MIN + 59));
    watch_fires("pressure", 121, RP_SOUND_FAST, "gauge 122 hPa, target 137");
    watch_gauge(122, RP_PHASE_AT_PRESSURE, 1, 1229);
    watch_clears("pressure", 130);
    watch_gauge(131, RP_PHASE_AT_PRESSURE, 1, 2000);
    watch_quiet("pressure", 131);
    watch_gauge(132, RP_PHASE_AT_PRESSURE, 1, 2001);
    watch_fires("pressure", 132, RP_SOUND_FAST, "gauge 200 hPa, at most 200");
    kit_correct(900, 133 * MIN, watch_last(), kit_ref(0, 0));
    watch_clears("pressure", 134);
    watch_chamber(140, RP_PHASE_DEFLATING, 1);
    watch_quiet("pressure", 141);
}

/* Too much is too much in every phase that pumps. */
static void pressure_on_the_way_up(void **state)
{
    (void)state;
    watch_start();
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_gauge(111, RP_PHASE_PRESSURISING, 1, 100); /* low on the way up is no alarm */
    watch_quiet("pressure", 115);
    watch_gauge(116, RP_PHASE_PRESSURISING, 1, 2010);
    watch_fires("pressure", 116, RP_SOUND_FAST, "gauge 201 hPa, at most 200");
    watch_gauge(117, RP_PHASE_HOLD, 1, 2100);
    watch_fires("pressure", 117, RP_SOUND_FAST, "gauge 210 hPa, at most 200");
    watch_gauge(118, RP_PHASE_HOLD, 1, 1300);
    watch_clears("pressure", 119);
    watch_gauge(120, RP_PHASE_PRESSURISING, 1, 2010);
    assert_non_null(watch_at("pressure", 120));
    watch_chamber(121, RP_PHASE_DEFLATING, 1);
    watch_clears("pressure", 122);
}

static void pressure_needs_a_reading(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("pressure", 110);
    watch_gauge(111, RP_PHASE_AT_PRESSURE, 1, 900); /* of a session that is over */
    watch_chamber(112, RP_PHASE_OUT, 1);
    watch_chamber(120, RP_PHASE_AT_PRESSURE, 2);
    struct rp_record r = kit_record(RP_REC_CHAMBER, 121 * MIN);
    r.as.chamber.phase = RP_PHASE_HOLD;
    r.as.chamber.session = 2;
    r.as.chamber.gauge_dhpa = kit_value(500); /* on a hold it may be low */
    watch_add(&r);
    watch_chamber(122, RP_PHASE_AT_PRESSURE, 2);
    watch_quiet("pressure", 130);
}

static void hold(void **state)
{
    (void)state;
    in_chamber();
    watch_quiet("hold", 120);
    struct rp_record r = kit_record(RP_REC_CHAMBER, 121 * MIN);
    r.as.chamber.phase = RP_PHASE_HOLD;
    r.as.chamber.session = 1;
    r.as.chamber.hold_reason = RP_HOLD_EARS;
    watch_add(&r);
    watch_fires("hold", 122, RP_SOUND_LOUD, "hold: ears");
    assert_int_equal(watch_at("hold", 122)->since_s, 121 * MIN);
    r.time_s = 123 * MIN;
    r.as.chamber.hold_reason = RP_HOLD_VOMIT;
    watch_add(&r);
    watch_fires("hold", 124, RP_SOUND_LOUD, "hold: vomit");
    kit_correct(900, 124 * MIN, watch_last(), kit_ref(0, 0));
    watch_fires("hold", 124, RP_SOUND_LOUD, "hold: ears");
    watch_chamber(125, RP_PHASE_AT_PRESSURE, 1);
    watch_clears("hold", 126);
    watch_chamber(127, RP_PHASE_OUT, 1);
    watch_chamber(130, RP_PHASE_HOLD, 2);
    watch_fires("hold", 131, RP_SOUND_LOUD, "hold: not said"); /* no reason of session 1 */
}

/* 1 h, then out and reassess (pararescue handbook, 8th ed.). */
static void session(void **state)
{
    (void)state;
    in_chamber(); /* at pressure from 115 */
    watch_quiet("session", 159);
    watch_fires("session", 160, RP_SOUND_SOFT, "session 1: 45 min at pressure, prepare the exit");
    assert_int_equal(watch_at("session", 170)->since_s, 160 * MIN);
    watch_fires("session", 175, RP_SOUND_SOFT, "session 1: 60 min at pressure, its time is over");
    assert_int_equal(watch_at("session", 190)->since_s, 175 * MIN);
    watch_chamber(191, RP_PHASE_DEFLATING, 1);
    watch_clears("session", 192);
    watch_chamber(194, RP_PHASE_OUT, 1);
    watch_quiet("session", 195);
}

static void rotation(void **state)
{
    (void)state;
    in_chamber();
    watch_quiet("rotation", 140);
    watch_in.station.has_pumper = true;
    watch_in.station.pumper_since_s = 120 * MIN;
    watch_quiet("rotation", 131);
    watch_fires("rotation", 132, RP_SOUND_SOFT, "the same person has pumped for 12 min");
    watch_in.station.pumper_since_s = 132 * MIN;
    watch_clears("rotation", 133);
    watch_in.station.pumper_since_s = 120 * MIN;
    watch_chamber(140, RP_PHASE_OUT, 1);
    watch_quiet("rotation", 141);
}

static void dead_man(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("dead-man", 120); /* not in the chamber */
    in_chamber();
    watch_quiet("dead-man", 124);
    watch_fires("dead-man", 125, RP_SOUND_LOUD, "nothing entered and no stroke for 10 min");
    watch_in.station.has_tick = true;
    watch_in.station.tick_s = 124 * MIN;
    watch_clears("dead-man", 126);
    assert_non_null(watch_at("dead-man", 134));
    watch_spo2(134, RP_MODE_CHAMBER, 84);
    watch_clears("dead-man", 135);
    struct rp_record r = kit_record(RP_REC_NOTE, 140 * MIN); /* base's word is not the crew's */
    watch_add_at(&r, BASE);
    assert_non_null(watch_at("dead-man", 144));
    watch_chamber(145, RP_PHASE_OUT, 1);
    watch_quiet("dead-man", 160);
}

/* Worse again by 11 h (Keller 1995); the schedule is ours: 30 min for 2 h, then hourly, 12 h. */
static void rebound(void **state)
{
    (void)state;
    in_chamber();
    watch_quiet("rebound", 150);
    watch_chamber(175, RP_PHASE_DEFLATING, 1);
    watch_chamber(180, RP_PHASE_OUT, 1);
    watch_quiet("rebound", 209);
    watch_fires("rebound", 212, RP_SOUND_SOFT, "check for relapse, 2 min late; watch until 15:00Z");
    watch_spo2(213, RP_MODE_AIR, 78);
    watch_clears("rebound", 242);
    watch_fires("rebound", 243, RP_SOUND_SOFT, "check for relapse, 0 min late; watch until 15:00Z");
    watch_level(299, RP_ACVPU_ALERT); /* 119 min after: still the close schedule */
    watch_fires("rebound", 329, RP_SOUND_SOFT, "check for relapse, 0 min late; watch until 15:00Z");
    watch_level(300, RP_ACVPU_ALERT); /* 120 min after: hourly */
    watch_clears("rebound", 359);
    assert_non_null(watch_at("rebound", 360));
    assert_non_null(watch_at("rebound", 899));
    watch_clears("rebound", 900); /* 180 + 720 */
    watch_chamber(400, RP_PHASE_CLOSED, 2);
    watch_quiet("rebound", 500);
}

static void why_not_down(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("why-not-down", 159);
    watch_fires("why-not-down", 160, RP_SOUND_SOFT, "why not down? Last answered 01:40Z");
    watch_descent(160, false, 30);
    watch_clears("why-not-down", 189);
    assert_non_null(watch_at("why-not-down", 190)); /* as they asked to be asked */
    watch_descent(190, true, 0);
    watch_clears("why-not-down", 400);
    kit_start(); /* an episode without an answer, and one without an opening */
    watch_quiet("why-not-down", 300);
    struct rp_record r = kit_record(RP_REC_EPISODE, 100 * MIN);
    watch_add(&r);
    watch_quiet("why-not-down", 114);
    watch_fires("why-not-down", 115, RP_SOUND_SOFT, "why not down? Not answered since 01:40Z");
}

/* Raise the head end in HAPE (from memory). */
static void head_up(void **state)
{
    (void)state;
    in_chamber(); /* HACE */
    watch_quiet("head-up", 116);
    struct rp_record r = kit_record(RP_REC_EPISODE, 117 * MIN);
    r.as.opened.label = RP_LABEL_HAPE;
    watch_add(&r);
    watch_fires("head-up", 118, RP_SOUND_SOFT, "session 1: head end raised?");
    assert_int_equal(watch_at("head-up", 118)->since_s, 110 * MIN);
    watch_chamber(119, RP_PHASE_OUT, 1);
    watch_clears("head-up", 120);
    watch_chamber(121, RP_PHASE_CLOSED, 2);
    watch_condition(122, RP_COND_DEAD);
    watch_quiet("head-up", 123);
}

const struct CMUnitTest watch_chamber_tests[] = {
    cmocka_unit_test(pump),
    cmocka_unit_test(pump_only_while_inside),
    cmocka_unit_test(pressure),
    cmocka_unit_test(pressure_on_the_way_up),
    cmocka_unit_test(pressure_needs_a_reading),
    cmocka_unit_test(hold),
    cmocka_unit_test(session),
    cmocka_unit_test(rotation),
    cmocka_unit_test(dead_man),
    cmocka_unit_test(rebound),
    cmocka_unit_test(why_not_down),
    cmocka_unit_test(head_up),
};
const size_t watch_chamber_count = sizeof watch_chamber_tests / sizeof watch_chamber_tests[0];
