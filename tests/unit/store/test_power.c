/* The power goes at every change of the disk; what was acknowledged is there afterwards. */
#include "fixture.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "shim.h"
#include "workload.h"

static struct rp_rng rng;

static void close_store(struct fixture *f)
{
    rp_store_close(f->store);
    f->store = NULL;
}

/* The workload, closed and opened again in the middle, until the power goes. Returns how many
 * writes were acknowledged. */
static int run_workload(struct fixture *f)
{
    int acknowledged = 0;
    for (int half = 0; half < 2; half++) {
        if (rp_store_open(f->path, &f->store, NULL) < 0) {
            f->store = NULL;
            return acknowledged;
        }
        int end = half == 0 ? WORKLOAD_COUNT / 2 : WORKLOAD_COUNT;
        while (acknowledged < end) {
            if (workload_do(f->store, acknowledged) < 0) {
                return acknowledged;
            }
            acknowledged++;
        }
        close_store(f);
    }
    return acknowledged;
}

/* All that was acknowledged, perhaps the one under way, none after it; and the rest can follow. */
static void assert_recovered(struct fixture *f, int acknowledged)
{
    fixture_reopen(f);
    for (int i = 0; i < acknowledged; i++) {
        assert_true(workload_done(f->store, i));
    }
    for (int i = acknowledged + 1; i < WORKLOAD_COUNT; i++) {
        assert_false(workload_done(f->store, i));
    }
    assert_whole(f->store);
    for (int i = acknowledged; i < WORKLOAD_COUNT; i++) {
        if (!workload_done(f->store, i)) {
            assert_int_equal(workload_do(f->store, i), 0);
        }
        assert_true(workload_done(f->store, i));
    }
    assert_whole(f->store);
    close_store(f);
}

static long cut_at_each(struct fixture *f, enum shim_left left)
{
    for (long nth = 1;; nth++) {
        workload_remove_log(f);
        shim_arm(SHIM_CUT, nth, SHIM_DISK_BAD);
        int acknowledged = run_workload(f);
        bool hit = shim_hit();
        assert_true(hit || acknowledged == WORKLOAD_COUNT);
        close_store(f);
        shim_power_cut(left, &rng);
        assert_recovered(f, acknowledged);
        if (!hit) {
            print_message("cut at each of %ld changes\n", nth - 1);
            return nth - 1;
        }
    }
}

static void nothing_acknowledged_is_lost(void **state)
{
    assert_in_range(cut_at_each(*state, SHIM_LEFT_NONE), 60, 400);
    for (int round = 0; round < 2; round++) {
        assert_in_range(cut_at_each(*state, SHIM_LEFT_SOME), 60, 400);
    }
}

/* Enough for the write-ahead log to be copied back and begun again twice (256 pages each). */
enum { LONG_COUNT = 110, LONG_CUTS = 16 };

static int run_long(struct fixture *f)
{
    int acknowledged = 0;
    if (rp_store_open(f->path, &f->store, NULL) < 0) {
        f->store = NULL;
        return 0;
    }
    while (acknowledged < LONG_COUNT &&
           rows_append(f->store, 7, 1 + 24 * (uint32_t)acknowledged, 24) == 0) {
        acknowledged++;
    }
    return acknowledged;
}

static void checkpoints_lose_nothing(void **state)
{
    struct fixture *f = *state;
    shim_arm(SHIM_CUT, INT32_MAX, SHIM_DISK_BAD);
    assert_int_equal(run_long(f), LONG_COUNT);
    long total = shim_count();
    /* Each time the log was begun again its serial in bytes 12..15 went up by one (SQLite file
     * format, section 4.1). */
    uint8_t header[16];
    FILE *file = fopen(fixture_side(f, "-wal"), "rb");
    assert_non_null(file);
    assert_int_equal(fread(header, 1, 16, file), 16);
    fclose(file);
    assert_in_range(header[15], 2, 9);
    close_store(f);
    for (int i = 0; i < LONG_CUTS; i++) {
        workload_remove_log(f);
        shim_arm(SHIM_CUT, 1 + (long)rp_rng_below(&rng, (uint64_t)total), SHIM_DISK_BAD);
        int acknowledged = run_long(f);
        assert_true(shim_hit());
        close_store(f);
        shim_power_cut(i % 8 == 0 ? SHIM_LEFT_NONE : SHIM_LEFT_SOME, &rng);
        fixture_reopen(f);
        int64_t held = f->ops->last_seq(f->store, 7) / 24;
        assert_in_range(held, acknowledged, acknowledged + 1);
        for (int k = 0; k < held; k++) {
            assert_rows_held(f->store, 7, 1 + 24 * (uint32_t)k, 24);
        }
        assert_whole(f->store);
        assert_int_equal(rows_append(f->store, 7, 1 + 24 * (uint32_t)held, 24), 0);
        close_store(f);
    }
    print_message("cut at %d of %ld changes\n", LONG_CUTS, total);
}

int main(int argc, char **argv)
{
    uint64_t seed = argc > 1 ? strtoull(argv[1], NULL, 10) : 20260;
    printf("seed: %" PRIu64 "\n", seed);
    rng = rp_rng_seeded(seed);
    shim_install();
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_folder, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(nothing_acknowledged_is_lost),
        CASE(checkpoints_lose_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
