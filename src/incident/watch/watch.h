/* The watch rules: what asks for a person's attention, out of the folded episode and a time. High
 * camp and base have rules of their own. One pure function; whoever calls it rings the bell.
 *
 * An alarm is known by its rule, its subject and since when it stands. A person may silence it for
 * a while (bounded by its rule) or, where the rule allows, acknowledge it by name; both are records
 * of the episode. When the same rule finds something new, it is a new alarm. */
#ifndef RP_INCIDENT_WATCH_WATCH_H
#define RP_INCIDENT_WATCH_WATCH_H

#include "incident/episode.h"
#include "incident/watch/course.h"
#include "incident/watch/drugs.h"

/* Where rules are for: bits. */
#define RP_WATCH_CAMP 1u
#define RP_WATCH_BASE 2u

enum rp_sound { RP_SOUND_SOFT, RP_SOUND_LOUD, RP_SOUND_FAST };

struct rp_watch; /* an evaluation under way: see rules.h */

/* One rule. The numbers travel: they are never used twice. */
struct rp_watch_rule {
    uint8_t number;        /* 1..255 */
    uint8_t place;         /* RP_WATCH_CAMP or RP_WATCH_BASE */
    uint16_t snooze_s_max; /* longest silence at once, at most 300 s */
    bool ackable;          /* may be acknowledged by name: silent until it finds something new */
    bool clinical;         /* of a patient: never gives way to one that is not */
    const char *word;      /* as typed: "spo2-band" */
    const char *trigger;   /* when it fires */
    const char *next;      /* what to do next */
    const char *source;
    void (*check)(struct rp_watch *watch);
};
/* All rules. */
extern const struct rp_watch_rule rp_watch_rules[];
extern const size_t rp_watch_rule_count;
/* By number; NULL: none of this version. */
const struct rp_watch_rule *rp_watch_rule_of(uint8_t number);
/* "spo2-band", or "?" for a number of a newer version. */
const char *rp_watch_rule_word(uint8_t number);
/* "soft", "loud", "fast". */
const char *rp_sound_word(enum rp_sound sound);

/* A station heard directly, as this one hears it. A time: since when, net time. */
struct rp_watch_hop {
    uint8_t station;
    bool lost, weak, low;    /* not heard any more; few frames get through; its battery is low */
    uint8_t in_pct, out_pct; /* share of frames that get through, from it and to it */
    uint8_t battery_pct;
    uint32_t heard_s, lost_s, weak_s, low_s; /* heard_s: when last heard */
};
#define RP_WATCH_HOPS_MAX 8

/* When a hop is called lost, weak, and a battery low or flat: all ours. */
#define RP_WATCH_HOP_LOST_S    3600u
#define RP_WATCH_HOP_WEAK_PCT  30
#define RP_WATCH_BATTERY_LOW   20
#define RP_WATCH_BATTERY_EMPTY 10

/* What the station knows that is in no record of the episode. All absent: zeroes. */
struct rp_watch_station {
    bool has_tick, has_pumper, has_unacked, has_radio_lost, has_daylight_end;
    bool has_turn, has_battery, clock_unsynced, store_failing;
    /* The own clock was set back while nobody vouched for the time: by how much, 0: it was not. */
    uint32_t clock_back_s;
    uint32_t clock_back_at_s;   /* net time when that was found */
    bool clock_back_at_start;   /* at a start of the computer: by so much at least */
    uint32_t tick_s;            /* the newest tick of the pump, net time */
    uint32_t pumper_since_s;    /* since when the same person pumps */
    uint32_t unacked_s;         /* the oldest urgent record of this episode that is not at base */
    uint32_t radio_lost_s;      /* since when the modem does not answer */
    uint32_t daylight_end_s;    /* end of today's usable light, when a request does not say */
    struct rp_rec_pumping turn; /* strokes told that are in no record yet */
    uint32_t turn_last_s;       /* net time of the last of them */
    uint8_t battery_pct;        /* its own, 0..100 */
    uint32_t battery_low_s;     /* since when it is low; set when it is */
    uint32_t battery_empty_s;   /* since when it is nearly empty; set when it is */
    uint8_t hop_count;
    struct rp_watch_hop hops[RP_WATCH_HOPS_MAX];
};

struct rp_watch_input {
    const struct rp_episode *episode;   /* finished at now_s */
    uint32_t now_s;                     /* net time */
    uint8_t places;                     /* RP_WATCH_ bits: whose rules */
    const struct rp_watch_plan *plan;   /* NULL: the default */
    const struct rp_protocol *protocol; /* NULL: no table */
    bool patient_only; /* without the station's own rules: another episode tells of them */
    struct rp_watch_station station;
};

struct rp_alarm {
    const struct rp_watch_rule *rule;
    uint8_t subject;
    enum rp_sound sound;
    uint32_t since_s;             /* net time */
    uint32_t value_s;             /* when the value shown was taken; 0: it has no time of its own */
    char reason[RP_LINE_LEN + 1]; /* what was found, with its value and unit */
    bool snoozed;                 /* silent until until_s */
    bool acknowledged;            /* silent until it finds something new */
    uint32_t until_s;
    const struct rp_alarm_entry *answer; /* the snooze or acknowledgement in force, or NULL */
};

/* Enough for every rule at once, each drug, hop and kind of weather: nothing is ever left out.
 */
#define RP_ALARMS_MAX 128
struct rp_alarms {
    size_t count;
    struct rp_alarm at[RP_ALARMS_MAX]; /* sounding ones first, the most pressing sound first */
};

void rp_watch_evaluate(const struct rp_watch_input *input, struct rp_alarms *out_alarms);

/* Net time when the next observations are due, by the schedule of rule "obs"; 0: none are (closed,
 * handed over, not opened, or the watch for relapse has its own schedule: rebound_check_s). */
uint32_t rp_watch_obs_due(const struct rp_watch_input *input);

/* The last safe start of a descent: end of light less one and a half times the way down (6.3;
 * ours). False without both. */
struct rp_last_start {
    uint32_t light_end_s, start_s; /* net time */
    uint32_t way_s;                /* how long the way down takes */
    bool way_entered;              /* by the camp, with a descent decision; else of the plan */
};
bool rp_watch_last_start(const struct rp_watch_input *input, struct rp_last_start *out_start);

/* True when the alarm sounds: neither snoozed nor acknowledged. */
static inline bool rp_alarm_sounds(const struct rp_alarm *alarm)
{
    return !alarm->snoozed && !alarm->acknowledged;
}

#endif
