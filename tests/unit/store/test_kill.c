/* A process that appends own records as fast as it can is killed at random moments, 200 times
 * (40 with sanitizers): what it acknowledged is there unchanged, and no sequence is used twice. */
#include "fixture.h"

#include <errno.h>
#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/rng.h"
#include "workload.h"

/* Each log lives for 20 lives, or checking would take longer than living. */
enum { LOGS = FIXTURE_SLOW ? 2 : 10, LIVES = 20, ACKS_MAX = 20000, LIFE_US_MAX = 4000 };

/* An acknowledgement in the pipe. A write this small is never torn (POSIX, PIPE_BUF). */
struct ack {
    uint32_t seq, count, life;
};

static struct rp_rng rng;
static struct ack acks[ACKS_MAX];
static size_t ack_count;

/* The record carries the life in its time: another life's record would show. */
static int append(struct rp_store *store, const struct ack *ack)
{
    struct rows rows;
    rows_fill(&rows, 7, ack->seq, ack->count);
    rows.record.time_s = ack->life;
    return rp_store_ops()->append_own(store, rows.segments, rows.count, &rows.record);
}

/* The child: exits with a number for what went wrong; else only ends when killed. */
static void live(const char *path, int pipe_out, uint32_t life)
{
    struct rp_store *store = NULL;
    if (rp_store_open(path, &store, NULL) < 0) {
        _exit(3);
    }
    int64_t last = rp_store_ops()->last_seq(store, 7);
    struct ack ack = {.seq = (uint32_t)last + 1, .life = life}; /* count 0: ready */
    if (write(pipe_out, &ack, sizeof ack) != (ssize_t)sizeof ack) {
        _exit(5);
    }
    while (last >= 0) {
        ack.count = 1 + (uint32_t)rp_rng_below(&rng, 3);
        if (append(store, &ack) != 0) {
            _exit(4);
        }
        if (write(pipe_out, &ack, sizeof ack) != (ssize_t)sizeof ack) {
            _exit(5);
        }
        ack.seq += ack.count;
    }
    _exit(6);
}

static void wait_us(int64_t us)
{
    struct timespec left = {us / 1000000, (us % 1000000) * 1000};
    while (nanosleep(&left, &left) != 0 && errno == EINTR) {
    }
}

/* Takes the next acknowledgement from the pipe; false at its end. */
static bool read_ack(int pipe_in)
{
    struct ack ack;
    ssize_t len = read(pipe_in, &ack, sizeof ack);
    assert_true(len == 0 || len == (ssize_t)sizeof ack);
    if (len > 0 && ack.count > 0) {
        assert_true(ack_count < ACKS_MAX);
        acks[ack_count++] = ack;
    }
    return len > 0;
}

static void one_life(struct fixture *f, uint32_t life)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        close(ends[0]);
        live(f->path, ends[1], life);
    }
    close(ends[1]);
    /* One in ten may die while it opens the log; the others when they are ready, or have written
     * up to three records, and a little later. */
    uint64_t messages = rp_rng_below(&rng, 10) == 0 ? 0 : 1 + rp_rng_below(&rng, 4);
    for (uint64_t i = 0; i < messages; i++) {
        assert_true(read_ack(ends[0]));
    }
    wait_us(rp_rng_between(&rng, 0, LIFE_US_MAX));
    assert_int_equal(kill(child, SIGKILL), 0);
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    while (read_ack(ends[0])) { /* the pipe still holds what was acknowledged before the end */
    }
    close(ends[0]);
    if (!WIFSIGNALED(status)) {
        fail_msg("the child ended by itself with %d", WEXITSTATUS(status));
    }
}

static void assert_ack_held(struct fixture *f, const struct ack *ack)
{
    static struct seen seen;
    seen = (struct seen){.count = 0};
    struct rp_record_ref ref = {7, ack->seq};
    assert_int_equal(f->ops->get_record(f->store, ref, seen_visit, &seen), 0);
    assert_int_equal(seen.rows[0].time_s, ack->life);
    assert_rows_held(f->store, 7, ack->seq, ack->count);
}

/* Checks the log after a life whose acknowledgements begin at `before`. */
static void check_life(struct fixture *f, size_t before)
{
    fixture_reopen(f);
    for (size_t i = before; i < ack_count; i++) {
        assert_ack_held(f, &acks[i]);
        /* Each begins after all that was acknowledged before: no sequence twice. */
        assert_true(i == 0 || acks[i].seq >= acks[i - 1].seq + acks[i - 1].count);
    }
    if (ack_count > before) {
        const struct ack *last = &acks[ack_count - 1];
        int64_t end = last->seq + last->count - 1;
        /* At most the one record under way, of 3 segments, may be there as well. */
        assert_in_range(f->ops->last_seq(f->store, 7), end, end + 3);
    }
    assert_whole(f->store);
    rp_store_close(f->store);
    f->store = NULL;
}

static void a_killed_station_loses_nothing(void **state)
{
    struct fixture *f = *state;
    size_t productive = 0, total = 0;
    for (int log = 0; log < LOGS; log++) {
        workload_remove_log(f);
        ack_count = 0;
        for (uint32_t life = 1; life <= LIVES; life++) {
            size_t before = ack_count;
            one_life(f, life);
            check_life(f, before);
            productive += ack_count > before;
        }
        check_life(f, 0);
        total += ack_count;
    }
    print_message("killed %d times, %zu after acknowledgements, of %zu records in all\n",
                  LOGS * LIVES, productive, total);
    assert_in_range(productive, LOGS * LIVES / 4, LOGS * LIVES);
}

int main(int argc, char **argv)
{
    uint64_t seed = argc > 1 ? strtoull(argv[1], NULL, 10) : (uint64_t)getpid();
    printf("seed: %" PRIu64 "\n", seed);
    fflush(stdout);
    rng = rp_rng_seeded(seed);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_killed_station_loses_nothing, fixture_folder,
                                        fixture_close),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
