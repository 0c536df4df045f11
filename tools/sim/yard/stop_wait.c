/* Per-hop stop-and-wait: each station hands a record to the next one on the best path to base, and
 * repeats it until a 16-byte acknowledgement comes back. One record at a time at each station. */
#include "sim/yard/air.h"

#define ACK_BYTES      16
#define TRIES_MAX      50     /* then the record is given up */
#define TURN_US        10000  /* before an acknowledgement: ours, a modem's turn-around */
#define MARGIN_US      20000  /* a time-out later than the acknowledgement by that */
#define REST_US        200000 /* a repetition after 0 to that much more, doubled each time: ours */
#define REST_DOUBLINGS 3      /* at most */

enum frame_kind { DATA, ACK };
enum timer_kind { SEND_DATA, SEND_ACK, NO_ACK };

struct hop {
    uint8_t next; /* SIM_STATIONS_MAX: none */
    bool busy;
    uint8_t tries;
    uint32_t generation;
    uint32_t taken, put; /* of the station's row of waiting records */
};

struct state {
    struct hop hops[SIM_STATIONS_MAX];
    uint32_t waiting[]; /* [station * record_count + n] */
};

static size_t state_size(const struct yard *yard)
{
    return sizeof(struct state) +
           (size_t)yard->topology->count * yard->record_count * sizeof(uint32_t);
}

/* Expected transmissions of frame and acknowledgement (ETX, De Couto et al. 2003, from memory);
 * negative when one of the two cannot arrive. */
static double link_cost(const struct sim_topology *t, unsigned from, unsigned to)
{
    const struct sim_link *there = &t->links[from][to], *back = &t->links[to][from];
    if (there->kind != SIM_LINK_LOSS || back->kind != SIM_LINK_LOSS ||
        there->loss == SIM_LOSS_ONE || back->loss == SIM_LOSS_ONE) {
        return -1.0;
    }
    double one = SIM_LOSS_ONE;
    return one / (one - there->loss) * (one / (one - back->loss));
}

/* Bellman-Ford: as many rounds as a path can have hops. */
static void find_routes(const struct sim_topology *t, struct hop *hops)
{
    double cost[SIM_STATIONS_MAX];
    for (unsigned i = 0; i < t->count; i++) {
        hops[i].next = SIM_STATIONS_MAX;
        cost[i] = t->stations[i].is_base ? 0.0 : -1.0;
    }
    bool changed = true;
    for (unsigned round = 0; changed && round < t->count; round++) {
        changed = false;
        for (unsigned i = 0; i < t->count; i++) {
            for (unsigned j = 0; j < t->count; j++) {
                double link = link_cost(t, i, j);
                if (link > 0.0 && cost[j] >= 0.0 && (cost[i] < 0.0 || cost[j] + link < cost[i])) {
                    cost[i] = cost[j] + link;
                    hops[i].next = (uint8_t)j;
                    changed = true;
                }
            }
        }
    }
}

static void start(struct yard *yard)
{
    struct state *state = yard->state;
    find_routes(yard->topology, state->hops);
}

static void plan(struct yard *yard, unsigned station, enum timer_kind kind, int64_t wait_us)
{
    struct state *state = yard->state;
    yard_timer(yard, station, wait_us, kind, ++state->hops[station].generation);
}

static void next_record(struct yard *yard, unsigned station, int64_t wait_us)
{
    struct state *state = yard->state;
    struct hop *hop = &state->hops[station];
    hop->busy = hop->taken < hop->put;
    hop->tries = 0;
    if (hop->busy) {
        plan(yard, station, SEND_DATA, wait_us);
    }
}

static uint32_t current(const struct yard *yard, unsigned station)
{
    const struct state *state = yard->state;
    return state->waiting[(size_t)station * yard->record_count + state->hops[station].taken];
}

static void accept(struct yard *yard, unsigned station, uint32_t record)
{
    struct state *state = yard->state;
    struct hop *hop = &state->hops[station];
    if (hop->next == SIM_STATIONS_MAX) {
        return;
    }
    state->waiting[(size_t)station * yard->record_count + hop->put++] = record;
    if (!hop->busy) {
        /* The acknowledgement of this record goes first. */
        next_record(yard, station, 2 * TURN_US);
    }
}

/* The peer and the record of an acknowledgement, in the timer's two numbers. */
static uint32_t ack_id(unsigned peer)
{
    return SEND_ACK | peer << 8;
}

static void finish(struct yard *yard, unsigned station)
{
    struct state *state = yard->state;
    state->hops[station].taken++;
    state->hops[station].generation++;
    next_record(yard, station, 2 * TURN_US);
}

static void hear(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    struct state *state = yard->state;
    struct hop *hop = &state->hops[station];
    if (frame->to != station) {
        return;
    }
    if (frame->kind == DATA) {
        yard_timer(yard, station, TURN_US, ack_id(frame->from), frame->record);
        yard_accept(yard, station, frame->record);
    } else if (hop->busy && frame->from == hop->next && frame->record == current(yard, station)) {
        finish(yard, station);
    }
}

static void send(struct yard *yard, unsigned station, enum frame_kind kind, unsigned to,
                 uint32_t record)
{
    unsigned len = kind == ACK ? ACK_BYTES : yard->workload->record_bytes;
    yard_send(yard, (struct yard_frame){.kind = (uint8_t)kind,
                                        .from = (uint8_t)station,
                                        .to = (uint8_t)to,
                                        .len = (uint16_t)len,
                                        .record = record});
}

static void sent(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    if (frame->kind == DATA) {
        plan(yard, station, NO_ACK, TURN_US + yard_frame_us(yard, ACK_BYTES) + MARGIN_US);
    }
}

static void repeat(struct yard *yard, unsigned station)
{
    struct state *state = yard->state;
    if (state->hops[station].tries == TRIES_MAX) {
        finish(yard, station);
    } else {
        unsigned doublings = (unsigned)state->hops[station].tries - 1;
        doublings = doublings < REST_DOUBLINGS ? doublings : REST_DOUBLINGS;
        plan(yard, station, SEND_DATA, yard_wait_us(yard, 0, (int64_t)REST_US << doublings));
    }
}

static void timer(struct yard *yard, unsigned station, uint32_t id, uint32_t generation)
{
    struct state *state = yard->state;
    struct hop *hop = &state->hops[station];
    if ((id & 0xff) == SEND_ACK) {
        send(yard, station, ACK, id >> 8, generation);
    } else if (generation != hop->generation) {
        return;
    } else if (id == SEND_DATA) {
        hop->tries++;
        send(yard, station, DATA, hop->next, current(yard, station));
    } else {
        repeat(yard, station);
    }
}

const struct yard_protocol yard_stop_wait = {.name = "stop-and-wait",
                                             .state_size = state_size,
                                             .start = start,
                                             .accept = accept,
                                             .hear = hear,
                                             .timer = timer,
                                             .sent = sent};
