/* The handover through the control protocol: its languages, what is too long for one reply, and
 * what both ends show after somebody took the patient. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ctl.h"

static const char *data_text(const struct ctl *ctl, const char *key)
{
    return json_string_value(json_object_get(json_object_get(ctl->reply, "data"), key));
}

static void a_form_is_had_in_a_language(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A allergies none");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1 lang fr"), "RIEN DE CONNU"));
    assert_string_equal(data_text(&ctl, "lang"), "fr");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1 lang fr form spoken"), "Allergies :"));
    assert_non_null(strstr(ctl_ok(&ctl, "handover form spoken lang fr"), "Allergies :"));
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1 form rows lang fr"), "\"language\":\"fr\""));
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "NONE KNOWN"));
    assert_string_equal(data_text(&ctl, "lang"), "en");
    ctl_refused(&ctl, "handover 7-1 lang xx", "RP_E_INVALID",
                "\"xx\" is no language of the forms; languages: en English, fr français (example: "
                "handover 7-1 lang fr)");
    ctl_refused(&ctl, "handover 7-1 lang", "RP_E_INVALID",
                "\"\" is no language of the forms; languages: en English, fr français (example: "
                "handover 7-1 lang fr)");
    ctl_end(&ctl);
}

/* Whether a text says the words, wherever its lines end. */
static bool says(const char *text, const char *words)
{
    char *flat = malloc(strlen(text) + 1);
    size_t len = 0;
    assert_non_null(flat);
    for (; *text != '\0'; text++) {
        bool space = *text == ' ' || *text == '\n';
        if (!space || (len > 0 && flat[len - 1] != ' ')) {
            flat[len++] = space ? ' ' : *text;
        }
    }
    flat[len] = '\0';
    bool found = strstr(flat, words) != NULL;
    free(flat);
    return found;
}

/* An episode watched every 15 minutes for two days, with a dose and a long note in every eighth. */
static void watch_two_days(struct ctl *ctl)
{
    char line[160];
    ctl_ok(ctl, "open hace patient A");
    for (int i = 0; i < 192; i++) {
        kit_pass(&ctl->kit, 900);
        snprintf(line, sizeof line,
                 "obs 7-1 spo2 %d air pulse %d resp 24 bp 120/80 temp 36.4 oral alert gcs 4/5/6 "
                 "airway clear ataxia 1",
                 70 + i % 20, 90 + i % 30);
        ctl_ok(ctl, line);
        if (i % 8 == 0) {
            char note[1000] = "note 7-1 \"";
            for (size_t len = strlen(note); len < 960; len = strlen(note)) {
                strcat(note, "carried on ");
            }
            ctl_ok(ctl, strcat(note, "\""));
            ctl_ok(ctl, "give 7-1 paracetamol 500mg oral checked Jory --sure");
        }
    }
}

/* The document of such an episode is longer than the half MiB that a reply once held. */
static void a_long_document_comes_whole(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    watch_two_days(&ctl);
    const char *text = ctl_ok(&ctl, "handover 7-1 form fhir");
    assert_true(strlen(text) > 524288);
    json_t *bundle = json_loads(text, 0, NULL);
    assert_non_null(bundle);
    assert_true(json_array_size(json_object_get(bundle, "entry")) > 900);
    json_decref(bundle);
    ctl_end(&ctl);
}

static size_t lines_in(const char *text)
{
    size_t lines = 0;
    for (; (text = strchr(text, '\n')) != NULL; text++) {
        lines++;
    }
    return lines;
}

/* Parts put together are the whole, and a part stays the same when records come in between. */
static void the_lines_of_the_log_come_in_parts(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    watch_two_days(&ctl);
    char *whole = strdup(ctl_ok(&ctl, "handover 7-1 form jsonl"));
    assert_null(data_text(&ctl, "next"));
    assert_int_equal(lines_in(whole), 1 + 192 + 24 + 24);
    char *joined = calloc(1, strlen(whole) + 1), after[40] = "", line[120];
    for (int part = 0; part < 5; part++) {
        snprintf(line, sizeof line, "handover 7-1 form jsonl count 50 %s", after);
        strcat(joined, ctl_ok(&ctl, line));
        const char *next = data_text(&ctl, "next");
        assert_int_equal(next != NULL, part < 4);
        snprintf(after, sizeof after, "after %s", next != NULL ? next : "0");
        if (part == 2) {
            ctl_ok(&ctl, "open ams patient B"); /* of another episode: not in these lines */
        }
    }
    assert_string_equal(joined, whole);
    assert_true(lines_in(ctl_ok(&ctl, "handover 7-1 form jsonl whole")) > 1 + 192 + 24 + 24);
    ctl_refused(&ctl, "handover 7-1 form jsonl after 7", "RP_E_INVALID",
                "after: \"7\" is no such part (example: after 3589:42 count 200)");
    ctl_refused(&ctl, "handover 7-1 form jsonl count 0", "RP_E_INVALID",
                "count: \"0\" is no such part (example: after 3589:42 count 200)");
    ctl_refused(&ctl, "handover 7-1 form csv count 5", "RP_E_INVALID",
                "only the form jsonl comes in parts (example: handover 7-1 form jsonl count 100)");
    assert_string_equal(ctl_error(&ctl, "field"), "part"); /* no form is wrong */
    free(joined);
    free(whole);
    ctl_end(&ctl);
}

/* A reading of the cylinder tells neither that oxygen flows nor how much. */
static void a_reading_is_no_flow(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    ctl_ok(&ctl, "oxygen reading cylinder A 200bar");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "oxygen NOT RECORDED"));
    ctl_ok(&ctl, "oxygen start prongs 2L/min");
    kit_pass(&ctl.kit, 60);
    ctl_ok(&ctl, "oxygen reading cylinder A 180bar");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "; OXYGEN 2 L/min at "));
    ctl_ok(&ctl, "oxygen stop");
    kit_pass(&ctl.kit, 60);
    ctl_ok(&ctl, "oxygen reading cylinder A 170bar");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "; no oxygen running at "));
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1 form spoken"), "Oxygen off."));
    ctl_end(&ctl);
}

static void the_map_has_the_stations(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    kit_pass(&ctl.kit, 3600); /* its card is entered */
    ctl_ok(&ctl, "open hace patient A");
    json_t *map = json_loads(ctl_ok(&ctl, "handover 7-1 form geojson"), 0, NULL);
    const json_t *features = json_object_get(map, "features");
    size_t index, stations = 0;
    const json_t *feature, *own = NULL;
    json_array_foreach((json_t *)(uintptr_t)features, index, feature)
    {
        const json_t *properties = json_object_get(feature, "properties");
        if (strcmp(json_string_value(json_object_get(properties, "kind")), "station") == 0) {
            own = properties;
            stations++;
        }
    }
    assert_non_null(own);
    assert_int_equal(stations, 1); /* its own card is in its log too */
    assert_int_equal(json_integer_value(json_object_get(own, "station")), 7);
    assert_string_equal(json_string_value(json_object_get(own, "name")), "Ridge Camp");
    assert_string_equal(json_string_value(json_object_get(own, "role")), "camp");
    json_decref(map);
    ctl_end(&ctl);
}

/* What was entered after somebody took the patient says so wherever it is shown. */
static void late_entries_are_marked_everywhere(void **state)
{
    (void)state;
    static const char *const marked[][2] = {
        {"handover 7-1", "ENTERED AFTER THE HANDOVER"},
        {"handover 7-1 form roll32", "LATE"},
        {"handover 7-1 form isbar", "ENTERED AFTER THE HANDOVER"},
        {"handover 7-1 form rows", "ENTERED AFTER THE HANDOVER"},
        {"handover 7-1 form spoken", "Entered after the handover: one."},
        {"handover 7-1 form request", "ENTERED AFTER THE HANDOVER"},
        {"handover 7-1 form csv", "\"LATE\""},
        {"handover 7-1 form fhir", "ENTERED AFTER THE HANDOVER"},
        {"handover 7-1 form jsonl", "\"late\":true"},
        {"handover 7-1 form roll42", "ENTERED AFTER THE HANDOVER"},
        {"handover 7-1 form ethane", "LATE 1 after the handover of"},
        {"handover 7-1 form pilot", "LATE 1 AFTER THE HANDOVER OF"},
        {"handover 7-1 form cap", "LATE 1 after the handover of"},
        {"handover 7-1 form geojson", "LATE 1 after the handover of"},
        {"handover 7-1 lang fr", "SAISI APRÈS LA REMISE"},
        {"log 7-1", "(AFTER THE HANDOVER)"},
        {"board", "LATE: 1 record from after the handover"},
        {"episode 7-1", "LATE: 1 record"},
    };
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    kit_pass(&ctl.kit, 3600);
    ctl_ok(&ctl, "handover 7-1");
    ctl_ok(&ctl,
           "taken 7-1 team \"Valley Air 3\" person \"Dr Lindqvist\" sheet 1 \"asked: last dose? "
           "answered: none given\" --by \"Ines Okafor\"");
    for (size_t i = 0; i < sizeof marked / sizeof marked[0]; i++) {
        if (says(ctl_ok(&ctl, marked[i][0]), marked[i][1])) {
            fail_msg("%s: marked before anything came late", marked[i][0]);
        }
    }
    kit_pass(&ctl.kit, 600);
    ctl_ok(&ctl, "give 7-1 dexamethasone 8mg im checked Jory --ago 30min --by Sabe --sure");
    for (size_t i = 0; i < sizeof marked / sizeof marked[0]; i++) {
        if (!says(ctl_ok(&ctl, marked[i][0]), marked[i][1])) {
            fail_msg("%s: not marked:\n%s", marked[i][0], ctl_ok(&ctl, marked[i][0]));
        }
    }
    const char *sheet = ctl_ok(&ctl, "handover 7-1");
    assert_true(says(sheet, "EVAC HANDED OVER NEWS")); /* and no request is missed */
    assert_true(says(sheet, "to Valley Air 3, taken by Dr Lindqvist, sheet 1"));
    assert_true(says(sheet, "asked: last dose? answered: none given"));
    ctl_end(&ctl);
}

static void the_airway_is_shown(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "AIRWAY  NOT RECORDED"));
    ctl_ok(&ctl, "obs 7-1 airway noisy");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "AIRWAY  NOISY, PARTLY BLOCKED"));
    assert_non_null(strstr(ctl_ok(&ctl, "episode 7-1"), "airway noisy, partly blocked"));
    ctl_ok(&ctl, "view 7-1");
    char *view = json_dumps(ctl.reply, JSON_COMPACT);
    assert_non_null(strstr(view, "\"airway\":\"noisy, partly blocked\""));
    free(view);
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_form_is_had_in_a_language),
        cmocka_unit_test(a_long_document_comes_whole),
        cmocka_unit_test(the_lines_of_the_log_come_in_parts),
        cmocka_unit_test(a_reading_is_no_flow),
        cmocka_unit_test(the_map_has_the_stations),
        cmocka_unit_test(late_entries_are_marked_everywhere),
        cmocka_unit_test(the_airway_is_shown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
