/* Rules of word, request, arrival, daylight, weather and handing over. Triggers: clinical
 * references 6.4 H14, H16, H17, B1, B2 (10, 20, 40 min), B5, B6, B10, B11, 6.3 (ours). Bounds of
 * the weather, which these leave open: 300 m from cloud, 5 km and 1500 m to see, ICAO Annex 2 table
 * 3-1; wind or gust up by 20 km/h, reports every hour, ICAO Annex 3 (both from memory). */
#include "watch_kit.h"

#include <stdio.h>

static void unacked(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("unacked", 110);
    watch_in.station.has_unacked = true;
    watch_in.station.unacked_s = 110 * MIN;
    watch_quiet("unacked", 114);
    watch_fires("unacked", 115, RP_SOUND_LOUD, "an urgent record is not at base after 5 min");
    assert_int_equal(watch_at("unacked", 124)->since_s, 115 * MIN);
    assert_int_equal(watch_at("unacked", 125)->since_s, 125 * MIN); /* and comes back */
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

/* A request that tells this weather; what is negative is not told. */
static void weather_is(uint32_t minute, int cloud_m, int visibility_m, int wind_kmh, int gust_kmh)
{
    struct rp_record r = kit_record(RP_REC_EVACUATION, minute * MIN);
    struct rp_rec_evacuation *e = &r.as.evacuation;
    e->urgency = RP_URG_E1_NOW;
    e->has_cloud_base = cloud_m >= 0;
    e->cloud_base_m = (uint16_t)(cloud_m >= 0 ? cloud_m : 0);
    e->has_visibility = visibility_m >= 0;
    e->visibility_m = (uint32_t)(visibility_m >= 0 ? visibility_m : 0);
    e->has_wind = wind_kmh >= 0;
    e->wind_kmh = (uint16_t)(wind_kmh >= 0 ? wind_kmh : 0);
    e->has_gust = gust_kmh >= 0;
    e->gust_kmh = (uint16_t)(gust_kmh >= 0 ? gust_kmh : 0);
    if (kit.requests.count > 0) {
        e->revises = watch_last();
    }
    watch_add(&r);
}

static void weather_cloud(void **state)
{
    (void)state;
    watch_start(); /* the patient is at 5480 m */
    watch_quiet("weather", 109);
    weather_is(110, 5780, -1, -1, -1);
    watch_quiet("weather", 111);
    weather_is(112, 5779, -1, -1, -1);
    watch_fires("weather", 113, RP_SOUND_SOFT, "cloud: base 5779 m, 299 m above the patient");
    weather_is(114, 5481, -1, -1, -1);
    watch_fires("weather", 115, RP_SOUND_SOFT, "cloud: base 5481 m, 1 m above the patient");
    weather_is(116, 5480, -1, -1, -1);
    watch_fires("weather", 117, RP_SOUND_LOUD, "cloud: base 5480 m, patient in it at 5480 m");
    assert_int_equal(watch_at("weather", 117)->since_s, 116 * MIN);
    assert_int_equal(watch_at("weather", 117)->value_s, 116 * MIN);
    weather_is(118, 6500, -1, -1, -1);
    watch_clears("weather", 119);
    weather_is(120, 5000, -1, -1, -1);
    assert_non_null(watch_at("weather", 121));
    watch_condition(122, RP_COND_DEAD);
    watch_clears("weather", 123);
    kit_start(); /* nobody said how high the patient is */
    weather_is(110, 100, -1, -1, -1);
    watch_quiet("weather", 111);
}

static void weather_visibility(void **state)
{
    (void)state;
    watch_start();
    weather_is(110, -1, 5000, -1, -1);
    watch_quiet("weather", 111);
    weather_is(112, -1, 4999, -1, -1);
    watch_fires("weather", 113, RP_SOUND_SOFT, "visibility: 4999 m");
    weather_is(114, -1, 1500, -1, -1);
    watch_fires("weather", 115, RP_SOUND_SOFT, "visibility: 1500 m");
    weather_is(116, -1, 1499, -1, -1);
    watch_fires("weather", 117, RP_SOUND_LOUD, "visibility: 1499 m");
    kit_cancel(901, 118 * MIN, watch_last().seq);
    watch_clears("weather", 119); /* nobody is asked to come */
}

static void weather_wind(void **state)
{
    (void)state;
    watch_start();
    weather_is(110, -1, -1, 10, 30);
    watch_quiet("weather", 111);
    weather_is(112, -1, -1, 29, 49);
    watch_quiet("weather", 113);
    weather_is(114, -1, -1, 30, 49);
    watch_fires("weather", 115, RP_SOUND_SOFT, "wind: 30 km/h, was 10 at 01:50Z");
    weather_is(116, -1, -1, 29, 50); /* the gust goes before the wind */
    watch_fires("weather", 117, RP_SOUND_SOFT, "wind: gust 50 km/h, was 30 at 01:50Z");
    weather_is(118, -1, -1, 25, -1); /* gusts were not told: no judgement of them */
    watch_clears("weather", 119);
    weather_is(120, -1, -1, 60, -1);
    watch_fires("weather", 121, RP_SOUND_SOFT, "wind: 60 km/h, was 10 at 01:50Z");
    kit_correct(900, 122 * MIN, kit_ref(CAMP, kit.requests.at[0].from.ref.seq), kit_ref(0, 0));
    watch_fires("weather", 122, RP_SOUND_SOFT, "wind: 60 km/h, was 25 at 01:58Z");
    weather_is(121 + 360, -1, -1, 60, 99); /* six hours later: against the wind of then */
    assert_null(watch_at("weather", 482));
    weather_is(483, -1, -1, 80, 99);
    watch_fires("weather", 484, RP_SOUND_SOFT, "wind: 80 km/h, was 60 at 08:01Z");
}

/* A revision repeats the weather it does not tell anew: that looks at no sky. */
static void weather_age(void **state)
{
    (void)state;
    watch_start();
    weather_is(110, 6500, 9000, 10, 20);
    weather_is(140, 6500, 9000, 10, 20);
    watch_quiet("weather", 169);
    watch_fires("weather", 170, RP_SOUND_SOFT, "age: the weather is of 01:50Z, 60 min ago");
    assert_int_equal(watch_at("weather", 229)->since_s, 170 * MIN);
    assert_int_equal(watch_at("weather", 230)->since_s, 230 * MIN); /* and comes back */
    assert_int_equal(watch_at("weather", 230)->value_s, 110 * MIN);
    struct rp_record r = kit_record(RP_REC_EVACUATION, 231 * MIN);
    r.as.evacuation = kit.requests.at[kit.requests.count - 1].what;
    r.as.evacuation.revises = watch_last();
    strcpy(r.as.evacuation.weather, "the same, steady"); /* looked at again */
    watch_add(&r);
    watch_clears("weather", 232);
    assert_non_null(watch_at("weather", 291));
    kit_correct(900, 291 * MIN, watch_last(), kit_ref(0, 0));
    watch_fires("weather", 292, RP_SOUND_SOFT, "age: the weather is of 01:50Z, 182 min ago");
    weather_is(293, 6500, 9000, 10, 20); /* what was taken back stands for nothing between */
    assert_non_null(watch_at("weather", 294));
    watch_start();
    watch_request(110); /* without any */
    watch_quiet("weather", 169);
    watch_fires("weather", 170, RP_SOUND_SOFT,
                "age: asked 01:50Z, 60 min ago, and no weather told");
}

/* Each number and the words make it another weather; several findings are several alarms. */
static void weather_told_anew(void **state)
{
    (void)state;
    static const int other[][4] = {
        {6501, 9000, 10, 20}, {6500, 9001, 10, 20}, {6500, 9000, 11, 20}, {6500, 9000, 10, 21},
        {-1, 9000, 10, 20},   {6500, -1, 10, 20},   {6500, 9000, -1, 20}, {6500, 9000, 10, -1},
        {6500, -1, -1, -1},   {-1, 9000, -1, -1},   {-1, -1, 10, -1},     {-1, -1, -1, 20},
    };
    for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
        const int *o = other[i];
        watch_start();
        weather_is(110, 6500, 9000, 10, 20);
        weather_is(150, o[0], o[1], o[2], o[3]);
        watch_quiet("weather", 209);
        watch_fires("weather", 210, RP_SOUND_SOFT, "age: the weather is of 02:30Z, 60 min ago");
    }
    static const struct rp_rec_evacuation alone[] = {
        {.has_wind_dir = true, .wind_from_deg = 270},
        {.has_wind_dir = true, .wind_from_deg = 290},
        {.has_temp = true, .temp_c = -15},
        {.has_temp = true, .temp_c = -16},
        {.weather = "clear"},
        {.weather = "cloud from the west"},
    };
    watch_start();
    for (uint32_t i = 0; i < sizeof alone / sizeof alone[0]; i++) {
        struct rp_record r = kit_record(RP_REC_EVACUATION, (110 + 50 * i) * MIN);
        r.as.evacuation = alone[i];
        watch_add(&r);
        char reason[80], at[8];
        snprintf(reason, sizeof reason, "age: the weather is of %s, 60 min ago",
                 rp_watch_time(r.time_s, at));
        watch_quiet("weather", 169 + 50 * i);
        watch_fires("weather", 170 + 50 * i, RP_SOUND_SOFT, reason);
    }
    watch_start();
    weather_is(110, 6500, 9000, 10, 20);
    weather_is(112, 5500, 1000, 40, 70);
    watch_at("weather", 172);
    unsigned subjects = 0;
    for (size_t i = 0; i < watch_out.count; i++) {
        if (strcmp(watch_out.at[i].rule->word, "weather") == 0) {
            subjects |= 1u << watch_out.at[i].subject;
        }
    }
    assert_int_equal(subjects, 0x1e);
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
    cmocka_unit_test(weather_cloud),
    cmocka_unit_test(weather_visibility),
    cmocka_unit_test(weather_wind),
    cmocka_unit_test(weather_age),
    cmocka_unit_test(weather_told_anew),
};
const size_t watch_rescue_count = sizeof watch_rescue_tests / sizeof watch_rescue_tests[0];
