/* Properties of every form of the table in every language, over random episodes: none loses an
 * allergy, a drug, a silence or the EXERCISE mark. Forms made for another purpose (enum
 * rp_form_care) must say on which sheet those are. */
#include "rp_test.h"

#include <ctype.h>
#include <string.h>

#include "handover/data/stamp.h"
#include "handover/format.h"
#include "handover/forms.h"
#include "handover/utf8.h"
#include "handover/voice/spoken.h"
#include "handover/voice/voice.h"
#include "random_episode.h"
#include "ridgepost/error.h"

#define SEED   20261126
#define ROUNDS 12

static struct scenario scenario;
static char made[RP_FORM_LEN_MAX], squeezed[RP_FORM_LEN_MAX], needle[4000];

/* In capitals, without spaces, line ends, bars of the script and what JSON escapes: a wrapped or
 * loud text is found. */
static void squeeze(const char *text, char *out)
{
    char *start = out;
    for (; *text != '\0'; text++) {
        if (strncmp(text, "\xc2\xa0", 2) == 0) {
            text++;
        } else if (strchr(" \n\r|\\\x1f", *text) == NULL) {
            *out++ = *text;
        }
    }
    *out = '\0';
    rp_utf8_capitalise(start, (size_t)(out - start));
}

static bool holds(const char *text)
{
    squeeze(text, needle);
    return strstr(squeezed, needle) != NULL;
}

/* A form of the random episode in one language. */
struct making {
    const struct rp_form *form;
    const struct rp_texts *texts;
    unsigned seed;
    int round;
};

static bool holds_word(const struct making *m, enum rp_text_id word)
{
    return holds(m->texts->words[word]);
}

static bool is(const struct making *m, const char *word)
{
    return strcmp(m->form->word, word) == 0;
}

static void expect(const struct making *m, const char *what, bool held)
{
    if (!held) {
        print_error("seed %u, round %d: %s lost by %s in %s:\n%s\n", m->seed, m->round, what,
                    m->form->word, m->texts->words[RP_TX_LANGUAGE_NAME], made);
    }
    assert_true(held);
}

static int make_in(const struct rp_texts *texts, const struct rp_form *form)
{
    int len = rp_form_make(form, &scenario.input, texts, made, sizeof made);
    assert_int_equal(len, strlen(made));
    squeeze(made, squeezed);
    return len;
}

static int make(const char *word)
{
    const struct rp_form *form = rp_form_find(word);
    assert_non_null(form);
    return make_in(&rp_texts_english, form);
}

/* Calls `check` for every form in every language of `rounds` random episodes. */
static void each_random(unsigned seed, int rounds, bool hostile,
                        void (*check)(const struct making *m))
{
    struct rp_rng rng = rp_rng_seeded(seed);
    print_message("seed %u, %d rounds\n", seed, rounds);
    for (int round = 0; round < rounds; round++) {
        random_episode(&scenario, &rng, hostile);
        for (size_t language = 0; language < rp_texts_count; language++) {
            for (size_t i = 0; rp_form_at(i) != NULL; i++) {
                const struct making m = {rp_form_at(i), rp_texts_all[language], seed, round};
                assert_true(make_in(m.texts, m.form) > 0);
                check(&m);
            }
        }
    }
}

static void expect_exercise(const struct making *m)
{
    bool marked = is(m, "rows") ? holds("\"exercise\":true") : holds_word(m, RP_TX_EXERCISE_SHORT);
    expect(m, "EXERCISE", marked == scenario.episode.exercise);
}

static void no_form_loses_the_exercise_mark(void **state)
{
    (void)state;
    each_random(SEED, ROUNDS, true, expect_exercise);
}

/* The answer about allergies in force, whichever of the three it is. */
static void expect_allergies(const struct making *m)
{
    const struct rp_episode *ep = &scenario.episode;
    const struct rp_known *now = &ep->background.allergies;
    if (now->state == RP_KNOWN) {
        expect(m, "allergies", holds(now->text));
    } else if (now->state == RP_NONE_KNOWN) {
        expect(m, "no allergies",
               holds_word(m, is(m, "spoken") ? RP_TX_SAY_NONE_KNOWN : RP_TX_NONE_KNOWN));
    } else if (is(m, "fhir")) {
        bool entries = ep->known[RP_BG_ALLERGIES].count > 0;
        expect(m, "allergies not asked",
               holds(entries ? "\"allergies-not-asked\""
                             : "list-empty-reason\",\"code\":\"notasked\""));
    } else {
        expect(m, "allergies not asked",
               holds_word(m, is(m, "spoken") ? RP_TX_SAY_NOT_ASKED : RP_TX_NOT_ASKED_LOUD));
    }
}

static void expect_whole_care(const struct making *m)
{
    const struct rp_episode *ep = &scenario.episode;
    for (size_t k = 0; k < ep->known[RP_BG_ALLERGIES].count; k++) {
        expect(m, "an earlier allergy", holds(ep->known[RP_BG_ALLERGIES].at[k].what.text));
    }
    for (size_t k = 0; k < ep->doses.count; k++) {
        expect(m, "a drug", holds(ep->doses.at[k].what.name));
    }
    if (ep->doses.older_dropped > 0) {
        expect(m, "dropped drugs", holds_word(m, RP_TX_OLDER_DROPPED));
    }
}

static void put_gap_time(const struct making *m, uint32_t time_s, char text[64])
{
    const struct rp_time_frame frame = {m->texts, scenario.input.now_s, scenario.input.has_local,
                                        scenario.input.utc_offset_s};
    struct rp_textbuf out = rp_textbuf_on(text, 63);
    if (is(m, "fhir") || is(m, "csv")) {
        rp_stamp_utc(&out, time_s);
    } else {
        rp_format_time(&out, &frame, time_s);
    }
    text[out.len] = '\0';
}

static void expect_gaps(const struct making *m)
{
    struct rp_gap gaps[RP_SHEET_GAPS_MAX + 1];
    size_t count = rp_episode_gaps(&scenario.episode, RP_SHEET_GAP_S, scenario.input.now_s, gaps,
                                   RP_SHEET_GAPS_MAX + 1);
    for (size_t i = 0; i < count && i < RP_SHEET_GAPS_MAX; i++) {
        char from[64], to[64];
        put_gap_time(m, gaps[i].from_s, from);
        put_gap_time(m, gaps[i].to_s, to);
        expect(m, "the begin of a silence", holds(from));
        bool on = gaps[i].to_s >= scenario.input.now_s && holds_word(m, RP_TX_TO_NOW);
        expect(m, "the end of a silence", on || holds(to));
    }
    if (count > RP_SHEET_GAPS_MAX) {
        expect(m, "more silences", holds_word(m, RP_TX_MORE_GAPS));
    }
}

/* "Silences in reports: two." */
static bool holds_said(const struct making *m, enum rp_text_id what, int64_t count)
{
    char text[200];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
    struct rp_voice voice = {&out, m->texts};
    rp_voice_word(&voice, what);
    rp_voice_number(&voice, count, 0);
    rp_voice_stop(&voice, ".");
    text[out.len] = '\0';
    return holds(text);
}

/* Whether the sentence "On the sheet: more drugs, own medicines." names it. */
static bool named(const struct making *m, enum rp_text_id topic)
{
    squeeze(m->texts->words[RP_TX_SAY_ON_SHEET], needle);
    const char *from = strstr(squeezed, needle);
    squeeze(m->texts->words[topic], needle);
    const char *at = from != NULL ? strstr(from, needle) : NULL;
    return at != NULL && at < from + strcspn(from, ".");
}

static void expect_said(const struct making *m, const char *what, bool said, enum rp_text_id topic)
{
    expect(m, what, said || named(m, topic));
}

static void expect_silences(const struct making *m)
{
    struct rp_gap gaps[RP_SHEET_GAPS_MAX + 1];
    size_t count = rp_episode_gaps(&scenario.episode, RP_SHEET_GAP_S, scenario.input.now_s, gaps,
                                   RP_SHEET_GAPS_MAX + 1);
    expect(m, "the number of silences",
           holds_word(m, RP_TX_SAY_SILENCES) &&
               (count == 0 || count > RP_SHEET_GAPS_MAX ||
                holds_said(m, RP_TX_SAY_SILENCES, (int64_t)count)));
    expect(m, "many silences", count <= RP_SHEET_GAPS_MAX || holds_word(m, RP_TX_SAY_MORE_THAN));
    for (size_t i = 0; i < count; i++) {
        char text[400];
        struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
        struct rp_voice voice = {&out, m->texts};
        rp_voice_word(&voice, RP_TX_SAY_FROM);
        rp_voice_time(&voice, scenario.input.now_s, gaps[i].from_s);
        text[out.len] = '\0';
        expect_said(m, "the time of a silence", holds(text), RP_TX_LEFT_SILENCES);
    }
}

static void expect_drugs_said(const struct making *m)
{
    const struct rp_episode *ep = &scenario.episode;
    int64_t drugs = ep->doses.older_dropped;
    expect_said(m, "dropped drugs", drugs == 0, RP_TX_LEFT_DRUGS);
    for (size_t k = 0; k < ep->doses.count; k++) {
        bool counts = !ep->doses.at[k].from.voided;
        drugs += counts;
        if (counts) {
            expect_said(m, "a drug", holds(ep->doses.at[k].what.name), RP_TX_LEFT_DRUGS);
            expect_said(m, "a warning", ep->doses.at[k].what.flags == 0, RP_TX_LEFT_WARNINGS);
        }
    }
    expect(m, "the number of drugs",
           drugs == 0 ? holds_word(m, RP_TX_SAY_NO_DRUGS) : holds_said(m, RP_TX_SAY_DRUGS, drugs));
}

static void expect_opening_said(const struct making *m)
{
    const struct rp_episode *ep = &scenario.episode;
    const struct rp_rec_episode *o = &ep->opening;
    if (ep->opened && (o->label & RP_LABEL_OTHER) != 0) {
        expect_said(m, "another illness", holds(o->label_text), RP_TX_LEFT_ILLNESS);
    }
    if (ep->opened && o->has_onset) {
        expect_said(m, "the first symptom", holds_word(m, RP_TX_SAY_ONSET), RP_TX_LEFT_TIMES);
    }
    if (ep->opened && o->has_reached) {
        expect_said(m, "the ascent", holds_word(m, RP_TX_SAY_GAINED), RP_TX_LEFT_TIMES);
    }
    if (rp_episode_altitude(ep)->present) {
        char text[200];
        struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
        struct rp_voice voice = {&out, m->texts};
        rp_voice_height(&voice, rp_episode_altitude(ep)->metres);
        rp_voice_word(&voice, RP_TX_SAY_METRES);
        text[out.len] = '\0';
        expect_said(m, "the altitude", holds(text), RP_TX_LEFT_ALTITUDE);
    }
    expect_said(m, "the first sign", o->first_sign[0] == '\0', RP_TX_LEFT_FINDINGS);
}

static void expect_signs_said(const struct making *m)
{
    const struct rp_episode *ep = &scenario.episode;
    unsigned sets = 0;
    for (size_t i = 0; i < ep->obs.count; i++) {
        const struct rp_obs *obs = &ep->obs.at[i];
        bool more = obs->systolic_mmhg.state == RP_MEASURED || obs->temp_dc.state == RP_MEASURED ||
                    obs->gcs_eye.state == RP_MEASURED || obs->lls.state == RP_MEASURED ||
                    obs->ataxia.state == RP_MEASURED;
        sets += !obs->from.voided;
        expect_said(m, "a sign that is never said", obs->from.voided || !more, RP_TX_LEFT_SIGNS);
    }
    expect_said(m, "the signs", sets == 0 || holds_word(m, RP_TX_SAY_SPO2), RP_TX_LEFT_SIGNS);
    expect_said(m, "earlier signs", sets < 2, RP_TX_LEFT_SIGNS);
}

/* Said, or named as left to the sheet. */
static void expect_counted_care(const struct making *m)
{
    const struct rp_episode *ep = &scenario.episode;
    const struct rp_rec_background *background = &ep->background;
    bool medicines = background->medicines.state == RP_KNOWN ? holds(background->medicines.text)
                                                             : holds_word(m, RP_TX_SAY_MEDICINES);
    expect_said(m, "own medicines", medicines, RP_TX_LEFT_MEDICINES);
    expect_said(m, "the history",
                background->history.state == RP_NOT_ASKED &&
                    background->last_meal.state == RP_NOT_ASKED,
                RP_TX_LEFT_HISTORY);
    expect_said(m, "the chamber",
                ep->sessions.count == 0 || holds_word(m, RP_TX_SAY_IN_CHAMBER) ||
                    holds_word(m, RP_TX_SAY_CHAMBER_DONE),
                RP_TX_LEFT_CHAMBER);
    bool oxygen = false;
    for (size_t i = 0; i < ep->oxygen.count; i++) {
        oxygen = oxygen || !ep->oxygen.at[i].from.voided;
    }
    expect_said(m, "oxygen",
                !oxygen || holds_word(m, RP_TX_SAY_OXYGEN_OFF) || holds_word(m, RP_TX_SAY_LITRES) ||
                    holds_word(m, RP_TX_FLOW_UNKNOWN),
                RP_TX_LEFT_OXYGEN);
    expect_said(m, "the descent", ep->descent.count == 0, RP_TX_LEFT_DESCENT);
    expect_said(m, "notes", ep->notes.count == 0, RP_TX_LEFT_NOTES);
    expect_said(m, "corrections", ep->corrections.count == 0, RP_TX_LEFT_CORRECTIONS);
    expect_drugs_said(m);
    expect_opening_said(m);
    expect_signs_said(m);
    expect_silences(m);
}

/* What is not in the form must be where the form says. */
static void expect_pointer(const struct making *m)
{
    char text[600], check[5];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
    rp_sheet_check(&scenario.input, check);
    rp_textbuf_str(&out, m->texts->words[RP_TX_NOT_HERE]);
    rp_textbuf_str(&out, m->texts->words[RP_TX_CHECK]);
    rp_textbuf_str(&out, check);
    text[out.len] = '\0';
    expect(m, "where allergies, drugs and silences are", holds(text));
}

static void expect_care(const struct making *m)
{
    if (m->form->care == RP_CARE_ELSEWHERE) {
        expect_pointer(m);
        return;
    }
    expect_allergies(m);
    if (m->form->care == RP_CARE_COUNTED) {
        expect_counted_care(m);
    } else {
        expect_whole_care(m);
        expect_gaps(m);
    }
}

static void no_form_loses_an_allergy_a_drug_or_a_silence(void **state)
{
    (void)state;
    each_random(SEED + 1, ROUNDS, false, expect_care);
}

/* No line is wider than its paper, whatever was entered. */
static void expect_width(const struct making *m)
{
    static const struct {
        const char *form;
        unsigned columns;
    } papers[] = {{"text", 80},   {"isbar", 80},  {"request", 80}, {"spoken", 80},
                  {"ethane", 80}, {"roll42", 42}, {"roll32", 32},  {"pilot", 32}};
    for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
        for (const char *line = made; is(m, papers[i].form) && *line != '\0';) {
            const char *end = strchr(line, '\n');
            expect(m, "the last line's end", end != NULL);
            unsigned columns = rp_utf8_columns(line, (size_t)(end - line));
            if (columns > papers[i].columns) {
                print_error("%u columns: %.*s\n", columns, (int)(end - line), line);
            }
            expect(m, "the width", columns <= papers[i].columns);
            line = end + 1;
        }
    }
}

static void no_line_is_wider_than_its_paper(void **state)
{
    (void)state;
    each_random(SEED + 2, ROUNDS, true, expect_width);
}

/* Words of a line; a colon alone is none. */
static unsigned words_of(const char *at)
{
    unsigned words = 0;
    while (*at != '\n') {
        size_t len = strcspn(at, " \n");
        bool letter = false;
        for (size_t i = 0; i < len; i++) {
            letter = letter || (unsigned char)at[i] >= 0x80 || isalnum((unsigned char)at[i]);
        }
        words += letter;
        at += len + (at[len] == ' ');
    }
    return words;
}

/* Words of the said lines, by counting them in what was printed. A word longer than the paper goes
 * on in the next line, which is then one word less. */
static unsigned said_words(void)
{
    unsigned words = 0;
    bool goes_on = false;
    for (const char *line = made; *line != '\0'; line = strchr(line, '\n') + 1) {
        if (strncmp(line + 1, "  |", 3) == 0 || strncmp(line + 1, " >|", 3) == 0) {
            words += words_of(line + 4) - goes_on;
            goes_on = rp_utf8_columns(line, strcspn(line, "\n")) == 80;
        }
    }
    return words;
}

static unsigned longest;

/* Not more than 120 words (45 s at 150 words a minute, with some to spare), whatever was entered.
 */
static void expect_brevity(const struct making *m)
{
    if (is(m, "spoken")) {
        unsigned words = said_words();
        longest = words > longest ? words : longest;
        expect(m, "brevity", words <= RP_SPOKEN_WORDS_MAX);
        expect(m, "anything said", words >= 10);
    }
}

static void the_spoken_form_is_short(void **state)
{
    (void)state;
    each_random(SEED + 3, ROUNDS * 3, false, expect_brevity);
    print_message("longest spoken form: %u words\n", longest);
    fullest_episode(&scenario);
    for (size_t language = 0; language < rp_texts_count; language++) {
        make_in(rp_texts_all[language], rp_form_find("spoken"));
        assert_in_range(said_words(), 20, RP_SPOKEN_WORDS_MAX);
    }
}

/* The letters of ETHANE (JESIP joint doctrine, clinical references 4.1), each once and in order. */
static void expect_ethane(const struct making *m)
{
    if (!is(m, "ethane")) {
        return;
    }
    static const char letters[] = "ETHANE";
    size_t met = 0;
    for (const char *line = made; *line != '\0'; line = strchr(line, '\n') + 1) {
        bool said = strncmp(line + 1, "  |", 3) == 0 || strncmp(line + 1, " >|", 3) == 0;
        if (said && *line != ' ') {
            expect(m, "a letter", letters[met] == *line);
            met++;
        }
    }
    expect(m, "a letter", letters[met] == '\0');
    expect(m, "a letter's word",
           holds_word(m, RP_TX_SAY_EXACT) && holds_word(m, RP_TX_SAY_TYPE) &&
               holds_word(m, RP_TX_SAY_HAZARDS) && holds_word(m, RP_TX_SAY_ACCESS) &&
               holds_word(m, RP_TX_SAY_CASUALTIES) && holds_word(m, RP_TX_SAY_EMERGENCY));
    unsigned words = said_words();
    longest = words > longest ? words : longest;
    const struct rp_episode *ep = &scenario.episode;
    if (ep->request_now >= 0) {
        const struct rp_rec_evacuation *r = &ep->requests.at[ep->request_now].what;
        expect_said(m, "obstacles", holds(r->obstacles), RP_TX_LEFT_OBSTACLES);
        bool said = holds(r->hazards);
        squeeze(m->texts->words[RP_TX_SAY_HAZARDS], needle);
        const char *after = strstr(squeezed, needle) + strlen(needle);
        squeeze(m->texts->words[RP_TX_SAY_SEE_SHEET], needle);
        expect(m, "hazards", said || strncmp(after, needle, strlen(needle)) == 0);
    }
}

/* 55 words are 22 s at 150 words a minute. Where everything is said at its longest, what must be
 * said is some words more. */
static void the_call_out_is_short_and_has_every_letter(void **state)
{
    (void)state;
    for (size_t language = 0; language < rp_texts_count; language++) {
        scenario_full(&scenario);
        make_in(rp_texts_all[language], rp_form_find("ethane"));
        print_message("call-out: %u words\n", said_words());
        assert_in_range(said_words(), 20, RP_ETHANE_WORDS_MAX);
    }
    longest = 0;
    each_random(SEED + 4, ROUNDS * 3, false, expect_ethane);
    print_message("longest call-out: %u words\n", longest);
    assert_in_range(longest, 20, RP_ETHANE_WORDS_MAX + 15);
}

static void the_fullest_episode_fits_every_form(void **state)
{
    (void)state;
    fullest_episode(&scenario);
    for (size_t language = 0; language < rp_texts_count; language++) {
        for (size_t i = 0; rp_form_at(i) != NULL; i++) {
            int len = make_in(rp_texts_all[language], rp_form_at(i));
            print_message("%s in %s: %d bytes\n", rp_form_at(i)->word,
                          rp_texts_all[language]->words[RP_TX_LANGUAGE_CODE], len);
            assert_true(len > 0);
        }
    }
}

/* A dose from before the handover that is entered after it is what gets given twice. */
static void what_comes_after_the_handover_says_so(void **state)
{
    (void)state;
    scenario_full(&scenario);
    struct rp_handover_entry *handed = &scenario.episode.handovers.at[0];
    scenario.episode.handovers.count = 1;
    handed->from = scenario_source(LAKE_CAMP, 60, T25(14, 44), "Pelle Aandal");
    scenario_text(handed->what.team, sizeof handed->what.team, "Valley Air 3");
    make("text");
    assert_false(holds("AFTER THE HANDOVER"));
    assert_false(holds("1 after the handover"));
    struct rp_source late = scenario_source(RIDGE_CAMP, 61, T25(14, 40), "Ines Okafor");
    late.recorded_s = T25(14, 46);
    scenario_dose(&scenario, late, "dexamethasone", 4, RP_ROUTE_IM);
    make("text");
    assert_true(holds("ENTERED AFTER THE HANDOVER"));
    assert_true(holds("LATE 1 after the handover of 14:44Z"));
}

/* 12:50Z and 6 h are 18:50Z. A reckoning of the station, so the check does not cover it. */
static void the_sheet_tells_when_an_interval_is_over(void **state)
{
    (void)state;
    static struct rp_protocol table = {.count = 1};
    char with[5], without[5];
    scenario_full(&scenario);
    rp_sheet_check(&scenario.input, without);
    scenario_text(table.drugs[0].name, sizeof table.drugs[0].name, "dexamethasone");
    table.drugs[0].interval_s = 6 * 3600;
    scenario.input.protocol = &table;
    rp_sheet_check(&scenario.input, with);
    assert_string_equal(with, without);
    make("text");
    assert_true(holds("interval over: dexamethasone 18:50Z (26 Nov 00:35) (by the drug table"));
    assert_true(holds("THE TABLE IS NOT REVIEWED"));
    scenario_text(table.reviewed_by, sizeof table.reviewed_by, "Dr Lindqvist");
    scenario_text(table.reviewed_on, sizeof table.reviewed_on, "2026-10-05");
    make("text");
    assert_false(holds("THE TABLE IS NOT REVIEWED"));
    assert_true(holds("interval over: dexamethasone"));
    scenario.episode.closed = true;
    make("text");
    assert_false(holds("interval over"));
}

static void too_small_a_buffer_is_refused(void **state)
{
    (void)state;
    scenario_full(&scenario);
    for (size_t i = 0; rp_form_at(i) != NULL; i++) {
        const struct rp_form *form = rp_form_at(i);
        int len = make(form->word);
        for (size_t cap = 0; cap <= (size_t)len; cap += (size_t)len / 50 + 1) {
            assert_int_equal(rp_form_make(form, &scenario.input, &rp_texts_english, made, cap),
                             RP_E_TOO_LONG);
        }
        assert_int_equal(
            rp_form_make(form, &scenario.input, &rp_texts_english, made, (size_t)len + 1), len);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_form_loses_the_exercise_mark),
        cmocka_unit_test(no_form_loses_an_allergy_a_drug_or_a_silence),
        cmocka_unit_test(no_line_is_wider_than_its_paper),
        cmocka_unit_test(the_spoken_form_is_short),
        cmocka_unit_test(the_call_out_is_short_and_has_every_letter),
        cmocka_unit_test(the_fullest_episode_fits_every_form),
        cmocka_unit_test(what_comes_after_the_handover_says_so),
        cmocka_unit_test(the_sheet_tells_when_an_interval_is_over),
        cmocka_unit_test(too_small_a_buffer_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
