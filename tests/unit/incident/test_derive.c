#include "episode_kit.h"

/* Observation sets. */

static void values_of_age_zero_make_one_set(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_status(100 * MIN, 71, 0);
    r.ago_s = 5 * MIN;
    r.as.status.pulse_bpm = kit_value(96);
    r.as.status.systolic_mmhg = kit_value(118);
    r.as.status.temp_dc = kit_value(364);
    r.as.status.temp_site = RP_SITE_ORAL;
    r.as.status.ataxia.state = RP_UNABLE;
    kit_add(&r, CAMP, 1);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(kit.obs.count, 1);
    const struct rp_obs *o = &kit.obs.at[0];
    assert_int_equal(o->taken_s, 95 * MIN);
    assert_int_equal(o->mode, RP_MODE_AIR);
    assert_int_equal(o->temp_site, RP_SITE_ORAL);
    assert_int_equal(o->spo2_pct.value, 71);
    assert_int_equal(o->pulse_bpm.value, 96);
    assert_int_equal(o->systolic_mmhg.value, 118);
    assert_int_equal(o->temp_dc.value, 364);
    assert_int_equal(o->ataxia.state, RP_UNABLE);
    assert_int_equal(o->resp_rpm.state, RP_NOT_MEASURED);
}

static void a_report_without_values_makes_no_set(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_status(100 * MIN, -1, 0);
    kit_add(&r, CAMP, 1);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(kit.obs.count, 0);
    assert_true(kit.has_status);
}

static void repeats_of_a_held_report_make_no_set(void **state)
{
    (void)state;
    kit_start();
    struct rp_record first = kit_status(100 * MIN, 71, 0);
    struct rp_record repeat = kit_status(112 * MIN + 30, 71, 15); /* 12.5 min, told as 15 */
    struct rp_record again = kit_status(140 * MIN, 71, 40);
    kit_add(&repeat, CAMP, 2);
    kit_add(&again, CAMP, 3);
    kit_add(&first, CAMP, 1);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(kit.obs.count, 1);
    assert_int_equal(kit.obs.at[0].from.ref.seq, 1);
    assert_int_equal(kit.obs.at[0].taken_s, 100 * MIN);
}

static void repeats_of_a_missing_report_make_one_set(void **state)
{
    (void)state;
    kit_start();
    struct rp_record repeat = kit_status(110 * MIN, 71, 10);
    struct rp_record again = kit_status(120 * MIN, 71, 20);
    repeat.as.status.systolic_mmhg = kit_value(118);
    repeat.as.status.pressure_age_min = 10;
    repeat.as.status.temp_dc = kit_value(364);
    repeat.as.status.temp_age_min = 40;
    again.as.status.systolic_mmhg = kit_value(118);
    again.as.status.pressure_age_min = 20;
    kit_add(&again, CAMP, 3);
    kit_add(&repeat, CAMP, 2);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(kit.obs.count, 2);
    assert_int_equal(kit.obs.at[0].taken_s, 70 * MIN);
    assert_int_equal(kit.obs.at[0].temp_dc.value, 364);
    assert_int_equal(kit.obs.at[0].mode, RP_MODE_UNSAID);
    assert_int_equal(kit.obs.at[0].spo2_pct.state, RP_NOT_MEASURED);
    assert_int_equal(kit.obs.at[1].taken_s, 100 * MIN);
    assert_int_equal(kit.obs.at[1].from.ref.seq, 2); /* told by that report */
    assert_int_equal(kit.obs.at[1].from.happened_s, 110 * MIN);
    assert_int_equal(kit.obs.at[1].spo2_pct.value, 71);
    assert_int_equal(kit.obs.at[1].systolic_mmhg.value, 118);
    assert_int_equal(kit.obs.at[1].mode, RP_MODE_AIR);
}

/* Each of these differs from the held report in one way that matters. */
static void other_values_mode_station_or_time_are_not_repeats(void **state)
{
    (void)state;
    for (int what = 0; what < 5; what++) {
        kit_start();
        struct rp_record first = kit_status(100 * MIN, 71, 0);
        struct rp_record other = kit_status(110 * MIN, 71, 10);
        uint16_t origin = CAMP;
        if (what == 1) {
            other.as.status.spo2_pct = kit_value(72);
        } else if (what == 2) {
            other.as.status.mode = RP_MODE_OXYGEN;
        } else if (what == 3) {
            origin = BASE;
        } else if (what == 4) {
            other.as.status.vitals_age_min = 60; /* 50 min older: beyond any rounding */
        }
        kit_add(&first, CAMP, 1);
        kit_add(&other, origin, 2);
        rp_episode_finish(&kit, 200 * MIN);
        assert_int_equal(kit.obs.count, what == 0 ? 1 : 2);
    }
}

/* Ages on air are told as the next step up; 360 follows 120, so 130 min are told as 360. */
/* The same temperature at another site is another measurement. */
static void a_temperature_at_another_site_is_no_repeat(void **state)
{
    (void)state;
    for (int other = 0; other < 2; other++) {
        kit_start();
        struct rp_record first = kit_record(RP_REC_STATUS, 100 * MIN), then = first;
        first.as.status.temp_dc = then.as.status.temp_dc = kit_value(364);
        first.as.status.temp_site = RP_SITE_ORAL;
        then.time_s = 110 * MIN;
        then.as.status.temp_age_min = 10;
        then.as.status.temp_site = other ? RP_SITE_TYMPANIC : RP_SITE_ORAL;
        kit_add(&first, CAMP, 1);
        kit_add(&then, CAMP, 2);
        rp_episode_finish(&kit, 200 * MIN);
        assert_int_equal(kit.obs.count, 1 + other);
    }
}

static void coarse_ages_are_still_repeats(void **state)
{
    (void)state;
    kit_start();
    struct rp_record first = kit_status(1000 * MIN, -1, 0);
    first.as.status.lls = kit_value(7);
    struct rp_record second = kit_status(1130 * MIN, -1, 0);
    second.as.status.lls = kit_value(7);
    second.as.status.score_age_min = 360;
    kit_add(&first, CAMP, 1);
    kit_add(&second, CAMP, 2);
    rp_episode_finish(&kit, 2000 * MIN);
    assert_int_equal(kit.obs.count, 1);
    /* The last step means that old or older: no time, so no set, though the report is shown. */
    kit_start();
    second.as.status.score_age_min = 1440;
    kit_add(&second, CAMP, 2);
    rp_episode_finish(&kit, 2000 * MIN);
    assert_int_equal(kit.obs.count, 0);
    assert_int_equal(kit.status.lls.value, 7);
}

static void fresh_values_beside_repeated_ones(void **state)
{
    (void)state;
    kit_start();
    struct rp_record first = kit_status(100 * MIN, 71, 0);
    first.as.status.lls = kit_value(7);
    struct rp_record second = kit_status(115 * MIN, 78, 0);
    second.as.status.lls = kit_value(7);
    second.as.status.score_age_min = 15;
    kit_add(&first, CAMP, 1);
    kit_add(&second, CAMP, 2);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(kit.obs.count, 2);
    assert_int_equal(kit.obs.at[1].spo2_pct.value, 78);
    assert_int_equal(kit.obs.at[1].lls.state, RP_NOT_MEASURED);
    assert_int_equal(rp_episode_last_obs(&kit, offsetof(struct rp_obs, lls), -1)->taken_s,
                     100 * MIN);
}

static void like_is_compared_with_like(void **state)
{
    (void)state;
    kit_start();
    struct rp_record air = kit_status(100 * MIN, 71, 0), chamber = kit_status(110 * MIN, 92, 0);
    chamber.as.status.mode = RP_MODE_CHAMBER;
    kit_add(&air, CAMP, 1);
    kit_add(&chamber, CAMP, 2);
    rp_episode_finish(&kit, 200 * MIN);
    size_t spo2 = offsetof(struct rp_obs, spo2_pct);
    assert_int_equal(rp_episode_last_obs(&kit, spo2, -1)->spo2_pct.value, 92);
    assert_int_equal(rp_episode_last_obs(&kit, spo2, RP_MODE_AIR)->spo2_pct.value, 71);
    assert_null(rp_episode_last_obs(&kit, spo2, RP_MODE_OXYGEN));
    assert_null(rp_episode_last_obs(&kit, offsetof(struct rp_obs, temp_dc), -1));
}

/* 96 sets are kept, from at most 192 reports; every other set is counted once. */
static void dropped_sets_are_counted(void **state)
{
    (void)state;
    for (int backwards = 0; backwards < 2; backwards++) {
        kit_start();
        for (uint32_t i = 0; i < 250; i++) {
            uint32_t seq = backwards ? 250 - i : i + 1;
            struct rp_record r = kit_status(seq * 15 * MIN, 60 + (int)(seq % 30), 0);
            r.as.status.temp_dc = kit_value(300 + (int)(seq / 2)); /* every second one repeats */
            r.as.status.temp_age_min = seq % 2 == 1 ? 15 : 0;
            kit_add(&r, CAMP, seq);
        }
        rp_episode_finish(&kit, 5000 * MIN);
        assert_int_equal(kit.obs.count, 96);
        assert_int_equal(kit.obs.older_dropped, 154);
        assert_int_equal(kit.obs.at[95].from.ref.seq, 250);
    }
}

/* Chamber sessions. */

static void a_whole_session(void **state)
{
    (void)state;
    kit_start();
    kit_chamber(1, 100 * MIN, RP_PHASE_CLOSED, 1);
    kit_chamber(2, 102 * MIN, RP_PHASE_PRESSURISING, 1);
    kit_chamber(3, 104 * MIN, RP_PHASE_HOLD, 1); /* ears */
    kit_chamber(4, 105 * MIN, RP_PHASE_PRESSURISING, 1);
    kit_chamber(5, 110 * MIN, RP_PHASE_AT_PRESSURE, 1);
    kit_chamber(6, 130 * MIN, RP_PHASE_HOLD, 1);
    kit_chamber(7, 134 * MIN, RP_PHASE_AT_PRESSURE, 1);
    kit_chamber(8, 170 * MIN, RP_PHASE_DEFLATING, 1);
    kit_chamber(9, 176 * MIN, RP_PHASE_OUT, 1);
    struct rp_record gauge = kit_record(RP_REC_CHAMBER, 140 * MIN);
    gauge.as.chamber.phase = RP_PHASE_AT_PRESSURE;
    gauge.as.chamber.session = 1;
    gauge.as.chamber.gauge_dhpa = kit_value(1379);
    kit_add(&gauge, CAMP, 10);
    gauge.time_s = 150 * MIN;
    gauge.as.chamber.gauge_dhpa = kit_value(1300);
    kit_add(&gauge, CAMP, 11);
    rp_episode_finish(&kit, 500 * MIN);
    assert_int_equal(kit.sessions.count, 1);
    const struct rp_session *s = &kit.sessions.at[0];
    assert_int_equal(s->number, 1);
    assert_true(s->has_closed && s->has_pressurising && s->has_at_pressure && s->has_deflating &&
                s->has_out);
    assert_int_equal(s->closed_s, 100 * MIN);
    assert_int_equal(s->pressurising_s, 102 * MIN);
    assert_int_equal(s->at_pressure_s, 110 * MIN);
    assert_int_equal(s->deflating_s, 170 * MIN);
    assert_int_equal(s->out_s, 176 * MIN);
    assert_int_equal(s->at_pressure_total_s, 60 * MIN);
    assert_int_equal(s->holds, 2);
    assert_int_equal(s->gauge_dhpa.value, 1379);
    assert_int_equal(s->phase, RP_PHASE_OUT);
}

static void a_running_session_ends_with_now(void **state)
{
    (void)state;
    kit_start();
    kit_chamber(5, 110 * MIN, RP_PHASE_AT_PRESSURE, 1);
    rp_episode_finish(&kit, 125 * MIN);
    assert_int_equal(kit.sessions.at[0].at_pressure_total_s, 15 * MIN);
    rp_episode_finish(&kit, 135 * MIN);
    assert_int_equal(kit.sessions.at[0].at_pressure_total_s, 25 * MIN);
    assert_int_equal(kit.sessions.count, 1);
    rp_episode_finish(&kit, 100 * MIN); /* a clock behind */
    assert_int_equal(kit.sessions.at[0].at_pressure_total_s, 0);
    struct rp_record close = kit_record(RP_REC_CLOSE, 130 * MIN);
    kit_add(&close, CAMP, 6);
    rp_episode_finish(&kit, 500 * MIN);
    assert_int_equal(kit.sessions.at[0].at_pressure_total_s, 20 * MIN);
}

static void missing_events_are_not_invented(void **state)
{
    (void)state;
    kit_start();
    kit_chamber(1, 100 * MIN, RP_PHASE_CLOSED, 1); /* never at pressure, as far as is known */
    kit_chamber(2, 130 * MIN, RP_PHASE_OUT, 1);
    kit_chamber(3, 200 * MIN, RP_PHASE_AT_PRESSURE, 2); /* neither closed nor out */
    kit_chamber(4, 300 * MIN, RP_PHASE_PRESSURISING, 3);
    kit_chamber(5, 310 * MIN, RP_PHASE_HOLD, 3);
    rp_episode_finish(&kit, 500 * MIN);
    assert_int_equal(kit.sessions.count, 3);
    assert_false(kit.sessions.at[0].has_at_pressure);
    assert_int_equal(kit.sessions.at[0].at_pressure_total_s, 0);
    assert_true(kit.sessions.at[0].has_out);
    assert_false(kit.sessions.at[1].has_closed || kit.sessions.at[1].has_out);
    assert_int_equal(kit.sessions.at[1].at_pressure_total_s, 100 * MIN); /* until session 3 */
    assert_int_equal(kit.sessions.at[1].phase, RP_PHASE_AT_PRESSURE);
    assert_int_equal(kit.sessions.at[2].at_pressure_total_s, 0);
    assert_int_equal(kit.sessions.at[2].holds, 1);
    assert_int_equal(kit.sessions.at[2].gauge_dhpa.state, RP_NOT_MEASURED);
}

static void voided_chamber_events_do_not_count(void **state)
{
    (void)state;
    kit_start();
    kit_chamber(1, 100 * MIN, RP_PHASE_AT_PRESSURE, 1);
    kit_chamber(2, 110 * MIN, RP_PHASE_OUT, 1);
    kit_chamber(3, 160 * MIN, RP_PHASE_OUT, 1);
    kit_chamber(4, 170 * MIN, RP_PHASE_CLOSED, 2);
    kit_correct(5, 180 * MIN, kit_ref(CAMP, 2), kit_ref(CAMP, 3));
    kit_correct(6, 180 * MIN, kit_ref(CAMP, 4), kit_ref(0, 0));
    rp_episode_finish(&kit, 500 * MIN);
    assert_int_equal(kit.sessions.count, 1);
    assert_int_equal(kit.sessions.at[0].at_pressure_total_s, 60 * MIN);
    assert_int_equal(kit.sessions.at[0].out_s, 160 * MIN);
    assert_int_equal(kit.chamber.count, 4);
}

/* 24 sessions are kept. */
static void more_sessions_than_fit(void **state)
{
    (void)state;
    kit_start();
    for (uint32_t i = 1; i <= 30; i++) {
        kit_chamber(i, i * 100 * MIN, RP_PHASE_CLOSED, (uint8_t)i);
    }
    rp_episode_finish(&kit, 5000 * MIN);
    assert_int_equal(kit.sessions.count, 24);
    assert_int_equal(kit.sessions.older_dropped, 6);
    assert_int_equal(kit.sessions.at[0].number, 7);
    assert_int_equal(kit.sessions.at[23].number, 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_of_age_zero_make_one_set),
        cmocka_unit_test(a_report_without_values_makes_no_set),
        cmocka_unit_test(repeats_of_a_held_report_make_no_set),
        cmocka_unit_test(repeats_of_a_missing_report_make_one_set),
        cmocka_unit_test(other_values_mode_station_or_time_are_not_repeats),
        cmocka_unit_test(a_temperature_at_another_site_is_no_repeat),
        cmocka_unit_test(coarse_ages_are_still_repeats),
        cmocka_unit_test(fresh_values_beside_repeated_ones),
        cmocka_unit_test(like_is_compared_with_like),
        cmocka_unit_test(dropped_sets_are_counted),
        cmocka_unit_test(a_whole_session),
        cmocka_unit_test(a_running_session_ends_with_now),
        cmocka_unit_test(missing_events_are_not_invented),
        cmocka_unit_test(voided_chamber_events_do_not_count),
        cmocka_unit_test(more_sessions_than_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
