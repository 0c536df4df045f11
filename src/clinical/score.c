#include "clinical/score.h"

#include <stddef.h>

#include "clinical/number.h"
#include "ridgepost/error.h"

#define LLS_ITEMS     4
#define LLS_ITEM_MAX  3
#define AMS_TOTAL_MIN 3

static enum rp_lls_grade grade_of(uint8_t total)
{
    if (total >= 10) {
        return RP_LLS_SEVERE;
    }
    return total >= 6 ? RP_LLS_MODERATE : RP_LLS_MILD;
}

int rp_lls_score(const struct rp_lls *items, struct rp_lls_result *out_result)
{
    const struct rp_reading all[LLS_ITEMS] = {items->headache, items->gut, items->fatigue,
                                              items->dizziness};
    int32_t known = 0, total = 0;
    for (int i = 0; i < LLS_ITEMS; i++) {
        if (!all[i].known) {
            continue;
        }
        if (all[i].value < 0 || all[i].value > LLS_ITEM_MAX) {
            return RP_E_INVALID;
        }
        known++;
        total += all[i].value;
    }
    int32_t most = total + LLS_ITEM_MAX * (LLS_ITEMS - known);
    struct rp_lls_result r = {.complete = known == LLS_ITEMS, .total = (uint8_t)total};
    bool headache = items->headache.known && items->headache.value >= 1;
    if ((items->headache.known && !headache) || most < AMS_TOTAL_MIN) {
        r.ams = RP_TRUTH_NO;
    } else if (headache && total >= AMS_TOTAL_MIN) {
        r.ams = RP_TRUTH_YES;
    }
    if (r.complete && r.ams == RP_TRUTH_YES) {
        r.grade = grade_of(r.total);
    }
    *out_result = r;
    return 0;
}

/* The rule itself, all answers known: bits gain 1, AMS 2, mental change 4, ataxia 8. */
static bool hace_rule(unsigned bits)
{
    bool gain = bits & 1u, ams = bits & 2u, mental = bits & 4u, ataxia = bits & 8u;
    return gain && (ams ? mental || ataxia : mental && ataxia);
}

/* Tries every way in which the missing answers could turn out. */
enum rp_truth rp_hace_criteria(const struct rp_criteria *c)
{
    const enum rp_truth answers[4] = {c->altitude_gain, c->ams, c->mental_change, c->ataxia};
    bool may_be = false, may_not_be = false;
    for (unsigned bits = 0; bits < 16; bits++) {
        bool possible = true;
        for (unsigned i = 0; i < 4; i++) {
            bool yes = bits >> i & 1u;
            possible = possible && answers[i] != (yes ? RP_TRUTH_NO : RP_TRUTH_YES);
        }
        may_be = may_be || (possible && hace_rule(bits));
        may_not_be = may_not_be || (possible && !hace_rule(bits));
    }
    if (may_be && may_not_be) {
        return RP_TRUTH_UNKNOWN;
    }
    return may_be ? RP_TRUTH_YES : RP_TRUTH_NO;
}

/* At least two of four. */
static enum rp_truth two_of(const enum rp_truth answers[4])
{
    int yes = 0, unknown = 0;
    for (int i = 0; i < 4; i++) {
        yes += answers[i] == RP_TRUTH_YES;
        unknown += answers[i] == RP_TRUTH_UNKNOWN;
    }
    if (yes >= 2) {
        return RP_TRUTH_YES;
    }
    return yes + unknown >= 2 ? RP_TRUTH_UNKNOWN : RP_TRUTH_NO;
}

enum rp_truth rp_hape_criteria(const struct rp_criteria *c)
{
    const enum rp_truth symptoms[4] = {c->dyspnoea_rest, c->cough, c->weakness, c->chest_tightness};
    const enum rp_truth signs[4] = {c->crackles, c->cyanosis, c->tachypnoea, c->tachycardia};
    /* The three parts have no answer in common, so each may be judged by itself. */
    const enum rp_truth parts[3] = {c->altitude_gain, two_of(symptoms), two_of(signs)};
    enum rp_truth all = RP_TRUTH_YES;
    for (int i = 0; i < 3; i++) {
        if (parts[i] == RP_TRUTH_NO) {
            return RP_TRUTH_NO;
        }
        all = parts[i] == RP_TRUTH_UNKNOWN ? RP_TRUTH_UNKNOWN : all;
    }
    return all;
}

int rp_gcs_total(int32_t eye, int32_t verbal, int32_t motor, int32_t *out_total)
{
    if (eye < 1 || eye > 4 || verbal < 1 || verbal > 5 || motor < 1 || motor > 6) {
        return RP_E_INVALID;
    }
    *out_total = eye + verbal + motor;
    return 0;
}

/* Percent every 500 m from 2500 m: clinical references 3.2, design judgement. */
static const struct {
    int32_t mean_pct, alarm_below_pct;
} bands[] = {
    {93, 88}, {91, 85}, {89, 83}, {86, 79}, {83, 75}, {81, 72}, {78, 68}, {74, 64}, {68, 58},
};
#define BAND_STEP_M 500

int rp_spo2_band_at(int32_t altitude_m, struct rp_spo2_band *out_band)
{
    if (altitude_m < RP_SPO2_BAND_MIN_M || altitude_m > RP_SPO2_BAND_MAX_M) {
        return RP_E_NOT_FOUND;
    }
    int32_t above_m = altitude_m - RP_SPO2_BAND_MIN_M;
    size_t i = (size_t)(above_m / BAND_STEP_M);
    int32_t rest_m = above_m % BAND_STEP_M;
    size_t next = rest_m > 0 ? i + 1 : i;
    int64_t mean = bands[i].mean_pct * (BAND_STEP_M - rest_m) + bands[next].mean_pct * rest_m;
    int64_t alarm =
        bands[i].alarm_below_pct * (BAND_STEP_M - rest_m) + bands[next].alarm_below_pct * rest_m;
    out_band->mean_tenths = (int32_t)rp_number_divide(mean * 10, BAND_STEP_M);
    out_band->alarm_below_tenths = (int32_t)rp_number_divide(alarm * 10, BAND_STEP_M);
    return 0;
}

enum rp_truth rp_spo2_below_band(int32_t altitude_m, int32_t spo2_pct)
{
    struct rp_spo2_band band;
    if (rp_spo2_band_at(altitude_m, &band) != 0) {
        return RP_TRUTH_UNKNOWN;
    }
    return spo2_pct * 10 < band.alarm_below_tenths ? RP_TRUTH_YES : RP_TRUTH_NO;
}
