/* An open store and its prepared statements. Internal to src/store. */
#ifndef RP_STORE_STATEMENTS_H
#define RP_STORE_STATEMENTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/problem.h"
#include "ridgepost/view.h"

struct sqlite3;
struct sqlite3_stmt;

enum rp_store_statement {
    RP_SQL_BEGIN,
    RP_SQL_COMMIT,
    RP_SQL_ROLLBACK,
    RP_SQL_SEGMENT_PUT,
    RP_SQL_SEGMENT_GET,
    RP_SQL_SEGMENTS_COUNT,
    RP_SQL_SEGMENTS_LAST,
    RP_SQL_SEGMENTS_KEYS,
    RP_SQL_RECORD_PUT,
    RP_SQL_RECORD_GET,
    RP_SQL_RECORDS_ALL,
    RP_SQL_RECORDS_OF_ORIGIN,
    RP_SQL_RECORDS_OF_EPISODE,
    RP_SQL_RECORDS_NOT_AT_BASE,
    RP_SQL_RECORDS_OF_ORIGIN_NOT_AT_BASE,
    RP_SQL_DELIVERY_GET,
    RP_SQL_DELIVERY_AIRED,
    RP_SQL_DELIVERY_HEARD,
    RP_SQL_DELIVERY_BASE,
    RP_SQL_CHARGES_DROP,
    RP_SQL_CHARGES_DROP_OTHERS,
    RP_SQL_CHARGE_PUT,
    RP_SQL_CHARGES_ALL,
    RP_SQL_VALUE_GET,
    RP_SQL_VALUE_SET,
    RP_SQL_COUNT
};

/* All memory of the room comes from SQLite's allocator: one hook makes any of it fail. */
struct rp_store {
    struct sqlite3 *db;
    char *path;             /* as SQLite was given it */
    int lock_fd;            /* held while open */
    unsigned visiting;      /* visits under way: nothing may be written meanwhile */
    bool telling_runs;      /* the last run is told after its statement has ended */
    struct rp_problem last; /* of the last operation that failed below this room */
    struct sqlite3_stmt *statements[RP_SQL_COUNT];
};

const char *rp_store_sql(enum rp_store_statement which);
/* Prepares all; after a failure the caller closes, which finalises what there is. Returns an
 * SQLite result. */
int rp_store_prepare(struct rp_store *store);
void rp_store_finalize(struct rp_store *store);

/* The statement, reset and without bindings; NULL while it is in use further up the stack. */
struct sqlite3_stmt *rp_store_statement(struct rp_store *store, enum rp_store_statement which);
/* Binds a value where the statement has a parameter of that name; other names are passed over. */
void rp_store_bind(struct sqlite3_stmt *statement, const char *name, int64_t value);
void rp_store_bind_bytes(struct sqlite3_stmt *statement, const char *name, struct rp_view bytes);
void rp_store_bind_text(struct sqlite3_stmt *statement, const char *name, const char *text);
/* Steps a statement to its next row: 1 a row, 0 no more, or an rp_error. */
int rp_store_step(struct rp_store *store, struct sqlite3_stmt *statement);
/* Ends the use of a statement: every statement taken is released. */
void rp_store_release(struct sqlite3_stmt *statement);
/* Steps a statement that has no rows to its end and releases it: 0 or an rp_error. */
int rp_store_run(struct rp_store *store, struct sqlite3_stmt *statement);

/* Begins a write: 0; RP_E_STATE from within a visit; RP_E_BUSY, RP_E_IO, ... */
int rp_store_begin(struct rp_store *store);
/* Ends it: commits when code is 0 or more and returns code, or what the commit failed with; else
 * rolls back and returns code. After any failure nothing of the write is in the store. */
int rp_store_end(struct rp_store *store, int code);

#endif
