#include "store/ops.h"

#include <sqlite3.h>

#include "store/statements.h"

/* The airtime budget looks back one hour; twice that is kept of this run of the computer. What is
 * of another run is older than this run is (node/station_store.h). */
#define HOUR_US ((int64_t)3600 * 1000000)
#define KEEP_US (2 * HOUR_US)

static int drop_old(struct rp_store *store, const struct rp_charge *now)
{
    sqlite3_stmt *drop = store->statements[RP_SQL_CHARGES_DROP];
    rp_store_bind(drop, ":boot", now->boot);
    rp_store_bind(drop, ":before_us", now->at_us - KEEP_US);
    int code = rp_store_run(store, drop);
    if (code < 0 || now->at_us <= HOUR_US) {
        return code;
    }
    sqlite3_stmt *others = store->statements[RP_SQL_CHARGES_DROP_OTHERS];
    rp_store_bind(others, ":boot", now->boot);
    return rp_store_run(store, others);
}

static int insert_charge(struct rp_store *store, const struct rp_charge *charge)
{
    int code = drop_old(store, charge);
    if (code < 0) {
        return code;
    }
    sqlite3_stmt *put = store->statements[RP_SQL_CHARGE_PUT];
    rp_store_bind(put, ":boot", charge->boot);
    rp_store_bind(put, ":at_us", charge->at_us);
    rp_store_bind(put, ":unix_s", charge->unix_s);
    rp_store_bind(put, ":synced", charge->synced);
    rp_store_bind(put, ":freq_hz", charge->freq_hz);
    rp_store_bind(put, ":airtime_us", charge->airtime_us);
    rp_store_bind(put, ":urgent", charge->urgent);
    return rp_store_run(store, put);
}

int rp_store_charge(void *ctx, const struct rp_charge *charge)
{
    struct rp_store *store = ctx;
    if (charge->unix_s < 0 || charge->at_us < 0) {
        return RP_E_INVALID;
    }
    int code = rp_store_begin(store);
    return code < 0 ? code : rp_store_end(store, insert_charge(store, charge));
}

static int read_charge(sqlite3_stmt *statement, struct rp_charge *out_charge)
{
    int64_t freq_hz = sqlite3_column_int64(statement, 4);
    int64_t airtime_us = sqlite3_column_int64(statement, 5);
    if (freq_hz < 0 || freq_hz > UINT32_MAX || airtime_us < 0 || airtime_us > UINT32_MAX) {
        return RP_E_CORRUPT;
    }
    *out_charge = (struct rp_charge){
        .boot = sqlite3_column_int64(statement, 0),
        .at_us = sqlite3_column_int64(statement, 1),
        .unix_s = sqlite3_column_int64(statement, 2),
        .synced = sqlite3_column_int(statement, 3) != 0,
        .freq_hz = (uint32_t)freq_hz,
        .airtime_us = (uint32_t)airtime_us,
        .urgent = sqlite3_column_int(statement, 6) != 0,
    };
    return RP_OK;
}

static int visit_charges(struct rp_store *store, sqlite3_stmt *statement, rp_charge_visit *visit,
                         void *arg)
{
    int code;
    while ((code = rp_store_step(store, statement)) == 1) {
        struct rp_charge charge;
        code = read_charge(statement, &charge);
        if (code == RP_OK) {
            code = visit(arg, &charge);
        }
        if (code != 0) {
            return code;
        }
    }
    return code;
}

int rp_store_each_charge(void *ctx, rp_charge_visit *visit, void *arg)
{
    struct rp_store *store = ctx;
    sqlite3_stmt *statement = rp_store_statement(store, RP_SQL_CHARGES_ALL);
    if (statement == NULL) {
        return RP_E_STATE;
    }
    store->visiting++;
    int code = visit_charges(store, statement, visit, arg);
    store->visiting--;
    rp_store_release(statement);
    return code;
}
