/* Simple ways to carry the same records over the same kind of air, run beside ours so that its
 * figures can be judged. Each delivers a frame of the same length; none has a store, seals or a
 * clock of its own. Virtual time: the same arguments give the same figures. */
#ifndef SIM_YARD_BASELINE_H
#define SIM_YARD_BASELINE_H

#include "radio/airtime.h"
#include "sim/topology.h"

enum sim_baseline {
    SIM_FLOOD_ONCE,   /* each station repeats what it hears first, once */
    SIM_FLOOD_THRICE, /* the same, three times */
    SIM_MPL,          /* RFC 7731 with the defaults of its section 5.4 */
    SIM_STOP_WAIT,    /* hop by hop over the best path, acknowledged, repeated until it is */
    SIM_BASELINE_COUNT
};

#define SIM_BREAKS_MAX 8

/* Nothing gets from a to b or back from..to. */
struct sim_break {
    unsigned a, b; /* stations */
    int64_t from_us, to_us;
};

struct sim_workload {
    struct rp_airtime radio;    /* settings of every station */
    unsigned record_bytes;      /* a data frame on air, 1..222 */
    unsigned records;           /* of each reporting station, 1..10000 */
    int64_t interval_us;        /* between two records of a station, at least 1 s */
    bool sporadic;              /* intervals are exponential with that mean, not all the same */
    int64_t budget_us_per_hour; /* airtime of a station in any sliding hour; 0: no limit */
    struct sim_break breaks[SIM_BREAKS_MAX];
    unsigned break_count;
};

struct sim_baseline_figures {
    unsigned originated, delivered_to_base, delivered_to_all; /* records */
    uint64_t frames;                                          /* sent */
    uint64_t heard;                                           /* receptions that arrived whole */
    uint64_t lost_to_loss;                                    /* receptions lost by the link */
    uint64_t lost_to_clash;         /* lost to an overlap, or because the receiver was sending */
    uint64_t dropped;               /* frames that never left: queue full */
    int64_t airtime_us, control_us; /* of all stations; that of frames without a record */
    bool base_known, all_known;     /* the genie knows its airtime */
    int64_t genie_base_us, genie_all_us; /* of all records */
    double ratio_base, ratio_all;        /* airtime over the genie's; 0 when not known */
    double p50_s, p95_s, p99_s;          /* entry to base, of what was delivered; 0: nothing was */
    /* From the end of a break until base holds the newest record made before it, or a newer one:
     * the longest over breaks and reporting stations; 0 without breaks, -1 never. */
    int64_t newest_us;
};

/* A word for tables: "flood once" and so on; "" for no such baseline. */
const char *sim_baseline_name(enum sim_baseline which);

/* Runs one baseline until nothing moves any more, at most 12 h after the last record. Stations
 * hear whom they have a link from; any overlap at a receiver destroys both frames (no capture);
 * who sends hears nothing; nobody listens before sending. Links must not be SIM_LINK_MODEL. 0,
 * RP_E_INVALID, RP_E_UNSUPPORTED or RP_E_MEMORY. */
int sim_baseline_run(enum sim_baseline which, const struct sim_topology *topology,
                     const struct sim_workload *workload, uint64_t seed,
                     struct sim_baseline_figures *out_figures);

#endif
