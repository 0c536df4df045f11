/* Scores and criteria of altitude illness and of consciousness. They say what was found and which
 * published rule it meets; they do not diagnose. What is missing is said, never taken for normal.
 */
#ifndef RP_CLINICAL_SCORE_H
#define RP_CLINICAL_SCORE_H

#include "clinical/finding.h"

/* 2018 Lake Louise AMS score (Roach et al., High Alt Med Biol 19:4, 2018): four items of 0..3.
 * AMS: headache at least 1 and total at least 3, after a recent gain of altitude; scored at least
 * 6 h after it. Grades: mild 3-5, moderate 6-9, severe 10-12. It misses AMS without headache, and
 * HACE and HAPE need their own signs. */
#define RP_LLS_VERSION 2018
enum rp_lls_grade { RP_LLS_NONE, RP_LLS_MILD, RP_LLS_MODERATE, RP_LLS_SEVERE };
struct rp_lls {
    struct rp_reading headache, gut, fatigue, dizziness; /* 0..3 */
};
struct rp_lls_result {
    bool complete;           /* all four items known */
    uint8_t total;           /* 0..12 when complete; else of the items known: at least that */
    enum rp_truth ams;       /* unknown when an item that decides is missing */
    enum rp_lls_grade grade; /* when complete and ams is yes */
};
/* RP_E_INVALID when an item is outside 0..3. */
int rp_lls_score(const struct rp_lls *items, struct rp_lls_result *out_result);

/* HACE and HAPE by the Lake Louise consensus of 1991 (Hackett and Oelz 1992; read in secondary
 * copies):
 *   HACE: recent altitude gain, and AMS with mental change or ataxia, or without AMS both of them;
 *   HAPE: recent altitude gain, and at least two of {breathless at rest, cough, weakness, chest
 *         tightness} and at least two of {crackles or wheeze, central cyanosis, fast breathing,
 *         fast pulse}. */
struct rp_criteria {
    enum rp_truth altitude_gain, ams, mental_change, ataxia;
    enum rp_truth dyspnoea_rest, cough, weakness, chest_tightness;
    enum rp_truth crackles, cyanosis, tachypnoea, tachycardia;
};
/* Yes or no only when every answer still missing could not change it. */
enum rp_truth rp_hace_criteria(const struct rp_criteria *criteria);
enum rp_truth rp_hape_criteria(const struct rp_criteria *criteria);

/* Glasgow Coma Scale: eye 1..4, verbal 1..5, motor 1..6, total 3..15. RP_E_INVALID outside. */
int rp_gcs_total(int32_t eye, int32_t verbal, int32_t motor, int32_t *out_total);

/* SpO2 against altitude, on air only. The band is a design judgement (clinical references 3.2,
 * fitted by eye to published group means), to be replaced by the protocol of the expedition's
 * doctor and the party's own baseline. Between its 500 m steps it is interpolated. */
struct rp_spo2_band {
    int32_t mean_tenths, alarm_below_tenths; /* tenths of a percent */
};
#define RP_SPO2_BAND_MIN_M 2500
#define RP_SPO2_BAND_MAX_M 6500
/* RP_E_NOT_FOUND outside 2500..6500 m: no band, so no judgement. */
int rp_spo2_band_at(int32_t altitude_m, struct rp_spo2_band *out_band);
/* Whether an SpO2 in whole percent, taken on air, is below the alarm line; unknown outside the
 * band's altitudes. Below 80 % oximeters are unreliable (Luks and Swenson 2011). */
enum rp_truth rp_spo2_below_band(int32_t altitude_m, int32_t spo2_pct);
#define RP_SPO2_UNRELIABLE_BELOW_PCT 80

#endif
