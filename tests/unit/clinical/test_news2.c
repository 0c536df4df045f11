#include "rp_test.h"

#include "clinical/news2.h"
#include "ridgepost/error.h"

/* A patient who scores 0 in every part. */
static struct rp_news2_input normal(void)
{
    return (struct rp_news2_input){.resp_rpm = {true, 16},
                                   .spo2_pct = {true, 97},
                                   .systolic_mmhg = {true, 120},
                                   .pulse_bpm = {true, 70},
                                   .temp_dc = {true, 370},
                                   .acvpu = {true, 0},
                                   .on_oxygen = RP_TRUTH_NO};
}

static struct rp_news2 score(const struct rp_news2_input *input)
{
    struct rp_news2 n;
    assert_int_equal(rp_news2_score(input, &n), 0);
    return n;
}

struct point {
    int value, score;
};

static void check_part(enum rp_news2_part part, enum rp_news2_scale scale, enum rp_truth oxygen,
                       const struct point *points, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct rp_news2_input input = normal();
        struct rp_reading *const fields[RP_NEWS2_PART_COUNT] = {
            [RP_NEWS2_RESP] = &input.resp_rpm,   [RP_NEWS2_SPO2] = &input.spo2_pct,
            [RP_NEWS2_PULSE] = &input.pulse_bpm, [RP_NEWS2_SYSTOLIC] = &input.systolic_mmhg,
            [RP_NEWS2_TEMP] = &input.temp_dc,    [RP_NEWS2_CONSCIOUS] = &input.acvpu};
        fields[part]->value = points[i].value;
        input.scale = scale;
        input.on_oxygen = oxygen;
        struct rp_news2 n = score(&input);
        if (!n.parts[part].known || n.parts[part].value != points[i].score) {
            fail_msg("%s %d: %d, expected %d", rp_news2_part_word(part), points[i].value,
                     (int)n.parts[part].value, points[i].score);
        }
    }
}
#define CHECK(part, scale, oxygen, ...)                                                            \
    do {                                                                                           \
        static const struct point points[] = {__VA_ARGS__};                                        \
        check_part(part, scale, oxygen, points, sizeof points / sizeof points[0]);                 \
    } while (0)

/* Royal College of Physicians, NEWS2, December 2017, chart 1: both sides of every boundary. */
static void every_boundary_of_chart_1(void **state)
{
    (void)state;
    CHECK(RP_NEWS2_RESP, RP_NEWS2_SCALE_1, RP_TRUTH_NO, {0, 3}, {8, 3}, {9, 1}, {11, 1}, {12, 0},
          {20, 0}, {21, 2}, {24, 2}, {25, 3}, {90, 3});
    CHECK(RP_NEWS2_SPO2, RP_NEWS2_SCALE_1, RP_TRUTH_NO, {0, 3}, {91, 3}, {92, 2}, {93, 2}, {94, 1},
          {95, 1}, {96, 0}, {100, 0});
    CHECK(RP_NEWS2_SPO2, RP_NEWS2_SCALE_1, RP_TRUTH_YES, {91, 3}, {92, 2}, {96, 0}, {100, 0});
    CHECK(RP_NEWS2_SPO2, RP_NEWS2_SCALE_2, RP_TRUTH_NO, {83, 3}, {84, 2}, {85, 2}, {86, 1}, {87, 1},
          {88, 0}, {92, 0}, {93, 0}, {97, 0}, {100, 0});
    CHECK(RP_NEWS2_SPO2, RP_NEWS2_SCALE_2, RP_TRUTH_YES, {83, 3}, {84, 2}, {85, 2}, {86, 1},
          {87, 1}, {88, 0}, {92, 0}, {93, 1}, {94, 1}, {95, 2}, {96, 2}, {97, 3}, {100, 3});
    CHECK(RP_NEWS2_SYSTOLIC, RP_NEWS2_SCALE_1, RP_TRUTH_NO, {30, 3}, {90, 3}, {91, 2}, {100, 2},
          {101, 1}, {110, 1}, {111, 0}, {219, 0}, {220, 3}, {300, 3});
    CHECK(RP_NEWS2_PULSE, RP_NEWS2_SCALE_1, RP_TRUTH_NO, {0, 3}, {40, 3}, {41, 1}, {50, 1}, {51, 0},
          {90, 0}, {91, 1}, {110, 1}, {111, 2}, {130, 2}, {131, 3}, {300, 3});
    CHECK(RP_NEWS2_CONSCIOUS, RP_NEWS2_SCALE_1, RP_TRUTH_NO, {0, 0}, {1, 3}, {2, 3}, {3, 3},
          {4, 3});
    CHECK(RP_NEWS2_TEMP, RP_NEWS2_SCALE_1, RP_TRUTH_NO, {350, 3}, {351, 1}, {360, 1}, {361, 0},
          {380, 0}, {381, 1}, {390, 1}, {391, 2}, {450, 2});
    struct rp_news2_input input = normal();
    assert_int_equal(score(&input).parts[RP_NEWS2_OXYGEN].value, 0);
    input.on_oxygen = RP_TRUTH_YES;
    assert_int_equal(score(&input).parts[RP_NEWS2_OXYGEN].value, 2);
}

/* Range 0-20. */
static void totals_span_the_published_range(void **state)
{
    (void)state;
    struct rp_news2_input input = normal();
    struct rp_news2 n = score(&input);
    assert_true(n.with_spo2.complete);
    assert_int_equal(n.with_spo2.score, 0);
    assert_int_equal(n.with_spo2.risk, RP_NEWS2_ZERO);
    struct rp_news2_input worst = {.resp_rpm = {true, 30},
                                   .spo2_pct = {true, 70},
                                   .systolic_mmhg = {true, 80},
                                   .pulse_bpm = {true, 140},
                                   .temp_dc = {true, 340},
                                   .acvpu = {true, 4},
                                   .on_oxygen = RP_TRUTH_YES};
    n = score(&worst);
    assert_int_equal(n.with_spo2.score, 20);
    assert_int_equal(n.without_spo2.score, 17);
    assert_int_equal(n.with_spo2.risk, RP_NEWS2_HIGH);
}

/* Clinical references 3.1: at 5000 m a healthy 80 % scores 3 by itself: "urgent", were it believed.
 * Without SpO2 the same person scores 0. */
static void a_healthy_climber_with_and_without_spo2(void **state)
{
    (void)state;
    struct rp_news2_input input = normal();
    input.spo2_pct.value = 80;
    struct rp_news2 n = score(&input);
    assert_int_equal(n.with_spo2.score, 3);
    assert_true(n.with_spo2.three_in_one);
    assert_int_equal(n.with_spo2.risk, RP_NEWS2_LOW_MEDIUM);
    assert_int_equal(n.without_spo2.score, 0);
    assert_false(n.without_spo2.three_in_one);
    assert_int_equal(n.without_spo2.risk, RP_NEWS2_ZERO);
}

/* Chart 4: bands at 1-4, 3 in one part, 5-6, 7 and more. */
static void bands_change_at_the_published_scores(void **state)
{
    (void)state;
    struct rp_news2_input input = normal();
    input.pulse_bpm.value = 91; /* 1 */
    assert_int_equal(score(&input).with_spo2.risk, RP_NEWS2_LOW);
    input.on_oxygen = RP_TRUTH_YES; /* 3, none of it alone */
    input.temp_dc.value = 381;      /* 4 */
    assert_int_equal(score(&input).with_spo2.score, 4);
    assert_int_equal(score(&input).with_spo2.risk, RP_NEWS2_LOW);
    input.systolic_mmhg.value = 110; /* 5 */
    assert_int_equal(score(&input).with_spo2.risk, RP_NEWS2_MEDIUM);
    input.resp_rpm.value = 11; /* 6 */
    assert_int_equal(score(&input).with_spo2.risk, RP_NEWS2_MEDIUM);
    input.spo2_pct.value = 95; /* 7 */
    assert_int_equal(score(&input).with_spo2.score, 7);
    assert_int_equal(score(&input).with_spo2.risk, RP_NEWS2_HIGH);
    struct rp_news2_input one = normal();
    one.acvpu.value = 1;
    assert_int_equal(score(&one).with_spo2.score, 3);
    assert_int_equal(score(&one).with_spo2.risk, RP_NEWS2_LOW_MEDIUM);
}

static void missing_parts_make_it_incomplete(void **state)
{
    (void)state;
    for (int part = 0; part < RP_NEWS2_PART_COUNT; part++) {
        struct rp_news2_input input = normal();
        input.pulse_bpm.value = 120; /* 2 */
        input.resp_rpm.value = 22;   /* 2 */
        struct rp_reading *const fields[RP_NEWS2_PART_COUNT] = {
            [RP_NEWS2_RESP] = &input.resp_rpm,   [RP_NEWS2_SPO2] = &input.spo2_pct,
            [RP_NEWS2_PULSE] = &input.pulse_bpm, [RP_NEWS2_SYSTOLIC] = &input.systolic_mmhg,
            [RP_NEWS2_TEMP] = &input.temp_dc,    [RP_NEWS2_CONSCIOUS] = &input.acvpu};
        if (fields[part] != NULL) {
            fields[part]->known = false;
        } else {
            input.on_oxygen = RP_TRUTH_UNKNOWN;
        }
        struct rp_news2 n = score(&input);
        assert_false(n.parts[part].known);
        assert_false(n.with_spo2.complete);
        assert_int_equal(n.without_spo2.complete, part == RP_NEWS2_SPO2);
        int left = part == RP_NEWS2_RESP || part == RP_NEWS2_PULSE ? 2 : 4;
        assert_int_equal(n.with_spo2.score, left); /* at least */
    }
    struct rp_news2_input nothing = {0};
    struct rp_news2 n = score(&nothing);
    assert_false(n.with_spo2.complete);
    assert_false(n.without_spo2.complete);
    /* Scale 2 from 93 % needs to know whether oxygen is given. */
    struct rp_news2_input two = normal();
    two.scale = RP_NEWS2_SCALE_2;
    two.on_oxygen = RP_TRUTH_UNKNOWN;
    two.spo2_pct.value = 93;
    assert_false(score(&two).parts[RP_NEWS2_SPO2].known);
    two.spo2_pct.value = 92;
    assert_true(score(&two).parts[RP_NEWS2_SPO2].known);
}

static void children_and_pregnancy_are_refused(void **state)
{
    (void)state;
    struct rp_news2 n = {.with_spo2 = {.score = 99}};
    struct rp_news2_input input = normal();
    input.age_y = (struct rp_reading){true, 15};
    assert_int_equal(rp_news2_score(&input, &n), RP_E_UNSUPPORTED);
    input.age_y.value = 16;
    input.pregnant = RP_TRUTH_YES;
    assert_int_equal(rp_news2_score(&input, &n), RP_E_UNSUPPORTED);
    input.pregnant = RP_TRUTH_UNKNOWN;
    input.acvpu.value = 5;
    assert_int_equal(rp_news2_score(&input, &n), RP_E_INVALID);
    input.acvpu.value = -1;
    assert_int_equal(rp_news2_score(&input, &n), RP_E_INVALID);
    assert_int_equal(n.with_spo2.score, 99);
    input.acvpu.value = 0;
    assert_int_equal(rp_news2_score(&input, &n), 0);
}

static void parts_have_words(void **state)
{
    (void)state;
    assert_string_equal(rp_news2_part_word(RP_NEWS2_RESP), "respiration");
    assert_string_equal(rp_news2_part_word(RP_NEWS2_TEMP), "temperature");
    assert_string_equal(rp_news2_part_word(RP_NEWS2_PART_COUNT), "?");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_boundary_of_chart_1),
        cmocka_unit_test(totals_span_the_published_range),
        cmocka_unit_test(a_healthy_climber_with_and_without_spo2),
        cmocka_unit_test(bands_change_at_the_published_scores),
        cmocka_unit_test(missing_parts_make_it_incomplete),
        cmocka_unit_test(children_and_pregnancy_are_refused),
        cmocka_unit_test(parts_have_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
