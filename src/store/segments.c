#include "store/ops.h"

#include <assert.h>
#include <string.h>

#include <sqlite3.h>

#include "store/statements.h"

static int check_segment(const struct rp_segment_row *segment)
{
    bool good = segment->origin > 0 && segment->seq > 0 && segment->sealed.len > 0 &&
                segment->sealed.len <= RP_FRAME_LEN_MAX;
    return good ? 0 : RP_E_INVALID;
}

/* The segments of one record: of one origin, without a gap, the flags at the ends only. */
static int check_own(const struct rp_segment_row *segments, size_t count,
                     const struct rp_record_row *record)
{
    int code = rp_store_check_record(record);
    if (code < 0) {
        return code;
    }
    if (count != (uint64_t)record->seq_last - record->seq_first + 1) {
        return RP_E_INVALID;
    }
    for (size_t i = 0; i < count; i++) {
        const struct rp_segment_row *segment = &segments[i];
        if (check_segment(segment) < 0 || segment->origin != record->origin ||
            segment->seq != record->seq_first + i || segment->first != (i == 0) ||
            segment->last != (i + 1 == count)) {
            return RP_E_INVALID;
        }
    }
    return 0;
}

/* How many of the sequences are held. */
static int count_held(struct rp_store *store, uint16_t origin, uint32_t seq_first,
                      uint32_t seq_last)
{
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_SEGMENTS_COUNT);
    assert(statement != NULL);
    rp_store_bind(statement, ":origin", origin);
    rp_store_bind(statement, ":seq_first", seq_first);
    rp_store_bind(statement, ":seq_last", seq_last);
    int code = rp_store_step(store, statement);
    if (code == 1) {
        code = sqlite3_column_int(statement, 0);
    }
    rp_store_release(statement);
    return code;
}

static int insert_segment(struct rp_store *store, const struct rp_segment_row *segment)
{
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_SEGMENT_PUT);
    assert(statement != NULL);
    rp_store_bind(statement, ":origin", segment->origin);
    rp_store_bind(statement, ":seq", segment->seq);
    rp_store_bind(statement, ":first", segment->first);
    rp_store_bind(statement, ":last", segment->last);
    rp_store_bind_bytes(statement, ":sealed", segment->sealed);
    return rp_store_run(store, statement);
}

/* Under the entry's name, so that the same entry made again is known. */
static int keep_place(struct rp_store *store, const struct rp_record_row *record)
{
    uint8_t place[6] = {(uint8_t)(record->origin >> 8),     (uint8_t)record->origin,
                        (uint8_t)(record->seq_first >> 24), (uint8_t)(record->seq_first >> 16),
                        (uint8_t)(record->seq_first >> 8),  (uint8_t)record->seq_first};
    return rp_store_put_value(store, record->entry_name, (struct rp_view){place, sizeof place});
}

static int insert_own(struct rp_store *store, const struct rp_segment_row *segments, size_t count,
                      const struct rp_record_row *record)
{
    int code = count_held(store, record->origin, record->seq_first, record->seq_last);
    if (code > 0) {
        return RP_E_DUPLICATE;
    }
    for (size_t i = 0; i < count && code == 0; i++) {
        code = insert_segment(store, &segments[i]);
    }
    if (code == 0) {
        code = rp_store_insert_record(store, record);
    }
    return code < 0 || record->entry_name == NULL ? code : keep_place(store, record);
}

int rp_store_append_own(void *ctx, const struct rp_segment_row *segments, size_t count,
                        const struct rp_record_row *record)
{
    struct rp_store *store = ctx;
    int code = check_own(segments, count, record);
    if (code == 0) {
        code = rp_store_begin(store);
    }
    return code < 0 ? code : rp_store_end(store, insert_own(store, segments, count, record));
}

static int check_foreign(const struct rp_segment_row *segment, const struct rp_record_row *record)
{
    int code = check_segment(segment);
    if (code < 0 || record == NULL) {
        return code;
    }
    code = rp_store_check_record(record);
    if (code < 0) {
        return code;
    }
    bool inside = segment->origin == record->origin && segment->seq >= record->seq_first &&
                  segment->seq <= record->seq_last;
    bool ends = segment->first == (segment->seq == record->seq_first) &&
                segment->last == (segment->seq == record->seq_last);
    return inside && ends ? 0 : RP_E_INVALID;
}

static int insert_foreign(struct rp_store *store, const struct rp_segment_row *segment,
                          const struct rp_record_row *record)
{
    int held = count_held(store, segment->origin, segment->seq, segment->seq);
    if (held != 0) {
        return held < 0 ? held : RP_E_DUPLICATE;
    }
    int code = insert_segment(store, segment);
    if (code < 0 || record == NULL) {
        return code;
    }
    held = count_held(store, record->origin, record->seq_first, record->seq_last);
    if (held < 0) {
        return held;
    }
    if (held != (int)(record->seq_last - record->seq_first + 1)) {
        return RP_E_INVALID; /* the record is not complete */
    }
    return rp_store_insert_record(store, record);
}

int rp_store_put_segment(void *ctx, const struct rp_segment_row *segment,
                         const struct rp_record_row *record)
{
    struct rp_store *store = ctx;
    int code = check_foreign(segment, record);
    if (code == 0) {
        code = rp_store_begin(store);
    }
    return code < 0 ? code : rp_store_end(store, insert_foreign(store, segment, record));
}

static int copy_segment(sqlite3_stmt *statement, bool *out_first, bool *out_last, uint8_t *buf,
                        size_t cap)
{
    const void *sealed = sqlite3_column_blob(statement, 2);
    int len = sqlite3_column_bytes(statement, 2);
    if (len < 1 || len > RP_FRAME_LEN_MAX) {
        return RP_E_CORRUPT;
    }
    if (sealed == NULL) {
        return RP_E_MEMORY;
    }
    if ((size_t)len > cap) {
        return RP_E_TOO_LONG;
    }
    memcpy(buf, sealed, (size_t)len);
    *out_first = sqlite3_column_int(statement, 0) != 0;
    *out_last = sqlite3_column_int(statement, 1) != 0;
    return len;
}

int rp_store_get_segment(void *ctx, uint16_t origin, uint32_t seq, bool *out_first, bool *out_last,
                         uint8_t *buf, size_t cap)
{
    struct rp_store *store = ctx;
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_SEGMENT_GET);
    assert(statement != NULL);
    rp_store_bind(statement, ":origin", origin);
    rp_store_bind(statement, ":seq", seq);
    int code = rp_store_step(store, statement);
    if (code == 1) {
        code = copy_segment(statement, out_first, out_last, buf, cap);
    } else if (code == 0) {
        code = RP_E_NOT_FOUND;
    }
    rp_store_release(statement);
    return code;
}

struct run {
    bool open;
    uint16_t origin;
    uint32_t first, last;
};

/* Joins the next key to the run, or visits the run and begins another. */
static int extend_run(struct run *run, uint16_t origin, uint32_t seq, rp_run_visit *visit,
                      void *arg)
{
    if (run->open && origin == run->origin && seq == run->last + 1) {
        run->last = seq;
        return 0;
    }
    struct run ended = *run;
    *run = (struct run){.open = true, .origin = origin, .first = seq, .last = seq};
    return ended.open ? visit(arg, ended.origin, ended.first, ended.last) : 0;
}

static int visit_runs(struct rp_store *store, sqlite3_stmt *statement, rp_run_visit *visit,
                      void *arg)
{
    struct run run = {.open = false};
    int code;
    while ((code = rp_store_step(store, statement)) == 1) {
        int64_t origin = sqlite3_column_int64(statement, 0);
        int64_t seq = sqlite3_column_int64(statement, 1);
        if (origin < 1 || origin > UINT16_MAX || seq < 1 || seq > UINT32_MAX) {
            return RP_E_CORRUPT;
        }
        int stop = extend_run(&run, (uint16_t)origin, (uint32_t)seq, visit, arg);
        if (stop != 0) {
            return stop;
        }
    }
    if (code == 0 && run.open) {
        return visit(arg, run.origin, run.first, run.last);
    }
    return code;
}

int rp_store_each_run(void *ctx, rp_run_visit *visit, void *arg)
{
    struct rp_store *store = ctx;
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_SEGMENTS_KEYS);
    if (statement == NULL || store->telling_runs) {
        return RP_E_STATE;
    }
    store->visiting++;
    store->telling_runs = true;
    int code = visit_runs(store, statement, visit, arg);
    store->telling_runs = false;
    store->visiting--;
    rp_store_release(statement);
    return code;
}

int64_t rp_store_last_seq(void *ctx, uint16_t origin)
{
    struct rp_store *store = ctx;
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_SEGMENTS_LAST);
    assert(statement != NULL);
    rp_store_bind(statement, ":origin", origin);
    int64_t seq = rp_store_step(store, statement);
    if (seq == 1) {
        seq = sqlite3_column_int64(statement, 0); /* NULL reads as 0 */
    }
    rp_store_release(statement);
    return seq;
}
