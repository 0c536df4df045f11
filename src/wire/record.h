/* Records: the checked C form of every application message. This header and proto/ridgepost.proto
 * say the same things; src/wire/record*.c is the only code that sees the generated structs.
 *
 * Unknown is never a sentinel: a `has_` flag or an explicit state says so. Texts are UTF-8,
 * NUL-terminated, bounded; RP_E_TOO_LONG names the one that does not fit. */
#ifndef RP_WIRE_RECORD_H
#define RP_WIRE_RECORD_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"
#include "wire/record_parts.h"

#define RP_RECEIPT_MAX         12   /* origins in one receipt */
#define RP_RECORD_LEN_MAX      1400 /* encoded record: lead byte and everything after it */
#define RP_RECORD_SEGMENTS_MAX 24

/* X(name, number on the wire, word, class when not urgent) */
#define RP_RECORD_KINDS(X)                                                                         \
    X(RP_REC_STATION, 1, "station card", HISTORY)                                                  \
    X(RP_REC_EPISODE, 2, "episode opened", COORDINATION)                                           \
    X(RP_REC_BACKGROUND, 3, "patient background", COORDINATION)                                    \
    X(RP_REC_STATUS, 4, "status report", STATUS)                                                   \
    X(RP_REC_TREATMENT, 5, "treatment", COORDINATION)                                              \
    X(RP_REC_OXYGEN, 6, "oxygen", COORDINATION)                                                    \
    X(RP_REC_CHAMBER, 7, "chamber event", COORDINATION)                                            \
    X(RP_REC_REASSESS, 8, "reassessment", COORDINATION)                                            \
    X(RP_REC_DESCENT, 9, "descent decision", COORDINATION)                                         \
    X(RP_REC_NOTE, 10, "note", HISTORY)                                                            \
    X(RP_REC_EVACUATION, 11, "evacuation request", COORDINATION)                                   \
    X(RP_REC_EVAC_CANCEL, 12, "evacuation cancelled", COORDINATION)                                \
    X(RP_REC_ANSWER, 13, "answer", COORDINATION)                                                   \
    X(RP_REC_READBACK, 14, "read-back", COORDINATION)                                              \
    X(RP_REC_RECEIPT, 15, "receipt", COORDINATION)                                                 \
    X(RP_REC_HANDOVER, 16, "handover taken", COORDINATION)                                         \
    X(RP_REC_CORRECTION, 17, "correction", COORDINATION)                                           \
    X(RP_REC_CLOSE, 18, "episode closed", COORDINATION)                                            \
    X(RP_REC_CLOCK, 19, "clock note", HISTORY)                                                     \
    X(RP_REC_ALARM, 20, "alarm answered", COORDINATION)                                            \
    X(RP_REC_PUMPING, 21, "pumping", HISTORY)                                                      \
    X(RP_REC_STOCK, 22, "drug stock", COORDINATION)                                                \
    X(RP_REC_FLUIDS, 23, "fluids", COORDINATION)
#define RP_REC_LAST RP_REC_FLUIDS

enum rp_record_kind {
#define RP_RECORD_KIND_ENUM(name, number, word, class_) name = number,
    RP_RECORD_KINDS(RP_RECORD_KIND_ENUM)
#undef RP_RECORD_KIND_ENUM
};

enum rp_role { RP_ROLE_CAMP, RP_ROLE_RELAY, RP_ROLE_BASE };
enum rp_sex { RP_SEX_UNSAID, RP_SEX_FEMALE, RP_SEX_MALE, RP_SEX_OTHER };
enum rp_via { RP_VIA_ENTERED, RP_VIA_PAPER, RP_VIA_VOICE }; /* where an entry came from */

struct rp_rec_station {
    uint8_t role; /* enum rp_role */
    char name[RP_NAME_LEN + 1];
    char callsign[RP_NAME_LEN + 1];
    struct rp_altitude altitude;
    struct rp_position position;
};

struct rp_rec_episode {
    char patient[RP_NAME_LEN + 1]; /* a name only if chosen, else a label such as "patient A" */
    uint8_t sex;                   /* enum rp_sex */
    bool has_age, has_weight, has_onset;
    uint8_t age_y;                    /* 0..110 */
    uint16_t weight_kg;               /* 2..250 */
    uint32_t onset_s;                 /* first symptom, net time */
    uint8_t label;                    /* RP_LABEL_ bits; 0: no label yet */
    char label_text[RP_LINE_LEN + 1]; /* RP_LABEL_OTHER: what */
    enum rp_finding criteria[RP_CRIT_COUNT];
    struct rp_lls_items lls;
    char first_sign[RP_LINE_LEN + 1];
    bool has_reached;
    uint32_t reached_s; /* when this altitude was reached, net time */
    struct rp_altitude altitude;
    struct rp_position position;
};

struct rp_rec_background {
    struct rp_known allergies, medicines, history, last_meal, contact;
};

/* Condition as the medic sees it. */
#define RP_CONDITIONS(X)                                                                           \
    X(UNSAID, 0, "not said")                                                                       \
    X(WELL, 1, "well")                                                                             \
    X(BETTER, 2, "better")                                                                         \
    X(SAME, 3, "no change")                                                                        \
    X(WORSE, 4, "worse")                                                                           \
    X(CRITICAL, 5, "critical")                                                                     \
    X(DEAD, 6, "dead")
/* Chamber phase. */
#define RP_PHASES(X)                                                                               \
    X(NONE, 0, "not in chamber")                                                                   \
    X(CLOSED, 1, "closed")                                                                         \
    X(PRESSURISING, 2, "pressurising")                                                             \
    X(AT_PRESSURE, 3, "at pressure")                                                               \
    X(HOLD, 4, "hold")                                                                             \
    X(DEFLATING, 5, "deflating")                                                                   \
    X(OUT, 6, "out of chamber")
/* Evacuation as the reporting station knows it. */
#define RP_EVAC_STATES(X)                                                                          \
    X(NONE, 0, "not requested")                                                                    \
    X(ASKED, 1, "requested")                                                                       \
    X(SEEN, 2, "seen by base")                                                                     \
    X(PASSED_ON, 3, "passed on")                                                                   \
    X(ACCEPTED, 4, "accepted")                                                                     \
    X(REFUSED, 5, "refused")                                                                       \
    X(CANCELLED, 6, "cancelled")                                                                   \
    X(HANDED_OVER, 7, "handed over")
/* How an observation was taken: like is compared with like only. */
#define RP_MODES(X)                                                                                \
    X(UNSAID, 0, "mode not said")                                                                  \
    X(AIR, 1, "on air")                                                                            \
    X(OXYGEN, 2, "on oxygen")                                                                      \
    X(CHAMBER, 3, "in chamber")                                                                    \
    X(CHAMBER_OXYGEN, 4, "in chamber on oxygen")
/* Conscious level, ACVPU (NEWS2, Royal College of Physicians 2017). */
#define RP_ACVPU(X)                                                                                \
    X(ALERT, 0, "alert")                                                                           \
    X(CONFUSED, 1, "new confusion")                                                                \
    X(VOICE, 2, "responds to voice")                                                               \
    X(PAIN, 3, "responds to pain")                                                                 \
    X(UNRESPONSIVE, 4, "unresponsive")
/* Airway as found, ours: what a receiving crew asks first. */
#define RP_AIRWAYS(X)                                                                              \
    X(CLEAR, 0, "clear")                                                                           \
    X(AT_RISK, 1, "at risk")                                                                       \
    X(NOISY, 2, "noisy, partly blocked")                                                           \
    X(BLOCKED, 3, "blocked")                                                                       \
    X(DEVICE, 4, "kept open with a device")

#define RP_ENUM_MEMBER(prefix, name, number) prefix##name = number,
enum rp_condition {
#define X(name, number, word) RP_ENUM_MEMBER(RP_COND_, name, number)
    RP_CONDITIONS(X)
#undef X
};
enum rp_phase {
#define X(name, number, word) RP_ENUM_MEMBER(RP_PHASE_, name, number)
    RP_PHASES(X)
#undef X
};
enum rp_evac_state {
#define X(name, number, word) RP_ENUM_MEMBER(RP_EVAC_, name, number)
    RP_EVAC_STATES(X)
#undef X
};
enum rp_mode {
#define X(name, number, word) RP_ENUM_MEMBER(RP_MODE_, name, number)
    RP_MODES(X)
#undef X
};
enum rp_acvpu {
#define X(name, number, word) RP_ENUM_MEMBER(RP_ACVPU_, name, number)
    RP_ACVPU(X)
#undef X
};
enum rp_airway {
#define X(name, number, word) RP_ENUM_MEMBER(RP_AIRWAY_, name, number)
    RP_AIRWAYS(X)
#undef X
};
enum rp_temp_site { RP_SITE_UNSAID, RP_SITE_ORAL, RP_SITE_TYMPANIC, RP_SITE_OESOPHAGEAL };

/* Ages are whole minutes before the record's time. On air they are rounded UP to a step (see
 * PROTOCOL.md), so that no value ever looks younger than it is. 0 means taken now; a decoded
 * RP_AGE_LAST_MIN stands for every age above the step before it, perhaps days: show it as "a day or
 * more". */
#define RP_AGE_LAST_MIN 1440
struct rp_rec_status {
    uint8_t condition;         /* enum rp_condition */
    uint8_t phase;             /* enum rp_phase */
    uint16_t elapsed_min;      /* of the chamber session, 0..1023 (saturates) */
    uint8_t cycle;             /* chamber session number, 0..15 (saturates) */
    uint8_t evac_state;        /* enum rp_evac_state */
    uint8_t mode;              /* enum rp_mode: of SpO2, pulse and respiration */
    uint16_t vitals_age_min;   /* SpO2, pulse, respiration, conscious level */
    struct rp_value spo2_pct;  /* 0..100 */
    struct rp_value pulse_bpm; /* 0..300 */
    struct rp_value resp_rpm;  /* 0..90 */
    struct rp_value acvpu;     /* enum rp_acvpu */
    struct rp_value gcs_eye, gcs_verbal, gcs_motor; /* 1..4, 1..5, 1..6: all three or none */
    struct rp_value airway;                         /* enum rp_airway, with the vital signs */
    struct rp_value pain;             /* 0..10 as the patient says it, with the vital signs */
    struct rp_value oxygen_flow_dlpm; /* tenths of a litre per minute, 0..250; on air steps of 5 */
    struct rp_value cylinder_bar;     /* 0..350 */
    uint16_t pressure_age_min;
    struct rp_value systolic_mmhg, diastolic_mmhg; /* 30..300, 10..200 */
    uint16_t temp_age_min;
    struct rp_value temp_dc; /* tenths of a degree Celsius, 100..450 */
    uint8_t temp_site;       /* enum rp_temp_site */
    uint16_t score_age_min;
    struct rp_value lls;    /* 2018 Lake Louise total, 0..12; RP_UNABLE also when incomplete */
    struct rp_value ataxia; /* heel-to-toe 0..4 (Lake Louise 1991); RP_UNABLE = not testable */
    uint8_t next_min; /* its writer promises the next report within this time; 0: no promise */
};
#define RP_NEXT_MIN_MAX 120 /* the longest promise a segment can carry, PROTOCOL.md */

enum rp_dose_unit {
    RP_DOSE_NONE,
    RP_DOSE_MG,
    RP_DOSE_G,
    RP_DOSE_MCG,
    RP_DOSE_ML,
    RP_DOSE_TABLET,
    RP_DOSE_PUFF,
    RP_DOSE_IU
};
enum rp_route {
    RP_ROUTE_UNSAID,
    RP_ROUTE_ORAL,
    RP_ROUTE_SUBLINGUAL,
    RP_ROUTE_IM,
    RP_ROUTE_IV,
    RP_ROUTE_SUBCUTANEOUS,
    RP_ROUTE_INHALED,
    RP_ROUTE_RECTAL,
    RP_ROUTE_NASAL,
    RP_ROUTE_TOPICAL
};
enum rp_treatment_kind { RP_TREAT_DRUG, RP_TREAT_FLUID, RP_TREAT_OTHER };
/* What stood against a dose by the protocol table of the station that entered it; given all the
 * same on the word of a second person. Numbers of bits travel: new ones go last. */
#define RP_DOSE_EARLY        1u  /* before the interval was over */
#define RP_DOSE_DOUBLE       2u  /* the same dose within half an interval: perhaps the same one */
#define RP_DOSE_OVER_SINGLE  4u  /* above the largest single dose */
#define RP_DOSE_OVER_DAY     8u  /* above the most in 24 h */
#define RP_DOSE_ALLERGY      16u /* an allergy that no correction took away names it */
#define RP_DOSE_VASODILATORS 32u /* a second pulmonary vasodilator */
#define RP_DOSE_ROUTE        64u /* a route the table does not have */
struct rp_rec_treatment {
    uint8_t kind;               /* enum rp_treatment_kind */
    char name[RP_NAME_LEN + 1]; /* drug, fluid, or what was done */
    bool has_dose;
    uint32_t dose_milli;           /* thousandths of dose_unit, 1..10,000,000 */
    uint8_t dose_unit;             /* enum rp_dose_unit */
    uint8_t route;                 /* enum rp_route */
    bool refused;                  /* offered, the patient refused */
    char checker[RP_NAME_LEN + 1]; /* second person who checked; empty: nobody */
    char text[RP_LINE_LEN + 1];
    uint8_t flags;                   /* RP_DOSE_ bits, 0..127 */
    char confirmed[RP_NAME_LEN + 1]; /* second person who stood for it in spite of `flags` */
};

enum rp_oxygen_device { RP_O2_UNSAID, RP_O2_PRONGS, RP_O2_MASK, RP_O2_RESERVOIR_MASK };
enum rp_oxygen_action { RP_O2_START, RP_O2_CHANGE, RP_O2_STOP, RP_O2_READING };
struct rp_rec_oxygen {
    uint8_t action;            /* enum rp_oxygen_action */
    uint8_t device;            /* enum rp_oxygen_device */
    struct rp_value flow_dlpm; /* 0..250 tenths L/min */
    char cylinder[RP_NAME_LEN + 1];
    struct rp_value cylinder_bar; /* 0..350 */
    struct rp_value water_dl;     /* cylinder water volume, tenths of a litre, 5..500 */
};

enum rp_hold_reason {
    RP_HOLD_UNSAID,
    RP_HOLD_EARS,
    RP_HOLD_VOMIT,
    RP_HOLD_PANIC,
    RP_HOLD_PAIN,
    RP_HOLD_PUMP,
    RP_HOLD_OTHER
};
struct rp_rec_chamber {
    uint8_t phase;               /* enum rp_phase: the phase that begins with this event */
    uint8_t session;             /* 1..255 within the episode */
    uint8_t hold_reason;         /* enum rp_hold_reason, with RP_PHASE_HOLD */
    struct rp_value gauge_dhpa;  /* gauge pressure, tenths of hPa, 0..3000 */
    struct rp_value altimeter_m; /* altimeter inside, -450..8900 */
    char text[RP_LINE_LEN + 1];
};

enum rp_next_step {
    RP_NEXT_UNSAID,
    RP_NEXT_SESSION,
    RP_NEXT_DESCEND,
    RP_NEXT_EVACUATE,
    RP_NEXT_WATCH
};
struct rp_rec_reassess {
    uint8_t condition; /* enum rp_condition: compared with before */
    uint8_t next;      /* enum rp_next_step */
    struct rp_lls_items lls;
    struct rp_value functional; /* clinical functional score 0..3 */
    enum rp_finding mental_change, can_walk;
    struct rp_value ataxia; /* 0..4 */
    char text[RP_LINE_LEN + 1];
};

enum rp_why_not {
    RP_WHY_UNSAID,
    RP_WHY_DARK,
    RP_WHY_WEATHER,
    RP_WHY_TERRAIN,
    RP_WHY_NO_CARRIERS,
    RP_WHY_CONDITION,
    RP_WHY_OTHER
};
struct rp_rec_descent {
    bool descending; /* true: going down now */
    uint8_t why_not; /* enum rp_why_not, when not descending */
    bool has_ask_again;
    uint16_t ask_again_min; /* 1..1440 */
    bool has_way;
    uint16_t way_min; /* how long the way down takes from here, 1..2880 */
    char text[RP_LINE_LEN + 1];
};

struct rp_rec_note {
    char text[RP_NOTE_LEN + 1];
};

/* Urgency of an evacuation, our own four steps (clinical.md 4.3). 0: not said. */
enum rp_urgency {
    RP_URG_UNSAID,
    RP_URG_E1_NOW,
    RP_URG_E2_HOUR,
    RP_URG_E3_TODAY,
    RP_URG_E4_ROUTINE
};
enum rp_mobility { RP_MOB_UNSAID, RP_MOB_WALKING, RP_MOB_SITTING, RP_MOB_STRETCHER };
enum rp_surface {
    RP_SURF_UNSAID,
    RP_SURF_SNOW,
    RP_SURF_ICE,
    RP_SURF_ROCK,
    RP_SURF_GRASS,
    RP_SURF_SAND
};
#define RP_NEED_DOCTOR    1u
#define RP_NEED_OXYGEN    2u
#define RP_NEED_STRETCHER 4u
#define RP_NEED_HOIST     8u
struct rp_rec_evacuation {
    struct rp_record_ref revises; /* origin 0: a first request; else the request this replaces */
    uint8_t urgency;              /* enum rp_urgency */
    bool has_patients, has_weight, has_wind, has_wind_dir, has_gust, has_temp, has_visibility,
        has_cloud_base, has_site_size, has_slope, has_party, has_daylight, has_needs;
    uint8_t patients;   /* 1..50 */
    uint16_t weight_kg; /* patient with kit, 2..250 */
    uint8_t mobility;   /* enum rp_mobility */
    enum rp_finding conscious, oxygen_needed, lies_flat, site_marked;
    /* The report `conscious` was taken from; origin 0: a person said so with the request. */
    struct rp_record_ref conscious_from;
    struct rp_position position; /* the patient */
    struct rp_altitude altitude;
    struct rp_position site;              /* the landing site */
    uint16_t site_length_m, site_width_m; /* 1..1000 */
    uint8_t surface;                      /* enum rp_surface */
    uint8_t slope_deg;                    /* 0..60 */
    char obstacles[RP_LINE_LEN + 1];
    uint16_t wind_kmh, wind_from_deg, gust_kmh; /* 0..250, 0..359 true, 0..250 */
    int8_t temp_c;                              /* -70..50 */
    uint32_t visibility_m;                      /* 0..50000 */
    uint16_t cloud_base_m;                      /* above mean sea level, 0..12000 */
    char weather[RP_LINE_LEN + 1];
    char hazards[RP_LINE_LEN + 1];
    char ground_contact[RP_LINE_LEN + 1]; /* call-sign, frequency, phone, light or colour */
    uint8_t needs;                        /* RP_NEED_ bits, when has_needs */
    uint8_t party;                        /* people who stay behind, 0..100 */
    uint32_t daylight_end_s;              /* net time */
    struct rp_known insurance;
    char fallback[RP_LINE_LEN + 1]; /* stop condition and descent plan if nobody comes */
};

struct rp_rec_evac_cancel {
    struct rp_record_ref request;
    char reason[RP_LINE_LEN + 1];
};

#define RP_ANSWERS(X)                                                                              \
    X(SEEN, 1, "seen")                                                                             \
    X(PASSED_ON, 2, "passed on")                                                                   \
    X(ACCEPTED, 3, "accepted")                                                                     \
    X(REFUSED, 4, "refused")                                                                       \
    X(ETA, 5, "expected")                                                                          \
    X(PLAN, 6, "plan")                                                                             \
    X(ADVICE, 7, "advice")
enum rp_answer_kind {
#define X(name, number, word) RP_ENUM_MEMBER(RP_ANS_, name, number)
    RP_ANSWERS(X)
#undef X
};
struct rp_rec_answer {
    struct rp_record_ref about; /* the record answered */
    uint8_t kind;               /* enum rp_answer_kind */
    char whom[RP_NAME_LEN + 1]; /* passed on to / accepted by / who comes */
    bool has_eta;
    uint32_t eta_s; /* net time */
    char text[RP_LINE_LEN + 1];
};

struct rp_rec_readback {
    struct rp_record_ref about; /* the answer read back */
    char text[RP_LINE_LEN + 1];
};

struct rp_receipt_entry {
    uint16_t origin;
    uint32_t upto;                  /* everything from 1 to here has reached base */
    uint32_t also_first, also_last; /* one further run beyond the gap, 0 0 when none */
};
struct rp_rec_receipt {
    uint8_t count; /* 1..RP_RECEIPT_MAX */
    struct rp_receipt_entry entries[RP_RECEIPT_MAX];
};

struct rp_rec_handover {
    char team[RP_NAME_LEN + 1];
    char taken_by[RP_NAME_LEN + 1];
    bool has_sheet;
    uint32_t sheet; /* sheet number */
    char sheet_check[RP_NAME_LEN + 1];
    char text[RP_TALK_LEN + 1]; /* what was asked and answered */
};

struct rp_rec_correction {
    struct rp_record_ref about;       /* the record that was wrong; it stays in the log */
    struct rp_record_ref replacement; /* origin 0: entered in error, nothing replaces it */
    char reason[RP_LINE_LEN + 1];
};

enum rp_outcome {
    RP_OUT_UNSAID,
    RP_OUT_HANDED_OVER,
    RP_OUT_DESCENDED,
    RP_OUT_RECOVERED,
    RP_OUT_DIED,
    RP_OUT_OTHER
};
struct rp_rec_close {
    uint8_t outcome; /* enum rp_outcome */
    char text[RP_LINE_LEN + 1];
};

enum rp_clock_reason { RP_CLOCK_START, RP_CLOCK_STEPPED, RP_CLOCK_SET };
struct rp_rec_clock {
    uint8_t reason;   /* enum rp_clock_reason */
    int32_t offset_s; /* new minus old */
    bool synced;      /* the clock is synchronised from here on */
};

/* What a person did about an alarm of the watch rules. */
enum rp_alarm_action { RP_ALARM_SNOOZE, RP_ALARM_ACK };
struct rp_rec_alarm {
    uint8_t action;  /* enum rp_alarm_action */
    uint8_t rule;    /* number of the watch rule, 1..255; those not known here are kept */
    uint8_t subject; /* tells alarms of one rule apart; 0: it has only one */
    bool has_about, has_until;
    uint32_t about_s; /* since when the alarm stands, net time: which alarm is meant */
    uint32_t until_s; /* RP_ALARM_SNOOZE: silent until then, net time */
    char text[RP_LINE_LEN + 1];
};

/* A stretch of pumping as the strokes told it; the record happened at its last stroke. */
struct rp_rec_pumping {
    char pumper[RP_NAME_LEN + 1]; /* empty: nobody was named */
    uint16_t strokes;             /* after its beginning, 1..3000 */
    uint16_t spell_s;             /* from its beginning to the last stroke, 0..3600 */
};

/* How much of a drug the party still has: counted, the patient's doses taken off already. */
struct rp_rec_stock {
    char name[RP_NAME_LEN + 1];
    uint32_t left_milli; /* thousandths of unit, 0..10,000,000 */
    uint8_t unit;        /* enum rp_dose_unit */
};

/* What went in and came out; what was given as treatment is in struct rp_rec_treatment. */
struct rp_rec_fluids {
    struct rp_value urine_ml; /* 0..3000 */
    struct rp_value drunk_ml; /* 0..5000 */
    bool has_span;
    uint16_t span_min; /* the time both are of, until the record happened: 1..1440 */
};

struct rp_record {
    enum rp_record_kind kind;
    bool urgent, exercise, unsynced;
    uint32_t time_s;               /* when entered, net time: seconds since RP_NET_EPOCH_UNIX_S */
    uint32_t ago_s;                /* how long before that it happened, 0..604800; 0: now */
    struct rp_episode_ref episode; /* number 0: none (station card, receipt, clock note) */
    uint8_t via;                   /* enum rp_via */
    char by[RP_NAME_LEN + 1];      /* who did or entered it; empty: not said */
    union {
        struct rp_rec_station station;
        struct rp_rec_episode opened;
        struct rp_rec_background background;
        struct rp_rec_status status;
        struct rp_rec_treatment treatment;
        struct rp_rec_oxygen oxygen;
        struct rp_rec_chamber chamber;
        struct rp_rec_reassess reassess;
        struct rp_rec_descent descent;
        struct rp_rec_note note;
        struct rp_rec_evacuation evacuation;
        struct rp_rec_evac_cancel evac_cancel;
        struct rp_rec_answer answer;
        struct rp_rec_readback readback;
        struct rp_rec_receipt receipt;
        struct rp_rec_handover handover;
        struct rp_rec_correction correction;
        struct rp_rec_close close;
        struct rp_rec_clock clock;
        struct rp_rec_alarm alarm;
        struct rp_rec_pumping pumping;
        struct rp_rec_stock stock;
        struct rp_rec_fluids fluids;
    } as;
};

/* Encodes lead byte and content to buf (cap >= RP_RECORD_LEN_MAX always suffices); returns the
 * length. Checks every bound; RP_E_INVALID or RP_E_TOO_LONG, and *out_field (when not NULL) is
 * the name of the field at fault. Texts hold no control characters (a note: line feed and tab
 * only). What is `own` in a reference is origin 0 with a number or sequence. */
int rp_record_encode(const struct rp_record *record, uint8_t *buf, size_t cap,
                     const char **out_field);
/* Decodes and checks a whole record (all its segments' content joined; continuation lead bytes
 * removed). `origin` is the log it was found in: references with origin 0 that mean "own log" are
 * filled in with it. RP_E_TRUNCATED, RP_E_FORMAT, RP_E_UNSUPPORTED (a kind of a newer version),
 * RP_E_INVALID, RP_E_TOO_LONG (above RP_RECORD_LEN_MAX), RP_E_MEMORY. Unknown protobuf fields are
 * ignored. */
int rp_record_decode(struct rp_view bytes, uint16_t origin, struct rp_record *out_record);
/* "status report" for RP_REC_STATUS; "record" for an unknown number. */
const char *rp_record_kind_word(int kind);

#endif
