#include "store/ops.h"

#include <assert.h>

#include <sqlite3.h>

#include "store/statements.h"

/* What is known of the record that holds a segment. */
struct delivery {
    uint32_t seq_first;
    bool aired, heard;
};

static int read_delivery(struct rp_store *store, uint16_t origin, uint32_t seq,
                         struct delivery *out_delivery)
{
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_DELIVERY_GET);
    assert(statement != NULL);
    rp_store_bind(statement, ":origin", origin);
    rp_store_bind(statement, ":seq", seq);
    int code = rp_store_step(store, statement);
    if (code == 1 && sqlite3_column_int64(statement, 1) >= seq) {
        *out_delivery = (struct delivery){
            .seq_first = (uint32_t)sqlite3_column_int64(statement, 0),
            .aired = sqlite3_column_type(statement, 2) != SQLITE_NULL,
            .heard = sqlite3_column_type(statement, 3) != SQLITE_NULL,
        };
        code = 0;
    } else if (code >= 0) {
        code = RP_E_NOT_FOUND;
    }
    rp_store_release(statement);
    return code;
}

/* Runs an UPDATE in a transaction of its own; returns how many rows it changed. */
static int update(struct rp_store *store, sqlite3_stmt *statement)
{
    int code = rp_store_begin(store);
    if (code < 0) {
        rp_store_release(statement);
        return code;
    }
    code = rp_store_run(store, statement);
    return rp_store_end(store, code < 0 ? code : sqlite3_changes(store->db));
}

static int mark_first(struct rp_store *store, enum rp_store_statement which, uint16_t origin,
                      uint32_t seq, int64_t unix_s, uint8_t station)
{
    struct delivery delivery;
    if (unix_s <= 0) {
        return RP_E_INVALID;
    }
    if (store->visiting > 0) {
        return RP_E_STATE;
    }
    int code = read_delivery(store, origin, seq, &delivery);
    if (code < 0) {
        return code;
    }
    if (which == RP_SQL_DELIVERY_AIRED ? delivery.aired : delivery.heard) {
        return 0;
    }
    sqlite3_stmt *statement = rp_store_statement(store, which);
    rp_store_bind(statement, ":origin", origin);
    rp_store_bind(statement, ":seq_first", delivery.seq_first);
    rp_store_bind(statement, ":unix_s", unix_s);
    rp_store_bind(statement, ":station", station);
    code = update(store, statement);
    return code < 0 ? code : 0;
}

int rp_store_mark_aired(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s)
{
    return mark_first(ctx, RP_SQL_DELIVERY_AIRED, origin, seq, unix_s, 0);
}

int rp_store_mark_heard(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s, uint8_t station)
{
    return mark_first(ctx, RP_SQL_DELIVERY_HEARD, origin, seq, unix_s, station);
}

int rp_store_mark_base(void *ctx, uint16_t origin, uint32_t seq_first, uint32_t seq_last,
                       int64_t unix_s)
{
    struct rp_store *store = ctx;
    if (unix_s <= 0 || seq_first > seq_last) {
        return RP_E_INVALID;
    }
    if (store->visiting > 0) {
        return RP_E_STATE;
    }
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_DELIVERY_BASE);
    rp_store_bind(statement, ":origin", origin);
    rp_store_bind(statement, ":seq_first", seq_first);
    rp_store_bind(statement, ":seq_last", seq_last);
    rp_store_bind(statement, ":unix_s", unix_s);
    return update(store, statement);
}
