/* The stations heard directly, as the watch rules see them. At base a link that was good is kept
 * over a restart: else who fell silent before it would be missed by nobody. */
#include <string.h>

#include "base/bytes.h"
#include "node/node_state.h"

/* A trouble that comes and goes at its bound would ring each time: it ends a little above. Ours. */
#define WEAK_OVER_PCT 40
/* Who was only ever heard by chance is no hop, and no loss: the way leads over others. Above what
 * the mesh believes of a link it knows nothing of (60). Ours. */
#define GOOD_PCT     70
#define LOW_OVER_PCT 25

#define SECOND_US    ((rp_time_us)1000000)
#define LOST_US      (RP_WATCH_HOP_LOST_S * SECOND_US)
#define KEEP_US      (600 * SECOND_US) /* how old a kept time may be: ours; each costs a write */
#define VERSION      1
#define VALUE        "hops"
#define ROW_LEN      (1 + 4 + 4)
#define VALUE_LEN    (1 + RP_STATION_MAX * ROW_LEN)

static void keep(struct rp_node *node)
{
    uint8_t buf[VALUE_LEN];
    struct rp_node_watch_state *state = &node->watch;
    struct rp_writer w = rp_writer_on(buf, sizeof buf);
    rp_put_u8(&w, VERSION);
    for (unsigned station = 1; station <= RP_STATION_MAX; station++) {
        const struct rp_node_hop *hop = &state->hops[station];
        if (hop->good) {
            rp_put_u8(&w, (uint8_t)station);
            rp_put_be(&w, hop->heard_s, 4);
            rp_put_be(&w, hop->lost ? hop->lost_s : 0, 4);
        }
    }
    state->hops_kept_us = node->moment.now_us;
    state->hops_changed = false;
    int code =
        node->config.store->set_value(node->config.store_ctx, VALUE, (struct rp_view){buf, w.len});
    node->store_failures += code < 0;
}

/* Silent from this start on, unless it was lost before: the time in between nobody listened. */
static void load_hop(struct rp_node *node, struct rp_reader *r)
{
    unsigned station = rp_get_u8(r);
    uint32_t heard_s = (uint32_t)rp_get_be(r, 4), lost_s = (uint32_t)rp_get_be(r, 4);
    if (r->failed || station == 0 || station > RP_STATION_MAX) {
        return;
    }
    node->watch.hops[station] = (struct rp_node_hop){
        .good = true,
        .lost = lost_s != 0,
        .lost_s = lost_s,
        .heard_s = heard_s,
        .heard_us = node->moment.now_us - (lost_s != 0 ? LOST_US : 0),
    };
}

void rp_hops_load(struct rp_node *node)
{
    uint8_t buf[VALUE_LEN];
    if (node->config.role != RP_ROLE_BASE) {
        return;
    }
    int len = node->config.store->get_value(node->config.store_ctx, VALUE, buf, sizeof buf);
    if (len <= 0 || (size_t)len > sizeof buf || buf[0] != VERSION) {
        return; /* none, or of another version */
    }
    struct rp_reader r = rp_reader_on((struct rp_view){buf + 1, (size_t)len - 1});
    while (rp_reader_left(&r) >= ROW_LEN) {
        load_hop(node, &r);
    }
    node->watch.hops_kept_us = node->moment.now_us;
}

static void note_since(bool is, bool *was, uint32_t *since_s, uint32_t now_s)
{
    *since_s = is && !*was ? now_s : *since_s;
    *was = is;
}

/* How the link is, by a neighbour heard in this run. */
static void look_at_neighbour(struct rp_node_hop *hop, const struct rp_mesh_neighbour *neighbour,
                              rp_time_us now_us, uint32_t now_s)
{
    rp_time_us silent_us = now_us - neighbour->heard_us;
    uint32_t silent_s = silent_us > 0 ? (uint32_t)(silent_us / SECOND_US) : 0;
    int share = neighbour->in_pct < neighbour->out_pct ? neighbour->in_pct : neighbour->out_pct;
    int pct = neighbour->battery_pct;
    hop->good = hop->good || share >= GOOD_PCT;
    hop->in_pct = neighbour->in_pct;
    hop->out_pct = neighbour->out_pct;
    hop->battery_pct = neighbour->battery_pct;
    hop->heard_us = neighbour->heard_us;
    hop->heard_s = now_s > silent_s ? now_s - silent_s : 0;
    note_since(hop->good && share < (hop->weak ? WEAK_OVER_PCT : RP_WATCH_HOP_WEAK_PCT), &hop->weak,
               &hop->weak_s, now_s);
    note_since(pct <= (hop->low ? LOW_OVER_PCT : RP_WATCH_BATTERY_LOW), &hop->low, &hop->low_s,
               now_s);
}

/* Since when, by the calls of rp_hops_look. */
static void look_at_hop(struct rp_node *node, uint8_t number, uint32_t now_s,
                        struct rp_watch_station *station)
{
    struct rp_node_hop *hop = &node->watch.hops[number];
    bool was = hop->lost;
    note_since(hop->good && node->moment.now_us - hop->heard_us >= LOST_US, &hop->lost,
               &hop->lost_s, now_s);
    node->watch.hops_changed = node->watch.hops_changed || hop->lost != was;
    if ((hop->lost || hop->weak || hop->low) && station->hop_count < RP_WATCH_HOPS_MAX) {
        station->hops[station->hop_count++] = (struct rp_watch_hop){
            .station = number,
            .lost = hop->lost,
            .weak = hop->weak,
            .low = hop->low,
            .in_pct = hop->in_pct,
            .out_pct = hop->out_pct,
            .battery_pct = hop->battery_pct,
            .heard_s = hop->heard_s,
            .lost_s = hop->lost_s,
            .weak_s = hop->weak_s,
            .low_s = hop->low_s,
        };
    }
}

void rp_hops_look(struct rp_node *node, uint32_t now_s, struct rp_watch_station *station)
{
    struct rp_node_watch_state *state = &node->watch;
    struct rp_mesh_neighbour neighbours[RP_STATION_MAX];
    size_t count = rp_mesh_neighbours(node->mesh, neighbours, RP_STATION_MAX);
    bool any = false;
    for (size_t i = 0; i < count; i++) {
        struct rp_node_hop *hop = &state->hops[neighbours[i].station];
        bool was = hop->good;
        look_at_neighbour(hop, &neighbours[i], node->moment.now_us, now_s);
        state->hops_changed = state->hops_changed || hop->good != was;
    }
    for (unsigned number = 1; number <= RP_STATION_MAX; number++) {
        look_at_hop(node, (uint8_t)number, now_s, station);
        any = any || state->hops[number].good;
    }
    bool old = any && node->moment.now_us - state->hops_kept_us >= KEEP_US;
    if (node->config.role == RP_ROLE_BASE && (state->hops_changed || old)) {
        keep(node);
    }
}
