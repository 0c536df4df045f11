#include "store/ops.h"

#include <sqlite3.h>

#include "store/statements.h"

/* The airtime budget looks back one hour; twice that is kept (node/station_store.h). */
#define KEEP_S (2 * 3600)

static int insert_charge(struct rp_store *store, int64_t unix_s, uint32_t airtime_us, bool urgent)
{
    sqlite3_stmt *drop = store->statements[RP_SQL_CHARGES_DROP];
    rp_store_bind(drop, ":before_s", unix_s - KEEP_S);
    int code = rp_store_run(store, drop);
    if (code < 0) {
        return code;
    }
    sqlite3_stmt *put = store->statements[RP_SQL_CHARGE_PUT];
    rp_store_bind(put, ":unix_s", unix_s);
    rp_store_bind(put, ":airtime_us", airtime_us);
    rp_store_bind(put, ":urgent", urgent);
    return rp_store_run(store, put);
}

int rp_store_charge(void *ctx, int64_t unix_s, uint32_t airtime_us, bool urgent)
{
    struct rp_store *store = ctx;
    if (unix_s < 0) {
        return RP_E_INVALID;
    }
    int code = rp_store_begin(store);
    return code < 0 ? code : rp_store_end(store, insert_charge(store, unix_s, airtime_us, urgent));
}

static int visit_charges(struct rp_store *store, sqlite3_stmt *statement, rp_charge_visit *visit,
                         void *arg)
{
    int code;
    while ((code = rp_store_step(store, statement)) == 1) {
        int64_t airtime_us = sqlite3_column_int64(statement, 1);
        if (airtime_us < 0 || airtime_us > UINT32_MAX) {
            return RP_E_CORRUPT;
        }
        code = visit(arg, sqlite3_column_int64(statement, 0), (uint32_t)airtime_us,
                     sqlite3_column_int(statement, 2) != 0);
        if (code != 0) {
            return code;
        }
    }
    return code;
}

int rp_store_each_charge(void *ctx, int64_t since_unix_s, rp_charge_visit *visit, void *arg)
{
    struct rp_store *store = ctx;
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_CHARGES_SINCE);
    if (statement == NULL) {
        return RP_E_STATE;
    }
    rp_store_bind(statement, ":since_s", since_unix_s);
    store->visiting++;
    int code = visit_charges(store, statement, visit, arg);
    store->visiting--;
    rp_store_release(statement);
    return code;
}
