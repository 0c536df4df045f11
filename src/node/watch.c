/* The watch rules at this station: whose rules hold here, and what the station itself knows. */
#include <string.h>

#include "node/node_state.h"

/* A failed write is told for so long after the last one: ours. */
#define FAILED_S 600u

struct unacked {
    uint8_t station;
    bool found;
    uint32_t oldest_s;
};

static int note_unacked(void *arg, const struct rp_record_row *row)
{
    struct unacked *unacked = arg;
    if (row->urgent && rp_origin_station(row->origin) == unacked->station &&
        (!unacked->found || row->time_s < unacked->oldest_s)) {
        unacked->found = true;
        unacked->oldest_s = row->time_s;
    }
    return 0;
}

/* Only where there is a base to wait for. A log that cannot be read is told as failing storage. */
static void find_unacked(struct rp_node *node, struct rp_episode_ref ref,
                         struct rp_watch_station *station)
{
    struct unacked unacked = {.station = node->config.station};
    struct rp_record_filter filter = {.episode = ref, .not_at_base = true};
    if (node->config.role == RP_ROLE_BASE) {
        return;
    }
    int code =
        node->config.store->each_record(node->config.store_ctx, &filter, note_unacked, &unacked);
    station->has_unacked = unacked.found;
    station->unacked_s = unacked.oldest_s;
    station->store_failing = station->store_failing || code < 0;
}

/* Since when, by the calls of this function: the daemon makes them every few seconds. */
static void look_at_station(struct rp_node *node, uint32_t now_s)
{
    struct rp_node_watch_state *state = &node->watch;
    bool lost = node->config.modem[0] != '\0' && (!node->line_open || node->fault_code != 0);
    if (!lost) {
        state->radio_lost = false;
    } else if (!state->radio_lost) {
        state->radio_lost = true;
        state->radio_lost_s = now_s;
    }
    if (node->store_failures != state->failures) {
        state->failures = node->store_failures;
        state->has_failed = true;
        state->failed_s = now_s;
    }
}

uint8_t rp_node_watch_places(const struct rp_node *node, struct rp_episode_ref ref)
{
    bool here = rp_origin_station(ref.origin) == node->config.station;
    return (uint8_t)((here ? RP_WATCH_CAMP : 0) |
                     (node->config.role == RP_ROLE_BASE ? RP_WATCH_BASE : 0));
}

int rp_node_watch(struct rp_node *node, struct rp_episode_ref ref, struct rp_moment moment,
                  const struct rp_episode **out_episode, struct rp_alarms *out_alarms)
{
    const struct rp_episode *episode;
    const struct rp_holding *holdings;
    size_t count;
    int code = rp_node_episode(node, ref, moment, &episode, &holdings, &count);
    if (code < 0) {
        return code;
    }
    const struct rp_node_watch_state *state = &node->watch;
    struct rp_watch_input input = {
        .episode = episode,
        .now_s = rp_net_seconds(node, moment),
        .places = rp_node_watch_places(node, ref),
        .plan = node->config.plan,
        .protocol = node->config.protocol,
    };
    look_at_station(node, input.now_s);
    input.station = (struct rp_watch_station){
        .has_tick = state->has_stroke,
        .tick_s = state->stroke_s,
        .has_pumper = state->pumper[0] != '\0',
        .pumper_since_s = state->pumper_since_s,
        .has_radio_lost = state->radio_lost,
        .radio_lost_s = state->radio_lost_s,
        .clock_unsynced = node->clock.quality >= 15,
        .store_failing = state->has_failed && input.now_s - state->failed_s < FAILED_S,
    };
    if ((input.places & RP_WATCH_CAMP) != 0) {
        find_unacked(node, ref, &input.station);
    }
    rp_watch_evaluate(&input, out_alarms);
    *out_episode = episode;
    return RP_OK;
}

void rp_node_stroke(struct rp_node *node, const char *pumper, struct rp_moment moment)
{
    struct rp_node_watch_state *state = &node->watch;
    uint32_t now_s = rp_net_seconds(node, moment);
    state->has_stroke = true;
    state->stroke_s = now_s;
    if (pumper[0] != '\0' && strcmp(pumper, state->pumper) != 0) {
        size_t len = strnlen(pumper, RP_NAME_LEN);
        memcpy(state->pumper, pumper, len);
        state->pumper[len] = '\0';
        state->pumper_since_s = now_s;
    }
}
