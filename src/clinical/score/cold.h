/* Stage of hypothermia, by what was found; no diagnosis.
 *
 * Two systems, shown side by side: the original Swiss system by core temperature (35-32, below 32,
 * below 28, below 24 C; Scand J Trauma 27, 2019, table 1) and the revised one by responsiveness
 * (Musi et al., Resuscitation 162:182, 2021; wording of its stages from memory): 1 alert, 2 voice,
 * 3 pain or unresponsive with signs of life, 4 no signs of life. New confusion counts as stage 2
 * (ours; one regional version does so). Only 61 % were ranked right by the original system.
 *
 * High-altitude cerebral oedema falsifies the stage: a swollen brain looks like a deeper cold
 * (Scand J Trauma 32, 2024). */
#ifndef RP_CLINICAL_SCORE_COLD_H
#define RP_CLINICAL_SCORE_COLD_H

#include "clinical/finding.h"

struct rp_cold_input {
    struct rp_reading core_dc;   /* core temperature, tenths of a degree */
    struct rp_reading acvpu;     /* 0 alert .. 4 unresponsive, as in news2.h */
    enum rp_truth signs_of_life; /* checked for up to 60 s */
    bool brain_suspected;        /* HACE, or a change of mental state without another cause */
};
struct rp_cold {
    struct rp_reading by_core;     /* 0: not below 35 C; 1..4 */
    struct rp_reading by_response; /* 1..4 */
    bool falsified;                /* the response may be the brain's: stage by response misleads */
    bool disagree;                 /* both known and not the same */
};
/* RP_E_INVALID when acvpu is outside 0..4. Unknown stays unknown. */
int rp_cold_stage(const struct rp_cold_input *input, struct rp_cold *out_cold);

#endif
