/* An episode: everything known of one patient's illness, folded from records. Pure and
 * independent of the order in which records arrive: add them in any order, then finish. A record
 * added twice counts once.
 *
 * Every table is bounded and keeps its newest entries. When one is full the oldest entry gives way
 * (the new one, if that is the oldest) and `older_dropped` of that table counts it, so that a sheet
 * can say so: it is the number of entries ever added minus those kept.
 *
 * Repeats are recognised by the table `heard` (the newest RP_EP_HEARD_MAX records). Only a record
 * older than all of these, in an episode with more records than that, can no longer be known for a
 * repeat; it is then counted again, but never shown twice.
 *
 * The struct is large (about 280 kB): keep it in storage of its own, not on a stack. */
#ifndef RP_INCIDENT_EPISODE_H
#define RP_INCIDENT_EPISODE_H

#include <stddef.h>

#include "wire/record.h"

#define RP_EP_OBS_MAX         96
#define RP_EP_DOSES_MAX       96
#define RP_EP_OXYGEN_MAX      48
#define RP_EP_CHAMBER_MAX     160
#define RP_EP_SESSIONS_MAX    24
#define RP_EP_REASSESS_MAX    24
#define RP_EP_DESCENT_MAX     24
#define RP_EP_NOTES_MAX       24
#define RP_EP_REQUESTS_MAX    8
#define RP_EP_ANSWERS_MAX     48
#define RP_EP_READBACKS_MAX   48
#define RP_EP_HANDOVERS_MAX   4
#define RP_EP_CORRECTIONS_MAX 48
#define RP_EP_REPORTS_MAX     192
#define RP_EP_OPENINGS_MAX    8
#define RP_EP_KNOWN_MAX       8
#define RP_EP_CANCELS_MAX     16
#define RP_EP_CLOSES_MAX      4
#define RP_EP_VOIDS_MAX       256
#define RP_EP_HEARD_MAX       2048
#define RP_EP_ALARMS_MAX      96
#define RP_EP_PUMPING_MAX     192
#define RP_EP_STOCK_MAX       48
#define RP_EP_FLUIDS_MAX      24

/* Where an entry comes from and when it happened. Total order: (happened_s, origin, seq). */
struct rp_source {
    struct rp_record_ref ref;
    uint8_t station;     /* of ref.origin */
    uint32_t happened_s; /* net time: record time minus ago */
    uint32_t recorded_s; /* net time: when entered */
    bool unsynced;       /* the origin's clock was not synchronised */
    uint8_t via;         /* enum rp_via */
    char by[RP_NAME_LEN + 1];
    bool voided; /* a correction says it was wrong; shown struck out, never counted */
    struct rp_record_ref replaced_by; /* origin 0: not replaced */
};

/* A status report as it came. */
struct rp_status_entry {
    struct rp_source from;
    struct rp_rec_status what;
};

/* One observation set: values taken at one time in one mode. Made by rp_episode_finish from the
 * status reports. Values of age 0 make a set at the time of their report. Values with an age repeat
 * an earlier set; when the report that held it is missing they make a set of their own, at the
 * report's time minus the age: taken_s is then before from.happened_s, as a rounded age tells it
 * (never too young). Order: (taken_s, origin, seq). */
struct rp_obs {
    struct rp_source from; /* the report that told of it */
    uint32_t taken_s;      /* net time */
    uint8_t mode;          /* enum rp_mode */
    uint8_t temp_site;
    struct rp_value spo2_pct, pulse_bpm, resp_rpm, acvpu, gcs_eye, gcs_verbal, gcs_motor,
        systolic_mmhg, diastolic_mmhg, temp_dc, lls, ataxia, airway, pain;
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
struct rp_opening_entry {
    struct rp_source from;
    struct rp_rec_episode what;
};
struct rp_known_entry {
    struct rp_source from;
    struct rp_known what;
};
/* The fields of a patient background, each folded by itself. */
enum rp_background_field {
    RP_BG_ALLERGIES,
    RP_BG_MEDICINES,
    RP_BG_HISTORY,
    RP_BG_LAST_MEAL,
    RP_BG_CONTACT,
    RP_BG_COUNT
};
struct rp_cancel_entry {
    struct rp_source from;
    struct rp_rec_evac_cancel what;
};
struct rp_close_entry {
    struct rp_source from;
    struct rp_rec_close what;
};
/* What a correction does, kept for more corrections than their texts are. */
struct rp_void {
    uint32_t happened_s;
    struct rp_record_ref ref; /* the correction */
    struct rp_record_ref about, replacement;
};
/* That a record was added at all, and when it happened. */
struct rp_heard {
    uint32_t happened_s;
    struct rp_record_ref ref;
    bool report; /* counts as word from the camp: see rp_episode_gaps */
};
struct rp_note_entry {
    struct rp_source from;
    char text[RP_NOTE_LEN + 1];
};
struct rp_request_entry {
    struct rp_source from;
    struct rp_rec_evacuation what;
    bool cancelled;               /* by a cancel of it or of a later revision of it */
    struct rp_source cancel_from; /* the newest such cancel */
    char cancel_reason[RP_LINE_LEN + 1];
    bool level_withdrawn; /* the report that its conscious level was taken from was corrected */
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
struct rp_alarm_entry { /* an alarm silenced for a while, or acknowledged */
    struct rp_source from;
    struct rp_rec_alarm what;
};

struct rp_pumping_entry { /* a stretch of pumping; happened_s: its last stroke */
    struct rp_source from;
    struct rp_rec_pumping what;
};
struct rp_stock_entry { /* how much of a drug is left */
    struct rp_source from;
    struct rp_rec_stock what;
};

struct rp_fluids_entry { /* what went in and came out until then */
    struct rp_source from;
    struct rp_rec_fluids what;
};

/* One chamber session, derived from chamber events by rp_episode_finish: any event with a session
 * number makes it known. Times net seconds; has_ flags: an event that was never entered is not
 * invented. Closed, pressurising and at pressure are the first of their kind, deflating and out
 * the last. */
struct rp_session {
    uint8_t number;
    bool has_closed, has_pressurising, has_at_pressure, has_deflating, has_out;
    uint32_t closed_s, pressurising_s, at_pressure_s, deflating_s, out_s;
    /* Time at pressure, with the holds that began there; a hold on the way up is not counted. It
     * ends with deflation, out, closing anew or pressurising anew, the next session's first event,
     * the closing of the episode, or the given now. */
    uint32_t at_pressure_total_s;
    uint16_t holds;             /* also those on the way up */
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
    uint32_t held;  /* segments held */
    uint32_t known; /* highest sequence known to exist */
};

struct rp_episode {
    struct rp_episode_ref ref;
    bool exercise;        /* any record of it says so: nothing clears it */
    uint32_t records;     /* records of this episode that were added, voided ones too */
    uint32_t undecodable; /* of these: of a newer version */
    bool has_latest;
    uint32_t latest_s; /* net time when the newest record happened, pump strokes left out */
    struct rp_source latest_from; /* without `by` and `via` when it was unreadable */
    bool has_word;
    struct rp_source word_from; /* the newest word from the camp: see rp_episode_word_s */
    uint32_t obs_dropped;       /* sets of their own in status reports that gave way */
    RP_EP_TABLE(struct rp_heard, RP_EP_HEARD_MAX) heard;
    RP_EP_TABLE(struct rp_void, RP_EP_VOIDS_MAX) voids;
    RP_EP_TABLE(struct rp_opening_entry, RP_EP_OPENINGS_MAX) openings;
    RP_EP_TABLE(struct rp_known_entry, RP_EP_KNOWN_MAX) known[RP_BG_COUNT]; /* not NOT_ASKED */
    RP_EP_TABLE(struct rp_status_entry, RP_EP_REPORTS_MAX) reports;
    RP_EP_TABLE(struct rp_cancel_entry, RP_EP_CANCELS_MAX) cancels;
    RP_EP_TABLE(struct rp_close_entry, RP_EP_CLOSES_MAX) closes;
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
    RP_EP_TABLE(struct rp_alarm_entry, RP_EP_ALARMS_MAX) alarms;
    RP_EP_TABLE(struct rp_pumping_entry, RP_EP_PUMPING_MAX) pumping;
    RP_EP_TABLE(struct rp_stock_entry, RP_EP_STOCK_MAX) stock;
    RP_EP_TABLE(struct rp_fluids_entry, RP_EP_FLUIDS_MAX) fluids;
    /* Derived by rp_episode_finish, from records that are not voided: */
    bool opened;                   /* an opening record is held; else only fragments are known */
    struct rp_source opening_from; /* the newest: a later one with changes replaces the first */
    struct rp_rec_episode opening;
    struct rp_rec_background background; /* newest answer per field; NOT_ASKED never replaces */
    bool has_status;
    struct rp_source status_from; /* newest status report */
    struct rp_rec_status status;
    bool closed;
    struct rp_source close_from; /* the newest */
    struct rp_rec_close close;
    RP_EP_TABLE(struct rp_obs, RP_EP_OBS_MAX) obs;               /* with voided ones, marked */
    RP_EP_TABLE(struct rp_session, RP_EP_SESSIONS_MAX) sessions; /* by their first event */
    uint8_t evac_state;  /* enum rp_evac_state: see rp_episode_finish */
    int16_t request_now; /* index into requests of the one in force, -1 none */
    int16_t eta_answer;  /* index into answers of the newest ETA in force, -1 none */
};

void rp_episode_init(struct rp_episode *episode, struct rp_episode_ref ref);
/* Adds one record of this episode, in any order; `ref` is its own. References inside `record` are
 * filled in (no origin 0 that means "own"). 0, also for one already added; RP_E_CONFLICT when it
 * belongs to another episode or to none. */
int rp_episode_add(struct rp_episode *episode, const struct rp_record *record,
                   struct rp_record_ref ref);
/* A record of a kind this version cannot read: counted, its time kept. */
void rp_episode_add_unreadable(struct rp_episode *episode, struct rp_record_ref ref,
                               uint32_t time_s, bool exercise);
/* Derives everything under "Derived" and the marks voided, replaced, cancelled and read back.
 * now_s: net time, for running sessions. May be called again after further adds.
 *
 * A correction voids what it is about, whichever arrives first; of several the newest says what
 * replaces it. A correction of a correction undoes it if it is the newer one.
 *
 * A request is in force when it is not voided, not cancelled and not revised by one that is not
 * voided; of several the newest. A cancel also cancels what the request revised, never a later
 * revision. evac_state:
 *   handed over   a handover exists, and no request in force is newer
 *   cancelled     no request in force, and the newest request is cancelled
 *   requested     in force, and nobody answered
 *   seen, passed on, accepted, refused: the newest such answer about the request in force or about
 *                 one it revises (an answer to an older revision still counts; compare
 *                 answers[].what.about with the request in force to say so)
 *   else, when no request is held at all, what the newest status report says: the camp may have
 *   asked and the request be missing here; request_now is then -1.
 * An ETA is in force unless refused, cancelled or handed over; one about a request counts only for
 * the request in force and what it revises. */
void rp_episode_finish(struct rp_episode *episode, uint32_t now_s);

/* Newest observation set, not voided, that holds a measured value of the field at this offset in
 * struct rp_obs (offsetof), or NULL. mode: enum rp_mode to compare like with like, or -1 any. */
const struct rp_obs *rp_episode_last_obs(const struct rp_episode *episode, size_t value_offset,
                                         int mode);

/* Net time until when the next report is promised: by the newest report that stands, and as long as
 * the episode is neither closed nor handed over; 0: nothing is promised. */
uint32_t rp_episode_next_report_s(const struct rp_episode *episode);

/* The newest handover that stands, or NULL. */
const struct rp_handover_entry *rp_episode_handed(const struct rp_episode *episode);
/* Whether an entry was recorded after that handover: the team that took the patient may not know
 * it. In the handover's own log by sequence, else by net time, the same second included. */
bool rp_episode_is_late(const struct rp_episode *episode, const struct rp_source *from);
/* How many records tell of something after that handover (of the newest RP_EP_HEARD_MAX), or were
 * entered only after it. */
uint32_t rp_episode_late_count(const struct rp_episode *episode);

/* A stretch of time without word from the camp, for "no report 02:10-03:05". Word is a record made
 * by the station that opened the episode, but for pump strokes, or a status report entered anywhere
 * (one taken by voice),
 * by the time it happened, voided ones too. */
struct rp_gap {
    uint32_t from_s, to_s;
};
/* Finds gaps longer than `longer_than_s` between consecutive words from the camp, and from the last
 * to now_s unless the episode is closed, oldest first; returns the count, at most cap (the first
 * ones are kept). Needs rp_episode_finish. */
size_t rp_episode_gaps(const struct rp_episode *episode, uint32_t longer_than_s, uint32_t now_s,
                       struct rp_gap *out, size_t cap);
/* Net time of the newest word from the camp, 0: none. What base itself enters, an answer or an
 * acknowledgement, makes no silence younger. Needs no rp_episode_finish. */
uint32_t rp_episode_word_s(const struct rp_episode *episode);

#endif
