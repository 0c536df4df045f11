#include "rp_test.h"

#include "clinical/score/cold.h"
#include "clinical/score/old.h"
#include "ridgepost/error.h"

static struct rp_reading known(int value)
{
    return (struct rp_reading){true, value};
}

/* How many of the 1024 combinations have each total: coefficients of (1 + x + x^2 + x^3)^5. */
static const int totals[16] = {1, 5, 15, 35, 65, 101, 135, 155, 155, 135, 101, 65, 35, 15, 5, 1};

static void all_1024_combinations_of_1993(void **state)
{
    (void)state;
    int seen[16] = {0}, graded[3] = {0};
    for (int code = 0; code < 1024; code++) {
        struct rp_lls_old old;
        for (int i = 0; i < 5; i++) {
            old.items[i] = known(code >> 2 * i & 3);
        }
        struct rp_lls_old_result r;
        assert_int_equal(rp_lls_old_read(&old, &r), 0);
        assert_true(r.complete);
        seen[r.total]++;
        graded[r.grade]++;
    }
    assert_memory_equal(seen, totals, sizeof seen);
    /* 0-2 none, 3-4 mild, 5 and more: sums of the row above. */
    assert_int_equal(graded[RP_LLS_OLD_NONE], 1 + 5 + 15);
    assert_int_equal(graded[RP_LLS_OLD_MILD], 35 + 65);
    assert_int_equal(graded[RP_LLS_OLD_MORE], 1024 - 121);
}

static void an_incomplete_old_score_has_no_grade(void **state)
{
    (void)state;
    for (int missing = 0; missing < 5; missing++) {
        struct rp_lls_old old;
        for (int i = 0; i < 5; i++) {
            old.items[i] = (struct rp_reading){i != missing, 2};
        }
        struct rp_lls_old_result r;
        assert_int_equal(rp_lls_old_read(&old, &r), 0);
        assert_false(r.complete);
        assert_int_equal(r.total, 8);
        assert_int_equal(r.grade, RP_LLS_OLD_NONE);
    }
    struct rp_lls_old bad = {{known(0), known(0), known(4), known(0), known(0)}};
    struct rp_lls_old_result r = {.total = 99};
    assert_int_equal(rp_lls_old_read(&bad, &r), RP_E_INVALID);
    bad.items[2] = known(-1);
    assert_int_equal(rp_lls_old_read(&bad, &r), RP_E_INVALID);
    assert_int_equal(r.total, 99);
}

/* Roach et al. 2018, the functional score in our words. */
static void functional_words(void **state)
{
    (void)state;
    assert_string_equal(rp_functional_word(0), "no symptoms");
    assert_string_equal(rp_functional_word(1), "symptoms, no change of activity");
    assert_string_equal(rp_functional_word(2), "stopped ascending or went down under own power");
    assert_string_equal(rp_functional_word(3), "had to be evacuated lower");
    assert_string_equal(rp_functional_word(4), "");
    assert_string_equal(rp_functional_word(-1), "");
}

/* Original Swiss system, Scand J Trauma 27 (2019) table 1: 35-32, below 32-28, below 28-24, below
 * 24 C; both sides of every bound. */
static void stages_by_core_temperature(void **state)
{
    (void)state;
    static const int rows[][2] = {{351, 0}, {350, 1}, {320, 1}, {319, 2}, {280, 2},
                                  {279, 3}, {240, 3}, {239, 4}, {137, 4}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_cold_input input = {.core_dc = known(rows[i][0])};
        struct rp_cold cold;
        assert_int_equal(rp_cold_stage(&input, &cold), 0);
        assert_true(cold.by_core.known);
        assert_int_equal(cold.by_core.value, rows[i][1]);
        assert_false(cold.by_response.known);
        assert_false(cold.disagree);
    }
}

/* Revised Swiss system 2021, every level with every answer about signs of life: the whole table.
 * 0: not known. */
static void stages_by_response(void **state)
{
    (void)state;
    static const int table[6][3] = {
        /* signs of life: not checked, no, yes */
        {1, 4, 1}, /* alert */
        {2, 4, 2}, /* new confusion: ours */
        {2, 4, 2}, /* voice */
        {3, 4, 3}, /* pain */
        {0, 4, 3}, /* unresponsive: life must be looked for */
        {0, 4, 0}, /* level not known */
    };
    for (int level = 0; level < 6; level++) {
        for (int life = 0; life < 3; life++) {
            for (int brain = 0; brain < 2; brain++) {
                struct rp_cold_input input = {.acvpu = {level < 5, level},
                                              .signs_of_life = (enum rp_truth)life,
                                              .brain_suspected = brain};
                struct rp_cold cold;
                input.acvpu.value = level < 5 ? level : 0;
                assert_int_equal(rp_cold_stage(&input, &cold), 0);
                assert_int_equal(cold.by_response.known, table[level][life] != 0);
                assert_int_equal(cold.by_response.value, table[level][life]);
                assert_int_equal(cold.falsified, brain && level > 0 && level < 5);
            }
        }
    }
}

/* A brain oedema at 35.5 C: unresponsive looks like stage 3, the core says none: told apart. */
static void hace_falsifies_the_stage(void **state)
{
    (void)state;
    struct rp_cold_input input = {.core_dc = known(355),
                                  .acvpu = known(4),
                                  .signs_of_life = RP_TRUTH_YES,
                                  .brain_suspected = true};
    struct rp_cold cold;
    assert_int_equal(rp_cold_stage(&input, &cold), 0);
    assert_true(cold.falsified);
    assert_true(cold.disagree);
    input.core_dc = known(270);
    assert_int_equal(rp_cold_stage(&input, &cold), 0);
    assert_false(cold.disagree);
    input.acvpu = known(5);
    assert_int_equal(rp_cold_stage(&input, &cold), RP_E_INVALID);
    input.acvpu = known(-1);
    assert_int_equal(rp_cold_stage(&input, &cold), RP_E_INVALID);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_1024_combinations_of_1993),
        cmocka_unit_test(an_incomplete_old_score_has_no_grade),
        cmocka_unit_test(functional_words),
        cmocka_unit_test(stages_by_core_temperature),
        cmocka_unit_test(stages_by_response),
        cmocka_unit_test(hace_falsifies_the_stage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
