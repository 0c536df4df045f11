/* Trickle against the rules of RFC 6206 section 4.2, and the ledger against a brute-force sum. */
#include "rp_test.h"

#include "mesh/state.h"

#define IMIN (4 * RP_SECOND_US)
#define IMAX (64 * RP_SECOND_US)

static struct rp_trickle started(struct rp_rng *rng, uint64_t seed)
{
    *rng = rp_rng_seeded(seed);
    struct rp_trickle trickle;
    rp_trickle_start(&trickle, IMIN, IMAX, 1, 0, rng);
    return trickle;
}

static void test_rule_2_listens_for_half_an_interval(void **state)
{
    (void)state;
    rp_time_us least = RP_NEVER, most = 0;
    for (uint64_t seed = 1; seed <= 500; seed++) {
        struct rp_rng rng;
        struct rp_trickle trickle = started(&rng, seed);
        assert_int_equal(trickle.heard, 0);
        least = trickle.fire_us < least ? trickle.fire_us : least;
        most = trickle.fire_us > most ? trickle.fire_us : most;
    }
    assert_true(least >= IMIN / 2 && least < IMIN / 2 + IMIN / 50);
    assert_true(most < IMIN && most >= IMIN - IMIN / 50);
}

static void test_rules_3_and_4_suppress(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 50; seed++) {
        struct rp_rng rng;
        struct rp_trickle trickle = started(&rng, seed);
        assert_false(rp_trickle_poll(&trickle, trickle.fire_us - 1, &rng));
        assert_true(rp_trickle_poll(&trickle, trickle.fire_us, &rng));
        trickle = started(&rng, seed);
        rp_trickle_consistent(&trickle, true);
        assert_false(rp_trickle_poll(&trickle, trickle.fire_us, &rng));
        /* c = 0 in the next interval: it speaks again. */
        assert_false(rp_trickle_poll(&trickle, trickle.end_us, &rng));
        assert_true(rp_trickle_poll(&trickle, trickle.fire_us, &rng));
    }
}

static void test_rule_5_doubles_up_to_imax(void **state)
{
    (void)state;
    struct rp_rng rng;
    struct rp_trickle trickle = started(&rng, 1);
    static const int seconds[] = {8, 16, 32, 64, 64, 64};
    rp_time_us end_us = IMIN;
    for (size_t i = 0; i < sizeof seconds / sizeof seconds[0]; i++) {
        assert_int_equal(trickle.end_us, end_us);
        rp_trickle_poll(&trickle, trickle.fire_us, &rng);
        rp_trickle_poll(&trickle, trickle.end_us, &rng);
        assert_int_equal(trickle.interval_us, seconds[i] * RP_SECOND_US);
        assert_true(trickle.fire_us >= end_us + trickle.interval_us / 2);
        end_us += trickle.interval_us;
        assert_true(trickle.fire_us < end_us);
    }
}

static void test_rule_6_restarts_at_eight_imin(void **state)
{
    (void)state;
    struct rp_rng rng;
    struct rp_trickle trickle = started(&rng, 1);
    /* Not at Imin, as RFC 6206 has it, but at 8 Imin (see trickle.c): below that, nothing. */
    for (int i = 0; i < 3; i++) {
        rp_time_us fire_us = trickle.fire_us, end_us = trickle.end_us;
        rp_trickle_inconsistent(&trickle, end_us - trickle.interval_us + 1000, &rng);
        assert_int_equal(trickle.fire_us, fire_us);
        assert_int_equal(trickle.end_us, end_us);
        rp_trickle_poll(&trickle, trickle.end_us, &rng);
    }
    rp_trickle_poll(&trickle, trickle.end_us, &rng);
    assert_int_equal(trickle.interval_us, IMAX);
    rp_time_us now_us = trickle.end_us - IMAX + 5 * RP_SECOND_US;
    rp_trickle_inconsistent(&trickle, now_us, &rng);
    assert_int_equal(trickle.interval_us, 8 * IMIN);
    assert_int_equal(trickle.end_us, now_us + 8 * IMIN);
    assert_true(trickle.fire_us >= now_us + 4 * IMIN);
}

static void test_never_silent_after_a_long_pause(void **state)
{
    (void)state;
    /* A paused process asks again hours later: one interval begins, none is caught up on. */
    struct rp_rng rng;
    struct rp_trickle trickle = started(&rng, 1);
    rp_trickle_poll(&trickle, 5 * RP_HOUR_US, &rng);
    assert_true(rp_trickle_next(&trickle) > 5 * RP_HOUR_US);
    assert_true(rp_trickle_next(&trickle) <= 5 * RP_HOUR_US + 8 * RP_SECOND_US);
}

#define CHARGES 3000

struct charge {
    rp_time_us at_us;
    uint32_t airtime_us;
};

static uint64_t spent_in_hour(const struct charge *charges, unsigned count, rp_time_us end_us)
{
    uint64_t sum_us = 0;
    for (unsigned i = count; i-- > 0 && charges[i].at_us > end_us - RP_HOUR_US;) {
        sum_us += charges[i].airtime_us;
    }
    return sum_us;
}

static void test_ledger_never_above_budget(void **state)
{
    (void)state;
    static struct charge charges[CHARGES];
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct rp_rng rng = rp_rng_seeded(seed);
        struct rp_ledger ledger;
        rp_time_us now_us = (rp_time_us)rp_rng_below(&rng, RP_HOUR_US);
        const uint32_t budget_us = 36000000;
        rp_ledger_init(&ledger, budget_us, 30, now_us);
        unsigned count = 0;
        for (unsigned i = 0; i < CHARGES; i++) {
            now_us += (rp_time_us)rp_rng_below(&rng, 20 * RP_SECOND_US);
            uint32_t airtime_us = 1 + (uint32_t)rp_rng_below(&rng, 1200000);
            bool urgent = rp_rng_below(&rng, 5) == 0;
            enum rp_spend spend = urgent ? RP_SPEND_URGENT : RP_SPEND_ROUTINE;
            rp_time_us fits_us = rp_ledger_fits_at(&ledger, spend, airtime_us, now_us);
            uint64_t spent_us = spent_in_hour(charges, count, now_us);
            uint64_t most_us = urgent ? budget_us : budget_us / 10 * 7;
            if (fits_us == now_us) {
                rp_ledger_add(&ledger, now_us, airtime_us);
                charges[count++] = (struct charge){now_us, airtime_us};
                if (spent_us + airtime_us > most_us) {
                    fail_msg("seed %llu, charge %u: above the limit", (unsigned long long)seed, i);
                }
            } else {
                /* The stated moment is neither too early nor more than two buckets late. */
                assert_true(fits_us > now_us);
                assert_true(rp_ledger_fits_at(&ledger, spend, airtime_us, fits_us) == fits_us);
                assert_true(rp_ledger_fits_at(&ledger, spend, airtime_us, fits_us - 1) == fits_us);
                rp_time_us late_us = fits_us - 2 * RP_LEDGER_BUCKET_US;
                assert_true(spent_in_hour(charges, count, late_us) + airtime_us > most_us ||
                            late_us <= now_us);
            }
        }
        assert_true(count > CHARGES / 10); /* 8 h of 36 s, 0.6 s each on average: some 480 */
    }
}

static void test_ledger_keeps_the_reserve(void **state)
{
    (void)state;
    struct rp_ledger ledger;
    rp_ledger_init(&ledger, 1000000, 30, 0);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_ROUTINE, 0), 700000);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_URGENT, 0), 1000000);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_BACKLOG, 0), 490000);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_CATCH_UP, 0), 630000);
    rp_ledger_add(&ledger, 0, 700000);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_ROUTINE, 1), 0);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_URGENT, 1), 300000);
    assert_int_equal(rp_ledger_fits_at(&ledger, RP_SPEND_URGENT, 1000001, 1), RP_NEVER);
    /* Gone after the hour and one to two buckets of 15 s. */
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_ROUTINE, RP_HOUR_US), 0);
    assert_int_equal(rp_ledger_fits_at(&ledger, RP_SPEND_ROUTINE, 1, 1),
                     RP_HOUR_US + 30 * RP_SECOND_US);
}

static void test_ledger_takes_back(void **state)
{
    (void)state;
    struct rp_ledger ledger;
    rp_ledger_init(&ledger, 1000000, 0, 0);
    rp_ledger_add(&ledger, 5, 600000);
    rp_ledger_remove(&ledger, 5, 600000);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_URGENT, 6), 1000000);
    /* Charges from before a restart may be older than everything known. */
    rp_ledger_add(&ledger, -RP_HOUR_US / 2, 300000);
    assert_int_equal(rp_ledger_left_us(&ledger, RP_SPEND_URGENT, 6), 700000);
    assert_int_equal(
        rp_ledger_left_us(&ledger, RP_SPEND_URGENT, RP_HOUR_US / 2 + 31 * RP_SECOND_US), 1000000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rule_2_listens_for_half_an_interval),
        cmocka_unit_test(test_rules_3_and_4_suppress),
        cmocka_unit_test(test_rule_5_doubles_up_to_imax),
        cmocka_unit_test(test_rule_6_restarts_at_eight_imin),
        cmocka_unit_test(test_never_silent_after_a_long_pause),
        cmocka_unit_test(test_ledger_never_above_budget),
        cmocka_unit_test(test_ledger_keeps_the_reserve),
        cmocka_unit_test(test_ledger_takes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
