/* bench_sheet [FOLDER [RECORDS]]: how long the handover of an episode of 500 records takes in a log
 * of 1,000 records and in one of RECORDS (1,000,000), by the same request that the command line
 * sends, answered by src/node over src/store; process and socket left out, and the sheet's number
 * too (a write to disk). Both logs by turns; a line each for the episode's records one after the
 * other but for one other record between two, as a base hears two patients, and spread evenly over
 * the whole log. Prints `key: value` lines. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <sqlite3.h>

#include "control/control.h"
#include "store/store.h"

#define EPISODE_RECORDS 500
#define SMALL_LOG       1000
#define FILLERS         40 /* other episodes */
#define ROUNDS          15
#define REQUESTS        20 /* in a round */
#define NOW_UNIX_S      1800000000
#define CAMP            3589 /* origin: station 7, generation 5, as in the statements below */

static void give_up(const char *what)
{
    fprintf(stderr, "bench_sheet: %s\n", what);
    exit(1);
}

/* Of this process, the kernel for it included: other work on the computer does not count. */
static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void remove_database(const char *path)
{
    static const char *const suffixes[] = {"", "-wal", "-shm", "-lock"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char side[1100];
        snprintf(side, sizeof side, "%s%s", path, suffixes[i]);
        (void)remove(side);
    }
}

/* Record `index` of the episode: its opening, then reports and some drugs. */
static void make_own(int index, struct rp_record *record)
{
    record->kind = index == 0 ? RP_REC_EPISODE : index % 25 == 0 ? RP_REC_TREATMENT : RP_REC_STATUS;
    if (record->kind == RP_REC_EPISODE) {
        snprintf(record->as.opened.patient, sizeof record->as.opened.patient, "M. Tarn");
    } else if (record->kind == RP_REC_TREATMENT) {
        snprintf(record->as.treatment.name, sizeof record->as.treatment.name, "dexamethasone");
        record->as.treatment.dose_milli = 4000;
    } else {
        record->as.status.mode = RP_MODE_AIR;
        record->as.status.spo2_pct = (struct rp_value){RP_MEASURED, (int16_t)(60 + index % 30)};
        record->as.status.pulse_bpm = (struct rp_value){RP_MEASURED, (int16_t)(90 + index % 40)};
        record->as.status.resp_rpm = (struct rp_value){RP_MEASURED, (int16_t)(20 + index % 15)};
    }
}

static void make_filler(int index, struct rp_record *record)
{
    record->kind = RP_REC_NOTE;
    record->episode.number = (uint8_t)(2 + index % FILLERS);
    snprintf(record->as.note.text, sizeof record->as.note.text, "note %d", index);
}

struct writer {
    sqlite3 *db;
    sqlite3_stmt *segment, *record;
    uint32_t seq;
};

static void bind_and_step(struct writer *w, const struct rp_record *record)
{
    static const uint8_t sealed[64] = {1}; /* nobody reads the segments of a sheet */
    uint8_t body[RP_RECORD_LEN_MAX];
    int len = rp_record_encode(record, body, sizeof body, NULL);
    if (len < 0) {
        give_up("a record cannot be encoded");
    }
    w->seq++;
    sqlite3_bind_int(w->segment, 1, w->seq);
    sqlite3_bind_blob(w->segment, 2, sealed, sizeof sealed, SQLITE_STATIC);
    sqlite3_bind_int(w->record, 1, w->seq);
    sqlite3_bind_int(w->record, 2, record->kind);
    sqlite3_bind_int(w->record, 3, record->episode.number);
    sqlite3_bind_int64(w->record, 4, record->time_s);
    sqlite3_bind_blob(w->record, 5, body, len, SQLITE_TRANSIENT);
    if (sqlite3_step(w->segment) != SQLITE_DONE || sqlite3_step(w->record) != SQLITE_DONE) {
        give_up(sqlite3_errmsg(w->db));
    }
    sqlite3_reset(w->segment);
    sqlite3_reset(w->record);
}

/* `count` records; between two of the episode's lie `between` others, the rest before them. */
static void write_records(struct writer *w, int count, int between)
{
    int own = 0, before = count - EPISODE_RECORDS * (between + 1);
    for (int i = 0; i < count; i++) {
        bool of_episode = i >= before && (i - before) % (between + 1) == 0 && own < EPISODE_RECORDS;
        /* A report a minute, the same in every log. */
        int ago_s = 60 * (of_episode ? EPISODE_RECORDS - own : EPISODE_RECORDS);
        struct rp_record record = {.time_s = (uint32_t)(NOW_UNIX_S - RP_NET_EPOCH_UNIX_S - ago_s),
                                   .episode = {CAMP, 1}};
        if (of_episode) {
            make_own(own++, &record);
        } else {
            make_filler(i, &record);
        }
        bind_and_step(w, &record);
    }
}

/* The schema by the store, the rows by SQLite in one transaction: a million in seconds. */
static void make_log(const char *path, int count, int between)
{
    struct rp_problem problem = {0};
    struct rp_store *store = NULL;
    struct writer w = {.seq = 0};
    remove_database(path);
    if (rp_store_open(path, &store, &problem) < 0) {
        give_up(problem.text);
    }
    rp_store_close(store);
    bool good =
        sqlite3_open(path, &w.db) == SQLITE_OK &&
        sqlite3_exec(w.db, "PRAGMA synchronous=OFF; BEGIN", NULL, NULL, NULL) == SQLITE_OK &&
        sqlite3_prepare_v2(w.db, "INSERT INTO segments VALUES (3589, ?, 1, 1, ?)", -1, &w.segment,
                           NULL) == SQLITE_OK &&
        sqlite3_prepare_v2(
            w.db,
            "INSERT INTO records (origin, seq_first, seq_last, kind, urgent, exercise,"
            " unsynced, episode_origin, episode_number, time_s, stored_s, body)"
            " VALUES (3589, ?1, ?1, ?2, 0, 0, 0, 3589, ?3, ?4, 1800000000, ?5)",
            -1, &w.record, NULL) == SQLITE_OK;
    if (!good) {
        give_up(sqlite3_errmsg(w.db));
    }
    write_records(&w, count, between);
    sqlite3_finalize(w.segment);
    sqlite3_finalize(w.record);
    if (sqlite3_exec(w.db, "COMMIT", NULL, NULL, NULL) != SQLITE_OK) {
        give_up(sqlite3_errmsg(w.db));
    }
    sqlite3_close(w.db);
}

struct station {
    struct rp_store *store;
    struct rp_node *node;
    struct rp_control *control;
};

static const struct rp_moment moment = {1000000, NOW_UNIX_S, true};

static struct station start(const char *path)
{
    struct rp_problem problem = {0};
    struct station s = {.control = calloc(1, sizeof *s.control)};
    struct rp_node_config config = {.station = 2, .role = RP_ROLE_BASE, .generation_seed = 100};
    rp_net_defaults(&config.net);
    snprintf(config.name, sizeof config.name, "Lake Camp");
    if (s.control == NULL || rp_store_open(path, &s.store, &problem) < 0) {
        give_up(problem.text);
    }
    config.store = rp_store_ops();
    config.store_ctx = s.store;
    if (rp_node_new(&config, moment, &s.node, &problem) < 0) {
        give_up(problem.text);
    }
    s.control->node = s.node;
    return s;
}

static void stop(struct station *s)
{
    rp_node_free(s->node);
    rp_store_close(s->store);
    free(s->control);
}

/* Seconds for one sheet. */
static double time_sheet(struct station *s, int requests)
{
    static const char request[] =
        "{\"v\":1,\"command\":\"handover\",\"args\":[\"7-1\",\"form\",\"text\",\"draft\"]}";
    double start_s = now_s();
    for (int i = 0; i < requests; i++) {
        char *reply = rp_control_handle(
            s->control, (struct rp_view){(const uint8_t *)request, sizeof request - 1}, moment);
        if (reply == NULL || strstr(reply, "\"ok\":true") == NULL ||
            strstr(reply, "; 500 records") == NULL) {
            give_up(reply != NULL ? reply : "out of memory");
        }
        free(reply);
    }
    return (now_s() - start_s) / requests;
}

static int by_size(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

static double median(double *values, size_t count)
{
    qsort(values, count, sizeof *values, by_size);
    return values[count / 2];
}

static void compare(const char *folder, const char *word, int large, int between_small,
                    int between_large)
{
    char path[2][512];
    double times_s[2][ROUNDS], ratios[ROUNDS];
    const int counts[2] = {SMALL_LOG, large}, betweens[2] = {between_small, between_large};
    struct station stations[2];
    for (int i = 0; i < 2; i++) {
        snprintf(path[i], sizeof path[i], "%s/sheet%d.db", folder, i);
        make_log(path[i], counts[i], betweens[i]);
        stations[i] = start(path[i]);
        printf("%s, first sheet of %d records, ms: %.2f\n", word, counts[i],
               1e3 * time_sheet(&stations[i], 1));
    }
    for (int round = 0; round < ROUNDS; round++) {
        for (int turn = 0; turn < 2; turn++) {
            int which = turn ^ (round & 1);
            times_s[which][round] = time_sheet(&stations[which], REQUESTS);
        }
        ratios[round] = times_s[1][round] / times_s[0][round];
    }
    for (int i = 0; i < 2; i++) {
        stop(&stations[i]);
        remove_database(path[i]);
        printf("%s, sheet in a log of %d, ms: %.2f\n", word, counts[i],
               1e3 * median(times_s[i], ROUNDS));
    }
    printf("%s, ratio: %.2f (below 1.2 wanted)\n", word, median(ratios, ROUNDS));
}

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : ".";
    int large = argc > 2 ? atoi(argv[2]) : 1000000;
    if (large < SMALL_LOG) {
        give_up("RECORDS must be 1000 at least");
    }
    compare(folder, "together", large, 1, 1);
    compare(folder, "spread", large, 1, large / EPISODE_RECORDS - 1);
    return 0;
}
