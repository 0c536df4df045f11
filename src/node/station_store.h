/* What a station needs of its storage. The node is given this table; src/store fills it with
 * SQLite, tests and simulations with memory. Every function returns 0 or a count, or a negative
 * rp_error; a write returns 0 only when it would survive a power cut. Times are unix seconds of
 * this station's clock, for people and for the airtime hour, never for order. */
#ifndef RP_NODE_STATION_STORE_H
#define RP_NODE_STATION_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"
#include "wire/record.h"

struct rp_segment_row {
    uint16_t origin;
    uint32_t seq;
    bool first, last;
    struct rp_view sealed; /* frame without hop trailer */
};

struct rp_record_row {
    uint16_t origin;
    uint32_t seq_first, seq_last;
    uint8_t kind; /* enum rp_record_kind, or a number of a newer version */
    bool urgent, exercise, unsynced;
    struct rp_episode_ref episode; /* origin filled in; number 0: none */
    uint32_t time_s;               /* net time, as its origin stamped it */
    int64_t stored_s;              /* when this station held it whole */
    /* Delivery of this station's own records; 0: not yet. */
    int64_t aired_s, heard_s, base_s;
    uint8_t heard_station; /* the neighbour that holds it, when heard_s */
    struct rp_view body;   /* lead byte and content, as rp_record_decode takes it */
    /* append_own only: a name under which the record's place (origin 2 bytes, first sequence 4,
     * both big-endian) is kept as a named value, in the same transaction; NULL: none. */
    const char *entry_name;
};

/* Which records to visit; zeroed: all. Always visited in (origin, seq_first) order. */
struct rp_record_filter {
    uint16_t origin;               /* 0: any */
    struct rp_episode_ref episode; /* number 0: any */
    uint8_t kind;                  /* 0: any */
    bool not_at_base;              /* only those without base_s */
};

/* Visitors return 0 to go on, anything else to stop (and be returned). Views are valid during the
 * call only. A visitor may not write to the store. */
typedef int rp_record_visit(void *arg, const struct rp_record_row *row);
typedef int rp_run_visit(void *arg, uint16_t origin, uint32_t seq_first, uint32_t seq_last);

/* Airtime of one frame. The monotonic clock tells its age within one run of the computer, whatever
 * the wall clock does; across runs there is only the wall clock. */
struct rp_charge {
    int64_t boot;     /* which run of the computer; 0: of a log that did not keep it */
    rp_time_us at_us; /* monotonic clock of that run, 0 or later */
    int64_t unix_s;   /* wall clock, 0 or later */
    bool synced;      /* the wall clock was synchronised, and another station's agreed with it */
    uint32_t freq_hz; /* centre frequency, for the sub-band it counts in; 0: not kept */
    uint32_t airtime_us;
    bool urgent;
};
typedef int rp_charge_visit(void *arg, const struct rp_charge *charge);

struct rp_store_ops {
    /* All segments of one own record and the record, in one transaction. RP_E_DUPLICATE when one
     * of the sequences was used before: nothing is written then. */
    int (*append_own)(void *ctx, const struct rp_segment_row *segments, size_t count,
                      const struct rp_record_row *record);
    /* One foreign segment, and with it the record it completes (or NULL), in one transaction.
     * RP_E_DUPLICATE: held already, nothing written. */
    int (*put_segment)(void *ctx, const struct rp_segment_row *segment,
                       const struct rp_record_row *record);
    /* Copies the sealed bytes to buf and tells the flags; returns the length. RP_E_NOT_FOUND. */
    int (*get_segment)(void *ctx, uint16_t origin, uint32_t seq, bool *out_first, bool *out_last,
                       uint8_t *buf, size_t cap);
    /* Every contiguous run of held segments, by origin, then sequence. */
    int (*each_run)(void *ctx, rp_run_visit *visit, void *arg);
    /* Highest sequence held of an origin, 0 when none. */
    int64_t (*last_seq)(void *ctx, uint16_t origin);
    int (*each_record)(void *ctx, const struct rp_record_filter *filter, rp_record_visit *visit,
                       void *arg);
    int (*get_record)(void *ctx, struct rp_record_ref ref, rp_record_visit *visit, void *arg);
    /* The own record that contains segment `seq` was aired / is held by neighbour `station` (only
     * the first of each is kept). */
    int (*mark_aired)(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s);
    int (*mark_heard)(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s, uint8_t station);
    /* Own records wholly inside first..last are at base since unix_s; returns how many were not
     * marked before. */
    int (*mark_base)(void *ctx, uint16_t origin, uint32_t seq_first, uint32_t seq_last,
                     int64_t unix_s);
    /* Airtime, written before the frame leaves. Dropped may be what is certainly of before the
     * hour: two hours older in the same run, or of another run when this one is older than an
     * hour. */
    int (*charge)(void *ctx, const struct rp_charge *charge);
    /* Every charge kept, by run, the last one of a run first. */
    int (*each_charge)(void *ctx, rp_charge_visit *visit, void *arg);
    /* Small named values (origin, counters). get returns the length, RP_E_NOT_FOUND. */
    int (*get_value)(void *ctx, const char *key, uint8_t *buf, size_t cap);
    int (*set_value)(void *ctx, const char *key, struct rp_view value);
};

#endif
