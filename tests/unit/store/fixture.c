#include "fixture.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

int fixture_folder(void **state)
{
    struct fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    /* In memory where the system has such a place: a slow disk adds nothing to these tests. */
    const char *parent = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    snprintf(f->folder, sizeof f->folder, "%s/rp-store-XXXXXX", parent);
    assert_non_null(mkdtemp(f->folder));
    snprintf(f->path, sizeof f->path, "%s/log.db", f->folder);
    f->ops = rp_store_ops();
    *state = f;
    return 0;
}

int fixture_open(void **state)
{
    fixture_folder(state);
    fixture_reopen(*state);
    return 0;
}

static void remove_folder(const char *folder)
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    struct dirent *entry;
    while ((entry = readdir(dir)) != NULL) {
        char path[400];
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0) {
            assert_int_equal(remove(path), 0);
        }
    }
    closedir(dir);
    assert_int_equal(rmdir(folder), 0);
}

int fixture_close(void **state)
{
    struct fixture *f = *state;
    rp_store_close(f->store);
    remove_folder(f->folder);
    free(f);
    return 0;
}

void fixture_reopen(struct fixture *f)
{
    struct rp_problem problem = {0};
    rp_store_close(f->store);
    f->store = NULL;
    int code = rp_store_open(f->path, &f->store, &problem);
    if (code != 0) {
        fail_msg("open: %d %s", code, problem.text);
    }
}

const char *fixture_side(const struct fixture *f, const char *suffix)
{
    static char path[128];
    snprintf(path, sizeof path, "%s%s", f->path, suffix);
    return path;
}

int fixture_sql(const struct fixture *f, const char *sql)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    int result = sqlite3_exec(db, sql, NULL, NULL, NULL);
    sqlite3_close(db);
    return result;
}

int64_t fixture_number(const struct fixture *f, const char *sql)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t number = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return number;
}

void fixture_write_file(const char *path, const void *bytes, size_t len)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, len, file), len);
    assert_int_equal(fclose(file), 0);
}

static void fill_bytes(uint8_t *bytes, size_t len, uint16_t origin, uint32_t seq, char what)
{
    char text[64];
    int n = snprintf(text, sizeof text, "%c %u:%u ", what, (unsigned)origin, (unsigned)seq);
    for (size_t i = 0; i < len; i++) {
        bytes[i] = (uint8_t)text[i % (size_t)n];
    }
}

void rows_fill(struct rows *rows, uint16_t origin, uint32_t seq, size_t count)
{
    memset(rows, 0, sizeof *rows);
    rows->count = count;
    for (size_t i = 0; i < count; i++) {
        fill_bytes(rows->sealed[i], 40, origin, seq + (uint32_t)i, 's');
        rows->segments[i] = (struct rp_segment_row){
            .origin = origin,
            .seq = seq + (uint32_t)i,
            .first = i == 0,
            .last = i + 1 == count,
            .sealed = {rows->sealed[i], 40},
        };
    }
    fill_bytes(rows->body, 40, origin, seq, 'b');
    rows->record = (struct rp_record_row){
        .origin = origin,
        .seq_first = seq,
        .seq_last = seq + (uint32_t)count - 1,
        .kind = RP_REC_STATUS,
        .urgent = seq % 2 == 1,
        .episode = {origin, 1},
        .time_s = 5000 + seq,
        .stored_s = 1790000000 + (int64_t)seq,
        .body = {rows->body, 40},
    };
}

int rows_append(struct rp_store *store, uint16_t origin, uint32_t seq, size_t count)
{
    struct rows rows;
    rows_fill(&rows, origin, seq, count);
    return rp_store_ops()->append_own(store, rows.segments, rows.count, &rows.record);
}

int seen_visit(void *arg, const struct rp_record_row *row)
{
    struct seen *seen = arg;
    assert_true(seen->count < 64);
    assert_true(row->body.len <= 40);
    seen->rows[seen->count] = *row;
    memcpy(seen->bodies[seen->count], row->body.bytes, row->body.len);
    seen->rows[seen->count].body.bytes = seen->bodies[seen->count];
    seen->count++;
    return seen->count == seen->stop_after ? 77 : 0;
}

void assert_rows_held(struct rp_store *store, uint16_t origin, uint32_t seq, size_t count)
{
    const struct rp_store_ops *ops = rp_store_ops();
    struct rows rows;
    rows_fill(&rows, origin, seq, count);
    for (size_t i = 0; i < count; i++) {
        uint8_t buf[RP_FRAME_LEN_MAX];
        bool first = false, last = false;
        assert_int_equal(
            ops->get_segment(store, origin, seq + (uint32_t)i, &first, &last, buf, sizeof buf), 40);
        assert_memory_equal(buf, rows.sealed[i], 40);
        assert_int_equal(first, i == 0);
        assert_int_equal(last, i + 1 == count);
    }
    static struct seen seen;
    seen.count = 0;
    assert_int_equal(ops->get_record(store, (struct rp_record_ref){origin, seq}, seen_visit, &seen),
                     0);
    assert_int_equal(seen.rows[0].seq_last, seq + count - 1);
    assert_int_equal(seen.rows[0].body.len, 40);
    assert_memory_equal(seen.bodies[0], rows.body, 40);
}

void assert_whole(struct rp_store *store)
{
    struct rp_problem problem = {0};
    if (rp_store_check(store, &problem) != 0) {
        fail_msg("%s", problem.text);
    }
}
