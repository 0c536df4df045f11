/* A station's storage in memory (node/station_store.h), made for many stations and long runs: every
 * call takes a time that does not grow with the log, but for visits of many records. It refuses
 * what the real storage refuses, fails on request, and tells a watcher what it keeps.
 *
 * A power cut is planned as a write that does not return: it reaches the disk or not, and after it
 * every call fails. Whoever runs the station looks at `cut` and takes it down. */
#ifndef SIM_WORLD_STORE_H
#define SIM_WORLD_STORE_H

#include "node/station_store.h"

/* Told of what is on disk from now on, never of a write that failed without reaching it. */
struct sim_store_watch {
    void *ctx;
    /* A segment; `record` is the own record it belongs to, NULL for a foreign segment. */
    void (*kept)(void *ctx, const struct rp_segment_row *segment,
                 const struct rp_record_row *record);
    /* The own record of this segment was marked as arrived at base. */
    void (*at_base)(void *ctx, uint16_t origin, uint32_t seq_first, uint32_t seq_last);
};

struct sim_store_segment {
    uint8_t *sealed; /* in the store's arena; NULL: not held */
    uint16_t len;
    bool first, last;
    uint32_t record_back; /* how many sequences before it its record begins; of whole records */
    struct rp_record_row *record; /* at the first segment of a whole record, else NULL */
};

struct sim_store_log {
    uint16_t origin;
    uint32_t top, cap;                  /* highest sequence held; room */
    uint32_t base_upto;                 /* records that begin up to here are all at base */
    struct sim_store_segment *segments; /* [cap], index sequence - 1 */
};

struct sim_store_value {
    char key[32];
    uint8_t len;
    uint8_t bytes[64];
};

#define SIM_STORE_VALUES_MAX 64

struct sim_store {
    struct sim_store_watch watch;
    struct sim_store_log *logs; /* by origin */
    unsigned log_count, log_cap;
    struct rp_charge *charges; /* in order of writing */
    unsigned charge_first, charge_count, charge_cap;
    struct sim_store_value values[SIM_STORE_VALUES_MAX];
    unsigned value_count;
    struct sim_chunk *chunks; /* the arena */
    unsigned visiting;
    uint32_t writes;
    /* Failures on request. */
    int write_code;     /* negative: every write fails with it and does not reach the disk */
    uint32_t cut_after; /* writes until the power cut, 0: none planned */
    bool cut_written;   /* the write in which it happens reaches the disk */
    bool cut;           /* it happened */
    bool over;          /* a table was full: the bound below was too small */
};

struct sim_store *sim_store_new(void);
void sim_store_free(struct sim_store *store);
/* The table; its ctx is the struct sim_store. */
const struct rp_store_ops *sim_store_ops(void);
/* The segment as held, NULL when it is not. */
const struct sim_store_segment *sim_store_find(const struct sim_store *store, uint16_t origin,
                                               uint32_t seq);

#endif
