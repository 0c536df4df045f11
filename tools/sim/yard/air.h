/* The air of the baselines: events in virtual time, stations with one transmit queue each, frames
 * that last their time on air and meet each other at the receivers. */
#ifndef SIM_YARD_AIR_H
#define SIM_YARD_AIR_H

#include "base/rng.h"
#include "sim/yard/baseline.h"

#define YARD_QUEUE_MAX 256 /* frames waiting at a station; a further one is dropped */
#define YARD_NO_RECORD UINT32_MAX

struct yard_frame {
    uint8_t kind; /* the protocol's own */
    uint8_t from, to;
    uint16_t len;    /* bytes on air */
    uint32_t record; /* or YARD_NO_RECORD */
    uint32_t newest; /* MPL: the newest record of the same origin that the sender holds */
};

enum yard_event_kind { YARD_ORIGINATE, YARD_SENT, YARD_QUEUE, YARD_TIMER };

struct yard_event {
    int64_t at_us;
    uint64_t order; /* at the same time ends of frames come first, then what was made first */
    uint8_t kind, station;
    uint32_t id, generation; /* of a timer, the protocol's own; id: the record to originate */
};

struct yard_charge {
    int64_t start_us, airtime_us;
};

struct yard_station {
    struct yard_frame queue[YARD_QUEUE_MAX];
    unsigned queue_first, queued;
    bool sending, queue_timed;
    struct yard_frame frame; /* while sending */
    struct yard_charge *charges;
    size_t charge_count, charge_cap, hour_first;
    int64_t hour_us;
};

struct yard_record {
    uint8_t origin;
    uint32_t number;        /* of its origin, from 0 */
    int64_t at_us, base_us; /* base_us < 0: not at base */
    unsigned holders;
};

struct yard;

struct yard_protocol {
    const char *name;
    /* Memory for all stations, zeroed by the caller. */
    size_t (*state_size)(const struct yard *yard);
    void (*start)(struct yard *yard); /* may be NULL */
    /* The station has made the record, or yard_accept took it. */
    void (*accept)(struct yard *yard, unsigned station, uint32_t record);
    /* Any frame that arrives whole, whoever it is for. */
    void (*hear)(struct yard *yard, unsigned station, const struct yard_frame *frame);
    void (*timer)(struct yard *yard, unsigned station, uint32_t id, uint32_t generation);
    void (*sent)(struct yard *yard, unsigned station, const struct yard_frame *frame); /* or NULL */
};

struct yard {
    const struct sim_topology *topology;
    const struct sim_workload *workload;
    const struct yard_protocol *protocol;
    void *state; /* the protocol's */
    struct rp_rng rng;
    int64_t now_us;
    uint64_t order;
    struct yard_event *events; /* a heap */
    size_t event_count, event_cap;
    struct yard_station *stations;
    uint8_t spoiled[SIM_STATIONS_MAX][SIM_STATIONS_MAX]; /* [from][to], while from is sending */
    uint8_t arriving[SIM_STATIONS_MAX];                  /* frames on their way to the station */
    struct yard_record *records;
    unsigned reporters;
    uint32_t record_count; /* reporters x workload->records; those of a reporter in one row */
    uint8_t *held;         /* [station * record_count + record] */
    uint64_t frames, heard, lost_to_loss, lost_to_clash, dropped;
    int64_t airtime_us, control_us;
    bool out_of_memory;
};

/* An empty yard of `reporters` times workload->records records; NULL when there is no memory. What
 * it is given is borrowed. */
struct yard *yard_open(const struct yard_protocol *protocol, const struct sim_topology *topology,
                       const struct sim_workload *workload, uint64_t seed);
void yard_close(struct yard *yard);
/* Lays down all records; the reporting stations begin one after the other, spread over the first
 * interval. The time of the last one. */
int64_t yard_plan_us(struct yard *yard);
/* Calls back after wait_us; there is no cancelling, so a protocol tells old timers by the
 * generation. */
void yard_timer(struct yard *yard, unsigned station, int64_t wait_us, uint32_t id,
                uint32_t generation);
/* Schedules the making of a record. */
void yard_originate_at(struct yard *yard, int64_t at_us, uint32_t record);
/* Puts a frame into the station's queue; it leaves when the ones before it have and the hour
 * allows. What waits there already is not put twice: a spent hour would fill up with copies. */
void yard_send(struct yard *yard, struct yard_frame frame);
/* Takes a record that arrived; false when the station has it already. */
bool yard_accept(struct yard *yard, unsigned station, uint32_t record);
bool yard_holds(const struct yard *yard, unsigned station, uint32_t record);
/* Uniform in [low_us, high_us]. */
int64_t yard_wait_us(struct yard *yard, int64_t low_us, int64_t high_us);
int64_t yard_frame_us(const struct yard *yard, unsigned len);
/* Runs until nothing is to happen any more or until_us. */
void yard_run(struct yard *yard, int64_t until_us);

extern const struct yard_protocol yard_flood_once, yard_flood_thrice, yard_mpl, yard_stop_wait;

#endif
