/* How the model's rows are put together. Internal to the room. */
#ifndef RP_HANDOVER_BUILD_H
#define RP_HANDOVER_BUILD_H

#include "handover/model.h"

struct rp_build {
    const struct rp_sheet_facts *facts;
    const struct rp_sheet_input *in;
    const struct rp_episode *ep;
    rp_sheet_visit *visit;
    void *arg;
    enum rp_sheet_section section;
    enum rp_join join; /* of the next item */
    bool opens;        /* the next item opens a bracket */
    struct rp_sheet_row row;
};

/* Starts a row; rp_build_end hands it over, unless it is empty. */
void rp_build_row(struct rp_build *b, enum rp_text_id label);
void rp_build_end(struct rp_build *b);
/* Before each of a list of things of `items` items: goes on in a further row when this one would
 * not hold it and 8 items more, what may follow a list. */
void rp_build_room(struct rp_build *b, size_t items);
/* How the next item follows; a space when not said. */
void rp_build_join(struct rp_build *b, enum rp_join join);
void rp_build_open(struct rp_build *b);  /* bracket before the next item */
void rp_build_close(struct rp_build *b); /* bracket after the last item */

struct rp_sheet_item *rp_build_item(struct rp_build *b, enum rp_item_kind kind,
                                    enum rp_text_id label);
void rp_build_word(struct rp_build *b, enum rp_text_id word);
void rp_build_loud(struct rp_build *b, enum rp_text_id word);
void rp_build_labelled(struct rp_build *b, enum rp_text_id label, enum rp_text_id word);
void rp_build_entered(struct rp_build *b, enum rp_text_id label, const char *text);
void rp_build_number(struct rp_build *b, enum rp_text_id label, int64_t number, uint8_t decimals,
                     enum rp_text_id unit);
void rp_build_value(struct rp_build *b, enum rp_text_id label, struct rp_value value,
                    uint8_t decimals, enum rp_text_id unit, const struct rp_obs *taken_from);
void rp_build_time(struct rp_build *b, enum rp_text_id label, uint32_t time_s);
void rp_build_age(struct rp_build *b, enum rp_text_id label, uint32_t time_s);
void rp_build_span(struct rp_build *b, enum rp_text_id label, uint32_t span_s, bool live);
void rp_build_station(struct rp_build *b, enum rp_text_id label, uint8_t station);
void rp_build_ref(struct rp_build *b, enum rp_text_id label, struct rp_record_ref ref);
void rp_build_position(struct rp_build *b, const struct rp_position *position);
/* "(28.123456, 86.543217 deg)": the same for whoever types it into a phone, and to check it by. */
void rp_build_degrees(struct rp_build *b, const struct rp_position *position);
/* "UTM 45R 553411 3110960, MGRS 45R WM 5341 1096": as many digits as the accuracy supports. They
 * follow from the position, which the check covers. */
void rp_build_grid(struct rp_build *b, const struct rp_position *position);
void rp_build_mgrs(struct rp_build *b, const struct rp_position *position);
void rp_build_altitude(struct rp_build *b, const struct rp_altitude *altitude);
/* "can walk: no", "can walk: NOT ASKED". */
void rp_build_finding(struct rp_build *b, enum rp_text_id label, enum rp_finding finding);
/* Gauge pressure, "2.0 psi (138 hPa)"; gauge_dhpa: tenths of hPa. */
void rp_build_gauge(struct rp_build *b, enum rp_text_id label, int32_t gauge_dhpa);
/* "like about 3650 m (ISA) or 3600 m (West 1996)": what that gauge pressure makes of the air
 * at the patient's altitude, each model to 50 m. Nothing when the altitude is not known. */
void rp_build_equivalent(struct rp_build *b, int32_t gauge_dhpa);
/* The newest blood pressure or coma scale of a set. */
void rp_build_blood_pressure(struct rp_build *b, enum rp_text_id label, const struct rp_obs *obs);
void rp_build_gcs(struct rp_build *b, enum rp_text_id label, const struct rp_obs *obs);

/* Says that the row shows this entry: struck when it was corrected. */
void rp_build_from(struct rp_build *b, const struct rp_source *from);
/* "by Ines Okafor", the station unless it is the patient's own, and whether the entry came late,
 * from paper or voice, or from a clock that was not synchronised. */
void rp_build_source(struct rp_build *b, const struct rp_source *from);
/* The same, without the name of who opened the episode: the sheet says once that entries are
 * theirs "unless said". Not for doses and answers, which always name a person. */
void rp_build_other_source(struct rp_build *b, const struct rp_source *from);
/* Only the second half of it: late, or an unsynchronised clock. */
void rp_build_quality(struct rp_build *b, const struct rp_source *from);
/* "3 OLDER ENTRIES NOT SHOWN", when any were dropped. */
void rp_build_dropped(struct rp_build *b, uint32_t count);

bool rp_ref_equal(struct rp_record_ref a, struct rp_record_ref b);
/* The station the patient is at: of the opening, else of the newest record. 0: not known. */
uint8_t rp_sheet_home(const struct rp_episode *ep);
/* The request in force, or NULL. */
const struct rp_request_entry *rp_sheet_request_now(const struct rp_episode *ep);
/* The newest measured value of the field at this offset of struct rp_obs; when there is none,
 * whether it was tried without result. *out_obs: its set, NULL when neither. */
struct rp_value rp_sheet_newest(const struct rp_episode *ep, size_t offset,
                                const struct rp_obs **out_obs);
/* Newest entry, not corrected, that tells of the flow (a reading of the cylinder alone does not),
 * or NULL. */
const struct rp_oxygen_entry *rp_sheet_last_oxygen(const struct rp_episode *ep);
const struct rp_session *rp_sheet_last_session(const struct rp_episode *ep);
/* True when the headline tells of the chamber by the newest status report, since no chamber event
 * held here is as new; else by the last session. */
bool rp_sheet_chamber_by_report(const struct rp_episode *ep);

/* Name, sex, age, weight, in the present row, or that they are not held (opening NULL). */
void rp_sheet_build_identity(struct rp_build *b, const struct rp_rec_episode *opening);
/* "SUSPECTED HACE + HAPE". */
void rp_sheet_build_label(struct rp_build *b, const struct rp_rec_episode *opening);

/* The doses with their times, or that none is recorded. */
void rp_sheet_build_doses(struct rp_build *b);

/* The four items of a 2018 Lake Louise score and their total, when all were asked. */
void rp_sheet_build_lls(struct rp_build *b, const struct rp_lls_items *lls);
/* How many entries came after the handover, as a row; nothing when none did. */
void rp_sheet_build_late(struct rp_build *b);
/* Whether all four items were asked when the episode was opened. */
bool rp_sheet_scored_at_opening(const struct rp_episode *ep);
/* True when the sheet shows the corrected entry struck out, with this correction beside it. */
bool rp_sheet_shows_correction(const struct rp_episode *ep,
                               const struct rp_correction_entry *correction);

/* What is computed from the findings: see model_assess.c. Each builds its own rows. */
void rp_sheet_build_scores(struct rp_build *b);
void rp_sheet_build_criteria_met(struct rp_build *b); /* in the present row */
void rp_sheet_build_oxygen_left(struct rp_build *b);
void rp_sheet_build_conflicts(struct rp_build *b);

void rp_sheet_build_head(struct rp_build *b);
void rp_sheet_build_headline(struct rp_build *b);
void rp_sheet_build_complaint(struct rp_build *b); /* A, T, M, I */
void rp_sheet_build_signs(struct rp_build *b);
void rp_sheet_build_treatment(struct rp_build *b);
void rp_sheet_build_background(struct rp_build *b); /* A, M, B, O */
void rp_sheet_build_evacuation(struct rp_build *b);
void rp_sheet_build_completeness(struct rp_build *b);
void rp_sheet_build_corrections(struct rp_build *b);
void rp_sheet_build_unknowns(struct rp_build *b);
void rp_sheet_build_cautions(struct rp_build *b);
void rp_sheet_build_foot(struct rp_build *b);

#endif
