/* Entering a record made at this station. */
#include "incident/watch/course.h"
#include "node/node_state.h"

#include <stdio.h>
#include <string.h>

/* An exercise can never be taken for real, nor the reverse: the mark follows the episode, and a
 * station in exercise mode may not touch a real one. */
static int mark_exercise(struct rp_node *node, struct rp_record *record,
                         struct rp_problem *out_problem)
{
    bool of_episode = false;
    bool opening = record->kind == RP_REC_EPISODE;
    if (record->episode.number != 0 && !opening) {
        int known = rp_episodes_exercise(node, record->episode);
        if (known < 0) {
            return rp_problem_set(out_problem, known, "database", "the log cannot be read");
        }
        of_episode = known > 0;
        if (node->config.exercise && !of_episode) {
            return rp_problem_set(out_problem, RP_E_CONFLICT, "exercise",
                                  "this station is in EXERCISE mode and the episode is real: "
                                  "restart the station without exercise to write to it");
        }
    }
    record->exercise = node->config.exercise || of_episode;
    return RP_OK;
}

static int number_episode(struct rp_node *node, struct rp_record *record,
                          struct rp_problem *out_problem)
{
    unsigned highest = 0;
    for (size_t i = 0; i < node->episode_count; i++) {
        const struct rp_episode_ref *ref = &node->episodes[i];
        if (rp_origin_station(ref->origin) == node->config.station && ref->number > highest) {
            highest = ref->number;
        }
    }
    if (highest >= 255) {
        return rp_problem_set(out_problem, RP_E_FULL, "episode",
                              "this station has opened 255 episodes: begin a new database");
    }
    record->episode = (struct rp_episode_ref){node->origin, (uint8_t)(highest + 1)};
    return RP_OK;
}

/* "Why not down?" is asked before every session: the newest answer must be newer than the start
 * of the session before. */
static int require_descent_answer(struct rp_node *node, const struct rp_record *record,
                                  struct rp_problem *out_problem)
{
    const struct rp_episode *episode;
    const struct rp_holding *holdings;
    size_t count;
    int code = rp_node_episode(node, record->episode, node->moment, &episode, &holdings, &count);
    if (code < 0) {
        return rp_problem_set(out_problem, code, "episode", "the episode cannot be read");
    }
    if (rp_course_answered(episode, record->as.chamber.session)) {
        return RP_OK;
    }
    return rp_problem_set(out_problem, RP_E_STATE, "chamber",
                          "why not down? Descent is the treatment; answer first "
                          "(example: descent no dark \"first light 05:40\")");
}

static int check(struct rp_node *node, struct rp_record *record, struct rp_problem *out_problem)
{
    int code = RP_OK;
    if (record->kind == RP_REC_EPISODE) {
        code = number_episode(node, record, out_problem);
    }
    if (code == RP_OK) {
        code = mark_exercise(node, record, out_problem);
    }
    bool starts_session =
        record->kind == RP_REC_CHAMBER && (record->as.chamber.phase == RP_PHASE_CLOSED ||
                                           record->as.chamber.phase == RP_PHASE_PRESSURISING);
    if (code == RP_OK && starts_session) {
        code = require_descent_answer(node, record, out_problem);
    }
    return code;
}

int rp_enter_now(struct rp_node *node, struct rp_record *record, struct rp_record_ref *out_ref,
                 struct rp_problem *out_problem)
{
    int code = check(node, record, out_problem);
    if (code < 0) {
        return code;
    }
    record->time_s = rp_net_seconds(node, node->moment);
    record->unsynced = node->clock.quality >= 15;
    if (record->kind == RP_REC_EVACUATION) {
        record->urgent = true;
    }
    /* On air, "own" costs nothing. */
    struct rp_record own = *record;
    if (own.episode.origin == node->origin) {
        own.episode.origin = 0;
    }
    return rp_own_log_append(node, &own, out_ref, out_problem);
}

/* --- entries that may be sent twice --- */

static int entry_name(const char *key, unsigned index, char *out_name, size_t cap)
{
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-";
    size_t len = strlen(key);
    if (len < 8 || len > RP_ENTRY_KEY_LEN_MAX || strspn(key, allowed) != len || index > 99) {
        return RP_E_INVALID;
    }
    snprintf(out_name, cap, "entry/%s/%u", key, index);
    return RP_OK;
}

int rp_node_entry_begin(struct rp_node *node, const char *key)
{
    char name[sizeof node->entry_name];
    int code = entry_name(key, 0, name, sizeof name);
    if (code == RP_OK) {
        memcpy(node->entry_key, key, strlen(key) + 1);
        node->entry_index = 0;
    }
    return code;
}

void rp_node_entry_end(struct rp_node *node)
{
    node->entry_key[0] = '\0';
}

int rp_node_entry_record(struct rp_node *node, const char *key, unsigned index,
                         struct rp_record_ref *out_ref)
{
    char name[sizeof node->entry_name];
    uint8_t place[6];
    int code = entry_name(key, index, name, sizeof name);
    if (code < 0) {
        return code;
    }
    code = node->config.store->get_value(node->config.store_ctx, name, place, sizeof place);
    if (code < 0) {
        return code;
    }
    if (code != sizeof place) {
        return RP_E_CORRUPT;
    }
    *out_ref = (struct rp_record_ref){(uint16_t)(place[0] << 8 | place[1]),
                                      (uint32_t)place[2] << 24 | (uint32_t)place[3] << 16 |
                                          (uint32_t)place[4] << 8 | place[5]};
    return RP_OK;
}

static int take_episode(void *arg, const struct rp_record_row *row)
{
    struct rp_record *record = arg;
    record->episode = row->episode;
    return 0;
}

/* RP_OK: recorded before, nothing is to be done. RP_E_NOT_FOUND: the first time. */
static int enter_again(struct rp_node *node, struct rp_record *record,
                       struct rp_record_ref *out_ref)
{
    int code = rp_node_entry_record(node, node->entry_key, node->entry_index, out_ref);
    if (code == RP_OK) {
        code = rp_node_record(node, *out_ref, take_episode, record);
    }
    return code;
}

static int enter_keyed(struct rp_node *node, struct rp_record *record,
                       struct rp_record_ref *out_ref, struct rp_problem *out_problem)
{
    int code = enter_again(node, record, out_ref);
    if (code == RP_E_NOT_FOUND) {
        code = entry_name(node->entry_key, node->entry_index, node->entry_name,
                          sizeof node->entry_name);
        code = code < 0 ? code : rp_enter_now(node, record, out_ref, out_problem);
        node->entry_name[0] = '\0';
    } else if (code < 0) {
        rp_problem_set(out_problem, code, "database", "the log cannot be read");
    }
    node->entry_index += code == RP_OK;
    return code;
}

int rp_node_enter(struct rp_node *node, struct rp_record *record, struct rp_moment moment,
                  struct rp_record_ref *out_ref, struct rp_problem *out_problem)
{
    node->moment = moment;
    rp_clock_observe(node, moment); /* an entry may be the first to see that the clock was set */
    return node->entry_key[0] != '\0' ? enter_keyed(node, record, out_ref, out_problem)
                                      : rp_enter_now(node, record, out_ref, out_problem);
}

static bool same_card(const struct rp_rec_station *card, const struct rp_node_config *config)
{
    const struct rp_altitude *altitude = &config->altitude;
    const struct rp_position *position = &config->position;
    bool same_altitude = card->altitude.present == altitude->present &&
                         (!altitude->present || (card->altitude.metres == altitude->metres &&
                                                 card->altitude.source == altitude->source));
    bool same_position = card->position.present == position->present &&
                         (!position->present || (card->position.lat_e6 == position->lat_e6 &&
                                                 card->position.lon_e6 == position->lon_e6));
    return card->role == (uint8_t)config->role && strcmp(card->name, config->name) == 0 &&
           strcmp(card->callsign, config->callsign) == 0 && same_altitude && same_position;
}

/* With a radio not at once: stations that are switched on together know nothing of their links yet,
 * and each card would be sent twice as often as later. Between a twelfth and a sixth of the unit, 5
 * to 10 minutes in a band of 1 %. */
void rp_enter_plan_card(struct rp_node *node)
{
    const struct rp_known_station *known = &node->stations[node->config.station];
    bool said = known->has_card && known->from.origin == node->origin &&
                same_card(&known->card, &node->config);
    rp_time_us least_us = rp_receipts_unit_us(node) / 12;
    rp_time_us spread_us = (rp_time_us)(node->config.seed % 1024) * least_us / 1024;
    rp_time_us wait_us = node->has_radio ? least_us + spread_us : 0;
    node->card_us = said ? RP_NEVER : node->moment.now_us + wait_us;
    rp_enter_card_due(node);
}

void rp_enter_card_due(struct rp_node *node)
{
    const struct rp_node_config *config = &node->config;
    if (node->moment.now_us < node->card_us) {
        return;
    }
    struct rp_record record = {.kind = RP_REC_STATION};
    struct rp_rec_station *card = &record.as.station;
    card->role = (uint8_t)config->role;
    memcpy(card->name, config->name, sizeof card->name);
    memcpy(card->callsign, config->callsign, sizeof card->callsign);
    card->altitude = config->altitude;
    card->position = config->position;
    struct rp_record_ref ref;
    struct rp_problem problem;
    bool entered = rp_enter_now(node, &record, &ref, &problem) == RP_OK;
    node->card_us = entered ? RP_NEVER : node->moment.now_us + rp_receipts_unit_us(node) / 12;
}
