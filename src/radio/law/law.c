#include "radio/law/law.h"

#include <stdio.h>

struct check {
    const struct rp_band *band;
    const struct rp_law_use *use;
    char rule[80]; /* "ETSI EN 300 220-2 V3.2.1 (2018-06) table B.1" */
    struct rp_problem *problem;
};

static int check_frequency(const struct check *check)
{
    const struct rp_band *band = check->band;
    uint32_t freq_hz = check->use->profile->freq_hz;
    if (freq_hz > band->low_hz && freq_hz < band->high_hz) {
        return RP_OK;
    }
    return rp_problem_set(check->problem, RP_E_INVALID, "frequency_hz",
                          "frequency_hz %lu is outside %lu..%lu of band %s: %s (example: %lu)",
                          (unsigned long)freq_hz, (unsigned long)band->low_hz,
                          (unsigned long)band->high_hz, band->word, check->rule,
                          (unsigned long)band->example_hz);
}

static int check_bandwidth(const struct check *check)
{
    uint32_t bandwidth_hz = check->use->profile->bandwidth_hz;
    uint32_t least_hz = check->band->bandwidth_min_hz;
    if (bandwidth_hz >= least_hz) {
        return RP_OK;
    }
    return rp_problem_set(check->problem, RP_E_INVALID, "bandwidth_hz",
                          "bandwidth_hz %lu is below %lu, the least on one frequency in band %s: "
                          "%s (example: %lu)",
                          (unsigned long)bandwidth_hz, (unsigned long)least_hz, check->band->word,
                          check->rule, (unsigned long)least_hz);
}

/* A signal that touches an edge leaves nothing for its skirts and for the crystal's error. */
static int check_edges(const struct check *check)
{
    const struct rp_band *band = check->band;
    const struct rp_radio_profile *p = check->use->profile;
    uint64_t low_hz = 2 * (uint64_t)p->freq_hz - p->bandwidth_hz; /* doubled: half a bandwidth */
    uint64_t high_hz = 2 * (uint64_t)p->freq_hz + p->bandwidth_hz;
    if (low_hz > 2 * (uint64_t)band->low_hz && high_hz < 2 * (uint64_t)band->high_hz) {
        return RP_OK;
    }
    return rp_problem_set(check->problem, RP_E_INVALID, "bandwidth_hz",
                          "%lu Hz of bandwidth at %lu Hz touch or pass an edge of band %s, "
                          "%lu..%lu Hz: %s (example: 125000 at %lu)",
                          (unsigned long)p->bandwidth_hz, (unsigned long)p->freq_hz, band->word,
                          (unsigned long)band->low_hz, (unsigned long)band->high_hz, check->rule,
                          (unsigned long)band->example_hz);
}

/* What the modem may be set to, in 0.01 dBm, with this antenna. */
static int power_most_cdbm(const struct check *check)
{
    const struct rp_band *band = check->band;
    int gain_cdbd = check->use->antenna_gain_cdbd;
    if (band->power_is_erp) {
        return band->power_cdbm_max - gain_cdbd;
    }
    int above_cdb = gain_cdbd + RP_DIPOLE_GAIN_CDBI - band->gain_free_cdbi;
    return band->power_cdbm_max - (above_cdb > 0 ? above_cdb : 0);
}

static int check_power(const struct check *check)
{
    int most_cdbm = power_most_cdbm(check);
    int power_dbm = check->use->profile->power_dbm;
    if (power_dbm * 100 <= most_cdbm) {
        return RP_OK;
    }
    int whole_dbm = most_cdbm >= 0 ? most_cdbm / 100 : -((99 - most_cdbm) / 100);
    int gain_cdbi = check->use->antenna_gain_cdbd + RP_DIPOLE_GAIN_CDBI;
    return rp_problem_set(
        check->problem, RP_E_INVALID, "power_dbm",
        "power_dbm %d is too much for %s%d.%02d dBi of antenna in band %s, %d dBm "
        "%s: %s (example: %d)",
        power_dbm, gain_cdbi < 0 ? "-" : "", (gain_cdbi < 0 ? -gain_cdbi : gain_cdbi) / 100,
        (gain_cdbi < 0 ? -gain_cdbi : gain_cdbi) % 100, check->band->word,
        check->band->power_cdbm_max / 100, check->band->power_is_erp ? "ERP" : "conducted",
        check->rule, whole_dbm);
}

static int check_duty(const struct check *check)
{
    unsigned long most = check->band->duty_permille_max;
    if (check->use->duty_permille <= most) {
        return RP_OK;
    }
    return rp_problem_set(check->problem, RP_E_INVALID, "duty_permille",
                          "duty_permille %lu is above %lu of 1000 in any hour, the duty cycle of "
                          "band %s: %s (example: %lu)",
                          (unsigned long)check->use->duty_permille, most, check->band->word,
                          check->rule, most);
}

/* Both bounds on the longest frame: as one transmission, and as time on one frequency. */
static int check_length(const struct check *check, uint32_t most_ms, const char *what,
                        const char *rule)
{
    uint32_t longest_us = check->use->transmission_us;
    if (most_ms == 0 || longest_us <= (uint64_t)most_ms * 1000) {
        return RP_OK;
    }
    return rp_problem_set(check->problem, RP_E_INVALID, "frame_len_max",
                          "the longest frame lasts %lu ms, above %lu ms, the %s of band %s: %s; "
                          "lower frame_len_max or spreading_factor (example: 60)",
                          (unsigned long)(longest_us + 999) / 1000, (unsigned long)most_ms, what,
                          check->band->word, rule);
}

static int check_hopping(const struct check *check)
{
    if (!check->band->must_hop) {
        return RP_OK;
    }
    return rp_problem_set(check->problem, RP_E_INVALID, "band",
                          "band %s is for signals that hop, and this program stays on one "
                          "frequency: %s (example: band fcc-digital with bandwidth_hz 500000)",
                          check->band->word, check->rule);
}

static int check_acknowledged(const struct rp_law_use *use, struct rp_problem *out_problem)
{
    if (use->no_limit_acknowledged) {
        return RP_OK;
    }
    return rp_problem_set(out_problem, RP_E_INVALID, "no_limit_acknowledged",
                          "band none checks nothing: ask your regulator what is allowed, then say "
                          "so in [radio] (example: no_limit_acknowledged = yes)");
}

int rp_law_check(const struct rp_band *band, const struct rp_law_use *use,
                 struct rp_problem *out_problem)
{
    struct check check = {.band = band, .use = use, .problem = out_problem};
    if (band->no_limit) {
        return check_acknowledged(use, out_problem);
    }
    snprintf(check.rule, sizeof check.rule, "%s (%s) %s", band->law, band->date, band->clause);
    int code = check_frequency(&check);
    code = code < 0 ? code : check_bandwidth(&check);
    code = code < 0 ? code : check_edges(&check);
    code = code < 0 ? code : check_power(&check);
    code = code < 0 ? code : check_duty(&check);
    code = code < 0 ? code
                    : check_length(&check, band->transmission_ms_max, "longest transmission",
                                   band->transmission_law);
    code = code < 0 ? code : check_length(&check, band->dwell_ms_max, "dwell", check.rule);
    return code < 0 ? code : check_hopping(&check);
}
