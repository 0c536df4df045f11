/* The watch rules: what every rule shares, and that every rule was seen to fire, to stay quiet and
 * to clear by the tests of the other files. */
#include "watch_kit.h"

static void add_answer(uint32_t minute, enum rp_alarm_action action, const struct rp_alarm *alarm,
                       uint32_t until_s)
{
    struct rp_record r = kit_record(RP_REC_ALARM, minute * MIN);
    r.as.alarm.action = (uint8_t)action;
    r.as.alarm.rule = alarm->rule->number;
    r.as.alarm.subject = alarm->subject;
    r.as.alarm.has_about = true;
    r.as.alarm.about_s = alarm->since_s;
    r.as.alarm.has_until = until_s != 0;
    r.as.alarm.until_s = until_s;
    strcpy(r.by, "Ines Okafor");
    watch_add(&r);
}

static void a_snooze_is_bounded(void **state)
{
    (void)state;
    watch_start();
    watch_condition(110, RP_COND_CRITICAL);
    const struct rp_alarm *alarm = watch_at("critical", 111);
    assert_true(rp_alarm_sounds(alarm));
    add_answer(111, RP_ALARM_SNOOZE, alarm, 113 * MIN);
    alarm = watch_at("critical", 112);
    assert_true(alarm->snoozed);
    assert_false(rp_alarm_sounds(alarm));
    assert_int_equal(alarm->until_s, 113 * MIN);
    assert_string_equal(alarm->answer->from.by, "Ines Okafor");
    assert_true(rp_alarm_sounds(watch_at("critical", 113)));
    /* Whoever wrote it: 5 min at most (clinical references 6.4). */
    add_answer(114, RP_ALARM_SNOOZE, watch_at("critical", 114), 900 * MIN);
    assert_false(rp_alarm_sounds(watch_at_s("critical", 119 * MIN - 1)));
    assert_true(rp_alarm_sounds(watch_at("critical", 119)));
    /* One from a clock that is ahead, and one without an end, silence nothing. */
    add_answer(200, RP_ALARM_SNOOZE, watch_at("critical", 120), 202 * MIN);
    assert_true(rp_alarm_sounds(watch_at("critical", 120)));
    add_answer(121, RP_ALARM_SNOOZE, watch_at("critical", 121), 0);
    assert_true(rp_alarm_sounds(watch_at("critical", 121)));
}

static void an_acknowledgement_holds_until_something_new(void **state)
{
    (void)state;
    watch_start();
    watch_condition(110, RP_COND_CRITICAL);
    add_answer(111, RP_ALARM_ACK, watch_at("critical", 111), 0);
    assert_true(watch_at("critical", 300)->acknowledged);
    assert_false(rp_alarm_sounds(watch_at("critical", 300)));
    add_answer(301, RP_ALARM_SNOOZE, watch_at("critical", 301), 303 * MIN);
    assert_int_equal(watch_at("critical", 302)->answer->what.action, RP_ALARM_ACK);
    kit_correct(900, 303 * MIN, watch_at("critical", 303)->answer->from.ref, kit_ref(0, 0));
    assert_true(rp_alarm_sounds(watch_at("critical", 304))); /* taken back */
    add_answer(304, RP_ALARM_ACK, watch_at("critical", 304), 0);
    watch_condition(310, RP_COND_CRITICAL);
    assert_true(rp_alarm_sounds(watch_at("critical", 311))); /* said again */
}

/* Pump, pressure and conscious level cannot be silenced for good (clinical references 6.4: H1-H3),
 * also not by a record of an earlier version that acknowledges; base may, by name (B1, B3). */
static void the_first_three_cannot_be_acknowledged(void **state)
{
    (void)state;
    for (uint8_t number = 1; number <= 3; number++) {
        assert_false(rp_watch_rule_of(number)->ackable);
    }
    watch_start();
    watch_level(110, RP_ACVPU_ALERT);
    watch_level(120, RP_ACVPU_CONFUSED);
    add_answer(121, RP_ALARM_ACK, watch_at("conscious", 121), 0);
    assert_true(rp_alarm_sounds(watch_at("conscious", 122)));
    add_answer(122, RP_ALARM_SNOOZE, watch_at("conscious", 122), 127 * MIN);
    assert_false(rp_alarm_sounds(watch_at_s("conscious", 127 * MIN - 1)));
    assert_true(rp_alarm_sounds(watch_at("conscious", 127))); /* repeats */
    add_answer(128, RP_ALARM_ACK, watch_at("conscious-base", 128), 0);
    assert_false(rp_alarm_sounds(watch_at("conscious-base", 129)));
}

static void an_answer_is_for_its_alarm_alone(void **state)
{
    (void)state;
    watch_start();
    watch_condition(110, RP_COND_CRITICAL);
    struct rp_alarm other = *watch_at("critical", 111);
    other.subject = 1;
    add_answer(111, RP_ALARM_ACK, &other, 0);
    other.subject = 0;
    other.since_s++;
    add_answer(111, RP_ALARM_ACK, &other, 0);
    other.since_s--;
    other.rule = rp_watch_rule_of(103);
    add_answer(111, RP_ALARM_ACK, &other, 0);
    struct rp_record r = kit_record(RP_REC_ALARM, 111 * MIN);
    r.as.alarm.action = RP_ALARM_ACK;
    r.as.alarm.rule = 102;
    watch_add(&r); /* does not say which */
    assert_true(rp_alarm_sounds(watch_at("critical", 112)));
    assert_non_null(watch_at("why-not-down", 170)); /* ends only when it is answered */
    add_answer(170, RP_ALARM_ACK, watch_at("why-not-down", 170), 0);
    assert_false(watch_at("why-not-down", 171)->acknowledged);
}

static void the_most_pressing_comes_first(void **state)
{
    (void)state;
    watch_start();
    watch_condition(110, RP_COND_CRITICAL); /* loud */
    watch_request(120);                     /* fast */
    watch_in.station.clock_unsynced = true; /* soft, no patient's */
    assert_non_null(watch_at("clock", 165));
    assert_string_equal(watch_out.at[0].rule->word, "request");
    add_answer(166, RP_ALARM_SNOOZE, watch_at("request", 166), 170 * MIN);
    assert_non_null(watch_at("clock", 167));
    bool silent = false;
    for (size_t i = 0; i < watch_out.count; i++) {
        const struct rp_alarm *alarm = &watch_out.at[i];
        assert_true(!silent || !rp_alarm_sounds(alarm)); /* those that are silent come last */
        silent = silent || !rp_alarm_sounds(alarm);
        if (i > 0 && rp_alarm_sounds(alarm)) {
            assert_true(watch_out.at[i - 1].sound >= alarm->sound);
        }
    }
    assert_true(silent);
    /* Of two that are soft the patient's comes first. */
    const struct rp_alarm *clock = watch_at("clock", 167), *why = watch_at("why-not-down", 167);
    clock = watch_at("clock", 167);
    assert_non_null(why);
    assert_true(why < clock);
}

static void each_place_has_its_own(void **state)
{
    (void)state;
    watch_start();
    watch_level(110, RP_ACVPU_ALERT);
    watch_level(111, RP_ACVPU_PAIN);
    watch_in.places = RP_WATCH_CAMP;
    assert_non_null(watch_at("conscious", 112));
    assert_null(watch_at("conscious-base", 112));
    watch_in.places = RP_WATCH_BASE;
    assert_null(watch_at("conscious", 112));
    assert_non_null(watch_at("conscious-base", 112));
    watch_in.places = RP_WATCH_CAMP;
    watch_in.station.clock_unsynced = true;
    assert_non_null(watch_at("clock", 112));
    watch_in.patient_only = true;
    assert_null(watch_at("clock", 112));
    assert_non_null(watch_at("conscious", 112));
    watch_in.places = 0;
    assert_null(watch_at("conscious", 112));
    assert_int_equal(watch_out.count, 0);
}

static void the_table_is_sound(void **state)
{
    (void)state;
    for (size_t i = 0; i < rp_watch_rule_count; i++) {
        const struct rp_watch_rule *rule = &rp_watch_rules[i];
        assert_ptr_equal(rp_watch_rule_of(rule->number), rule); /* no number twice */
        assert_string_equal(rp_watch_rule_word(rule->number), rule->word);
        assert_true(rule->snooze_s_max >= 1 && rule->snooze_s_max <= 300);
        assert_true(rule->place == RP_WATCH_CAMP || rule->place == RP_WATCH_BASE);
        assert_true(strlen(rule->trigger) > 10 && strlen(rule->next) > 10);
        assert_non_null(strstr(rule->source, rule->number == 24 ? "from memory" : "6."));
        for (size_t j = 0; j < i; j++) {
            assert_string_not_equal(rp_watch_rules[j].word, rule->word);
        }
    }
    assert_null(rp_watch_rule_of(99));
    assert_string_equal(rp_watch_rule_word(99), "?");
    assert_string_equal(rp_sound_word(RP_SOUND_SOFT), "soft");
    assert_string_equal(rp_sound_word(RP_SOUND_LOUD), "loud");
    assert_string_equal(rp_sound_word(RP_SOUND_FAST), "fast");
}

/* Nothing is left out when everything stands at once. */
static void every_drug_of_a_full_table_is_told(void **state)
{
    (void)state;
    static struct rp_protocol full;
    watch_start();
    full.count = RP_DRUGS_MAX;
    for (int i = 0; i < RP_DRUGS_MAX; i++) {
        full.drugs[i] = watch_table.drugs[0];
        full.drugs[i].name[0] = (char)('a' + i);
        full.drugs[i].also[0][0] = '\0';
        watch_dose(110, full.drugs[i].name, 1);
    }
    watch_in.protocol = &full;
    watch_request(111);
    watch_condition(112, RP_COND_CRITICAL);
    assert_non_null(watch_at("drug", 900));
    size_t drugs = 0;
    for (size_t i = 0; i < watch_out.count; i++) {
        drugs += strcmp(watch_out.at[i].rule->word, "drug") == 0;
    }
    assert_int_equal(drugs, RP_DRUGS_MAX);
}

int main(void)
{
    static const struct CMUnitTest shared[] = {
        cmocka_unit_test(a_snooze_is_bounded),
        cmocka_unit_test(an_acknowledgement_holds_until_something_new),
        cmocka_unit_test(the_first_three_cannot_be_acknowledged),
        cmocka_unit_test(an_answer_is_for_its_alarm_alone),
        cmocka_unit_test(the_most_pressing_comes_first),
        cmocka_unit_test(each_place_has_its_own),
        cmocka_unit_test(the_table_is_sound),
        cmocka_unit_test(every_drug_of_a_full_table_is_told),
    };
    static const struct CMUnitTest last[] = {cmocka_unit_test(watch_all_rules_seen)};
    struct CMUnitTest all[96];
    size_t count = 0;
#define ADD(tests, n)                                                                              \
    for (size_t i = 0; i < (n); i++) {                                                             \
        all[count++] = (tests)[i];                                                                 \
    }
    ADD(shared, sizeof shared / sizeof shared[0])
    ADD(watch_chamber_tests, watch_chamber_count)
    ADD(watch_signs_tests, watch_signs_count)
    ADD(watch_supply_tests, watch_supply_count)
    ADD(watch_rescue_tests, watch_rescue_count)
    ADD(watch_station_tests, watch_station_count)
    ADD(last, 1)
#undef ADD
    return _cmocka_run_group_tests("watch", all, count, NULL, NULL);
}
