/* Properties of every form, over random episodes: none that carries care facts loses an allergy, a
 * drug or a silence, and none at all the EXERCISE mark. */
#include "rp_test.h"

#include <string.h>

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

/* Without spaces, line ends, bars of the script and what JSON escapes: a wrapped text is found. */
static void squeeze(const char *text, char *out)
{
    for (; *text != '\0'; text++) {
        if (strchr(" \n\r|\\", *text) == NULL) {
            *out++ = *text;
        }
    }
    *out = '\0';
}

static bool holds(const char *text)
{
    squeeze(text, needle);
    return strstr(squeezed, needle) != NULL;
}

static void expect(const struct rp_form *form, int round, const char *what, bool held)
{
    if (!held) {
        print_error("seed %d, round %d: %s lost by %s:\n%s\n", SEED, round, what, form->word, made);
    }
    assert_true(held);
}

static int make(const char *word)
{
    const struct rp_form *form = rp_form_find(word);
    assert_non_null(form);
    int len = rp_form_make(form, &scenario.input, &rp_texts_english, made, sizeof made);
    assert_int_equal(len, strlen(made));
    squeeze(made, squeezed);
    return len;
}

static void no_form_loses_the_exercise_mark(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED);
    for (int round = 0; round < ROUNDS; round++) {
        random_episode(&scenario, &rng, true);
        for (size_t i = 0; rp_form_at(i) != NULL; i++) {
            const struct rp_form *form = rp_form_at(i);
            assert_true(make(form->word) > 0);
            bool marked = strcmp(form->word, "rows") == 0 ? holds("\"exercise\":true")
                                                          : holds("EXERCISE - NOT REAL");
            expect(form, round, "EXERCISE", marked == scenario.episode.exercise);
        }
    }
}

/* Forms that say all of the sheet, each in its way. */
static const char *const whole[] = {"text", "roll42", "roll32", "rows", "isbar", "fhir"};

static void whole_forms_lose_no_allergy_and_no_drug(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED + 1);
    const struct rp_episode *ep = &scenario.episode;
    for (int round = 0; round < ROUNDS; round++) {
        random_episode(&scenario, &rng, false);
        for (size_t i = 0; i < sizeof whole / sizeof whole[0]; i++) {
            const struct rp_form *form = rp_form_find(whole[i]);
            assert_true(make(whole[i]) > 0);
            expect(form, round, "allergies", holds(ep->background.allergies.text));
            for (size_t k = 0; k < ep->known[RP_BG_ALLERGIES].count; k++) {
                expect(form, round, "an earlier allergy",
                       holds(ep->known[RP_BG_ALLERGIES].at[k].what.text));
            }
            for (size_t k = 0; k < ep->doses.count; k++) {
                expect(form, round, "a drug", holds(ep->doses.at[k].what.name));
            }
        }
    }
}

static unsigned occurrences(const char *word)
{
    unsigned count = 0;
    for (const char *at = strstr(made, word); at != NULL; at = strstr(at + 1, word)) {
        count++;
    }
    return count;
}

static void no_silence_is_lost(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED + 2);
    struct rp_gap gaps[RP_SHEET_GAPS_MAX + 1];
    for (int round = 0; round < ROUNDS; round++) {
        random_episode(&scenario, &rng, false);
        size_t count = rp_episode_gaps(&scenario.episode, RP_SHEET_GAP_S, scenario.input.now_s,
                                       gaps, RP_SHEET_GAPS_MAX + 1);
        make("fhir");
        size_t listed = count > RP_SHEET_GAPS_MAX ? RP_SHEET_GAPS_MAX : count;
        assert_int_equal(occurrences("\"code\":\"no-report\""), listed);
        assert_int_equal(holds("later silences not listed"), count > RP_SHEET_GAPS_MAX);
        static const char *const spoken[] = {"none.", "one.", "two.", "three."};
        if (count < 4) {
            char said[80] = "Silences in reports: ";
            make("spoken");
            expect(rp_form_find("spoken"), round, "silences", holds(strcat(said, spoken[count])));
        }
    }
}

/* Words of the said lines, by counting them in what was printed. */
static unsigned said_words(void)
{
    unsigned words = 0;
    for (const char *line = made; *line != '\0'; line = strchr(line, '\n') + 1) {
        if (strncmp(line + 1, "  |", 3) != 0 && strncmp(line + 1, " >|", 3) != 0) {
            continue;
        }
        bool inside = false;
        for (const char *at = line + 4; *at != '\n'; at++) {
            words += *at != ' ' && !inside;
            inside = *at != ' ';
        }
    }
    return words;
}

/* Not more than 120 words (45 s at 150 words a minute, with some to spare), whatever was entered;
 * and what had no room is spoken of. */
static void the_spoken_form_is_short_and_honest(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED + 3);
    unsigned longest = 0;
    for (int round = 0; round < ROUNDS * 5; round++) {
        random_episode(&scenario, &rng, false);
        const struct rp_episode *ep = &scenario.episode;
        const struct rp_form *form = rp_form_find("spoken");
        make("spoken");
        unsigned words = said_words();
        longest = words > longest ? words : longest;
        expect(form, round, "brevity", words <= RP_SPOKEN_WORDS_MAX);
        expect(form, round, "allergies", holds(ep->background.allergies.text));
        bool all_said = ep->doses.older_dropped == 0;
        for (size_t k = 0; k < ep->doses.count; k++) {
            all_said =
                all_said && (ep->doses.at[k].from.voided || holds(ep->doses.at[k].what.name));
        }
        expect(form, round, "a drug", all_said || holds("Others: on sheet."));
    }
    print_message("longest spoken form: %u words\n", longest);
    fullest_episode(&scenario);
    make("spoken");
    assert_in_range(said_words(), 20, RP_SPOKEN_WORDS_MAX);
}

/* Numbers as ICAO Annex 10 volume II 5.2.1.4 has them said (from memory): each digit by itself,
 * whole hundreds and thousands of a height; a frequency with "decimal". */
static void numbers_are_said_digit_by_digit(void **state)
{
    (void)state;
    char text[200];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
    struct rp_voice voice = {&out, &rp_texts_english};
    rp_voice_height(&voice, 5480);
    rp_voice_stop(&voice, ";");
    rp_voice_height(&voice, 5500);
    rp_voice_stop(&voice, ";");
    rp_voice_number(&voice, -145, 1);
    rp_voice_stop(&voice, ";");
    rp_voice_spell(&voice, "Vm-9");
    text[out.len] = '\0';
    assert_string_equal(text, "five four eight zero; five thousand five hundred; minus one four "
                              "decimal five; Victor Mike niner");
}

static void the_fullest_episode_fits_every_form(void **state)
{
    (void)state;
    fullest_episode(&scenario);
    for (size_t i = 0; rp_form_at(i) != NULL; i++) {
        int len = make(rp_form_at(i)->word);
        print_message("%s: %d bytes\n", rp_form_at(i)->word, len);
        assert_true(len > 0);
    }
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
        cmocka_unit_test(whole_forms_lose_no_allergy_and_no_drug),
        cmocka_unit_test(no_silence_is_lost),
        cmocka_unit_test(the_spoken_form_is_short_and_honest),
        cmocka_unit_test(numbers_are_said_digit_by_digit),
        cmocka_unit_test(the_fullest_episode_fits_every_form),
        cmocka_unit_test(too_small_a_buffer_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
