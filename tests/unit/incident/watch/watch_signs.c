/* Rules of what was measured. Triggers: clinical references 6.4 H3-H5, H7, B1, B3 (ours); the SpO2
 * band 3.2 (ours, by eye): at 5500 m alarm below 68.2 %, at 5000 m below 72 %; NEWS2 of 2017. */
#include "watch_kit.h"

static void conscious(void **state)
{
    (void)state;
    static const char *const rules[] = {"conscious", "conscious-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start();
        watch_level(110, RP_ACVPU_ALERT);
        watch_quiet(rules[i], 111);
        watch_level(120, RP_ACVPU_CONFUSED);
        watch_fires(rules[i], 121, RP_SOUND_LOUD, "new confusion, was alert at 01:50Z");
        watch_level(130, RP_ACVPU_CONFUSED); /* no worse: the same alarm */
        assert_int_equal(watch_at(rules[i], 131)->since_s, 120 * MIN);
        watch_level(140, RP_ACVPU_VOICE); /* worse: a new one */
        assert_int_equal(watch_at(rules[i], 141)->since_s, 140 * MIN);
        watch_spo2(145, RP_MODE_AIR, 75); /* a set without it changes nothing */
        assert_int_equal(watch_at(rules[i], 146)->since_s, 140 * MIN);
        watch_level(150, RP_ACVPU_ALERT);
        watch_clears(rules[i], 151);
        watch_level(160, RP_ACVPU_PAIN);
        assert_non_null(watch_at(rules[i], 161));
        kit_correct(900, 162 * MIN, watch_last(), kit_ref(0, 0));
        watch_clears(rules[i], 163);
        watch_level(900, RP_ACVPU_CONFUSED); /* also after many hours */
        assert_non_null(watch_at(rules[i], 901));
        watch_condition(902, RP_COND_DEAD);
        assert_null(watch_at(rules[i], 903));
    }
}

static void gcs(uint32_t minute, int eye, int verbal, int motor)
{
    struct rp_record r = kit_record(RP_REC_STATUS, minute * MIN);
    r.as.status.gcs_eye = kit_value(eye);
    r.as.status.gcs_verbal = kit_value(verbal);
    r.as.status.gcs_motor = kit_value(motor);
    watch_add(&r);
}

static void conscious_by_coma_scale(void **state)
{
    (void)state;
    watch_start();
    gcs(110, 4, 5, 6);
    gcs(120, 4, 4, 6); /* 14: one point */
    watch_quiet("conscious", 121);
    gcs(130, 3, 4, 6); /* 13: two points */
    watch_fires("conscious", 131, RP_SOUND_LOUD, "coma scale 13, was 15 at 01:50Z");
    gcs(140, 4, 4, 6);
    watch_clears("conscious", 141);
    /* The scale fell, the letter did not. */
    struct rp_record r = kit_record(RP_REC_STATUS, 150 * MIN);
    r.as.status.acvpu = kit_value(RP_ACVPU_ALERT);
    r.as.status.gcs_eye = kit_value(4);
    r.as.status.gcs_verbal = kit_value(5);
    r.as.status.gcs_motor = kit_value(6);
    watch_add(&r);
    r.time_s = 160 * MIN;
    r.as.status.gcs_verbal = kit_value(3);
    watch_add(&r);
    watch_fires("conscious", 161, RP_SOUND_LOUD, "coma scale 13, was 15 at 01:50Z");
    watch_start(); /* what is not measured in both cannot be compared */
    watch_level(105, RP_ACVPU_ALERT);
    gcs(110, 4, 5, 6);
    watch_level(110, RP_ACVPU_ALERT);
    watch_quiet("conscious", 111);
    r.time_s = 120 * MIN;
    r.as.status.acvpu = kit_value(RP_ACVPU_ALERT);
    watch_add(&r);
    watch_fires("conscious", 121, RP_SOUND_LOUD, "coma scale 13, was 15 at 01:50Z");
    watch_start(); /* the same letter, a lower scale */
    r.time_s = 110 * MIN;
    r.as.status.gcs_verbal = kit_value(5);
    watch_add(&r);
    r.time_s = 120 * MIN;
    r.as.status.gcs_verbal = kit_value(3);
    watch_add(&r);
    watch_fires("conscious", 121, RP_SOUND_LOUD, "coma scale 13, was 15 at 01:50Z");
}

static void spo2_band(void **state)
{
    (void)state;
    static const char *const rules[] = {"spo2-band", "spo2-band-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start(); /* 5480 m: between 5000 and 5500 m the line is 68.2 % */
        watch_quiet(rules[i], 110);
        watch_spo2(110, RP_MODE_AIR, 69);
        watch_quiet(rules[i], 111);
        watch_spo2(112, RP_MODE_AIR, 68);
        watch_fires(rules[i], 113, RP_SOUND_LOUD,
                    "SpO2 68 % on air, alarm below 68.2 % at 5480 m; low accuracy");
        watch_spo2(114, RP_MODE_OXYGEN, 66); /* the band is for air */
        watch_clears(rules[i], 115);
        watch_spo2(116, RP_MODE_AIR, 60);
        assert_non_null(watch_at(rules[i], 117));
        watch_condition(118, RP_COND_DEAD);
        assert_null(watch_at(rules[i], 119));
    }
}

/* No alarm for 80 % in a well climber at 5000 m; alarm at 68 % (acceptance figures). */
static void spo2_band_by_altitude(void **state)
{
    (void)state;
    kit_start();
    memset(&watch_in, 0, sizeof watch_in);
    watch_in.places = RP_WATCH_CAMP;
    watch_spo2(110, RP_MODE_AIR, 60);
    watch_quiet("spo2-band", 111); /* no altitude known: no judgement */
    struct rp_record r = kit_record(RP_REC_EVACUATION, 112 * MIN);
    r.as.evacuation.altitude = (struct rp_altitude){true, 5000, RP_ALT_GPS};
    watch_add(&r);
    watch_fires("spo2-band", 113, RP_SOUND_LOUD,
                "SpO2 60 % on air, alarm below 72.0 % at 5000 m; low accuracy");
    watch_spo2(114, RP_MODE_AIR, 80);
    watch_clears("spo2-band", 115);
    watch_spo2(116, RP_MODE_AIR, 68);
    assert_non_null(watch_at("spo2-band", 117));
    kit_correct(900, 118 * MIN, kit_ref(CAMP, kit.requests.at[0].from.ref.seq), kit_ref(0, 0));
    watch_clears("spo2-band", 119);
    r.time_s = 120 * MIN;
    r.as.evacuation.altitude.metres = 2400; /* below the band's first line */
    watch_add(&r);
    watch_quiet("spo2-band", 121);
    r.time_s = 122 * MIN;
    r.as.evacuation.altitude.present = false; /* says nothing: the one before stands */
    watch_add(&r);
    watch_quiet("spo2-band", 123);
    r.time_s = 124 * MIN;
    r.as.evacuation.altitude = (struct rp_altitude){true, 2500, RP_ALT_GPS};
    watch_add(&r);
    watch_spo2(125, RP_MODE_AIR, 87);
    watch_fires("spo2-band", 126, RP_SOUND_LOUD, "SpO2 87 % on air, alarm below 88.0 % at 2500 m");
}

static void spo2_fall(void **state)
{
    (void)state;
    static const char *const rules[] = {"spo2-fall", "spo2-fall-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start();
        watch_spo2(110, RP_MODE_AIR, 78);
        watch_spo2(120, RP_MODE_AIR, 74);
        watch_quiet(rules[i], 121); /* 4: small differences mean nothing */
        watch_spo2(125, RP_MODE_CHAMBER, 90);
        watch_quiet(rules[i], 126);
        watch_spo2(130, RP_MODE_AIR, 73); /* 17 less than in the chamber, 5 less than on air */
        watch_fires(rules[i], 131, RP_SOUND_LOUD, "SpO2 73 % on air, was 78 % at 01:50Z");
        watch_spo2(140, RP_MODE_AIR, 76);
        watch_clears(rules[i], 141);
        watch_spo2(150, RP_MODE_AIR, 70);
        assert_int_equal(watch_at(rules[i], 151)->since_s, 150 * MIN);
        watch_spo2(155, RP_MODE_CHAMBER, 88); /* the newest is in the chamber, 2 less than there */
        watch_clears(rules[i], 156);
        watch_spo2(600, RP_MODE_AIR, 70); /* more than 6 h after the best */
        watch_clears(rules[i], 601);
        watch_condition(602, RP_COND_DEAD);
        assert_null(watch_at(rules[i], 603));
    }
    watch_start();
    watch_spo2(110, RP_MODE_UNSAID, 90); /* without a mode nothing is like anything */
    watch_spo2(120, RP_MODE_UNSAID, 70);
    watch_quiet("spo2-fall", 121);
}

/* Inside at 5005 m, 150 mmHg: 79.5 to 95.9 % (Imray 2001). */
static void spo2_no_rise(void **state)
{
    (void)state;
    watch_start();
    watch_spo2(104, RP_MODE_AIR, 71);
    watch_spo2(105, RP_MODE_AIR, 70);
    watch_spo2(105, RP_MODE_AIR, 60); /* was an error */
    kit_correct(899, 106 * MIN, watch_last(), kit_ref(0, 0));
    watch_level(106, RP_ACVPU_ALERT); /* without SpO2 */
    watch_spo2(106, RP_MODE_OXYGEN, 85);
    watch_quiet("spo2-no-rise", 107);
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_spo2(111, RP_MODE_CHAMBER, 70);
    watch_quiet("spo2-no-rise", 112); /* not at pressure */
    watch_chamber(115, RP_PHASE_AT_PRESSURE, 1);
    watch_spo2(129, RP_MODE_CHAMBER, 71);
    watch_quiet("spo2-no-rise", 129); /* 14 min */
    watch_spo2(129, RP_MODE_AIR, 90); /* the mask was off for a moment: not the one before */
    watch_spo2(130, RP_MODE_CHAMBER, 74);
    watch_fires("spo2-no-rise", 131, RP_SOUND_LOUD, "SpO2 74 % in chamber, 70 % on air at 01:45Z");
    watch_spo2(135, RP_MODE_CHAMBER, 75);
    watch_clears("spo2-no-rise", 136);
    watch_spo2(137, RP_MODE_CHAMBER_OXYGEN, 89); /* with oxygen before and now */
    watch_fires("spo2-no-rise", 138, RP_SOUND_LOUD,
                "SpO2 89 % in chamber on oxygen, 85 % on oxygen at 01:46Z");
    watch_spo2(139, RP_MODE_AIR, 70); /* says it is not inside */
    watch_quiet("spo2-no-rise", 140);
    watch_spo2(141, RP_MODE_CHAMBER, 71);
    watch_chamber(142, RP_PHASE_OUT, 1);
    watch_quiet("spo2-no-rise", 143);
    watch_start(); /* nothing before to compare with */
    watch_chamber(110, RP_PHASE_AT_PRESSURE, 1);
    watch_quiet("spo2-no-rise", 120);
    watch_spo2(130, RP_MODE_CHAMBER, 60);
    watch_quiet("spo2-no-rise", 131);
    watch_spo2(131, RP_MODE_CHAMBER, 61);
    watch_condition(132, RP_COND_DEAD);
    watch_quiet("spo2-no-rise", 133);
}

static void rate(uint32_t minute, int pulse_bpm, int resp_rpm)
{
    struct rp_record r = kit_record(RP_REC_STATUS, minute * MIN);
    r.as.status.mode = RP_MODE_AIR;
    r.as.status.pulse_bpm = kit_value(pulse_bpm);
    r.as.status.resp_rpm = kit_value(resp_rpm);
    watch_add(&r);
}

static void resp_and_pulse(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("resp", 105);
    watch_quiet("pulse", 105);
    rate(110, 129, 29);
    watch_quiet("resp", 111);
    watch_quiet("pulse", 111);
    rate(112, 130, 30);
    watch_fires("resp", 113, RP_SOUND_LOUD, "respiration 30/min on air");
    watch_fires("pulse", 113, RP_SOUND_LOUD, "pulse 130/min on air");
    rate(114, 41, 9);
    watch_clears("resp", 115);
    watch_clears("pulse", 115);
    rate(116, 40, 8);
    watch_fires("resp", 117, RP_SOUND_LOUD, "respiration 8/min on air");
    watch_fires("pulse", 117, RP_SOUND_LOUD, "pulse 40/min on air");
    watch_condition(118, RP_COND_DEAD);
    watch_quiet("resp", 119);
}

static void obs(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("obs", 129); /* from the opening; unstable by its label: 30 min */
    watch_fires("obs", 130, RP_SOUND_SOFT, "last observations 30 min ago, due every 30 min");
    watch_fires("obs", 160, RP_SOUND_LOUD, "last observations 60 min ago, due every 30 min");
    assert_int_equal(watch_at("obs", 170)->since_s, 160 * MIN);
    struct rp_record r = kit_record(RP_REC_STATUS, 170 * MIN);
    r.as.status.spo2_pct.state = RP_UNABLE;
    watch_add(&r);
    watch_clears("obs", 199); /* "unable" counts */
    watch_chamber(200, RP_PHASE_CLOSED, 1);
    watch_fires("obs", 200, RP_SOUND_LOUD,
                "last observations 30 min ago, due every 15 min in the chamber");
    watch_spo2(201, RP_MODE_CHAMBER, 80);
    watch_clears("obs", 215);
    assert_non_null(watch_at("obs", 216));
    kit_correct(900, 216 * MIN, watch_last(), kit_ref(0, 0)); /* the set before counts again */
    watch_fires("obs", 216, RP_SOUND_LOUD,
                "last observations 46 min ago, due every 15 min in the chamber");
}

static void obs_of_a_stable_patient(void **state)
{
    (void)state;
    kit_start();
    memset(&watch_in, 0, sizeof watch_in);
    watch_in.places = RP_WATCH_CAMP;
    watch_condition(100, RP_COND_SAME);
    watch_quiet("obs", 400); /* not opened here yet */
    struct rp_record r = kit_record(RP_REC_EPISODE, 100 * MIN);
    r.as.opened.label = RP_LABEL_AMS;
    watch_add(&r);
    watch_quiet("obs", 159);
    watch_fires("obs", 160, RP_SOUND_SOFT, "last observations 60 min ago, due every 60 min");
    watch_level(161, RP_ACVPU_ALERT);
    watch_condition(162, RP_COND_SAME);
    watch_clears("obs", 220);
    watch_level(165, RP_ACVPU_CONFUSED);
    watch_fires("obs", 195, RP_SOUND_SOFT, "last observations 30 min ago, due every 30 min");
    watch_level(196, RP_ACVPU_ALERT);
    watch_condition(197, RP_COND_WORSE);
    watch_fires("obs", 226, RP_SOUND_SOFT, "last observations 30 min ago, due every 30 min");
    watch_condition(227, RP_COND_SAME);
    watch_chamber(228, RP_PHASE_AT_PRESSURE, 1);
    watch_chamber(229, RP_PHASE_OUT, 1);
    watch_quiet("obs", 300); /* the watch for relapse has its own schedule */
    assert_non_null(watch_at("rebound", 300));
    watch_condition(301, RP_COND_WORSE);
    assert_non_null(watch_at("obs", 302));
    watch_condition(303, RP_COND_DEAD);
    watch_quiet("obs", 400);
}

static void lls(uint32_t minute, int total)
{
    struct rp_record r = kit_record(RP_REC_STATUS, minute * MIN);
    r.as.status.lls = kit_value(total);
    watch_add(&r);
}

static void score_up(void **state)
{
    (void)state;
    watch_start();
    lls(110, 4);
    lls(120, 5);
    watch_quiet("score-up", 121);
    lls(130, 6);
    watch_fires("score-up", 131, RP_SOUND_LOUD, "Lake Louise score 6, was 4 at 01:50Z");
    lls(140, 5);
    watch_clears("score-up", 141);
    lls(150, 9);
    watch_condition(151, RP_COND_DEAD);
    watch_quiet("score-up", 152);
}

/* Respiration 20 scores 0, 21 scores 2; pulse 90 scores 0, 91 scores 1 (NEWS2 chart 1). */
static void news2_up(void **state)
{
    (void)state;
    watch_start();
    rate(110, 90, 20);
    rate(120, 91, 20);
    watch_quiet("news2-up", 121);
    rate(130, 90, 21);
    watch_fires("news2-up", 131, RP_SOUND_LOUD, "NEWS2 without SpO2 up by 2 since 01:50Z, on air");
    rate(140, 90, 20);
    watch_clears("news2-up", 141);
    struct rp_record r = kit_record(RP_REC_STATUS, 150 * MIN);
    r.as.status.mode = RP_MODE_AIR; /* SpO2 alone, however low, is no rise */
    r.as.status.pulse_bpm = kit_value(90);
    r.as.status.resp_rpm = kit_value(20);
    r.as.status.spo2_pct = kit_value(60);
    watch_add(&r);
    watch_quiet("news2-up", 151);
    r.time_s = 152 * MIN;
    r.as.status.systolic_mmhg = kit_value(120);
    r.as.status.diastolic_mmhg = kit_value(80);
    watch_add(&r);
    rate(153, 90, 20); /* what only one of the two holds does not count */
    watch_quiet("news2-up", 154);
    r.time_s = 160 * MIN;
    r.as.status.mode = RP_MODE_OXYGEN; /* another mode: not comparable */
    r.as.status.resp_rpm = kit_value(29);
    watch_add(&r);
    watch_quiet("news2-up", 161);
    r.time_s = 165 * MIN;
    r.as.status.mode = RP_MODE_CHAMBER_OXYGEN;
    watch_add(&r);
    r.time_s = 166 * MIN;
    r.as.status.mode = RP_MODE_UNSAID;
    watch_add(&r);
    watch_quiet("news2-up", 167);
    r.time_s = 170 * MIN;
    r.as.status.mode = RP_MODE_OXYGEN;
    r.as.status.pulse_bpm.state = RP_NOT_MEASURED; /* one part is no score */
    watch_add(&r);
    watch_quiet("news2-up", 171);
    rate(180, 131, 29);
    assert_non_null(watch_at("news2-up", 181));
    watch_condition(182, RP_COND_DEAD);
    watch_quiet("news2-up", 183);
}

static void critical(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("critical", 110);
    watch_condition(111, RP_COND_WORSE);
    watch_quiet("critical", 112);
    watch_condition(113, RP_COND_CRITICAL);
    watch_fires("critical", 114, RP_SOUND_LOUD, "the camp reports: critical");
    watch_condition(115, RP_COND_BETTER);
    watch_clears("critical", 116);
}

/* When the next are due, by the same schedule: 15 min in the chamber, 30 unstable, 60 (6.4 H7). */
static void next_observations(void **state)
{
    (void)state;
    kit_start();
    memset(&watch_in, 0, sizeof watch_in);
    watch_quiet("obs", 100); /* not opened */
    assert_int_equal(rp_watch_obs_due(&watch_in), 0);
    watch_start(); /* HACE: unstable; opened at 100 */
    watch_quiet("obs", 101);
    assert_int_equal(rp_watch_obs_due(&watch_in), 130 * MIN);
    watch_spo2(110, RP_MODE_AIR, 80);
    watch_quiet("obs", 111);
    assert_int_equal(rp_watch_obs_due(&watch_in), 140 * MIN);
    watch_chamber(112, RP_PHASE_CLOSED, 1);
    watch_quiet("obs", 113);
    assert_int_equal(rp_watch_obs_due(&watch_in), 125 * MIN);
    watch_condition(114, RP_COND_DEAD);
    watch_quiet("obs", 300);
    assert_int_equal(rp_watch_obs_due(&watch_in), 0);
}

const struct CMUnitTest watch_signs_tests[] = {
    cmocka_unit_test(next_observations),
    cmocka_unit_test(conscious),
    cmocka_unit_test(conscious_by_coma_scale),
    cmocka_unit_test(spo2_band),
    cmocka_unit_test(spo2_band_by_altitude),
    cmocka_unit_test(spo2_fall),
    cmocka_unit_test(spo2_no_rise),
    cmocka_unit_test(resp_and_pulse),
    cmocka_unit_test(obs),
    cmocka_unit_test(obs_of_a_stable_patient),
    cmocka_unit_test(score_up),
    cmocka_unit_test(news2_up),
    cmocka_unit_test(critical),
};
const size_t watch_signs_count = sizeof watch_signs_tests / sizeof watch_signs_tests[0];
