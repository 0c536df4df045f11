/* The texts for people, of one scripted scenario: Ridge Camp (7) treats, Lake Camp (2) answers. The
 * expected texts are tests/golden/control_*.txt; to make them anew give the program the argument
 * "write" and read what changed. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ctl.h"

static bool write_golden;

static void say(struct ctl *ctl, const char *line)
{
    ctl_ok(ctl, line);
    kit_pass(&ctl->kit, 120);
}

static void compare(const char *name, const char *text)
{
    char path[512], expected[8192];
    snprintf(path, sizeof path, "%s/tests/golden/control_%s.txt", RP_SOURCE_DIR, name);
    FILE *file = fopen(path, write_golden ? "w" : "r");
    assert_non_null(file);
    if (write_golden) {
        fputs(text, file);
    } else {
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
        assert_string_equal(text, expected);
    }
    fclose(file);
}

static void tell_the_case(struct ctl *ctl)
{
    say(ctl, "--by Ines open hace patient \"M. Tarn\" sex m age 34 weight 71kg onset 6h "
             "yes ataxia,mental");
    say(ctl, "--by Ines obs 7-1 spo2 71 air pulse 118 resp 28 bp 132/84 temp 36.4 oral confused "
             "ataxia 3 worse");
    say(ctl, "--by Ines oxygen 7-1 start prongs 2L/min cylinder A 180bar");
    say(ctl, "--by Ines give 7-1 dexamethasone 8mg im checked Jory");
    say(ctl, "--by Ines descent 7-1 no dark \"first light 05:40Z\"");
    say(ctl, "--by Ines chamber 7-1 close");
    say(ctl, "--by Ines chamber 7-1 pressurise");
    say(ctl, "--by Ines chamber 7-1 at 2psi altimeter 3420m");
    kit_pass(&ctl->kit, 1800);
    say(ctl, "--by Ines report 7-1 same spo2 84 chamber pulse 104 confused");
    say(ctl, "--by Ines evacuate 7-1 e1 stretcher site 27.9884,86.926 area 40x40 surface snow");
    say(ctl, "--by Ines open hape patient B allergies none");
    say(ctl, "--by Ines obs 7-2 spo2 62 air pulse 131 resp 34 alert critical");
    say(ctl, "--by Ines evacuate 7-2 e2 sitting");
    say(ctl, "--by Pelle answer 7-1 seen");
    say(ctl,
        "--by Pelle answer 7-1 eta arrives 09:30Z from \"Valley Air 3\" \"lower site if windy\"");
    say(ctl, "--by Ines open ams patient C allergies none");
    say(ctl, "--by Ines close 7-3 recovered");
}

static void texts_are_as_agreed(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    const struct rp_store_ops *ops = memory_store_ops();
    uint16_t own = rp_node_origin(ctl.kit.node);
    tell_the_case(&ctl);
    /* How far each record has come, as storage was told. */
    int64_t now_s = ctl.kit.moment.unix_s;
    assert_int_equal(ops->mark_base(ctl.kit.store, own, 1, 6, now_s - 1800), 6);
    for (uint32_t seq = 7; seq <= 11; seq++) {
        assert_int_equal(ops->mark_aired(ctl.kit.store, own, seq, now_s - 900), RP_OK);
    }
    assert_int_equal(ops->mark_heard(ctl.kit.store, own, 8, now_s - 600, 4), RP_OK);
    compare("board", ctl_ok(&ctl, "board"));
    compare("episode", ctl_ok(&ctl, "episode 7-1"));
    compare("alarms", ctl_ok(&ctl, "alarms"));
    compare("delivery", ctl_ok(&ctl, "delivery 7-1"));
    compare("log", ctl_ok(&ctl, "log 7-1"));
    compare("stations", ctl_ok(&ctl, "stations"));
    compare("status", ctl_ok(&ctl, "status"));
    ctl_end(&ctl);
}

static void an_exercise_says_so_on_every_view(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl.kit.config.exercise = true;
    ctl_restart(&ctl);
    say(&ctl, "open hace patient A");
    say(&ctl, "obs 7-1 spo2 71 air");
    static const char *const views[] = {"board",        "episode 7-1", "delivery 7-1",
                                        "handover 7-1", "log 7-1",     "status"};
    for (size_t i = 0; i < sizeof views / sizeof views[0]; i++) {
        assert_non_null(strstr(ctl_ok(&ctl, views[i]), "EXERCISE"));
    }
    /* The mark stays when the station is real again. */
    ctl.kit.config.exercise = false;
    ctl_restart(&ctl);
    for (size_t i = 0; i < 5; i++) {
        assert_non_null(strstr(ctl_ok(&ctl, views[i]), "EXERCISE"));
    }
    ctl_end(&ctl);
}

static size_t lines_of(const char *text)
{
    size_t lines = 0;
    for (; *text != '\0'; text++) {
        lines += *text == '\n';
    }
    return lines;
}

static void a_long_log_is_had_in_parts(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    say(&ctl, "open hace patient A");
    say(&ctl, "note 7-1 first");
    say(&ctl, "note 7-1 second");
    say(&ctl, "note 7-1 third");
    size_t all = lines_of(ctl_ok(&ctl, "log 7-1"));
    assert_true(all >= 4);
    const char *newest = ctl_ok(&ctl, "log 7-1 newest 1");
    assert_int_equal(lines_of(newest), 1);
    assert_non_null(strstr(newest, "third"));
    const char *before = ctl_ok(&ctl, "log 7-1 newest 1 skip 1");
    assert_int_equal(lines_of(before), 1);
    assert_non_null(strstr(before, "second"));
    assert_int_equal(lines_of(ctl_ok(&ctl, "log newest 2")), 2);
    assert_int_equal(lines_of(ctl_ok(&ctl, "log 7-1 newest 999")), all);
    assert_int_equal(lines_of(ctl_ok(&ctl, "log 7-1 newest 5 skip 9999")), 0);
    ctl_end(&ctl);
}

/* A cut goes between characters, and is seen: half a character is no JSON (RFC 8259 section 8.1),
 * and the record would be missing from the data. */
static void a_long_text_is_cut_between_characters(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    say(&ctl, "open hace patient A");
    say(&ctl, "note 7-1 \"fifty-nine bytes before the accent: xxxxxxxxxxxxxxxxxxxxxxx\u00e9 and "
              "more of it\"");
    ctl_ok(&ctl, "log 7-1");
    const json_t *records = json_object_get(json_object_get(ctl.reply, "data"), "records");
    const json_t *last = json_array_get(records, json_array_size(records) - 1);
    assert_string_equal(json_string_value(json_object_get(last, "kind")), "note");
    assert_string_equal(json_string_value(json_object_get(last, "summary")),
                        "fifty-nine bytes before the accent: xxxxxxxxxxxxxxxxxxxxxxx\u00e9 ...");
    ctl_end(&ctl);
}

/* The whole of it: half an allergy may hide the half that counts. */
static void the_log_says_what_is_known_of_a_patient(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    say(&ctl, "open hace patient A");
    say(&ctl,
        "background 7-1 allergies \"penicillin: rash, swelling of the lips and tongue, was in "
        "hospital two days in 2019; and latex gloves\" medicines none");
    const char *log = ctl_ok(&ctl, "log 7-1");
    assert_non_null(strstr(log,
                           "allergies penicillin: rash, swelling of the lips and tongue, was in "
                           "hospital two days in 2019; and latex gloves; medicines none"));
    assert_null(strstr(log, "history"));
    ctl_end(&ctl);
}

static void the_board_says_who_took_the_patient(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    say(&ctl, "open hace patient A");
    assert_null(strstr(ctl_ok(&ctl, "board"), "HANDED OVER"));
    say(&ctl, "taken 7-1 team \"Valley Air 3\" person \"Dr Lindqvist\" sheet 2 K7QP");
    const char *board = ctl_ok(&ctl, "board");
    assert_non_null(strstr(board, "to Valley Air 3, taken by Dr Lindqvist, sheet 2 check K7QP"));
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"), "taken by Dr Lindqvist"));
    ctl_end(&ctl);
}

/* Every line is JSON by itself and tells all of its record. */
static void the_log_is_had_as_json_lines(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    say(&ctl, "open hace patient A");
    say(&ctl, "note 7-1 a \"quoted\" word");
    char *text = strdup(ctl_ok(&ctl, "handover 7-1 form jsonl"));
    bool found = false;
    for (char *line = strtok(text, "\n"); line != NULL; line = strtok(NULL, "\n")) {
        json_t *json = json_loads(line, 0, NULL);
        assert_non_null(json);
        const char *kind = json_string_value(json_object_get(json, "kind"));
        assert_true(json_string_length(json_object_get(json, "body")) > 4);
        if (kind != NULL && strcmp(kind, "note") == 0) {
            const char *said =
                json_string_value(json_object_get(json_object_get(json, "says"), "text"));
            found = said != NULL && strstr(said, "quoted") != NULL;
        }
        json_decref(json);
    }
    assert_true(found);
    free(text);
    ctl_end(&ctl);
}

static void an_empty_station_shows_empty_views(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    assert_string_equal(ctl_ok(&ctl, "board"),
                        "BOARD 12:00Z  Ridge Camp (station 7)  0 episodes\n");
    const json_t *data = json_object_get(ctl.reply, "data");
    assert_int_equal(json_array_size(json_object_get(data, "episodes")), 0);
    ctl_ok(&ctl, "delivery");
    ctl_ok(&ctl, "stations");
    ctl_ok(&ctl, "status");
    ctl_ok(&ctl, "log");
    ctl_end(&ctl);
}

int main(int argc, char **argv)
{
    write_golden = argc > 1 && strcmp(argv[1], "write") == 0;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts_are_as_agreed),
        cmocka_unit_test(an_exercise_says_so_on_every_view),
        cmocka_unit_test(a_long_log_is_had_in_parts),
        cmocka_unit_test(the_log_is_had_as_json_lines),
        cmocka_unit_test(a_long_text_is_cut_between_characters),
        cmocka_unit_test(the_log_says_what_is_known_of_a_patient),
        cmocka_unit_test(the_board_says_who_took_the_patient),
        cmocka_unit_test(an_empty_station_shows_empty_views),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
