/* Everything that looks at an episode, over episodes of random records: values at their bounds,
 * times from wrong clocks, any order. Nothing may fail, and what is found keeps its promises. */
#include "watch_kit.h"

#include "base/rng.h"
#include "incident/assess/assess.h"
#include "incident/watch/pumping.h"

#define EPISODES 1500
#define RECORDS  60

static uint32_t pick(struct rp_rng *rng, uint32_t below)
{
    return (uint32_t)rp_rng_below(rng, below);
}

static uint32_t any_time(struct rp_rng *rng)
{
    switch (pick(rng, 12)) {
    case 0:
        return pick(rng, 100); /* a clock at its start */
    case 1:
        return UINT32_MAX - pick(rng, 5000); /* or far ahead */
    default:
        return 1000000 + pick(rng, 86400);
    }
}

static struct rp_value any_value(struct rp_rng *rng, int low, int high)
{
    struct rp_value value = {(enum rp_measured)pick(rng, 3), 0};
    int edge = pick(rng, 4) == 0 ? low : high;
    value.value =
        (int16_t)(pick(rng, 3) == 0 ? edge : low + (int)pick(rng, (uint32_t)(high - low + 1)));
    value.value = value.state == RP_MEASURED ? value.value : 0;
    return value;
}

static void any_name(struct rp_rng *rng, char *out)
{
    static const char *const names[] = {
        "", "Jory", "dexamethasone", "dexa", "nifedipine", "sildenafil", "A", "b"};
    strcpy(out, names[pick(rng, sizeof names / sizeof names[0])]);
}

static void fill_status(struct rp_rng *rng, struct rp_rec_status *s)
{
    s->condition = (uint8_t)pick(rng, 7);
    s->mode = (uint8_t)pick(rng, 5);
    s->phase = (uint8_t)pick(rng, 7);
    s->spo2_pct = any_value(rng, 0, 100);
    s->pulse_bpm = any_value(rng, 0, 300);
    s->resp_rpm = any_value(rng, 0, 90);
    s->acvpu = any_value(rng, 0, 4);
    s->systolic_mmhg = any_value(rng, 30, 300);
    s->temp_dc = any_value(rng, 100, 450);
    s->lls = any_value(rng, 0, 12);
    s->gcs_eye = any_value(rng, 1, 4);
    s->gcs_verbal = s->gcs_motor = s->gcs_eye;
    s->vitals_age_min = (uint16_t)pick(rng, 1441);
    s->next_min = (uint8_t)pick(rng, 61);
}

static void fill_treatment(struct rp_rng *rng, struct rp_record *r)
{
    any_name(rng, r->as.treatment.name);
    r->as.treatment.kind = (uint8_t)pick(rng, 3);
    r->as.treatment.has_dose = pick(rng, 4) != 0;
    r->as.treatment.dose_milli = pick(rng, 3) == 0 ? 10000000 : 1 + pick(rng, 20000);
    r->as.treatment.dose_unit = (uint8_t)pick(rng, 8);
    r->as.treatment.refused = pick(rng, 8) == 0;
}

static void fill(struct rp_rng *rng, struct rp_record *r)
{
    switch (r->kind) {
    case RP_REC_EPISODE:
        r->as.opened.label = (uint8_t)pick(rng, 16);
        r->as.opened.altitude =
            (struct rp_altitude){pick(rng, 4) != 0, (int16_t)((int)pick(rng, 9351) - 450), 1};
        break;
    case RP_REC_STATUS:
        fill_status(rng, &r->as.status);
        break;
    case RP_REC_TREATMENT:
        fill_treatment(rng, r);
        break;
    case RP_REC_OXYGEN:
        r->as.oxygen.action = (uint8_t)pick(rng, 4);
        r->as.oxygen.flow_dlpm = any_value(rng, 0, 250);
        r->as.oxygen.cylinder_bar = any_value(rng, 0, 350);
        r->as.oxygen.water_dl = any_value(rng, 5, 500);
        any_name(rng, r->as.oxygen.cylinder);
        break;
    case RP_REC_CHAMBER:
        r->as.chamber.phase = (uint8_t)pick(rng, 7);
        r->as.chamber.session = (uint8_t)(1 + pick(rng, 255));
        r->as.chamber.gauge_dhpa = any_value(rng, 0, 3000);
        r->as.chamber.altimeter_m = any_value(rng, -450, 8900);
        break;
    case RP_REC_DESCENT:
        r->as.descent.descending = pick(rng, 4) == 0;
        r->as.descent.has_ask_again = pick(rng, 2) == 0;
        r->as.descent.ask_again_min = (uint16_t)(1 + pick(rng, 1440));
        r->as.descent.has_way = pick(rng, 2) == 0;
        r->as.descent.way_min = (uint16_t)(1 + pick(rng, 2880));
        break;
    case RP_REC_EVACUATION:
        r->as.evacuation.has_daylight = pick(rng, 2) == 0;
        r->as.evacuation.daylight_end_s = any_time(rng);
        break;
    case RP_REC_ANSWER:
        r->as.answer.kind = (uint8_t)(1 + pick(rng, 7));
        r->as.answer.has_eta = pick(rng, 2) == 0;
        r->as.answer.eta_s = any_time(rng);
        r->as.answer.about = kit_ref(CAMP, 1 + pick(rng, RECORDS));
        break;
    case RP_REC_CORRECTION:
        r->as.correction.about = kit_ref(CAMP, 1 + pick(rng, RECORDS));
        break;
    case RP_REC_ALARM:
        r->as.alarm.rule = (uint8_t)(1 + pick(rng, 255));
        r->as.alarm.has_about = r->as.alarm.has_until = true;
        r->as.alarm.about_s = any_time(rng);
        r->as.alarm.until_s = any_time(rng);
        break;
    case RP_REC_PUMPING:
        any_name(rng, r->as.pumping.pumper);
        r->as.pumping.strokes = (uint16_t)(1 + pick(rng, 3000));
        r->as.pumping.spell_s = (uint16_t)pick(rng, 3601);
        break;
    case RP_REC_STOCK:
        any_name(rng, r->as.stock.name);
        r->as.stock.left_milli = pick(rng, 10000001);
        r->as.stock.unit = (uint8_t)pick(rng, 8);
        break;
    case RP_REC_FLUIDS:
        r->as.fluids.urine_ml = kit_value((int)pick(rng, 3001));
        r->as.fluids.has_span = pick(rng, 2) == 0;
        r->as.fluids.span_min = (uint16_t)(1 + pick(rng, 1440));
        break;
    default:
        break;
    }
}

static void any_episode(struct rp_rng *rng)
{
    kit_start();
    uint32_t count = 1 + pick(rng, RECORDS);
    for (uint32_t seq = 1; seq <= count; seq++) {
        enum rp_record_kind kind = (enum rp_record_kind)(1 + pick(rng, RP_REC_LAST));
        /* Closed or handed over nothing is due any more: seldom. */
        bool ends = kind == RP_REC_CLOSE || kind == RP_REC_HANDOVER;
        struct rp_record r =
            kit_record(ends && pick(rng, 8) != 0 ? RP_REC_STATUS : kind, any_time(rng));
        r.ago_s = pick(rng, 6) == 0 ? pick(rng, 604801) : 0;
        r.unsynced = pick(rng, 6) == 0;
        fill(rng, &r);
        kit_add(&r, pick(rng, 4) == 0 ? BASE : CAMP, seq);
    }
}

static void any_station(struct rp_rng *rng)
{
    memset(&watch_in, 0, sizeof watch_in);
    struct rp_watch_station *station = &watch_in.station;
    uint32_t bits = pick(rng, 4096);
    *station = (struct rp_watch_station){
        .has_tick = bits & 1,
        .has_pumper = bits & 2,
        .has_unacked = bits & 4,
        .has_radio_lost = bits & 8,
        .has_daylight_end = bits & 16,
        .has_turn = bits & 32,
        .has_battery = bits & 64,
        .clock_unsynced = bits & 128,
        .store_failing = bits & 256,
        .tick_s = any_time(rng),
        .pumper_since_s = any_time(rng),
        .unacked_s = any_time(rng),
        .radio_lost_s = any_time(rng),
        .daylight_end_s = any_time(rng),
        .turn = {.pumper = "Sabe", .strokes = (uint16_t)(1 + pick(rng, 3000))},
        .turn_last_s = any_time(rng),
        .battery_pct = (uint8_t)pick(rng, 101),
        .clock_back_s = pick(rng, 2) * any_time(rng),
        .clock_back_at_s = any_time(rng),
        .clock_back_at_start = pick(rng, 2) == 0,
        .hop_count = (uint8_t)pick(rng, RP_WATCH_HOPS_MAX + 1),
    };
    for (size_t i = 0; i < RP_WATCH_HOPS_MAX; i++) {
        station->hops[i] = (struct rp_watch_hop){.station = (uint8_t)(1 + pick(rng, 99)),
                                                 .lost = pick(rng, 2) == 0,
                                                 .weak = pick(rng, 2) == 0,
                                                 .low = pick(rng, 2) == 0};
    }
    watch_in.protocol = bits & 512 ? &watch_table : NULL;
    watch_in.places = (uint8_t)(bits >> 10 & 3);
}

static void check_alarms(uint64_t seed)
{
    bool silent = false;
    for (size_t i = 0; i < watch_out.count; i++) {
        const struct rp_alarm *alarm = &watch_out.at[i];
        bool sounds = rp_alarm_sounds(alarm);
        if (alarm->reason[0] == '\0' || (alarm->rule->place & watch_in.places) == 0 ||
            (silent && sounds) || (!sounds && alarm->answer == NULL) ||
            (alarm->acknowledged && !alarm->rule->ackable)) {
            fail_msg("seed %llu: %s: %s", (unsigned long long)seed, alarm->rule->word,
                     alarm->reason);
        }
        silent = silent || !sounds;
        for (size_t j = 0; j < i; j++) { /* no alarm twice */
            const struct rp_alarm *other = &watch_out.at[j];
            if (other->rule == alarm->rule && other->subject == alarm->subject &&
                other->since_s == alarm->since_s && strncmp(alarm->rule->word, "hop-", 4) != 0) {
                fail_msg("seed %llu: %s twice", (unsigned long long)seed, alarm->rule->word);
            }
        }
    }
}

static void any_episode_can_be_judged(void **state)
{
    (void)state;
    uint64_t first = 83000;
    size_t alarms = 0, airs = 0, conflicts = 0;
    print_message("seeds %llu to %llu\n", (unsigned long long)first,
                  (unsigned long long)(first + EPISODES - 1));
    for (uint64_t seed = first; seed < first + EPISODES; seed++) {
        struct rp_rng rng = rp_rng_seeded(seed);
        struct rp_watch_plan plan = rp_watch_plan_default;
        any_episode(&rng);
        any_station(&rng);
        plan.descent_s = pick(&rng, 2) * 3600;
        plan.volume_dl = (int32_t)pick(&rng, 2) * 5000;
        plan.stroke_dl = 20;
        uint32_t now_s = any_time(&rng);
        watch_in.episode = &kit;
        watch_in.now_s = now_s;
        watch_in.plan = &plan;
        rp_episode_finish(&kit, now_s);
        rp_watch_evaluate(&watch_in, &watch_out);
        check_alarms(seed);
        alarms += watch_out.count;
        struct rp_pumping pumping;
        rp_pumping_of(&kit, &plan, &watch_in.station, now_s, &pumping);
        if (pumping.has_air) {
            airs++;
            assert_true(pumping.rest.co2_fraction >= 0 && pumping.rest.co2_fraction <= 1);
            assert_true(pumping.distress.co2_fraction >= pumping.rest.co2_fraction - 1e-9);
            assert_true(pumping.rest.o2_fraction >= 0 && pumping.rest.o2_fraction <= 0.2094);
        }
        struct rp_contradiction found[RP_CONTRA_COUNT];
        conflicts += rp_episode_contradictions(&kit, now_s, found);
        struct rp_assessment assessment;
        rp_episode_assess(&kit, &assessment);
    }
    print_message("%zu alarms, %zu estimates of air, %zu contradictions\n", alarms, airs,
                  conflicts);
    assert_true(alarms > EPISODES && airs > EPISODES / 50 && conflicts > EPISODES / 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(any_episode_can_be_judged)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
