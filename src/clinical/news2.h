/* NEWS2, National Early Warning Score (Royal College of Physicians, updated report, December 2017,
 * charts 1 and 4; acknowledged, own table). Not validated above 2600 m: there a healthy climber's
 * SpO2 alone scores 3, so the score is always shown with and without it and no alarm comes from
 * the SpO2 part alone (clinical references 3.1). */
#ifndef RP_CLINICAL_NEWS2_H
#define RP_CLINICAL_NEWS2_H

#include "clinical/finding.h"

#define RP_NEWS2_PARTS(X)                                                                          \
    X(RESP, "respiration")                                                                         \
    X(SPO2, "SpO2")                                                                                \
    X(OXYGEN, "air or oxygen")                                                                     \
    X(SYSTOLIC, "systolic pressure")                                                               \
    X(PULSE, "pulse")                                                                              \
    X(CONSCIOUS, "consciousness")                                                                  \
    X(TEMP, "temperature")
enum rp_news2_part {
#define X(name, word) RP_NEWS2_##name,
    RP_NEWS2_PARTS(X)
#undef X
        RP_NEWS2_PART_COUNT
};

/* Scale 2 is for known hypercapnic respiratory failure on a clinician's order, never to make
 * altitude look normal. */
enum rp_news2_scale { RP_NEWS2_SCALE_1, RP_NEWS2_SCALE_2 };

struct rp_news2_input {
    struct rp_reading resp_rpm, spo2_pct, systolic_mmhg, pulse_bpm, temp_dc;
    struct rp_reading acvpu; /* 0 alert, 1 new confusion, 2 voice, 3 pain, 4 unresponsive */
    enum rp_truth on_oxygen;
    enum rp_news2_scale scale;
    struct rp_reading age_y; /* the score is not for those under 16 */
    enum rp_truth pregnant;  /* nor in pregnancy (both from memory) */
};

/* Bands of the aggregate score and what NEWS2 calls for (chart 4 and table of responses). */
enum rp_news2_risk {
    RP_NEWS2_ZERO,
    RP_NEWS2_LOW,        /* 1-4 */
    RP_NEWS2_LOW_MEDIUM, /* 3 in one part */
    RP_NEWS2_MEDIUM,     /* 5-6 */
    RP_NEWS2_HIGH        /* 7 or more */
};

struct rp_news2_total {
    bool complete; /* nothing it needs is missing; else `score` is "at least" */
    uint8_t score; /* 0..20 */
    bool three_in_one;
    enum rp_news2_risk risk; /* when complete */
};
struct rp_news2 {
    struct rp_reading parts[RP_NEWS2_PART_COUNT]; /* 0..3 each; not known: missing, not 0 */
    struct rp_news2_total with_spo2, without_spo2;
};

/* "SpO2" and so on. */
const char *rp_news2_part_word(enum rp_news2_part part);
/* RP_E_UNSUPPORTED when the age is known to be under 16 or the patient is known to be pregnant;
 * RP_E_INVALID when acvpu is outside 0..4. Other values score whatever they are: ranges are
 * checked at entry. */
int rp_news2_score(const struct rp_news2_input *input, struct rp_news2 *out_news);

#endif
