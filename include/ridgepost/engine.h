/* The mesh engine: carries sealed segments from any station's log to every other station.
 *
 * Sans-I/O: frames and a time in, frames and a deadline out. Storage and the seal are given to it;
 * it owns no heap, makes no system call and keeps no global. Payload is opaque except for the lead
 * byte of each segment (src/wire/frame.h), which says how urgent it is. */
#ifndef RIDGEPOST_ENGINE_H
#define RIDGEPOST_ENGINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ridgepost/view.h"

struct rp_seal; /* src/wire/seal.h */
struct rp_mesh; /* src/mesh/, sized by rp_mesh_size() */

/* A segment as the engine hands it to storage: authenticated, decrypted, not yet held. */
struct rp_segment {
    uint16_t origin;       /* station number << 9 | generation */
    uint32_t seq;          /* 1..2097151 inside the origin's log */
    bool first, last;      /* first and last segment of its record */
    struct rp_view sealed; /* the frame without hop trailer: what is stored and forwarded */
    struct rp_view plain;  /* lead byte and content */
};

/* Storage, called by the engine. Each returns 0 or a negative rp_error; `put` and the reservations
 * return 0 only when the fact would survive a power cut. */
struct rp_mesh_store {
    void *ctx;
    /* Keeps a foreign segment. RP_E_DUPLICATE when held already; any other error: not held, the
     * engine will ask for it again. */
    int (*put)(void *ctx, const struct rp_segment *segment);
    /* Copies a held segment's sealed bytes (no trailer) to buf; returns their length. */
    int (*get)(void *ctx, uint16_t origin, uint32_t seq, uint8_t *buf, size_t cap);
    /* Makes sure that control-frame counters up to `upto` are never used again after a restart. */
    int (*reserve_counter)(void *ctx, uint32_t upto);
    /* Records airtime before the frame leaves. */
    int (*charge)(void *ctx, uint32_t airtime_us, bool urgent);
};

struct rp_mesh_config {
    uint16_t origin;            /* this station's log: station << 9 | generation */
    bool is_base;               /* base acknowledges urgent segments always */
    uint16_t frame_len_max;     /* longest frame this radio and this net may send, <= 222 */
    uint16_t carry_len_max;     /* longest frame of a segment that was sealed when frame_len_max was
                                 * higher; below frame_len_max: the same as that; <= 222 */
    const uint32_t *airtime_us; /* [longest + 1]: exact time on air by frame length */
    uint32_t budget_us_per_hour; /* transmit time allowed in any sliding hour */
    uint8_t urgent_reserve_pct;  /* share of the budget only urgent traffic may use, 0..100 */
    uint32_t counter_reserved;   /* highest control counter ever reserved; the next used is +1 */
    uint16_t settings_hash;      /* of the radio settings; told to the neighbours, not used here */
    uint64_t seed;               /* for waits; any value, different per start */
    struct rp_seal *seal;        /* borrowed; outlives the engine */
    struct rp_mesh_store store;
};

enum rp_mesh_event_kind {
    RP_MESH_AIRED,        /* own segment (seq) was transmitted at least once */
    RP_MESH_HEARD,        /* own segment (seq) is held by neighbour `station` (hint, not proof) */
    RP_MESH_ACCEPTED,     /* a new segment of `origin`, `seq` is now held */
    RP_MESH_SAME_STATION, /* another live station uses this station's number */
    RP_MESH_OWN_AHEAD,    /* the net holds more of this origin than this database: it was restored
                           * from a copy; a new origin must be started */
    RP_MESH_CLOCK,        /* a neighbour's net time: clock_s, clock_quality */
    RP_MESH_AT_BASE,      /* base holds this log of this station (origin) up to seq: a member of the
                           * net has proved it */
};

struct rp_mesh_event {
    enum rp_mesh_event_kind kind;
    uint16_t origin;
    uint32_t seq;
    uint8_t station;
    uint8_t clock_quality; /* 0 best .. 15 unsynchronised */
    uint32_t clock_s;      /* seconds since the net epoch, see src/wire/frame.h */
};

/* What a station says of itself in its digests. */
struct rp_mesh_self {
    uint32_t clock_s;      /* net time, seconds since the net epoch */
    uint8_t clock_quality; /* 0 best .. 15 unsynchronised */
    uint8_t battery_pct;   /* 0..100, 127 unknown */
};

/* Neighbour table row for the net status display. */
struct rp_mesh_neighbour {
    uint8_t station;
    bool is_base;
    uint8_t in_pct, out_pct; /* share of frames that get through, this way and that way */
    bool has_signal;
    int16_t rssi_dbm, snr_db;
    uint8_t battery_pct; /* 127 unknown */
    bool has_settings;   /* it has told the hash of its radio settings */
    uint16_t settings_hash;
    rp_time_us heard_us; /* when last heard */
};

struct rp_mesh_counters {
    uint32_t frames_in, frames_out, segments_new, duplicates, refused_auth, refused_format,
        refused_store, requests_out, answers_out, digests_out, vectors_out, queue_full;
    uint64_t airtime_out_us;
};

/* Bytes of memory one engine needs; the caller provides them, aligned as malloc does. */
size_t rp_mesh_size(void);

/* Builds an engine in `memory` (at least rp_mesh_size() bytes). RP_E_INVALID names no field: the
 * configuration is checked by its maker. The engine starts by speaking soon (digest at Imin). */
int rp_mesh_init(void *memory, const struct rp_mesh_config *config, rp_time_us now_us,
                 struct rp_mesh **out_mesh);

/* Tells, before the first receive, what storage holds: segments first..last of origin. Called once
 * per contiguous run. RP_E_FULL when more origins or runs than the engine can track. */
int rp_mesh_load(struct rp_mesh *mesh, uint16_t origin, uint32_t seq_first, uint32_t seq_last);
/* Tells of airtime spent `age_us` ago, from before a restart. Ages above an hour are ignored, one
 * below 0 counts as now. */
void rp_mesh_load_charge(struct rp_mesh *mesh, rp_time_us now_us, int64_t age_us,
                         uint32_t airtime_us);

/* Forgets all airtime, told or spent: whoever keeps it tells it anew. Not while a frame is out. */
void rp_mesh_forget_charges(struct rp_mesh *mesh, rp_time_us now_us);

/* A segment of this station's own log is durably stored: push it. `plain` is lead byte and
 * content as sealed (the engine reads the lead byte and, for status reports, the stream byte).
 * After a restart it is called again for each own urgent segment that base has not receipted, so
 * that it is repeated on; other loaded segments are found by the net itself. */
int rp_mesh_publish(struct rp_mesh *mesh, uint32_t seq, struct rp_view plain, rp_time_us now_us);

/* This station will enter its next record within this time, and so on after each record, until
 * told otherwise; 0: it promises nothing. Segments published from now on carry the promise (rounded
 * up to 5, 10, 15, 20, 30, 60 or 120 min; more is no promise), so that others ask for a record that
 * was promised and has not come. Promise only what is kept: an origin whose records come 45 s off
 * their promise on average, late or early, is not believed for a while. */
void rp_mesh_promise(struct rp_mesh *mesh, uint32_t within_s);

/* Base has this own urgent segment (its receipt arrived): stop repeating it. */
void rp_mesh_receipted(struct rp_mesh *mesh, uint32_t seq);

/* A frame arrived. Never fails the caller: what is wrong with it is counted. */
void rp_mesh_receive(struct rp_mesh *mesh, struct rp_view frame, bool has_signal, int16_t rssi_dbm,
                     int16_t snr_db, rp_time_us now_us);

/* The channel became busy or free, for a radio that can tell (not by own frames). From the first
 * call on nothing is sent into a busy channel, and urgent segments are repeated only when the
 * channel stays free after them. A channel that is said to be busy for longer than any frame is
 * not believed. */
void rp_mesh_channel(struct rp_mesh *mesh, bool busy, rp_time_us now_us);

/* The next frame to transmit now, or 0 when none is due. The frame's airtime has been charged.
 * After a positive return the engine offers nothing more until rp_mesh_sent. */
size_t rp_mesh_take_frame(struct rp_mesh *mesh, rp_time_us now_us, uint8_t *buf, size_t cap);
/* The frame taken last left the antenna (aired) or did not. False only when it certainly did not:
 * its airtime is then given back and what it was for stays due. */
void rp_mesh_sent(struct rp_mesh *mesh, bool aired, rp_time_us now_us);

/* The next event, oldest first; false when there is none. */
bool rp_mesh_next_event(struct rp_mesh *mesh, struct rp_mesh_event *out_event);

/* When rp_mesh_take_frame should be asked again if nothing else happens; RP_NEVER never occurs in
 * practice: digests do not stop. While a frame is being sent: RP_NEVER. */
rp_time_us rp_mesh_wake(const struct rp_mesh *mesh);

void rp_mesh_set_self(struct rp_mesh *mesh, const struct rp_mesh_self *self);
size_t rp_mesh_neighbours(const struct rp_mesh *mesh, struct rp_mesh_neighbour *out, size_t cap);
void rp_mesh_counters(const struct rp_mesh *mesh, struct rp_mesh_counters *out_counters);
/* Airtime still allowed now, in microseconds, for routine or for urgent traffic. */
uint32_t rp_mesh_airtime_left_us(const struct rp_mesh *mesh, bool urgent, rp_time_us now_us);
/* True when `origin`'s log is held up to seq without a gap. */
bool rp_mesh_holds(const struct rp_mesh *mesh, uint16_t origin, uint32_t seq);
/* What is held of one log; all 0 for a log never heard of. */
struct rp_mesh_holding {
    uint32_t held;  /* segments held */
    uint32_t known; /* highest sequence known to exist, from frames, vectors and digests heard */
    uint32_t upto;  /* everything from 1 to here is held; 0: not even the first */
    uint32_t newest_first, newest_last; /* the newest run beyond the first gap, 0 0 when none */
};
void rp_mesh_holding(const struct rp_mesh *mesh, uint16_t origin,
                     struct rp_mesh_holding *out_holding);
/* The longest run of held segments that contains seq; false, and nothing is written, when seq is
 * not held. */
bool rp_mesh_run(const struct rp_mesh *mesh, uint16_t origin, uint32_t seq, uint32_t *out_first,
                 uint32_t *out_last);

#endif
