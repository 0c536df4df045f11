/* bench_store [FOLDER [ROUNDS [RECORDS]]]: how many records a second the log takes, each safe
 * before the next, against a bare SQLite loop with the same durability (WAL, synchronous=FULL, one
 * INSERT a transaction) on the same disk. Both by turns, the order changing from round to round,
 * so that a slow spell of the disk meets both. The log copies its write-ahead log back each 256
 * pages, SQLite by itself each 1000; writing over old blocks can be cheaper for the file system
 * than growing a file, so a second bare loop has the log's setting. Prints `key: value` lines. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <sqlite3.h>

#include "store/store.h"

enum { ROUNDS_MAX = 99, RECORD_LEN = 40 };
enum { STORE, BARE, BARE_256, CONTENDERS };

static void give_up(const char *what)
{
    fprintf(stderr, "bench_store: %s\n", what);
    exit(1);
}

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void remove_database(const char *path)
{
    static const char *const suffixes[] = {"", "-wal", "-shm", "-lock"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char side[512];
        snprintf(side, sizeof side, "%s%s", path, suffixes[i]);
        (void)remove(side);
    }
}

/* Seconds for `count` records through the store, opening and closing left out. */
static double time_store(const char *path, int count)
{
    struct rp_problem problem = {0};
    struct rp_store *store = NULL;
    remove_database(path);
    if (rp_store_open(path, &store, &problem) < 0) {
        give_up(problem.text);
    }
    uint8_t bytes[RECORD_LEN];
    memset(bytes, 0x5a, sizeof bytes);
    double start_s = now_s();
    for (int i = 1; i <= count; i++) {
        struct rp_segment_row segment = {.origin = 7,
                                         .seq = (uint32_t)i,
                                         .first = true,
                                         .last = true,
                                         .sealed = {bytes, sizeof bytes}};
        struct rp_record_row record = {.origin = 7,
                                       .seq_first = (uint32_t)i,
                                       .seq_last = (uint32_t)i,
                                       .kind = RP_REC_STATUS,
                                       .episode = {7, 1},
                                       .time_s = (uint32_t)i,
                                       .stored_s = 1790000000 + i,
                                       .body = {bytes, sizeof bytes}};
        if (rp_store_ops()->append_own(store, &segment, 1, &record) < 0) {
            give_up("the store refused a record");
        }
    }
    double time_s = now_s() - start_s;
    rp_store_close(store);
    remove_database(path);
    return time_s;
}

static void run_sql(sqlite3 *db, const char *sql)
{
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK) {
        give_up(sqlite3_errmsg(db));
    }
}

/* The same for one row of the same bytes in a table of its own. */
static double time_bare(const char *path, int count, int checkpoint_pages)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    remove_database(path);
    if (sqlite3_open(path, &db) != SQLITE_OK) {
        give_up(sqlite3_errmsg(db));
    }
    run_sql(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
                "CREATE TABLE rows (seq INTEGER PRIMARY KEY, body BLOB)");
    sqlite3_wal_autocheckpoint(db, checkpoint_pages);
    sqlite3_prepare_v2(db, "INSERT INTO rows VALUES (?, ?)", -1, &statement, NULL);
    uint8_t bytes[RECORD_LEN];
    memset(bytes, 0x5a, sizeof bytes);
    double start_s = now_s();
    for (int i = 1; i <= count; i++) {
        sqlite3_bind_int(statement, 1, i);
        sqlite3_bind_blob(statement, 2, bytes, sizeof bytes, SQLITE_STATIC);
        if (sqlite3_step(statement) != SQLITE_DONE) {
            give_up(sqlite3_errmsg(db));
        }
        sqlite3_reset(statement);
    }
    double time_s = now_s() - start_s;
    sqlite3_finalize(statement);
    sqlite3_close(db);
    remove_database(path);
    return time_s;
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Sorts the values; prints their median, least and greatest with that many decimals. */
static void print_spread(const char *key, double *values, int count, int decimals)
{
    qsort(values, (size_t)count, sizeof *values, compare);
    double median = (values[(count - 1) / 2] + values[count / 2]) / 2;
    printf("%s_median: %.*f\n", key, decimals, median);
    printf("%s_min: %.*f\n", key, decimals, values[0]);
    printf("%s_max: %.*f\n", key, decimals, values[count - 1]);
}

static int number_or(int argc, char **argv, int index, int otherwise, int most)
{
    if (argc <= index) {
        return otherwise;
    }
    long number = strtol(argv[index], NULL, 10);
    if (number < 1 || number > most) {
        fprintf(stderr, "bench_store: %s is not a number from 1 to %d\n", argv[index], most);
        exit(2);
    }
    return (int)number;
}

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : ".";
    int rounds = number_or(argc, argv, 2, 7, ROUNDS_MAX);
    int count = number_or(argc, argv, 3, 300, 1000000);
    char store_path[400], bare_path[400];
    snprintf(store_path, sizeof store_path, "%s/bench-store-%ld.db", folder, (long)getpid());
    snprintf(bare_path, sizeof bare_path, "%s/bench-bare-%ld.db", folder, (long)getpid());
    static double rate[CONTENDERS][ROUNDS_MAX], ratio[CONTENDERS][ROUNDS_MAX];
    for (int i = 0; i < rounds; i++) {
        double time_s[CONTENDERS] = {0};
        for (int j = 0; j < CONTENDERS; j++) {
            int which = (i + j) % CONTENDERS;
            time_s[which] = which == STORE
                                ? time_store(store_path, count)
                                : time_bare(bare_path, count, which == BARE ? 1000 : 256);
        }
        for (int which = 0; which < CONTENDERS; which++) {
            rate[which][i] = count / time_s[which];
            ratio[which][i] = time_s[which] / time_s[STORE];
        }
    }
    printf("sqlite: %s\nrounds: %d\nrecords_per_round: %d\nrecord_bytes: %d\n",
           sqlite3_libversion(), rounds, count, RECORD_LEN);
    print_spread("store_records_per_s", rate[STORE], rounds, 0);
    print_spread("bare_rows_per_s", rate[BARE], rounds, 0);
    print_spread("bare_256_rows_per_s", rate[BARE_256], rounds, 0);
    print_spread("store_over_bare", ratio[BARE], rounds, 3);
    print_spread("store_over_bare_256", ratio[BARE_256], rounds, 3);
    return 0;
}
