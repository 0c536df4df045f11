/* What the tests of the incident room share: one episode, records of it in one line. The camp is
 * station 7 ("Ridge Camp"), base is station 2 ("Lake Camp"). Times are small numbers of seconds. */
#ifndef EPISODE_KIT_H
#define EPISODE_KIT_H

#include "rp_test.h"

#include <string.h>

#include "incident/episode.h"
#include "ridgepost/error.h"

#define CAMP ((7 << 9) | 5)
#define BASE ((2 << 9) | 3)
#define MIN  60u

extern struct rp_episode kit; /* too large for a stack */

void kit_start(void);
struct rp_record_ref kit_ref(uint16_t origin, uint32_t seq);
struct rp_record kit_record(enum rp_record_kind kind, uint32_t time_s);
void kit_add(const struct rp_record *record, uint16_t origin, uint32_t seq);
struct rp_value kit_value(int value);
/* One-line records, added at once; station CAMP or BASE. */
void kit_chamber(uint32_t seq, uint32_t time_s, enum rp_phase phase, uint8_t session);
void kit_request(uint32_t seq, uint32_t time_s, uint32_t revises_seq);
void kit_cancel(uint32_t seq, uint32_t time_s, uint32_t request_seq);
void kit_answer(uint32_t seq, uint32_t time_s, enum rp_answer_kind kind, uint32_t request_seq);
void kit_correct(uint32_t seq, uint32_t time_s, struct rp_record_ref about,
                 struct rp_record_ref replacement);
/* A status report with SpO2 on air (not measured when below 0) and its age. */
struct rp_record kit_status(uint32_t time_s, int spo2_pct, uint16_t age_min);

#endif
