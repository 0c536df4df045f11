/* What really happened: every segment as its origin made it, who holds it, and when the records
 * arrived. The simulator measures and judges by this, never by what a station believes. */
#ifndef SIM_WORLD_TRUTH_H
#define SIM_WORLD_TRUTH_H

#include "node/station_store.h"
#include "sim/world/channel.h"

enum sim_sort {
    SIM_SORT_WORKLOAD, /* entered by the simulated people */
    SIM_SORT_RECEIPT,
    SIM_SORT_OTHER,   /* station cards, clock notes */
    SIM_SORT_OUTSIDE, /* made outside the simulated stations */
};

struct sim_fact {
    uint8_t *sealed; /* NULL: no such segment */
    uint16_t len;
    uint16_t holder_count;
    uint32_t record; /* index */
    bool at_base;    /* a base has held it */
    struct sim_set holders;
};

struct sim_fact_log {
    uint16_t origin;
    uint16_t host; /* whose log */
    uint32_t top, cap;
    struct sim_fact *facts; /* [cap], index sequence - 1 */
};

struct sim_fact_record {
    uint16_t origin, host;
    uint32_t first, last;
    enum sim_sort sort;
    bool urgent;
    uint32_t segments_to_base, segments_to_all; /* still missing there */
    rp_time_us made_us, base_us, all_us;        /* RP_NEVER: not yet */
    rp_time_us proved_us;                       /* its origin shows it as at base since then */
};

struct sim_truth {
    unsigned hosts;
    struct sim_set bases;
    struct sim_fact_log *logs; /* by origin */
    unsigned log_count, log_cap;
    struct sim_fact_record *records; /* in order of making */
    uint32_t record_count, record_cap;
    uint64_t missing; /* (segment, station) pairs not held yet, of segments somebody holds */
};

void sim_truth_init(struct sim_truth *truth, unsigned hosts, const struct sim_set *bases);
void sim_truth_deinit(struct sim_truth *truth);
/* NULL when there is no such segment. */
struct sim_fact *sim_truth_find(const struct sim_truth *truth, uint16_t origin, uint32_t seq);
struct sim_fact_log *sim_truth_log(const struct sim_truth *truth, uint16_t origin);
/* A station made a segment of one of its records. The segments of a record come in order. */
void sim_truth_made(struct sim_truth *truth, unsigned host, const struct rp_segment_row *segment,
                    const struct rp_record_row *record, enum sim_sort sort, rp_time_us now_us);
/* Somebody outside the simulated stations made a segment with the net's secret. */
void sim_truth_made_outside(struct sim_truth *truth, uint16_t origin, uint32_t seq,
                            struct rp_view sealed, rp_time_us now_us);
/* A station keeps a copy; it must be a segment that is known and that it did not hold. */
void sim_truth_held(struct sim_truth *truth, unsigned host, uint16_t origin, uint32_t seq,
                    rp_time_us now_us);
/* A station shows segments first..last of this log as at base. */
void sim_truth_proved(struct sim_truth *truth, unsigned host, uint16_t origin, uint32_t first,
                      uint32_t last, rp_time_us now_us);
/* A station lost its database. */
void sim_truth_wiped(struct sim_truth *truth, unsigned host);

#endif
