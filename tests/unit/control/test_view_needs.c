/* What the pages are told of a patient who needs somebody: the order of the list, alarms, the
 * treatment clock, what is due, what a request says and leaves out. The order of needs is that of
 * the job at base (ours); the watch rules have tests of their own. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "ctl.h"

/* The station as a base of its own: both the camp's and base's rules hold. */
static struct ctl as_base(void)
{
    struct ctl ctl = ctl_new();
    ctl.kit.config.role = RP_ROLE_BASE;
    ctl_restart(&ctl);
    return ctl;
}

static const json_t *episodes_of(struct ctl *ctl)
{
    ctl_ok(ctl, "view");
    return json_object_get(json_object_get(ctl->reply, "data"), "episodes");
}

static const json_t *one_of(struct ctl *ctl, const char *line)
{
    ctl_ok(ctl, line);
    return json_object_get(json_object_get(ctl->reply, "data"), "episode");
}

static const char *word_of(const json_t *row, const char *key)
{
    const char *word = json_string_value(json_object_get(row, key));
    return word != NULL ? word : "(none)";
}

static json_int_t number_of(const json_t *row, const char *key)
{
    assert_true(json_is_integer(json_object_get(row, key)));
    return json_integer_value(json_object_get(row, key));
}

static const json_t *alarm_of(const json_t *row, const char *rule)
{
    const json_t *alarms = json_object_get(row, "alarms");
    for (size_t i = 0; i < json_array_size(alarms); i++) {
        if (strcmp(word_of(json_array_get(alarms, i), "rule"), rule) == 0) {
            return json_array_get(alarms, i);
        }
    }
    return NULL;
}

static void check_order(struct ctl *ctl, const char *const *names, const char *const *needs)
{
    const json_t *rows = episodes_of(ctl);
    size_t count = 0;
    for (; names[count] != NULL; count++) {
        assert_string_equal(word_of(json_array_get(rows, count), "name"), names[count]);
        assert_string_equal(word_of(json_array_get(rows, count), "need"), needs[count]);
    }
    assert_int_equal(json_array_size(rows), count);
}

static void who_needs_a_person_comes_first(void **state)
{
    (void)state;
    struct ctl ctl = as_base();
    kit_pass(&ctl.kit, 14 * 3600); /* to the morning: at noon UTC the light ends soon there */
    /* Well, closed, asking, worse; in another order than they must be shown in. */
    ctl_ok(&ctl, "--by Ines open ams patient Well allergies none");
    ctl_ok(&ctl, "--by Ines report 7-1 same alert spo2 88 oxygen");
    ctl_ok(&ctl, "--by Ines open ams patient Home allergies none");
    ctl_ok(&ctl, "--by Ines close 7-2 recovered");
    ctl_ok(&ctl, "--by Ines open ams patient Asks allergies none");
    ctl_ok(&ctl, "--by Ines report 7-3 same alert spo2 88 oxygen");
    ctl_ok(&ctl, "--by Ines evacuate 7-3 e3 sitting");
    ctl_ok(&ctl, "--by Ines open ams patient Worse allergies none");
    ctl_ok(&ctl, "--by Ines report 7-4 critical alert spo2 88 oxygen");
    ctl_ok(&ctl, "--by Ines open ams patient Dying allergies none");
    ctl_ok(&ctl, "--by Ines report 7-5 same alert spo2 88 oxygen");
    ctl_ok(&ctl, "--by Ines evacuate 7-5 e1 stretcher");
    check_order(&ctl, (const char *const[]){"7-5", "7-3", "7-4", "7-1", "7-2", NULL},
                (const char *const[]){"answer", "answer", "alarm", "", "closed"});
    /* Answered and acknowledged: what is left is that one is critical. */
    ctl_ok(&ctl, "--by Pelle answer 7-3 accepted from \"Valley Air 3\"");
    ctl_ok(&ctl, "--by Pelle answer 7-5 accepted from \"Valley Air 3\"");
    ctl_ok(&ctl, "--by Pelle alarms ack 7-4 critical");
    const json_t *rows = episodes_of(&ctl);
    assert_string_equal(word_of(json_array_get(rows, 0), "name"), "7-4");
    assert_string_equal(word_of(json_array_get(rows, 0), "need"), "look");
    ctl_end(&ctl);
}

/* A report is due every so often; 10 min late it is an alarm (clinical references 6.4 B2), and when
 * somebody has acknowledged that, it is still silence. */
static void silence_stays_in_sight(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    ctl_ok(&ctl, "--by Ines report 7-1 same alert spo2 88 oxygen");
    /* From here on another station holds that log: what base acknowledges is no word from the
     * camp. */
    ctl.kit.config.station = 2;
    ctl.kit.config.role = RP_ROLE_BASE;
    ctl_restart(&ctl);
    kit_pass(&ctl.kit, 3 * 3600);
    ctl_ok(&ctl, "--by Pelle answer 7-1 advice \"call again\"");
    const json_t *row = json_array_get(episodes_of(&ctl), 0);
    json_int_t now_s = number_of(json_object_get(ctl.reply, "data"), "now_s");
    assert_int_equal(now_s - number_of(row, "word_s"), 3 * 3600); /* base's own words are none */
    assert_non_null(strstr(ctl_ok(&ctl, "board"), "last word from the camp 3 h"));
    row = json_array_get(episodes_of(&ctl), 0);
    assert_string_equal(word_of(row, "need"), "alarm");
    assert_non_null(alarm_of(row, "report"));
    for (size_t i = 0; i < 16; i++) { /* every alarm that sounds, one after the other */
        char line[120];
        const json_t *first = json_array_get(json_object_get(row, "alarms"), 0);
        if (!json_is_true(json_object_get(first, "sounds"))) {
            break;
        }
        snprintf(line, sizeof line, "--by Pelle alarms %s 7-1 %s",
                 json_is_true(json_object_get(first, "ackable")) ? "ack" : "snooze",
                 word_of(first, "rule"));
        ctl_ok(&ctl, line);
        row = json_array_get(episodes_of(&ctl), 0);
    }
    assert_string_equal(word_of(row, "need"), "word");
    const json_t *report = alarm_of(row, "report");
    assert_true(json_is_true(json_object_get(report, "acknowledged")));
    assert_string_equal(word_of(report, "by"), "Pelle");
    assert_string_equal(word_of(report, "next"),
                        "10: call. 20: try the relays. 40: act on the plan for silence");
    ctl_end(&ctl);
}

/* A set of signs of which the board shows none is a set of signs all the same. */
static void a_temperature_alone_is_an_observation(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open ams patient A allergies none");
    assert_non_null(strstr(ctl_ok(&ctl, "board"), "no observations\n"));
    ctl_ok(&ctl, "report same temp 36.4 oral");
    assert_null(strstr(ctl_ok(&ctl, "board"), "no observations"));
    assert_non_null(strstr(ctl_ok(&ctl, "board"),
                           "SpO2, pulse, resp, conscious level and airway not recorded\n"));
    ctl_end(&ctl);
}

/* What the camp promises is seen wherever its episode is, until the episode ends. */
static void a_promised_report_is_shown_and_missed(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open ams patient A allergies none");
    assert_null(strstr(ctl_ok(&ctl, "board"), "next report"));
    ctl_ok(&ctl, "report same spo2 84 air alert next 10min");
    json_int_t due_s = number_of(json_array_get(episodes_of(&ctl), 0), "next_report_s");
    assert_int_equal(due_s - number_of(json_object_get(ctl.reply, "data"), "now_s"), 600);
    assert_non_null(strstr(ctl_ok(&ctl, "log 7-1"), "next within 10 min"));
    assert_non_null(strstr(ctl_ok(&ctl, "status"), "promise next report due by "));
    assert_null(strstr(ctl_ok(&ctl, "board"), "OVERDUE"));
    kit_pass(&ctl.kit, 780);
    assert_non_null(strstr(ctl_ok(&ctl, "board"), ": OVERDUE by 3 min\n"));
    assert_null(strstr(ctl_ok(&ctl, "status"), "promise"));
    ctl_ok(&ctl, "report same");
    assert_null(strstr(ctl_ok(&ctl, "board"), "next report"));
    ctl_ok(&ctl, "report same next 10min");
    assert_non_null(strstr(ctl_ok(&ctl, "board"), "next report due by "));
    ctl_ok(&ctl, "--by Ines close 7-1 recovered");
    assert_null(strstr(ctl_ok(&ctl, "board"), "next report"));
    ctl_end(&ctl);
}

static void an_alarm_says_what_may_be_answered(void **state)
{
    (void)state;
    struct ctl ctl = as_base();
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e1 stretcher");
    ctl_ok(&ctl, "--by Ines report 7-1 critical alert spo2 88 oxygen");
    const json_t *row = one_of(&ctl, "view 7-1");
    const json_t *request = alarm_of(row, "request"), *critical = alarm_of(row, "critical");
    assert_string_equal(word_of(request, "episode"), "7-1");
    assert_true(json_is_false(json_object_get(request, "ackable")));
    assert_int_equal(number_of(request, "snooze_s_max"), 300);
    assert_true(json_is_true(json_object_get(critical, "ackable")));
    assert_string_equal(word_of(critical, "about"), "");
    assert_true(json_is_true(json_object_get(critical, "sounds")));
    ctl_end(&ctl);
}

static void the_treatment_clock_is_told(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open hace patient A allergies none");
    ctl_ok(&ctl, "--by Ines descent 7-1 no dark");
    ctl_ok(&ctl, "--by Ines chamber 7-1 close");
    ctl_ok(&ctl, "--by Ines chamber 7-1 at 2psi");
    kit_pass(&ctl.kit, 1200);
    const json_t *course = json_object_get(one_of(&ctl, "view 7-1"), "course");
    assert_string_equal(word_of(course, "phase"), "at pressure");
    assert_true(json_is_true(json_object_get(course, "inside")));
    assert_int_equal(number_of(course, "session"), 1);
    assert_int_equal(number_of(course, "phase_s"), 1200);
    /* 1 h, then reassess: pararescue handbook, 8th edition. */
    assert_int_equal(number_of(course, "session_left_s"), 2400);
    assert_string_equal(word_of(json_object_get(course, "plan"), "illness"), "HACE");
    /* Observations every 15 min in the chamber: none since the opening (clinical references 6.4 H7,
     * ours). */
    json_int_t now_s = number_of(json_object_get(ctl.reply, "data"), "now_s");
    const json_t *row = json_object_get(json_object_get(ctl.reply, "data"), "episode");
    assert_int_equal(number_of(row, "obs_due_s"), now_s - 1200 + 900);
    /* The list has the clock too. */
    course = json_object_get(json_array_get(episodes_of(&ctl), 0), "course");
    assert_int_equal(number_of(course, "phase_s"), 1200);
    ctl_end(&ctl);
}

static void a_request_tells_its_gaps(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    assert_null(json_object_get(one_of(&ctl, "view 7-1"), "asked"));
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e2 stretcher site 28.1046,86.7531 surface snow "
                 "wind 15km/h from 270 hazards \"serac band\"");
    const json_t *asked = json_object_get(one_of(&ctl, "view 7-1"), "asked");
    assert_string_equal(word_of(asked, "mobility"), "stretcher");
    assert_int_equal(number_of(asked, "lat_e6"), 28104600);
    assert_int_equal(number_of(asked, "wind_kmh"), 15);
    /* 475747.61 E, 3108814.15 N, by the series of Snyder, Map Projections: A Working Manual (USGS
     * Professional Paper 1395, eq. 8-9 and 8-10, WGS 84), computed apart from this code; digits are
     * cut, never rounded. */
    assert_string_equal(word_of(asked, "mgrs"), "45R VM 75747 08814");
    assert_string_equal(word_of(asked, "utm"), "45R 475747 3108814");
    const json_t *gaps = json_object_get(asked, "gaps");
    assert_int_equal(json_array_size(gaps), 2);
    assert_string_equal(json_string_value(json_array_get(gaps, 0)), "the visibility");
    assert_string_equal(json_string_value(json_array_get(gaps, 1)), "how to reach the party");
    ctl_end(&ctl);
}

/* What is told is not asked again, so all that can be told is shown. */
static void a_request_tells_what_is_in_it(void **state)
{
    (void)state;
    static const char *const keys[] = {"weight_kg", "conscious", "oxygen",    "flat",
                                       "needs",     "marked",    "length_m",  "daylight_s",
                                       "insurance", "slope_deg", "obstacles", "gust_kmh",
                                       "temp_c",    "weather",   "party",     "fallback"};
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e2");
    const json_t *asked = json_object_get(one_of(&ctl, "view 7-1"), "asked");
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        assert_null(json_object_get(asked, keys[i]));
    }
    assert_int_equal(number_of(asked, "patients"), 1);
    ctl_ok(&ctl, "--by Ines evacuate 7-1 revise weight 85kg conscious yes oxygen no flat no "
                 "needs doctor,hoist marked no area 40x30 daylight 2h insurance none slope 4 "
                 "obstacles wires gust 30km/h temp -15C weather clear party 3 fallback carry");
    asked = json_object_get(one_of(&ctl, "view 7-1"), "asked");
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        assert_non_null(json_object_get(asked, keys[i]));
    }
    assert_int_equal(number_of(asked, "weight_kg"), 85);
    assert_string_equal(word_of(asked, "oxygen"), "no");
    assert_string_equal(word_of(asked, "needs"), "doctor, hoist");
    assert_int_equal(number_of(asked, "width_m"), 30);
    assert_string_equal(word_of(asked, "insurance"), "none");
    ctl_end(&ctl);
}

/* What can be corrected is told by its record: a report of condition alone, a request, what was
 * drunk. */
static void what_was_reported_and_asked_has_its_record(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    ctl_ok(&ctl, "--by Ines report 7-1 critical");
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e2");
    ctl_ok(&ctl, "--by Ines fluids 7-1 fluid 500mL");
    static const char *const keys[] = {"reports", "requests", "fluids"};
    static const char *const says[] = {"condition", "urgency", "drunk_ml"};
    for (size_t i = 0; i < 3; i++) {
        const json_t *rows = json_object_get(one_of(&ctl, "view 7-1"), keys[i]);
        assert_int_equal(json_array_size(rows), 1);
        const json_t *row = json_array_get(rows, 0);
        assert_non_null(json_object_get(row, says[i]));
        assert_true(json_is_false(json_object_get(row, "voided")));
        char line[80];
        snprintf(line, sizeof line, "--by Ines correct %s void wrong", word_of(row, "record"));
        ctl_ok(&ctl, line);
        rows = json_object_get(one_of(&ctl, "view 7-1"), keys[i]);
        assert_true(json_is_true(json_object_get(json_array_get(rows, 0), "voided")));
    }
    assert_null(json_object_get(one_of(&ctl, "view 7-1"), "condition"));
    assert_null(json_object_get(one_of(&ctl, "view 7-1"), "request"));
    ctl_end(&ctl);
}

/* What a revision repeats is as old as when it was told; a new request tells everything anew. */
static void each_fact_of_a_request_has_its_own_age(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e2 sitting wind 15km/h from 270 visibility 3km");
    const json_t *asked = json_object_get(one_of(&ctl, "view 7-1"), "asked");
    json_int_t first_s = number_of(json_object_get(asked, "told_s"), "wind_kmh");
    kit_pass(&ctl.kit, 1800);
    ctl_ok(&ctl, "--by Ines evacuate 7-1 revise visibility 500m");
    const json_t *told =
        json_object_get(json_object_get(one_of(&ctl, "view 7-1"), "asked"), "told_s");
    assert_int_equal(number_of(told, "wind_kmh"), first_s);
    assert_int_equal(number_of(told, "wind_from_deg"), first_s);
    assert_int_equal(number_of(told, "mobility"), first_s);
    assert_in_range(number_of(told, "visibility_m") - first_s, 1800, 1860);
    assert_null(json_object_get(told, "cloud_base_m"));
    kit_pass(&ctl.kit, 600);
    ctl_ok(&ctl, "--by Ines evacuate 7-1 revise weather steady");
    told = json_object_get(json_object_get(one_of(&ctl, "view 7-1"), "asked"), "told_s");
    assert_int_equal(number_of(told, "wind_kmh"), first_s);
    assert_in_range(number_of(told, "weather") - first_s, 2400, 2520);
    ctl_ok(&ctl, "--by Ines evacuate 7-1 cancel \"walks again\"");
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e2 sitting wind 15km/h from 270");
    told = json_object_get(json_object_get(one_of(&ctl, "view 7-1"), "asked"), "told_s");
    assert_in_range(number_of(told, "wind_kmh") - first_s, 2400, 2700);
    ctl_end(&ctl);
}

static bool is_read_back(struct ctl *ctl, size_t index)
{
    const json_t *answers = json_object_get(one_of(ctl, "view 7-1"), "answers");
    return json_is_true(json_object_get(json_array_get(answers, index), "read_back"));
}

/* The page reads back the answer that was tapped, and no other. */
static void one_answer_is_read_back_by_its_name(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    char line[80];
    ctl_ok(&ctl, "--by Ines open ams patient A allergies none");
    ctl_ok(&ctl, "--by Ines evacuate 7-1 e2 stretcher");
    ctl_ok(&ctl, "--by Pelle answer 7-1 accepted from \"Valley Air 3\"");
    ctl_ok(&ctl, "--by Pelle answer 7-1 plan \"be at the site\"");
    const json_t *answers = json_object_get(one_of(&ctl, "view 7-1"), "answers");
    snprintf(line, sizeof line, "--by Ines readback 7-1 %s \"Valley Air 3\"",
             word_of(json_array_get(answers, 0), "record"));
    ctl_ok(&ctl, line);
    assert_true(is_read_back(&ctl, 0));
    assert_false(is_read_back(&ctl, 1));
    ctl_send(&ctl, line); /* again: never taken for the other's text */
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_STATE");
    assert_false(is_read_back(&ctl, 1));
    ctl_ok(&ctl, "--by Ines readback 7-1 \"be at the site\"");
    assert_true(is_read_back(&ctl, 1));
    ctl_end(&ctl);
}

static void what_is_computed_is_told_in_words_and_as_data(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "--by Ines open hace patient A age 34 allergies none yes ataxia,mental");
    ctl_ok(&ctl, "--by Ines oxygen 7-1 start prongs 2L/min cylinder A 180bar water 4L");
    ctl_ok(&ctl, "--by Ines report 7-1 worse confused spo2 62 air pulse 124 resp 30 bp 132/84 "
                 "temp 36.4 oral");
    ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 8mg im checked Jory");
    const json_t *row = one_of(&ctl, "view 7-1");
    const json_t *assessed = json_object_get(row, "assessed");
    assert_non_null(strstr(word_of(assessed, "text"), "NEWS2"));
    /* NEWS2 (Royal College of Physicians 2017): respiration 30: 3, SpO2 62: 3, air: 0, systolic
     * 132: 0, pulse 124: 2, new confusion: 3, temperature 36.4: 0. */
    assert_int_equal(number_of(json_object_get(assessed, "news2"), "score"), 11);
    assert_int_equal(number_of(json_object_get(assessed, "news2"), "without_spo2"), 8);
    /* 4 L at 180 bar less the reserve of 10 bar, as the product does: 680 L; at 2 L/min 340 min. */
    json_int_t now_s = number_of(json_object_get(ctl.reply, "data"), "now_s");
    assert_int_equal(number_of(assessed, "oxygen_until_s") - now_s, 340 * 60);
    const json_t *dose = json_array_get(json_object_get(row, "doses"), 0);
    assert_string_equal(word_of(dose, "dose_text"), "8 mg");
    ctl_end(&ctl);
}

/* What the pages offer to choose from comes from the station and is no list of their own. */
static void choices_come_from_the_station(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    static struct rp_protocol table = {
        .title = "t", .count = 1, .drugs = {{.name = "dexamethasone", .dose_milli = 8000}}};
    ctl_ok(&ctl, "view");
    const json_t *data = json_object_get(ctl.reply, "data");
    assert_int_equal(json_array_size(json_object_get(data, "drugs")), 0); /* no table, no names */
    const json_t *forms = json_object_get(data, "forms");
    static const char *const wanted[] = {"text", "spoken", "pilot", "csv", "fhir", "cap", "jsonl"};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
        bool found = false;
        for (size_t k = 0; k < json_array_size(forms); k++) {
            found = found || strcmp(word_of(json_array_get(forms, k), "form"), wanted[i]) == 0;
        }
        assert_true(found);
    }
    ctl.kit.config.protocol = &table;
    ctl.kit.config.position = (struct rp_position){.present = true, .lat_e6 = 28104100};
    ctl_restart(&ctl);
    ctl_ok(&ctl, "view");
    data = json_object_get(ctl.reply, "data");
    assert_string_equal(json_string_value(json_array_get(json_object_get(data, "drugs"), 0)),
                        "dexamethasone");
    assert_int_equal(number_of(json_object_get(data, "self"), "lat_e6"), 28104100);
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(choices_come_from_the_station),
        cmocka_unit_test(who_needs_a_person_comes_first),
        cmocka_unit_test(silence_stays_in_sight),
        cmocka_unit_test(a_temperature_alone_is_an_observation),
        cmocka_unit_test(a_promised_report_is_shown_and_missed),
        cmocka_unit_test(an_alarm_says_what_may_be_answered),
        cmocka_unit_test(the_treatment_clock_is_told),
        cmocka_unit_test(a_request_tells_its_gaps),
        cmocka_unit_test(a_request_tells_what_is_in_it),
        cmocka_unit_test(what_was_reported_and_asked_has_its_record),
        cmocka_unit_test(each_fact_of_a_request_has_its_own_age),
        cmocka_unit_test(one_answer_is_read_back_by_its_name),
        cmocka_unit_test(what_is_computed_is_told_in_words_and_as_data),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
