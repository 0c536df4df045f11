/* The inside of the watch: one evaluation, and the checks the table of rules points at. A check
 * looks, and raises what it finds. */
#ifndef RP_INCIDENT_WATCH_RULES_H
#define RP_INCIDENT_WATCH_RULES_H

#include "incident/watch/oxygen.h"
#include "incident/watch/pumping.h"
#include "incident/watch/watch.h"

struct rp_watch {
    const struct rp_watch_input *in;
    const struct rp_episode *ep;
    const struct rp_watch_plan *plan;
    uint32_t now_s;
    bool over; /* closed, handed over or dead: nothing is due any more */
    struct rp_course course;
    struct rp_oxygen_left oxygen;
    const struct rp_watch_rule *rule; /* whose check runs */
    struct rp_alarms *out;
};

/* Raises the rule under check. value_s: see struct rp_alarm. */
void rp_watch_raise(struct rp_watch *watch, enum rp_sound sound, uint8_t subject, uint32_t since_s,
                    uint32_t value_s, const char *format, ...)
    __attribute__((format(printf, 6, 7)));

/* "14:05Z", "24 Nov" is left to whoever shows it: alarms are of today. */
const char *rp_watch_time(uint32_t time_s, char out_text[8]);
/* 0 when the first is later. */
uint32_t rp_watch_span(uint32_t from_s, uint32_t to_s);
/* Net time of the expected arrival; 0: none in force. */
uint32_t rp_watch_eta_s(const struct rp_watch *watch);
/* The newest set, not voided, that holds a measured value at this offset; NULL: none. */
const struct rp_obs *rp_watch_obs(const struct rp_watch *watch, size_t offset);
/* The newest report that says a condition; NULL: none does. */
const struct rp_status_entry *rp_watch_condition(const struct rp_watch *watch);
/* Worse, critical, HACE or HAPE, or not alert: watched more closely (ours). */
bool rp_watch_unstable(const struct rp_watch *watch);

/* How often observations are due, and when the newest were taken (the opening without any); 0: none
 * are due, as in the watch for relapse of a stable patient, which has its own schedule. */
uint32_t rp_watch_obs_every(const struct rp_watch *watch, uint32_t *out_last_s);

/* A change against the best of the sets before it. `worse_by`: by how much the second set is worse
 * than the first, RP_TREND_APART when they cannot be compared (another mode, nothing measured). A
 * set is compared with itself first: what is APART from itself is never the second one. */
#define RP_TREND_APART (-1000)
typedef int rp_trend_measure(const struct rp_obs *before, const struct rp_obs *now);
struct rp_trend {
    const struct rp_obs *now, *before; /* before: the set it is worse than */
    uint32_t since_s;                  /* the set in which it became as bad as it is */
};
/* True when the newest set that can be judged is worse by `least` or more than a set at most
 * window_s before it. */
bool rp_trend_find(const struct rp_episode *episode, rp_trend_measure *worse_by, int least,
                   uint32_t window_s, struct rp_trend *out_trend);

/* check_chamber.c */
void rp_check_pump(struct rp_watch *watch);
void rp_check_pressure(struct rp_watch *watch);
void rp_check_hold(struct rp_watch *watch);
void rp_check_session(struct rp_watch *watch);
void rp_check_rotation(struct rp_watch *watch);
void rp_check_dead_man(struct rp_watch *watch);
void rp_check_rebound(struct rp_watch *watch);
void rp_check_why_not(struct rp_watch *watch);
void rp_check_head_up(struct rp_watch *watch);
void rp_check_crew(struct rp_watch *watch);
/* check_signs.c */
void rp_check_conscious(struct rp_watch *watch);
void rp_check_spo2_band(struct rp_watch *watch);
void rp_check_spo2_fall(struct rp_watch *watch);
void rp_check_spo2_no_rise(struct rp_watch *watch);
void rp_check_resp(struct rp_watch *watch);
void rp_check_pulse(struct rp_watch *watch);
void rp_check_obs(struct rp_watch *watch);
void rp_check_lls(struct rp_watch *watch);
void rp_check_news2(struct rp_watch *watch);
void rp_check_critical(struct rp_watch *watch);
/* check_supply.c */
void rp_check_drugs(struct rp_watch *watch);
void rp_check_oxygen(struct rp_watch *watch);
void rp_check_oxygen_eta(struct rp_watch *watch);
void rp_check_dose_twice(struct rp_watch *watch);
void rp_check_altitude(struct rp_watch *watch);
void rp_check_time(struct rp_watch *watch);
void rp_check_contradiction(struct rp_watch *watch);
void rp_check_drugs_eta(struct rp_watch *watch);
/* check_station.c */
void rp_check_clock(struct rp_watch *watch);
void rp_check_clock_back(struct rp_watch *watch);
void rp_check_store(struct rp_watch *watch);
void rp_check_radio(struct rp_watch *watch);
void rp_check_battery(struct rp_watch *watch);
void rp_check_hop_lost(struct rp_watch *watch);
void rp_check_hop_weak(struct rp_watch *watch);
void rp_check_hop_battery(struct rp_watch *watch);
/* check_rescue.c */
void rp_check_unacked(struct rp_watch *watch);
void rp_check_descent(struct rp_watch *watch);
void rp_check_eta_camp(struct rp_watch *watch);
void rp_check_request(struct rp_watch *watch);
void rp_check_report(struct rp_watch *watch);
void rp_check_accepted(struct rp_watch *watch);
void rp_check_eta_passed(struct rp_watch *watch);
void rp_check_handover(struct rp_watch *watch);
void rp_check_daylight(struct rp_watch *watch);
void rp_check_weather(struct rp_watch *watch);

#endif
