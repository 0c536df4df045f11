/* What follows from the findings. Values by hand from the published rules
 * named beside them. */
#include "episode_kit.h"

#include "incident/assess/assess.h"
#include "incident/watch/oxygen.h"

static struct rp_assessment assess(void)
{
    struct rp_assessment a;
    rp_episode_finish(&kit, 100000);
    rp_episode_assess(&kit, &a);
    return a;
}

/* NEWS2 chart 1: resp 28 is 3, SpO2 71 is 3, on air 0, systolic 132 is 0, pulse 118 is 2, new
 * confusion 3, 36.4 C 0: 11, without SpO2 8. */
static void fill_vitals(struct rp_rec_status *s)
{
    s->mode = RP_MODE_AIR;
    s->spo2_pct = kit_value(71);
    s->pulse_bpm = kit_value(118);
    s->resp_rpm = kit_value(28);
    s->acvpu = kit_value(RP_ACVPU_CONFUSED);
    s->systolic_mmhg = kit_value(132);
    s->diastolic_mmhg = kit_value(84);
    s->temp_dc = kit_value(364);
}

static void news2_of_one_set(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_STATUS, 1000);
    fill_vitals(&r.as.status);
    kit_add(&r, CAMP, 2);
    struct rp_assessment a = assess();
    assert_true(a.has_news2 && a.news2.with_spo2.complete);
    assert_int_equal(a.news2.with_spo2.score, 11);
    assert_int_equal(a.news2.without_spo2.score, 8);
    assert_int_equal(a.news2_s, 1000);
}

static void news2_takes_in_the_hour_before(void **state)
{
    (void)state;
    for (int late = 0; late < 2; late++) {
        kit_start();
        struct rp_record first = kit_record(RP_REC_STATUS, 1000);
        fill_vitals(&first.as.status);
        kit_add(&first, CAMP, 2);
        struct rp_record then = kit_record(RP_REC_STATUS, 1000 + 3600 + (uint32_t)late);
        then.as.status.mode = late ? RP_MODE_CHAMBER_OXYGEN : RP_MODE_OXYGEN;
        then.as.status.resp_rpm = kit_value(18);
        kit_add(&then, CAMP, 3);
        struct rp_assessment a = assess();
        assert_int_equal(a.news2.with_spo2.complete, !late);
        /* 18 breaths 0, SpO2 3, oxygen 2, pulse 2, confusion 3; too old: only the oxygen. */
        assert_int_equal(a.news2.with_spo2.score, late ? 2 : 10);
    }
}

static void news2_is_not_for_children_nor_without_signs(void **state)
{
    (void)state;
    kit_start();
    assert_false(assess().has_news2);
    struct rp_record r = kit_record(RP_REC_STATUS, 1000);
    fill_vitals(&r.as.status);
    r.as.status.mode = RP_MODE_UNSAID;
    kit_add(&r, CAMP, 2);
    struct rp_assessment a = assess();
    assert_false(a.news2.with_spo2.complete); /* air or oxygen is not known */
    struct rp_record o = kit_record(RP_REC_EPISODE, 900);
    o.as.opened.has_age = true;
    o.as.opened.age_y = 15;
    kit_add(&o, CAMP, 1);
    a = assess();
    assert_false(a.has_news2);
    assert_true(a.news2_unsupported);
    o.as.opened.age_y = 16;
    kit_add(&o, CAMP, 3);
    a = assess();
    assert_true(a.has_news2);
    /* A level that no record holds leaves no score. */
    kit.obs.at[0].acvpu.value = 9;
    struct rp_assessment odd;
    rp_episode_assess(&kit, &odd);
    assert_false(odd.has_news2 || odd.news2_unsupported);
}

static void open_at(int16_t altitude_m, bool present)
{
    struct rp_record o = kit_record(RP_REC_EPISODE, 900);
    o.as.opened.altitude = (struct rp_altitude){present, altitude_m, RP_ALT_GPS};
    kit_add(&o, CAMP, 1);
}

/* The by-eye band (references 3.2): 72 % at 5000 m. */
static void spo2_on_air_against_the_band(void **state)
{
    (void)state;
    static const struct {
        int spo2;
        enum rp_truth below;
    } rows[] = {{71, RP_TRUTH_YES}, {72, RP_TRUTH_NO}};
    for (size_t i = 0; i < 2; i++) {
        kit_start();
        open_at(5000, true);
        struct rp_record r = kit_status(1000, rows[i].spo2, 0);
        kit_add(&r, CAMP, 2);
        struct rp_assessment a = assess();
        assert_true(a.has_band);
        assert_int_equal(a.spo2_below, rows[i].below);
    }
    kit_start();
    open_at(5000, true);
    assert_int_equal(assess().spo2_below, RP_TRUTH_UNKNOWN); /* nothing measured */
    kit_start();
    open_at(2000, true);
    assert_false(assess().has_band);
    kit_start();
    open_at(5000, false);
    assert_false(assess().has_band);
    /* The request in force knows better, when it says. */
    kit_request(2, 950, 0);
    assert_false(assess().has_band);
    struct rp_record q = kit_record(RP_REC_EVACUATION, 990);
    q.as.evacuation.altitude = (struct rp_altitude){true, 5500, RP_ALT_GPS};
    kit_add(&q, CAMP, 4);
    assert_int_equal(assess().band.alarm_below_tenths, 680);
}

/* Lake Louise consensus 1991, score of 2018: AMS with ataxia is HACE; two symptoms and two signs
 * are HAPE. */
static void criteria_and_score(void **state)
{
    (void)state;
    kit_start();
    struct rp_record o = kit_record(RP_REC_EPISODE, 900);
    enum rp_finding *f = o.as.opened.criteria;
    for (int i = 0; i < RP_CRIT_COUNT; i++) {
        f[i] = RP_FINDING_NO;
    }
    f[RP_CRIT_ALTITUDE_GAIN] = f[RP_CRIT_ATAXIA] = f[RP_CRIT_COUGH] = f[RP_CRIT_WEAKNESS] =
        f[RP_CRIT_CRACKLES] = f[RP_CRIT_TACHYCARDIA] = RP_FINDING_YES;
    o.as.opened.lls.headache = kit_value(2);
    o.as.opened.lls.gut = kit_value(1);
    o.as.opened.lls.fatigue = kit_value(0);
    o.as.opened.lls.dizziness = kit_value(0);
    kit_add(&o, CAMP, 1);
    struct rp_assessment a = assess();
    assert_int_equal(a.hace, RP_TRUTH_YES);
    assert_int_equal(a.hape, RP_TRUTH_YES);
    assert_int_equal(a.lls.total, 3);
    /* A reassessment without headache: no AMS, and ataxia alone is no HACE by the consensus. */
    static const size_t items[] = {0, 1, 2, 3};
    for (size_t i = 0; i < 4; i++) {
        struct rp_record r = kit_record(RP_REC_REASSESS, 2000 + (uint32_t)i);
        struct rp_value *const values[] = {&r.as.reassess.lls.headache, &r.as.reassess.lls.gut,
                                           &r.as.reassess.lls.fatigue,
                                           &r.as.reassess.lls.dizziness};
        *values[items[i]] = kit_value(i == 0 ? 0 : 3);
        kit_add(&r, CAMP, 10 + (uint32_t)i);
        a = assess();
        assert_int_equal(a.lls.ams, i == 0 ? RP_TRUTH_NO : RP_TRUTH_UNKNOWN);
        assert_int_equal(a.hace, i == 0 ? RP_TRUTH_NO : RP_TRUTH_UNKNOWN);
    }
    for (uint32_t i = 0; i < 4; i++) {
        kit_correct(30 + i, 3000, kit_ref(CAMP, 10 + i), kit_ref(0, 0));
    }
    struct rp_record empty = kit_record(RP_REC_REASSESS, 2500);
    kit_add(&empty, CAMP, 20);
    assert_int_equal(assess().lls.total, 3); /* voided ones and one without a score are passed */
}

/* Swiss stages by core (J Trauma 2019, table 1): 31.5 C is 2; with suspected HACE the stage by
 * response misleads. Both ways of suspecting it. */
static void cold_is_staged_below_35(void **state)
{
    (void)state;
    for (int label = 0; label < 3; label++) { /* neither, by its label, by its criteria */
        kit_start();
        struct rp_record o = kit_record(RP_REC_EPISODE, 900);
        o.as.opened.label = label == 1 ? RP_LABEL_HACE : RP_LABEL_AMS;
        if (label == 2) {
            o.as.opened.criteria[RP_CRIT_ALTITUDE_GAIN] = RP_FINDING_YES;
            o.as.opened.criteria[RP_CRIT_ATAXIA] = RP_FINDING_YES;
            o.as.opened.criteria[RP_CRIT_MENTAL_CHANGE] = RP_FINDING_YES;
        }
        kit_add(&o, CAMP, 1);
        struct rp_record r = kit_record(RP_REC_STATUS, 1000);
        fill_vitals(&r.as.status);
        r.as.status.temp_dc = kit_value(315);
        kit_add(&r, CAMP, 2);
        struct rp_assessment a = assess();
        assert_true(a.has_cold);
        assert_int_equal(a.cold.by_core.value, 2);
        assert_int_equal(a.cold.by_response.value, 2);
        assert_int_equal(a.cold.falsified, label > 0);
    }
    static const struct {
        int temp_dc, pulse, resp, stage; /* pulse and respiration below 0: not measured; level U */
    } rows[] = {{350, 0, 0, 4}, {350, 40, 0, 3}, {350, 0, 6, 3}, {350, -1, 0, 0}, {350, 0, -1, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        kit_start();
        struct rp_record r = kit_record(RP_REC_STATUS, 1000);
        r.as.status.temp_dc = kit_value(rows[i].temp_dc);
        r.as.status.acvpu = kit_value(RP_ACVPU_UNRESPONSIVE);
        if (rows[i].pulse >= 0) {
            r.as.status.pulse_bpm = kit_value(rows[i].pulse);
        }
        if (rows[i].resp >= 0) {
            r.as.status.resp_rpm = kit_value(rows[i].resp);
        }
        kit_add(&r, CAMP, 2);
        struct rp_assessment a = assess();
        assert_int_equal(a.cold.by_response.value, rows[i].stage);
    }
    kit_start();
    struct rp_record r = kit_record(RP_REC_STATUS, 1000);
    r.as.status.temp_dc = kit_value(351);
    kit_add(&r, CAMP, 2);
    assert_false(assess().has_cold);
}

/* 4 L at 210 and 160 bar, 3 L/min (references 2.5): 1400 L, 466 min; after an hour 180 L less. */
static void oxygen_of_several_cylinders(void **state)
{
    (void)state;
    kit_start();
    static const char *const names[] = {"A", "B"};
    static const int bars[] = {210, 160};
    for (uint32_t i = 0; i < 2; i++) {
        struct rp_record r = kit_record(RP_REC_OXYGEN, 1000);
        r.as.oxygen.action = i == 0 ? RP_O2_READING : RP_O2_START;
        memcpy(r.as.oxygen.cylinder, names[i], 2);
        r.as.oxygen.cylinder_bar = kit_value(bars[i]);
        r.as.oxygen.water_dl = kit_value(40);
        if (i == 1) {
            r.as.oxygen.flow_dlpm = kit_value(30);
        }
        kit_add(&r, CAMP, 2 + i);
    }
    struct rp_oxygen_left left;
    rp_episode_finish(&kit, 1000);
    rp_oxygen_left_of(&kit, 1000, &left);
    assert_true(left.known);
    assert_int_equal(left.usable_dl, 14000);
    assert_int_equal(left.flow_dlpm, 30);
    assert_int_equal(left.left_s / 60, 466);
    rp_oxygen_left_of(&kit, 1000 + 3600, &left);
    assert_int_equal(left.usable_dl, 14000 - 1800);
}

/* Little under 0.5 mL/kg/h (from memory): of 72 kg in 4 h under 144 mL. */
static void urine_against_weight_and_time(void **state)
{
    (void)state;
    kit_start();
    struct rp_rec_fluids fluids = {.urine_ml = kit_value(143), .has_span = true, .span_min = 240};
    assert_int_equal(rp_urine_little(&kit, &fluids), RP_TRUTH_UNKNOWN); /* no weight */
    kit.opening.has_weight = true;
    kit.opening.weight_kg = 72;
    assert_int_equal(rp_urine_little(&kit, &fluids), RP_TRUTH_YES);
    fluids.urine_ml.value = 144;
    assert_int_equal(rp_urine_little(&kit, &fluids), RP_TRUTH_NO);
    fluids.has_span = false;
    assert_int_equal(rp_urine_little(&kit, &fluids), RP_TRUTH_UNKNOWN);
    fluids.has_span = true;
    fluids.urine_ml = (struct rp_value){RP_UNABLE, 0};
    assert_int_equal(rp_urine_little(&kit, &fluids), RP_TRUTH_UNKNOWN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(news2_of_one_set),
        cmocka_unit_test(news2_takes_in_the_hour_before),
        cmocka_unit_test(news2_is_not_for_children_nor_without_signs),
        cmocka_unit_test(spo2_on_air_against_the_band),
        cmocka_unit_test(criteria_and_score),
        cmocka_unit_test(cold_is_staged_below_35),
        cmocka_unit_test(oxygen_of_several_cylinders),
        cmocka_unit_test(urine_against_weight_and_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
