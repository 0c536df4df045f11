/* What the engine tells its owner: a bounded ring. When it is full the oldest event goes; the
 * owner empties it after each call, and every fact in it is also in storage or said again. */
#include "mesh/state.h"

#include <string.h>

/* An origin or a station number in double use is said again after this time. Own choice. */
#define SAY_AGAIN_US (600 * RP_SECOND_US)

void rp_event_push(struct rp_mesh *mesh, const struct rp_mesh_event *event)
{
    if (mesh->event_count == RP_EVENTS_MAX) {
        mesh->event_first = (mesh->event_first + 1) % RP_EVENTS_MAX;
        mesh->event_count--;
        mesh->counters.queue_full++;
    }
    mesh->events[(mesh->event_first + mesh->event_count) % RP_EVENTS_MAX] = *event;
    mesh->event_count++;
}

bool rp_mesh_next_event(struct rp_mesh *mesh, struct rp_mesh_event *out_event)
{
    if (mesh->event_count == 0) {
        return false;
    }
    *out_event = mesh->events[mesh->event_first];
    mesh->event_first = (mesh->event_first + 1) % RP_EVENTS_MAX;
    mesh->event_count--;
    return true;
}

void rp_event_unheard(struct rp_mesh *mesh, uint32_t seq)
{
    for (unsigned i = 0; i < mesh->unheard_count; i++) {
        if (mesh->unheard[i] == seq) {
            return;
        }
    }
    if (mesh->unheard_count == RP_UNHEARD_MAX) {
        memmove(&mesh->unheard[0], &mesh->unheard[1],
                (RP_UNHEARD_MAX - 1) * sizeof mesh->unheard[0]);
        mesh->unheard_count--;
    }
    mesh->unheard[mesh->unheard_count++] = seq;
}

static void push_heard(struct rp_mesh *mesh, uint32_t seq, uint8_t station)
{
    struct rp_mesh_event event = {
        .kind = RP_MESH_HEARD, .origin = mesh->config.origin, .seq = seq, .station = station};
    rp_event_push(mesh, &event);
}

void rp_event_heard(struct rp_mesh *mesh, const struct rp_held *held, uint8_t station)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < mesh->unheard_count; i++) {
        if (rp_held_has(held, mesh->unheard[i])) {
            push_heard(mesh, mesh->unheard[i], station);
        } else {
            mesh->unheard[kept++] = mesh->unheard[i];
        }
    }
    mesh->unheard_count = kept;
}

void rp_event_heard_one(struct rp_mesh *mesh, uint32_t seq, uint8_t station)
{
    struct rp_held one = {.run_count = 1, .runs = {{seq, seq}}};
    rp_event_heard(mesh, &one, station);
}

void rp_event_own_ahead(struct rp_mesh *mesh, uint32_t seq, rp_time_us now_us)
{
    if (mesh->own_ahead_said && now_us - mesh->own_ahead_us < SAY_AGAIN_US) {
        return;
    }
    mesh->own_ahead_said = true;
    mesh->own_ahead_us = now_us;
    struct rp_mesh_event event = {
        .kind = RP_MESH_OWN_AHEAD, .origin = mesh->config.origin, .seq = seq};
    rp_event_push(mesh, &event);
}

void rp_event_same_station(struct rp_mesh *mesh, uint16_t origin, rp_time_us now_us)
{
    if (mesh->same_station_said && now_us - mesh->same_station_us < SAY_AGAIN_US) {
        return;
    }
    mesh->same_station_said = true;
    mesh->same_station_us = now_us;
    struct rp_mesh_event event = {
        .kind = RP_MESH_SAME_STATION, .origin = origin, .station = rp_origin_station(origin)};
    rp_event_push(mesh, &event);
}
