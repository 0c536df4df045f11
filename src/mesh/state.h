/* The inside of the engine: one struct, and the functions its parts offer each other.
 *
 * Waits are written as the milliseconds they have with a 40-byte frame of 287.7 ms (SF9, 125 kHz,
 * 4/5), where they were fitted, and are scaled to the net's own frame time (rp_wait_us).
 * Probabilities are 8-bit fixed point: 255 is 1.0. */
#ifndef RP_MESH_STATE_H
#define RP_MESH_STATE_H

#include "base/bytes.h"
#include "base/rng.h"
#include "mesh/digest/trickle.h"
#include "mesh/hold/base.h"
#include "mesh/send/ledger.h"
#include "ridgepost/engine.h"
#include "ridgepost/error.h"
#include "wire/frame.h"
#include "wire/seal.h"

#define RP_ORIGINS_MAX    128
#define RP_RUNS_MAX       64
#define RP_NEIGHBOURS_MAX 32
#define RP_ROWS_MAX       16
#define RP_PENDING_MAX    256
#define RP_ACKS_MAX       16
#define RP_EVENTS_MAX     128
#define RP_STREAMS_MAX    64
#define RP_SENDERS_MAX    128
#define RP_UNHEARD_MAX    64 /* as many as the node publishes again after a restart */
#define RP_NEED_MAX       3  /* entries in one need */
#define RP_ANSWER_MAX     16 /* segments sent for one need */
#define RP_OFFER_MAX      8  /* segments sent for one vector */
#define RP_HAD_MAX        8  /* runs remembered of what a vector says can be had */

/* Load, of what routine traffic may spend in an hour, from which less is insisted on (re-fitted
 * with bare engines: five origins on a chain of seven). */
#define RP_BUSY_PCT   40
#define RP_LOADED_PCT 60
/* Pushes without any sign of life after which a neighbour is missing: it may be gone, or behind a
 * partition, or an end of a path that only speaks when named. Own choice. */
#define RP_SILENT_MAX  3
#define RP_SOLE_Q8     200 /* nobody else serves it (re-fitted with bare engines) */
#define RP_POOR_Q8     26  /* 0.1: enough where there is no better way (the same) */
#define RP_CONFIRMS_Q8 154 /* said below it, the ends of a path confirm (level 4, read as 140) */
#define RP_USABLE_Q8   77  /* a link of 0.3 or more (measured in the prototype) */
/* Time a modem and its serial line may add to a frame: no wait for somebody's reaction is shorter
 * than his frame and this. Own choice, to be fitted with real modems. */
#define RP_LATENCY_US 60000

/* --- hold/logs.c: what is held --- */

struct rp_run {
    uint32_t first, last;
};

/* A set of sequence numbers: 1..upto and runs above it, ascending, never touching. */
struct rp_held {
    uint32_t upto;
    uint8_t run_count;
    struct rp_run runs[RP_RUNS_MAX];
};

bool rp_held_has(const struct rp_held *held, uint32_t seq);
uint32_t rp_held_top(const struct rp_held *held); /* highest number held, 0 when empty */
/* Adds first..last. RP_E_FULL when that would need one run too many. */
int rp_held_add(struct rp_held *held, uint32_t first, uint32_t last);
bool rp_held_room(const struct rp_held *held, uint32_t seq);
/* The highest number <= seq that is held (wanted true) or missing (false); 0 when none. */
uint32_t rp_held_below(const struct rp_held *held, uint32_t seq, bool wanted);
/* The highest number <= seq that `a` holds and `b` lacks; 0 when none. */
uint32_t rp_held_lacking(const struct rp_held *a, const struct rp_held *b, uint32_t seq);
bool rp_held_equal(const struct rp_held *a, const struct rp_held *b);

/* When the next record of a log is due, as its origin promised. */
struct rp_pace {
    uint32_t seq;         /* the newest segment that said when it was entered; 0 none */
    int64_t entry_s;      /* when that was, by the origin's clock */
    uint8_t promise;      /* code of the trailer */
    uint8_t hops;         /* of this station from the origin */
    uint8_t attempts;     /* needs sent for what is due */
    uint32_t late_ms;     /* mean lateness of the origin against its promises */
    rp_time_us offset_us; /* this clock minus the origin's, at the fastest arrival */
    rp_time_us due_us;    /* when to ask, or RP_NEVER */
};

struct rp_log {
    uint16_t origin;
    uint8_t via;           /* station whose frames bring this log, 0 unknown */
    uint8_t holder;        /* station last known to hold what is missing here, 0 unknown */
    uint8_t attempts;      /* needs sent without any progress */
    uint32_t known;        /* highest sequence known to exist */
    uint32_t changed;      /* stamp of the last change */
    uint32_t at_base;      /* base holds all up to here: as proved, or, at base, as told */
    rp_time_us told_us;    /* at base: when it last told */
    uint8_t tells;         /* frames with which at_base is still passed on */
    uint32_t listed, seen; /* stamp of the last vector sent, heard, that named it */
    uint64_t hash;         /* of origin and held; 0 when nothing is held */
    rp_time_us need_us;    /* when to ask for what is missing */
    bool flowed;           /* flow_us is known */
    rp_time_us flow_us;    /* when a segment of this log was last heard */
    rp_time_us hole_us;    /* when the present hole was first seen */
    struct rp_pace pace;
    struct rp_held held;
    struct rp_run had[RP_HAD_MAX]; /* missing here and held by who sent the last vector; newest
                                    * first */
    uint8_t had_count;
};

/* The newest log of a station, NULL when none is known. */
struct rp_log *rp_log_of_station(struct rp_mesh *mesh, uint8_t station);
struct rp_log *rp_log_find(struct rp_mesh *mesh, uint16_t origin);
/* Finds or makes; NULL when the table is full of logs with content. */
struct rp_log *rp_log_make(struct rp_mesh *mesh, uint16_t origin);
int rp_log_add(struct rp_mesh *mesh, struct rp_log *log, uint32_t first, uint32_t last);
bool rp_log_missing(const struct rp_log *log);
/* The 4-byte state hash of a digest by `sender` with `counter` (PROTOCOL.md, "Digest"). */
uint32_t rp_state_hash(const struct rp_mesh *mesh, uint16_t sender, uint32_t counter);
/* The same if `top` were the highest segment of this log, with all between that and the highest
 * there is now held, or not held. */
uint32_t rp_state_hash_if(const struct rp_mesh *mesh, const struct rp_log *log, uint32_t top,
                          uint16_t sender, uint32_t counter);

/* --- hold/vector.c --- */

struct rp_vector_entry {
    uint16_t origin;
    bool truncated; /* further runs exist above those given */
    struct rp_held held;
};

/* One entry; leaves out the highest runs when they do not fit. False: not even the start fits. */
bool rp_vector_put(struct rp_writer *w, const struct rp_vector_entry *entry);
/* The next entry; false at the end or when malformed (then r->failed). */
bool rp_vector_get(struct rp_reader *r, struct rp_vector_entry *out_entry);
/* An upper bound of the length of a vector body that names every log. */
size_t rp_vector_len(const struct rp_mesh *mesh);
/* Writes a vector body; returns its length. */
size_t rp_vector_write(struct rp_mesh *mesh, uint8_t *buf, size_t cap);
void rp_vector_receive(struct rp_mesh *mesh, uint8_t station, struct rp_view body,
                       rp_time_us now_us);

/* --- link/neighbours.c --- */

struct rp_row {
    uint8_t station, q8;
};

struct rp_neighbour {
    uint8_t station; /* 0: free slot */
    bool is_base, is_leaf, has_row, has_signal, has_data_counter, has_settings;
    bool proven; /* it has shown that it hears this station */
    uint16_t settings_hash;
    uint8_t out_q8;  /* how well it hears me, from its row */
    uint8_t said_q8; /* in-ratio last announced in my row */
    uint8_t data_counter, battery_pct;
    uint8_t confirmed;                 /* records confirmed to it though the link is said good */
    uint8_t silent;                    /* pushes given up since it was last heard */
    uint8_t hears[RP_STATION_MAX + 1]; /* how well it hears each station; 0 not at all */
    uint16_t in_q16;                   /* running mean, 65535 is 1.0 */
    uint16_t samples;
    int16_t rssi_dbm, snr_db;
    rp_time_us met_us, heard_us;    /* first, last */
    rp_time_us data_us, control_us; /* last segment, last control frame */
    rp_time_us pause_us;            /* usual pause between two appearances */
};

/* Last accepted counter of each sender of control frames. */
struct rp_sender {
    uint16_t origin;
    uint32_t counter;
    uint32_t stamp;
};

/* Slot of a station, or -1. */
int rp_neighbour_slot(const struct rp_mesh *mesh, uint8_t station);
/* A frame of `station` was heard: finds or makes its slot. */
int rp_neighbour_heard(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us);
/* `lost` frames were missed before this one arrived. */
void rp_neighbour_sample(struct rp_neighbour *neighbour, unsigned lost);
void rp_neighbour_data_counter(struct rp_neighbour *neighbour, uint8_t counter, bool learn);
/* Somebody's trailer shows that `to` hears `from`. */
void rp_neighbour_proves(struct rp_mesh *mesh, uint8_t from, uint8_t to);
/* Its digest said whom it hears. */
void rp_neighbour_row(struct rp_mesh *mesh, struct rp_neighbour *neighbour,
                      const struct rp_row *rows, unsigned count);
/* Probability that `to` receives a frame of `from`; either may be this station. */
uint8_t rp_link_q8(const struct rp_mesh *mesh, uint8_t from, uint8_t to);
bool rp_neighbour_usable(const struct rp_mesh *mesh, int slot, rp_time_us now_us);
unsigned rp_neighbours_usable(const struct rp_mesh *mesh, rp_time_us now_us);
/* True when all usable neighbours but this one hear it well. */
bool rp_neighbours_hear(const struct rp_mesh *mesh, uint8_t station, rp_time_us now_us);
/* True while a neighbour of the last day gives no sign, whatever is sent to it. */
bool rp_neighbours_missing(const struct rp_mesh *mesh, rp_time_us now_us);
/* True while a neighbour's rows are unknown for long. */
bool rp_neighbours_rowless(const struct rp_mesh *mesh, rp_time_us now_us);
/* Largest difference between what was announced and what is, 0..255. */
uint8_t rp_neighbours_moved(const struct rp_mesh *mesh);
/* False for a replay; notes the counter otherwise. *out_lost: counters skipped, 0 if unknown. */
bool rp_sender_accept(struct rp_mesh *mesh, uint16_t origin, uint32_t counter, unsigned *out_lost);

/* --- send/queue.c: segments that may have to be sent --- */

enum rp_pending_state {
    RP_PENDING_IDLE,    /* nothing planned; kept for what is believed of it */
    RP_PENDING_FORWARD, /* send at due: named, or own */
    RP_PENDING_OFFER,   /* send at due unless others cover it: not named */
    RP_PENDING_ANSWER,  /* send at due unless a copy is heard: asked for */
    RP_PENDING_AWAIT,   /* at due the named station has been silent */
    RP_PENDING_REPEAT,  /* at due repeat: own urgent segment without receipt */
};

struct rp_pending {
    uint16_t origin;
    uint32_t seq;
    unsigned log; /* its place in logs[] */
    enum rp_pending_state state;
    enum rp_class class;
    rp_time_us due_us;
    rp_time_us touched_us;
    rp_time_us sent_us; /* last transmission by this station */
    uint32_t stamp;     /* order of arrival */
    int16_t stream;     /* status stream, -1 none */
    bool urgent, own, receipt_wanted, aired, heard;
    bool looked; /* at the channel, after the last frame */
    uint8_t sends, sends_max;
    uint8_t postponed; /* times its judgement was put off because the named station is busy */
    uint8_t late;      /* single sends after the insistence ended */
    uint8_t repeats;   /* rounds of an own urgent segment without receipt */
    uint8_t named;     /* station awaited, 0 none */
    uint8_t previous, hops, promise;
    /* Probability that the station lacks it; 0 is for those known to hold it. */
    uint8_t lack[RP_STATION_MAX + 1];
};

struct rp_stream {
    uint16_t origin;
    int16_t stream;
    uint32_t seq; /* first segment of the newest status */
    uint32_t stamp;
};

struct rp_pending *rp_queue_find(struct rp_mesh *mesh, uint16_t origin, uint32_t seq);
/* Finds or makes an entry; NULL when all others are more important. */
struct rp_pending *rp_queue_add(struct rp_mesh *mesh, uint16_t origin, uint32_t seq,
                                struct rp_view plain, bool first, rp_time_us now_us);
void rp_queue_expire(struct rp_mesh *mesh, rp_time_us now_us);
/* True when a goes before b. */
bool rp_queue_before(const struct rp_mesh *mesh, const struct rp_pending *a,
                     const struct rp_pending *b);
bool rp_pending_sends(const struct rp_pending *pending); /* a state that transmits at due */

/* --- push/belief.c: who probably lacks a segment --- */

/* Expected number of usable neighbours that lack it, 255 each. */
unsigned rp_belief_uncovered(const struct rp_mesh *mesh, const struct rp_pending *pending,
                             rp_time_us now_us);
/* Probability that no other station could serve this neighbour: all it hears well lack it. */
uint8_t rp_belief_sole(const struct rp_mesh *mesh, const struct rp_pending *pending,
                       const struct rp_neighbour *neighbour);
/* Expected number of usable neighbours that lack it and that nobody else could serve, 255 each. */
unsigned rp_belief_forsaken(const struct rp_mesh *mesh, const struct rp_pending *pending,
                            rp_time_us now_us);
/* `from` transmits with probability share_q8: who hears it lacks it less. */
void rp_belief_covers(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t from,
                      uint8_t share_q8);
/* `station` holds it. */
void rp_belief_holds(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t station);
void rp_belief_lacks(struct rp_pending *pending, uint8_t station);
void rp_belief_trailer(struct rp_mesh *mesh, struct rp_pending *pending,
                       const struct rp_trailer *trailer, rp_time_us now_us);

/* --- push/name.c --- */

/* Who should forward next; 0 when nobody need be named. `again`: a round of an own urgent
 * segment, which may name a station that holds it. */
uint8_t rp_name_choose(const struct rp_mesh *mesh, const struct rp_pending *pending, bool again,
                       rp_time_us now_us);

/* --- push/push.c --- */

/* A new segment was accepted with this trailer. */
void rp_push_accepted(struct rp_mesh *mesh, struct rp_pending *pending,
                      const struct rp_trailer *trailer, rp_time_us now_us);
/* A copy of a held segment was heard. */
void rp_push_overheard(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, bool urgent,
                       const struct rp_trailer *trailer, rp_time_us now_us);
/* `station` has told (authenticated) that it holds the segment; `forwards`: and will send it. */
void rp_push_holds(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t station, bool forwards,
                   rp_time_us now_us);
/* At due: false when the others cover it by now. Otherwise *out_named is whom to name. */
bool rp_push_fire(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t *out_named,
                  rp_time_us now_us);
void rp_push_sent(struct rp_mesh *mesh, struct rp_pending *pending, size_t frame_len,
                  rp_time_us now_us);
/* Any other frame of `station` was heard: it lives, and may have others to forward first. */
void rp_push_alive(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us);
/* Judges silence and starts repetitions that are due. */
void rp_push_tick(struct rp_mesh *mesh, rp_time_us now_us);
/* Nothing more to send for now: idle, or the next round of an own urgent segment. */
void rp_push_done(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us);
/* Plans the first transmission of a segment of this station's own log. */
void rp_push_own(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us);
/* From which probability of lack on a named station is sent to again. */
uint8_t rp_push_lack_least(const struct rp_pending *pending);

/* --- pull/gap.c --- */

struct rp_need_entry {
    uint16_t origin;
    uint32_t last;  /* highest sequence asked for */
    uint32_t count; /* last, last-1, ...; 1..256; 0: last and all above it, should they exist */
};

struct rp_ack_due {
    uint16_t origin;
    uint32_t seq;
    bool urgent;
    rp_time_us due_us;
};

/* Something of this log may be missing: ask within the usual random wait. */
void rp_pull_wanted(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us);
/* A station that holds something missing was heard: ask soon, it first. */
void rp_pull_holder(struct rp_mesh *mesh, struct rp_log *log, uint8_t station, rp_time_us now_us);
/* A neighbour told what it holds of this log: what of that is missing here is asked for first. */
void rp_pull_had(struct rp_log *log, const struct rp_held *theirs);
/* A segment of this log was heard: more may follow by themselves. */
void rp_pull_flowing(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us);
/* A segment of this log was kept; `answer`: it came unnamed, as answers do. */
void rp_pull_progress(struct rp_mesh *mesh, struct rp_log *log, uint32_t seq, bool answer,
                      rp_time_us now_us);
void rp_pull_failed(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us);
/* Up to RP_NEED_MAX entries now to be asked for and the station to ask; their count. */
unsigned rp_pull_compose(struct rp_mesh *mesh, struct rp_need_entry *out_entries,
                         uint8_t *out_answerer, rp_time_us now_us);
/* How long to wait for an answer to the need sent as attempt number `attempts`. */
rp_time_us rp_pull_pause_us(struct rp_mesh *mesh, uint8_t attempts);
rp_time_us rp_pull_next(const struct rp_mesh *mesh);
/* A need of `station` was heard. */
void rp_pull_need(struct rp_mesh *mesh, uint8_t station, uint8_t answerer,
                  const struct rp_need_entry *entries, unsigned count, rp_time_us now_us);
/* Plans an answer to `station`; false when the segment cannot be had. */
bool rp_pull_answer(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, uint8_t station,
                    rp_time_us due_us, rp_time_us now_us);
/* Wait of a station that answers without having been named. */
rp_time_us rp_pull_answer_wait_us(struct rp_mesh *mesh, uint8_t station, bool named);
/* --- pull/due.c: the promised next record --- */

/* A new segment: what it says of the next one. */
void rp_due_accepted(struct rp_mesh *mesh, struct rp_log *log, uint32_t seq, struct rp_view plain,
                     const struct rp_trailer *trailer, rp_time_us now_us);
/* True while the origin keeps its promises. */
bool rp_due_regular(const struct rp_mesh *mesh, unsigned log);
/* Asked just now for what is due. */
void rp_due_asked(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us);

/* --- pull/answer.c, pull/ack.c --- */

void rp_ack_plan(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, bool urgent,
                 rp_time_us due_us);

/* A frame was heard: who has something to begin waits a random time, so that those who are
 * expected to speak, or cannot hear each other, do not meet. `named`: another station that
 * speaks next, `frame_len` bytes. */
void rp_contend(struct rp_mesh *mesh, bool named, bool urgent, size_t frame_len, rp_time_us now_us);
/* The frame heard answers a push of this station: it may go on at once, while others wait. */
void rp_contend_won(struct rp_mesh *mesh, rp_time_us now_us);
void rp_ack_cancel(struct rp_mesh *mesh, uint16_t origin, uint32_t seq);

/* --- digest/control.c: bodies of control frames --- */

struct rp_digest {
    uint32_t hash;
    uint32_t clock_s;
    uint8_t clock_quality; /* 0..15 */
    uint8_t battery_pct;   /* 0..100, 127 unknown */
    uint8_t airtime_left;  /* fifteenths of the budget, 0..15 */
    bool is_base, is_leaf;
    bool wants_rows;      /* it lacks a neighbour's rows: please say them */
    uint8_t mark_station; /* whose log changed last; 0 nothing is held */
    uint16_t mark;        /* the highest sequence held of it, modulo 512 */
    bool has_settings;
    uint16_t settings_hash; /* with rows only */
    uint8_t row_count;
    struct rp_row rows[RP_ROWS_MAX];
};

struct rp_request {
    bool is_ack;
    uint8_t station; /* need: who should answer, 0 anybody; ack: station of the origin */
    uint32_t seq;    /* ack: the segment held */
    bool all_below;  /* ack: and every one below it */
    bool forwards;   /* ack: it will be forwarded, after others */
    uint8_t mark_count;
    struct rp_base_mark marks[RP_BASE_MARKS_MAX]; /* ack: what base holds */
    bool is_short; /* need of one entry: origin is its station << 9, last is modulo 256 */
    uint8_t count; /* need: entries */
    struct rp_need_entry entries[RP_NEED_MAX];
};

enum rp_send_kind { RP_SEND_SEGMENT, RP_SEND_ACK, RP_SEND_NEED, RP_SEND_VECTOR, RP_SEND_DIGEST };

#define RP_DIGEST_LEN   12 /* body without settings and rows */
#define RP_SETTINGS_LEN 2
#define RP_CONTROL_LEN  (RP_HEAD_LEN_MAX + RP_TAG_LEN) /* around a body */
#define RP_ROWS_OLD_US  (12 * RP_HOUR_US)              /* rows are said again at least so often */

size_t rp_digest_write(const struct rp_digest *digest, uint8_t *buf, size_t cap);
int rp_digest_read(struct rp_view body, struct rp_digest *out_digest);
size_t rp_request_write(const struct rp_request *request, uint8_t *buf, size_t cap);
int rp_request_read(struct rp_view body, struct rp_request *out_request);
/* Composes the body of the next control frame of this kind; 0 when there is nothing to say. */
size_t rp_control_body(struct rp_mesh *mesh, enum rp_send_kind kind, const struct rp_ack_due *ack,
                       uint32_t counter, uint8_t *body, size_t cap, rp_time_us now_us);
/* An upper bound of the length of the next frame of this kind. */
size_t rp_control_len_max(const struct rp_mesh *mesh, enum rp_send_kind kind, size_t cap);
/* A control frame, authenticated. */
void rp_control_receive(struct rp_mesh *mesh, const struct rp_frame_head *head, struct rp_view body,
                        bool has_signal, int16_t rssi_dbm, int16_t snr_db, rp_time_us now_us);
/* A difference was seen: Trickle back to Imin and a vector, but ever more rarely while this
 * changes nothing. */
void rp_control_difference(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us);
/* A station is in the very state of this one. */
void rp_control_same(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us);

/* --- events.c --- */

void rp_event_push(struct rp_mesh *mesh, const struct rp_mesh_event *event);
/* An own segment that no neighbour is known to hold yet. Told of each is the first that does,
 * however late it is found: of the last RP_UNHEARD_MAX of them. */
void rp_event_unheard(struct rp_mesh *mesh, uint32_t seq);
/* `station` holds all of this of the own log. */
void rp_event_heard(struct rp_mesh *mesh, const struct rp_held *held, uint8_t station);
void rp_event_heard_one(struct rp_mesh *mesh, uint32_t seq, uint8_t station);
/* Says once in ten minutes that an origin or a station number is used twice. */
void rp_event_own_ahead(struct rp_mesh *mesh, uint32_t seq, rp_time_us now_us);
void rp_event_same_station(struct rp_mesh *mesh, uint16_t origin, rp_time_us now_us);

/* --- the engine --- */

enum rp_lane { RP_LANE_URGENT, RP_LANE_CONTROL, RP_LANE_DATA, RP_LANES };

/* The frame that was taken and not yet reported sent. */
struct rp_flight {
    bool active, urgent, marked;
    enum rp_send_kind kind;
    uint16_t origin;
    uint32_t seq;
    uint8_t named;
    uint32_t airtime_us;
    rp_time_us charged_us;
    size_t len;
};

/* What the radio tells of the channel, where it can. */
struct rp_sense {
    bool known, busy;
    rp_time_us busy_us; /* when it last became busy */
    rp_time_us free_us; /* no frame before */
};

struct rp_mesh {
    struct rp_mesh_config config;
    uint8_t station;
    struct rp_rng rng;
    uint32_t frame40_us; /* airtime of a 40-byte frame: the unit of all waits */
    uint32_t stamp;      /* grows with every change that has an order */
    uint32_t counter_next, counter_reserved;
    uint8_t data_counter;
    uint8_t promise; /* what this station promises with each segment of its own */

    struct rp_log logs[RP_ORIGINS_MAX];
    unsigned log_count;
    uint64_t state_sum; /* of all log hashes */

    struct rp_neighbour neighbours[RP_NEIGHBOURS_MAX];
    uint8_t neighbour_count; /* slots in use, from 0; one in use stays so */
    uint8_t slot_of[128];    /* slot of each station, plus one; 0 none */
    uint8_t station_top;     /* the highest station number heard of */
    struct rp_sender senders[RP_SENDERS_MAX];
    unsigned sender_count;

    struct rp_pending pending[RP_PENDING_MAX];
    unsigned pending_count;
    struct rp_stream streams[RP_STREAMS_MAX];
    unsigned stream_count;

    struct rp_ack_due acks[RP_ACKS_MAX];
    unsigned ack_count;

    struct rp_trickle trickle;
    rp_time_us digest_us, vector_us; /* due, or RP_NEVER */
    uint8_t vector_for;              /* station the vector answers, 0 several */
    rp_time_us row_sent_us;
    rp_time_us row_pause_us;        /* least pause between announcements of changed rows */
    bool row_said;                  /* at least once since the start */
    bool rows_due;                  /* the next digest says rows */
    bool row_asked;                 /* a neighbour lacks rows */
    rp_time_us difference_pause_us; /* least pause between reactions to a difference */
    rp_time_us difference_us;       /* when the next reaction is allowed */
    rp_time_us urgent_us;           /* last urgent segment heard or sent */
    rp_time_us changed_us;          /* when this state last changed */
    bool digest_check;              /* the digest due only checks whether states differ */
    rp_time_us looked_us;           /* when it last looked for something to send */
    rp_time_us spoke_us;            /* when this station transmitted last */
    rp_time_us status_us;           /* when it last pushed a status report */
    rp_time_us hello_us;            /* after how much silence it calls one that is missing */
    rp_time_us contact_us;          /* when the next restart for a contact is allowed */
    struct rp_need_entry need_asked[RP_NEED_MAX]; /* the last need */
    unsigned need_count, need_open;               /* its entries; segments of it not yet arrived */
    bool store_failing;                           /* the last segment could not be kept */
    rp_time_us distrust_us;                       /* no base mark on a segment is believed before */
    rp_time_us doubt_us; /* when the next digest for a given-up push is allowed */

    struct rp_sense sense;
    struct rp_ledger ledger;
    struct rp_flight flight;
    rp_time_us gap_us, urgent_gap_us; /* no frame before; no other urgent segment before */
    rp_time_us copy_gap_us;           /* no second copy of the last urgent segment before */
    uint16_t copy_origin;             /* the last urgent segment sent */
    uint32_t copy_seq;
    uint16_t push_origin; /* the routine segment pushed last */
    uint32_t push_seq;
    rp_time_us quiet_us;             /* no routine frame before: another station was named */
    rp_time_us contend_us;           /* nor a routine frame that nobody waits for */
    rp_time_us blocked_us[RP_LANES]; /* budget, or storage failing: not before */

    struct rp_mesh_self self;
    struct rp_mesh_counters counters;
    struct rp_mesh_event events[RP_EVENTS_MAX];
    unsigned event_first, event_count;
    uint32_t unheard[RP_UNHEARD_MAX]; /* own segments, the oldest first */
    unsigned unheard_count;
    bool own_ahead_said, same_station_said;
    rp_time_us own_ahead_us, same_station_us;
};

/* `ref_ms` milliseconds of the reference net, in microseconds of this net. */
rp_time_us rp_scale_us(const struct rp_mesh *mesh, uint32_t ref_ms);
/* Uniform between two reference times. */
rp_time_us rp_wait_us(struct rp_mesh *mesh, uint32_t low_ms, uint32_t high_ms);
uint32_t rp_airtime_of_us(const struct rp_mesh *mesh, size_t frame_len);

static inline uint8_t rp_mul8(unsigned a, unsigned b)
{
    return (uint8_t)((a * b + 127) / 255);
}

#endif
