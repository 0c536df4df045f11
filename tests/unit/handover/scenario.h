/* Invented episodes for the tests of the sheet: the valley of Tsergang, high camp "Ridge Camp". */
#ifndef SCENARIO_H
#define SCENARIO_H

#include "handover/sheet.h"

/* Net time of 25 November 2026 (day 328 of the year, counted from 0) and of the day before. */
#define T25(hour, minute) (328u * 86400u + (hour)*3600u + (minute)*60u)
#define T24(hour, minute) (327u * 86400u + (hour)*3600u + (minute)*60u)
#define NOW_S             T25(14, 47)

#define RIDGE_CAMP        7 /* high camp */
#define MORAINE           4 /* relay */
#define LAKE_CAMP         2 /* base */

struct scenario {
    struct rp_episode episode;
    struct rp_holding holdings[24];
    struct rp_sheet_input input;
};

/* An episode that was never told of, printed at base at NOW_S with local time UTC+05:45. */
void scenario_empty(struct scenario *s);
/* The full story: recognised, treated, two chamber sessions, a request, answers, a correction. */
void scenario_full(struct scenario *s);

struct rp_source scenario_source(uint8_t station, uint32_t seq, uint32_t time_s, const char *by);
/* Add an entry to the full or empty story; each returns it for the test to change. */
struct rp_dose *scenario_dose(struct scenario *s, struct rp_source from, const char *name,
                              uint32_t dose_mg, uint8_t route);
struct rp_obs *scenario_obs(struct scenario *s, struct rp_source from, uint8_t mode, int16_t spo2,
                            int16_t pulse, int16_t resp, int16_t acvpu);
struct rp_note_entry *scenario_note(struct scenario *s, struct rp_source from, const char *text);
struct rp_answer_entry *scenario_answer(struct scenario *s, struct rp_source from, uint8_t kind,
                                        const char *whom);
void scenario_correct(struct scenario *s, struct rp_source from, struct rp_source *wrong,
                      const char *reason);
/* Copies text to a field, which must be long enough. */
void scenario_text(char *field, size_t size, const char *text);

#endif
