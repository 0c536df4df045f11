/* Finding episodes, records and stations by what a person types. */
#include "node/node_state.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Its place in the list, or the list's end. */
static size_t episode_place(const struct rp_node *node, struct rp_episode_ref ref)
{
    size_t at = 0;
    while (at < node->episode_count &&
           (node->episodes[at].origin != ref.origin || node->episodes[at].number != ref.number)) {
        at++;
    }
    return at;
}

void rp_episodes_learn(struct rp_node *node, struct rp_episode_ref ref, bool exercise)
{
    if (ref.number == 0) {
        return;
    }
    size_t at = episode_place(node, ref);
    if (at == RP_NODE_EPISODES_MAX) {
        at--;
        memmove(&node->episodes[0], &node->episodes[1], at * sizeof node->episodes[0]);
        memmove(&node->episode_exercise[0], &node->episode_exercise[1],
                at * sizeof node->episode_exercise[0]);
        node->episode_count--;
    }
    if (at == node->episode_count) {
        node->episodes[node->episode_count++] = ref;
        node->episode_exercise[at] = false;
    }
    node->episode_exercise[at] = node->episode_exercise[at] || exercise;
}

static int any_exercise(void *arg, const struct rp_record_row *row)
{
    bool *exercise = arg;
    *exercise = *exercise || row->exercise;
    return *exercise ? 1 : 0;
}

int rp_episodes_exercise(struct rp_node *node, struct rp_episode_ref ref)
{
    size_t at = episode_place(node, ref);
    if (at < node->episode_count) {
        return node->episode_exercise[at];
    }
    /* Never heard of, or so many are known that it had to leave the list. */
    bool exercise = false;
    struct rp_record_filter filter = {.episode = ref};
    int code =
        node->config.store->each_record(node->config.store_ctx, &filter, any_exercise, &exercise);
    return code < 0 ? code : exercise;
}

int rp_node_each_episode(struct rp_node *node, rp_episode_visit *visit, void *arg)
{
    for (size_t i = 0; i < node->episode_count; i++) {
        int code = visit(arg, node->episodes[i]);
        if (code != 0) {
            return code;
        }
    }
    return RP_OK;
}

/* A number of 1..max, moving *text past it; 0 when there is none. */
static unsigned long read_number(const char **text, unsigned long max)
{
    char *end;
    if (**text < '0' || **text > '9') {
        return 0;
    }
    unsigned long value = strtoul(*text, &end, 10);
    *text = end;
    return value <= max ? value : 0;
}

/* "/213" at the end: the generation of the log. */
static bool read_generation(const char **text, bool *out_has, uint16_t *out_generation)
{
    *out_has = **text == '/';
    if (*out_has) {
        (*text)++;
        if (**text < '0' || **text > '9') {
            return false;
        }
        char *end;
        unsigned long value = strtoul(*text, &end, 10);
        *text = end;
        *out_generation = (uint16_t)value;
        return value <= RP_GENERATION_MAX;
    }
    return true;
}

struct wanted {
    uint8_t station;
    unsigned long number; /* episode number or sequence; 0: the only episode there is */
    bool has_generation;
    uint16_t generation;
};

static bool read_wanted(const struct rp_node *node, const char *text, char separator,
                        unsigned long max, struct wanted *out_wanted)
{
    struct wanted wanted = {.station = node->config.station};
    unsigned long first = read_number(&text, max);
    if (first != 0 && *text == separator) {
        text++;
        wanted.station = (uint8_t)(first <= RP_STATION_MAX ? first : 0);
        first = read_number(&text, max);
    }
    wanted.number = first;
    bool well = read_generation(&text, &wanted.has_generation, &wanted.generation);
    *out_wanted = wanted;
    return well && *text == '\0' && wanted.station != 0 && wanted.number != 0;
}

static bool matches(const struct wanted *wanted, struct rp_episode_ref ref)
{
    return rp_origin_station(ref.origin) == wanted->station && ref.number == wanted->number &&
           (!wanted->has_generation || (ref.origin & RP_GENERATION_MAX) == wanted->generation);
}

/* The only episode known, or the only one of them that is open. */
static int only_episode(struct rp_node *node, struct rp_episode_ref *out_ref,
                        struct rp_problem *out_problem)
{
    struct rp_episode_ref open = {0, 0};
    size_t open_count = node->episode_count;
    if (node->episode_count == 1) {
        open = node->episodes[0];
    }
    for (size_t i = 0; node->episode_count > 1 && i < node->episode_count; i++) {
        const struct rp_episode *episode;
        const struct rp_holding *holdings;
        size_t count;
        int code =
            rp_node_episode(node, node->episodes[i], node->moment, &episode, &holdings, &count);
        if (code < 0) {
            return rp_problem_set(out_problem, code, "episode", "the episode cannot be read");
        }
        open_count -= episode->closed;
        open = episode->closed ? open : node->episodes[i];
    }
    if (node->episode_count == 0) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "episode",
                              "no episode is known here (example: open hace patient \"A\")");
    }
    if (open_count != 1) {
        return rp_problem_set(out_problem, RP_E_AMBIGUOUS, "episode",
                              "%zu of %zu episodes are open: say which (example: 7-1)", open_count,
                              node->episode_count);
    }
    *out_ref = open;
    return RP_OK;
}

int rp_node_find_episode(struct rp_node *node, const char *text, struct rp_episode_ref *out_ref,
                         struct rp_problem *out_problem)
{
    if (*text == '\0') {
        return only_episode(node, out_ref, out_problem);
    }
    struct wanted wanted;
    if (!read_wanted(node, text, '-', 255, &wanted)) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "episode",
                              "\"%.20s\" is not an episode (example: 7-1, station and number)",
                              text);
    }
    const struct rp_episode_ref *found = NULL;
    for (size_t i = 0; i < node->episode_count; i++) {
        if (!matches(&wanted, node->episodes[i])) {
            continue;
        }
        if (found != NULL) {
            return rp_problem_set(out_problem, RP_E_AMBIGUOUS, "episode",
                                  "two databases opened %s: say %u-%u/%u or %u-%u/%u", text,
                                  wanted.station, found->number, found->origin & RP_GENERATION_MAX,
                                  wanted.station, found->number,
                                  node->episodes[i].origin & RP_GENERATION_MAX);
        }
        found = &node->episodes[i];
    }
    if (found == NULL) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "episode",
                              "episode %s is not known here; the board lists them", text);
    }
    *out_ref = *found;
    return RP_OK;
}

struct record_search {
    struct wanted wanted;
    uint32_t seq;
    int count;
    struct rp_record_ref ref;
};

static int search_run(void *arg, uint16_t origin, uint32_t first, uint32_t last)
{
    struct record_search *search = arg;
    bool fits = rp_origin_station(origin) == search->wanted.station && first <= search->seq &&
                search->seq <= last &&
                (!search->wanted.has_generation ||
                 (origin & RP_GENERATION_MAX) == search->wanted.generation);
    if (fits) {
        search->count++;
        search->ref = (struct rp_record_ref){origin, search->seq};
    }
    return 0;
}

static int nothing(void *arg, const struct rp_record_row *row)
{
    (void)arg;
    (void)row;
    return 0;
}

int rp_node_find_record(struct rp_node *node, const char *text, struct rp_record_ref *out_ref,
                        struct rp_problem *out_problem)
{
    struct record_search search = {0};
    if (!read_wanted(node, text, ':', RP_SEQ_MAX, &search.wanted)) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "record",
                              "\"%.20s\" is not a record (example: 7:42, station and sequence)",
                              text);
    }
    search.seq = (uint32_t)search.wanted.number;
    bool own = search.wanted.station == node->config.station && !search.wanted.has_generation;
    search.ref = (struct rp_record_ref){node->origin, search.seq};
    if (!own) {
        int code = node->config.store->each_run(node->config.store_ctx, search_run, &search);
        if (code < 0) {
            return rp_problem_set(out_problem, code, "database", "the log cannot be read");
        }
        if (search.count > 1) {
            return rp_problem_set(out_problem, RP_E_AMBIGUOUS, "record",
                                  "two logs of station %u hold %s: add the generation, as the "
                                  "log shows it (example: %s/%u)",
                                  search.wanted.station, text, text,
                                  search.ref.origin & RP_GENERATION_MAX);
        }
    }
    if ((!own && search.count == 0) ||
        node->config.store->get_record(node->config.store_ctx, search.ref, nothing, NULL) < 0) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "record",
                              "record %s is not held here; the log lists them", text);
    }
    *out_ref = search.ref;
    return RP_OK;
}

const char *rp_node_station_name(struct rp_node *node, uint8_t station)
{
    if (station >= RP_STATION_MIN && station <= RP_STATION_MAX &&
        node->stations[station].has_card && node->stations[station].card.name[0] != '\0') {
        return node->stations[station].card.name;
    }
    snprintf(node->name_scratch, sizeof node->name_scratch, "station %u", station);
    return node->name_scratch;
}
