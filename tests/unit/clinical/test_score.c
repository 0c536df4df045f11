#include "rp_test.h"

#include "clinical/score.h"
#include "ridgepost/error.h"

static struct rp_reading known(int value)
{
    return (struct rp_reading){true, value};
}

/* How many of the 256 combinations have each total, by hand: the coefficients of
 * (1 + x + x^2 + x^3)^4. */
static const int totals[13] = {1, 4, 10, 20, 31, 40, 44, 40, 31, 20, 10, 4, 1};

/* Roach et al. 2018: sum of the items; AMS when headache >= 1 and total >= 3; mild 3-5, moderate
 * 6-9, severe 10-12 (grades from a secondary copy). */
static void all_256_combinations(void **state)
{
    (void)state;
    int seen[13] = {0}, ams = 0, graded[4] = {0};
    for (int i = 0; i < 256; i++) {
        int h = i & 3, g = i >> 2 & 3, f = i >> 4 & 3, d = i >> 6;
        struct rp_lls items = {known(h), known(g), known(f), known(d)};
        struct rp_lls_result r;
        assert_int_equal(rp_lls_score(&items, &r), 0);
        assert_true(r.complete);
        assert_int_equal(r.total, h + g + f + d);
        assert_int_equal(r.ams, h > 0 && h + g + f + d > 2 ? RP_TRUTH_YES : RP_TRUTH_NO);
        seen[r.total]++;
        ams += r.ams == RP_TRUTH_YES;
        graded[r.grade]++;
    }
    for (int t = 0; t <= 12; t++) {
        assert_int_equal(seen[t], totals[t]);
    }
    /* By hand, without AMS: 64 without headache, 4 of headache 1 with a rest below 2, 1 of headache
     * 2 with nothing else. */
    assert_int_equal(ams, 256 - 64 - 4 - 1);
    assert_int_equal(graded[RP_LLS_NONE], 69);
    assert_int_equal(graded[RP_LLS_SEVERE], 15); /* totals 10, 11, 12 all need a headache */
}

static void grades_change_at_the_published_totals(void **state)
{
    (void)state;
    static const struct {
        int h, g, f, d;
        enum rp_lls_grade grade;
    } cases[] = {
        {1, 1, 0, 0, RP_LLS_NONE},     {1, 1, 1, 0, RP_LLS_MILD},     {2, 1, 1, 1, RP_LLS_MILD},
        {2, 2, 1, 1, RP_LLS_MODERATE}, {3, 3, 3, 0, RP_LLS_MODERATE}, {3, 3, 3, 1, RP_LLS_SEVERE},
        {3, 3, 3, 3, RP_LLS_SEVERE},   {0, 3, 3, 3, RP_LLS_NONE}, /* no headache */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rp_lls items = {known(cases[i].h), known(cases[i].g), known(cases[i].f),
                               known(cases[i].d)};
        struct rp_lls_result r;
        assert_int_equal(rp_lls_score(&items, &r), 0);
        assert_int_equal(r.grade, cases[i].grade);
    }
}

static void missing_items_leave_it_open_unless_decided(void **state)
{
    (void)state;
    struct rp_reading none = {false, 0};
    struct rp_lls_result r;
    struct rp_lls nothing = {none, none, none, none};
    assert_int_equal(rp_lls_score(&nothing, &r), 0);
    assert_false(r.complete);
    assert_int_equal(r.ams, RP_TRUTH_UNKNOWN);
    struct rp_lls enough = {known(2), known(1), none, none};
    assert_int_equal(rp_lls_score(&enough, &r), 0);
    assert_false(r.complete);
    assert_int_equal(r.total, 3);
    assert_int_equal(r.ams, RP_TRUTH_YES);
    assert_int_equal(r.grade, RP_LLS_NONE); /* no grade of an incomplete score */
    struct rp_lls no_headache = {known(0), none, none, none};
    assert_int_equal(rp_lls_score(&no_headache, &r), 0);
    assert_int_equal(r.ams, RP_TRUTH_NO);
    struct rp_lls open = {known(1), known(0), known(1), none};
    assert_int_equal(rp_lls_score(&open, &r), 0);
    assert_int_equal(r.ams, RP_TRUTH_UNKNOWN);
    struct rp_lls headache_open = {none, known(3), known(3), known(3)};
    assert_int_equal(rp_lls_score(&headache_open, &r), 0);
    assert_int_equal(r.ams, RP_TRUTH_UNKNOWN);
    struct rp_lls bad = {known(4), known(0), known(0), known(0)};
    r.total = 99;
    assert_int_equal(rp_lls_score(&bad, &r), RP_E_INVALID);
    bad.headache = known(-1);
    assert_int_equal(rp_lls_score(&bad, &r), RP_E_INVALID);
    assert_int_equal(r.total, 99);
}

/* Lake Louise consensus 1991, written out: gain, AMS, mental change, ataxia -> HACE. */
static const char hace_table[16][5] = {
    /* without gain: never */
    "NNNN", "NNNY", "NNYN", "NNYY", "NYNN", "NYNY", "NYYN", "NYYY",
    /* with gain */
    "YNNN", "YNNY", "YNYN", "YNYY", "YYNN", "YYNY", "YYYN", "YYYY"};
static const char hace_met[17] = "NNNNNNNNNNNYNYYY";

static enum rp_truth hace(const char *row)
{
    enum rp_truth a[4];
    for (int i = 0; i < 4; i++) {
        a[i] = row[i] == 'Y' ? RP_TRUTH_YES : row[i] == 'N' ? RP_TRUTH_NO : RP_TRUTH_UNKNOWN;
    }
    struct rp_criteria c = {
        .altitude_gain = a[0], .ams = a[1], .mental_change = a[2], .ataxia = a[3]};
    return rp_hace_criteria(&c);
}

static void hace_truth_table(void **state)
{
    (void)state;
    for (int i = 0; i < 16; i++) {
        assert_int_equal(hace(hace_table[i]), hace_met[i] == 'Y' ? RP_TRUTH_YES : RP_TRUTH_NO);
    }
}

/* With answers missing ("?"), by hand. */
static void hace_with_missing_answers(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        enum rp_truth met;
    } cases[] = {
        {"????", RP_TRUTH_UNKNOWN}, {"N???", RP_TRUTH_NO},      {"?YYY", RP_TRUTH_UNKNOWN},
        {"Y?YY", RP_TRUTH_YES}, /* both signs: with AMS or without */
        {"Y?NN", RP_TRUTH_NO},      {"Y?YN", RP_TRUTH_UNKNOWN}, {"YYY?", RP_TRUTH_YES},
        {"YY?Y", RP_TRUTH_YES},     {"YYN?", RP_TRUTH_UNKNOWN}, {"YY?N", RP_TRUTH_UNKNOWN},
        {"YNY?", RP_TRUTH_UNKNOWN}, {"YNN?", RP_TRUTH_NO},      {"YN?N", RP_TRUTH_NO},
        {"Y???", RP_TRUTH_UNKNOWN}, {"?NN?", RP_TRUTH_NO},      {"??NN", RP_TRUTH_NO},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        if (hace(cases[i].row) != cases[i].met) {
            fail_msg("%s", cases[i].row);
        }
    }
}

/* All 3^9 answers: against the rule in its words, over every way the missing ones could be. */
static void hape_truth_table(void **state)
{
    (void)state;
    for (int code = 0; code < 19683; code++) {
        enum rp_truth a[9];
        int rest = code, missing[9], missing_count = 0;
        for (int i = 0; i < 9; i++, rest /= 3) {
            a[i] = (enum rp_truth)(rest % 3);
            if (a[i] == RP_TRUTH_UNKNOWN) {
                missing[missing_count++] = i;
            }
        }
        bool met = false, unmet = false;
        for (int fill = 0; fill < 1 << missing_count; fill++) {
            int yes[9];
            for (int i = 0; i < 9; i++) {
                yes[i] = a[i] == RP_TRUTH_YES;
            }
            for (int m = 0; m < missing_count; m++) {
                yes[missing[m]] = fill >> m & 1;
            }
            bool hape = yes[0] && yes[1] + yes[2] + yes[3] + yes[4] >= 2 &&
                        yes[5] + yes[6] + yes[7] + yes[8] >= 2;
            met = met || hape;
            unmet = unmet || !hape;
        }
        struct rp_criteria c = {.altitude_gain = a[0],
                                .dyspnoea_rest = a[1],
                                .cough = a[2],
                                .weakness = a[3],
                                .chest_tightness = a[4],
                                .crackles = a[5],
                                .cyanosis = a[6],
                                .tachypnoea = a[7],
                                .tachycardia = a[8]};
        enum rp_truth expected = met && unmet ? RP_TRUTH_UNKNOWN : met ? RP_TRUTH_YES : RP_TRUTH_NO;
        assert_int_equal(rp_hape_criteria(&c), expected);
    }
}

/* Two literal cases beside the exhaustive one. */
static void hape_by_hand(void **state)
{
    (void)state;
    struct rp_criteria c = {.altitude_gain = RP_TRUTH_YES,
                            .dyspnoea_rest = RP_TRUTH_YES,
                            .cough = RP_TRUTH_YES,
                            .crackles = RP_TRUTH_YES,
                            .tachycardia = RP_TRUTH_YES};
    assert_int_equal(rp_hape_criteria(&c), RP_TRUTH_YES);
    c.crackles = RP_TRUTH_NO;
    assert_int_equal(rp_hape_criteria(&c), RP_TRUTH_UNKNOWN);
    c.cyanosis = c.tachypnoea = RP_TRUTH_NO;
    assert_int_equal(rp_hape_criteria(&c), RP_TRUTH_NO);
}

static void glasgow_coma_scale(void **state)
{
    (void)state;
    int32_t total;
    assert_int_equal(rp_gcs_total(4, 5, 6, &total), 0);
    assert_int_equal(total, 15);
    assert_int_equal(rp_gcs_total(1, 1, 1, &total), 0);
    assert_int_equal(total, 3);
    assert_int_equal(rp_gcs_total(0, 5, 6, &total), RP_E_INVALID);
    assert_int_equal(rp_gcs_total(5, 5, 6, &total), RP_E_INVALID);
    assert_int_equal(rp_gcs_total(4, 0, 6, &total), RP_E_INVALID);
    assert_int_equal(rp_gcs_total(4, 6, 6, &total), RP_E_INVALID);
    assert_int_equal(rp_gcs_total(4, 5, 0, &total), RP_E_INVALID);
    assert_int_equal(rp_gcs_total(4, 5, 7, &total), RP_E_INVALID);
    assert_int_equal(total, 3);
}

/* Clinical references 3.2: the band (design judgement), and the acceptance of the job: 80 % at
 * 5000 m is no alarm, 68 % is. */
static void spo2_band(void **state)
{
    (void)state;
    static const struct {
        int32_t altitude_m, mean, alarm;
    } rows[] = {{2500, 930, 880}, {3000, 910, 850}, {3500, 890, 830}, {4000, 860, 790},
                {4500, 830, 750}, {5000, 810, 720}, {5500, 780, 680}, {6000, 740, 640},
                {6500, 680, 580}, {5250, 795, 700}, {4100, 854, 782}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_spo2_band band;
        assert_int_equal(rp_spo2_band_at(rows[i].altitude_m, &band), 0);
        assert_int_equal(band.mean_tenths, rows[i].mean);
        assert_int_equal(band.alarm_below_tenths, rows[i].alarm);
    }
    assert_int_equal(rp_spo2_below_band(5000, 80), RP_TRUTH_NO);
    assert_int_equal(rp_spo2_below_band(5000, 72), RP_TRUTH_NO);
    assert_int_equal(rp_spo2_below_band(5000, 71), RP_TRUTH_YES);
    assert_int_equal(rp_spo2_below_band(5000, 68), RP_TRUTH_YES);
    assert_int_equal(rp_spo2_below_band(2499, 50), RP_TRUTH_UNKNOWN);
    assert_int_equal(rp_spo2_below_band(6501, 50), RP_TRUTH_UNKNOWN);
    /* Published group means of well people lie inside it: 79.5 % at 5005 m (Imray 2001), 84.4 % at
     * 4260 m (Wagner 2012), 82 % at 5050 m (J Appl Physiol 124:930, 2017), in tenths. */
    static const int32_t means[3][2] = {{5005, 795}, {4260, 844}, {5050, 820}};
    for (int i = 0; i < 3; i++) {
        struct rp_spo2_band band;
        assert_int_equal(rp_spo2_band_at(means[i][0], &band), 0);
        assert_true(means[i][1] > band.alarm_below_tenths);
        assert_in_range(means[i][1], band.mean_tenths - 20, band.mean_tenths + 20);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_256_combinations),
        cmocka_unit_test(grades_change_at_the_published_totals),
        cmocka_unit_test(missing_items_leave_it_open_unless_decided),
        cmocka_unit_test(hace_truth_table),
        cmocka_unit_test(hace_with_missing_answers),
        cmocka_unit_test(hape_truth_table),
        cmocka_unit_test(hape_by_hand),
        cmocka_unit_test(glasgow_coma_scale),
        cmocka_unit_test(spo2_band),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
