/* Every change of the disk fails once, and from some moment on: nothing half done stays, the
 * store says what is wrong, and it works again when the disk does. */
#include "fixture.h"

#include <stdio.h>
#include <string.h>

#include "shim.h"
#include "workload.h"

static int expected_code;
static const char *expected_text;

static void assert_told(const struct fixture *f, int code, const struct rp_problem *problem)
{
    assert_int_equal(code, expected_code);
    assert_int_equal(problem->code, expected_code);
    if (strstr(problem->text, expected_text) == NULL || strstr(problem->text, f->path) == NULL) {
        fail_msg("\"%s\" does not say \"%s\"", problem->text, expected_text);
    }
}

/* Opens; when that fails, once more with a disk that works. */
static void open_at_last(struct fixture *f, enum shim_mode mode)
{
    struct rp_problem problem = {0};
    int code = rp_store_open(f->path, &f->store, &problem);
    if (code == 0) {
        return;
    }
    assert_told(f, code, &problem);
    if (mode == SHIM_FAIL_ON) {
        assert_true(rp_store_open(f->path, &f->store, NULL) < 0);
        shim_disarm();
    }
    assert_int_equal(rp_store_open(f->path, &f->store, NULL), 0);
}

/* Does write i; when that fails, nothing of it may be there, and it must work with a good disk. */
static void do_at_last(struct fixture *f, int i, enum shim_mode mode)
{
    int code = workload_do(f->store, i);
    if (code < 0) {
        struct rp_problem problem;
        rp_store_last_problem(f->store, &problem);
        assert_told(f, code, &problem);
        assert_false(workload_done(f->store, i));
        if (mode == SHIM_FAIL_ON) {
            assert_int_equal(workload_do(f->store, i), expected_code);
            assert_false(workload_done(f->store, i));
            shim_disarm();
        }
        assert_int_equal(workload_do(f->store, i), 0);
    }
    assert_true(workload_done(f->store, i));
}

static void assert_all_done(struct fixture *f)
{
    for (int i = 0; i < WORKLOAD_COUNT; i++) {
        assert_true(workload_done(f->store, i));
    }
    assert_whole(f->store);
}

static long fail_at_each(struct fixture *f, enum shim_mode mode, enum shim_fault fault)
{
    long nth = 0;
    do {
        nth++;
        workload_remove_log(f);
        shim_arm(mode, nth, fault);
        open_at_last(f, mode);
        for (int i = 0; i < WORKLOAD_COUNT; i++) {
            do_at_last(f, i, mode);
        }
        assert_all_done(f);
        rp_store_close(f->store);
        f->store = NULL;
        shim_disarm();
        fixture_reopen(f);
        assert_all_done(f);
        rp_store_close(f->store);
        f->store = NULL;
    } while (shim_hit());
    print_message("failed at each of %ld changes\n", nth - 1);
    return nth - 1;
}

static void a_full_disk_loses_nothing(void **state)
{
    expected_code = RP_E_NO_SPACE;
    expected_text = "is on a full disk: free some space";
    assert_in_range(fail_at_each(*state, SHIM_FAIL_ONCE, SHIM_DISK_FULL), 60, 400);
    assert_in_range(fail_at_each(*state, SHIM_FAIL_ON, SHIM_DISK_FULL), 60, 400);
}

static void a_failing_disk_loses_nothing(void **state)
{
    expected_code = RP_E_IO;
    expected_text = "cannot be read or written: check the disk or card";
    assert_in_range(fail_at_each(*state, SHIM_FAIL_ONCE, SHIM_DISK_BAD), 60, 400);
    assert_in_range(fail_at_each(*state, SHIM_FAIL_ON, SHIM_DISK_BAD), 60, 400);
}

int main(void)
{
    shim_install();
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_folder, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(a_full_disk_loses_nothing),
        CASE(a_failing_disk_loses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
