/* Scores that are read, not taken: the Lake Louise score of 1993, for old records only. It had five
 * items (sleep too) and other cut-offs, so it is never compared with the score of 2018. */
#ifndef RP_CLINICAL_SCORE_OLD_H
#define RP_CLINICAL_SCORE_OLD_H

#include "clinical/finding.h"

#define RP_LLS_OLD_VERSION 1993
enum { RP_LLS_OLD_ITEMS = 5 };

/* Cut-offs as papers of that time used them (read in one of 2021): 3-4 mild, 5 and more moderate
 * or severe. */
enum rp_lls_old_grade { RP_LLS_OLD_NONE, RP_LLS_OLD_MILD, RP_LLS_OLD_MORE };
struct rp_lls_old {
    struct rp_reading items[RP_LLS_OLD_ITEMS]; /* headache, gut, fatigue, dizziness, sleep; 0..3 */
};
struct rp_lls_old_result {
    bool complete;
    uint8_t total;               /* 0..15; of the items known when not complete */
    enum rp_lls_old_grade grade; /* when complete */
};
/* RP_E_INVALID when an item is outside 0..3. */
int rp_lls_old_read(const struct rp_lls_old *items, struct rp_lls_old_result *out_result);

/* Clinical functional score of 2018 (Roach et al., High Alt Med Biol 19:4): what the illness did to
 * the patient's activity, 0..3. "" outside. */
#define RP_FUNCTIONAL_MAX 3
const char *rp_functional_word(int32_t score);

#endif
