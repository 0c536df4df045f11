/* An episode: everything known of one patient's illness, folded from records. Pure and
 * independent of the order in which records arrive: add them in any order, then finish.
 *
 * Every table is bounded. When one is full the oldest entry gives way and `older_dropped` of that
 * table counts it, so that a sheet can say so. */
#ifndef RP_INCIDENT_EPISODE_H
#define RP_INCIDENT_EPISODE_H

#include <stddef.h>

#include "wire/record.h"

#define RP_EP_OBS_MAX 96
#define RP_EP_DOSES_MAX 96
#define RP_EP_OXYGEN_MAX 48
#define RP_EP_CHAMBER_MAX 160
#define RP_EP_SESSIONS_MAX 24
#define RP_EP_REASSESS_MAX 24
#define RP_EP_DESCENT_MAX 24
#define RP_EP_NOTES_MAX 24
#define RP_EP_REQUESTS_MAX 8
#define RP_EP_ANSWERS_MAX 48
#define RP_EP_READBACKS_MAX 48
#define RP_EP_HANDOVERS_MAX 4
#define RP_EP_CORRECTIONS_MAX 48
#define RP_EP_SOURCES_MAX 16

/* Where an entry comes from and when it happened. Total order: (happened_s, origin, seq). */
struct rp_source {
    struct rp_record_ref ref;
    uint8_t station;      /* of ref.origin */
    uint32_t happened_s;  /* net time: record time minus ago */
    uint32_t recorded_s;  /* net time: when entered */
    bool unsynced;        /* the origin's clock was not synchronised */
    uint8_t via;          /* enum rp_via */
    char by[RP_NAME_LEN + 1];
    bool voided;          /* a correction says it was wrong; shown struck out, never counted */
    struct rp_record_ref replaced_by; /* origin 0: not replaced */
};

/* One observation set: values taken at one time in one mode. */
struct rp_obs {
    struct rp_source from;
    uint32_t taken_s; /* net time */
    uint8_t mode;     /* enum rp_mode */
    uint8_t temp_site;
    struct rp_value spo2_pct, pulse_bpm, resp_rpm, acvpu, gcs_eye, gcs_verbal, gcs_motor,
        systolic_mmhg, diastolic_mmhg, temp_dc, lls, ataxia;
};

struct rp_dose {
    struct rp_source from;
    struct rp_rec_treatment what;
};
struct rp_oxygen_entry {
    struct rp_source from;
    struct rp_rec_oxygen what;
};
struct rp_chamber_entry {
    struct rp_source from;
    struct rp_rec_chamber what;
};
struct rp_reassess_entry {
    struct rp_source from;
    struct rp_rec_reassess what;
};
struct rp_descent_entry {
    struct rp_source from;
    struct rp_rec_descent what;
};
struct rp_note_entry {
    struct rp_source from;
    char text[RP_NOTE_LEN + 1];
};
struct rp_request_entry {
    struct rp_source from;
    struct rp_rec_evacuation what;
    bool cancelled;
    struct rp_source cancel_from;
    char cancel_reason[RP_LINE_LEN + 1];
};
struct rp_answer_entry {
    struct rp_source from;
    struct rp_rec_answer what;
    bool read_back; /* a read-back of this answer exists */
};
struct rp_readback_entry {
    struct rp_source from;
    struct rp_rec_readback what;
};
struct rp_handover_entry {
    struct rp_source from;
    struct rp_rec_handover what;
};
struct rp_correction_entry {
    struct rp_source from;
    struct rp_rec_correction what;
};

/* One chamber session, derived from chamber events by rp_episode_finish. Times net seconds;
 * has_ flags: an event that was never entered is not invented. */
struct rp_session {
    uint8_t number;
    bool has_closed, has_pressurising, has_at_pressure, has_deflating, has_out;
    uint32_t closed_s, pressurising_s, at_pressure_s, deflating_s, out_s;
    uint32_t at_pressure_total_s; /* time at or on hold under pressure, until deflation, out or the
                                   * given now */
    uint16_t holds;
    struct rp_value gauge_dhpa; /* highest entered, tenths of hPa */
    uint8_t phase;              /* enum rp_phase: the latest */
};

#define RP_EP_TABLE(type, max)                                                                     \
    struct {                                                                                       \
        uint16_t count;                                                                            \
        uint32_t older_dropped;                                                                    \
        type at[max]; /* oldest first */                                                           \
    }

/* How much of one origin's log is held, for "41 of 43 records". Given by the caller. */
struct rp_holding {
    uint16_t origin;
    uint32_t held;     /* segments held */
    uint32_t known;    /* highest sequence known to exist */
};

struct rp_episode {
    struct rp_episode_ref ref;
    bool exercise; /* any record of it says so: nothing clears it */
    bool opened;   /* the opening record is held; else only fragments are known */
    struct rp_source opening_from;
    struct rp_rec_episode opening;
    struct rp_rec_background background; /* newest answer per field; NOT_ASKED never replaces */
    bool has_status;
    struct rp_source status_from; /* newest status report */
    struct rp_rec_status status;
    uint32_t records;      /* records of this episode that were added */
    uint32_t undecodable;  /* added but of a newer version */
    bool has_latest;
    uint32_t latest_s;     /* net time of the newest record added */
    struct rp_source latest_from;
    RP_EP_TABLE(struct rp_obs, RP_EP_OBS_MAX) obs;
    RP_EP_TABLE(struct rp_dose, RP_EP_DOSES_MAX) doses;
    RP_EP_TABLE(struct rp_oxygen_entry, RP_EP_OXYGEN_MAX) oxygen;
    RP_EP_TABLE(struct rp_chamber_entry, RP_EP_CHAMBER_MAX) chamber;
    RP_EP_TABLE(struct rp_reassess_entry, RP_EP_REASSESS_MAX) reassess;
    RP_EP_TABLE(struct rp_descent_entry, RP_EP_DESCENT_MAX) descent;
    RP_EP_TABLE(struct rp_note_entry, RP_EP_NOTES_MAX) notes;
    RP_EP_TABLE(struct rp_request_entry, RP_EP_REQUESTS_MAX) requests;
    RP_EP_TABLE(struct rp_answer_entry, RP_EP_ANSWERS_MAX) answers;
    RP_EP_TABLE(struct rp_readback_entry, RP_EP_READBACKS_MAX) readbacks;
    RP_EP_TABLE(struct rp_handover_entry, RP_EP_HANDOVERS_MAX) handovers;
    RP_EP_TABLE(struct rp_correction_entry, RP_EP_CORRECTIONS_MAX) corrections;
    bool closed;
    struct rp_source close_from;
    struct rp_rec_close close;
    /* Derived by rp_episode_finish: */
    RP_EP_TABLE(struct rp_session, RP_EP_SESSIONS_MAX) sessions;
    uint8_t evac_state;    /* enum rp_evac_state */
    int16_t request_now;   /* index into requests of the one in force, -1 none */
    int16_t eta_answer;    /* index into answers of the newest ETA in force, -1 none */
};

void rp_episode_init(struct rp_episode *episode, struct rp_episode_ref ref);
/* Adds one record of this episode (any order, each once). `record` references are filled in (no
 * origin 0 that means "own"). RP_E_CONFLICT when it belongs to another episode. */
int rp_episode_add(struct rp_episode *episode, const struct rp_record *record,
                   struct rp_record_ref ref);
/* A record of a kind this version cannot read: counted, its time kept. */
void rp_episode_add_unreadable(struct rp_episode *episode, struct rp_record_ref ref,
                               uint32_t time_s, bool exercise);
/* Derives sessions, evacuation state, voided and read-back marks. now_s: net time, for running
 * sessions. May be called again after further adds. */
void rp_episode_finish(struct rp_episode *episode, uint32_t now_s);

/* Newest observation set, not voided, that holds a measured value of the field at this offset in
 * struct rp_obs (offsetof), or NULL. mode: enum rp_mode to compare like with like, or -1 any. */
const struct rp_obs *rp_episode_last_obs(const struct rp_episode *episode, size_t value_offset,
                                         int mode);

/* A stretch of time without any record from the camp, for "no report 02:10-03:05". */
struct rp_gap {
    uint32_t from_s, to_s;
};
/* Finds gaps longer than `longer_than_s` between consecutive records (by happened time), and from
 * the last to now_s unless the episode is closed; returns the count, at most cap. */
size_t rp_episode_gaps(const struct rp_episode *episode, uint32_t longer_than_s, uint32_t now_s,
                       struct rp_gap *out, size_t cap);

#endif
