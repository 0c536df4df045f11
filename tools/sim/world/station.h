/* One simulated station: the daemon's node, its storage, its clocks, and a modem at the end of a
 * serial line whose delay is random. Times are true time. */
#ifndef SIM_WORLD_STATION_H
#define SIM_WORLD_STATION_H

#include "base/rng.h"
#include "node/node.h"
#include "sim/world/clock.h"
#include "sim/world/kiss_end.h"
#include "sim/world/store.h"

#define SIM_ARRIVALS_MAX 32 /* frames on their way from modem to host; beyond it they are lost */

enum sim_modem_state {
    SIM_MODEM_IDLE,
    SIM_MODEM_WAIT,   /* it has a frame and begins at due */
    SIM_MODEM_ON_AIR, /* until due */
};

struct sim_modem {
    struct sim_kiss_end kiss;
    enum sim_modem_state state;
    rp_time_us due_us; /* RP_NEVER when idle */
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t frame_len;
    rp_time_us taken_us; /* when the host handed it over */
    bool ack_wanted;
    uint8_t ack_id[2];
};

enum sim_arrival_kind {
    SIM_ARRIVAL_ACK,     /* of the modem: a frame was sent; the two bytes are its id */
    SIM_ARRIVAL_FRAME,   /* heard as a station sent it, but for the hop trailer perhaps */
    SIM_ARRIVAL_FORGED,  /* changed where it is authenticated, or never sealed: must be refused */
    SIM_ARRIVAL_CHANNEL, /* somebody began or ended: one byte, 1 when the channel is busy */
};

/* What comes up the serial line. */
struct sim_arrival {
    rp_time_us due_us;
    enum sim_arrival_kind kind;
    uint16_t len;
    uint8_t bytes[RP_FRAME_LEN_MAX];
};

struct sim_host {
    unsigned index; /* in the topology */
    struct rp_node_config config;
    struct sim_store *store; /* owned; survives restarts */
    struct rp_node *node;    /* NULL: down */
    struct sim_clock clock;
    bool synced;
    bool senses; /* its modem tells whether the channel is busy */
    bool paused; /* the process does not run; its serial line fills */
    uint32_t starts;
    struct sim_modem modem;
    struct sim_arrival arrivals[SIM_ARRIVALS_MAX]; /* by due time */
    unsigned arrival_count;
    struct rp_rng rng; /* serial delays */
    rp_time_us latency_us_max;
    uint64_t overruns; /* arrivals lost because the line was full */
};

/* Makes a station that is down, with an empty store. config.store is filled in here. */
void sim_host_init(struct sim_host *host, unsigned index, const struct rp_node_config *config,
                   rp_time_us latency_us_max, uint64_t seed);
void sim_host_deinit(struct sim_host *host);
struct rp_moment sim_host_moment(const struct sim_host *host, rp_time_us now_us);
/* Starts the node and opens its line. Storage that fails at that moment: a negative rp_error and
 * the station stays down. */
int sim_host_up(struct sim_host *host, rp_time_us now_us, struct rp_problem *out_problem);
/* Takes it down as a power cut does: only the store is left. The modem loses its power too. */
void sim_host_down(struct sim_host *host);
/* Before it comes up again: the computer itself has started anew at this moment. */
void sim_host_boot(struct sim_host *host, rp_time_us now_us);
/* Replaces the store with an empty one; the station must be down. */
void sim_host_wipe(struct sim_host *host);

/* When the node wants to be asked, in true time; RP_NEVER when down or paused. */
rp_time_us sim_host_wake_us(const struct sim_host *host);
void sim_host_tick(struct sim_host *host, rp_time_us now_us);
/* Moves what the node has written to its modem. True when the modem got a frame to send; it then
 * begins at modem.due_us. */
bool sim_host_collect(struct sim_host *host, rp_time_us now_us);
/* Plans bytes for the host, delay_us after now and the random serial delay. */
void sim_host_bring(struct sim_host *host, enum sim_arrival_kind kind, struct rp_view bytes,
                    rp_time_us now_us, rp_time_us delay_us);
rp_time_us sim_host_arrival_us(const struct sim_host *host);
/* Hands the first arrival to the node; arrivals[0] must be due. */
void sim_host_arrive(struct sim_host *host, rp_time_us now_us);
/* The frame on air has ended. */
void sim_host_sent(struct sim_host *host, rp_time_us now_us);

#endif
