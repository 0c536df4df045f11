/* The watch rules at this station: whose rules hold here, and what the station itself knows. */
#include <string.h>

#include "clinical/sky/daylight.h"
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

void rp_node_set_battery(struct rp_node *node, int pct, struct rp_moment moment)
{
    struct rp_node_watch_state *state = &node->watch;
    uint32_t now_s = rp_net_seconds(node, moment);
    bool known = pct >= 0 && pct <= 100;
    bool low = known && pct <= RP_WATCH_BATTERY_LOW, empty = known && pct <= RP_WATCH_BATTERY_EMPTY;
    state->battery_pct = known ? (uint8_t)pct : 127;
    state->battery_low_s = low && !state->battery_low ? now_s : state->battery_low_s;
    state->battery_empty_s = empty && !state->battery_empty ? now_s : state->battery_empty_s;
    state->battery_low = low;
    state->battery_empty = empty;
}

/* Where the patient is, as well as it is known here: request, opening, the card of the station that
 * opened, this station. */
static const struct rp_position *position_of(const struct rp_node *node,
                                             const struct rp_episode *episode)
{
    const struct rp_known_station *opener = &node->stations[rp_origin_station(episode->ref.origin)];
    const struct rp_position *candidates[] = {
        episode->request_now >= 0 ? &episode->requests.at[episode->request_now].what.position
                                  : NULL,
        &episode->opening.position, opener->has_card ? &opener->card.position : NULL,
        &node->config.position};
    for (size_t i = 0; i < sizeof candidates / sizeof candidates[0]; i++) {
        if (candidates[i] != NULL && candidates[i]->present) {
            return candidates[i];
        }
    }
    return NULL;
}

/* Sunset at the patient, for a flat horizon at that height: a ridge takes the light earlier. */
static void find_daylight(const struct rp_node *node, const struct rp_episode *episode,
                          uint32_t now_s, struct rp_watch_station *station)
{
    struct rp_daylight day;
    const struct rp_position *position = position_of(node, episode);
    if (position != NULL &&
        rp_daylight_at(position->lat_e6, position->lon_e6, now_s, &day) == RP_OK &&
        day.sun == RP_SUN_CROSSES && day.sunset_s > 0 && day.sunset_s <= UINT32_MAX) {
        station->has_daylight_end = true;
        station->daylight_end_s = (uint32_t)day.sunset_s;
    }
}

uint8_t rp_node_watch_places(const struct rp_node *node, struct rp_episode_ref ref)
{
    bool here = rp_origin_station(ref.origin) == node->config.station;
    return (uint8_t)((here ? RP_WATCH_CAMP : 0) |
                     (node->config.role == RP_ROLE_BASE ? RP_WATCH_BASE : 0));
}

void rp_node_watch_station(struct rp_node *node, const struct rp_episode *episode,
                           struct rp_moment moment, struct rp_watch_station *out_station)
{
    const struct rp_node_watch_state *state = &node->watch;
    const struct rp_node_turn *turn = &state->turn;
    uint32_t now_s = rp_net_seconds(node, moment);
    node->moment = moment;
    look_at_station(node, now_s);
    *out_station = (struct rp_watch_station){
        .has_tick = state->has_stroke,
        .tick_s = state->stroke_s,
        .has_pumper = state->pumper[0] != '\0',
        .pumper_since_s = state->pumper_since_s,
        .has_radio_lost = state->radio_lost,
        .radio_lost_s = state->radio_lost_s,
        .clock_unsynced = node->clock.quality >= 15,
        .clock_back_s = node->clock.back_s,
        .clock_back_at_s = node->clock.back_at_s,
        .clock_back_at_start = node->clock.back_at_start,
        .store_failing = state->has_failed && now_s - state->failed_s < FAILED_S,
        .has_battery = state->battery_pct <= 100,
        .battery_pct = state->battery_pct,
        .battery_low_s = state->battery_low_s,
        .battery_empty_s = state->battery_empty_s,
        .has_turn = turn->on && turn->strokes > 0 && turn->episode.number == episode->ref.number &&
                    turn->episode.origin == episode->ref.origin,
        .turn = {.strokes = (uint16_t)(turn->strokes < UINT16_MAX ? turn->strokes : UINT16_MAX),
                 .spell_s = (uint16_t)(turn->last_s - turn->from_s)},
        .turn_last_s = turn->last_s,
    };
    memcpy(out_station->turn.pumper, state->pumper, sizeof out_station->turn.pumper);
    rp_hops_look(node, now_s, out_station);
    find_daylight(node, episode, now_s, out_station);
    if ((rp_node_watch_places(node, episode->ref) & RP_WATCH_CAMP) != 0) {
        find_unacked(node, episode->ref, out_station);
    }
}

/* What is wrong with the station itself is told with one open episode, not with each: the first
 * that is looked at, as long as it is open. */
static bool tells_of_station(struct rp_node *node, const struct rp_episode *episode)
{
    struct rp_episode_ref *teller = &node->watch.teller;
    bool is = teller->number == episode->ref.number && teller->origin == episode->ref.origin;
    bool over = episode->closed || episode->evac_state == RP_EVAC_HANDED_OVER;
    if (is && over) {
        teller->number = 0;
    } else if (teller->number == 0 && !over) {
        *teller = episode->ref;
        is = true;
    }
    return is;
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
    struct rp_watch_input input = {
        .episode = episode,
        .now_s = rp_net_seconds(node, moment),
        .places = rp_node_watch_places(node, ref),
        .plan = node->config.plan,
        .protocol = node->config.protocol,
    };
    input.patient_only = !tells_of_station(node, episode);
    rp_node_watch_station(node, episode, moment, &input.station);
    rp_watch_evaluate(&input, out_alarms);
    *out_episode = episode;
    return RP_OK;
}
