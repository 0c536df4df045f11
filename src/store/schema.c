#include "store/schema.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>

#include <sqlite3.h>

#include "store/fault.h"

/* Version 1. Bounds repeat those of the headers (sealed: RP_FRAME_LEN_MAX, body:
 * RP_RECORD_LEN_MAX), for whoever writes with another tool. The triggers keep the log
 * append-only; the INSERT triggers also stop INSERT OR REPLACE, which deletes in silence. */
static const char version_1[] =
    "CREATE TABLE segments ("
    "  origin INTEGER NOT NULL CHECK (origin BETWEEN 1 AND 65535),"
    "  seq INTEGER NOT NULL CHECK (seq BETWEEN 1 AND 4294967295),"
    "  first INTEGER NOT NULL CHECK (first IN (0, 1)),"
    "  last INTEGER NOT NULL CHECK (last IN (0, 1)),"
    "  sealed BLOB NOT NULL CHECK (length(sealed) BETWEEN 1 AND 222),"
    "  PRIMARY KEY (origin, seq)"
    ") STRICT, WITHOUT ROWID;"

    "CREATE TABLE records ("
    "  origin INTEGER NOT NULL,"
    "  seq_first INTEGER NOT NULL,"
    "  seq_last INTEGER NOT NULL CHECK (seq_last BETWEEN seq_first AND seq_first + 23),"
    "  kind INTEGER NOT NULL CHECK (kind BETWEEN 0 AND 255),"
    "  urgent INTEGER NOT NULL CHECK (urgent IN (0, 1)),"
    "  exercise INTEGER NOT NULL CHECK (exercise IN (0, 1)),"
    "  unsynced INTEGER NOT NULL CHECK (unsynced IN (0, 1)),"
    "  episode_origin INTEGER CHECK (episode_origin BETWEEN 1 AND 65535),"
    "  episode_number INTEGER CHECK (episode_number BETWEEN 1 AND 255),"
    "  time_s INTEGER NOT NULL CHECK (time_s BETWEEN 0 AND 4294967295)," /* net time */
    "  stored_s INTEGER NOT NULL,"                                       /* unix time, as below */
    "  aired_s INTEGER CHECK (aired_s > 0),"                             /* NULL: not yet */
    "  heard_s INTEGER CHECK (heard_s > 0),"
    "  heard_station INTEGER CHECK (heard_station BETWEEN 0 AND 255),"
    "  base_s INTEGER CHECK (base_s > 0),"
    "  body BLOB NOT NULL CHECK (length(body) BETWEEN 1 AND 1400),"
    "  PRIMARY KEY (origin, seq_first),"
    "  FOREIGN KEY (origin, seq_first) REFERENCES segments (origin, seq),"
    "  FOREIGN KEY (origin, seq_last) REFERENCES segments (origin, seq),"
    "  CHECK ((episode_origin IS NULL) = (episode_number IS NULL)),"
    "  CHECK ((heard_s IS NULL) = (heard_station IS NULL))"
    ") STRICT, WITHOUT ROWID;"

    "CREATE INDEX records_by_episode"
    "  ON records (episode_origin, episode_number, origin, seq_first)"
    "  WHERE episode_number IS NOT NULL;"
    "CREATE INDEX records_not_at_base ON records (origin, seq_first, seq_last)"
    "  WHERE base_s IS NULL;"

    "CREATE TRIGGER segments_once BEFORE INSERT ON segments"
    "  WHEN EXISTS (SELECT 1 FROM segments WHERE origin = new.origin AND seq = new.seq)"
    "  BEGIN SELECT RAISE(ABORT, 'this sequence is in the log already'); END;"
    "CREATE TRIGGER segments_stay BEFORE DELETE ON segments"
    "  BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;"
    "CREATE TRIGGER segments_unchanged BEFORE UPDATE ON segments"
    "  BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;"

    "CREATE TRIGGER records_once BEFORE INSERT ON records"
    "  WHEN EXISTS (SELECT 1 FROM records"
    "               WHERE origin = new.origin AND seq_first = new.seq_first)"
    "  BEGIN SELECT RAISE(ABORT, 'this record is in the log already'); END;"
    "CREATE TRIGGER records_stay BEFORE DELETE ON records"
    "  BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;"
    "CREATE TRIGGER records_unchanged BEFORE UPDATE OF origin, seq_first, seq_last, kind, urgent,"
    "  exercise, unsynced, episode_origin, episode_number, time_s, stored_s, body ON records"
    "  BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;"
    "CREATE TRIGGER records_delivered_once"
    "  BEFORE UPDATE OF aired_s, heard_s, heard_station, base_s ON records"
    "  WHEN (old.aired_s IS NOT NULL AND new.aired_s IS NOT old.aired_s)"
    "    OR (old.heard_s IS NOT NULL AND new.heard_s IS NOT old.heard_s)"
    "    OR (old.heard_station IS NOT NULL AND new.heard_station IS NOT old.heard_station)"
    "    OR (old.base_s IS NOT NULL AND new.base_s IS NOT old.base_s)"
    "  BEGIN SELECT RAISE(ABORT, 'only the first delivery is kept'); END;"

    "CREATE TABLE charges ("
    "  unix_s INTEGER NOT NULL,"
    "  number INTEGER NOT NULL," /* 1, 2, ... within one second */
    "  airtime_us INTEGER NOT NULL CHECK (airtime_us BETWEEN 0 AND 4294967295),"
    "  urgent INTEGER NOT NULL CHECK (urgent IN (0, 1)),"
    "  PRIMARY KEY (unix_s, number)"
    ") STRICT, WITHOUT ROWID;"

    "CREATE TABLE named_values ("
    "  name TEXT NOT NULL PRIMARY KEY,"
    "  value BLOB NOT NULL"
    ") STRICT, WITHOUT ROWID;";

/* Version 2: airtime is counted by the monotonic clock of one run of the computer, and by the
 * frequency it was spent on. */
static const char version_2[] =
    "ALTER TABLE charges RENAME TO charges_1;"
    "CREATE TABLE charges ("
    "  boot INTEGER NOT NULL," /* the run of the computer; 0 in rows of version 1 */
    "  at_us INTEGER NOT NULL CHECK (at_us >= 0)," /* its monotonic clock */
    "  number INTEGER NOT NULL,"                   /* 1, 2, ... within one microsecond */
    "  unix_s INTEGER NOT NULL,"
    "  synced INTEGER NOT NULL CHECK (synced IN (0, 1)),"
    "  freq_hz INTEGER NOT NULL CHECK (freq_hz BETWEEN 0 AND 4294967295)," /* 0: not kept */
    "  airtime_us INTEGER NOT NULL CHECK (airtime_us BETWEEN 0 AND 4294967295),"
    "  urgent INTEGER NOT NULL CHECK (urgent IN (0, 1)),"
    "  PRIMARY KEY (boot, at_us, number)"
    ") STRICT, WITHOUT ROWID;"
    "INSERT INTO charges SELECT 0, unix_s * 1000000, number, unix_s, 1, 0, airtime_us, urgent"
    "  FROM charges_1 WHERE unix_s >= 0;"
    "DROP TABLE charges_1;";

static const char *const log_steps[] = {version_1, version_2};

const struct rp_store_schema rp_store_log_schema = {
    .application_id = 0x52504c47, /* "RPLG" */
    .steps = log_steps,
    .version = sizeof log_steps / sizeof log_steps[0],
};

static int read_number(sqlite3 *db, const char *sql, int64_t *out_number)
{
    sqlite3_stmt *statement;
    int result = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    if (result != SQLITE_OK) {
        return result;
    }
    result = sqlite3_step(statement);
    if (result == SQLITE_ROW) {
        *out_number = sqlite3_column_int64(statement, 0);
        result = SQLITE_OK;
    }
    sqlite3_finalize(statement);
    return result;
}

int rp_store_schema_version(struct sqlite3 *db, const char *path,
                            const struct rp_store_schema *schema, struct rp_problem *out_problem)
{
    static const char *const questions[] = {"PRAGMA application_id", "PRAGMA user_version",
                                            "SELECT count(*) FROM sqlite_schema"};
    int64_t answers[3] = {0};
    for (size_t i = 0; i < 3; i++) {
        int result = read_number(db, questions[i], &answers[i]);
        if (result != SQLITE_OK) {
            return rp_store_explain_sqlite(out_problem, path, db, result);
        }
    }
    int64_t application_id = answers[0], version = answers[1], tables = answers[2];
    bool fresh = application_id == 0 && version == 0 && tables == 0;
    if (!fresh && application_id != schema->application_id) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "path",
                              "%.80s is a database of another program: give another file, for "
                              "example log.db",
                              path);
    }
    if (version > schema->version) {
        return rp_problem_set(out_problem, RP_E_VERSION, "path",
                              "%.80s has schema version %d, this program knows versions up to %d: "
                              "use the newer program, or another file",
                              path, (int)version, schema->version);
    }
    if (version < 0) {
        return rp_store_explain(out_problem, path, RP_E_CORRUPT, 0);
    }
    return (int)version;
}

static int take_step(sqlite3 *db, const struct rp_store_schema *schema, int from)
{
    char marks[96];
    snprintf(marks, sizeof marks, "PRAGMA application_id = %d; PRAGMA user_version = %d",
             (int)schema->application_id, from + 1);
    const char *const parts[] = {"BEGIN IMMEDIATE", schema->steps[from], marks, "COMMIT"};
    int result = SQLITE_OK;
    errno = 0;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0] && result == SQLITE_OK; i++) {
        result = sqlite3_exec(db, parts[i], NULL, NULL, NULL);
    }
    return result;
}

int rp_store_schema_migrate(struct sqlite3 *db, const char *path,
                            const struct rp_store_schema *schema, int from,
                            struct rp_problem *out_problem)
{
    for (int version = from; version < schema->version; version++) {
        int result = take_step(db, schema, version);
        if (result != SQLITE_OK) {
            int code = rp_store_explain_sqlite(out_problem, path, db, result);
            if (!sqlite3_get_autocommit(db)) {
                sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
            }
            return code;
        }
    }
    return 0;
}
