/* Rules of the crew, of drugs until the arrival, of batteries, clocks and hops. Triggers: clinical
 * references 6.4 H15, B4, B8, B9 (ours); the thresholds of batteries and hops are ours too. */
#include "watch_kit.h"

static void in_chamber(void)
{
    watch_start();
    watch_chamber(110, RP_PHASE_CLOSED, 1);
    watch_chamber(112, RP_PHASE_PRESSURISING, 1);
    watch_chamber(115, RP_PHASE_AT_PRESSURE, 1);
}

static void crew_without_a_change(void **state)
{
    (void)state;
    watch_start();
    watch_pumping(105, "Jory", 50, 600);
    watch_quiet("crew", 105); /* not in the chamber */
    in_chamber();
    watch_quiet("crew", 120); /* nobody tells strokes */
    watch_pumping(125, "", 120, 1900);
    watch_quiet("crew", 125); /* nobody is named */
    watch_pumping(135, "Jory", 120, 600);
    watch_pumping(145, "jory", 120, 600);
    watch_pumping(154, "Jory", 120, 540);
    watch_quiet("crew", 154); /* 29 min */
    watch_pumping(155, "Jory", 12, 60);
    watch_fires("crew", 155, RP_SOUND_SOFT, "Jory has pumped for 30 min without a change");
    assert_int_equal(watch_at("crew", 155)->since_s, 155 * MIN);
    watch_pumping(165, "Sabe", 120, 540);
    watch_clears("crew", 165);
    watch_pumping(175, "Jory", 120, 600); /* anew */
    watch_quiet("crew", 176);
    watch_pumping(185, "Jory", 120, 600);
    watch_pumping(200, "Jory", 120, 599); /* a rest of 5 min 1 s is a rest */
    watch_quiet("crew", 200);
    watch_pumping(210, "Jory", 120, 600);
    watch_pumping(220, "Jory", 120, 600);
    assert_null(watch_at("crew", 220)); /* 29 min 59 s of it */
    watch_pumping(221, "Jory", 1, 1);
    assert_non_null(watch_at("crew", 221));
    watch_chamber(222, RP_PHASE_OUT, 1);
    watch_clears("crew", 223);
}

static void crew_in_all(void **state)
{
    (void)state;
    in_chamber();
    for (uint32_t turn = 0; turn < 9; turn++) { /* Jory 10 min, Sabe 10 min, and so on */
        watch_pumping(125 + 20 * turn, "Jory", 120, 600);
        watch_pumping(135 + 20 * turn, "Sabe", 120, 600);
    }
    watch_pumping(305, "Jory", 1, 0); /* 90 min are not over 90 */
    watch_quiet("crew", 305);
    watch_in.station.has_turn = true; /* what the camp has not recorded yet */
    strcpy(watch_in.station.turn.pumper, "Jory");
    watch_in.station.turn.strokes = 12;
    watch_in.station.turn.spell_s = 60;
    watch_in.station.turn_last_s = 306 * MIN;
    watch_fires("crew", 306, RP_SOUND_LOUD, "Jory pumps now and has for 91 min in 12 h");
    assert_int_equal(watch_at("crew", 306)->since_s, 305 * MIN);
    strcpy(watch_in.station.turn.pumper, "Ines");
    watch_clears("crew", 307);
    strcpy(watch_in.station.turn.pumper, "Jory");
    assert_non_null(watch_at("crew", 844)); /* 125 + 720 */
    assert_null(watch_at("crew", 845));     /* the first ten minutes are 12 h ago */
    watch_condition(400, RP_COND_DEAD);
    watch_quiet("crew", 500);
}

/* 16 mg counted, then doses of 4 mg each 6 h. */
static void drug_until_arrival(void **state)
{
    (void)state;
    watch_start();
    watch_in.protocol = &watch_table;
    watch_request(101);
    struct rp_record_ref request = watch_last();
    watch_stock(105, "dexa", 24000, RP_DOSE_MG); /* voided below */
    struct rp_record_ref wrong = watch_last();
    watch_stock(106, "Dexa", 12000, RP_DOSE_MG);
    watch_dose(100, "dexamethasone", 8); /* before the count: taken off already */
    watch_dose(110, "dexamethasone", 4); /* 8 mg left: due 470 and 830, none for 1190 */
    watch_quiet("drug-eta", 111);        /* nobody is expected */
    watch_answer(112, RP_ANS_ETA, request, 1190);
    watch_quiet("drug-eta", 113);
    watch_answer(114, RP_ANS_ETA, request, 1191);
    watch_fires("drug-eta", 115, RP_SOUND_LOUD,
                "dexamethasone: 2 doses left, none for 19:50Z; arrival expected 19:51Z");
    assert_int_equal(watch_at("drug-eta", 115)->since_s, 114 * MIN);
    assert_int_equal(watch_at("drug-eta", 115)->value_s, 106 * MIN);
    watch_dose(470, "dexa", 4);
    watch_fires("drug-eta", 471, RP_SOUND_LOUD,
                "dexamethasone: 1 dose left, none for 19:50Z; arrival expected 19:51Z");
    watch_stock(480, "dexamethasone", 1000, RP_DOSE_G); /* more was found */
    assert_null(watch_at("drug-eta", 481));
    watch_stock(482, "dexamethasone", 0, RP_DOSE_MG);
    watch_fires("drug-eta", 483, RP_SOUND_LOUD,
                "dexamethasone: 0 doses left, none for 13:50Z; arrival expected 19:51Z");
    assert_int_equal(watch_at("drug-eta", 483)->since_s, 482 * MIN);
    kit_correct(900, 484 * MIN, watch_last(), kit_ref(0, 0));
    kit_correct(901, 484 * MIN, wrong, kit_ref(0, 0));
    watch_clears("drug-eta", 485);
    watch_stock(486, "dexamethasone", 4000, RP_DOSE_MG);
    assert_non_null(watch_at("drug-eta", 487));
    assert_null(watch_at("drug-eta", 1191)); /* the arrival has passed: a rule of its own */
    watch_condition(488, RP_COND_DEAD);
    watch_quiet("drug-eta", 489);
}

static size_t out_count(const struct rp_protocol *protocol, uint32_t minute,
                        struct rp_drug_out out[RP_DRUGS_MAX])
{
    rp_episode_finish(&kit, minute * MIN);
    return rp_drugs_out(protocol, &kit, out);
}

/* What cannot be counted is left out, never guessed. */
static void drugs_that_cannot_be_counted(void **state)
{
    (void)state;
    struct rp_drug_out out[RP_DRUGS_MAX];
    watch_start();
    assert_int_equal(out_count(NULL, 110, out), 0);
    watch_dose(110, "nifedipine", 30);
    watch_dose(110, "sildenafil", 50); /* no interval in the table */
    watch_stock(111, "sildenafil", 50000, RP_DOSE_MG);
    assert_int_equal(out_count(&watch_table, 112, out), 0); /* nifedipine was not counted */
    watch_stock(113, "nifedipine", 3000, RP_DOSE_TABLET);   /* not in the table's unit */
    assert_int_equal(out_count(&watch_table, 114, out), 0);
    watch_stock(115, "nifedipine", 60000, RP_DOSE_MG);
    assert_int_equal(out_count(&watch_table, 116, out), 1);
    assert_int_equal(out[0].doses, 2);
    struct rp_record r = kit_record(RP_REC_TREATMENT, 117 * MIN);
    strcpy(r.as.treatment.name, "nifedipine"); /* nobody said how much, nor does the table */
    watch_add(&r);
    assert_int_equal(out_count(&watch_table, 118, out), 0);
    struct rp_protocol usual = watch_table; /* that does: so much of the count is gone */
    for (size_t i = 0; i < usual.count; i++) {
        usual.drugs[i].dose_milli = 30000;
    }
    assert_int_equal(out_count(&usual, 118, out), 1);
    assert_int_equal(out[0].doses, 1);
    r.as.treatment.refused = true;
    r.time_s = 119 * MIN;
    kit_correct(900, 119 * MIN, watch_last(), kit_ref(0, 0));
    watch_add(&r);
    assert_int_equal(out_count(&watch_table, 120, out), 1);
    r.as.treatment.refused = false;
    r.as.treatment.has_dose = true; /* in a unit that cannot be taken off the count */
    r.as.treatment.dose_milli = 1000;
    r.as.treatment.dose_unit = RP_DOSE_TABLET;
    r.time_s = 120 * MIN;
    watch_add(&r);
    watch_dose(121, "nifedipine", 90); /* more than was counted */
    assert_int_equal(out_count(&watch_table, 122, out), 1);
    assert_int_equal(out[0].doses, 0);
    /* No count of doses ends beyond what a time can hold. */
    r = kit_record(RP_REC_STOCK, 123 * MIN);
    strcpy(r.as.stock.name, "nifedipine");
    r.as.stock.left_milli = 10000000;
    r.as.stock.unit = RP_DOSE_G;
    watch_add(&r);
    assert_int_equal(out_count(&watch_table, 124, out), 1);
    assert_int_equal(out[0].doses, UINT16_MAX);
    assert_int_equal(out[0].out_s, UINT32_MAX);
}

static void battery(void **state)
{
    (void)state;
    static const char *const rules[] = {"battery", "battery-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start();
        watch_quiet(rules[i], 110); /* nobody knows */
        watch_in.station.has_battery = true;
        watch_in.station.battery_pct = 21;
        watch_quiet(rules[i], 110);
        watch_in.station.battery_pct = 20;
        watch_in.station.battery_low_s = 105 * MIN;
        watch_fires(rules[i], 110, RP_SOUND_SOFT, "this station's battery is at 20 %");
        assert_int_equal(watch_at(rules[i], 110)->since_s, 105 * MIN);
        watch_in.station.battery_pct = 11;
        assert_int_equal(watch_at(rules[i], 110)->sound, RP_SOUND_SOFT);
        watch_in.station.battery_pct = 10;
        watch_in.station.battery_empty_s = 109 * MIN;
        watch_fires(rules[i], 110, RP_SOUND_LOUD, "this station's battery is at 10 %");
        assert_int_equal(watch_at(rules[i], 110)->since_s, 109 * MIN);
        watch_in.station.battery_pct = 64;
        watch_clears(rules[i], 111);
        watch_in.station.battery_pct = 0;
        assert_non_null(watch_at(rules[i], 112));
        watch_condition(113, RP_COND_DEAD);
        watch_quiet(rules[i], 114);
    }
}

/* 6.4 H15 and 6.5 16 (clock wrong, times meaningless); the sounds are ours. */
static void clock_set_back(void **state)
{
    (void)state;
    static const char *const rules[] = {"clock-back", "clock-back-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start();
        watch_in.station.clock_unsynced = true;
        watch_quiet(rules[i], 110); /* nobody vouches for it, but it went on */
        watch_in.station.clock_back_s = 3720;
        watch_in.station.clock_back_at_s = 105 * MIN;
        watch_fires(rules[i], 110, RP_SOUND_SOFT, "this station's clock was set back by 62 min");
        assert_int_equal(watch_at(rules[i], 110)->since_s, 105 * MIN);
        watch_in.station.clock_back_s = 119;
        watch_fires(rules[i], 110, RP_SOUND_SOFT, "this station's clock was set back by 119 s");
        watch_in.station.clock_back_s = 48 * 3600; /* and nothing went on meanwhile */
        watch_in.station.clock_back_at_start = true;
        watch_fires(rules[i], 111, RP_SOUND_LOUD,
                    "this station's clock was 2 days or more behind at its start");
        watch_in.station.clock_back_s = 0;
        watch_clears(rules[i], 112);
        watch_in.station.clock_back_s = 7200;
        watch_fires(rules[i], 113, RP_SOUND_LOUD,
                    "this station's clock was 2 h or more behind at its start");
        watch_condition(114, RP_COND_DEAD);
        watch_quiet(rules[i], 115);
    }
}

static void hops(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("hop-lost", 110);
    watch_in.station.hop_count = 2;
    watch_in.station.hops[0] = (struct rp_watch_hop){
        .station = 4, .in_pct = 90, .out_pct = 85, .battery_pct = 80, .heard_s = 109 * MIN};
    watch_in.station.hops[1] = (struct rp_watch_hop){
        .station = 7, .in_pct = 22, .out_pct = 31, .battery_pct = 18, .heard_s = 45 * MIN};
    struct rp_watch_hop *hop = &watch_in.station.hops[1];
    watch_quiet("hop-weak", 110);
    watch_quiet("hop-battery", 110);
    hop->lost = hop->weak = hop->low = true;
    hop->lost_s = 105 * MIN;
    hop->weak_s = 103 * MIN;
    hop->low_s = 101 * MIN;
    watch_fires("hop-lost", 110, RP_SOUND_SOFT, "station 7: not heard since 00:45Z");
    assert_int_equal(watch_at("hop-lost", 110)->since_s, 105 * MIN);
    assert_int_equal(watch_at("hop-lost", 110)->subject, 7);
    watch_quiet("hop-weak", 110); /* lost, not weak */
    watch_fires("hop-battery", 110, RP_SOUND_SOFT, "station 7: its battery is at 18 %");
    assert_int_equal(watch_at("hop-battery", 110)->since_s, 101 * MIN);
    hop->lost = false;
    watch_clears("hop-lost", 111);
    watch_fires("hop-weak", 111, RP_SOUND_SOFT,
                "station 7: 22 % of its frames get here, 31 % of ours there");
    assert_int_equal(watch_at("hop-weak", 111)->since_s, 103 * MIN);
    hop->weak = hop->low = false;
    watch_clears("hop-weak", 112);
    watch_clears("hop-battery", 112);
    hop->lost = hop->weak = hop->low = true;
    watch_condition(113, RP_COND_DEAD);
    watch_quiet("hop-lost", 114);
    watch_quiet("hop-battery", 114);
    hop->lost = false;
    watch_quiet("hop-weak", 114);
    assert_int_equal(watch_out.count, 0);
}

/* Every hop and every drug at once: nothing is left out. */
static void all_hops_at_once(void **state)
{
    (void)state;
    watch_start();
    watch_in.station.hop_count = RP_WATCH_HOPS_MAX;
    for (uint8_t i = 0; i < RP_WATCH_HOPS_MAX; i++) {
        watch_in.station.hops[i] = (struct rp_watch_hop){
            .station = (uint8_t)(10 + i), .lost = true, .low = true, .lost_s = 1, .low_s = 1};
    }
    assert_non_null(watch_at("hop-lost", 110));
    size_t count = 0;
    for (size_t i = 0; i < watch_out.count; i++) {
        count += strncmp(watch_out.at[i].rule->word, "hop-", 4) == 0;
    }
    assert_int_equal(count, 2 * RP_WATCH_HOPS_MAX);
}

const struct CMUnitTest watch_station_tests[] = {
    cmocka_unit_test(crew_without_a_change),
    cmocka_unit_test(crew_in_all),
    cmocka_unit_test(drug_until_arrival),
    cmocka_unit_test(drugs_that_cannot_be_counted),
    cmocka_unit_test(battery),
    cmocka_unit_test(clock_set_back),
    cmocka_unit_test(hops),
    cmocka_unit_test(all_hops_at_once),
};
const size_t watch_station_count = sizeof watch_station_tests / sizeof watch_station_tests[0];
