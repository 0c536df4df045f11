/* What follows from an episode's findings by published rules: scores, criteria, stages, oxygen.
 * Computed when asked, never recorded; what is missing stays unknown. */
#ifndef RP_INCIDENT_ASSESS_ASSESS_H
#define RP_INCIDENT_ASSESS_ASSESS_H

#include "clinical/news2.h"
#include "clinical/score.h"
#include "clinical/score/cold.h"
#include "incident/episode.h"

/* Values of one NEWS2 may lie this far apart (ours): a temperature of an hour ago still counts. */
#define RP_ASSESS_NEWS2_APART_S 3600

struct rp_assessment {
    /* NEWS2 of the newest vital signs, with what else was taken in the hour before. */
    bool has_news2;         /* any part of it is known, and the score is meant for the patient */
    bool news2_unsupported; /* known to be under 16 years */
    struct rp_news2 news2;
    uint32_t news2_s; /* net time of the newest part */

    /* SpO2 on air against the band of the altitude (ours): newest set on air. */
    bool has_band;
    struct rp_spo2_band band;
    enum rp_truth spo2_below; /* unknown without a reading on air */
    const struct rp_obs *air; /* that set, or NULL */

    /* Criteria of the Lake Louise consensus of 1991, on the findings at opening; AMS by the score
     * of 2018 of the newest reassessment that has one, else of the opening. */
    struct rp_lls_result lls;
    enum rp_truth hace, hape;

    /* Hypothermia, when a core temperature below 35 C was taken. */
    bool has_cold;
    struct rp_cold cold;
    const struct rp_obs *cold_obs;
};

/* The newest altitude entered: of the request in force, else of the opening; `present` may be
 * false. */
const struct rp_altitude *rp_episode_altitude(const struct rp_episode *episode);

void rp_episode_assess(const struct rp_episode *episode, struct rp_assessment *out_assessment);

/* Whether that urine is little for its time, under 0.5 mL/kg/h (from memory): unknown without a
 * volume, its time, or the weight. */
enum rp_truth rp_urine_little(const struct rp_episode *episode, const struct rp_rec_fluids *fluids);

/* Records that contradict each other. Both stay; a person decides. X(name, sentence) */
#define RP_CONTRADICTIONS(X)                                                                       \
    X(NAME, "two names or labels of the patient")                                                  \
    X(SEX, "two sexes of the patient")                                                             \
    X(AGE, "two ages of the patient")                                                              \
    X(ALLERGIES, "allergies: both none known and known")                                           \
    X(ALTITUDE, "two heights of the patient, more than 500 m apart")                               \
    X(PLACE, "two positions of the patient, more than 5 km apart")                                 \
    X(LEVEL, "conscious level and coma scale do not fit")                                          \
    X(DEAD, "reported dead, then alive")                                                           \
    X(CHAMBER, "a reading outside while the chamber was in use")                                   \
    X(ALTIMETER, "altimeter inside and gauge disagree by more than 150 m")                         \
    X(CYLINDER, "a cylinder fuller than it was before")                                            \
    X(DOSE, "one drug twice within 30 min")                                                        \
    X(AHEAD, "a record from more than 2 min ahead of this clock")                                  \
    X(NO_PULSE, "no pulse in a patient who responds")
enum rp_contradiction_kind {
#define X(name, sentence) RP_CONTRA_##name,
    RP_CONTRADICTIONS(X)
#undef X
        RP_CONTRA_COUNT
};
struct rp_contradiction {
    enum rp_contradiction_kind kind;
    const struct rp_source *earlier, *later; /* the records; the same for one that is odd alone */
};
/* Finds the newest contradiction of each kind, in the order above; returns how many. Records that
 * were corrected contradict nothing. The bounds are ours (clinical references 3.5, 6.4 B7). */
size_t rp_episode_contradictions(const struct rp_episode *episode, uint32_t now_s,
                                 struct rp_contradiction out[RP_CONTRA_COUNT]);
/* Whether an altimeter read inside disagrees with the gauge by more than RP_AIR_ALTIMETER_LIMIT_M,
 * at the altitude of the episode; false when one of the three is not known. */
bool rp_chamber_altimeter_off(const struct rp_episode *episode, const struct rp_rec_chamber *event);
/* "two names or labels of the patient" */
const char *rp_contradiction_sentence(enum rp_contradiction_kind kind);

#endif
