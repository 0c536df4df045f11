/* Opening: what is made, what is refused, and in which words. */
#include "fixture.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* Opening the path must fail with the code, in words that name the path and hold the text. */
static void assert_refused(const char *path, int code, const char *text)
{
    struct rp_store *store = NULL;
    struct rp_problem problem = {0};
    assert_int_equal(rp_store_open(path, &store, &problem), code);
    assert_null(store);
    assert_int_equal(problem.code, code);
    assert_string_equal(problem.field, "path");
    if (strstr(problem.text, text) == NULL || strstr(problem.text, path) == NULL) {
        fail_msg("\"%s\" does not say \"%s\"", problem.text, text);
    }
    assert_true(strlen(problem.text) < sizeof problem.text - 1); /* not cut off */
    assert_int_equal(rp_store_open(path, &store, NULL), code);
}

static int mode_of(const char *path)
{
    struct stat info;
    assert_int_equal(stat(path, &info), 0);
    return (int)(info.st_mode & 07777);
}

static void a_new_log_is_private_and_marked(void **state)
{
    struct fixture *f = *state;
    mode_t old = umask(0);
    fixture_reopen(f);
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    umask(old);
    assert_int_equal(mode_of(f->path), 0600);
    assert_int_equal(mode_of(fixture_side(f, "-wal")), 0600);
    assert_int_equal(mode_of(fixture_side(f, "-shm")), 0600);
    assert_int_equal(mode_of(fixture_side(f, "-lock")), 0600);
    assert_int_equal(fixture_number(f, "PRAGMA user_version"), 2);
    assert_int_equal(fixture_number(f, "PRAGMA application_id"), 0x52504c47);
    /* SQLite file format, section 1.3.3: 2 in bytes 18 and 19 of the header means WAL. */
    rp_store_close(f->store);
    f->store = NULL;
    uint8_t header[20];
    FILE *file = fopen(f->path, "rb");
    assert_non_null(file);
    assert_int_equal(fread(header, 1, 20, file), 20);
    fclose(file);
    assert_int_equal(header[18], 2);
    assert_int_equal(header[19], 2);
}

static void an_empty_file_becomes_a_log(void **state)
{
    struct fixture *f = *state;
    fixture_write_file(f->path, "", 0);
    assert_int_equal(chmod(f->path, 0644), 0);
    fixture_reopen(f);
    assert_int_equal(mode_of(f->path), 0600);
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
}

static void another_program_can_read_meanwhile(void **state)
{
    struct fixture *f = *state;
    fixture_reopen(f);
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open_v2(f->path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "BEGIN; SELECT * FROM records", NULL, NULL, NULL), SQLITE_OK);
    /* A reader in the middle of its work does not stop the log. */
    assert_int_equal(rows_append(f->store, 7, 2, 1), 0);
    assert_int_equal(sqlite3_exec(db, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    rp_store_close(f->store);
    f->store = NULL;
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM records"), 2);
}

static void a_second_station_is_refused(void **state)
{
    struct fixture *f = *state;
    fixture_reopen(f);
    assert_refused(f->path, RP_E_TAKEN, "is in use by another program");
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct rp_store *store = NULL;
        _exit(rp_store_open(f->path, &store, NULL) == RP_E_TAKEN ? 0 : 1);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    fixture_reopen(f);
    assert_rows_held(f->store, 7, 1, 1);
}

static void another_writer_makes_the_log_busy_for_a_while(void **state)
{
    struct fixture *f = *state;
    fixture_reopen(f);
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(rows_append(f->store, 7, 1, 1), RP_E_BUSY);
    struct rp_problem problem;
    rp_store_last_problem(f->store, &problem);
    assert_int_equal(problem.code, RP_E_BUSY);
    assert_non_null(strstr(problem.text, "is held by another program just now: close it"));
    assert_int_equal(sqlite3_exec(db, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    sqlite3_close(db);
}

static void a_log_held_exclusively_is_taken(void **state)
{
    struct fixture *f = *state;
    fixture_reopen(f);
    rp_store_close(f->store);
    f->store = NULL;
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(f->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db,
                                  "PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE;"
                                  "CREATE TABLE t (a)",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    assert_refused(f->path, RP_E_TAKEN, "is in use by another program");
    sqlite3_close(db);
    fixture_reopen(f);
}

static void files_that_are_no_log_are_refused(void **state)
{
    struct fixture *f = *state;
    static char text[2000];
    memset(text, 'x', sizeof text);
    fixture_write_file(f->path, text, sizeof text);
    assert_refused(f->path, RP_E_CORRUPT, "is damaged or not a log");
    fixture_write_file(f->path, "short", 5);
    assert_refused(f->path, RP_E_CORRUPT, "is damaged or not a log");
    assert_int_equal(remove(f->path), 0);
    assert_int_equal(fixture_sql(f, "CREATE TABLE t (a); INSERT INTO t VALUES (1)"), SQLITE_OK);
    assert_refused(f->path, RP_E_FORMAT, "is a database of another program");
    assert_int_equal(fixture_sql(f, "DROP TABLE t; PRAGMA application_id = 5"), SQLITE_OK);
    assert_refused(f->path, RP_E_FORMAT, "is a database of another program");
    /* It was left as it was. */
    assert_int_equal(fixture_number(f, "SELECT journal_mode = 'delete' FROM pragma_journal_mode"),
                     1);
    assert_int_equal(remove(f->path), 0);
    assert_int_equal(mkfifo(f->path, 0600), 0);
    assert_refused(f->path, RP_E_INVALID, "is not a plain file");
    assert_refused(f->folder, RP_E_INVALID, "is a folder: give a file in it");
    char lock[80];
    snprintf(lock, sizeof lock, "%s-lock", f->folder);
    assert_int_equal(remove(lock), 0);
}

static void a_newer_log_is_refused(void **state)
{
    struct fixture *f = *state;
    fixture_reopen(f);
    rp_store_close(f->store);
    f->store = NULL;
    assert_int_equal(fixture_sql(f, "PRAGMA user_version = 12"), SQLITE_OK);
    assert_refused(f->path, RP_E_VERSION,
                   "has schema version 12, this program knows versions up to 2: use the newer "
                   "program");
    assert_int_equal(fixture_sql(f, "PRAGMA user_version = -1"), SQLITE_OK);
    assert_refused(f->path, RP_E_CORRUPT, "is damaged or not a log");
}

static void bad_paths_are_refused(void **state)
{
    struct fixture *f = *state;
    char path[600];
    snprintf(path, sizeof path, "%s/none/log.db", f->folder);
    assert_refused(path, RP_E_NOT_FOUND, "is in a folder that does not exist: make it first");
    assert_refused("", RP_E_INVALID, "the path of the log is empty");
    memset(path, 'p', sizeof path);
    path[501] = '\0';
    struct rp_store *store = NULL;
    struct rp_problem problem;
    assert_int_equal(rp_store_open(path, &store, &problem), RP_E_TOO_LONG);
    assert_string_equal(problem.text, "the path of the log is longer than 500 bytes");
}

/* Names that SQLite would take for a URI or for memory are plain files here. */
static void a_path_is_only_a_path(void **state)
{
    struct fixture *f = *state;
    static const char *const names[] = {"file:log.db?mode=memory", ":memory:"};
    assert_int_equal(chdir(f->folder), 0);
    for (size_t i = 0; i < 2; i++) {
        struct rp_store *store = NULL;
        assert_int_equal(rp_store_open(names[i], &store, NULL), 0);
        assert_int_equal(rows_append(store, 7, 1, 1), 0);
        rp_store_close(store);
        struct stat info;
        assert_int_equal(stat(names[i], &info), 0);
        assert_true(info.st_size > 4096);
    }
    assert_int_equal(chdir("/"), 0);
}

/* Root may write anywhere, so the child becomes nobody (65534 on Debian) first. */
static void a_folder_without_permission_is_refused(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(chmod(f->folder, 0555), 0);
    fflush(NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct rp_store *store = NULL;
        struct rp_problem problem = {0};
        if (geteuid() == 0 && setuid(65534) != 0) {
            _exit(2);
        }
        int code = rp_store_open(f->path, &store, &problem);
        bool said = strstr(problem.text, "cannot be written: let the station's user write") != NULL;
        _exit(code == RP_E_PERMISSION && said ? 0 : 1);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(chmod(f->folder, 0755), 0);
    assert_int_equal(status, 0);
}

static void a_log_without_its_main_file_is_not_thrown_away(void **state)
{
    struct fixture *f = *state;
    fixture_write_file(fixture_side(f, "-wal"), "records, perhaps", 16);
    assert_refused(f->path, RP_E_CORRUPT, "is missing or empty but its -wal file holds records");
    assert_int_equal(mode_of(fixture_side(f, "-wal")) & 0400, 0400);
}

int main(void)
{
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_folder, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(a_new_log_is_private_and_marked),
        CASE(an_empty_file_becomes_a_log),
        CASE(another_program_can_read_meanwhile),
        CASE(a_second_station_is_refused),
        CASE(another_writer_makes_the_log_busy_for_a_while),
        CASE(a_log_held_exclusively_is_taken),
        CASE(files_that_are_no_log_are_refused),
        CASE(a_newer_log_is_refused),
        CASE(bad_paths_are_refused),
        CASE(a_path_is_only_a_path),
        CASE(a_folder_without_permission_is_refused),
        CASE(a_log_without_its_main_file_is_not_thrown_away),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
