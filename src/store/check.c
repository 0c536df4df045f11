#include "store/store.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include <sqlite3.h>

#include "store/fault.h"
#include "store/statements.h"

/* A record whose segments are not all there, whose ends are not marked in its segments, or that
 * reaches into the next one. */
static const char faulty_record[] =
    "SELECT origin, seq_first, seq_last,"
    "  (SELECT count(*) FROM segments AS s WHERE s.origin = r.origin"
    "     AND s.seq BETWEEN r.seq_first AND r.seq_last) AS held,"
    "  (SELECT count(*) FROM segments AS s WHERE s.origin = r.origin"
    "     AND s.seq BETWEEN r.seq_first AND r.seq_last"
    "     AND s.first = (s.seq = r.seq_first) AND s.last = (s.seq = r.seq_last)) AS marked,"
    "  EXISTS (SELECT 1 FROM records AS n WHERE n.origin = r.origin"
    "     AND n.seq_first > r.seq_first AND n.seq_first <= r.seq_last) AS overlaps "
    "FROM records AS r "
    "WHERE held <> seq_last - seq_first + 1 OR marked <> held OR overlaps LIMIT 1";

static int tell_integrity(struct rp_store *store, sqlite3_stmt *statement,
                          struct rp_problem *out_problem)
{
    const unsigned char *text = sqlite3_column_text(statement, 0);
    if (text != NULL && strcmp((const char *)text, "ok") == 0) {
        return 0;
    }
    return rp_problem_set(out_problem, RP_E_CORRUPT, "path",
                          "%.60s is damaged (%.70s): keep the file, and start a fresh log",
                          store->path, text == NULL ? "no detail" : (const char *)text);
}

static int tell_record(struct rp_store *store, sqlite3_stmt *statement,
                       struct rp_problem *out_problem)
{
    int64_t first = sqlite3_column_int64(statement, 1), last = sqlite3_column_int64(statement, 2);
    int64_t held = sqlite3_column_int64(statement, 3);
    char what[64] = "its segments are not marked first and last as they should be";
    if (held != last - first + 1) {
        snprintf(what, sizeof what, "only %d of %d segments held", (int)held,
                 (int)(last - first + 1));
    } else if (sqlite3_column_int(statement, 5) != 0) {
        snprintf(what, sizeof what, "another record begins inside it");
    }
    return rp_problem_set(out_problem, RP_E_CORRUPT, "path",
                          "%.60s: record %d:%lld is damaged: %s; keep the file", store->path,
                          sqlite3_column_int(statement, 0), (long long)first, what);
}

typedef int teller(struct rp_store *store, sqlite3_stmt *statement, struct rp_problem *out_problem);

/* Asks one question; its first row, if any, is for the teller. */
static int ask(struct rp_store *store, const char *question, teller *tell,
               struct rp_problem *out_problem)
{
    sqlite3_stmt *statement;
    errno = 0;
    int result = sqlite3_prepare_v2(store->db, question, -1, &statement, NULL);
    if (result != SQLITE_OK) {
        return rp_store_explain_sqlite(out_problem, store->path, store->db, result);
    }
    int code = 0;
    result = sqlite3_step(statement);
    if (result == SQLITE_ROW) {
        code = tell(store, statement, out_problem);
    } else if (result != SQLITE_DONE) {
        code = rp_store_explain_sqlite(out_problem, store->path, store->db, result);
    }
    sqlite3_finalize(statement);
    return code;
}

int rp_store_check(struct rp_store *store, struct rp_problem *out_problem)
{
    int code = ask(store, "PRAGMA integrity_check(1)", tell_integrity, out_problem);
    return code < 0 ? code : ask(store, faulty_record, tell_record, out_problem);
}
