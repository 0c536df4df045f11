#include "rp_test.h"

#include <stdlib.h>
#include <string.h>

#include "handover/forms.h"
#include "handover/utf8.h"
#include "random_episode.h"
#include "ridgepost/error.h"

#define SEED   20261125
#define ROUNDS 120

static struct scenario scenario;
static char sheet[RP_SHEET_TEXT_LEN_MAX], squeezed[RP_SHEET_TEXT_LEN_MAX];

static bool line_is_sound(const char *line, size_t len)
{
    for (size_t i = 0; i < len;) {
        uint32_t code;
        i += rp_utf8_next(line + i, &code);
        if (rp_utf8_hostile(code)) {
            return false;
        }
    }
    return rp_utf8_columns(line, len) <= 80;
}

static void assert_lines_sound(int round)
{
    for (const char *line = sheet; *line != '\0';) {
        const char *end = strchr(line, '\n');
        assert_non_null(end); /* the last line ends too */
        if (!line_is_sound(line, (size_t)(end - line))) {
            print_error("seed %d, round %d: %.*s\n", SEED, round, (int)(end - line), line);
        }
        assert_true(line_is_sound(line, (size_t)(end - line)));
        line = end + 1;
    }
}

/* Without spaces and line ends, so that a wrapped or split word is found again. */
static size_t squeeze(const char *text, char *out)
{
    size_t len = 0;
    for (; *text != '\0'; text++) {
        if (*text != ' ' && *text != '\n') {
            out[len++] = *text;
        }
    }
    out[len] = '\0';
    return len;
}

static void assert_shown(void *arg, const char *what, const char *text)
{
    static char needle[RP_NOTE_LEN + 1];
    squeeze(text, needle);
    if (strstr(squeezed, needle) == NULL) {
        print_error("seed %d, round %d: %s is not on the sheet: %s\n", SEED, *(const int *)arg,
                    what, text);
    }
    assert_non_null(strstr(squeezed, needle));
}

/* The sheet in the language whose turn it is. */
static int make_sheet(int round)
{
    const struct rp_texts *texts = rp_texts_all[(size_t)round % rp_texts_count];
    return rp_form_make(rp_form_at(0), &scenario.input, texts, sheet, sizeof sheet);
}

static void nothing_entered_is_lost(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED);
    for (int round = 0; round < ROUNDS; round++) {
        random_episode(&scenario, &rng, false);
        assert_true(make_sheet(round) > 0);
        assert_lines_sound(round);
        squeeze(sheet, squeezed);
        each_entered(&scenario, assert_shown, &round);
    }
}

/* Into exactly `cap` bytes, so that the sanitizer sees any byte beyond. */
static int sheet_into(size_t cap)
{
    char *exact = malloc(cap);
    assert_non_null(exact);
    memset(exact, 'x', cap);
    int got = rp_sheet_text(&scenario.input, exact, cap);
    assert_int_equal(strlen(exact), got > 0 ? got : 0);
    free(exact);
    return got;
}

static void nothing_hostile_reaches_the_printer(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED + 1);
    for (int round = 0; round < ROUNDS; round++) {
        random_episode(&scenario, &rng, true);
        int len = make_sheet(round);
        assert_int_equal(len, strlen(sheet));
        assert_lines_sound(round);
        len = rp_sheet_text(&scenario.input, sheet, sizeof sheet);
        assert_int_equal(len, strlen(sheet));
        assert_lines_sound(round);
        assert_int_equal(strstr(sheet, "EXERCISE") != NULL, scenario.episode.exercise);
        size_t cap = 1 + rp_rng_below(&rng, (uint32_t)len);
        assert_int_equal(sheet_into(cap), RP_E_TOO_LONG);
        assert_int_equal(sheet_into((size_t)len + 1), len);
    }
}

static void exercise_stands_first_and_last(void **state)
{
    (void)state;
    scenario_full(&scenario);
    scenario.episode.exercise = true;
    int len = rp_sheet_text(&scenario.input, sheet, sizeof sheet);
    assert_true(len > 162);
    sheet[80] = '\0';
    assert_non_null(strstr(sheet, "EXERCISE"));
    assert_non_null(strstr(sheet + len - 81, "EXERCISE"));
}

static void the_fullest_episode_fits(void **state)
{
    (void)state;
    fullest_episode(&scenario);
    int len = rp_sheet_text(&scenario.input, sheet, sizeof sheet);
    assert_true(len > 0);
    print_message("fullest sheet: %d of %d bytes\n", len, RP_SHEET_TEXT_LEN_MAX);
    assert_lines_sound(0);
    int round = 0;
    squeeze(sheet, squeezed);
    each_entered(&scenario, assert_shown, &round);
}

static void refuse_too_small(size_t step)
{
    int len = rp_sheet_text(&scenario.input, sheet, sizeof sheet);
    assert_true(len > 1000);
    assert_int_equal(rp_sheet_text(&scenario.input, sheet, 0), RP_E_TOO_LONG);
    for (size_t cap = 1; cap <= (size_t)len; cap += step) {
        assert_int_equal(sheet_into(cap), RP_E_TOO_LONG);
    }
    assert_int_equal(sheet_into((size_t)len), RP_E_TOO_LONG);
    assert_int_equal(sheet_into((size_t)len + 1), len);
}

static void too_small_a_buffer_is_refused_at_every_size(void **state)
{
    (void)state;
    scenario_empty(&scenario);
    refuse_too_small(1);
    scenario_full(&scenario);
    refuse_too_small(7); /* a prime: every place in a line is met */
}

/* More logs with holes and more silences than one row takes. */
static void many_holes_are_all_named(void **state)
{
    (void)state;
    static struct rp_holding holdings[60];
    scenario_full(&scenario);
    for (size_t i = 0; i < 60; i++) {
        holdings[i] = (struct rp_holding){(uint16_t)((i + 20) << 9), 1, 3};
    }
    scenario.input.holdings = holdings;
    scenario.input.holding_count = 60;
    scenario.episode.heard.count = 30;
    for (size_t i = 0; i < 30; i++) {
        scenario.episode.heard.at[i] =
            (struct rp_heard){T24(0, 0) + (uint32_t)i * 3600, {1, (uint32_t)i + 1}, true};
    }
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    assert_lines_sound(0);
    squeeze(sheet, squeezed);
    assert_non_null(strstr(squeezed, "60of180logentriesheld,MISSING2fromstation20,"));
    assert_non_null(strstr(squeezed, "MISSING2fromstation79"));
    assert_non_null(strstr(squeezed, "NOREPORT24Nov00:00Z(05:45)-24Nov01:00Z(06:45)"));
    assert_non_null(
        strstr(squeezed, "24Nov15:00Z(20:45)-24Nov16:00Z(21:45);LATERSILENCESNOTLISTED"));
}

/* 13 920 ft (4243 m) and 2 psi are like 8400 ft (2560 m) in Taber, J Wilderness Med 1990
 * (abstract); accepted within 100 m of it. */
static void the_chamber_is_like_a_lower_place(void **state)
{
    (void)state;
    scenario_full(&scenario);
    scenario.episode.requests.at[0].what.altitude.metres = 4243;
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    squeeze(sheet, squeezed);
    assert_non_null(strstr(squeezed, "2.0psi(138hPa),likeabout2650m(ISA)or2600m(West1996)"));
    scenario.episode.requests.at[0].what.altitude.present = false;
    scenario.episode.opening.altitude.present = false;
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    assert_null(strstr(sheet, "like about"));
}

/* What was not asked, what is not there and what may only be missing here are told apart. */
static void allergies_are_never_blank(void **state)
{
    (void)state;
    scenario_full(&scenario);
    struct rp_rec_background *background = &scenario.episode.background;
    scenario.episode.known[RP_BG_ALLERGIES].count = 0;
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    assert_non_null(strstr(sheet, "\nA ALLERGY NONE KNOWN (asked)\n"));
    background->allergies.state = RP_NOT_ASKED;
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    assert_non_null(strstr(sheet, "\nA ALLERGY *** NOT ASKED - NOT KNOWN *** OR THE ANSWER"));
    scenario.holdings[0].held = scenario.holdings[0].known;
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    assert_non_null(strstr(sheet, "\nA ALLERGY *** NOT ASKED - NOT KNOWN ***\n"));
    background->allergies = (struct rp_known){RP_KNOWN, "sulfa drugs"};
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    assert_non_null(strstr(sheet, "\nA ALLERGY *** ALLERGIC TO *** sulfa drugs\n"));
}

static void check_of(struct scenario *s, char out_check[5])
{
    rp_sheet_check(&s->input, out_check);
}

static void the_check_is_of_the_facts_only(void **state)
{
    (void)state;
    char first[5], other[5];
    scenario_full(&scenario);
    check_of(&scenario, first);
    scenario.input.now_s += 3000;
    scenario.input.sheet_number = 4;
    scenario.input.station = MORAINE;
    scenario.input.station_name = "Moraine Cache";
    scenario.input.station_name_of = NULL;
    scenario.input.has_local = false;
    scenario.input.holding_count = 0;
    check_of(&scenario, other);
    assert_string_equal(first, other);
    assert_non_null(strstr((rp_sheet_text(&scenario.input, sheet, sizeof sheet), sheet), first));
    scenario.episode.doses.at[0].what.dose_milli++;
    check_of(&scenario, other);
    assert_string_not_equal(first, other);
    scenario_full(&scenario);
    scenario.episode.exercise = true;
    check_of(&scenario, other);
    assert_string_not_equal(first, other);
    scenario_full(&scenario);
    scenario.episode.background.allergies.state = RP_NOT_ASKED;
    check_of(&scenario, other);
    assert_string_not_equal(first, other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_entered_is_lost),
        cmocka_unit_test(nothing_hostile_reaches_the_printer),
        cmocka_unit_test(exercise_stands_first_and_last),
        cmocka_unit_test(the_fullest_episode_fits),
        cmocka_unit_test(too_small_a_buffer_is_refused_at_every_size),
        cmocka_unit_test(many_holes_are_all_named),
        cmocka_unit_test(the_chamber_is_like_a_lower_place),
        cmocka_unit_test(allergies_are_never_blank),
        cmocka_unit_test(the_check_is_of_the_facts_only),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
