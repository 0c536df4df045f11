/* What is known of the links: in-ratios from counters, the rest from what neighbours say. */
#include "mesh/state.h"

#include <string.h>

/* Fitted in a prototype: a link starts at 0.6, and one seen to work counts so until its receiver
 * says otherwise; usable from 0.3. */
#define UNKNOWN_Q8 153
#define BEST_Q8    247 /* 0.97: silence is never certain evidence. Own choice. */
/* A gap above this is a restart, a partition or an old counter, not loss. Own choice. */
#define LOST_MAX   8
#define ROWLESS_US (300 * RP_SECOND_US)
/* The usual pause of a station is never taken to be shorter: digests double their interval, and
 * a silence of half an hour is nothing. Own choice. */
#define PAUSE_LEAST_US (600 * RP_SECOND_US)
/* Not heard for longer than a day: gone until heard again. Digests of others keep a station silent
 * for hours, and one behind a partition must find its old neighbours when it heals. Own choice. */
#define GONE_US (26 * RP_HOUR_US)

int rp_neighbour_slot(const struct rp_mesh *mesh, uint8_t station)
{
    return (int)mesh->slot_of[station & 127u] - 1;
}

static void known_station(struct rp_mesh *mesh, uint8_t station)
{
    mesh->station_top = station > mesh->station_top ? station : mesh->station_top;
}

static int claim_slot(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    int oldest = 0;
    for (int slot = 0; slot < RP_NEIGHBOURS_MAX; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        if (neighbour->station == 0) {
            oldest = slot;
            break;
        }
        if (neighbour->heard_us < mesh->neighbours[oldest].heard_us) {
            oldest = slot;
        }
    }
    mesh->slot_of[mesh->neighbours[oldest].station] =
        0; /* of a free slot: station 0, never asked */
    mesh->slot_of[station] = (uint8_t)(oldest + 1);
    mesh->neighbour_count =
        oldest >= mesh->neighbour_count ? (uint8_t)(oldest + 1) : mesh->neighbour_count;
    known_station(mesh, station);
    mesh->neighbours[oldest] = (struct rp_neighbour){
        .station = station,
        .in_q16 = UNKNOWN_Q8 * 257,
        .out_q8 = UNKNOWN_Q8,
        .battery_pct = 127,
        .met_us = now_us,
        .heard_us = now_us,
        .data_us = now_us,
        .control_us = now_us,
        .pause_us = PAUSE_LEAST_US,
    };
    return oldest;
}

/* A station not heard for much longer than usual, or ever, may hold and lack anything. */
static void contact(struct rp_mesh *mesh, rp_time_us now_us)
{
    if (now_us >= mesh->contact_us) {
        /* The trailer that names a station can be forged: at most one restart in this time. */
        mesh->contact_us = now_us + rp_scale_us(mesh, 60000);
        if (mesh->digest_us == RP_NEVER) {
            mesh->digest_us = now_us + rp_wait_us(mesh, 2000, 8000);
            mesh->digest_check = true;
        }
    }
}

/* The usual pause between two appearances: rises fast, but not to the length of an outage, and
 * falls slowly, since frames come in bursts. */
static void learn_pause(struct rp_neighbour *neighbour, rp_time_us pause_us)
{
    if (pause_us > neighbour->pause_us) {
        rp_time_us most_us = 3 * neighbour->pause_us;
        pause_us = rp_sooner_us(pause_us, most_us);
        neighbour->pause_us = (neighbour->pause_us + pause_us) / 2;
    } else {
        neighbour->pause_us -= (neighbour->pause_us - pause_us) / 64;
    }
    if (neighbour->pause_us < PAUSE_LEAST_US) {
        neighbour->pause_us = PAUSE_LEAST_US;
    }
}

int rp_neighbour_heard(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    int slot = rp_neighbour_slot(mesh, station);
    if (slot < 0) {
        slot = claim_slot(mesh, station, now_us);
        contact(mesh, now_us);
    }
    struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    rp_time_us pause_us = now_us - neighbour->heard_us;
    neighbour->heard_us = now_us;
    /* Who only talks is no nearer to answering: see may_hear. */
    neighbour->silent = neighbour->proven ? 0 : neighbour->silent;
    rp_push_alive(mesh, station, now_us);
    if (pause_us > 3 * neighbour->pause_us) {
        contact(mesh, now_us);
    }
    learn_pause(neighbour, pause_us);
    return slot;
}

static void sample(struct rp_neighbour *neighbour, bool heard)
{
    /* Weight max(1/(n+3), 0.03), measured in a prototype */
    int32_t divisor = neighbour->samples + 3 < 33 ? neighbour->samples + 3 : 33;
    int32_t target = heard ? 65535 : 0;
    int32_t now = neighbour->in_q16;
    neighbour->in_q16 = (uint16_t)(now + (target - now) / divisor);
    if (neighbour->samples < UINT16_MAX) {
        neighbour->samples++;
    }
}

void rp_neighbour_sample(struct rp_neighbour *neighbour, unsigned lost)
{
    if (lost > LOST_MAX) {
        return;
    }
    for (unsigned i = 0; i < lost; i++) {
        sample(neighbour, false);
    }
    sample(neighbour, true);
}

void rp_neighbour_data_counter(struct rp_neighbour *neighbour, uint8_t counter, bool learn)
{
    /* The trailer's counter wraps; distance 0 is the same frame again. */
    unsigned distance = (unsigned)(counter - neighbour->data_counter) & (RP_TRAILER_COUNTERS - 1u);
    if (learn && neighbour->has_data_counter && distance > 0) {
        rp_neighbour_sample(neighbour, distance - 1);
    }
    neighbour->has_data_counter = true;
    neighbour->data_counter = counter;
}

void rp_neighbour_proves(struct rp_mesh *mesh, uint8_t from, uint8_t to)
{
    int slot = rp_neighbour_slot(mesh, to);
    if (slot < 0 || from == to || from == 0) {
        return;
    }
    struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    neighbour->proven = neighbour->proven || from == mesh->station;
    if (!neighbour->has_row && neighbour->hears[from] == 0) {
        neighbour->hears[from] = UNKNOWN_Q8;
        known_station(mesh, from);
    }
}

void rp_neighbour_row(struct rp_mesh *mesh, struct rp_neighbour *neighbour,
                      const struct rp_row *rows, unsigned count)
{
    memset(neighbour->hears, 0, sizeof neighbour->hears);
    for (unsigned i = 0; i < count; i++) {
        neighbour->hears[rows[i].station] = rows[i].q8;
        known_station(mesh, rows[i].station);
    }
    uint8_t hears_me = neighbour->hears[mesh->station];
    if (hears_me > 0 || neighbour->has_row) {
        neighbour->out_q8 = hears_me; /* its first row may be older than its first frame of mine */
    }
    neighbour->has_row = true;
    neighbour->proven = neighbour->proven || hears_me > 0;
}

uint8_t rp_link_q8(const struct rp_mesh *mesh, uint8_t from, uint8_t to)
{
    int from_slot = rp_neighbour_slot(mesh, from);
    int to_slot = rp_neighbour_slot(mesh, to);
    if (to == mesh->station) {
        unsigned in_q8 = from_slot < 0 ? 0 : mesh->neighbours[from_slot].in_q16 >> 8;
        return (uint8_t)(in_q8 < BEST_Q8 ? in_q8 : BEST_Q8);
    }
    if (from == mesh->station) {
        return to_slot < 0 ? 0 : mesh->neighbours[to_slot].out_q8;
    }
    /* The receiver's own row; for one beyond reach, the other direction of the same link. */
    return to_slot >= 0     ? mesh->neighbours[to_slot].hears[from]
           : from_slot >= 0 ? mesh->neighbours[from_slot].hears[to]
                            : 0;
}

static bool present(const struct rp_neighbour *neighbour, rp_time_us now_us)
{
    return neighbour->station != 0 && now_us - neighbour->heard_us < GONE_US;
}

/* Whether a usable neighbour is well heard by this one. */
static bool way_round(const struct rp_mesh *mesh, const struct rp_neighbour *neighbour,
                      rp_time_us now_us)
{
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *other = &mesh->neighbours[slot];
        if (other != neighbour && present(other, now_us) && other->out_q8 >= RP_USABLE_Q8 &&
            neighbour->hears[other->station] >= RP_USABLE_Q8) {
            return true;
        }
    }
    return false;
}

/* Heard once by luck, or from a replay: a station that never showed that it hears this one, and
 * answers nothing, is nobody's way. Found by the simulator. */
static bool may_hear(const struct rp_neighbour *neighbour)
{
    return neighbour->proven || neighbour->silent < RP_SILENT_MAX;
}

bool rp_neighbour_usable(const struct rp_mesh *mesh, int slot, rp_time_us now_us)
{
    const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    return present(neighbour, now_us) && may_hear(neighbour) &&
           (neighbour->out_q8 >= RP_USABLE_Q8 ||
            (neighbour->out_q8 >= RP_POOR_Q8 && !way_round(mesh, neighbour, now_us)));
}

bool rp_neighbours_hear(const struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        uint8_t other = mesh->neighbours[slot].station;
        if (other != station && rp_neighbour_usable(mesh, slot, now_us) &&
            rp_link_q8(mesh, station, other) < RP_USABLE_Q8) {
            return false;
        }
    }
    return true;
}

bool rp_neighbours_missing(const struct rp_mesh *mesh, rp_time_us now_us)
{
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        if (present(neighbour, now_us) && neighbour->proven && neighbour->silent >= RP_SILENT_MAX) {
            return true;
        }
    }
    return false;
}

unsigned rp_neighbours_usable(const struct rp_mesh *mesh, rp_time_us now_us)
{
    unsigned count = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        count += rp_neighbour_usable(mesh, slot, now_us);
    }
    return count;
}

bool rp_neighbours_rowless(const struct rp_mesh *mesh, rp_time_us now_us)
{
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        if (neighbour->station != 0 && !neighbour->has_row &&
            now_us - neighbour->met_us >= ROWLESS_US &&
            now_us - neighbour->heard_us < ROWLESS_US * 6) {
            return true;
        }
    }
    return false;
}

/* A first word of few frames that a good link were one over which ends confirm cost a tenth of all
 * airtime for half a day. So a ratio that has clearly come out above that counts as moved far. */
#define CLEARLY_Q8 184
#define FAR_Q8     77

uint8_t rp_neighbours_moved(const struct rp_mesh *mesh)
{
    int most = 0;
    for (int slot = 0; slot < mesh->neighbour_count; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        int now_q8 = neighbour->in_q16 >> 8;
        int moved = now_q8 - neighbour->said_q8;
        moved = moved < 0 ? -moved : moved;
        bool confirms = neighbour->said_q8 < RP_CONFIRMS_Q8 && now_q8 >= CLEARLY_Q8;
        moved = confirms && moved < FAR_Q8 ? FAR_Q8 : moved;
        most = neighbour->station != 0 && moved > most ? moved : most;
    }
    return (uint8_t)most;
}

static struct rp_sender *claim_sender(struct rp_mesh *mesh)
{
    if (mesh->sender_count < RP_SENDERS_MAX) {
        return &mesh->senders[mesh->sender_count++];
    }
    struct rp_sender *oldest = &mesh->senders[0];
    for (unsigned i = 1; i < mesh->sender_count; i++) {
        if (mesh->senders[i].stamp < oldest->stamp) {
            oldest = &mesh->senders[i];
        }
    }
    return oldest;
}

bool rp_sender_accept(struct rp_mesh *mesh, uint16_t origin, uint32_t counter, unsigned *out_lost)
{
    struct rp_sender *sender = NULL;
    for (unsigned i = 0; i < mesh->sender_count; i++) {
        if (mesh->senders[i].origin == origin) {
            sender = &mesh->senders[i];
        }
    }
    if (sender != NULL && counter <= sender->counter) {
        return false;
    }
    *out_lost = sender != NULL ? counter - sender->counter - 1 : UINT32_MAX;
    if (sender == NULL) {
        sender = claim_sender(mesh);
    }
    *sender = (struct rp_sender){origin, counter, ++mesh->stamp};
    return true;
}
