/* The inside of a station; only src/node includes this. */
#ifndef RP_NODE_NODE_STATE_H
#define RP_NODE_NODE_STATE_H

#include "node/node.h"
#include "radio/radio.h"
#include "wire/seal.h"

#define RP_NODE_RECEIPT_ORIGINS 64 /* logs and urgent records waiting for a receipt */
#define RP_NODE_LOGS_MAX        16 /* logs one episode draws on; beyond it: not in its completeness */
#define RP_NODE_EPISODES_MAX    256 /* episodes listed; beyond it: held, but found only by number */

struct rp_known_station {
    bool has_card;
    struct rp_record_ref from; /* the newest card wins: by sequence in one log, else by time */
    uint32_t time_s;
    struct rp_rec_station card;
};

/* What base owes the others: a receipt for these origins' logs, and for these urgent records. */
struct rp_receipt_due {
    struct {
        uint16_t origin;
        uint32_t seq; /* last segment of an urgent record; 0: whatever is newest */
    } at[RP_NODE_RECEIPT_ORIGINS];
    size_t count;
    bool urgent;
    rp_time_us due_us;     /* RP_NEVER: nothing owed */
    rp_time_us soon_us;    /* the same without the wait for a quiet time; RP_NEVER: nothing owed */
    rp_time_us written_us; /* the last one */
    rp_time_us paid_until_us; /* each receipt written moves it on by the rare spacing */
};

/* Receipts that arrived and are not applied yet: the engine is in the middle of an input when they
 * arrive. When full the oldest gives way: receipts are cumulative. */
struct rp_receipts_in {
    struct rp_record_ref at[8];
    size_t count;
    bool again; /* apply all that are held once more */
};

struct rp_node_clock {
    bool started;
    bool vouched; /* the own wall clock was synchronised when last looked at */
    rp_time_us last_us;
    int64_t last_unix_s;
    int64_t offset_s; /* net time minus own clock, from a better clock in the net; else 0 */
    uint8_t quality;  /* 0 best .. 15 unsynchronised */
    uint8_t source;   /* station whose clock it is; 0: the own one, or that of before a restart */
    rp_time_us heard_us; /* when the source was last heard, or the own clock last vouched for */
    rp_time_us aged_us;  /* until when the quality has been worsened for its age */
    rp_time_us saved_us; /* when it was last kept in storage */
    bool agreed; /* the own clock is synchronised, and in this run another one agreed with it */
    /* Set back while nobody vouched for the time, kept under the value "clock.back". */
    uint32_t back_s;    /* by how much; 0: it was not */
    uint32_t back_at_s; /* net time when that was found */
    bool back_at_start; /* at a start of the computer */
};

/* Strokes of the pump that are in no record yet; kept under the value "pump". */
struct rp_node_turn {
    bool on;
    struct rp_episode_ref episode; /* number 0: none, in memory only */
    uint32_t from_s, last_s;       /* net time */
    uint32_t strokes;
    uint32_t kept_s, kept_strokes; /* as last written */
    rp_time_us end_us;             /* when it ends if no stroke comes */
};

/* A station heard directly, and its troubles, since when. good: the link was good once; at base
 * also in a run before this. */
struct rp_node_hop {
    bool good, lost, weak, low;
    uint8_t in_pct, out_pct, battery_pct; /* as last heard in this run */
    uint32_t lost_s, weak_s, low_s;       /* net time */
    uint32_t heard_s;                     /* net time, when last heard */
    rp_time_us heard_us; /* the same; before it was heard in this run, when this run began */
};

/* What the watch rules ask of the station itself; but for the strokes in no record. */
struct rp_node_watch_state {
    bool has_stroke, radio_lost, has_failed, battery_low, battery_empty;
    uint32_t stroke_s, pumper_since_s, radio_lost_s, failed_s, battery_low_s,
        battery_empty_s; /* net time */
    uint32_t failures;   /* of the storage, when last looked at */
    uint8_t battery_pct; /* 127: not known */
    char pumper[RP_NAME_LEN + 1];
    struct rp_episode_ref teller; /* the open episode that tells of the station; number 0: none */
    struct rp_node_turn turn;
    struct rp_node_hop hops[RP_STATION_MAX + 1];
    bool hops_changed; /* since they were kept under the value "hops" */
    rp_time_us hops_kept_us;
};

struct rp_node {
    struct rp_node_config config;
    struct rp_moment moment; /* of the call in progress: storage callbacks have no other time */
    struct rp_seal seal;
    uint16_t origin;
    uint32_t next_seq;
    uint32_t promised_s; /* net time the next own report is promised within; 0: it is not */
    uint32_t unsure_seq; /* from here to the next: perhaps on disk, not sent; 0: none */
    void *mesh_memory;
    struct rp_mesh *mesh;
    uint16_t carry_len_max; /* longest segment sealed earlier that may be sent */
    uint32_t airtime_us[RP_FRAME_LEN_MAX + 1];
    bool has_radio, line_open, in_flight;
    struct rp_radio radio;
    int fault_code;
    char fault[96];
    rp_time_us card_us;  /* when the station's card is entered; RP_NEVER: it is */
    rp_time_us ready_us; /* the radio, for the first time since its line opened; RP_NEVER */
    bool restarted_log;
    bool unfinished;            /* a call ended before everything was moved */
    rp_time_us same_station_us; /* when last told of; RP_NEVER: not yet */
    uint32_t unreadable, store_failures;
    struct rp_node_clock clock;
    struct rp_node_watch_state watch;
    struct rp_receipt_due receipt;
    rp_time_us receipt_heard_us[RP_STATION_MAX + 1]; /* at base: the last routine record of each */
    struct rp_receipts_in receipts_in;
    struct rp_known_station stations[RP_STATION_MAX + 1];
    struct rp_episode_ref episodes[RP_NODE_EPISODES_MAX];
    bool episode_exercise[RP_NODE_EPISODES_MAX]; /* any record of it is marked EXERCISE */
    size_t episode_count;
    char name_scratch[32];
    struct rp_episode episode; /* the one folded last */
    struct rp_holding holdings[RP_NODE_LOGS_MAX];
    size_t holding_count;
    uint64_t revision;                          /* see rp_node_revision */
    char entry_key[RP_ENTRY_KEY_LEN_MAX + 1];   /* empty: none */
    unsigned entry_index;                       /* of the next record entered under it */
    char entry_name[RP_ENTRY_KEY_LEN_MAX + 16]; /* of the record being entered; empty: none */
    uint8_t record_bytes[RP_RECORD_LEN_MAX];    /* joined or encoded record */
    struct rp_record record;                    /* decoded record */
};

/* log.c: this station's own log */
int rp_own_log_start(struct rp_node *node, struct rp_problem *out_problem);
int rp_own_log_append(struct rp_node *node, const struct rp_record *record,
                      struct rp_record_ref *out_ref, struct rp_problem *out_problem);
int rp_own_log_begin_again(struct rp_node *node);
void rp_own_log_publish_unheard(struct rp_node *node);
uint32_t rp_net_seconds(const struct rp_node *node, struct rp_moment moment);

/* intake.c: foreign segments into records; the engine's storage */
/* Plain bytes of a stored segment; returns their length. */
int rp_intake_plain(struct rp_node *node, uint16_t origin, uint32_t seq, bool *out_first,
                    bool *out_last, uint8_t *buf, size_t cap);
struct rp_mesh_store rp_intake_store(struct rp_node *node);
void rp_intake_learn(struct rp_node *node, const struct rp_record_row *row);
int rp_intake_load(struct rp_node *node);
/* Tells the engine of the airtime of the last hour, anew; when it cannot be read, that all of the
 * hour is spent. */
int rp_intake_load_charges(struct rp_node *node);

/* receipts.c */
/* The unit of what is not pressing: 43 s of SF9's frames divided by the duty cycle, at most an
 * hour: an hour in a band of 1 %. */
rp_time_us rp_receipts_unit_us(const struct rp_node *node);
/* A record has reached base; `seq` is its last segment. */
void rp_receipts_owe(struct rp_node *node, uint16_t origin, uint32_t seq, int kind, bool urgent);
void rp_receipts_write(struct rp_node *node);
/* At a start of base: what reached it and no receipt of its own tells of. */
void rp_receipts_resume(struct rp_node *node);
void rp_receipts_note(struct rp_node *node, struct rp_record_ref ref);
/* Proved by a member of the net: base holds this station's log `origin` up to `upto`. */
void rp_receipts_proved(struct rp_node *node, uint16_t origin, uint32_t upto);
bool rp_receipts_apply(struct rp_node *node); /* true when there was one */

/* clock.c */
/* At a start: goes on with the net time that storage kept. */
void rp_clock_resume(struct rp_node *node, struct rp_moment moment);
void rp_clock_observe(struct rp_node *node, struct rp_moment moment);
void rp_clock_hear(struct rp_node *node, uint8_t station, uint32_t clock_s, uint8_t quality);

/* find.c */
void rp_episodes_learn(struct rp_node *node, struct rp_episode_ref ref, bool exercise);
/* Whether any record held of this episode is marked EXERCISE; a negative rp_error when it is not
 * listed and the log cannot be read. */
int rp_episodes_exercise(struct rp_node *node, struct rp_episode_ref ref);

/* enter.c */
/* As rp_node_enter, in the moment of the call in progress. */
int rp_enter_now(struct rp_node *node, struct rp_record *record, struct rp_record_ref *out_ref,
                 struct rp_problem *out_problem);
/* Plans the station's card, when the log has none that is like the configuration. */
void rp_enter_plan_card(struct rp_node *node);
void rp_enter_card_due(struct rp_node *node);

/* strokes.c */
void rp_strokes_load(struct rp_node *node);
void rp_strokes_tick(struct rp_node *node);
rp_time_us rp_strokes_wake(const struct rp_node *node);

/* hops.c */
void rp_hops_load(struct rp_node *node);
/* Fills in the hops with a trouble, and keeps what a restart may not lose. */
void rp_hops_look(struct rp_node *node, uint32_t now_s, struct rp_watch_station *station);

/* node.c */
void rp_node_pump(struct rp_node *node);

#endif
