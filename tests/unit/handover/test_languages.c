/* What every language must keep: a text for every key, its holes, the widths of its places, and
 * that no two choices say the same. That no text stays English is checked when lang/ is embedded.
 */
#include "rp_test.h"

#include <string.h>

#include "handover/forms.h"
#include "handover/utf8.h"
#include "handover/voice/voice.h"
#include "scenario.h"

static struct scenario scenario;
static char made[RP_FORM_LEN_MAX];

static void each_language(void (*check)(const struct rp_texts *texts, const char *code))
{
    assert_true(rp_texts_count >= 2);
    for (size_t i = 0; i < rp_texts_count; i++) {
        check(rp_texts_all[i], rp_texts_all[i]->words[RP_TX_LANGUAGE_CODE]);
    }
}

static unsigned holes(const char *text)
{
    unsigned count = 0;
    for (; (text = strstr(text, RP_TEXT_HOLE)) != NULL; text += strlen(RP_TEXT_HOLE)) {
        count++;
    }
    return count;
}

static void texts_are_whole(const struct rp_texts *texts, const char *code)
{
    for (int id = 0; id < RP_TX_COUNT; id++) {
        const char *text = texts->words[id], *english = rp_texts_english.words[id];
        const char *key = rp_text_key((enum rp_text_id)id);
        if (text == NULL || key == NULL) {
            fail_msg("%s: key %d has no text or no name", code, id);
        }
        bool note = id == RP_TX_TRANSLATION_NOTE && texts != &rp_texts_english;
        if ((text[0] == '\0') != (english[0] == '\0' && !note)) {
            fail_msg("%s: %s is \"%s\"", code, key, text);
        }
        if (holes(text) != holes(english)) {
            fail_msg("%s: %s has not the holes of \"%s\"", code, key, english);
        }
        for (const char *at = text; *at != '\0';) {
            uint32_t letter;
            at += rp_utf8_next(at, &letter);
            if (rp_utf8_hostile(letter)) {
                fail_msg("%s: %s holds what no printer takes", code, key);
            }
        }
    }
}

static void every_key_has_a_text(void **state)
{
    (void)state;
    each_language(texts_are_whole);
}

struct width {
    enum rp_text_id first, last;
    unsigned columns;
};

static unsigned count_of(const char *text, char c)
{
    unsigned count = 0;
    for (; *text != '\0'; text++) {
        count += *text == c;
    }
    return count;
}

/* A translated blank form has as many boxes to tick. */
static void boxes_are_as_many(const struct rp_texts *texts, const char *code)
{
    for (int id = RP_TX_PAPER_PATIENT; id <= RP_TX_PAPER_LISTED; id++) {
        unsigned boxes = count_of(texts->words[id], '|');
        if (boxes != count_of(rp_texts_english.words[id], '|')) {
            fail_msg("%s: %s has %u boxes", code, rp_text_key((enum rp_text_id)id), boxes + 1);
        }
    }
}

static void blank_forms_have_the_same_boxes(void **state)
{
    (void)state;
    assert_true(count_of(rp_texts_english.words[RP_TX_PAPER_WHY_NOT_ANY], '|') == 5);
    each_language(boxes_are_as_many);
}

/* The places of the sheet: labels beside a margin letter, labels alone, the columns of the table of
 * signs, whole lines. */
static void texts_fit(const struct rp_texts *texts, const char *code)
{
    static const struct width widths[] = {
        {RP_TX_L_WHERE, RP_TX_L_CLOSED, 9},
        {RP_TX_L_PATIENT, RP_TX_L_CONTACT, 7},
        {RP_TX_L_REQUEST, RP_TX_L_GRID, 9},
        {RP_TX_L_NEWS2, RP_TX_L_COLD, 7},
        {RP_TX_L_CONFLICT, RP_TX_L_UNKNOWN, 9},
        {RP_TX_L_ASK, RP_TX_L_ASK, 9},
        {RP_TX_L_READ_BACK, RP_TX_L_READ_BACK, 9},
        {RP_TX_L_SITE_GRID, RP_TX_L_DENSITY, 9},
        {RP_TX_L_LIGHT, RP_TX_L_LIGHT, 9},
        {RP_TX_L_LATE, RP_TX_L_LATE, 9},
        {RP_TX_C_TIME, RP_TX_C_TIME, 13},
        {RP_TX_C_AGE, RP_TX_C_MODE, 7},
        {RP_TX_C_SPO2, RP_TX_C_SPO2, 4},
        {RP_TX_C_PULSE, RP_TX_C_RESP, 3},
        {RP_TX_C_BP, RP_TX_C_TEMP, 7},
        {RP_TX_C_ACVPU, RP_TX_C_GCS, 5},
        {RP_TX_C_ATAXIA, RP_TX_C_LLS, 3},
        {RP_TX_MODE_SHORT_UNSAID, RP_TX_MODE_SHORT_CHAMBER_OXYGEN, 7},
        {RP_TX_SITE_SHORT_UNSAID, RP_TX_SITE_SHORT_OESOPHAGEAL, 2},
        {RP_TX_ACVPU_SHORT_ALERT, RP_TX_ACVPU_SHORT_UNRESPONSIVE, 5},
        {RP_TX_MONTH_1, RP_TX_MONTH_12, 3}, /* "24 Nov 14:05Z" is a column of 13 */
        {RP_TX_EXERCISE, RP_TX_EXERCISE, 72},
        {RP_TX_EXERCISE_SHORT, RP_TX_EXERCISE_SHORT, 30},
        {RP_TX_SPOKEN_HOW, RP_TX_SPOKEN_HOW, 80},
        {RP_TX_SPOKEN_TITLE, RP_TX_ETHANE_TITLE, 40},
        {RP_TX_P_PATIENT, RP_TX_P_TOLD, 32},
    };
    for (size_t i = 0; i < sizeof widths / sizeof widths[0]; i++) {
        assert_true(widths[i].first <= widths[i].last);
        for (int id = (int)widths[i].first; id <= (int)widths[i].last; id++) {
            const char *text = texts->words[id];
            unsigned columns = rp_utf8_columns(text, strlen(text));
            if (columns > widths[i].columns) {
                fail_msg("%s: %s \"%s\" has %u columns, at most %u", code,
                         rp_text_key((enum rp_text_id)id), text, columns, widths[i].columns);
            }
        }
    }
}

static void every_text_fits_its_place(void **state)
{
    (void)state;
    each_language(texts_fit);
}

/* Two choices that read the same would hide which was meant. */
static void choices_differ(const struct rp_texts *texts, const char *code)
{
    static const enum rp_text_id runs[][2] = {
        {RP_TX_COND_UNSAID, RP_TX_COND_DEAD},
        {RP_TX_PHASE_NONE, RP_TX_PHASE_OUT},
        {RP_TX_EVAC_NONE, RP_TX_EVAC_HANDED_OVER},
        {RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN},
        {RP_TX_MODE_SHORT_UNSAID, RP_TX_MODE_SHORT_CHAMBER_OXYGEN},
        {RP_TX_ACVPU_ALERT, RP_TX_ACVPU_UNRESPONSIVE},
        {RP_TX_ACVPU_SHORT_ALERT, RP_TX_ACVPU_SHORT_UNRESPONSIVE},
        {RP_TX_ANS_SEEN, RP_TX_ANS_ADVICE},
        {RP_TX_AIRWAY_CLEAR, RP_TX_AIRWAY_DEVICE},
        {RP_TX_CONTRA_NAME, RP_TX_CONTRA_NO_PULSE},
        {RP_TX_CRIT_ALTITUDE_GAIN, RP_TX_CRIT_TACHYCARDIA},
        {RP_TX_DOSE_NONE, RP_TX_DOSE_IU},
        {RP_TX_SAY_DOSE_NONE, RP_TX_SAY_DOSE_IU},
        {RP_TX_ROUTE_UNSAID, RP_TX_ROUTE_TOPICAL},
        {RP_TX_O2_UNSAID, RP_TX_O2_RESERVOIR},
        {RP_TX_O2_START, RP_TX_O2_READING},
        {RP_TX_HOLD_UNSAID, RP_TX_HOLD_OTHER},
        {RP_TX_NEXT_UNSAID, RP_TX_NEXT_WATCH},
        {RP_TX_WHY_UNSAID, RP_TX_WHY_OTHER},
        {RP_TX_URG_UNSAID, RP_TX_URG_E4},
        {RP_TX_MOB_UNSAID, RP_TX_MOB_STRETCHER},
        {RP_TX_SURF_UNSAID, RP_TX_SURF_SAND},
        {RP_TX_NEED_DOCTOR, RP_TX_NEED_NONE},
        {RP_TX_OUT_UNSAID, RP_TX_OUT_OTHER},
        {RP_TX_MONTH_1, RP_TX_MONTH_12},
        {RP_TX_SAY_0, RP_TX_SAY_9},
        {RP_TX_SEX_UNSAID, RP_TX_SEX_OTHER},
        {RP_TX_NORTH, RP_TX_WEST},
        {RP_TX_AMS, RP_TX_HAPE},
        {RP_TX_CSV_H_KIND, RP_TX_CSV_H_REASON},
    };
    for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++) {
        for (int a = (int)runs[i][0]; a <= (int)runs[i][1]; a++) {
            for (int b = a + 1; b <= (int)runs[i][1]; b++) {
                if (strcmp(texts->words[a], texts->words[b]) == 0) {
                    fail_msg("%s: %s and %s are both \"%s\"", code, rp_text_key((enum rp_text_id)a),
                             rp_text_key((enum rp_text_id)b), texts->words[a]);
                }
            }
        }
    }
    /* Never asked, asked and none, not measured, no result: four different things. */
    static const enum rp_text_id states[] = {RP_TX_NOT_ASKED, RP_TX_NONE_KNOWN, RP_TX_NOT_MEASURED,
                                             RP_TX_UNABLE, RP_TX_NOT_RECORDED};
    for (size_t a = 0; a < sizeof states / sizeof states[0]; a++) {
        for (size_t b = a + 1; b < sizeof states / sizeof states[0]; b++) {
            assert_string_not_equal(texts->words[states[a]], texts->words[states[b]]);
        }
    }
}

static void no_two_choices_read_the_same(void **state)
{
    (void)state;
    each_language(choices_differ);
}

/* The sheet's English and the words one types for a record are the same. */
static void english_is_what_is_typed(void **state)
{
    (void)state;
#define X(name, number, word) assert_string_equal(rp_texts_english.words[RP_TX_COND_##name], word);
    RP_CONDITIONS(X)
#undef X
#define X(name, number, word) assert_string_equal(rp_texts_english.words[RP_TX_PHASE_##name], word);
    RP_PHASES(X)
#undef X
#define X(name, number, word) assert_string_equal(rp_texts_english.words[RP_TX_EVAC_##name], word);
    RP_EVAC_STATES(X)
#undef X
#define X(name, number, word) assert_string_equal(rp_texts_english.words[RP_TX_MODE_##name], word);
    RP_MODES(X)
#undef X
#define X(name, number, word) assert_string_equal(rp_texts_english.words[RP_TX_ACVPU_##name], word);
    RP_ACVPU(X)
#undef X
#define X(name, number, word) assert_string_equal(rp_texts_english.words[RP_TX_ANS_##name], word);
    RP_ANSWERS(X)
#undef X
#define X(name, number, word)                                                                      \
    assert_string_equal(rp_texts_english.words[RP_TX_AIRWAY_##name], word);
    RP_AIRWAYS(X)
#undef X
#define X(name, sentence)                                                                          \
    assert_string_equal(rp_texts_english.words[RP_TX_CONTRA_##name], sentence);
    RP_CONTRADICTIONS(X)
#undef X
#define X(name, word) assert_string_equal(rp_texts_english.words[RP_TX_CRIT_##name], word);
    RP_CRITERIA(X)
#undef X
}

static void form_names_its_language(const struct rp_texts *texts, const char *code)
{
    static const char *const forms[] = {"text", "isbar", "request", "spoken", "ethane", "pilot"};
    scenario_full(&scenario);
    assert_ptr_equal(rp_texts_find(code), texts);
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        const struct rp_form *form = rp_form_find(forms[i]);
        assert_true(rp_form_make(form, &scenario.input, texts, made, sizeof made) > 0);
        char check[5];
        rp_sheet_check(&scenario.input, check);
        assert_non_null(strstr(made, check)); /* the same in every language */
    }
}

static void the_check_is_the_same_in_every_language(void **state)
{
    (void)state;
    each_language(form_names_its_language);
    assert_null(rp_texts_find("xx"));
    assert_null(rp_texts_find(""));
}

/* A form that is not in English says that its words were not reviewed. */
static void a_translation_says_so(void **state)
{
    (void)state;
    scenario_full(&scenario);
    for (size_t i = 1; i < rp_texts_count; i++) {
        const struct rp_texts *texts = rp_texts_all[i];
        char first[24];
        size_t len = strcspn(texts->words[RP_TX_TRANSLATION_NOTE], " ");
        assert_in_range(len, 3, sizeof first - 1);
        memcpy(first, texts->words[RP_TX_TRANSLATION_NOTE], len);
        first[len] = '\0';
        for (size_t k = 0; rp_form_at(k) != NULL; k++) {
            const struct rp_form *form = rp_form_at(k);
            if (!form->is_sheet) {
                continue;
            }
            assert_true(rp_form_make(form, &scenario.input, texts, made, sizeof made) > 0);
            rp_utf8_capitalise(made, strlen(made));
            rp_utf8_capitalise(first, len);
            assert_non_null(strstr(made, first));
        }
    }
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

/* French radio words from memory of the phraseology of civil aviation: 1 is "unité", whole
 * thousands and hundreds are said as such. */
static void french_numbers_are_said_as_on_the_radio(void **state)
{
    (void)state;
    char text[200];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
    const struct rp_texts *french = rp_texts_find("fr");
    assert_non_null(french);
    struct rp_voice voice = {&out, french};
    rp_voice_height(&voice, 1100);
    rp_voice_stop(&voice, ";");
    rp_voice_height(&voice, 5500);
    rp_voice_stop(&voice, ";");
    rp_voice_number(&voice, 101, 1);
    rp_voice_stop(&voice, ";");
    rp_voice_spell(&voice, "Bé Ødün 1");
    text[out.len] = '\0';
    assert_string_equal(text, "mille cent; cinq mille cinq cents; unité zéro décimale unité; "
                              "Bravo Echo Oscar Echo Delta Uniform Echo November unité");
    assert_true(rp_voice_spells("Bé Ødün-1"));
    assert_false(rp_voice_spells("कु 1"));
    assert_false(rp_voice_spells("..."));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key_has_a_text),
        cmocka_unit_test(every_text_fits_its_place),
        cmocka_unit_test(blank_forms_have_the_same_boxes),
        cmocka_unit_test(no_two_choices_read_the_same),
        cmocka_unit_test(english_is_what_is_typed),
        cmocka_unit_test(the_check_is_the_same_in_every_language),
        cmocka_unit_test(a_translation_says_so),
        cmocka_unit_test(numbers_are_said_digit_by_digit),
        cmocka_unit_test(french_numbers_are_said_as_on_the_radio),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
