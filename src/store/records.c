#include "store/ops.h"

#include <assert.h>

#include <sqlite3.h>

#include "store/statements.h"

int rp_store_check_record(const struct rp_record_row *record)
{
    bool keys = record->origin > 0 && record->seq_first > 0 &&
                record->seq_last >= record->seq_first &&
                record->seq_last - record->seq_first < RP_RECORD_SEGMENTS_MAX;
    bool body = record->body.len > 0 && record->body.len <= RP_RECORD_LEN_MAX;
    bool episode = record->episode.number == 0 || record->episode.origin > 0;
    bool times = record->aired_s >= 0 && record->heard_s >= 0 && record->base_s >= 0;
    return keys && body && episode && times ? 0 : RP_E_INVALID;
}

/* Leaves NULL, which says "not yet" and "none", for 0. */
static void bind_unless_0(sqlite3_stmt *statement, const char *name, int64_t value)
{
    if (value != 0) {
        rp_store_bind(statement, name, value);
    }
}

int rp_store_insert_record(struct rp_store *store, const struct rp_record_row *record)
{
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_RECORD_PUT);
    assert(statement != NULL);
    rp_store_bind(statement, ":origin", record->origin);
    rp_store_bind(statement, ":seq_first", record->seq_first);
    rp_store_bind(statement, ":seq_last", record->seq_last);
    rp_store_bind(statement, ":kind", record->kind);
    rp_store_bind(statement, ":urgent", record->urgent);
    rp_store_bind(statement, ":exercise", record->exercise);
    rp_store_bind(statement, ":unsynced", record->unsynced);
    if (record->episode.number != 0) {
        rp_store_bind(statement, ":episode_origin", record->episode.origin);
        rp_store_bind(statement, ":episode_number", record->episode.number);
    }
    rp_store_bind(statement, ":time_s", record->time_s);
    rp_store_bind(statement, ":stored_s", record->stored_s);
    bind_unless_0(statement, ":aired_s", record->aired_s);
    if (record->heard_s != 0) {
        rp_store_bind(statement, ":heard_s", record->heard_s);
        rp_store_bind(statement, ":heard_station", record->heard_station);
    }
    bind_unless_0(statement, ":base_s", record->base_s);
    rp_store_bind_bytes(statement, ":body", record->body);
    return rp_store_run(store, statement);
}

/* Order of the columns in RECORD_COLUMNS of statements.c. */
enum column {
    ORIGIN,
    SEQ_FIRST,
    SEQ_LAST,
    KIND,
    URGENT,
    EXERCISE,
    UNSYNCED,
    EPISODE_ORIGIN,
    EPISODE_NUMBER,
    TIME_S,
    STORED_S,
    AIRED_S,
    HEARD_S,
    HEARD_STATION,
    BASE_S,
    BODY
};

/* The largest value each integer column may hold; the smallest is 0 (which NULL reads as). */
static const int64_t column_max[] = {
    [ORIGIN] = UINT16_MAX,
    [SEQ_FIRST] = UINT32_MAX,
    [SEQ_LAST] = UINT32_MAX,
    [KIND] = UINT8_MAX,
    [URGENT] = 1,
    [EXERCISE] = 1,
    [UNSYNCED] = 1,
    [EPISODE_ORIGIN] = UINT16_MAX,
    [EPISODE_NUMBER] = UINT8_MAX,
    [TIME_S] = UINT32_MAX,
    [STORED_S] = INT64_MAX,
    [AIRED_S] = INT64_MAX,
    [HEARD_S] = INT64_MAX,
    [HEARD_STATION] = UINT8_MAX,
    [BASE_S] = INT64_MAX,
};

/* The file may be damaged: its CHECKs are not looked at when it is read, so these are. */
static int read_row(sqlite3_stmt *statement, struct rp_record_row *out_row)
{
    int64_t value[BODY];
    for (int i = 0; i < BODY; i++) {
        value[i] = sqlite3_column_int64(statement, i);
        if ((value[i] < 0 && i != STORED_S) || value[i] > column_max[i]) {
            return RP_E_CORRUPT;
        }
    }
    const void *body = sqlite3_column_blob(statement, BODY);
    int len = sqlite3_column_bytes(statement, BODY);
    if (len < 1 || len > RP_RECORD_LEN_MAX) {
        return RP_E_CORRUPT;
    }
    if (body == NULL) {
        return RP_E_MEMORY;
    }
    *out_row = (struct rp_record_row){
        .origin = (uint16_t)value[ORIGIN],
        .seq_first = (uint32_t)value[SEQ_FIRST],
        .seq_last = (uint32_t)value[SEQ_LAST],
        .kind = (uint8_t)value[KIND],
        .urgent = value[URGENT] != 0,
        .exercise = value[EXERCISE] != 0,
        .unsynced = value[UNSYNCED] != 0,
        .episode = {(uint16_t)value[EPISODE_ORIGIN], (uint8_t)value[EPISODE_NUMBER]},
        .time_s = (uint32_t)value[TIME_S],
        .stored_s = value[STORED_S],
        .aired_s = value[AIRED_S],
        .heard_s = value[HEARD_S],
        .base_s = value[BASE_S],
        .heard_station = (uint8_t)value[HEARD_STATION],
        .body = {body, (size_t)len},
    };
    return 0;
}

static int visit_records(struct rp_store *store, sqlite3_stmt *statement, rp_record_visit *visit,
                         void *arg, int *out_visited)
{
    int code;
    while ((code = rp_store_step(store, statement)) == 1) {
        struct rp_record_row row;
        code = read_row(statement, &row);
        if (code < 0) {
            return code;
        }
        (*out_visited)++;
        code = visit(arg, &row);
        if (code != 0) {
            return code;
        }
    }
    return code;
}

static int visit_and_release(struct rp_store *store, sqlite3_stmt *statement,
                             rp_record_visit *visit, void *arg, int *out_visited)
{
    store->visiting++;
    int code = visit_records(store, statement, visit, arg, out_visited);
    store->visiting--;
    rp_store_release(statement);
    return code;
}

/* The statement whose index fits the filter best; it looks at the rest of the filter itself. */
static enum rp_store_statement statement_for(const struct rp_record_filter *filter)
{
    if (filter->episode.number != 0) {
        return RP_SQL_RECORDS_OF_EPISODE;
    }
    if (filter->not_at_base) {
        return filter->origin == 0 ? RP_SQL_RECORDS_NOT_AT_BASE
                                   : RP_SQL_RECORDS_OF_ORIGIN_NOT_AT_BASE;
    }
    return filter->origin == 0 ? RP_SQL_RECORDS_ALL : RP_SQL_RECORDS_OF_ORIGIN;
}

int rp_store_each_record(void *ctx, const struct rp_record_filter *filter, rp_record_visit *visit,
                         void *arg)
{
    struct rp_store *store = ctx;
    if (filter->episode.number != 0 && filter->episode.origin == 0) {
        return RP_E_INVALID;
    }
    sqlite3_stmt *statement = rp_store_statement(store, statement_for(filter));
    if (statement == NULL) {
        return RP_E_STATE;
    }
    rp_store_bind(statement, ":origin", filter->origin);
    rp_store_bind(statement, ":episode_origin", filter->episode.origin);
    rp_store_bind(statement, ":episode_number", filter->episode.number);
    rp_store_bind(statement, ":kind", filter->kind);
    rp_store_bind(statement, ":not_at_base", filter->not_at_base);
    int visited = 0;
    return visit_and_release(store, statement, visit, arg, &visited);
}

int rp_store_get_record(void *ctx, struct rp_record_ref ref, rp_record_visit *visit, void *arg)
{
    struct rp_store *store = ctx;
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_RECORD_GET);
    if (statement == NULL) {
        return RP_E_STATE;
    }
    rp_store_bind(statement, ":origin", ref.origin);
    rp_store_bind(statement, ":seq_first", ref.seq);
    int visited = 0;
    int code = visit_and_release(store, statement, visit, arg, &visited);
    return code == 0 && visited == 0 ? RP_E_NOT_FOUND : code;
}
