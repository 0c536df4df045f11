/* Compares rendered sheets with tests/golden/sheet_*.txt. With the argument "write" it writes them
 * instead, for a person to read before they are committed. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "handover/forms.h"
#include "scenario.h"

static struct scenario scenario;
static char rendered[RP_FORM_LEN_MAX], expected[RP_FORM_LEN_MAX];

#define TEXT(field, text) scenario_text(field, sizeof(field), text)

static void exercise(struct scenario *s)
{
    scenario_full(s);
    s->episode.exercise = true;
    s->input.has_local = false;
}

/* The opening record never came: a status report, a dose and a request are all that is held. */
static void fragments(struct scenario *s)
{
    scenario_empty(s);
    struct rp_source from = scenario_source(RIDGE_CAMP, 6, T25(13, 10), "");
    from.unsynced = true;
    scenario_obs(s, from, RP_MODE_UNSAID, 70, 120, 30, RP_ACVPU_VOICE);
    scenario_dose(s, scenario_source(RIDGE_CAMP, 8, T25(13, 15), "Ines Okafor"), "dexamethasone", 0,
                  RP_ROUTE_UNSAID);
    s->episode.has_latest = true;
    s->episode.latest_s = T25(13, 15);
    s->episode.latest_from = scenario_source(RIDGE_CAMP, 8, T25(13, 15), "Ines Okafor");
    s->episode.has_word = true;
    s->episode.word_from = s->episode.latest_from;
    s->episode.records = 3;
    s->episode.undecodable = 1;
    s->episode.heard.count = 1;
    s->episode.heard.at[0] = (struct rp_heard){T25(13, 15), {RIDGE_CAMP << 9 | 5, 8}, true};
    s->holdings[0] = (struct rp_holding){RIDGE_CAMP << 9 | 5, 3, 9};
    s->input.holdings = s->holdings;
    s->input.holding_count = 1;
}

static void corrected(struct scenario *s)
{
    scenario_full(s);
    struct rp_dose *doses = s->episode.doses.at;
    doses[3] = doses[2];
    doses[2] = doses[1];
    s->episode.doses.count = 4;
    struct rp_dose *wrong = &doses[1];
    *wrong = doses[0];
    wrong->from.ref.seq = 28;
    wrong->what.dose_milli = 80000;
    scenario_correct(s, scenario_source(LAKE_CAMP, 40, T25(14, 1), "Pelle Aandal"), &wrong->from,
                     "typed 80 for 8; one dose only was given");
    struct rp_obs *obs = scenario_obs(s, scenario_source(RIDGE_CAMP, 11, T25(13, 30), ""),
                                      RP_MODE_AIR, 97, 66, 14, RP_ACVPU_ALERT);
    scenario_correct(s, scenario_source(RIDGE_CAMP, 41, T25(14, 2), "Ines Okafor"), &obs->from,
                     "readings were of another patient");
    /* A correction of something that has no row of its own. */
    struct rp_source card = scenario_source(RIDGE_CAMP, 12, T25(13, 31), "");
    scenario_correct(s, scenario_source(RIDGE_CAMP, 42, T25(14, 3), "Ines Okafor"), &card, "");
    s->episode.corrections.at[2].what.replacement = (struct rp_record_ref){RIDGE_CAMP << 9 | 5, 13};
    /* Allergies: "none known" at first, then what his sister said. */
    struct rp_known known = {RP_KNOWN, "penicillin: rash and swelling, 2019"};
    s->episode.background.allergies = known;
    s->episode.known[RP_BG_ALLERGIES].count = 2;
    s->episode.known[RP_BG_ALLERGIES].at[1] =
        (struct rp_known_entry){scenario_source(LAKE_CAMP, 43, T25(14, 10), "Pelle Aandal"), known};
}

static void long_notes(struct scenario *s)
{
    scenario_empty(s);
    s->episode.opened = true;
    s->episode.opening_from = scenario_source(RIDGE_CAMP, 1, T25(12, 40),
                                              "In\xcc\x83"
                                              "es");
    TEXT(s->episode.opening.patient, "\xe5\xb1\xb1\xe7\x94\xb0 \xe0\xa4\x95\xe0\xa5\x81");
    scenario_note(s, scenario_source(RIDGE_CAMP, 2, T25(13, 0), "Sabe"),
                  "\x1b[31mred\x1b[0m and \x1b]0;title\x07 bell\nnext line\twith a tab, a "
                  "right-to-left override \xe2\x80\xae and a bad byte \xff.");
    scenario_note(s, scenario_source(RIDGE_CAMP, 3, T25(13, 5), "Jory"),
                  "e\xcc\x81"
                  "e\xcc\x81"
                  "e\xcc\x81 combining; "
                  "\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6"
                  "\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0"
                  "\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4"
                  "\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6"
                  "\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0"
                  "\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4\xe6\xb0\xb4 "
                  "wide, and a word of two lines: "
                  "abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz"
                  "abcdefghijklmnopqrstuvwxyz. The wind dropped at dusk; we moved the chamber "
                  "behind the wall, packed snow round it, and changed pumpers every ten minutes.");
    s->episode.notes.older_dropped = 5;
}

/* In the chamber now, a request of lesser urgency that nobody has answered. What most sheets are.
 */
static void typical(struct scenario *s)
{
    scenario_full(s);
    struct rp_episode *e = &s->episode;
    e->sessions.at[0].phase = RP_PHASE_AT_PRESSURE;
    e->sessions.at[0].has_deflating = e->sessions.at[0].has_out = false;
    e->sessions.at[0].at_pressure_s = T25(14, 4);
    e->sessions.at[0].closed_s = T25(13, 52);
    e->sessions.at[0].at_pressure_total_s = 43 * 60;
    e->chamber.count = 1;
    e->chamber.at[0].from.happened_s = e->chamber.at[0].from.recorded_s = T25(13, 58);
    e->status.phase = RP_PHASE_AT_PRESSURE;
    e->status.condition = RP_COND_BETTER;
    e->obs.at[3].mode = RP_MODE_CHAMBER_OXYGEN;
    e->doses.count = 2;
    e->oxygen.count = 1;
    e->fluids.count = 0; /* few carry a measuring cup, and few ask for pain */
    e->obs.at[2].pain.state = RP_NOT_MEASURED;
    e->reassess.count = 0;
    e->requests.at[0].what.urgency = RP_URG_E2_HOUR;
    e->requests.at[0].what.hazards[0] = '\0';
    e->requests.at[0].what.weather[0] = '\0';
    e->answers.count = 1;
    e->readbacks.count = 0;
    e->eta_answer = -1;
    e->evac_state = RP_EVAC_SEEN;
    e->notes.count = 0;
    s->holdings[0].held = 26;
}

static void none_known(struct scenario *s)
{
    scenario_empty(s);
    s->episode.opened = true;
    s->episode.opening_from = scenario_source(RIDGE_CAMP, 1, T25(12, 40), "Ines Okafor");
    TEXT(s->episode.opening.patient, "patient A");
    s->episode.background.allergies.state = RP_NONE_KNOWN;
    s->episode.background.medicines.state = RP_NONE_KNOWN;
    s->episode.background.history.state = RP_NONE_KNOWN;
    s->episode.background.last_meal.state = RP_NONE_KNOWN;
    s->episode.background.contact.state = RP_NONE_KNOWN;
}

static const struct {
    const char *name;
    void (*make)(struct scenario *s);
} sheets[] = {
    {"full", scenario_full},    {"empty", scenario_empty}, {"exercise", exercise},
    {"fragments", fragments},   {"corrected", corrected},  {"long_notes", long_notes},
    {"none_known", none_known}, {"typical", typical},
};
#define SHEET_COUNT (sizeof sheets / sizeof sheets[0])

/* The sheets that every other form is kept of. */
static const struct {
    const char *name;
    void (*make)(struct scenario *s);
} stories[] = {
    {"typical", typical},
    {"exercise", exercise},
    {"none_known", none_known},
    {"corrected", corrected},
};
#define STORY_COUNT (sizeof stories / sizeof stories[0])

/* English in tests/golden/forms, every other language in tests/golden/forms_CODE, there with the
 * sheet itself. */
static FILE *open_form(const struct rp_texts *texts, size_t story, const struct rp_form *form,
                       const char *mode)
{
    char path[512];
    bool english = texts == &rp_texts_english;
    snprintf(path, sizeof path, "%s/tests/golden/forms%s%s/%s_%s.%s", RP_SOURCE_DIR,
             english ? "" : "_", english ? "" : texts->words[RP_TX_LANGUAGE_CODE],
             stories[story].name, form->word, form->suffix);
    FILE *file = fopen(path, mode);
    if (file == NULL) {
        print_error("cannot open %s\n", path);
    }
    assert_non_null(file);
    return file;
}

static int make_form(const struct rp_texts *texts, size_t story, const struct rp_form *form)
{
    static const struct rp_sheet_station stations[] = {
        {.number = RIDGE_CAMP,
         .role = RP_ROLE_CAMP,
         .name = "Ridge Camp",
         .position = {true, 28104100, 86752300, false, 0},
         .altitude = {true, 5480, RP_ALT_MAP}},
        {.number = LAKE_CAMP,
         .role = RP_ROLE_BASE,
         .name = "Lake Camp",
         .position = {true, 28041000, 86811000, false, 0},
         .altitude = {true, 4310, RP_ALT_MAP}},
    };
    stories[story].make(&scenario);
    scenario.input.stations = stations;
    scenario.input.station_count = sizeof stations / sizeof stations[0];
    return rp_form_make(form, &scenario.input, texts, rendered, sizeof rendered);
}

/* Calls `visit` for every form that is kept: all but the English sheet, which has files of its own.
 */
static void each_form(void (*visit)(const struct rp_texts *texts, size_t story,
                                    const struct rp_form *form))
{
    for (size_t language = 0; language < rp_texts_count; language++) {
        for (size_t story = 0; story < STORY_COUNT; story++) {
            for (size_t i = language == 0 ? 1 : 0; rp_form_at(i) != NULL; i++) {
                visit(rp_texts_all[language], story, rp_form_at(i));
            }
        }
    }
}

static void compare_form(const struct rp_texts *texts, size_t story, const struct rp_form *form)
{
    assert_true(make_form(texts, story, form) > 0);
    FILE *file = open_form(texts, story, form, "rb");
    expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
    fclose(file);
    if (strcmp(rendered, expected) != 0) {
        print_error("%s of %s in %s differs; it would be:\n%s", form->word, stories[story].name,
                    texts->words[RP_TX_LANGUAGE_NAME], rendered);
    }
    assert_string_equal(rendered, expected);
}

static void forms_are_as_reviewed(void **state)
{
    (void)state;
    each_form(compare_form);
}

static void write_form(const struct rp_texts *texts, size_t story, const struct rp_form *form)
{
    int len = make_form(texts, story, form);
    FILE *file = open_form(texts, story, form, "wb");
    if (len < 0 || fwrite(rendered, 1, (size_t)len, file) != (size_t)len || fclose(file) != 0) {
        fprintf(stderr, "%s of %s cannot be written\n", form->word, stories[story].name);
        exit(1);
    }
}

static FILE *open_golden(const char *name, const char *mode)
{
    char path[512];
    snprintf(path, sizeof path, "%s/tests/golden/sheet_%s.txt", RP_SOURCE_DIR, name);
    FILE *file = fopen(path, mode);
    assert_non_null(file);
    return file;
}

static void sheets_are_as_reviewed(void **state)
{
    (void)state;
    for (size_t i = 0; i < SHEET_COUNT; i++) {
        sheets[i].make(&scenario);
        assert_true(rp_sheet_text(&scenario.input, rendered, sizeof rendered) > 0);
        FILE *file = open_golden(sheets[i].name, "rb");
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
        fclose(file);
        if (strcmp(rendered, expected) != 0) {
            print_error("sheet_%s.txt differs; it would be:\n%s", sheets[i].name, rendered);
        }
        assert_string_equal(rendered, expected);
    }
}

/* One page: what a printer of 66 lines takes. */
static void a_typical_sheet_is_one_page(void **state)
{
    (void)state;
    typical(&scenario);
    assert_true(rp_sheet_text(&scenario.input, rendered, sizeof rendered) > 0);
    unsigned lines = 0;
    for (const char *at = rendered; *at != '\0'; at++) {
        lines += *at == '\n';
    }
    /* A4 at 6 lines an inch: 297 mm are 70.2 lines. */
    assert_in_range(lines, 30, 70);
}

static int write_all(void)
{
    for (size_t i = 0; i < SHEET_COUNT; i++) {
        sheets[i].make(&scenario);
        int len = rp_sheet_text(&scenario.input, rendered, sizeof rendered);
        FILE *file = open_golden(sheets[i].name, "wb");
        if (len < 0 || fwrite(rendered, 1, (size_t)len, file) != (size_t)len) {
            return 1;
        }
        fclose(file);
    }
    each_form(write_form);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "write") == 0) {
        return write_all();
    }
    const struct CMUnitTest tests[] = {cmocka_unit_test(sheets_are_as_reviewed),
                                       cmocka_unit_test(forms_are_as_reviewed),
                                       cmocka_unit_test(a_typical_sheet_is_one_page)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
