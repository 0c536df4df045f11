/* Records: filters, delivery, what may not change, and that queries use their index. */
#include "fixture.h"

#include <stdio.h>
#include <string.h>

#include "store/statements.h"

static struct seen seen;

static void every_column_comes_back(void **state)
{
    struct fixture *f = *state;
    struct rows rows;
    rows_fill(&rows, 65535, 41, 2);
    rows.record.kind = 255;
    rows.record.urgent = rows.record.exercise = rows.record.unsynced = true;
    rows.record.episode = (struct rp_episode_ref){7, 255};
    rows.record.time_s = 4294967295u;
    rows.record.stored_s = 1790000001;
    rows.record.aired_s = 1790000002;
    rows.record.heard_s = 1790000003;
    rows.record.heard_station = 4;
    rows.record.base_s = 1790000004;
    assert_int_equal(f->ops->append_own(f->store, rows.segments, 2, &rows.record), 0);
    fixture_reopen(f);
    seen = (struct seen){.count = 0};
    struct rp_record_ref ref = {65535, 41};
    assert_int_equal(f->ops->get_record(f->store, ref, seen_visit, &seen), 0);
    const struct rp_record_row *row = &seen.rows[0];
    assert_int_equal(row->origin, 65535);
    assert_int_equal(row->seq_first, 41);
    assert_int_equal(row->seq_last, 42);
    assert_int_equal(row->kind, 255);
    assert_true(row->urgent && row->exercise && row->unsynced);
    assert_true(row->episode.origin == 7 && row->episode.number == 255);
    assert_true(row->time_s == 4294967295u);
    assert_true(row->stored_s == 1790000001 && row->aired_s == 1790000002);
    assert_true(row->heard_s == 1790000003 && row->base_s == 1790000004);
    assert_int_equal(row->heard_station, 4);
    ref.seq = 42;
    assert_int_equal(f->ops->get_record(f->store, ref, seen_visit, &seen), RP_E_NOT_FOUND);
}

/* Records 7:1..7:6 of episodes 7-1 and 7-2 by turns, 4:1 and 2:1 of episode 7-1, 2:2 of none. */
static void fill_valley(struct fixture *f)
{
    struct rows rows;
    for (uint32_t seq = 1; seq <= 6; seq++) {
        rows_fill(&rows, 7, seq, 1);
        rows.record.episode.number = seq % 2 == 1 ? 1 : 2;
        rows.record.kind = seq <= 2 ? RP_REC_EPISODE : RP_REC_STATUS;
        assert_int_equal(f->ops->append_own(f->store, rows.segments, 1, &rows.record), 0);
    }
    rows_fill(&rows, 4, 1, 1);
    rows.record.episode.origin = 7;
    assert_int_equal(f->ops->put_segment(f->store, rows.segments, &rows.record), 0);
    rows_fill(&rows, 2, 1, 1);
    rows.record.episode.origin = 7;
    rows.record.kind = RP_REC_ANSWER;
    assert_int_equal(f->ops->put_segment(f->store, rows.segments, &rows.record), 0);
    rows_fill(&rows, 2, 2, 1);
    rows.record.episode.number = 0;
    rows.record.kind = RP_REC_STATION;
    assert_int_equal(f->ops->put_segment(f->store, rows.segments, &rows.record), 0);
}

/* The records a filter finds, as "origin:seq " text. */
static const char *found(struct fixture *f, struct rp_record_filter filter)
{
    static char text[256];
    size_t len = 0;
    seen = (struct seen){.count = 0};
    assert_int_equal(f->ops->each_record(f->store, &filter, seen_visit, &seen), 0);
    text[0] = '\0';
    for (int i = 0; i < seen.count; i++) {
        len += (size_t)snprintf(text + len, sizeof text - len, "%d:%d ", seen.rows[i].origin,
                                (int)seen.rows[i].seq_first);
    }
    return text;
}

static void filters_find_what_they_say(void **state)
{
    struct fixture *f = *state;
    fill_valley(f);
    assert_int_equal(f->ops->mark_base(f->store, 7, 1, 4, 1790000100), 4);
#define FOUND(expected, ...)                                                                       \
    assert_string_equal(found(f, (struct rp_record_filter){__VA_ARGS__}), expected)
    FOUND("2:1 2:2 4:1 7:1 7:2 7:3 7:4 7:5 7:6 ", .origin = 0);
    FOUND("7:1 7:2 7:3 7:4 7:5 7:6 ", .origin = 7);
    FOUND("2:1 4:1 7:1 7:3 7:5 ", .episode = {7, 1});
    FOUND("7:2 7:4 7:6 ", .episode = {7, 2});
    FOUND("", .episode = {4, 1});
    FOUND("7:1 7:2 ", .kind = RP_REC_EPISODE);
    FOUND("2:2 ", .kind = RP_REC_STATION);
    FOUND("2:1 2:2 4:1 7:5 7:6 ", .not_at_base = true);
    FOUND("7:5 7:6 ", .origin = 7, .not_at_base = true);
    FOUND("7:1 7:3 7:5 ", .origin = 7, .episode = {7, 1});
    FOUND("7:3 7:5 ", .origin = 7, .episode = {7, 1}, .kind = RP_REC_STATUS);
    FOUND("7:5 ", .origin = 7, .episode = {7, 1}, .kind = RP_REC_STATUS, .not_at_base = true);
    FOUND("2:1 ", .kind = RP_REC_ANSWER, .not_at_base = true);
    FOUND("", .origin = 9);
#undef FOUND
    struct rp_record_filter nameless = {.episode = {0, 1}};
    assert_int_equal(f->ops->each_record(f->store, &nameless, seen_visit, &seen), RP_E_INVALID);
    seen = (struct seen){.stop_after = 2};
    struct rp_record_filter all = {.origin = 0};
    assert_int_equal(f->ops->each_record(f->store, &all, seen_visit, &seen), 77);
    assert_int_equal(seen.count, 2);
}

static const struct rp_record_row *look_up(struct fixture *f, uint16_t origin, uint32_t seq)
{
    seen = (struct seen){.count = 0};
    struct rp_record_ref ref = {origin, seq};
    assert_int_equal(f->ops->get_record(f->store, ref, seen_visit, &seen), 0);
    return &seen.rows[0];
}

static void only_the_first_delivery_is_kept(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(rows_append(f->store, 7, 1, 3), 0);
    assert_int_equal(rows_append(f->store, 7, 8, 1), 0);
    const struct rp_record_row *row = look_up(f, 7, 1);
    assert_true(row->aired_s == 0 && row->heard_s == 0 && row->base_s == 0);
    assert_int_equal(f->ops->mark_aired(f->store, 7, 2, 1790000010), 0);
    assert_int_equal(f->ops->mark_aired(f->store, 7, 1, 1790000020), 0);
    assert_int_equal(f->ops->mark_heard(f->store, 7, 3, 1790000030, 4), 0);
    assert_int_equal(f->ops->mark_heard(f->store, 7, 3, 1790000040, 5), 0);
    fixture_reopen(f);
    row = look_up(f, 7, 1);
    assert_true(row->aired_s == 1790000010 && row->heard_s == 1790000030);
    assert_int_equal(row->heard_station, 4);
    assert_int_equal(look_up(f, 7, 8)->aired_s, 0);
    assert_int_equal(f->ops->mark_aired(f->store, 7, 4, 1790000010), RP_E_NOT_FOUND);
    assert_int_equal(f->ops->mark_heard(f->store, 7, 7, 1790000010, 4), RP_E_NOT_FOUND);
    assert_int_equal(f->ops->mark_heard(f->store, 4, 1, 1790000010, 4), RP_E_NOT_FOUND);
    assert_int_equal(f->ops->mark_aired(f->store, 7, 1, 0), RP_E_INVALID);
}

static void base_marks_whole_records_once(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(rows_append(f->store, 7, 1, 2), 0);
    assert_int_equal(rows_append(f->store, 7, 3, 2), 0);
    assert_int_equal(rows_append(f->store, 7, 5, 2), 0);
    assert_int_equal(rows_append(f->store, 4, 1, 2), 0);
    /* 2..5 holds 3..4 whole, and a half of the others. */
    assert_int_equal(f->ops->mark_base(f->store, 7, 2, 5, 1790000050), 1);
    assert_int_equal(f->ops->mark_base(f->store, 7, 1, 6, 1790000060), 2);
    assert_int_equal(f->ops->mark_base(f->store, 7, 1, 4294967295u, 1790000070), 0);
    assert_true(look_up(f, 7, 1)->base_s == 1790000060);
    assert_true(look_up(f, 7, 3)->base_s == 1790000050);
    assert_true(look_up(f, 4, 1)->base_s == 0);
    assert_int_equal(f->ops->mark_base(f->store, 7, 2, 1, 1790000070), RP_E_INVALID);
    assert_int_equal(f->ops->mark_base(f->store, 7, 1, 2, 0), RP_E_INVALID);
}

static int writing_visit(void *arg, const struct rp_record_row *row)
{
    struct fixture *f = arg;
    static const struct rp_record_filter all = {.origin = 0};
    assert_int_equal(rows_append(f->store, 7, 100, 1), RP_E_STATE);
    assert_int_equal(f->ops->mark_aired(f->store, 7, 1, 1790000000), RP_E_STATE);
    assert_int_equal(f->ops->mark_base(f->store, 7, 1, 2, 1790000000), RP_E_STATE);
    assert_int_equal(f->ops->charge(f->store, &(struct rp_charge){.unix_s = 1790000000}),
                     RP_E_STATE);
    assert_int_equal(f->ops->set_value(f->store, "k", (struct rp_view){NULL, 0}), RP_E_STATE);
    assert_int_equal(f->ops->each_record(f->store, &all, seen_visit, &seen), RP_E_STATE);
    /* Reading other things is fine. */
    assert_int_equal(f->ops->last_seq(f->store, row->origin), 1);
    assert_rows_held(f->store, row->origin, row->seq_first, 1);
    return 3;
}

static void a_visitor_may_read_but_not_write(void **state)
{
    struct fixture *f = *state;
    static const struct rp_record_filter all = {.origin = 0};
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    assert_int_equal(f->ops->each_record(f->store, &all, writing_visit, f), 3);
    assert_int_equal(rows_append(f->store, 7, 2, 1), 0);
}

static void the_log_is_append_only_for_other_tools_too(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    static const char *const forbidden[] = {
        "DELETE FROM segments",
        "UPDATE segments SET sealed = x'00'",
        "UPDATE segments SET seq = 9",
        "INSERT OR REPLACE INTO segments SELECT origin, seq, first, last, x'00' FROM segments",
        "DELETE FROM records",
        "UPDATE records SET body = x'00'",
        "UPDATE records SET kind = 3",
        "UPDATE records SET seq_last = 2",
        "UPDATE records SET stored_s = 3",
        "UPDATE records SET time_s = 3",
        "UPDATE records SET episode_number = 3",
        "REPLACE INTO records SELECT * FROM records",
    };
    for (size_t i = 0; i < sizeof forbidden / sizeof forbidden[0]; i++) {
        assert_int_equal(fixture_sql(f, forbidden[i]), SQLITE_CONSTRAINT);
    }
    assert_int_equal(fixture_sql(f, "UPDATE records SET aired_s = 5"), SQLITE_OK);
    assert_int_equal(fixture_sql(f, "UPDATE records SET aired_s = 6"), SQLITE_CONSTRAINT);
    assert_int_equal(fixture_sql(f, "UPDATE records SET aired_s = NULL"), SQLITE_CONSTRAINT);
    assert_int_equal(fixture_sql(f, "UPDATE records SET base_s = 7"), SQLITE_OK);
    assert_int_equal(fixture_sql(f, "UPDATE records SET base_s = 8"), SQLITE_CONSTRAINT);
    assert_rows_held(f->store, 7, 1, 1);
    assert_true(look_up(f, 7, 1)->aired_s == 5);
}

/* The plan of a statement of the room, its lines joined. */
static void plan_of(const struct fixture *f, enum rp_store_statement which, char *text, size_t cap)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    char sql[2048];
    snprintf(sql, sizeof sql, "EXPLAIN QUERY PLAN %s", rp_store_sql(which));
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    size_t len = 0;
    text[0] = '\0';
    while (sqlite3_step(statement) == SQLITE_ROW) {
        len += (size_t)snprintf(text + len, cap - len, "%s; ",
                                (const char *)sqlite3_column_text(statement, 3));
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

/* SQLite, "EXPLAIN QUERY PLAN": SEARCH visits a subset of the rows through an index, SCAN all. */
static void queries_search_by_index(void **state)
{
    struct fixture *f = *state;
    static const struct {
        enum rp_store_statement which;
        const char *plan;
    } expected[] = {
        {RP_SQL_SEGMENT_GET, "SEARCH segments USING PRIMARY KEY (origin=? AND seq=?); "},
        {RP_SQL_SEGMENTS_COUNT,
         "SEARCH segments USING PRIMARY KEY (origin=? AND seq>? AND seq<?); "},
        {RP_SQL_SEGMENTS_LAST, "SEARCH segments USING PRIMARY KEY (origin=?); "},
        {RP_SQL_RECORD_GET, "SEARCH records USING PRIMARY KEY (origin=? AND seq_first=?); "},
        {RP_SQL_RECORDS_OF_ORIGIN, "SEARCH records USING PRIMARY KEY (origin=?); "},
        {RP_SQL_RECORDS_OF_EPISODE, "SEARCH records USING INDEX records_by_episode "
                                    "(episode_origin=? AND episode_number=?); "},
        {RP_SQL_RECORDS_OF_ORIGIN_NOT_AT_BASE,
         "SEARCH records USING INDEX records_not_at_base (origin=?); "},
        {RP_SQL_DELIVERY_GET, "SEARCH records USING PRIMARY KEY (origin=? AND seq_first<?); "},
        {RP_SQL_DELIVERY_BASE, "SEARCH records USING INDEX records_not_at_base "
                               "(origin=? AND seq_first>? AND seq_first<?); "},
        {RP_SQL_CHARGES_DROP, "SEARCH charges USING PRIMARY KEY (boot=? AND at_us<?); "},
        {RP_SQL_CHARGES_DROP_OTHERS,
         "MULTI-INDEX OR; INDEX 1; SEARCH charges USING PRIMARY KEY (boot<?); INDEX 2; SEARCH "
         "charges USING PRIMARY KEY (boot>?); "},
        {RP_SQL_CHARGES_ALL, "SCAN charges; "},
        {RP_SQL_VALUE_GET, "SEARCH named_values USING PRIMARY KEY (name=?); "},
    };
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        char plan[512];
        plan_of(f, expected[i].which, plan, sizeof plan);
        assert_string_equal(plan, expected[i].plan);
    }
}

int main(void)
{
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_open, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(every_column_comes_back),          CASE(filters_find_what_they_say),
        CASE(only_the_first_delivery_is_kept),  CASE(base_marks_whole_records_once),
        CASE(a_visitor_may_read_but_not_write), CASE(the_log_is_append_only_for_other_tools_too),
        CASE(queries_search_by_index),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
