/* Net settings and the digits of the net secret. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "base/rng.h"
#include "node/net.h"

/* ISO/IEC 7064:2003, example of MOD 11,10: "0794" takes the check digit 5. The others were worked
 * by hand with the procedure of the standard (product 10; add the digit; modulo 10, 0 counts as 10;
 * double; modulo 11; the check digit makes the sum 1 modulo 10). */
static void check_digit_is_the_standards(void **state)
{
    (void)state;
    assert_int_equal(rp_net_check_digit("0794", 4), 5);
    assert_int_equal(rp_net_check_digit("0", 1), 2);
    assert_int_equal(rp_net_check_digit("1", 1), 9);
    assert_int_equal(rp_net_check_digit("00000", 5), 0);
}

static void random_secret(struct rp_rng *rng, uint8_t out_secret[RP_SECRET_LEN])
{
    for (size_t i = 0; i < RP_SECRET_LEN; i++) {
        out_secret[i] = (uint8_t)rp_rng_below(rng, 256);
    }
}

static void random_secrets_come_back(void **state)
{
    (void)state;
    const uint64_t seed = 20260225;
    struct rp_rng rng = rp_rng_seeded(seed);
    print_message("seed %lu\n", (unsigned long)seed);
    for (int i = 0; i < 300; i++) {
        uint8_t secret[RP_SECRET_LEN], back[RP_SECRET_LEN] = {0};
        char text[RP_NET_DIGITS_LEN + 1];
        struct rp_problem problem = {0};
        random_secret(&rng, secret);
        rp_net_digits(secret, text);
        assert_int_equal(strlen(text), 62);
        assert_int_equal(rp_net_from_digits(text, back, &problem), RP_OK);
        assert_memory_equal(secret, back, RP_SECRET_LEN);
    }
}

static void any_separator_will_do(void **state)
{
    (void)state;
    uint8_t secret[RP_SECRET_LEN] = {0xff, 0xff, 1, 2, 3}, back[RP_SECRET_LEN];
    char text[RP_NET_DIGITS_LEN + 1], loose[2 * RP_NET_DIGITS_LEN + 2];
    rp_net_digits(secret, text);
    assert_memory_equal(text, "65535", 5);
    size_t len = 0;
    for (const char *at = text; *at != '\0'; at++) {
        loose[len++] = *at == '-' ? '.' : *at;
        loose[len++] = ' ';
    }
    loose[len] = '\0';
    assert_int_equal(rp_net_from_digits(loose, back, NULL), RP_OK);
    assert_memory_equal(secret, back, RP_SECRET_LEN);
}

static void each_single_wrong_digit_is_refused_and_its_group_named(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(7);
    print_message("seed 7\n");
    for (int round = 0; round < 5; round++) {
        uint8_t secret[RP_SECRET_LEN], back[RP_SECRET_LEN];
        char text[RP_NET_DIGITS_LEN + 1];
        random_secret(&rng, secret);
        rp_net_digits(secret, text);
        for (size_t i = 0; i < RP_NET_DIGITS_LEN; i++) {
            char right = text[i], named[24];
            snprintf(named, sizeof named, "group %zu (", i / 7 + 1);
            for (char wrong = '0'; right != '-' && wrong <= '9'; wrong++) {
                struct rp_problem problem = {0};
                text[i] = wrong;
                int code = rp_net_from_digits(text, back, &problem);
                assert_int_equal(code, wrong == right ? RP_OK : RP_E_INVALID);
                assert_true(wrong == right || strncmp(problem.text, named, strlen(named)) == 0);
            }
            text[i] = right;
        }
    }
}

static void swapped_neighbours_are_refused_and_named(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(11);
    print_message("seed 11\n");
    for (int round = 0; round < 20; round++) {
        uint8_t secret[RP_SECRET_LEN], back[RP_SECRET_LEN];
        char text[RP_NET_DIGITS_LEN + 1];
        random_secret(&rng, secret);
        rp_net_digits(secret, text);
        for (size_t group = 0; group < 8; group++) {
            char swapped[RP_NET_DIGITS_LEN + 1], expected[80];
            memcpy(swapped, text, sizeof swapped);
            memcpy(swapped + 7 * group, text + 7 * (group + 1), 6);
            memcpy(swapped + 7 * (group + 1), text + 7 * group, 6);
            struct rp_problem problem = {0};
            assert_int_equal(rp_net_from_digits(swapped, back, &problem), RP_E_INVALID);
            snprintf(expected, sizeof expected,
                     "groups %zu and %zu seem to be swapped; read those two again", group + 1,
                     group + 2);
            assert_string_equal(problem.text, expected);
        }
    }
}

static void refused(const char *text, int code, const char *sentence)
{
    uint8_t secret[RP_SECRET_LEN], untouched[RP_SECRET_LEN];
    memset(secret, 0xaa, sizeof secret);
    memset(untouched, 0xaa, sizeof untouched);
    struct rp_problem problem = {0};
    assert_int_equal(rp_net_from_digits(text, secret, &problem), code);
    assert_string_equal(problem.field, "digits");
    assert_string_equal(problem.text, sentence);
    assert_memory_equal(secret, untouched, sizeof secret);
}

static void malformed_digits_are_refused(void **state)
{
    (void)state;
    refused("", RP_E_FORMAT, "fewer digits than 54, nine groups of six (example: 012345-...)");
    refused("000007-00000", RP_E_FORMAT,
            "fewer digits than 54, nine groups of six (example: 012345-...)");
    refused("000000000000000000000000000000000000000000000000000000"
            "0",
            RP_E_FORMAT, "more digits than 54, nine groups of six (example: 012345-...)");
    refused("00000x", RP_E_FORMAT, "'x' is not a digit (example: 012345-...: nine groups of six)");
    /* Well formed each, but the ninth is no hash of eight empty groups. */
    refused("000000000000000000000000000000000000000000000000000000", RP_E_INVALID,
            "every group is well formed but the nine do not belong together: some are swapped or "
            "of another net; read all again");
}

/* A group can hold five digits, but not more than 16 bits: 65536 with its right check digit. */
static void a_group_above_16_bits_is_refused(void **state)
{
    (void)state;
    uint8_t secret[RP_SECRET_LEN] = {0}, back[RP_SECRET_LEN];
    char text[RP_NET_DIGITS_LEN + 1];
    struct rp_problem problem = {0};
    rp_net_digits(secret, text);
    memcpy(text, "65536", 5);
    text[5] = (char)('0' + rp_net_check_digit("65536", 5));
    assert_int_equal(rp_net_from_digits(text, back, &problem), RP_E_INVALID);
    assert_memory_equal(problem.text, "group 1 (65536", 14);
}

struct edge {
    const char *field;
    long low, high;            /* inclusive */
    const char *below, *above; /* the problem just outside; NULL: the field cannot hold it */
};

static const struct edge edges[] = {
    {"frequency_hz", 137000000, 1020000000,
     "frequency_hz 136999999 is outside 137000000..1020000000 (example: 869525000)",
     "frequency_hz 1020000001 is outside 137000000..1020000000 (example: 869525000)"},
    {"spreading_factor", 7, 12,
     "spreading_factor 6 is refused: chip families follow different rules for 5 and 6 and do not "
     "hear each other; 7..12 are left (example: 9)",
     "spreading_factor 13 is outside 7..12 (example: 9)"},
    {"coding_rate", 5, 8, "coding_rate 4 is outside 5..8 (example: 5)",
     "coding_rate 9 is outside 5..8 (example: 5)"},
    {"power_dbm", -3, 22, "power_dbm -4 is outside -3..22 (example: 14)",
     "power_dbm 23 is outside -3..22 (example: 14)"},
    {"preamble_symbols", 6, 65535, "preamble_symbols 5 is outside 6..65535 (example: 8)", NULL},
    {"frame_len_max", 60, 222, "frame_len_max 59 is outside 60..222 (example: 120)",
     "frame_len_max 223 is outside 60..222 (example: 120)"},
    {"duty_permille", 1, 1000, "duty_permille 0 is outside 1..1000 (example: 10)",
     "duty_permille 1001 is outside 1..1000 (example: 10)"},
    {"urgent_reserve_pct", 0, 90, NULL, "urgent_reserve_pct 91 is outside 0..90 (example: 30)"},
    {"epoch", 0, 3, NULL, "epoch 4 is outside 0..3 (example: 0)"},
};

static void set_field(struct rp_net *net, size_t which, long value)
{
    switch (which) {
    case 0:
        net->profile.freq_hz = (uint32_t)value;
        break;
    case 1:
        net->profile.spreading_factor = (uint8_t)value;
        break;
    case 2:
        net->profile.coding_rate = (uint8_t)value;
        break;
    case 3:
        net->profile.power_dbm = (int8_t)value;
        break;
    case 4:
        net->profile.preamble_symbols = (uint16_t)value;
        break;
    case 5:
        net->frame_len_max = (uint16_t)value;
        break;
    case 6:
        net->duty_permille = (uint32_t)value;
        break;
    case 7:
        net->urgent_reserve_pct = (uint8_t)value;
        break;
    default:
        net->epoch = (uint8_t)value;
        break;
    }
}

static void expect(size_t which, long value, const char *sentence)
{
    struct rp_net net;
    struct rp_problem problem = {0};
    rp_net_defaults(&net);
    set_field(&net, which, value);
    assert_int_equal(rp_net_check(&net, &problem), sentence == NULL ? RP_OK : RP_E_INVALID);
    assert_string_equal(problem.text, sentence == NULL ? "" : sentence);
    assert_string_equal(problem.field, sentence == NULL ? "" : edges[which].field);
}

static void each_bound_holds_at_both_edges(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof edges / sizeof edges[0]; i++) {
        expect(i, edges[i].low, NULL);
        expect(i, edges[i].high, NULL);
        if (edges[i].below != NULL) {
            expect(i, edges[i].low - 1, edges[i].below);
        }
        if (edges[i].above != NULL) {
            expect(i, edges[i].high + 1, edges[i].above);
        }
    }
}

static void a_net_without_a_band_sends_nothing(void **state)
{
    (void)state;
    struct rp_net net;
    struct rp_problem problem = {0};
    rp_net_defaults(&net);
    assert_int_equal(rp_net_check(&net, &problem), RP_OK); /* records are kept without a radio */
    assert_int_equal(rp_net_check_plan(&net, &problem), RP_E_INVALID);
    assert_string_equal(problem.field, "band");
    assert_string_equal(problem.text,
                        "the net has no band, so nothing may be sent: choose the law that holds "
                        "where it stands (for frequency_hz 869525000: eu-p, none; example: band "
                        "eu-p)");
    strcpy(net.band, "eu-r");
    assert_int_equal(rp_net_check(&net, &problem), RP_E_INVALID);
    assert_string_equal(problem.text, "band eu-r is none of eu-k, eu-l, eu-m, eu-n, eu-p, eu-q, "
                                      "eu-433, fcc-digital, fcc-hybrid, none (example: eu-p)");
    strcpy(net.band, "eu-p");
    assert_int_equal(rp_net_check(&net, &problem), RP_OK);
    assert_int_equal(rp_net_check_plan(&net, &problem), RP_OK);
    net.duty_permille = 101; /* ETSI EN 300 220-2 V3.2.1 table B.1, band P: 10 % */
    assert_int_equal(rp_net_check_plan(&net, &problem), RP_E_INVALID);
    assert_string_equal(problem.field, "duty_permille");
}

/* The longest transmission is that of the frames as they travel: 24 bytes at SF12, 125 kHz, 4/7 and
 * preamble 8 last 1810.432 ms, 64 bytes 3645.440 ms (RadioLib's time-on-air test); base64 makes 64
 * bytes out of 48. */
static void the_longest_frame_is_what_travels(void **state)
{
    (void)state;
    struct rp_net net;
    struct rp_problem problem = {0};
    rp_net_defaults(&net);
    net.profile.spreading_factor = 12;
    net.profile.coding_rate = 7;
    net.profile.freq_hz = 868300000;
    strcpy(net.band, "eu-m"); /* longest transmission 3.6 s, ERC/REC 70-03 */
    assert_int_equal(rp_net_airtime_us(&net, 24), 1810432);
    assert_int_equal(rp_net_airtime_us(&net, 64), 3645440);
    net.frame_len_max = 64;
    assert_int_equal(rp_net_check_plan(&net, &problem), RP_E_INVALID);
    assert_string_equal(problem.field, "frame_len_max");
    net.profile.text_armour = true;
    assert_int_equal(rp_net_airtime_us(&net, 48), 3645440);
}

static void spreading_factors_5_and_6_are_refused_with_the_reason(void **state)
{
    (void)state;
    for (uint8_t factor = 4; factor <= 6; factor++) {
        struct rp_net net;
        struct rp_problem problem = {0};
        rp_net_defaults(&net);
        net.profile.spreading_factor = factor;
        assert_int_equal(rp_net_check(&net, &problem), RP_E_INVALID);
        assert_int_equal(strstr(problem.text, "do not hear each other") != NULL, factor > 4);
    }
}

static void only_three_bandwidths_pass(void **state)
{
    (void)state;
    static const struct {
        uint32_t bandwidth_hz;
        int code;
    } cases[] = {{125000, RP_OK},        {250000, RP_OK},       {500000, RP_OK},
                 {124999, RP_E_INVALID}, {62500, RP_E_INVALID}, {0, RP_E_INVALID}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rp_net net;
        struct rp_problem problem = {0};
        rp_net_defaults(&net);
        net.profile.bandwidth_hz = cases[i].bandwidth_hz;
        assert_int_equal(rp_net_check(&net, &problem), cases[i].code);
    }
    struct rp_net net;
    struct rp_problem problem = {0};
    rp_net_defaults(&net);
    net.profile.bandwidth_hz = 62500;
    rp_net_check(&net, &problem);
    assert_string_equal(problem.text, "bandwidth_hz 62500 is none of 125000, 250000, 500000 "
                                      "(example: 125000)");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(check_digit_is_the_standards),
        cmocka_unit_test(random_secrets_come_back),
        cmocka_unit_test(any_separator_will_do),
        cmocka_unit_test(each_single_wrong_digit_is_refused_and_its_group_named),
        cmocka_unit_test(swapped_neighbours_are_refused_and_named),
        cmocka_unit_test(malformed_digits_are_refused),
        cmocka_unit_test(a_group_above_16_bits_is_refused),
        cmocka_unit_test(each_bound_holds_at_both_edges),
        cmocka_unit_test(spreading_factors_5_and_6_are_refused_with_the_reason),
        cmocka_unit_test(only_three_bandwidths_pass),
        cmocka_unit_test(a_net_without_a_band_sends_nothing),
        cmocka_unit_test(the_longest_frame_is_what_travels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
