/* Migration, a frozen log of version 1, damage and the check that finds it. */
#include "fixture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/schema.h"

#define ID 0x54455354

static const char *const good_steps[] = {
    "CREATE TABLE camps (name TEXT); INSERT INTO camps VALUES ('Ridge Camp')",
    "ALTER TABLE camps ADD COLUMN altitude_m INTEGER; UPDATE camps SET altitude_m = 5480",
    "INSERT INTO camps VALUES ('Lake Camp', 4310)",
};
static const char *const bad_steps[] = {
    "CREATE TABLE camps (name TEXT); INSERT INTO camps VALUES ('Ridge Camp')",
    "ALTER TABLE camps ADD COLUMN altitude_m INTEGER; UPDATE camps SET altitude_m = 5480",
    "INSERT INTO camps VALUES ('Moraine Cache', 4920); INSERT INTO nowhere VALUES (1)",
};

static int migrate(const struct fixture *f, const char *const *steps, int count,
                   struct rp_problem *out_problem)
{
    const struct rp_store_schema schema = {ID, steps, count};
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    int version = rp_store_schema_version(db, f->path, &schema, out_problem);
    int code =
        version < 0 ? version : rp_store_schema_migrate(db, f->path, &schema, version, out_problem);
    assert_int_equal(sqlite3_get_autocommit(db), 1);
    sqlite3_close(db);
    return code < 0 ? code : version;
}

static void each_step_is_taken_once(void **state)
{
    struct fixture *f = *state;
    struct rp_problem problem = {0};
    assert_int_equal(migrate(f, good_steps, 1, &problem), 0);
    assert_int_equal(fixture_number(f, "PRAGMA user_version"), 1);
    assert_int_equal(fixture_number(f, "PRAGMA application_id"), ID);
    assert_int_equal(migrate(f, good_steps, 3, &problem), 1);
    assert_int_equal(fixture_number(f, "PRAGMA user_version"), 3);
    assert_int_equal(fixture_number(f, "SELECT sum(altitude_m) FROM camps"), 5480 + 4310);
    assert_int_equal(migrate(f, good_steps, 3, &problem), 3);
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM camps"), 2);
    assert_int_equal(migrate(f, good_steps, 2, &problem), RP_E_VERSION);
    assert_non_null(strstr(problem.text, "version 3, this program knows versions up to 2"));
}

static void a_step_that_fails_leaves_the_last_good_version(void **state)
{
    struct fixture *f = *state;
    struct rp_problem problem = {0};
    assert_int_equal(migrate(f, bad_steps, 3, &problem), RP_E_IO);
    assert_non_null(strstr(problem.text, f->path));
    assert_int_equal(fixture_number(f, "PRAGMA user_version"), 2);
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM camps"), 1);
    assert_int_equal(migrate(f, good_steps, 3, &problem), 2);
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM camps"), 2);
}

static void load(const struct fixture *f, const char *name)
{
    static char text[32768];
    char path[400];
    snprintf(path, sizeof path, "%s/tests/unit/store/%s", RP_SOURCE_DIR, name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    size_t len = fread(text, 1, sizeof text - 1, file);
    fclose(file);
    assert_in_range(len, 1000, sizeof text - 2);
    text[len] = '\0';
    assert_int_equal(fixture_sql(f, text), SQLITE_OK);
}

/* Every table, index and trigger as its SQL, in the order of the names. */
static void read_schema(const struct fixture *f, char *text, size_t cap)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db,
                                        "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL "
                                        "ORDER BY name",
                                        -1, &statement, NULL),
                     SQLITE_OK);
    size_t len = 0;
    while (sqlite3_step(statement) == SQLITE_ROW) {
        len += (size_t)snprintf(text + len, cap - len, "%s\n",
                                (const char *)sqlite3_column_text(statement, 0));
        assert_true(len < cap);
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

/* log_v1.sql is a log as version 1 wrote it; it is never changed. */
static void a_log_of_version_1_is_read(void **state)
{
    struct fixture *f = *state;
    load(f, "log_v1.sql");
    assert_int_equal(fixture_number(f, "PRAGMA user_version"), 1);
    fixture_reopen(f);
    assert_whole(f->store);
    assert_rows_held(f->store, 7, 1, 1);
    assert_rows_held(f->store, 7, 2, 3);
    assert_rows_held(f->store, 4, 1, 2);
    assert_int_equal(f->ops->last_seq(f->store, 4), 4);
    uint8_t buf[8];
    assert_int_equal(f->ops->get_value(f->store, "origin", buf, sizeof buf), 2);
    assert_memory_equal(buf, "\x00\x07", 2);
    assert_int_equal(rows_append(f->store, 7, 5, 2), 0);
    assert_int_equal(rows_append(f->store, 7, 2, 1), RP_E_DUPLICATE);
    assert_int_equal(fixture_number(f, "PRAGMA user_version"), rp_store_log_schema.version);
}

static int keep_charge(void *arg, const struct rp_charge *charge)
{
    *(struct rp_charge *)arg = *charge;
    return 0;
}

/* What version 1 kept of a charge still counts; its frequency and its run are not known. */
static void a_charge_of_version_1_is_kept(void **state)
{
    struct fixture *f = *state;
    struct rp_charge charge = {0};
    load(f, "log_v1.sql");
    fixture_reopen(f);
    assert_int_equal(f->ops->each_charge(f->store, keep_charge, &charge), 0);
    assert_int_equal(charge.unix_s, 1790000009);
    assert_int_equal(charge.airtime_us, 370688);
    assert_true(charge.urgent && charge.boot == 0 && charge.freq_hz == 0);
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM sqlite_schema WHERE name = "
                                       "'charges_1'"),
                     0);
}

/* Guards step 1 against later edits: a fresh log has the tables of the frozen one. */
static void the_first_step_has_not_changed(void **state)
{
    struct fixture *f = *state;
    load(f, "log_v1.sql");
    static char frozen[16384], fresh[16384];
    read_schema(f, frozen, sizeof frozen);
    assert_int_equal(remove(f->path), 0);
    const struct rp_store_schema first = {rp_store_log_schema.application_id,
                                          rp_store_log_schema.steps, 1};
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(rp_store_schema_migrate(db, f->path, &first, 0, NULL), 0);
    sqlite3_close(db);
    read_schema(f, fresh, sizeof fresh);
    assert_true(strlen(frozen) > 3000);
    assert_string_equal(fresh, frozen);
}

/* Changes the log behind the triggers' back, then asserts what the check says. */
static void assert_check_says(struct fixture *f, const char *sql, const char *text)
{
    struct rp_problem problem = {0};
    assert_int_equal(remove(f->path), 0);
    load(f, "log_v1.sql");
    assert_int_equal(fixture_sql(f, "DROP TRIGGER segments_stay; DROP TRIGGER segments_unchanged;"
                                    "DROP TRIGGER records_unchanged; DROP TRIGGER records_stay"),
                     SQLITE_OK);
    assert_int_equal(fixture_sql(f, sql), SQLITE_OK);
    fixture_reopen(f);
    assert_int_equal(rp_store_check(f->store, &problem), RP_E_CORRUPT);
    if (strstr(problem.text, text) == NULL || strstr(problem.text, f->path) == NULL) {
        fail_msg("\"%s\" does not say \"%s\"", problem.text, text);
    }
    rp_store_close(f->store);
    f->store = NULL;
}

static void the_check_finds_records_without_their_segments(void **state)
{
    struct fixture *f = *state;
    fixture_write_file(f->path, "", 0);
    assert_check_says(f, "DELETE FROM segments WHERE origin = 7 AND seq = 3",
                      "record 7:2 is damaged: only 2 of 3 segments held");
    assert_check_says(f, "UPDATE segments SET last = 1 WHERE origin = 7 AND seq = 3",
                      "record 7:2 is damaged: its segments are not marked");
    assert_check_says(f, "UPDATE segments SET first = 0 WHERE origin = 4 AND seq = 1",
                      "record 4:1 is damaged: its segments are not marked");
    assert_check_says(
        f,
        "INSERT INTO records SELECT origin, 3, 3, kind, urgent, exercise, unsynced,"
        " episode_origin, episode_number, time_s, stored_s, aired_s, heard_s,"
        " heard_station, base_s, body FROM records WHERE origin = 7 AND seq_first = 1",
        "record 7:2 is damaged: another record begins inside it");
    assert_check_says(f,
                      "PRAGMA ignore_check_constraints = ON;"
                      "UPDATE records SET kind = 300 WHERE origin = 7",
                      "is damaged (CHECK constraint failed in records)");
}

static int ignore_run(void *arg, uint16_t origin, uint32_t seq_first, uint32_t seq_last)
{
    (void)arg, (void)origin, (void)seq_first, (void)seq_last;
    return 0;
}

static int ignore_charge(void *arg, const struct rp_charge *charge)
{
    (void)arg, (void)charge;
    return 0;
}

static int ignore_record(void *arg, const struct rp_record_row *row)
{
    (void)arg, (void)row;
    return 0;
}

/* Values that another tool left out of their bounds are refused, not cut to fit. */
static void values_out_of_bounds_are_noticed(void **state)
{
    struct fixture *f = *state;
    uint8_t buf[RP_FRAME_LEN_MAX];
    bool first, last;
    const struct rp_record_filter all = {.origin = 0};
    load(f, "log_v1.sql");
    fixture_reopen(f);
#define SPOIL(sql)                                                                                 \
    assert_int_equal(fixture_sql(f, "PRAGMA ignore_check_constraints = ON;" sql), SQLITE_OK)
    SPOIL("INSERT INTO segments VALUES (3, 1, 1, 1, zeroblob(223))");
    assert_int_equal(f->ops->get_segment(f->store, 3, 1, &first, &last, buf, sizeof buf),
                     RP_E_CORRUPT);
    SPOIL("INSERT INTO charges VALUES (7, 10, 1, 1790000010, 1, 869525000, -1, 0)");
    assert_int_equal(f->ops->each_charge(f->store, ignore_charge, NULL), RP_E_CORRUPT);
    SPOIL("UPDATE charges SET airtime_us = 1, freq_hz = 4294967296");
    assert_int_equal(f->ops->each_charge(f->store, ignore_charge, NULL), RP_E_CORRUPT);
    SPOIL("INSERT INTO named_values VALUES ('big', zeroblob(4097))");
    assert_int_equal(f->ops->get_value(f->store, "big", buf, sizeof buf), RP_E_CORRUPT);
    SPOIL("INSERT INTO segments VALUES (70000, 1, 1, 1, x'00')");
    assert_int_equal(f->ops->each_run(f->store, ignore_run, NULL), RP_E_CORRUPT);
    assert_int_equal(f->ops->each_record(f->store, &all, ignore_record, NULL), 0);
    SPOIL("INSERT INTO records VALUES (3,1,1,4,0,0,0,NULL,NULL,1,1,NULL,NULL,NULL,NULL,x'')");
    assert_int_equal(f->ops->each_record(f->store, &all, ignore_record, NULL), RP_E_CORRUPT);
    SPOIL("INSERT INTO records VALUES (2,1,1,256,0,0,0,NULL,NULL,1,1,NULL,NULL,NULL,NULL,x'00')");
    assert_int_equal(f->ops->get_record(f->store, (struct rp_record_ref){2, 1}, ignore_record, f),
                     RP_E_CORRUPT);
#undef SPOIL
}

/* Overwrites len bytes of the closed log from the offset on. */
static void overwrite(struct fixture *f, long offset, size_t len)
{
    rp_store_close(f->store);
    f->store = NULL;
    FILE *file = fopen(f->path, "r+b");
    assert_non_null(file);
    assert_int_equal(fseek(file, offset, SEEK_SET), 0);
    for (size_t i = 0; i < len; i++) {
        assert_int_equal(fputc(0xa5, file), 0xa5);
    }
    assert_int_equal(fclose(file), 0);
}

static int count_visit(void *arg, const struct rp_record_row *row)
{
    (void)row;
    ++*(int *)arg;
    return 0;
}

/* A page of the log overwritten: whatever reads it says so, and nothing crashes. */
static void damaged_pages_are_noticed(void **state)
{
    struct fixture *f = *state;
    int64_t pages;
    fixture_reopen(f);
    for (uint32_t seq = 1; seq <= 200; seq++) {
        assert_int_equal(rows_append(f->store, 7, seq, 1), 0);
    }
    pages = fixture_number(f, "PRAGMA page_count");
    assert_in_range(pages, 12, 60);
    rp_store_close(f->store);
    f->store = NULL;
    for (int64_t page = 0; page < pages; page++) {
        assert_int_equal(remove(f->path), 0);
        fixture_reopen(f);
        for (uint32_t seq = 1; seq <= 200; seq++) {
            assert_int_equal(rows_append(f->store, 7, seq, 1), 0);
        }
        overwrite(f, (long)page * 4096, 4096);
        struct rp_problem problem = {0};
        int code = rp_store_open(f->path, &f->store, &problem);
        if (code == 0) {
            int count = 0;
            const struct rp_record_filter all = {.origin = 0};
            code = f->ops->each_record(f->store, &all, count_visit, &count);
            assert_true(code == RP_E_CORRUPT || (code == 0 && count == 200));
            code = rp_store_check(f->store, &problem);
        }
        assert_int_equal(code, RP_E_CORRUPT);
        assert_int_equal(problem.code, RP_E_CORRUPT);
        rp_store_close(f->store);
        f->store = NULL;
    }
}

int main(void)
{
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_folder, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(each_step_is_taken_once),
        CASE(a_step_that_fails_leaves_the_last_good_version),
        CASE(a_log_of_version_1_is_read),
        CASE(a_charge_of_version_1_is_kept),
        CASE(the_first_step_has_not_changed),
        CASE(the_check_finds_records_without_their_segments),
        CASE(values_out_of_bounds_are_noticed),
        CASE(damaged_pages_are_noticed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
