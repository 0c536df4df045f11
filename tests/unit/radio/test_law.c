/* Every bound of the band table on both its edges. Literals from the sources named beside them:
 *  B1   ETSI EN 300 220-2 V3.2.1 (2018-06) table B.1: edges and duty cycles, as quoted (4.3.3) by a
 *       public network's duty-cycle page and in LoRaMac-node, pull request 750
 *  UN39 Spanish frequency table CNAF, note UN-39: powers of M, N and P
 *  R70  ERC/REC 70-03 as listed by EFIS: longest transmission 0.72 s, 3.6 s, 36 s
 *  FCC  47 CFR 15.247: 500 kHz, 1 W, 0.4 s
 *  mem  from memory: powers of K, L and Q; the gain reduction of 15.247 */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "radio/law/law.h"

static int ask(const char *word, const struct rp_law_use *use, struct rp_problem *out_problem)
{
    const struct rp_band *band = rp_band_find(word);
    assert_non_null(band);
    *out_problem = (struct rp_problem){0};
    int code = rp_law_check(band, use, out_problem);
    assert_in_range(strlen(out_problem->text), 0, sizeof out_problem->text - 2); /* not cut */
    assert_int_equal(code, out_problem->code);
    return code;
}

static void expect(const char *word, const struct rp_law_use *use, const char *field)
{
    struct rp_problem problem;
    int code = ask(word, use, &problem);
    if ((field == NULL) != (code == RP_OK) || strcmp(problem.field, field ? field : "") != 0) {
        fail_msg("%s: %d, field \"%s\" instead of \"%s\": %s", word, code, problem.field,
                 field ? field : "", problem.text);
    }
}

struct row {
    const char *word;
    uint32_t low_hz, high_hz; /* B1; the edges of 125 kHz signals lie half of that inside */
    uint32_t middle_hz;
    int power_dbm, duty_permille;
    uint32_t longest_us;
};

static const struct row rows[] = {
    {"eu-k", 863000000, 865000000, 864000000, 14, 1, 720000},      /* B1, mem, R70 */
    {"eu-l", 865000000, 868000000, 866500000, 14, 10, 3600000},    /* B1, mem, R70 */
    {"eu-m", 868000000, 868600000, 868300000, 14, 10, 3600000},    /* B1, UN39, R70 */
    {"eu-n", 868700000, 869200000, 868950000, 14, 1, 720000},      /* B1, UN39, R70 */
    {"eu-p", 869400000, 869650000, 869525000, 27, 100, 36000000},  /* B1, UN39, R70 */
    {"eu-q", 869700000, 870000000, 869850000, 14, 10, 3600000},    /* B1, mem, R70 */
    {"eu-433", 433050000, 434790000, 433900000, 10, 100, 36000000} /* national table, R70 */
};

static void bands_k_to_q_and_433_hold_at_each_edge(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct row *row = &rows[i];
        struct rp_radio_profile p = {
            .freq_hz = row->middle_hz, .bandwidth_hz = 125000, .power_dbm = (int8_t)row->power_dbm};
        struct rp_law_use use = {.profile = &p,
                                 .duty_permille = (uint32_t)row->duty_permille,
                                 .transmission_us = row->longest_us};
        expect(row->word, &use, NULL);
        p.freq_hz = row->low_hz;
        expect(row->word, &use, "frequency_hz");
        p.freq_hz = row->low_hz + 62500;
        expect(row->word, &use, "bandwidth_hz");
        p.freq_hz++;
        expect(row->word, &use, NULL);
        p.freq_hz = row->high_hz;
        expect(row->word, &use, "frequency_hz");
        p.freq_hz = row->high_hz - 62500;
        expect(row->word, &use, "bandwidth_hz");
        p.freq_hz--;
        expect(row->word, &use, NULL);
        p.power_dbm++;
        expect(row->word, &use, "power_dbm");
        p.power_dbm--;
        use.duty_permille++;
        expect(row->word, &use, "duty_permille");
        use.duty_permille--;
        use.transmission_us++;
        expect(row->word, &use, "frame_len_max");
    }
}

/* LoRaMac-node, VerifyRfFreq: 868.6-868.7, 869.2-869.4 and 869.65-869.7 MHz are in no band. */
static void the_gaps_are_in_no_band(void **state)
{
    (void)state;
    static const uint32_t gaps_hz[] = {862999999, 868600000, 868650000, 868700000,
                                       869200000, 869300000, 869400000, 869650000,
                                       869675000, 869700000, 870000000};
    for (size_t i = 0; i < sizeof gaps_hz / sizeof gaps_hz[0]; i++) {
        struct rp_radio_profile p = {.freq_hz = gaps_hz[i], .bandwidth_hz = 125000};
        struct rp_law_use use = {.profile = &p, .duty_permille = 1};
        for (size_t row = 0; row < sizeof rows / sizeof rows[0]; row++) {
            expect(rows[row].word, &use, "frequency_hz");
        }
    }
}

/* UN39 allows the 250 kHz of band P as one channel, but a LoRa signal of that bandwidth leaves no
 * guard between itself and either edge. */
static void a_signal_as_wide_as_its_band_is_refused(void **state)
{
    (void)state;
    struct rp_radio_profile p = {.freq_hz = 869525000, .bandwidth_hz = 250000};
    struct rp_law_use use = {.profile = &p, .duty_permille = 10};
    struct rp_problem problem;
    assert_int_equal(ask("eu-p", &use, &problem), RP_E_INVALID);
    assert_string_equal(problem.text,
                        "250000 Hz of bandwidth at 869525000 Hz touch or pass an edge of band "
                        "eu-p, 869400000..869650000 Hz: ETSI EN 300 220-2 V3.2.1 (2018-06) table "
                        "B.1 (example: 125000 at 869525000)");
}

/* LoRaMac-node: 16 dBm EIRP with 2.15 dBi, so 14 dBm ERP is 16.15 dBm EIRP. */
static void antenna_gain_counts_where_the_limit_is_radiated(void **state)
{
    (void)state;
    struct rp_radio_profile p = {.freq_hz = 868300000, .bandwidth_hz = 125000, .power_dbm = 10};
    struct rp_law_use use = {.profile = &p, .duty_permille = 10, .antenna_gain_cdbd = 400};
    struct rp_problem problem;
    expect("eu-m", &use, NULL);
    use.antenna_gain_cdbd = 401;
    assert_int_equal(ask("eu-m", &use, &problem), RP_E_INVALID);
    assert_string_equal(problem.text,
                        "power_dbm 10 is too much for 6.16 dBi of antenna in band eu-m, 14 dBm "
                        "ERP: ETSI EN 300 220-2 V3.2.1 (2018-06) table B.1 (example: 9)");
    use.antenna_gain_cdbd = -300; /* a lossy cable */
    p.power_dbm = 17;
    expect("eu-m", &use, NULL);
    p.power_dbm = 18;
    expect("eu-m", &use, "power_dbm");
    use.antenna_gain_cdbd = 1601; /* the example may be below zero: -2.01 dBm at most, so -3 */
    p.power_dbm = -2;
    assert_int_equal(ask("eu-m", &use, &problem), RP_E_INVALID);
    assert_non_null(strstr(problem.text, "(example: -3)"));
}

static struct rp_law_use fcc_use(struct rp_radio_profile *p)
{
    *p = (struct rp_radio_profile){.freq_hz = 915000000, .bandwidth_hz = 500000, .power_dbm = 22};
    return (struct rp_law_use){.profile = p, .duty_permille = 1000, .transmission_us = 5000000};
}

/* FCC: 6 dB bandwidth of at least 500 kHz, 1 W, no duty cycle, no dwell. */
static void digital_modulation_needs_500_khz(void **state)
{
    (void)state;
    struct rp_radio_profile p;
    struct rp_law_use use = fcc_use(&p);
    struct rp_problem problem;
    expect("fcc-digital", &use, NULL);
    p.bandwidth_hz = 499999;
    expect("fcc-digital", &use, "bandwidth_hz");
    p.bandwidth_hz = 125000;
    assert_int_equal(ask("fcc-digital", &use, &problem), RP_E_INVALID);
    assert_string_equal(problem.text,
                        "bandwidth_hz 125000 is below 500000, the least on one frequency in band "
                        "fcc-digital: 47 CFR 15.247 (2021) digital modulation, (b) (example: "
                        "500000)");
    p.bandwidth_hz = 500000;
    static const struct {
        uint32_t freq_hz;
        const char *field;
    } edges[] = {{902000000, "frequency_hz"}, {902250000, "bandwidth_hz"}, {902250001, NULL},
                 {928000000, "frequency_hz"}, {927750000, "bandwidth_hz"}, {927749999, NULL}};
    for (size_t i = 0; i < sizeof edges / sizeof edges[0]; i++) {
        p.freq_hz = edges[i].freq_hz;
        expect("fcc-digital", &use, edges[i].field);
    }
    p.power_dbm = 30; /* 1 W */
    expect("fcc-digital", &use, NULL);
    p.power_dbm = 31;
    expect("fcc-digital", &use, "power_dbm");
    p.power_dbm = 30;
    use.antenna_gain_cdbd = 385; /* 6 dBi, mem */
    expect("fcc-digital", &use, NULL);
    use.antenna_gain_cdbd = 386;
    expect("fcc-digital", &use, "power_dbm");
}

/* FCC: 0.4 s. Airtime of the two frames: SX127x formula, 255 and 138 bytes at SF7 and SF8, 125 kHz
 * are the longest under 400 ms; here only the microsecond on each side. */
static void hybrid_has_a_dwell_and_must_hop(void **state)
{
    (void)state;
    struct rp_radio_profile p;
    struct rp_law_use use = fcc_use(&p);
    struct rp_problem problem;
    p.bandwidth_hz = 125000;
    use.transmission_us = 400001;
    assert_int_equal(ask("fcc-hybrid", &use, &problem), RP_E_INVALID);
    assert_string_equal(problem.field, "frame_len_max");
    assert_non_null(strstr(problem.text, "401 ms, above 400 ms, the dwell of band fcc-hybrid"));
    use.transmission_us = 400000;
    expect("fcc-hybrid", &use, "band");
}

static void no_limit_must_be_acknowledged(void **state)
{
    (void)state;
    struct rp_radio_profile p = {.freq_hz = 920000000, .bandwidth_hz = 500000, .power_dbm = 22};
    struct rp_law_use use = {
        .profile = &p, .duty_permille = 1000, .transmission_us = 9999999, .antenna_gain_cdbd = 900};
    expect("none", &use, "no_limit_acknowledged");
    use.no_limit_acknowledged = true;
    expect("none", &use, NULL);
    p = (struct rp_radio_profile){.freq_hz = 868650000, .bandwidth_hz = 125000};
    expect("eu-m", &use, "frequency_hz"); /* acknowledged or not */
}

static void every_row_is_whole(void **state)
{
    (void)state;
    char words[200];
    rp_band_words(words, sizeof words);
    assert_string_equal(words, "eu-k, eu-l, eu-m, eu-n, eu-p, eu-q, eu-433, fcc-digital, "
                               "fcc-hybrid, none");
    char few[8];
    rp_band_words(few, sizeof few);
    assert_string_equal(few, "eu-k, e");
    size_t count = 0;
    const struct rp_band *band;
    for (; (band = rp_band_at(count)) != NULL; count++) {
        assert_in_range(strlen(band->word), 1, RP_BAND_WORD_LEN);
        assert_ptr_equal(rp_band_find(band->word), band);
        assert_true(band->no_limit || (band->law[0] && band->date[0] && band->clause[0]));
        assert_true(band->transmission_ms_max == 0 || band->transmission_law != NULL);
        struct rp_radio_profile p = {
            .freq_hz = band->example_hz,
            .bandwidth_hz = band->bandwidth_min_hz > 125000 ? band->bandwidth_min_hz : 125000};
        struct rp_law_use use = {.profile = &p, .duty_permille = 1, .no_limit_acknowledged = true};
        expect(band->word, &use, band->must_hop ? "band" : NULL);
    }
    assert_int_equal(count, 10);
    assert_null(rp_band_find("eu-r"));
    assert_null(rp_band_find(""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bands_k_to_q_and_433_hold_at_each_edge),
        cmocka_unit_test(the_gaps_are_in_no_band),
        cmocka_unit_test(a_signal_as_wide_as_its_band_is_refused),
        cmocka_unit_test(antenna_gain_counts_where_the_limit_is_radiated),
        cmocka_unit_test(digital_modulation_needs_500_khz),
        cmocka_unit_test(hybrid_has_a_dwell_and_must_hop),
        cmocka_unit_test(no_limit_must_be_acknowledged),
        cmocka_unit_test(every_row_is_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
