/* The forms that programs read. The table for spreadsheets: what a person entered can be no
 * formula, and what is a name is taken for no date or time. Reading: RFC 4180 section 2. Formulas:
 * what the OWASP page "CSV Injection" names as dangerous first characters (from memory): = + - @,
 * tab, carriage return, and the full-width forms of the first four. */
#include "rp_test.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "handover/data/csv.h"
#include "handover/forms.h"
#include "handover/utf8.h"
#include "random_episode.h"

#define SEED   20261126
#define ROUNDS 60

static struct scenario scenario;
static char made[RP_FORM_LEN_MAX];

static void entered(const char *text, const char *expected)
{
    char buf[200];
    struct rp_textbuf out = rp_textbuf_on(buf, sizeof buf - 1);
    rp_csv_entered(&out, text);
    buf[out.len] = '\0';
    assert_string_equal(buf, expected);
}

static void what_a_person_entered_is_no_formula(void **state)
{
    (void)state;
    entered("", "\"\"");
    entered("rash, \"bad\"", "\"rash, \"\"bad\"\"\"");
    entered("=1+1", "\"'=1+1\"");
    entered("+47 555 01 23", "\"'+47 555 01 23\"");
    entered("-2 of 3", "\"'-2 of 3\"");
    entered("@camp", "\"'@camp\"");
    entered("\t=1+1", "\"' =1+1\"");
    entered("\r\n=1+1", "\"'  =1+1\"");
    entered("  =1+1", "\"'  =1+1\""); /* a reader may take the blanks away */
    entered("\xEF\xBC\x9D"
            "1",
            "\"'\xEF\xBC\x9D"
            "1\""); /* U+FF1D */
    entered("\xEF\xBC\x8B"
            "1",
            "\"'\xEF\xBC\x8B"
            "1\""); /* U+FF0B */
    entered("\xEF\xBC\x8D"
            "1",
            "\"'\xEF\xBC\x8D"
            "1\""); /* U+FF0D */
    entered("\xEF\xBC\xA0"
            "1",
            "\"'\xEF\xBC\xA0"
            "1\""); /* U+FF20 */
    entered("a=1", "\"a=1\"");
    entered("'=1", "\"'=1\"");
}

/* Takes one field apart; returns where it ends. *out_quoted: it stood in quotes. */
static const char *take(const char *at, char *out, size_t cap, bool *out_quoted)
{
    size_t len = 0;
    *out_quoted = *at == '"';
    at += *out_quoted;
    while (*out_quoted ? *at != '"' || at[1] == '"' : *at != ',' && *at != '\r') {
        assert_true(*at != '\0' && len + 1 < cap);
        assert_true(*out_quoted || *at != '"');
        at += *out_quoted && *at == '"';
        out[len++] = *at++;
    }
    out[len] = '\0';
    return at + *out_quoted;
}

static bool is_number(const char *text)
{
    char *end;
    strtod(text, &end);
    return text[strspn(text, "-0123456789.")] == '\0' && *end == '\0';
}

/* "2026-11-25T14:35:00Z" */
static bool is_time(const char *text)
{
    static const char like[] = "dddd-dd-ddTdd:dd:ddZ";
    for (size_t i = 0; i < sizeof like; i++) {
        if (like[i] == 'd' ? !isdigit((unsigned char)text[i]) : text[i] != like[i]) {
            return false;
        }
    }
    return true;
}

/* What many spreadsheets read as a day or an hour: digits, then - / : or ., then digits. */
static bool looks_like_a_date(const char *text)
{
    size_t digits = strspn(text, "0123456789");
    return digits > 0 && strchr("-/:", text[digits]) != NULL && text[digits] != '\0' &&
           isdigit((unsigned char)text[digits + 1]);
}

static void check_field(int round, size_t column, const char *text, bool quoted)
{
    bool data = text[0] == '\0' || is_number(text) || is_time(text);
    bool ok = quoted ? strchr("=+-@\t\r", text[0]) == NULL || text[0] == '\0' : data;
    bool name = column == 2 || column == RP_TX_CSV_H_RECORD - RP_TX_CSV_H_KIND + 1;
    if (!ok || (name && looks_like_a_date(text))) {
        fail_msg("seed %d, round %d, column %zu: %s", SEED, round, column, text);
    }
}

static void check_table(int round)
{
    static char text[RP_FORM_LEN_MAX];
    size_t columns = 0;
    for (const char *at = made; *at != '\0';) {
        size_t column = 0;
        bool quoted, more = true;
        for (; more; column++) {
            at = take(at, text, sizeof text, &quoted);
            check_field(round, column, text, quoted);
            more = *at == ',';
            at += more;
        }
        assert_memory_equal(at, "\r\n", 2);
        at += 2;
        columns = columns == 0 ? column : columns;
        assert_int_equal(column, columns); /* every line has as many as the head */
    }
}

static void make(const char *word)
{
    const struct rp_form *form = rp_form_find(word);
    assert_non_null(form);
    assert_true(rp_form_make(form, &scenario.input, &rp_texts_english, made, sizeof made) > 0);
}

static void every_table_is_sound(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(SEED);
    for (int round = 0; round < ROUNDS; round++) {
        random_episode(&scenario, &rng, round % 2 == 0);
        make("csv");
        check_table(round);
    }
    fullest_episode(&scenario);
    make("csv");
    check_table(ROUNDS);
}

/* "7-1" would be the 7th of January, "7:2" two minutes past seven. */
static void names_stay_names(void **state)
{
    (void)state;
    scenario_full(&scenario);
    make("csv");
    assert_non_null(strstr(made, ",\"episode 7-1\","));
    assert_non_null(strstr(made, ",\"record 7:2\","));
    check_table(0);
}

/* What went in and came out, with the time it is of: 120 mL in 5 h, the last at 14:20. */
static void fluids_stand_in_the_table(void **state)
{
    (void)state;
    static const char lead[] = "\"fluids\",\"episode 7-1\",2026-11-25T14:20:00Z,27,";
    scenario_full(&scenario);
    make("csv");
    assert_non_null(strstr(made, ",\"urine (mL)\",\"drunk (mL)\",\"over (min)\",\"text\","));
    const char *line = strstr(made, lead);
    assert_non_null(line);
    assert_null(strstr(line + 1, lead));
    line += strlen(lead);
    line += strspn(line, ",");
    assert_memory_equal(line, "120,500,300,,\"", 14);
    struct rp_fluids_entry *entry = &scenario.episode.fluids.at[0];
    entry->what.urine_ml.state = RP_UNABLE;
    entry->what.has_span = false;
    entry->from.voided = true;
    scenario.episode.fluids.older_dropped = 3;
    make("csv");
    line = strstr(made, lead);
    assert_non_null(strstr(line, ",\"no result\",500,,,\""));
    assert_non_null(strstr(line, "\"CORRECTED\""));
    assert_non_null(strstr(made, "\"fluids\",\"episode 7-1\",,,"));
    entry->what.urine_ml.state = RP_NOT_MEASURED;
    make("csv");
    assert_non_null(strstr(strstr(made, lead), ",,500,,,\""));
}

/* FHIR R4: Observation.effective[x] may be a Period, Observation.code may have a code of our own.
 */
static void fluids_stand_in_the_hospitals_document(void **state)
{
    (void)state;
    static const char period[] =
        "\"effectivePeriod\":{\"start\":\"2026-11-25T09:20:00Z\",\"end\":\"2026-11-25T14:20:00Z\"}";
    scenario_full(&scenario);
    make("fhir");
    const char *urine = strstr(made, "\"code\":\"urine-output\"}],\"text\":\"urine\"}");
    const char *drunk = strstr(made, "\"code\":\"fluid-drunk\"}],\"text\":\"drunk\"}");
    assert_non_null(urine);
    assert_non_null(drunk);
    assert_non_null(strstr(urine, period));
    assert_non_null(strstr(urine, "\"valueQuantity\":{\"value\":120,\"unit\":\"mL\""));
    assert_non_null(strstr(drunk, period));
    assert_non_null(strstr(drunk, "\"valueQuantity\":{\"value\":500,\"unit\":\"mL\""));
    struct rp_fluids_entry *entry = &scenario.episode.fluids.at[0];
    entry->what.urine_ml.state = RP_UNABLE;
    entry->what.drunk_ml.state = RP_NOT_MEASURED;
    entry->what.has_span = false;
    entry->from.voided = true;
    scenario.episode.fluids.older_dropped = 3;
    make("fhir");
    urine = strstr(made, "\"code\":\"urine-output\"");
    assert_non_null(urine);
    assert_non_null(strstr(urine, "\"effectiveDateTime\":\"2026-11-25T14:20:00Z\""));
    assert_non_null(strstr(urine, "\"dataAbsentReason\""));
    assert_null(strstr(made, "fluid-drunk"));
    assert_non_null(strstr(made, "3 OLDER ENTRIES NOT SHOWN"));
    /* Minutes before net time began: it begins with it. */
    entry->from.happened_s = 60;
    entry->what.has_span = true;
    make("fhir");
    assert_non_null(
        strstr(made, "\"start\":\"2026-01-01T00:00:00Z\",\"end\":\"2026-01-01T00:01:00Z\""));
}

/* Pain as the patient says it: 0 is a finding, not an empty place. */
static void pain_stands_in_the_data(void **state)
{
    (void)state;
    scenario_full(&scenario);
    struct rp_obs *obs = &scenario.episode.obs.at[scenario.episode.obs.count - 1];
    obs->pain = (struct rp_value){RP_MEASURED, 0};
    make("csv");
    assert_non_null(strstr(made, ",\"pain (of 10)\",\"urine (mL)\","));
    assert_non_null(strstr(made, ",\"no result\",0,,,,,\"")); /* ataxia, pain */
    check_table(0);
    make("fhir");
    const char *pain = strstr(made, "\"code\":\"pain-numeric-0-10\"}],\"text\":\"pain score\"}");
    assert_non_null(pain);
    assert_non_null(strstr(pain, "\"valueQuantity\":{\"value\":0,\"unit\":\"{score}\""));
    for (size_t i = 0; i < scenario.episode.obs.count; i++) {
        scenario.episode.obs.at[i].pain.state = RP_NOT_MEASURED;
    }
    make("fhir");
    pain = strstr(made, "\"code\":\"pain-numeric-0-10\"");
    assert_non_null(pain);
    assert_non_null(strstr(pain, "\"code\":\"not-performed\""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_a_person_entered_is_no_formula),
        cmocka_unit_test(every_table_is_sound),
        cmocka_unit_test(names_stay_names),
        cmocka_unit_test(fluids_stand_in_the_table),
        cmocka_unit_test(pain_stands_in_the_data),
        cmocka_unit_test(fluids_stand_in_the_hospitals_document),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
