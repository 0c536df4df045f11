/* The protocol table's file. The example that is shipped is read too: its figures are those of the
 * clinical references 1.3, whose sources it names. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "port/files/protocol.h"

static struct rp_protocol table;
static struct rp_problem problem;

static int parse(const char *text)
{
    memset(&problem, 0, sizeof problem);
    return rp_protocol_parse("t", (struct rp_view){(const uint8_t *)text, strlen(text)}, &table,
                             &problem);
}

#define HEAD "[protocol]\ntitle = T\n"
#define DRUG HEAD "[drug]\nname = a\nsource = s\n"

static void a_whole_table_is_read(void **state)
{
    (void)state;
    assert_int_equal(parse("# a comment\r\n"
                           "; another\n"
                           "\n"
                           "[protocol]\n"
                           "title = Our table ; and why\n"
                           "reviewed_by = Dr Lindqvist\n"
                           "reviewed_on = 2026-10-05\n"
                           "[drug]\n"
                           "name = dexamethasone\n"
                           "also = dexa,  dexameth \n"
                           "route = po, im\n"
                           "dose = 4mg\n"
                           "single_max = 8 mg\n"
                           "day_max = 20mg\n"
                           "interval = 6h\n"
                           "vasodilator = no\n"
                           "allergy = steroid\n"
                           "caution = one\n"
                           "caution = two\n"
                           "source = somewhere\n"
                           "[drug]\n"
                           "  \t\n"
                           "name = nifedipine\n"
                           "vasodilator = yes\n"
                           "source = elsewhere"),
                     0);
    assert_true(rp_protocol_reviewed(&table));
    assert_string_equal(table.title, "Our table");
    assert_string_equal(table.reviewed_by, "Dr Lindqvist");
    assert_string_equal(table.reviewed_on, "2026-10-05");
    assert_int_equal(table.count, 2);
    const struct rp_drug *d = &table.drugs[0];
    assert_string_equal(d->name, "dexamethasone");
    assert_string_equal(d->also[0], "dexa");
    assert_string_equal(d->also[1], "dexameth");
    assert_int_equal(d->routes, 1 << RP_ROUTE_ORAL | 1 << RP_ROUTE_IM);
    assert_int_equal(d->unit, RP_DOSE_MG);
    assert_int_equal(d->dose_milli, 4000);
    assert_int_equal(d->single_milli, 8000);
    assert_int_equal(d->day_milli, 20000);
    assert_int_equal(d->interval_s, 21600);
    assert_false(d->vasodilator);
    assert_string_equal(d->allergy[0], "steroid");
    assert_string_equal(d->cautions[1], "two");
    assert_string_equal(d->source, "somewhere");
    assert_true(table.drugs[1].vasodilator);
    assert_int_equal(table.drugs[1].unit, RP_DOSE_NONE);
}

static void each_wrong_line_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int code;
        const char *field;
    } rows[] = {
        {"", RP_E_FORMAT, "section"},
        {"title = T\n", RP_E_INVALID, "key"},
        {"[drug]\n", RP_E_FORMAT, "section"},
        {"[protocol]\n", RP_E_INVALID, "title"},
        {"[protocol]\n[drug]\n", RP_E_INVALID, "title"},
        {HEAD HEAD, RP_E_FORMAT, "section"},
        {HEAD "[drugs]\n", RP_E_FORMAT, "section"},
        {HEAD "title = U\n", RP_E_INVALID, "title"},
        {HEAD "name = a\n", RP_E_INVALID, "key"},
        {HEAD "no value\n", RP_E_FORMAT, "line"},
        {HEAD "reviewed_by =\n", RP_E_INVALID, "reviewed_by"},
        {HEAD "reviewed_on = today\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 2026-13-05\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 2026-00-05\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 2026-10-32\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 2026-10-00\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 2026-1-005\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 20261005--\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "reviewed_on = 2026-10-5x\n", RP_E_INVALID, "reviewed_on"},
        {HEAD "[drug]\nsource = s\n", RP_E_INVALID, "name"},
        {HEAD "[drug]\nname = a\n", RP_E_INVALID, "source"},
        {HEAD "[drug]\nname = a\n[drug]\n", RP_E_INVALID, "source"},
        {HEAD "[drug]\nname = a name of more than 24 bytes\n", RP_E_TOO_LONG, "name"},
        {DRUG "[drug]\nname = A\n", RP_E_INVALID, "name"},
        {DRUG "title = T\n", RP_E_INVALID, "key"},
        {DRUG "also = a,,b\n", RP_E_INVALID, "also"},
        {DRUG "also = 1,2,3,4,5,6,7\n", RP_E_TOO_LONG, "also"},
        {DRUG "route = po, by mouth\n", RP_E_INVALID, "route"},
        {DRUG "dose = 4\n", RP_E_INVALID, "dose"},
        {DRUG "dose = 4mg\nsingle_max = 1g\n", RP_E_INVALID, "single_max"},
        {DRUG "day_max = 4mg\ndose = 1g\n", RP_E_INVALID, "dose"},
        {DRUG "interval = soon\n", RP_E_INVALID, "interval"},
        {DRUG "interval = 59s\n", RP_E_INVALID, "interval"},
        {DRUG "interval = 8d\n", RP_E_INVALID, "interval"},
        {DRUG "vasodilator = maybe\n", RP_E_INVALID, "vasodilator"},
        {DRUG "caution = 1\ncaution = 2\ncaution = 3\ncaution = 4\ncaution = 5\n", RP_E_TOO_LONG,
         "caution"},
        {DRUG "caution = \033[31m\n", RP_E_FORMAT, "line"},
        {DRUG "caution = \177\n", RP_E_FORMAT, "line"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        memset(&table, 0x5a, sizeof table);
        int code = parse(rows[i].text);
        if (code != rows[i].code || strcmp(problem.field, rows[i].field) != 0) {
            fail_msg("row %zu: %d %s %s", i, code, problem.field, problem.text);
        }
        assert_non_null(strstr(problem.text, "(example: "));
        assert_int_equal(table.title[0], 0x5a); /* untouched */
    }
    assert_int_equal(parse(DRUG "dose = 1\n"), RP_E_INVALID);
    assert_string_equal(problem.text,
                        "t line 6: dose: this is no dose with its unit (example: 4mg)");
}

static void bounds(void **state)
{
    (void)state;
    static char text[80000];
    size_t len = (size_t)sprintf(text, "%s", HEAD);
    for (int i = 0; i < RP_DRUGS_MAX; i++) {
        len += (size_t)sprintf(text + len, "[drug]\nname = d%d\nsource = s\n", i);
    }
    assert_int_equal(parse(text), 0);
    assert_int_equal(table.count, RP_DRUGS_MAX);
    strcpy(text + len, "[drug]\n");
    assert_int_equal(parse(text), RP_E_TOO_LONG);
    assert_int_equal(parse(DRUG "interval = 1min\nvasodilator = no\n"), 0);
    assert_int_equal(parse(DRUG "interval = 7d\n"), 0);
    strcpy(text, HEAD "#");
    len = strlen(text);
    memset(text + len, 'x', 189);
    text[len + 189] = '\0';
    assert_int_equal(parse(text), 0);
    strcpy(text + len + 189, "x");
    assert_int_equal(parse(text), RP_E_TOO_LONG);
    memset(text, '\n', sizeof text);
    assert_int_equal(
        rp_protocol_parse("t", (struct rp_view){(const uint8_t *)text, 65537}, &table, &problem),
        RP_E_TOO_LONG);
}

static void files(void **state)
{
    (void)state;
    char path[] = "/tmp/rp_protocol_XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, DRUG, strlen(DRUG)), (ssize_t)strlen(DRUG));
    close(fd);
    assert_int_equal(rp_protocol_read(path, &table, &problem), 0);
    assert_false(rp_protocol_reviewed(&table));
    unlink(path);
    assert_int_equal(rp_protocol_read(path, &table, &problem), RP_E_NOT_FOUND);
    assert_string_equal(problem.field, "protocol");
    assert_int_equal(rp_protocol_read("/tmp", &table, &problem), RP_E_IO);
}

/* What is shipped: not reviewed, and each figure as the references have it. */
static void the_example_is_what_its_sources_say(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        uint32_t dose_mg, single_mg, day_mg, interval_h;
        bool vasodilator;
    } rows[] = {
        {"dexamethasone", 4, 8, 20, 6, false}, {"acetazolamide", 250, 250, 500, 12, false},
        {"nifedipine", 30, 30, 60, 12, true},  {"tadalafil", 10, 10, 20, 12, true},
        {"sildenafil", 50, 50, 150, 8, true},  {"ondansetron", 4, 8, 0, 4, false},
    };
    int code =
        rp_protocol_read(RP_SOURCE_DIR "/tools/packaging/protocol.example", &table, &problem);
    if (code < 0) {
        fail_msg("%s", problem.text);
    }
    assert_false(rp_protocol_reviewed(&table));
    assert_non_null(strstr(table.title, "NOT REVIEWED"));
    assert_int_equal(table.count, sizeof rows / sizeof rows[0]);
    for (size_t i = 0; i < table.count; i++) {
        const struct rp_drug *d = &table.drugs[i];
        assert_string_equal(d->name, rows[i].name);
        assert_int_equal(d->dose_milli, rows[i].dose_mg * 1000);
        assert_int_equal(d->single_milli, rows[i].single_mg * 1000);
        assert_int_equal(d->day_milli, rows[i].day_mg * 1000);
        assert_int_equal(d->interval_s, rows[i].interval_h * 3600);
        assert_int_equal(d->vasodilator, rows[i].vasodilator);
    }
    assert_string_equal(table.drugs[1].allergy[0], "sulfa");
    assert_string_equal(table.drugs[0].also[0], "dexa");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_table_is_read),
        cmocka_unit_test(each_wrong_line_is_refused),
        cmocka_unit_test(bounds),
        cmocka_unit_test(files),
        cmocka_unit_test(the_example_is_what_its_sources_say),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
