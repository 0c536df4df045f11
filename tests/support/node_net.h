/* Whole stations (src/node) on one channel, in one process and in virtual time.
 *
 * Each station drives a "kiss" modem; the frames it hands to the modem are on air for exactly their
 * airtime and then arrive at the other modems, unless the link loses them, the receiver transmits
 * meanwhile, or another frame that it could hear overlaps. Everything follows from the seed. Nets
 * share nothing; any number of them may live at once. Misuse ends the program. */
#ifndef NODE_NET_H
#define NODE_NET_H

#include "base/rng.h"
#include "memory_store.h"
#include "node/node.h"

#define NODE_NET_MAX       16         /* stations in one net */
#define NODE_NET_START_S   1772020800 /* unix: 2026-02-25T12:00:00Z */
#define NODE_NET_SECOND_US ((rp_time_us)1000000)
#define NODE_NET_NO_LINK   1000 /* loss in thousandths */

struct node_net;

struct node_net_station {
    struct rp_node_config config; /* used at every start; tests may change it between */
    struct memory_store *store;   /* owned by the net; survives restarts */
    struct rp_node *node;         /* NULL: down */
    bool synced;
    int64_t clock_offset_s; /* of its wall clock from true time */
    uint32_t starts;
    /* The modem. */
    uint8_t line[1024]; /* KISS bytes of a frame not ended yet */
    size_t line_len;
    bool sending;
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t frame_len;
    rp_time_us start_us, end_us;
    uint32_t frames_sent, frames_heard, frames_lost, frames_collided;
};

struct node_net {
    uint64_t seed;
    struct rp_rng rng;
    rp_time_us now_us;
    size_t count;
    uint16_t loss[NODE_NET_MAX][NODE_NET_MAX]; /* from, to; thousandths */
    struct node_net_station at[NODE_NET_MAX];
};

/* A net without stations. Prints nothing; the test prints the seed. */
void node_net_start(struct node_net *net, uint64_t seed);
void node_net_stop(struct node_net *net);
/* A station's settings: the default net (100 % duty, so that tests are quick; the secret is of
 * this file), modem "kiss", a name of its own. */
struct rp_node_config node_net_config(uint8_t number, enum rp_role role);
/* Adds a station, with an empty store, down; returns its index. There is no link yet. */
size_t node_net_add(struct node_net *net, const struct rp_node_config *config);
void node_net_link(struct node_net *net, size_t a, size_t b, uint16_t loss); /* both ways */
/* A net of a camp (station 7), `relays` relays (4, 5 ...; at most 3) and a base (2), in this order,
 * each linked to the next with this loss; all down, so that a test may still change them. */
void node_net_start_row(struct node_net *net, uint64_t seed, size_t relays, uint16_t loss);
/* Starts it and opens its line. */
void node_net_up(struct node_net *net, size_t index);
void node_net_up_all(struct node_net *net);
/* Takes it down as a power cut does: only the store is left. */
void node_net_down(struct node_net *net, size_t index);
void node_net_restart(struct node_net *net, size_t index);
/* Replaces the store; the station must be down. The net owns `store` from here on. */
void node_net_restore(struct node_net *net, size_t index, struct memory_store *store);

struct rp_moment node_net_moment(const struct node_net *net, size_t index);
struct rp_node_status node_net_status(const struct node_net *net, size_t index);
/* Its net time in seconds. */
uint32_t node_net_time(const struct node_net *net, size_t index);
/* Entries at a station now; one that is refused ends the program. */
struct rp_record_ref node_net_enter(struct node_net *net, size_t index, struct rp_record *record);
struct rp_episode_ref node_net_open(struct node_net *net, size_t index, const char *patient);
struct rp_record_ref node_net_note(struct node_net *net, size_t index, struct rp_episode_ref ref,
                                   const char *text);

void node_net_run(struct node_net *net, rp_time_us span_us);
/* Runs until `done` says so; the time taken, or -1 after limit_us. */
typedef bool node_net_test(void *arg);
rp_time_us node_net_run_until(struct node_net *net, node_net_test *done, void *arg,
                              rp_time_us limit_us);
bool node_net_nothing_queued(void *net); /* at the first station */

#endif
