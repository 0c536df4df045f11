/* One simulated net: stations, air and people, moved by jumping from event to event in virtual
 * time. Nothing is shared between worlds; everything follows from the topology, the settings and
 * the seed. */
#ifndef SIM_WORLD_WORLD_H
#define SIM_WORLD_WORLD_H

#include "sim/world/agenda.h"
#include "sim/world/settings.h"
#include "sim/world/station.h"
#include "sim/world/truth.h"

#define SIM_SECRET "simulated valley" /* of every simulated net: 16 bytes */

/* What airtime was spent on. */
enum sim_spent {
    SIM_SPENT_WORKLOAD,
    SIM_SPENT_RECEIPT,
    SIM_SPENT_OTHER, /* segments of other records */
    SIM_SPENT_DIGEST,
    SIM_SPENT_VECTOR,
    SIM_SPENT_REQUEST, /* needs and acknowledgements */
    SIM_SPENT_COUNT,
};

struct sim_air_frame {
    unsigned from;
    struct rp_view bytes;
    rp_time_us taken_us, start_us, end_us;
};

struct sim_world;

/* Who looks on, or interferes. Every function may be NULL. */
struct sim_hooks {
    void *ctx;
    /* A station made a segment, or holds it from now on. */
    void (*made)(void *ctx, struct sim_world *world, unsigned host,
                 const struct rp_segment_row *segment, const struct rp_record_row *record);
    void (*held)(void *ctx, struct sim_world *world, unsigned host,
                 const struct rp_segment_row *segment);
    /* A station holds for known that own records first..last are at base. */
    void (*at_base)(void *ctx, struct sim_world *world, unsigned host, uint16_t origin,
                    uint32_t first, uint32_t last);
    /* A frame begins. */
    void (*on_air)(void *ctx, struct sim_world *world, const struct sim_air_frame *frame);
    /* A frame reaches a station: false when the hook has dealt with it, else it is brought. */
    bool (*reached)(void *ctx, struct sim_world *world, unsigned to,
                    const struct sim_air_frame *frame);
    /* Before and after a station is given what came up its line. */
    void (*arriving)(void *ctx, struct sim_world *world, unsigned host,
                     const struct sim_arrival *arrival);
    void (*arrived)(void *ctx, struct sim_world *world, unsigned host,
                    const struct sim_arrival *arrival);
    /* A station was woken by its own deadline. */
    void (*woken)(void *ctx, struct sim_world *world, unsigned host);
    /* Its power went in the middle of a write; it is down and starts again by itself. */
    void (*power_cut)(void *ctx, struct sim_world *world, unsigned host);
    /* A record of the workload was entered: the station has said that it is kept. */
    void (*entered)(void *ctx, struct sim_world *world, unsigned host, struct rp_record_ref ref);
    /* The moment asked for with sim_world_hook_at. */
    void (*due)(void *ctx, struct sim_world *world);
};

struct sim_world {
    const struct sim_settings *settings; /* borrowed */
    const struct sim_topology *topology; /* borrowed */
    uint64_t seed;
    rp_time_us now_us;
    struct rp_rng people_rng;
    struct sim_channel channel;
    struct sim_agenda agenda;
    struct sim_host *hosts; /* [count], owned */
    unsigned count;
    struct sim_truth truth;
    struct sim_hooks hooks;
    uint32_t airtime_us[RP_FRAME_LEN_MAX + 1];
    uint64_t spent_us[SIM_SPENT_COUNT];
    uint64_t spent_frames[SIM_SPENT_COUNT];
    uint64_t trace_hash;
    uint64_t events;
    uint32_t refused_entries; /* records a station did not take */
    bool entering;            /* a record of the workload is being entered */
    unsigned cuts_open;
};

/* Builds the net; every station starts within the first ten seconds. RP_E_INVALID with a problem
 * when the topology and the settings do not fit. */
int sim_world_init(struct sim_world *world, const struct sim_topology *topology,
                   const struct sim_settings *settings, uint64_t seed,
                   const struct sim_hooks *hooks, struct rp_problem *out_problem);
void sim_world_deinit(struct sim_world *world);
/* Runs until the moment, or until everything is everywhere after the workload has ended. */
void sim_world_run(struct sim_world *world, rp_time_us until_us);
/* The whole: workload, then settling. */
void sim_world_run_all(struct sim_world *world);
bool sim_world_settled(const struct sim_world *world);

/* For faults. */
void sim_world_hook_at(struct sim_world *world, rp_time_us at_us);
void sim_world_up_at(struct sim_world *world, unsigned host, rp_time_us at_us);
void sim_world_down(struct sim_world *world, unsigned host);
void sim_world_wipe(struct sim_world *world, unsigned host);
void sim_world_pause(struct sim_world *world, unsigned host, bool paused);
void sim_world_cut(struct sim_world *world, unsigned a, unsigned b, bool cut);
/* Something comes up a station's line, as if heard now, delay_us later. */
void sim_world_bring(struct sim_world *world, unsigned host, enum sim_arrival_kind kind,
                     struct rp_view bytes, rp_time_us delay_us);
/* After the world's stations were called or changed from outside. */
void sim_world_touch(struct sim_world *world, unsigned host);
uint64_t sim_world_airtime_us(const struct sim_world *world);

#endif
