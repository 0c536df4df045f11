#include "store/store.h"

#include <errno.h>
#include <string.h>

#include <sqlite3.h>

#include "store/fault.h"
#include "store/file.h"
#include "store/ops.h"
#include "store/schema.h"
#include "store/statements.h"

/* How long a write waits for another program that reads or copies the log, in milliseconds. The
 * station stands still meanwhile: long enough for a look, short enough for the radio. */
#define BUSY_WAIT_MS 500

/* Set on each opening. journal_size_limit shortens the WAL again after a long read of another
 * program let it grow; a checkpoint each 256 pages (1 MiB) keeps it small otherwise. The cache is
 * small because the whole daemon has 8 MB. */
static const char pragmas[] = "PRAGMA synchronous = FULL;"
                              "PRAGMA foreign_keys = ON;"
                              "PRAGMA recursive_triggers = ON;"
                              "PRAGMA trusted_schema = OFF;"
                              "PRAGMA cell_size_check = ON;"
                              "PRAGMA cache_size = -512;"
                              "PRAGMA mmap_size = 0;"
                              "PRAGMA wal_autocheckpoint = 256;"
                              "PRAGMA journal_size_limit = 4194304;";

static int set_wal(sqlite3 *db, const char *path, struct rp_problem *out_problem)
{
    sqlite3_stmt *statement;
    int result = sqlite3_prepare_v2(db, "PRAGMA journal_mode = WAL", -1, &statement, NULL);
    if (result != SQLITE_OK) {
        return rp_store_explain_sqlite(out_problem, path, db, result);
    }
    int code = 0;
    result = sqlite3_step(statement);
    if (result != SQLITE_ROW) {
        code = rp_store_explain_sqlite(out_problem, path, db, result);
    } else {
        const char *mode = (const char *)sqlite3_column_text(statement, 0);
        if (mode == NULL || strcmp(mode, "wal") != 0) {
            code = rp_problem_set(out_problem, RP_E_UNSUPPORTED, "path",
                                  "%.80s is on a file system without shared memory: move it to a "
                                  "local disk, for example ext4",
                                  path);
        }
    }
    sqlite3_finalize(statement);
    return code;
}

static int set_up(struct rp_store *store, struct rp_problem *out_problem)
{
    sqlite3 *db = store->db;
    sqlite3_extended_result_codes(db, 1);
    sqlite3_busy_timeout(db, BUSY_WAIT_MS);
    sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    /* Nothing is written before it is known to be ours. */
    int version = rp_store_schema_version(db, store->path, &rp_store_log_schema, out_problem);
    if (version < 0) {
        return version;
    }
    int code = set_wal(db, store->path, out_problem);
    if (code < 0) {
        return code;
    }
    int result = sqlite3_exec(db, pragmas, NULL, NULL, NULL);
    if (result != SQLITE_OK) {
        return rp_store_explain_sqlite(out_problem, store->path, db, result);
    }
    code = rp_store_schema_migrate(db, store->path, &rp_store_log_schema, version, out_problem);
    if (code < 0) {
        return code;
    }
    result = rp_store_prepare(store);
    return result == SQLITE_OK ? 0 : rp_store_explain_sqlite(out_problem, store->path, db, result);
}

static int open_files(struct rp_store *store, struct rp_problem *out_problem)
{
    int code = rp_store_file_lock(store->path, &store->lock_fd, out_problem);
    if (code < 0) {
        return code;
    }
    code = rp_store_file_create(store->path, out_problem);
    if (code < 0) {
        return code;
    }
    errno = 0;
    /* One thread at a time uses a store: no mutexes. */
    int result =
        sqlite3_open_v2(store->path, &store->db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    if (result != SQLITE_OK) {
        return rp_store_explain_sqlite(out_problem, store->path, store->db, result);
    }
    return set_up(store, out_problem);
}

static struct rp_store *new_store(const char *path)
{
    struct rp_store *store = sqlite3_malloc(sizeof *store);
    if (store == NULL) {
        return NULL;
    }
    /* A path such as "file:x" or ":memory:" would mean something else to SQLite. */
    char *shown = sqlite3_mprintf("%s%s", path[0] == '/' ? "" : "./", path);
    if (shown == NULL) {
        sqlite3_free(store);
        return NULL;
    }
    *store = (struct rp_store){.path = shown, .lock_fd = -1};
    return store;
}

int rp_store_open(const char *path, struct rp_store **out_store, struct rp_problem *out_problem)
{
    if (path[0] == '\0') {
        return rp_problem_set(out_problem, RP_E_INVALID, "path",
                              "the path of the log is empty: give a file, for example log.db");
    }
    if (strlen(path) > RP_STORE_PATH_LEN_MAX) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "path",
                              "the path of the log is longer than %d bytes", RP_STORE_PATH_LEN_MAX);
    }
    struct rp_store *store = new_store(path);
    if (store == NULL) {
        return rp_store_explain(out_problem, path, RP_E_MEMORY, 0);
    }
    int code = open_files(store, out_problem);
    if (code == RP_E_BUSY) { /* not for long, but nobody should open it at this moment */
        code = rp_store_explain(out_problem, path, RP_E_TAKEN, 0);
    }
    if (code < 0) {
        rp_store_close(store);
        return code;
    }
    *out_store = store;
    return 0;
}

void rp_store_close(struct rp_store *store)
{
    if (store == NULL) {
        return;
    }
    rp_store_finalize(store);
    sqlite3_close(store->db);
    if (store->lock_fd >= 0) {
        rp_store_file_unlock(store->lock_fd);
    }
    sqlite3_free(store->path);
    sqlite3_free(store);
}

void rp_store_last_problem(const struct rp_store *store, struct rp_problem *out_problem)
{
    *out_problem = store->last;
}

const struct rp_store_ops *rp_store_ops(void)
{
    static const struct rp_store_ops ops = {
        .append_own = rp_store_append_own,
        .put_segment = rp_store_put_segment,
        .get_segment = rp_store_get_segment,
        .each_run = rp_store_each_run,
        .last_seq = rp_store_last_seq,
        .each_record = rp_store_each_record,
        .get_record = rp_store_get_record,
        .mark_aired = rp_store_mark_aired,
        .mark_heard = rp_store_mark_heard,
        .mark_base = rp_store_mark_base,
        .charge = rp_store_charge,
        .each_charge = rp_store_each_charge,
        .get_value = rp_store_get_value,
        .set_value = rp_store_set_value,
    };
    return &ops;
}
