/* Who pumps, and the air inside. The estimates are checked against the published and the computed
 * figures of the clinical references 2.4 (5000 m, 2 psi, 500 L, strokes of 2 L), and against the
 * balance solved in small steps here. */
#include "watch_kit.h"

#include <math.h>

#include "incident/watch/pumping.h"

static struct rp_pumping pumping;
static struct rp_watch_plan plan;

static void at(uint32_t minute)
{
    rp_episode_finish(&kit, minute * MIN);
    rp_pumping_of(&kit, &plan, &watch_in.station, minute * MIN, &pumping);
}

static void in_chamber(int16_t altitude_m)
{
    watch_start();
    plan = rp_watch_plan_default;
    plan.volume_dl = 5000;
    plan.stroke_dl = 20;
    struct rp_record r = kit_record(RP_REC_EPISODE, 101 * MIN);
    r.as.opened.altitude = (struct rp_altitude){altitude_m != 0, altitude_m, RP_ALT_MAP};
    watch_add(&r);
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_gauge(110, RP_PHASE_AT_PRESSURE, 1, 1379);
}

static void strokes_are_counted(void **state)
{
    (void)state;
    in_chamber(5000);
    at(111);
    assert_false(pumping.told);
    assert_false(pumping.has_air);
    assert_true(pumping.has_need); /* the need stands before the first stroke */
    assert_int_equal(pumping.needed_rest, 23);
    assert_string_equal(pumping.pumper, "");
    watch_pumping(109, "Sabe", 9, 100); /* of before this session */
    at(112);
    assert_false(pumping.told);
    watch_pumping(120, "Jory", 200, 600);
    at(121);
    assert_true(pumping.told);
    assert_int_equal(pumping.strokes, 200);
    assert_int_equal(pumping.last_s, 120 * MIN);
    assert_int_equal(pumping.rate_dpm, 200); /* 20.0 */
    assert_string_equal(pumping.pumper, "Jory");
    assert_int_equal(pumping.pumper_s, 600);
    assert_int_equal(pumping.turn_from_s, 110 * MIN);
    watch_pumping(121, "Jory", 4, 29); /* too short for a rate of its own */
    at(122);
    assert_int_equal(pumping.strokes, 204);
    assert_int_equal(pumping.rate_dpm, 194); /* 204 in 629 s */
    assert_int_equal(pumping.turn_s, 629);
    kit_correct(900, 122 * MIN, watch_last(), kit_ref(0, 0));
    watch_pumping(127, "Jory", 4, 29); /* after a rest it tells nothing */
    at(127);
    assert_int_equal(pumping.rate_dpm, 0);
    kit_correct(901, 127 * MIN, watch_last(), kit_ref(0, 0));
    at(122);
    assert_int_equal(pumping.strokes, 200);
    watch_in.station.has_turn = true; /* the station's own, not recorded yet */
    watch_in.station.turn = (struct rp_rec_pumping){.pumper = "Sabe", .strokes = 30, .spell_s = 60};
    watch_in.station.turn_last_s = 123 * MIN;
    at(123);
    assert_int_equal(pumping.strokes, 230);
    assert_int_equal(pumping.rate_dpm, 300);
    assert_string_equal(pumping.pumper, "Sabe");
    rp_pumping_of(&kit, NULL, NULL, 123 * MIN, &pumping); /* base: records alone, no figures */
    assert_int_equal(pumping.strokes, 200);
    assert_false(pumping.has_air);
    kit_start(); /* strokes without any session */
    watch_pumping(20, "Jory", 20, 600);
    at(21);
    assert_false(pumping.told);
}

/* The balance in steps of a second, standard litres; the constants of the clinical references 2.4
 * and 2.1 (West 1996 gives 559.5 hPa at 5000 m, the standard atmosphere -17.5 C). */
static double co2_in_steps(double co2_lpm, const int *strokes_of_minute, int minutes)
{
    double outside_hpa = 559.5, content_l = 500 * (outside_hpa + 137.9) / 1013.25 * 273.15 / 278.15;
    double stroke_l = 2 * outside_hpa / 1013.25 * 273.15 / (273.15 - 17.5), co2 = 0.0004;
    for (int s = 0; s < minutes * 60; s++) {
        double flow = strokes_of_minute[s / 60] * stroke_l / 60;
        co2 += (co2_lpm / 60 - (co2 - 0.0004) * flow) / content_l;
    }
    return co2;
}

static void air_follows_the_strokes(void **state)
{
    (void)state;
    int rates[90] = {0};
    in_chamber(5000);
    watch_pumping(120, "Jory", 200, 600); /* 20 a minute for ten minutes */
    for (int i = 0; i < 10; i++) {
        rates[i] = 20;
    }
    at(120);
    assert_true(pumping.has_air);
    assert_true(fabs(pumping.rest.co2_fraction - co2_in_steps(0.25, rates, 10)) < 2e-5);
    assert_true(fabs(pumping.distress.co2_fraction - co2_in_steps(0.35, rates, 10)) < 2e-5);
    double before = pumping.rest.co2_fraction;
    at(125); /* a stop of five minutes */
    assert_true(fabs(pumping.rest.co2_fraction - co2_in_steps(0.25, rates, 15)) < 2e-5);
    /* 0.074 % a minute at 5000 m (table of 2.4) */
    assert_true(fabs((pumping.rest.co2_fraction - before) / 5 - 0.00074) < 0.00001);
    assert_true(pumping.rest.o2_fraction < 0.2093 - pumping.rest.co2_fraction);
    watch_pumping(200, "Sabe", 60 * 12, 3600); /* the rule of one in five seconds, from 140 on */
    for (int i = 30; i < 90; i++) {
        rates[i] = 12;
    }
    at(200);
    assert_true(fabs(pumping.rest.co2_fraction - co2_in_steps(0.25, rates, 90)) < 2e-5);
    /* 43 and 60 L/min at -15 C, 5000 m (table of 2.4, without the 0.04 % outside): 44.1 and 61.8
     * with it and at the standard -17.5 C, in strokes of 2 L. */
    assert_int_equal(pumping.needed_rest, 23);
    assert_int_equal(pumping.needed_distress, 31);
    watch_chamber(201, RP_PHASE_OUT, 1);
    at(202);
    assert_true(pumping.told);
    assert_false(pumping.has_air);
}

static void what_is_not_known_is_not_estimated(void **state)
{
    (void)state;
    in_chamber(0); /* no altitude */
    watch_pumping(120, "Jory", 200, 600);
    at(121);
    assert_true(pumping.told);
    assert_false(pumping.has_air);
    assert_false(pumping.has_need);
    in_chamber(5000);
    watch_pumping(120, "Jory", 200, 600);
    plan.volume_dl = 0;
    at(121);
    assert_false(pumping.has_air);
    assert_true(pumping.has_need);
    plan.volume_dl = 5000;
    plan.stroke_dl = 0;
    at(121);
    assert_false(pumping.has_air);
    assert_false(pumping.has_need);
}

/* Times that cannot all be true must not make nonsense. */
static void odd_times_stay_within_bounds(void **state)
{
    (void)state;
    in_chamber(5480);
    watch_pumping(121, "Jory", 3000, 10); /* more than one a second */
    watch_pumping(122, "Jory", 12, 3600); /* overlaps the one before */
    watch_pumping(200, "Jory", 12, 60);   /* later than now, from a clock ahead */
    at(123);
    assert_true(pumping.has_air);
    assert_true(pumping.rest.co2_fraction >= 0.0004 && pumping.rest.co2_fraction < 0.02);
    at(110 + 3 * 1440); /* three days: as bad as can be, no worse */
    assert_true(pumping.rest.co2_fraction <= 1.0 && pumping.rest.o2_fraction >= 0.0);
    kit_start(); /* a gauge nobody read: the plan's; a stretch from before time began */
    plan.volume_dl = 5000;
    plan.stroke_dl = 20;
    struct rp_record r = kit_record(RP_REC_EPISODE, MIN);
    r.as.opened.altitude = (struct rp_altitude){true, 5480, RP_ALT_MAP};
    watch_add(&r);
    watch_chamber(2, RP_PHASE_CLOSED, 1);
    watch_pumping(3, "Jory", 12, 3600);
    at(4);
    assert_true(pumping.has_air);
}

static void each_person_is_told_once(void **state)
{
    (void)state;
    uint32_t span_s;
    in_chamber(5000);
    watch_pumping(120, "Jory", 200, 600);
    watch_pumping(130, "Sabe", 90, 500);
    watch_pumping(145, "JORY", 80, 400);
    watch_pumping(150, "Sabe", 50, 300); /* was an error */
    kit_correct(900, 151 * MIN, watch_last(), kit_ref(0, 0));
    rp_episode_finish(&kit, 160 * MIN);
    assert_true(rp_pumper_total(&kit, 0, &span_s));
    assert_int_equal(span_s, 1000);
    assert_true(rp_pumper_total(&kit, 1, &span_s));
    assert_int_equal(span_s, 500);
    assert_false(rp_pumper_total(&kit, 2, &span_s)); /* told with the first */
    assert_false(rp_pumper_total(&kit, 3, &span_s));
    kit_correct(901, 152 * MIN, kit_ref(CAMP, kit.pumping.at[1].from.ref.seq), kit_ref(0, 0));
    rp_episode_finish(&kit, 160 * MIN); /* the only one left of Sabe is voided: nobody */
    assert_false(rp_pumper_total(&kit, 1, &span_s));
    assert_int_equal(span_s, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strokes_are_counted),
        cmocka_unit_test(air_follows_the_strokes),
        cmocka_unit_test(what_is_not_known_is_not_estimated),
        cmocka_unit_test(odd_times_stay_within_bounds),
        cmocka_unit_test(each_person_is_told_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
