/* What the tests of the watch rules share. Times are minutes of net time; the camp is station 7 at
 * 5480 m, the patient was opened at minute 100 with suspected HACE, descent answered "dark". */
#ifndef WATCH_KIT_H
#define WATCH_KIT_H

#include "episode_kit.h"
#include "incident/watch/rules.h"

extern struct rp_watch_input watch_in; /* what the next evaluation gets besides episode and time */
extern struct rp_alarms watch_out;     /* of the last evaluation */
extern struct rp_protocol watch_table; /* dexamethasone, nifedipine, sildenafil, acetazolamide */

/* A new episode; its own sequence numbers go on from 10. */
void watch_start(void);
/* The alarm of this rule at this minute, or NULL. Both places' rules are evaluated. */
const struct rp_alarm *watch_at(const char *rule, uint32_t minute);
const struct rp_alarm *watch_at_s(const char *rule, uint32_t now_s);
/* Each rule must be seen to fire with this sound and reason, to stay quiet where it should, and to
 * clear once what it asks for is done: all three are counted, see watch_all_rules_seen. */
void watch_fires(const char *rule, uint32_t minute, enum rp_sound sound, const char *reason);
void watch_quiet(const char *rule, uint32_t minute);
void watch_clears(const char *rule, uint32_t minute);
void watch_all_rules_seen(void **state);

/* Records, at the camp unless said. */
void watch_add(struct rp_record *record);
void watch_add_at(struct rp_record *record, uint16_t origin);
struct rp_record_ref watch_last(void); /* of the record added last */
void watch_chamber(uint32_t minute, enum rp_phase phase, uint8_t session);
void watch_gauge(uint32_t minute, enum rp_phase phase, uint8_t session, int gauge_dhpa);
void watch_spo2(uint32_t minute, enum rp_mode mode, int spo2_pct);
void watch_level(uint32_t minute, enum rp_acvpu level);
void watch_condition(uint32_t minute, enum rp_condition condition);
void watch_descent(uint32_t minute, bool descending, uint16_t again_min);
void watch_dose(uint32_t minute, const char *drug, uint32_t dose_mg);
void watch_request(uint32_t minute);
void watch_answer(uint32_t minute, enum rp_answer_kind kind, struct rp_record_ref about,
                  uint32_t eta_minute);

/* A stretch that ended at `minute` and lasted spell_s. */
void watch_pumping(uint32_t minute, const char *pumper, uint16_t strokes, uint16_t spell_s);
void watch_stock(uint32_t minute, const char *drug, uint32_t left_milli, enum rp_dose_unit unit);

extern const struct CMUnitTest watch_chamber_tests[], watch_signs_tests[], watch_supply_tests[],
    watch_rescue_tests[], watch_station_tests[];
extern const size_t watch_chamber_count, watch_signs_count, watch_supply_count, watch_rescue_count,
    watch_station_count;

#endif
