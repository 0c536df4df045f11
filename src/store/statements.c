#include "store/statements.h"

#include <assert.h>
#include <errno.h>

#include <sqlite3.h>

#include "store/fault.h"

#define RECORD_COLUMNS                                                                             \
    "origin, seq_first, seq_last, kind, urgent, exercise, unsynced, episode_origin, "              \
    "episode_number, time_s, stored_s, aired_s, heard_s, heard_station, base_s, body "

#define OF_KIND "(:kind = 0 OR kind = :kind) "

/* INDEXED BY makes a statement fail to prepare rather than scan the log one day. */
static const char *const sql[RP_SQL_COUNT] = {
    [RP_SQL_BEGIN] = "BEGIN IMMEDIATE",
    [RP_SQL_COMMIT] = "COMMIT",
    [RP_SQL_ROLLBACK] = "ROLLBACK",
    [RP_SQL_SEGMENT_PUT] = "INSERT INTO segments (origin, seq, first, last, sealed) "
                           "VALUES (:origin, :seq, :first, :last, :sealed)",
    [RP_SQL_SEGMENT_GET] = "SELECT first, last, sealed FROM segments "
                           "WHERE origin = :origin AND seq = :seq",
    [RP_SQL_SEGMENTS_COUNT] = "SELECT count(*) FROM segments "
                              "WHERE origin = :origin AND seq BETWEEN :seq_first AND :seq_last",
    [RP_SQL_SEGMENTS_LAST] = "SELECT max(seq) FROM segments WHERE origin = :origin",
    [RP_SQL_SEGMENTS_KEYS] = "SELECT origin, seq FROM segments ORDER BY origin, seq",
    [RP_SQL_RECORD_PUT] =
        "INSERT INTO records (" RECORD_COLUMNS ") VALUES (:origin, :seq_first, :seq_last, :kind, "
        ":urgent, :exercise, :unsynced, :episode_origin, :episode_number, :time_s, :stored_s, "
        ":aired_s, :heard_s, :heard_station, :base_s, :body)",
    [RP_SQL_RECORD_GET] = "SELECT " RECORD_COLUMNS "FROM records "
                          "WHERE origin = :origin AND seq_first = :seq_first",
    [RP_SQL_RECORDS_ALL] =
        "SELECT " RECORD_COLUMNS "FROM records WHERE " OF_KIND "ORDER BY origin, seq_first",
    [RP_SQL_RECORDS_OF_ORIGIN] = "SELECT " RECORD_COLUMNS "FROM records "
                                 "WHERE origin = :origin AND " OF_KIND "ORDER BY origin, seq_first",
    [RP_SQL_RECORDS_OF_EPISODE] =
        "SELECT " RECORD_COLUMNS "FROM records INDEXED BY records_by_episode "
        "WHERE episode_origin = :episode_origin AND episode_number = :episode_number AND " OF_KIND
        "AND (:origin = 0 OR origin = :origin) AND (:not_at_base = 0 OR base_s IS NULL) "
        "ORDER BY origin, seq_first",
    [RP_SQL_RECORDS_NOT_AT_BASE] =
        "SELECT " RECORD_COLUMNS "FROM records INDEXED BY records_not_at_base "
        "WHERE base_s IS NULL AND " OF_KIND "ORDER BY origin, seq_first",
    [RP_SQL_RECORDS_OF_ORIGIN_NOT_AT_BASE] =
        "SELECT " RECORD_COLUMNS "FROM records INDEXED BY records_not_at_base "
        "WHERE base_s IS NULL AND origin = :origin AND " OF_KIND "ORDER BY origin, seq_first",
    /* The last record that begins at or before the segment; its seq_last says if it holds it. */
    [RP_SQL_DELIVERY_GET] = "SELECT seq_first, seq_last, aired_s, heard_s FROM records "
                            "WHERE origin = :origin AND seq_first <= :seq "
                            "ORDER BY seq_first DESC LIMIT 1",
    [RP_SQL_DELIVERY_AIRED] = "UPDATE records SET aired_s = :unix_s "
                              "WHERE origin = :origin AND seq_first = :seq_first",
    [RP_SQL_DELIVERY_HEARD] = "UPDATE records SET heard_s = :unix_s, heard_station = :station "
                              "WHERE origin = :origin AND seq_first = :seq_first",
    [RP_SQL_DELIVERY_BASE] =
        "UPDATE records INDEXED BY records_not_at_base SET base_s = :unix_s "
        "WHERE base_s IS NULL AND origin = :origin "
        "AND seq_first BETWEEN :seq_first AND :seq_last AND seq_last <= :seq_last",
    [RP_SQL_CHARGES_DROP] = "DELETE FROM charges WHERE boot = :boot AND at_us < :before_us",
    [RP_SQL_CHARGES_DROP_OTHERS] = "DELETE FROM charges WHERE boot < :boot OR boot > :boot",
    [RP_SQL_CHARGE_PUT] =
        "INSERT INTO charges (boot, at_us, number, unix_s, synced, freq_hz, airtime_us, urgent) "
        "VALUES (:boot, :at_us, (SELECT ifnull(max(number), 0) + 1 FROM charges "
        "WHERE boot = :boot AND at_us = :at_us), :unix_s, :synced, :freq_hz, :airtime_us, "
        ":urgent)",
    [RP_SQL_CHARGES_ALL] =
        "SELECT boot, at_us, unix_s, synced, freq_hz, airtime_us, urgent FROM charges "
        "ORDER BY boot DESC, at_us DESC, number DESC",
    [RP_SQL_VALUE_GET] = "SELECT value FROM named_values WHERE name = :name",
    [RP_SQL_VALUE_SET] = "INSERT INTO named_values (name, value) VALUES (:name, :value) "
                         "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
};

const char *rp_store_sql(enum rp_store_statement which)
{
    return sql[which];
}

int rp_store_prepare(struct rp_store *store)
{
    for (size_t i = 0; i < RP_SQL_COUNT; i++) {
        int result = sqlite3_prepare_v3(store->db, sql[i], -1, SQLITE_PREPARE_PERSISTENT,
                                        &store->statements[i], NULL);
        if (result != SQLITE_OK) {
            return result;
        }
    }
    return SQLITE_OK;
}

void rp_store_finalize(struct rp_store *store)
{
    for (size_t i = 0; i < RP_SQL_COUNT; i++) {
        sqlite3_finalize(store->statements[i]);
        store->statements[i] = NULL;
    }
}

struct sqlite3_stmt *rp_store_statement(struct rp_store *store, enum rp_store_statement which)
{
    sqlite3_stmt *statement = store->statements[which];
    return sqlite3_stmt_busy(statement) ? NULL : statement;
}

void rp_store_bind(struct sqlite3_stmt *statement, const char *name, int64_t value)
{
    int index = sqlite3_bind_parameter_index(statement, name);
    if (index > 0) {
        int result = sqlite3_bind_int64(statement, index, value);
        assert(result == SQLITE_OK);
        (void)result;
    }
}

void rp_store_bind_bytes(struct sqlite3_stmt *statement, const char *name, struct rp_view bytes)
{
    /* A NULL pointer would bind NULL; a value may well be empty. */
    const void *start = bytes.len > 0 ? (const void *)bytes.bytes : "";
    int index = sqlite3_bind_parameter_index(statement, name);
    int result = sqlite3_bind_blob64(statement, index, start, bytes.len, SQLITE_STATIC);
    assert(result == SQLITE_OK);
    (void)result;
}

void rp_store_bind_text(struct sqlite3_stmt *statement, const char *name, const char *text)
{
    int index = sqlite3_bind_parameter_index(statement, name);
    int result = sqlite3_bind_text(statement, index, text, -1, SQLITE_STATIC);
    assert(result == SQLITE_OK);
    (void)result;
}

int rp_store_step(struct rp_store *store, struct sqlite3_stmt *statement)
{
    errno = 0;
    int result = sqlite3_step(statement);
    if (result == SQLITE_ROW) {
        return 1;
    }
    return result == SQLITE_DONE ? 0 : rp_store_fail(store, result);
}

void rp_store_release(struct sqlite3_stmt *statement)
{
    /* Both repeat or clear what a step has already reported. */
    (void)sqlite3_reset(statement);
    (void)sqlite3_clear_bindings(statement);
}

int rp_store_run(struct rp_store *store, struct sqlite3_stmt *statement)
{
    int code = rp_store_step(store, statement);
    rp_store_release(statement);
    return code;
}

int rp_store_begin(struct rp_store *store)
{
    if (store->visiting > 0) {
        return RP_E_STATE;
    }
    assert(sqlite3_get_autocommit(store->db));
    return rp_store_run(store, store->statements[RP_SQL_BEGIN]);
}

static void roll_back(struct rp_store *store)
{
    /* Many errors have rolled back already. Should ROLLBACK fail, SQLite has left the
     * transaction all the same and reads its state from the file again. */
    if (!sqlite3_get_autocommit(store->db)) {
        struct rp_problem cause = store->last;
        (void)rp_store_run(store, store->statements[RP_SQL_ROLLBACK]);
        store->last = cause;
    }
}

int rp_store_end(struct rp_store *store, int code)
{
    if (code >= 0) {
        int committed = rp_store_run(store, store->statements[RP_SQL_COMMIT]);
        code = committed < 0 ? committed : code;
    }
    if (code < 0) {
        roll_back(store);
    }
    return code;
}
