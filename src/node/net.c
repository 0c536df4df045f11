#include "node/net.h"

#include <stdio.h>
#include <string.h>

#include "radio/airtime.h"
#include "radio/text.h"

#define GROUPS       9
#define GROUP_DIGITS 6

void rp_net_defaults(struct rp_net *net)
{
    *net = (struct rp_net){
        .profile = {.freq_hz = 869525000,
                    .bandwidth_hz = 125000,
                    .spreading_factor = 9,
                    .coding_rate = 5,
                    .sync_word = 0x12,
                    .power_dbm = 14,
                    .preamble_symbols = 8},
        .frame_len_max = 120,
        .duty_permille = 10,
        .urgent_reserve_pct = 30,
    };
}

struct bound {
    const char *field;
    long value, min, max;
    const char *example;
};

int rp_net_check(const struct rp_net *net, struct rp_problem *out_problem)
{
    const struct rp_radio_profile *p = &net->profile;
    const struct bound bounds[] = {
        {"frequency_hz", (long)p->freq_hz, 137000000, 1020000000, "869525000"},
        {"spreading_factor", p->spreading_factor, 7, 12, "9"},
        {"coding_rate", p->coding_rate, 5, 8, "5"},
        {"power_dbm", p->power_dbm, -3, 22, "14"},
        {"preamble_symbols", p->preamble_symbols, 6, 65535, "8"},
        {"frame_len_max", net->frame_len_max, 60, RP_FRAME_LEN_MAX, "120"},
        {"duty_permille", (long)net->duty_permille, 1, 1000, "10"},
        {"urgent_reserve_pct", net->urgent_reserve_pct, 0, 90, "30"},
        {"epoch", net->epoch, 0, 3, "0"},
    };
    /* SX126x has another rule for them than SX127x, which does 6 only without a header. */
    if (p->spreading_factor == 5 || p->spreading_factor == 6) {
        return rp_problem_set(
            out_problem, RP_E_INVALID, "spreading_factor",
            "spreading_factor %u is refused: chip families follow different rules "
            "for 5 and 6 and do not hear each other; 7..12 are left (example: 9)",
            p->spreading_factor);
    }
    for (size_t i = 0; i < sizeof bounds / sizeof bounds[0]; i++) {
        const struct bound *b = &bounds[i];
        if (b->value < b->min || b->value > b->max) {
            return rp_problem_set(out_problem, RP_E_INVALID, b->field,
                                  "%s %ld is outside %ld..%ld (example: %s)", b->field, b->value,
                                  b->min, b->max, b->example);
        }
    }
    if (p->bandwidth_hz != 125000 && p->bandwidth_hz != 250000 && p->bandwidth_hz != 500000) {
        return rp_problem_set(out_problem, RP_E_INVALID, "bandwidth_hz",
                              "bandwidth_hz %lu is none of 125000, 250000, 500000 "
                              "(example: 125000)",
                              (unsigned long)p->bandwidth_hz);
    }
    if (net->band[0] != '\0' && rp_band_find(net->band) == NULL) {
        char words[100];
        rp_band_words(words, sizeof words);
        return rp_problem_set(out_problem, RP_E_INVALID, "band",
                              "band %.15s is none of %s (example: eu-p)", net->band, words);
    }
    return RP_OK;
}

/* "eu-p or none": the bands a frequency lies in. */
static int refuse_without_band(const struct rp_net *net, struct rp_problem *out_problem)
{
    char fitting[60] = "";
    const struct rp_band *band;
    for (size_t i = 0; (band = rp_band_at(i)) != NULL; i++) {
        if (net->profile.freq_hz > band->low_hz && net->profile.freq_hz < band->high_hz) {
            size_t len = strlen(fitting);
            snprintf(fitting + len, sizeof fitting - len, "%s, ", band->word);
        }
    }
    return rp_problem_set(out_problem, RP_E_INVALID, "band",
                          "the net has no band, so nothing may be sent: choose the law that holds "
                          "where it stands (for frequency_hz %lu: %snone; example: band %s)",
                          (unsigned long)net->profile.freq_hz, fitting,
                          fitting[0] != '\0' ? "eu-p" : "none");
}

int rp_net_check_law(const struct rp_net *net, struct rp_law_use use,
                     struct rp_problem *out_problem)
{
    const struct rp_band *band = rp_band_find(net->band);
    if (band == NULL) {
        return refuse_without_band(net, out_problem);
    }
    use.profile = &net->profile;
    use.duty_permille = net->duty_permille;
    return rp_law_check(band, &use, out_problem);
}

uint32_t rp_net_airtime_us(const struct rp_net *net, size_t len)
{
    size_t air_len = net->profile.text_armour ? rp_base64_len(len) : len;
    int64_t airtime_us = rp_airtime_profile_us(&net->profile, (unsigned)air_len);
    return airtime_us < 0 ? 0 : (uint32_t)airtime_us;
}

int rp_net_check_plan(const struct rp_net *net, struct rp_problem *out_problem)
{
    struct rp_law_use use = {.transmission_us = rp_net_airtime_us(net, net->frame_len_max),
                             .no_limit_acknowledged = true};
    return rp_net_check_law(net, use, out_problem);
}

unsigned rp_net_check_digit(const char *digits, unsigned count)
{
    unsigned product = 10;
    for (unsigned i = 0; i < count; i++) {
        unsigned sum = (product + (unsigned)(digits[i] - '0')) % 10;
        product = (sum == 0 ? 10 : sum) * 2 % 11;
    }
    return (11 - product) % 10;
}

static uint16_t secret_hash(const uint8_t secret[RP_SECRET_LEN])
{
    struct rp_seal seal;
    rp_seal_init(&seal, secret, 0);
    uint16_t hash = (uint16_t)(seal.net_id[0] << 8 | seal.net_id[1]);
    rp_seal_deinit(&seal);
    return hash;
}

static uint16_t group_value(const uint8_t secret[RP_SECRET_LEN], unsigned group)
{
    return group == GROUPS - 1 ? secret_hash(secret)
                               : (uint16_t)(secret[2 * group] << 8 | secret[2 * group + 1]);
}

void rp_net_digits(const uint8_t secret[RP_SECRET_LEN], char out_text[RP_NET_DIGITS_LEN + 1])
{
    char *at = out_text;
    for (unsigned group = 0; group < GROUPS; group++) {
        char digits[8];
        snprintf(digits, sizeof digits, "%05u", group_value(secret, group));
        at += sprintf(at, "%s%s%u", group > 0 ? "-" : "", digits, rp_net_check_digit(digits, 5));
    }
}

static int read_group(const char *digits, unsigned group, uint16_t *out_value,
                      struct rp_problem *out_problem)
{
    unsigned long value = 0;
    for (unsigned i = 0; i < 5; i++) {
        value = value * 10 + (unsigned long)(digits[i] - '0');
    }
    if (rp_net_check_digit(digits, 5) != (unsigned)(digits[5] - '0') || value > 0xffff) {
        return rp_problem_set(out_problem, RP_E_INVALID, "digits",
                              "group %u (%.6s) is wrong: its check digit does not fit; "
                              "read that group again",
                              group + 1, digits);
    }
    *out_value = (uint16_t)value;
    return RP_OK;
}

/* Joins the first eight groups; tells whether the ninth is their hash. */
static bool groups_belong(const uint16_t values[GROUPS], uint8_t out_secret[RP_SECRET_LEN])
{
    for (unsigned group = 0; group < GROUPS - 1; group++) {
        out_secret[2 * group] = (uint8_t)(values[group] >> 8);
        out_secret[2 * group + 1] = (uint8_t)values[group];
    }
    return secret_hash(out_secret) == values[GROUPS - 1];
}

/* Neighbours read in the wrong order are the usual slip: find the pair that mends it. */
static int report_swap(const uint16_t values[GROUPS], struct rp_problem *out_problem)
{
    for (unsigned group = 0; group < GROUPS - 1; group++) {
        uint16_t mended[GROUPS];
        uint8_t secret[RP_SECRET_LEN];
        memcpy(mended, values, sizeof mended);
        mended[group] = values[group + 1];
        mended[group + 1] = values[group];
        if (groups_belong(mended, secret)) {
            return rp_problem_set(out_problem, RP_E_INVALID, "digits",
                                  "groups %u and %u seem to be swapped; read those two again",
                                  group + 1, group + 2);
        }
    }
    return rp_problem_set(out_problem, RP_E_INVALID, "digits",
                          "every group is well formed but the nine do not belong together: some "
                          "are swapped or of another net; read all again");
}

int rp_net_from_digits(const char *text, uint8_t out_secret[RP_SECRET_LEN],
                       struct rp_problem *out_problem)
{
    char digits[GROUPS * GROUP_DIGITS + 1];
    size_t count = 0;
    for (; *text != '\0'; text++) {
        if (*text >= '0' && *text <= '9') {
            if (count >= GROUPS * GROUP_DIGITS) {
                count++;
                break;
            }
            digits[count++] = *text;
        } else if (strchr(" -.,\t\n", *text) == NULL) {
            return rp_problem_set(out_problem, RP_E_FORMAT, "digits",
                                  "'%c' is not a digit (example: 012345-...: nine groups of six)",
                                  *text);
        }
    }
    if (count != GROUPS * GROUP_DIGITS) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "digits",
                              "%s digits than 54, nine groups of six (example: 012345-...)",
                              count < GROUPS * GROUP_DIGITS ? "fewer" : "more");
    }
    uint16_t values[GROUPS];
    for (unsigned group = 0; group < GROUPS; group++) {
        int code =
            read_group(digits + (size_t)group * GROUP_DIGITS, group, &values[group], out_problem);
        if (code < 0) {
            return code;
        }
    }
    uint8_t secret[RP_SECRET_LEN];
    if (!groups_belong(values, secret)) {
        return report_swap(values, out_problem);
    }
    memcpy(out_secret, secret, sizeof secret);
    return RP_OK;
}
