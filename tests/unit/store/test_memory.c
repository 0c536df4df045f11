/* Allocations of the room and of SQLite fail once, and from some moment on: each of the first 100,
 * then every STRIDE-th (the argument; 1 tries all, in a minute). */
#include "fixture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "shim.h"
#include "workload.h"

static sqlite3_mem_methods real;
static long count, fail_at; /* fail_at 0: never */
static bool fail_on;
static long stride = FIXTURE_SLOW ? 401 : 101;

static bool fails(void)
{
    count++;
    return fail_at != 0 && (count == fail_at || (fail_on && count > fail_at));
}

static void *failing_malloc(int len)
{
    return fails() ? NULL : real.xMalloc(len);
}

static void *failing_realloc(void *bytes, int len)
{
    return fails() ? NULL : real.xRealloc(bytes, len);
}

static void arm(long nth, bool on)
{
    count = 0;
    fail_at = nth;
    fail_on = on;
}

static void close_store(struct fixture *f)
{
    rp_store_close(f->store);
    f->store = NULL;
}

static void opening_survives_each_failure(void **state)
{
    struct fixture *f = *state;
    for (int on = 0; on < 2; on++) {
        long nth = 0;
        bool hit = true;
        while (hit) {
            nth += nth < 100 ? 1 : stride;
            workload_remove_log(f);
            struct rp_problem problem = {0};
            arm(nth, on == 1);
            int code = rp_store_open(f->path, &f->store, &problem);
            hit = count >= nth;
            arm(0, false);
            assert_true(code == 0 || (hit && code == RP_E_MEMORY && problem.code == RP_E_MEMORY));
            if (code < 0) {
                assert_null(f->store);
                assert_non_null(strstr(problem.text, "out of memory"));
            }
            fixture_reopen(f);
            assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
            close_store(f);
        }
        print_message("failed at allocations up to %ld\n", nth);
        assert_in_range(nth, 500, 50000);
    }
}

static void do_at_last(struct fixture *f, int i)
{
    int code = workload_do(f->store, i);
    if (code < 0) {
        arm(0, false);
        assert_int_equal(code, RP_E_MEMORY);
        assert_false(workload_done(f->store, i));
        assert_int_equal(workload_do(f->store, i), 0);
    }
}

static void writing_survives_each_failure(void **state)
{
    struct fixture *f = *state;
    for (int on = 0; on < 2; on++) {
        long nth = 0;
        bool hit = true;
        while (hit) {
            nth += nth < 100 ? 1 : stride;
            workload_remove_log(f);
            fixture_reopen(f);
            arm(nth, on == 1);
            for (int i = 0; i < WORKLOAD_COUNT; i++) {
                do_at_last(f, i);
            }
            hit = fail_at == 0 || count >= nth; /* 0: a write failed, and was done again */
            arm(0, false);
            for (int i = 0; i < WORKLOAD_COUNT; i++) {
                assert_true(workload_done(f->store, i));
            }
            assert_whole(f->store);
            close_store(f);
        }
        print_message("failed at allocations up to %ld\n", nth);
        assert_in_range(nth, 30, 5000);
    }
}

static int count_visit(void *arg, const struct rp_record_row *row)
{
    (void)row;
    ++*(int *)arg;
    return 0;
}

/* Reads what the workload wrote; a failure is RP_E_MEMORY, never a wrong answer. */
static void reading_survives_each_failure(void **state)
{
    struct fixture *f = *state;
    fixture_reopen(f);
    for (int i = 0; i < WORKLOAD_COUNT; i++) {
        assert_int_equal(workload_do(f->store, i), 0);
    }
    long nth = 0;
    bool hit = true;
    while (hit) {
        nth += nth < 100 ? 1 : stride;
        fixture_reopen(f); /* an empty cache */
        int visited = 0;
        struct rp_problem problem = {0};
        const struct rp_record_filter episode = {.episode = {7, 1}}, all = {.origin = 0};
        arm(nth, false);
        int64_t last = f->ops->last_seq(f->store, 7);
        assert_true(last == 28 || last == RP_E_MEMORY);
        int code = f->ops->each_record(f->store, &episode, count_visit, &visited);
        assert_true((code == 0 && visited == 3) || code == RP_E_MEMORY);
        visited = 0;
        code = f->ops->each_record(f->store, &all, count_visit, &visited);
        assert_true((code == 0 && visited == 4) || code == RP_E_MEMORY);
        code = rp_store_check(f->store, &problem);
        assert_true(code == 0 || code == RP_E_MEMORY);
        hit = count >= nth;
        arm(0, false);
        assert_whole(f->store);
    }
    print_message("failed at allocations up to %ld\n", nth);
    assert_in_range(nth, 50, 5000);
}

int main(int argc, char **argv)
{
    stride = argc > 1 ? strtol(argv[1], NULL, 10) : stride;
    assert_in_range(stride, 1, 1000);
    assert_int_equal(sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real), SQLITE_OK);
    sqlite3_mem_methods failing = real;
    failing.xMalloc = failing_malloc;
    failing.xRealloc = failing_realloc;
    assert_int_equal(sqlite3_config(SQLITE_CONFIG_MALLOC, &failing), SQLITE_OK);
    shim_install(); /* for its speed: no real syncs */
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_folder, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(opening_survives_each_failure),
        CASE(writing_survives_each_failure),
        CASE(reading_survives_each_failure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
