/* Alarms and doses as typed: listing, snoozing and acknowledging by name, the second person. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ctl.h"

static const struct rp_protocol table = {
    .title = "for tests",
    .count = 2,
    .drugs = {{.name = "dexamethasone",
               .routes = 1u << RP_ROUTE_ORAL | 1u << RP_ROUTE_IM,
               .unit = RP_DOSE_MG,
               .single_milli = 8000,
               .interval_s = 6 * 3600},
              {.name = "nifedipine", .unit = RP_DOSE_MG, .interval_s = 6 * 3600}},
};

static struct ctl with_table(void)
{
    struct ctl ctl = ctl_new();
    ctl.kit.config.protocol = &table;
    ctl_restart(&ctl);
    ctl_ok(&ctl, "--by Ines open hace patient \"M. Tarn\" allergies none");
    ctl_ok(&ctl, "--by Ines descent no dark");
    return ctl;
}

static const json_t *alarm_named(struct ctl *ctl, const char *rule)
{
    ctl_ok(ctl, "alarms 7-1");
    json_t *rows = json_object_get(json_object_get(ctl->reply, "data"), "alarms"), *row;
    size_t i;
    json_array_foreach(rows, i, row)
    {
        if (strcmp(json_string_value(json_object_get(row, "rule")), rule) == 0) {
            return row;
        }
    }
    return NULL;
}

static bool is_set(const json_t *row, const char *key)
{
    assert_non_null(row);
    return json_is_true(json_object_get(row, key));
}

static void alarms_are_snoozed_by_name_and_for_minutes(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    assert_non_null(strstr(ctl_ok(&ctl, "alarms"), "0 alarms, 0 sounding\n"));
    kit_pass(&ctl.kit, 31 * 60);
    assert_true(is_set(alarm_named(&ctl, "obs"), "sounds"));
    ctl_refused(&ctl, "alarms snooze 7-1 obs", "RP_E_INVALID",
                "an alarm is answered by name (example: ridgepost --by \"Ines Okafor\" alarms ack "
                "7-1 spo2-band)");
    ctl_refused(&ctl, "--by Ines alarms snooze 7-1 obs 6min", "RP_E_INVALID",
                "snooze: 6min is at most 300 s for \"obs\" (example: alarms snooze 7-1 obs 300s)");
    ctl_refused(&ctl, "--by Ines alarms snooze 7-1 obs 0s", "RP_E_INVALID",
                "snooze: 0s is at most 300 s for \"obs\" (example: alarms snooze 7-1 obs 300s)");
    ctl_refused(&ctl, "--by Ines alarms ack 7-1 obs", "RP_E_INVALID",
                "alarms: \"obs\" ends when what it asks for is done; it can only be snoozed "
                "(example: alarms snooze 7-1 obs)");
    ctl_refused(&ctl, "--by Ines alarms snooze 7-1 pump", "RP_E_NOT_FOUND",
                "alarms: \"pump\" does not stand now; ridgepost alarms lists those that do "
                "(example: alarms ack 7-1 spo2-band \"finger warmed\")");
    ctl_refused(&ctl, "--by Ines alarms snooze 7-1", "RP_E_FORMAT",
                "alarms: something is missing after it (example: alarms snooze 7-1 spo2-band "
                "5min)");
    ctl_ok(&ctl, "--by Ines alarms snooze 7-1 obs 4min \"hands too cold\"");
    struct rp_record record = ctl_last(&ctl);
    assert_int_equal(record.kind, RP_REC_ALARM);
    assert_string_equal(record.by, "Ines");
    assert_int_equal(record.as.alarm.action, RP_ALARM_SNOOZE);
    assert_int_equal(record.as.alarm.rule, 10);
    assert_int_equal(record.as.alarm.until_s, record.time_s + 240);
    assert_string_equal(record.as.alarm.text, "hands too cold");
    assert_true(is_set(alarm_named(&ctl, "obs"), "snoozed"));
    kit_pass(&ctl.kit, 239);
    ctl_restart(&ctl); /* a restart forgets no snooze */
    assert_false(is_set(alarm_named(&ctl, "obs"), "sounds"));
    kit_pass(&ctl.kit, 1);
    assert_true(is_set(alarm_named(&ctl, "obs"), "sounds"));
    ctl_ok(&ctl, "--by Ines alarms snooze 7-1 obs"); /* without a time: as long as may be */
    record = ctl_last(&ctl);
    assert_int_equal(record.as.alarm.until_s, record.time_s + 300);
    ctl_ok(&ctl, "--by Ines obs 7-1 spo2 80 air alert");
    assert_null(alarm_named(&ctl, "obs"));
    ctl_end(&ctl);
}

static void alarms_are_acknowledged_by_name(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl_ok(&ctl, "--by Ines obs 7-1 spo2 60 air alert");
    ctl_refused(&ctl, "--by Ines alarms ack 7-1 spo2-band two words", "RP_E_FORMAT",
                "alarms: \"words\" is one word too many; put a text in quotes (example: alarms ack "
                "7-1 spo2-band \"two words\")");
    ctl_ok(&ctl, "--by \"Ines Okafor\" alarms ack 7-1 spo2-band \"finger was cold\"");
    kit_pass(&ctl.kit, 1200);
    const char *text = ctl_ok(&ctl, "alarms");
    assert_non_null(strstr(text, "acknowledged by Ines Okafor"));
    assert_non_null(strstr(text, ": finger was cold\n"));
    assert_true(is_set(alarm_named(&ctl, "spo2-band"), "acknowledged"));
    assert_non_null(strstr(ctl_ok(&ctl, "log 7-1"), "spo2-band acknowledged"));
    ctl_ok(&ctl, "--by Ines obs 7-1 spo2 58 air alert"); /* a new value is a new alarm */
    assert_true(is_set(alarm_named(&ctl, "spo2-band"), "sounds"));
    ctl_ok(&ctl, "--by Ines alarms snooze 7-1 spo2-band 2min");
    assert_non_null(strstr(ctl_ok(&ctl, "alarms"), "silent until "));
    ctl_refused(&ctl, "alarms now", "RP_E_FORMAT",
                "alarms: \"now\" is none of snooze, ack, rules or an episode (example: alarms "
                "snooze 7-1 obs 5min)");
    ctl_end(&ctl);
}

/* Two drugs that are due at the same second are answered one by one, or together. */
static void drugs_are_answered_one_by_one(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 8mg im checked Jory");
    ctl_ok(&ctl, "--by Ines give 7-1 nifedipine 30mg po checked Jory");
    kit_pass(&ctl.kit, 7 * 3600);
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"), "the protocol table is NOT REVIEWED"));
    ctl_ok(&ctl, "--by Ines alarms ack 7-1 drug nifedipine \"stopped by Dr Lindqvist\"");
    ctl_ok(&ctl, "alarms 7-1");
    json_t *rows = json_object_get(json_object_get(ctl.reply, "data"), "alarms"), *row;
    size_t i, sounding = 0, silent = 0;
    json_array_foreach(rows, i, row)
    {
        if (strcmp(json_string_value(json_object_get(row, "rule")), "drug") == 0) {
            sounding += is_set(row, "sounds");
            silent += !is_set(row, "sounds");
        }
    }
    assert_int_equal(sounding, 1);
    assert_int_equal(silent, 1);
    ctl_ok(&ctl, "--by Ines alarms snooze 7-1 drug");
    assert_int_equal(
        json_array_size(json_object_get(json_object_get(ctl.reply, "data"), "records")), 2);
    ctl_end(&ctl);
}

static void rules_are_listed(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    const char *text = ctl_ok(&ctl, "alarms rules");
    assert_non_null(strstr(text, "pump             camp  no stroke told for 60 s"));
    assert_non_null(strstr(text, "source: 6.4 H1"));
    json_t *rows = json_object_get(json_object_get(ctl.reply, "data"), "rules");
    assert_int_equal(json_array_size(rows), 54);
    ctl_end(&ctl);
}

static bool a_view_says(struct ctl *ctl, const char *key, json_int_t value)
{
    ctl_ok(ctl, "view");
    json_t *self = json_object_get(json_object_get(ctl->reply, "data"), "self");
    return json_integer_value(json_object_get(self, key)) == value;
}

/* Told by status, to the pages, and as an alarm that is answered by name like any other. */
static void a_clock_that_was_set_back_is_shown(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl.kit.moment.synced = false;
    ctl.kit.config.boot++; /* nobody vouches for it in this run of the computer */
    ctl_restart(&ctl);
    assert_null(strstr(ctl_ok(&ctl, "status"), "SET BACK"));
    assert_true(a_view_says(&ctl, "clock_back_s", 0));
    ctl.kit.moment.unix_s -= 3600;
    rp_node_tick(ctl.kit.node, ctl.kit.moment); /* as the daemon does */
    assert_non_null(strstr(ctl_ok(&ctl, "status"),
                           "clock   NOT SYNCHRONISED: entries are marked\n"
                           "        SET BACK by 1 h 00 min, found 12:00Z: compare with a watch\n"));
    assert_true(a_view_says(&ctl, "clock_back_s", 3600));
    assert_true(a_view_says(&ctl, "clock_back_at_s", 4795200));
    assert_true(is_set(alarm_named(&ctl, "clock-back"), "sounds"));
    ctl_ok(&ctl, "--by Ines alarms ack 7-1 clock-back \"compared with a watch\"");
    kit_pass(&ctl.kit, 3600);
    assert_true(is_set(alarm_named(&ctl, "clock-back"), "acknowledged"));
    ctl_restart(&ctl);
    assert_true(is_set(alarm_named(&ctl, "clock-back"), "acknowledged"));
    ctl.kit.moment.unix_s -= 60; /* once more: a new alarm */
    rp_node_tick(ctl.kit.node, ctl.kit.moment);
    assert_true(is_set(alarm_named(&ctl, "clock-back"), "sounds"));
    ctl_end(&ctl);
}

static void strokes_are_heard(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl_ok(&ctl, "--by Ines chamber 7-1 close");
    ctl_ok(&ctl, "--by Ines chamber 7-1 pressurise");
    kit_pass(&ctl.kit, 300);
    assert_null(alarm_named(&ctl, "pump"));
    struct rp_record before = ctl_last(&ctl);
    assert_string_equal(ctl_ok(&ctl, "stroke Jory"), "stroke heard of Jory\n");
    assert_string_equal(ctl_ok(&ctl, "stroke"), "stroke heard\n");
    assert_int_equal(ctl_last(&ctl).kind, before.kind);
    kit_pass(&ctl.kit, 60);
    assert_true(is_set(alarm_named(&ctl, "pump"), "sounds"));
    ctl_ok(&ctl, "stroke");
    assert_null(alarm_named(&ctl, "pump"));
    kit_pass(&ctl.kit, 660);
    assert_non_null(alarm_named(&ctl, "rotation"));
    ctl_ok(&ctl, "stroke Sabe");
    assert_null(alarm_named(&ctl, "rotation"));
    ctl_send(&ctl, "stroke \"a name of more than 24 bytes\"");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_TOO_LONG");
    ctl_end(&ctl);
}

static struct rp_watch_plan plan;

/* A stroke of 2 L in a chamber of 500 L at 5480 m, one in 5 s: common practice, no source. */
static void strokes_are_recorded_and_show_the_air(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    plan = rp_watch_plan_default;
    plan.volume_dl = 5000;
    plan.stroke_dl = 20;
    ctl.kit.config.plan = &plan;
    ctl_restart(&ctl);
    ctl_ok(&ctl, "--by Ines open hape patient B altitude 5480m");
    assert_string_equal(ctl_ok(&ctl, "stroke Jory"),
                        "stroke heard of Jory; not recorded: name the episode (example: stroke 7-1 "
                        "Jory)\n");
    ctl_send(&ctl, "stroke 7-9 Jory");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_NOT_FOUND");
    ctl_ok(&ctl, "--by Ines descent 7-2 no dark");
    ctl_ok(&ctl, "--by Ines chamber 7-2 close");
    ctl_ok(&ctl, "--by Ines chamber 7-2 at 2psi");
    for (int i = 0; i < 360; i++) {
        kit_pass(&ctl.kit, 5);
        ctl_ok(&ctl, "stroke 7-2 Jory");
    }
    const char *text = ctl_ok(&ctl, "episode 7-2");
    assert_non_null(strstr(text, "360 strokes told, the last "));
    assert_non_null(strstr(text, " ago, 12.0 a minute; Jory, "));
    assert_non_null(strstr(text, "air inside by the strokes, an estimate: CO2 1."));
    assert_non_null(strstr(text, "(CO2 ABOVE 1 %)"));
    assert_non_null(strstr(text, "CO2 at 1 % needs 24 strokes a minute, in distress 33; "
                                 "practical rule 12\n"));
    assert_non_null(strstr(ctl_ok(&ctl, "log 7-2"), "120 strokes in 595 s, Jory"));
    ctl_restart(&ctl);
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-2"), "strokes told, the last "));
    ctl_end(&ctl);
}

static void a_stock_is_counted_down(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 4mg im");
    ctl_ok(&ctl, "--by Ines stock 7-1 dexamethasone 9mg");
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"),
                           "dexamethasone: 2 doses of 4 mg left by the count of "));
    assert_non_null(strstr(ctl_ok(&ctl, "log 7-1"), "dexamethasone 9 mg left"));
    ctl_ok(&ctl, "--by Ines stock dexamethasone none");
    assert_int_equal(ctl_last(&ctl).as.stock.left_milli, 0);
    assert_int_equal(ctl_last(&ctl).as.stock.unit, RP_DOSE_MG);
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"), "dexamethasone: 0 doses of 4 mg left"));
    assert_non_null(strstr(ctl_ok(&ctl, "--by Ines stock 7-1 ibuprofen \"10 tablets\""),
                           "not in the protocol table"));
    assert_non_null(strstr(ctl_ok(&ctl, "--by Ines stock 7-1 dexamethasone 3tablet"),
                           "the protocol table does not count in this unit: how long it lasts is "
                           "not reckoned"));
    ctl_send(&ctl, "stock 7-1 dexamethasone 9");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_INVALID");
    ctl_send(&ctl, "stock 7-1 dexamethasone");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_FORMAT");
    ctl_refused(&ctl, "stock 7-1 dexamethasone 9mg now", "RP_E_FORMAT",
                "stock: \"now\" is one word too many (example: stock 7-1 dexamethasone 16mg)");
    ctl_end(&ctl);
}

/* Under another name a dose is checked against nothing: that is asked first. */
static void a_near_name_is_asked(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl_refused(&ctl, "--by Ines give 7-1 dexametason 8mg im", "RP_E_CONFIRM",
                "dexametason is not in the protocol table: is dexamethasone meant? Enter that "
                "name, or again with --sure");
    ctl_refused(&ctl, "stock 7-1 nife 30mg", "RP_E_CONFIRM",
                "nife is not in the protocol table: is nifedipine meant? Enter that name, or again "
                "with --sure");
    assert_non_null(strstr(ctl_ok(&ctl, "--by Ines give 7-1 dexametason 8mg im --sure"),
                           "not in the protocol table"));
    ctl_end(&ctl);
}

/* Clinical references 3.5: prongs at most 6 L/min, a mask at least 5 (from memory). */
static void flow_and_device_must_fit(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    ctl_ok(&ctl, "oxygen 7-1 start prongs 6L/min cylinder A 180bar water 4L");
    ctl_refused(&ctl, "oxygen 7-1 change 6.5L/min", "RP_E_CONFIRM",
                "flow 6.5 L/min is unlikely with prongs: prongs at most 6, a mask at least 5 "
                "L/min; check and enter again with --sure");
    ctl_ok(&ctl, "oxygen 7-1 change 6.5L/min --sure");
    ctl_ok(&ctl, "oxygen 7-1 change mask 5L/min");
    ctl_refused(&ctl, "oxygen 7-1 change 4.5L/min", "RP_E_CONFIRM",
                "flow 4.5 L/min is unlikely with mask: prongs at most 6, a mask at least 5 L/min; "
                "check and enter again with --sure");
    ctl_ok(&ctl, "oxygen 7-1 change prongs 4.5L/min");
    ctl_ok(&ctl, "oxygen 7-1 stop");
    ctl_end(&ctl);
}

/* Sunset on 25 Feb 2026 at 27.988 N 86.92533 E is near 12:11Z; the way is entered, or configured.
 */
static void the_last_safe_start_is_shown(void **state)
{
    (void)state;
    struct ctl ctl = with_table(); /* 12:00Z: light ends in minutes, and nobody said how long */
    assert_null(strstr(ctl_ok(&ctl, "episode 7-1"), "last safe start"));
    kit_pass(&ctl.kit, 14 * 3600); /* 02:00Z the next day */
    ctl_refused(&ctl, "descent 7-1 no dark takes 30s", "RP_E_INVALID",
                "takes 30 s is outside 60-172800 (example: takes 4h)");
    ctl_send(&ctl, "descent 7-1 no dark takes 5min");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_CONFIRM");
    ctl_ok(&ctl, "--by Ines descent 7-1 no dark takes 4h");
    assert_int_equal(ctl_last(&ctl).as.descent.way_min, 240);
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"), "last safe start down 06:1"));
    assert_null(alarm_named(&ctl, "last-descent"));
    kit_pass(&ctl.kit, 3 * 3600);
    assert_true(is_set(alarm_named(&ctl, "last-descent"), "sounds"));
    assert_non_null(strstr(ctl_ok(&ctl, "log 7-1"), "not down: dark; the way takes 240 min"));
    kit_pass(&ctl.kit, 2 * 3600);
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"), ", PAST: light ends "));
    ctl_end(&ctl);
}

static void a_dose_against_the_table_needs_two_names(void **state)
{
    (void)state;
    struct ctl ctl = with_table();
    assert_non_null(strstr(ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 8mg im checked Jory"),
                           "checked against a protocol table that is NOT REVIEWED"));
    kit_pass(&ctl.kit, 3600);
    ctl_send(&ctl, "--by Ines give 7-1 dexamethasone 8mg im");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_CONFIRM");
    assert_non_null(strstr(ctl_error(&ctl, "text"), "perhaps given twice (given "));
    assert_non_null(strstr(ctl_error(&ctl, "text"), "confirmed Jory)"));
    struct rp_record record = ctl_last(&ctl); /* that it was refused is in the log */
    assert_int_equal(record.kind, RP_REC_NOTE);
    assert_string_equal(record.by, "Ines");
    assert_memory_equal(record.as.note.text,
                        "NOT recorded as given, dexamethasone: perhaps given twice", 57);
    ctl_refused(&ctl, "--by Ines give 7-1 dexamethasone 8mg im confirmed ines", "RP_E_INVALID",
                "two people stand for this dose, each by name (example: give 7-1 dexamethasone 8mg "
                "im by Ines confirmed Jory)");
    ctl_refused(&ctl, "--by Ines give 7-1 dexamethasone 8mg im confirmed \" ines \"",
                "RP_E_INVALID",
                "two people stand for this dose, each by name (example: give 7-1 dexamethasone 8mg "
                "im by Ines confirmed Jory)");
    ctl_refused(&ctl, "give 7-1 dexamethasone 8mg im confirmed Jory", "RP_E_INVALID",
                "two people stand for this dose, each by name (example: give 7-1 dexamethasone 8mg "
                "im by Ines confirmed Jory)");
    ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 16mg im confirmed Jory");
    record = ctl_last(&ctl);
    assert_int_equal(record.kind, RP_REC_TREATMENT);
    assert_int_equal(record.as.treatment.flags, RP_DOSE_DOUBLE | RP_DOSE_OVER_SINGLE);
    assert_string_equal(record.as.treatment.confirmed, "Jory");
    const char *sheet = ctl_ok(&ctl, "handover 7-1");
    assert_non_null(strstr(sheet, "confirmed by"));
    assert_non_null(strstr(sheet, "PERHAPS GIVEN TWICE"));
    /* What the patient refused was not given. */
    ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 8mg im refused");
    assert_non_null(strstr(ctl_ok(&ctl, "--by Ines give 7-1 ondansetron 4mg iv"),
                           "not in the protocol table: dose, interval and maximum not checked"));
    kit_pass(&ctl.kit, 30 * 3600);
    assert_non_null(strstr(ctl_ok(&ctl, "--by Ines give 7-1 dexamethasone 1tablet po"),
                           "dose not in the table's unit: amounts not checked"));
    ctl_end(&ctl);
}

/* Each finding by itself: refused, with a note in the log; not on the word of the same person; then
 * recorded as against the table on the word of a second one. */
static void each_finding_needs_a_second_name(void **state)
{
    (void)state;
    static const struct rp_protocol all = {
        .title = "for tests",
        .count = 4,
        .drugs = {{.name = "alpha",
                   .routes = 1u << RP_ROUTE_ORAL,
                   .unit = RP_DOSE_MG,
                   .single_milli = 8000,
                   .day_milli = 10000,
                   .interval_s = 6 * 3600},
                  {.name = "bravo", .unit = RP_DOSE_MG, .vasodilator = true},
                  {.name = "charlie", .unit = RP_DOSE_MG, .vasodilator = true},
                  {.name = "delta", .unit = RP_DOSE_MG, .allergy = {"sulfa"}}},
    };
    static const struct {
        const char *before, *dose, *finding;
        int wait_min;
        uint8_t flag;
    } rows[] = {
        {"alpha 4mg po", "alpha 4mg po", "perhaps given twice", 60, RP_DOSE_DOUBLE},
        {"alpha 4mg po", "alpha 4mg po", "too early", 240, RP_DOSE_EARLY},
        {NULL, "alpha 9mg po", "above the largest single dose", 0, RP_DOSE_OVER_SINGLE},
        {"alpha 7mg po", "alpha 4mg po", "above the most in 24 h", 420, RP_DOSE_OVER_DAY},
        {NULL, "delta 4mg po", "allergy", 0, RP_DOSE_ALLERGY},
        {"bravo 4mg po", "charlie 4mg po", "second pulmonary vasodilator (with bravo)", 60,
         RP_DOSE_VASODILATORS},
        {NULL, "alpha 4mg im", "not a route of the table", 0, RP_DOSE_ROUTE},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct ctl ctl = ctl_new();
        char line[120];
        ctl.kit.config.protocol = &all;
        ctl_restart(&ctl);
        ctl_ok(&ctl, "--by Ines open hace patient A allergies \"sulfa: rash\"");
        if (rows[i].before != NULL) {
            snprintf(line, sizeof line, "--by Ines give 7-1 %s", rows[i].before);
            ctl_ok(&ctl, line);
        }
        kit_pass(&ctl.kit, rows[i].wait_min * 60);
        snprintf(line, sizeof line, "--by Ines give 7-1 %s", rows[i].dose);
        ctl_send(&ctl, line);
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_CONFIRM");
        assert_non_null(strstr(ctl_error(&ctl, "text"), rows[i].finding));
        assert_int_equal(ctl_last(&ctl).kind, RP_REC_NOTE);
        assert_non_null(strstr(ctl_last(&ctl).as.note.text, rows[i].finding));
        ctl_send(&ctl, strcat(line, " --sure")); /* no word of a second person */
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_CONFIRM");
        snprintf(line, sizeof line, "--by Ines give 7-1 %s confirmed INES", rows[i].dose);
        ctl_send(&ctl, line);
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_INVALID");
        snprintf(line, sizeof line, "--by Ines give 7-1 %s confirmed Jory", rows[i].dose);
        const char *text = ctl_ok(&ctl, line);
        assert_non_null(strstr(text, "AGAINST THE TABLE: "));
        assert_non_null(strstr(text, rows[i].finding));
        assert_int_equal(ctl_last(&ctl).as.treatment.flags, rows[i].flag);
        assert_string_equal(ctl_last(&ctl).as.treatment.confirmed, "Jory");
        assert_non_null(strstr(ctl_ok(&ctl, "log 7-1"), "AGAINST THE TABLE, confirmed Jory"));
        ctl_end(&ctl);
    }
}

static void without_a_table_it_only_reminds(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A allergies penicillin");
    assert_null(strstr(ctl_ok(&ctl, "give 7-1 ondansetron 4mg iv"), "look"));
    kit_pass(&ctl.kit, 60);
    assert_non_null(
        strstr(ctl_ok(&ctl, "give 7-1 Ondansetron 4mg iv"), "look: perhaps given twice"));
    assert_int_equal(ctl_last(&ctl).as.treatment.flags, 0); /* nobody signed a table here */
    assert_non_null(strstr(ctl_ok(&ctl, "give 7-1 penicillin 1g iv"), "look: allergy"));
    ctl_end(&ctl);
}

static void the_table_is_shown(void **state)
{
    (void)state;
    static struct rp_protocol signed_table;
    signed_table = table;
    strcpy(signed_table.reviewed_by, "Dr Lindqvist");
    strcpy(signed_table.reviewed_on, "2026-10-05");
    signed_table.drugs[0].dose_milli = 4025;
    signed_table.drugs[0].day_milli = 20500;
    signed_table.drugs[1].vasodilator = true;
    strcpy(signed_table.drugs[0].cautions[0], "does not acclimatise");
    strcpy(signed_table.drugs[0].source, "somewhere");
    strcpy(signed_table.drugs[0].also[0], "dexa");
    strcpy(signed_table.drugs[0].also[1], "dexameth");
    strcpy(signed_table.drugs[0].allergy[0], "steroid");
    struct ctl ctl = ctl_new();
    assert_string_equal(ctl_ok(&ctl, "drugs"),
                        "no protocol table: doses are recorded, not checked\n");
    ctl.kit.config.protocol = &table;
    ctl_restart(&ctl);
    assert_non_null(strstr(ctl_ok(&ctl, "drugs"), "for tests\nNOT REVIEWED\n"));
    ctl.kit.config.protocol = &signed_table;
    ctl_restart(&ctl);
    assert_string_equal(
        ctl_ok(&ctl, "drugs"),
        "for tests\n"
        "reviewed by Dr Lindqvist, 2026-10-05\n"
        "\n"
        "dexamethasone po im, usual 4.025 mg, largest 8 mg, most in 24 h 20.5 mg, "
        "interval 6 h 00 min\n"
        "     also called: dexa, dexameth\n"
        "     not with an allergy to: steroid\n"
        "     caution: does not acclimatise\n"
        "     source: somewhere\n"
        "\n"
        "nifedipine, interval 6 h 00 min, pulmonary vasodilator\n"
        "     source: \n"
        "\n"
        "A record to compare with, no advice: the treating clinician decides. Not a "
        "medical device.\n");
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(alarms_are_snoozed_by_name_and_for_minutes),
        cmocka_unit_test(alarms_are_acknowledged_by_name),
        cmocka_unit_test(drugs_are_answered_one_by_one),
        cmocka_unit_test(rules_are_listed),
        cmocka_unit_test(a_clock_that_was_set_back_is_shown),
        cmocka_unit_test(strokes_are_heard),
        cmocka_unit_test(strokes_are_recorded_and_show_the_air),
        cmocka_unit_test(a_stock_is_counted_down),
        cmocka_unit_test(the_last_safe_start_is_shown),
        cmocka_unit_test(a_near_name_is_asked),
        cmocka_unit_test(flow_and_device_must_fit),
        cmocka_unit_test(a_dose_against_the_table_needs_two_names),
        cmocka_unit_test(each_finding_needs_a_second_name),
        cmocka_unit_test(without_a_table_it_only_reminds),
        cmocka_unit_test(the_table_is_shown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
