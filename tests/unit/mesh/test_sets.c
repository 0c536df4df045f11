/* Sets of sequences and the vector codec, against a plain array of flags. */
#include "rp_test.h"

#include <stdlib.h>
#include <string.h>

#include "mesh/state.h"

#define SEQS 200

/* The naive model: one flag a number. */
struct naive {
    bool has[SEQS + 2];
};

static unsigned naive_runs_above_start(const struct naive *naive)
{
    unsigned runs = 0, seq = 1;
    while (naive->has[seq]) {
        seq++;
    }
    for (; seq <= SEQS; seq++) {
        runs += naive->has[seq] && !naive->has[seq - 1];
    }
    return runs;
}

static uint32_t naive_below(const struct naive *naive, uint32_t seq, bool wanted)
{
    while (seq > 0 && naive->has[seq] != wanted) {
        seq--;
    }
    return seq;
}

static void check_equal(const struct rp_held *held, const struct naive *naive)
{
    for (uint32_t seq = 1; seq <= SEQS; seq++) {
        assert_int_equal(rp_held_has(held, seq), naive->has[seq]);
        assert_int_equal(rp_held_below(held, seq, true), naive_below(naive, seq, true));
        assert_int_equal(rp_held_below(held, seq, false), naive_below(naive, seq, false));
    }
    assert_int_equal(rp_held_top(held), naive_below(naive, SEQS, true));
    assert_int_equal(held->run_count, naive_runs_above_start(naive));
}

static void random_set(struct rp_rng *rng, struct rp_held *held, struct naive *naive)
{
    memset(held, 0, sizeof *held);
    memset(naive, 0, sizeof *naive);
    unsigned adds = (unsigned)rp_rng_below(rng, 40);
    for (unsigned i = 0; i < adds; i++) {
        uint32_t first = 1 + (uint32_t)rp_rng_below(rng, SEQS);
        uint32_t last = first + (uint32_t)rp_rng_below(rng, 6);
        last = last > SEQS ? SEQS : last;
        struct naive trial = *naive;
        for (uint32_t seq = first; seq <= last; seq++) {
            trial.has[seq] = true;
        }
        bool fits = naive_runs_above_start(&trial) <= RP_RUNS_MAX;
        int rc = rp_held_add(held, first, last);
        assert_int_equal(rc, fits ? 0 : RP_E_FULL);
        if (fits) {
            *naive = trial;
        }
    }
}

static void test_sets_equal_naive_model(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 400; seed++) {
        struct rp_rng rng = rp_rng_seeded(seed);
        struct rp_held held;
        struct naive naive;
        random_set(&rng, &held, &naive);
        check_equal(&held, &naive);
    }
}

static void test_lacking_equals_naive_model(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct rp_rng rng = rp_rng_seeded(seed);
        struct rp_held a, b;
        struct naive naive_a, naive_b;
        random_set(&rng, &a, &naive_a);
        random_set(&rng, &b, &naive_b);
        uint32_t expected = 0;
        for (uint32_t seq = 1; seq <= SEQS; seq++) {
            expected = naive_a.has[seq] && !naive_b.has[seq] ? seq : expected;
            assert_int_equal(rp_held_lacking(&a, &b, seq), expected);
        }
    }
}

static void test_runs_merge(void **state)
{
    (void)state;
    struct rp_held held = {.upto = 3};
    assert_int_equal(rp_held_add(&held, 6, 7), 0);
    assert_int_equal(rp_held_add(&held, 9, 9), 0);
    assert_int_equal(held.run_count, 2);
    assert_int_equal(rp_held_add(&held, 8, 8), 0); /* joins two */
    assert_int_equal(held.run_count, 1);
    assert_int_equal(held.runs[0].first, 6);
    assert_int_equal(held.runs[0].last, 9);
    assert_int_equal(rp_held_add(&held, 4, 5), 0); /* joins the start */
    assert_int_equal(held.upto, 9);
    assert_int_equal(held.run_count, 0);
}

static void test_full_set_takes_what_needs_no_run(void **state)
{
    (void)state;
    struct rp_held held = {.upto = 1};
    for (uint32_t i = 0; i < RP_RUNS_MAX; i++) {
        assert_int_equal(rp_held_add(&held, 10 + 10 * i, 11 + 10 * i), 0);
    }
    assert_false(rp_held_room(&held, 1000));
    assert_int_equal(rp_held_add(&held, 1000, 1000), RP_E_FULL);
    assert_int_equal(held.run_count, RP_RUNS_MAX);
    assert_true(rp_held_room(&held, 12));
    assert_true(rp_held_room(&held, 2));
    assert_true(rp_held_room(&held, 5) == false);
}

static void test_vector_entry_bytes(void **state)
{
    (void)state;
    /* PROTOCOL.md, "Vector": 7.42, all to 4, and 7 to 8. */
    struct rp_vector_entry entry = {.origin = 0x0e2a,
                                    .held = {.upto = 4, .run_count = 1, .runs = {{7, 8}}}};
    uint8_t bytes[16];
    struct rp_writer w = rp_writer_on(bytes, sizeof bytes);
    assert_true(rp_vector_put(&w, &entry));
    static const uint8_t expected[] = {0x0e, 0x2a, 0x09, 0x01, 0x01, 0x01};
    assert_int_equal(w.len, sizeof expected);
    assert_memory_equal(bytes, expected, sizeof expected);
}

static void test_vector_round_trip(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 400; seed++) {
        struct rp_rng rng = rp_rng_seeded(seed);
        struct rp_vector_entry entry = {.origin = rp_origin_make(7, 42)}, read;
        struct naive naive;
        random_set(&rng, &entry.held, &naive);
        uint8_t bytes[256];
        size_t cap = 3 + (size_t)rp_rng_below(&rng, 120);
        struct rp_writer w = rp_writer_on(bytes, cap);
        if (!rp_vector_put(&w, &entry)) {
            assert_true(cap < 5); /* origin 2, mark 1 to 2, count 1 */
            continue;
        }
        assert_true(w.len <= cap);
        struct rp_reader r = rp_reader_on(rp_view_of(bytes, w.len));
        assert_true(rp_vector_get(&r, &read));
        assert_int_equal(rp_reader_left(&r), 0);
        assert_int_equal(read.held.upto, entry.held.upto);
        /* What did not fit is missing at the top, and that is said. */
        assert_int_equal(read.truncated, read.held.run_count < entry.held.run_count);
        assert_memory_equal(read.held.runs, entry.held.runs,
                            read.held.run_count * sizeof read.held.runs[0]);
    }
}

static void test_vector_refuses_malformed(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        uint8_t bytes[12];
        size_t len;
    } cases[] = {
        {"half an origin", {0x0e}, 1},
        {"no mark", {0x0e, 0x2a}, 2},
        {"station 0", {0x00, 0x2a, 0x08}, 3},
        {"station 100", {0xc8, 0x2a, 0x08}, 3},
        {"a long form of 4", {0x0e, 0x2a, 0x88, 0x00}, 4},
        {"a tail without count", {0x0e, 0x2a, 0x09}, 3},
        {"a tail of nothing", {0x0e, 0x2a, 0x09, 0x00}, 4},
        {"17 runs", {0x0e, 0x2a, 0x09, 0x11}, 4},
        {"a run cut short", {0x0e, 0x2a, 0x09, 0x01, 0x01}, 5},
        {"above the highest sequence", {0x0e, 0x2a, 0x09, 0x01, 0xff, 0xff, 0x7f, 0x00}, 8},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rp_reader r = rp_reader_on(rp_view_of(cases[i].bytes, cases[i].len));
        struct rp_vector_entry entry;
        if (rp_vector_get(&r, &entry) || !r.failed) {
            fail_msg("accepted: %s", cases[i].what);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sets_equal_naive_model),
        cmocka_unit_test(test_lacking_equals_naive_model),
        cmocka_unit_test(test_runs_merge),
        cmocka_unit_test(test_full_set_takes_what_needs_no_run),
        cmocka_unit_test(test_vector_entry_bytes),
        cmocka_unit_test(test_vector_round_trip),
        cmocka_unit_test(test_vector_refuses_malformed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
