/* Rules of word, request, arrival, daylight and handing over. Triggers: clinical references 6.4
 * H14, H16, H17, B1, B2 (10, 20, 40 min), B5, B6, B10, B11, 6.3 (ours). */
#include "watch_kit.h"

static void unacked(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("unacked", 110);
    watch_in.station.has_unacked = true;
    watch_in.station.unacked_s = 110 * MIN;
    watch_quiet("unacked", 114);
    watch_fires("unacked", 115, RP_SOUND_SOFT, "an urgent record is not at base after 5 min");
    watch_fires("unacked", 125, RP_SOUND_LOUD, "an urgent record is not at base after 15 min");
    watch_in.station.has_unacked = false;
    watch_clears("unacked", 126);
    watch_in.station.has_unacked = true;
    watch_condition(127, RP_COND_DEAD);
    watch_quiet("unacked", 128);
}

static void last_descent(void **state)
{
    (void)state;
    struct rp_watch_plan plan = rp_watch_plan_default;
    watch_start();
    watch_in.station.has_daylight_end = true;
    watch_in.station.daylight_end_s = 600 * MIN;
    watch_quiet("last-descent", 500); /* nobody said how long the way takes */
    plan.descent_s = 120 * MIN;       /* 1.5 times: start by 420 */
    watch_in.plan = &plan;
    watch_quiet("last-descent", 329);
    watch_fires("last-descent", 330, RP_SOUND_LOUD, "last safe start down at 07:00Z");
    assert_int_equal(watch_at("last-descent", 389)->since_s, 330 * MIN);
    assert_int_equal(watch_at("last-descent", 390)->since_s, 390 * MIN);
    watch_fires("last-descent", 420, RP_SOUND_LOUD, "last safe start down was at 07:00Z");
    watch_descent(421, true, 0);
    watch_clears("last-descent", 422);
    watch_descent(423, false, 0);
    assert_non_null(watch_at("last-descent", 424));
    watch_clears("last-descent", 600); /* dark now */
    struct rp_record r = kit_record(RP_REC_EVACUATION, 425 * MIN);
    r.as.evacuation.has_daylight = true; /* the camp knows better than the almanac */
    r.as.evacuation.daylight_end_s = 700 * MIN;
    watch_add(&r);
    watch_quiet("last-descent", 429);
    watch_fires("last-descent", 430, RP_SOUND_LOUD, "last safe start down at 08:40Z");
    kit_correct(900, 431 * MIN, watch_last(), kit_ref(0, 0));
    watch_request(432); /* one that says nothing of it */
    watch_fires("last-descent", 433, RP_SOUND_LOUD, "last safe start down was at 07:00Z");
    kit_start(); /* no answer at all, and light that ends within one way */
    watch_in.station.daylight_end_s = 180 * MIN;
    watch_quiet("last-descent", 100);
    watch_in.station.daylight_end_s = 181 * MIN;
    assert_non_null(watch_at("last-descent", 100));
    watch_condition(101, RP_COND_DEAD);
    watch_quiet("last-descent", 102);
}

/* What the camp enters with its decision goes before the plan; yesterday's end of light is none. */
static void last_descent_as_entered(void **state)
{
    (void)state;
    struct rp_watch_plan plan = rp_watch_plan_default;
    struct rp_last_start last;
    watch_start();
    watch_in.station.has_daylight_end = true;
    watch_in.station.daylight_end_s = 2040 * MIN;
    struct rp_record r = kit_record(RP_REC_EVACUATION, 110 * MIN);
    r.as.evacuation.has_daylight = true;
    r.as.evacuation.daylight_end_s = 600 * MIN;
    watch_add(&r);
    r = kit_record(RP_REC_DESCENT, 111 * MIN);
    r.as.descent.has_way = true;
    r.as.descent.way_min = 100; /* start by 450 */
    watch_add(&r);
    watch_quiet("last-descent", 359);
    watch_fires("last-descent", 360, RP_SOUND_LOUD, "last safe start down at 07:30Z");
    assert_true(rp_watch_last_start(&watch_in, &last));
    assert_true(last.way_entered);
    assert_int_equal(last.way_s, 6000);
    assert_int_equal(last.light_end_s, 600 * MIN);
    r.time_s = 361 * MIN;
    r.as.descent.way_min = 60; /* they looked again: start by 510 */
    watch_add(&r);
    watch_clears("last-descent", 362);
    assert_non_null(watch_at("last-descent", 420));
    kit_correct(900, 421 * MIN, watch_last(), kit_ref(0, 0));
    rp_episode_finish(&kit, 422 * MIN);
    assert_true(rp_watch_last_start(&watch_in, &last));
    assert_int_equal(last.start_s, 450 * MIN);
    watch_quiet("last-descent", 959);
    assert_true(rp_watch_last_start(&watch_in, &last));
    assert_int_equal(last.light_end_s, 600 * MIN);
    watch_quiet("last-descent", 960); /* six hours after: it was yesterday's */
    assert_true(rp_watch_last_start(&watch_in, &last));
    assert_int_equal(last.light_end_s, 2040 * MIN);
    assert_int_equal(last.start_s, 1890 * MIN);
    plan.descent_s = 200 * MIN; /* what was entered still holds */
    watch_in.plan = &plan;
    watch_fires("last-descent", 1800, RP_SOUND_LOUD, "last safe start down at 07:30Z");
    watch_start();
    watch_in.plan = &plan;
    watch_in.station.has_daylight_end = true;
    watch_in.station.daylight_end_s = 600 * MIN;
    assert_null(watch_at("last-descent", 110));
    assert_true(rp_watch_last_start(&watch_in, &last));
    assert_false(last.way_entered);
    assert_int_equal(last.start_s, 300 * MIN);
}

static struct rp_record_ref request_with_eta(uint32_t eta_minute)
{
    watch_start();
    watch_request(110);
    struct rp_record_ref request = watch_last();
    watch_answer(111, RP_ANS_ETA, request, eta_minute);
    return request;
}

static void eta(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("eta", 110);
    struct rp_record_ref request = request_with_eta(300);
    watch_quiet("eta", 239);
    watch_fires("eta", 240, RP_SOUND_LOUD, "arrival expected 05:00Z");
    assert_int_equal(watch_at("eta", 284)->since_s, 240 * MIN);
    watch_chamber(250, RP_PHASE_CLOSED, 1);
    watch_fires("eta", 285, RP_SOUND_LOUD, "arrival expected 05:00Z, patient still in the chamber");
    assert_int_equal(watch_at("eta", 285)->since_s, 285 * MIN);
    watch_clears("eta", 300);
    watch_answer(251, RP_ANS_ETA, request, 900);
    watch_clears("eta", 285);
    watch_condition(252, RP_COND_DEAD);
    watch_quiet("eta", 880);
}

static void eta_passed(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("eta-passed", 110);
    struct rp_record_ref request = request_with_eta(300);
    watch_quiet("eta-passed", 300);
    watch_fires("eta-passed", 301, RP_SOUND_LOUD, "arrival was expected 05:00Z, 1 min ago");
    watch_answer(302, RP_ANS_ETA, request, 400);
    watch_clears("eta-passed", 303);
    assert_non_null(watch_at("eta-passed", 401));
    struct rp_record r = kit_record(RP_REC_HANDOVER, 402 * MIN);
    watch_add(&r);
    watch_clears("eta-passed", 403);
    request_with_eta(300);
    watch_condition(301, RP_COND_DEAD);
    watch_quiet("eta-passed", 302);
}

/* An unanswered request sounds until it is seen by name. */
static void request(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("request", 109);
    watch_request(110);
    watch_fires("request", 110, RP_SOUND_FAST, "evacuation asked 01:50Z, NOBODY HAS ANSWERED");
    struct rp_record_ref asked = watch_last();
    watch_answer(111, RP_ANS_SEEN, asked, 0);
    watch_clears("request", 112);
    watch_request(120);
    assert_non_null(watch_at("request", 121));
    kit_cancel(901, 122 * MIN, kit.requests.at[kit.requests.count - 1].from.ref.seq);
    watch_clears("request", 123);
    watch_start();
    watch_request(110);
    watch_condition(111, RP_COND_DEAD);
    watch_quiet("request", 112);
}

static void not_accepted(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("not-accepted", 200);
    watch_request(200);
    struct rp_record_ref asked = watch_last();
    watch_quiet("not-accepted", 209);
    watch_fires("not-accepted", 210, RP_SOUND_LOUD,
                "asked 03:20Z, 10 min ago: nobody has accepted");
    watch_answer(211, RP_ANS_PASSED_ON, asked, 0); /* that is not yet acceptance */
    assert_int_equal(watch_at("not-accepted", 239)->since_s, 210 * MIN);
    assert_int_equal(watch_at("not-accepted", 240)->since_s, 240 * MIN); /* and comes back */
    watch_answer(241, RP_ANS_REFUSED, asked, 0);
    watch_fires("not-accepted", 242, RP_SOUND_LOUD,
                "asked 03:20Z, 42 min ago: REFUSED, nobody has accepted");
    watch_answer(243, RP_ANS_ACCEPTED, asked, 0);
    watch_clears("not-accepted", 244);
}

/* The ladder of 10, 20, 40 min; a report is due each 30 min, 15 when worse. */
static void report(void **state)
{
    (void)state;
    kit_start();
    memset(&watch_in, 0, sizeof watch_in);
    watch_in.places = RP_WATCH_BASE;
    struct rp_record note = kit_record(RP_REC_NOTE, 50 * MIN);
    watch_add_at(&note, BASE); /* base's own words are no word from the camp */
    watch_quiet("report", 300);
    watch_condition(100, RP_COND_SAME);
    watch_quiet("report", 139);
    watch_fires("report", 140, RP_SOUND_SOFT,
                "no word since 01:40Z, report 10 min late: call the camp");
    watch_fires("report", 150, RP_SOUND_LOUD,
                "no word since 01:40Z, report 20 min late: try the relays");
    watch_fires("report", 170, RP_SOUND_FAST,
                "no word since 01:40Z, report 40 min late: ACT ON THE PLAN FOR SILENCE");
    assert_int_equal(watch_at("report", 209)->since_s, 170 * MIN);
    assert_int_equal(watch_at("report", 210)->since_s, 210 * MIN);
    watch_condition(211, RP_COND_WORSE);
    watch_clears("report", 235);
    watch_fires("report", 236, RP_SOUND_SOFT,
                "no word since 03:31Z, report 10 min late: call the camp");
    struct rp_record r = kit_record(RP_REC_CLOSE, 237 * MIN);
    watch_add(&r);
    watch_quiet("report", 600);
}

/* What the camp promised with its report goes before the plan, also over a later word. */
static void report_promised(void **state)
{
    (void)state;
    watch_start();
    struct rp_record r = kit_record(RP_REC_STATUS, 110 * MIN);
    r.as.status.condition = RP_COND_WORSE; /* else every 15 min */
    r.as.status.next_min = 60;
    watch_add(&r);
    watch_quiet("report", 179);
    watch_fires("report", 180, RP_SOUND_SOFT,
                "no word since 01:50Z, report 10 min late: call the camp");
    struct rp_record note = kit_record(RP_REC_NOTE, 150 * MIN);
    watch_add(&note);
    watch_quiet("report", 179);
    watch_fires("report", 180, RP_SOUND_SOFT,
                "no word since 02:30Z, report 10 min late: call the camp");
    note.time_s = 171 * MIN; /* what was promised has come, in another form */
    watch_add(&note);
    watch_clears("report", 195);
    assert_non_null(watch_at("report", 196)); /* 171 + 15 + 10 */
}

static void handover_open(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("handover-open", 110);
    struct rp_record r = kit_record(RP_REC_CLOSE, 120 * MIN);
    r.as.close.outcome = RP_OUT_RECOVERED;
    watch_add(&r);
    watch_quiet("handover-open", 121);
    r.time_s = 122 * MIN;
    r.as.close.outcome = RP_OUT_HANDED_OVER;
    watch_add(&r);
    watch_fires("handover-open", 123, RP_SOUND_SOFT,
                "closed as handed over, but no receipt says to whom");
    r = kit_record(RP_REC_HANDOVER, 124 * MIN);
    watch_add(&r);
    watch_clears("handover-open", 125);
    kit_correct(900, 126 * MIN, watch_last(), kit_ref(0, 0));
    assert_non_null(watch_at("handover-open", 127));
}

static void daylight(void **state)
{
    (void)state;
    watch_start();
    watch_in.station.has_daylight_end = true;
    watch_in.station.daylight_end_s = 300 * MIN;
    watch_quiet("daylight", 250); /* nobody is asked to come */
    watch_request(200);
    watch_quiet("daylight", 239);
    watch_fires("daylight", 240, RP_SOUND_SOFT, "light ends at 05:00Z");
    watch_clears("daylight", 300);
    kit_cancel(901, 250 * MIN, watch_last().seq);
    watch_clears("daylight", 251);
}

const struct CMUnitTest watch_rescue_tests[] = {
    cmocka_unit_test(unacked),
    cmocka_unit_test(last_descent),
    cmocka_unit_test(last_descent_as_entered),
    cmocka_unit_test(report_promised),
    cmocka_unit_test(eta),
    cmocka_unit_test(eta_passed),
    cmocka_unit_test(request),
    cmocka_unit_test(not_accepted),
    cmocka_unit_test(report),
    cmocka_unit_test(handover_open),
    cmocka_unit_test(daylight),
};
const size_t watch_rescue_count = sizeof watch_rescue_tests / sizeof watch_rescue_tests[0];
