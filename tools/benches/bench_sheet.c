/* bench_sheet [FOLDER [ROUNDS]]: how long the sheet of an episode of 500 records takes in a log of
 * 1,000 and in one of 1,000,000 records, by turns, from asking the database to the last letter. In
 * both every second record of the episode's days is its own, as with two patients; the rest of the
 * large log, before and after, is of other episodes. A third log of 1,000,000 has the 500 spread
 * evenly from end to end, which no episode is: the worst that the log's length can do. Prints
 * `key: value` lines; the ratio of the first two is to stay under 1.2. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <sqlite3.h>

#include "handover/forms.h"
#include "store/store.h"

enum { OF_EPISODE = 500, SHEETS = 20, ROUNDS_MAX = 99, ORIGIN = 7 << 9 | 5 };

static void give_up(const char *what)
{
    fprintf(stderr, "bench_sheet: %s\n", what);
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
        char side[2048];
        snprintf(side, sizeof side, "%s%s", path, suffixes[i]);
        (void)remove(side);
    }
}

/* The opening, then reports with doses and notes between them. */
static int make_record(int index, uint8_t body[RP_RECORD_LEN_MAX], uint8_t *out_kind)
{
    struct rp_record record = {.time_s = 28300000u + 60u * (uint32_t)index, .episode = {ORIGIN, 1}};
    snprintf(record.by, sizeof record.by, "Ines Okafor");
    record.kind = index == 0        ? RP_REC_EPISODE
                  : index % 10 == 3 ? RP_REC_TREATMENT
                  : index % 10 == 7 ? RP_REC_NOTE
                                    : RP_REC_STATUS;
    if (record.kind == RP_REC_EPISODE) {
        record.as.opened.label = RP_LABEL_HACE;
        snprintf(record.as.opened.patient, sizeof record.as.opened.patient, "M. Tarn");
    } else if (record.kind == RP_REC_TREATMENT) {
        snprintf(record.as.treatment.name, sizeof record.as.treatment.name, "drug %d", index);
    } else if (record.kind == RP_REC_NOTE) {
        snprintf(record.as.note.text, sizeof record.as.note.text,
                 "note %d: pumping is shared, the patient answers to his name", index);
    } else {
        record.as.status.mode = RP_MODE_AIR;
        record.as.status.spo2_pct = (struct rp_value){RP_MEASURED, (int16_t)(60 + index % 30)};
        record.as.status.pulse_bpm = (struct rp_value){RP_MEASURED, (int16_t)(90 + index % 40)};
    }
    *out_kind = (uint8_t)record.kind;
    return rp_record_encode(&record, body, RP_RECORD_LEN_MAX, NULL);
}

static sqlite3_stmt *prepare(sqlite3 *db, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK) {
        give_up(sqlite3_errmsg(db));
    }
    return statement;
}

static void insert(sqlite3_stmt *statement, int seq, int kind, int episode, const void *body,
                   int len)
{
    sqlite3_bind_int(statement, 1, seq);
    sqlite3_bind_int(statement, 2, kind);
    sqlite3_bind_int(statement, 3, episode);
    sqlite3_bind_blob(statement, 4, body, len, SQLITE_STATIC);
    if (sqlite3_step(statement) != SQLITE_DONE) {
        give_up("the log cannot be filled");
    }
    sqlite3_reset(statement);
}

/* Whether the record at `seq` of `count` is of the episode; stride: every so many is, about the
 * middle of the log. */
static bool is_ours(int seq, int count, int stride)
{
    int first = 1 + (count - OF_EPISODE * stride) / 2;
    return seq >= first && (seq - first) % stride == 0 && (seq - first) / stride < OF_EPISODE;
}

/* One transaction: it is the reading that is measured. */
static void fill(const char *path, int count, int stride)
{
    sqlite3 *db = NULL;
    if (sqlite3_open(path, &db) != SQLITE_OK ||
        sqlite3_exec(db, "PRAGMA foreign_keys = OFF; BEGIN", NULL, NULL, NULL) != SQLITE_OK) {
        give_up("the log cannot be opened");
    }
    sqlite3_stmt *segment =
        prepare(db, "INSERT INTO segments SELECT 3589, ?1, 1, 1, ?4 WHERE ?2 >= 0 AND ?3 > 0");
    sqlite3_stmt *record = prepare(db, "INSERT INTO records (origin, seq_first, seq_last, kind, "
                                       "urgent, exercise, unsynced, episode_origin, "
                                       "episode_number, time_s, stored_s, body) VALUES (3589, ?1, "
                                       "?1, ?2, 0, 0, 0, 3589, ?3, ?1, 1790000000 + ?1, ?4)");
    uint8_t body[RP_RECORD_LEN_MAX], kind = 0;
    int done = 0;
    for (int seq = 1; seq <= count; seq++) {
        bool ours = is_ours(seq, count, stride);
        int len = make_record(ours ? done : 1 + seq % OF_EPISODE, body, &kind);
        if (len < 0) {
            give_up("a record cannot be encoded");
        }
        done += ours;
        insert(segment, seq, kind, 1, body, len < 222 ? len : 222);
        insert(record, seq, kind, ours ? 1 : 2 + seq % 200, body, len);
    }
    sqlite3_finalize(segment);
    sqlite3_finalize(record);
    if (done != OF_EPISODE || sqlite3_exec(db, "COMMIT", NULL, NULL, NULL) != SQLITE_OK) {
        give_up("the log cannot be filled");
    }
    sqlite3_close(db);
}

static struct rp_store *open_store(const char *path)
{
    struct rp_problem problem = {0};
    struct rp_store *store = NULL;
    if (rp_store_open(path, &store, &problem) < 0) {
        give_up(problem.text);
    }
    return store;
}

static struct rp_episode episode;

static int fold_row(void *arg, const struct rp_record_row *row)
{
    static struct rp_record record;
    int *folded = arg;
    struct rp_record_ref ref = {row->origin, row->seq_first};
    if (rp_record_decode(row->body, row->origin, &record) == RP_OK) {
        rp_episode_add(&episode, &record, ref);
        (*folded)++;
    }
    return 0;
}

/* Seconds for one sheet, the mean of SHEETS. */
static double time_sheets(struct rp_store *store)
{
    static char sheet[RP_SHEET_TEXT_LEN_MAX];
    const struct rp_record_filter filter = {.episode = {ORIGIN, 1}};
    const struct rp_sheet_input input = {
        .episode = &episode, .now_s = 28340000u, .sheet_number = 1, .station = 2};
    double start_s = now_s();
    for (int i = 0; i < SHEETS; i++) {
        int folded = 0;
        rp_episode_init(&episode, filter.episode);
        if (rp_store_ops()->each_record(store, &filter, fold_row, &folded) < 0 ||
            folded != OF_EPISODE) {
            give_up("the episode cannot be read");
        }
        rp_episode_finish(&episode, input.now_s);
        if (rp_sheet_text(&input, sheet, sizeof sheet) < 0) {
            give_up("the sheet cannot be made");
        }
    }
    return (now_s() - start_s) / SHEETS;
}

static int compare(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

static double median(double *values, int count)
{
    qsort(values, (size_t)count, sizeof *values, compare);
    return values[count / 2];
}

enum { LOGS = 3 };
static const struct {
    const char *name;
    int count, stride;
} logs[LOGS] = {{"1000", 1000, 2}, {"1000000", 1000000, 2}, {"1000000_spread", 1000000, 2000}};

int main(int argc, char **argv)
{
    static double time_s[LOGS][ROUNDS_MAX], ratio[LOGS][ROUNDS_MAX];
    const char *folder = argc > 1 ? argv[1] : ".";
    int rounds = argc > 2 ? atoi(argv[2]) : 15;
    struct rp_store *stores[LOGS];
    char path[LOGS][400];
    if (rounds < 1 || rounds > ROUNDS_MAX) {
        give_up("ROUNDS is from 1 to 99");
    }
    for (int i = 0; i < LOGS; i++) {
        snprintf(path[i], sizeof path[i], "%s/bench-sheet-%d-%ld.db", folder, i, (long)getpid());
        remove_database(path[i]);
        rp_store_close(open_store(path[i]));
        fill(path[i], logs[i].count, logs[i].stride);
        stores[i] = open_store(path[i]);
        (void)time_sheets(stores[i]); /* all warm */
    }
    for (int round = 0; round < rounds; round++) {
        for (int i = 0; i < LOGS; i++) {
            int which = (round + i) % LOGS;
            time_s[which][round] = time_sheets(stores[which]);
        }
        for (int i = 0; i < LOGS; i++) {
            ratio[i][round] = time_s[i][round] / time_s[0][round];
        }
    }
    for (int i = 0; i < LOGS; i++) {
        printf("sheet_of_%d_records_in_a_log_of_%s_ms: %.2f\n", OF_EPISODE, logs[i].name,
               1000 * median(time_s[i], rounds));
        rp_store_close(stores[i]);
        remove_database(path[i]);
    }
    printf("sheet_ratio: %.3f (aim: under 1.2)\nsheet_ratio_spread: %.3f\n",
           median(ratio[1], rounds), median(ratio[2], rounds));
    return 0;
}
