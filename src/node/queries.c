/* What a station can tell: episodes, deliveries, stations, its own state. */
#include "node/node_state.h"
#include "radio/plan/settings.h"

#include <stdio.h>
#include <string.h>

struct folding {
    struct rp_node *node;
    struct rp_episode *episode;
};

static void note_origin(struct rp_node *node, uint16_t origin)
{
    for (size_t i = 0; i < node->holding_count; i++) {
        if (node->holdings[i].origin == origin) {
            return;
        }
    }
    if (node->holding_count < RP_NODE_LOGS_MAX) {
        struct rp_holding *holding = &node->holdings[node->holding_count++];
        struct rp_mesh_holding held;
        rp_mesh_holding(node->mesh, origin, &held);
        *holding = (struct rp_holding){origin, held.held, held.known};
    }
}

static int fold_row(void *arg, const struct rp_record_row *row)
{
    struct folding *folding = arg;
    struct rp_node *node = folding->node;
    struct rp_record_ref ref = {row->origin, row->seq_first};
    note_origin(node, row->origin);
    if (rp_record_decode(row->body, row->origin, &node->record) == RP_OK) {
        rp_episode_add(folding->episode, &node->record, ref);
    } else {
        rp_episode_add_unreadable(folding->episode, ref, row->time_s, row->exercise);
    }
    return 0;
}

int rp_node_episode(struct rp_node *node, struct rp_episode_ref ref, struct rp_moment moment,
                    const struct rp_episode **out_episode, const struct rp_holding **out_holdings,
                    size_t *out_holding_count)
{
    struct folding folding = {node, &node->episode};
    struct rp_record_filter filter = {.episode = ref};
    rp_episode_init(&node->episode, ref);
    node->holding_count = 0;
    note_origin(node, ref.origin);
    int code = node->config.store->each_record(node->config.store_ctx, &filter, fold_row, &folding);
    if (code < 0) {
        return code;
    }
    rp_episode_finish(&node->episode, rp_net_seconds(node, moment));
    *out_episode = &node->episode;
    *out_holdings = node->holdings;
    *out_holding_count = node->holding_count;
    return RP_OK;
}

int rp_node_each_record(struct rp_node *node, const struct rp_record_filter *filter,
                        rp_record_visit *visit, void *arg)
{
    return node->config.store->each_record(node->config.store_ctx, filter, visit, arg);
}

int rp_node_record(struct rp_node *node, struct rp_record_ref ref, rp_record_visit *visit,
                   void *arg)
{
    return node->config.store->get_record(node->config.store_ctx, ref, visit, arg);
}

/* Answers, to tell "seen by NAME". When full, later answers are not shown as seen; the record
 * itself is in the log. */
#define SEEN_MAX 256

struct seen {
    struct rp_record_ref about;
    uint32_t time_s;
    char by[RP_NAME_LEN + 1];
};

struct deliveries {
    struct rp_node *node;
    rp_delivery_visit *visit;
    void *arg;
    size_t seen_count;
    struct seen seen[SEEN_MAX];
};

static int collect_answer(void *arg, const struct rp_record_row *row)
{
    struct deliveries *all = arg;
    struct rp_record *record = &all->node->record;
    if (all->seen_count < SEEN_MAX && rp_record_decode(row->body, row->origin, record) == RP_OK) {
        struct seen *seen = &all->seen[all->seen_count++];
        seen->about = record->as.answer.about;
        seen->time_s = record->time_s;
        memcpy(seen->by, record->by, sizeof seen->by);
    }
    return 0;
}

static const struct seen *first_seen(const struct deliveries *all, struct rp_record_ref ref)
{
    const struct seen *first = NULL;
    for (size_t i = 0; i < all->seen_count; i++) {
        const struct seen *seen = &all->seen[i];
        bool about = seen->about.origin == ref.origin && seen->about.seq == ref.seq;
        if (about && (first == NULL || seen->time_s < first->time_s)) {
            first = seen;
        }
    }
    return first;
}

static void set_state(struct rp_delivery_row *out, const struct rp_record_row *row)
{
    const struct {
        enum rp_delivery state;
        int64_t at_s;
    } steps[] = {
        {RP_DEL_AT_BASE, row->base_s},
        {RP_DEL_HEARD, row->heard_s},
        {RP_DEL_ON_AIR, row->aired_s},
        {RP_DEL_QUEUED, row->stored_s},
    };
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        if (steps[i].at_s != 0 || steps[i].state == RP_DEL_QUEUED) {
            out->state = steps[i].state;
            out->state_s = steps[i].at_s;
            return;
        }
    }
}

static int deliver_row(void *arg, const struct rp_record_row *row)
{
    struct deliveries *all = arg;
    if (rp_origin_station(row->origin) != all->node->config.station) {
        return 0;
    }
    struct rp_delivery_row out = {
        .ref = {row->origin, row->seq_first},
        .episode = row->episode,
        .kind = row->kind,
        .urgent = row->urgent,
        .exercise = row->exercise,
        .entered_s = row->time_s,
        .station = row->heard_station,
    };
    set_state(&out, row);
    const struct seen *seen = first_seen(all, out.ref);
    if (seen != NULL) {
        out.state = RP_DEL_SEEN;
        out.state_s = (int64_t)seen->time_s + RP_NET_EPOCH_UNIX_S;
        memcpy(out.seen_by, seen->by, sizeof out.seen_by);
    }
    return all->visit(all->arg, &out);
}

int rp_node_each_delivery(struct rp_node *node, struct rp_episode_ref episode,
                          rp_delivery_visit *visit, void *arg)
{
    const struct rp_store_ops *store = node->config.store;
    struct deliveries all = {.node = node, .visit = visit, .arg = arg};
    struct rp_record_filter answers = {.episode = episode, .kind = RP_REC_ANSWER};
    int code = store->each_record(node->config.store_ctx, &answers, collect_answer, &all);
    if (code < 0) {
        return code;
    }
    struct rp_record_filter own = {.episode = episode};
    return store->each_record(node->config.store_ctx, &own, deliver_row, &all);
}

int rp_node_each_station(struct rp_node *node, rp_station_visit *visit, void *arg)
{
    struct rp_mesh_neighbour neighbours[32];
    size_t count = rp_mesh_neighbours(node->mesh, neighbours, 32);
    for (uint8_t station = RP_STATION_MIN; station <= RP_STATION_MAX; station++) {
        struct rp_station_row row = {.station = station};
        const struct rp_known_station *known = &node->stations[station];
        row.has_card = known->has_card;
        row.role = (enum rp_role)known->card.role;
        memcpy(row.name, known->card.name, sizeof row.name);
        row.altitude = known->card.altitude;
        row.position = known->card.position;
        for (size_t i = 0; i < count; i++) {
            if (neighbours[i].station == station) {
                row.is_neighbour = true;
                row.neighbour = neighbours[i];
            }
        }
        int code = row.has_card || row.is_neighbour ? visit(arg, &row) : 0;
        if (code != 0) {
            return code;
        }
    }
    return RP_OK;
}

/* The engine tells of a twin every ten minutes at most; three times of it. */
#define SAME_STATION_US (1800 * (rp_time_us)1000000)

/* Counts the records of this station's logs, also of those before a restored database. */
struct waiting {
    uint8_t station;
    uint32_t count;
};

static int count_row(void *arg, const struct rp_record_row *row)
{
    struct waiting *waiting = arg;
    waiting->count += rp_origin_station(row->origin) == waiting->station;
    return 0;
}

/* Silence is told when it is longer than a net is quiet by itself. A station that starts speaks
 * within seconds and is answered within minutes; later digests come every hour and are left out
 * when another's says the same: in simulated days of two stations the longest quiet was 6.2 hours.
 * Own choices. */
#define SILENT_FIRST_S 600
#define SILENT_LATER_S (12 * 3600)

static void find_silence(const struct rp_node *node, rp_time_us now_us,
                         struct rp_node_status *status)
{
    struct rp_mesh_neighbour neighbours[32];
    size_t count = rp_mesh_neighbours(node->mesh, neighbours, 32);
    rp_time_us since_us = node->ready_us;
    for (size_t i = 0; i < count; i++) {
        since_us = neighbours[i].heard_us > since_us ? neighbours[i].heard_us : since_us;
    }
    status->heard_any = count > 0;
    if (status->radio_ready && node->ready_us != RP_NEVER) {
        int64_t silent_s = (now_us - since_us) / 1000000;
        int64_t least_s = count > 0 ? SILENT_LATER_S : SILENT_FIRST_S;
        status->silent_s = silent_s >= least_s ? (uint32_t)silent_s : 0;
    }
}

void rp_node_status(struct rp_node *node, struct rp_moment moment,
                    struct rp_node_status *out_status)
{
    struct rp_node_status status = {
        .station = node->config.station,
        .origin = node->origin,
        .role = node->config.role,
        .exercise = node->config.exercise,
        .clock_synced = node->clock.quality < 15,
        .clock_back_s = node->clock.back_s,
        .clock_back_at_s = node->clock.back_at_s,
        .radio_open = node->line_open,
        .radio_ready = node->line_open && node->fault_code == 0 &&
                       (node->in_flight || rp_radio_ready(&node->radio)),
        .same_station = node->same_station_us != RP_NEVER &&
                        moment.now_us - node->same_station_us < SAME_STATION_US,
        .restarted_log = node->restarted_log,
        .fault_code = node->fault_code,
        .promised_s = node->promised_s,
        .battery_pct = node->watch.battery_pct,
        .airtime_left_ms = rp_mesh_airtime_left_us(node->mesh, false, moment.now_us) / 1000,
        .airtime_left_urgent_ms = rp_mesh_airtime_left_us(node->mesh, true, moment.now_us) / 1000,
        .unreadable = node->unreadable,
        .store_failures = node->store_failures,
    };
    const struct rp_radio_counters *counters = &node->radio.counters;
    status.radio = (struct rp_node_modem){
        .ladder = node->has_radio ? rp_radio_ladder(&node->radio) : "",
        .restarts = counters->restarts,
        .timeouts = counters->timeouts,
        .resets = counters->resets,
        .line_resets = counters->line_resets,
        .reopens = counters->reopens,
        .faults = counters->faults,
        .tx_unknown = counters->tx_unknown,
        .tx_refused = counters->tx_refused,
        .rx_bad = counters->rx_bad,
    };
    status.settings_said = node->has_radio ? rp_radio_settings_said(&node->radio)->known : 0;
    memcpy(status.fault, node->fault, sizeof status.fault);
    memcpy(status.modem, node->config.modem, sizeof status.modem);
    rp_mesh_counters(node->mesh, &status.mesh);
    status.settings_hash = rp_settings_hash(&node->config.net.profile);
    status.budget_ms = node->config.net.duty_permille * 3600;
    find_silence(node, moment.now_us, &status);
    if (node->config.role != RP_ROLE_BASE) {
        struct waiting waiting = {node->config.station, 0};
        struct rp_record_filter filter = {.not_at_base = true};
        node->config.store->each_record(node->config.store_ctx, &filter, count_row, &waiting);
        status.queued = waiting.count;
    }
    *out_status = status;
}

#define SHEET_KEY_LEN 24

static void sheet_key(struct rp_episode_ref ref, char out_key[SHEET_KEY_LEN])
{
    snprintf(out_key, SHEET_KEY_LEN, "sheet.%04x.%02x", ref.origin, ref.number);
}

int rp_node_last_sheet(struct rp_node *node, struct rp_episode_ref ref)
{
    char key[SHEET_KEY_LEN];
    uint8_t bytes[2] = {0, 0};
    sheet_key(ref, key);
    int len = node->config.store->get_value(node->config.store_ctx, key, bytes, sizeof bytes);
    if (len < 0 && len != RP_E_NOT_FOUND) {
        return len; /* no number is given twice */
    }
    return len == 2 ? bytes[0] << 8 | bytes[1] : 0;
}

int rp_node_next_sheet(struct rp_node *node, struct rp_episode_ref ref)
{
    char key[SHEET_KEY_LEN];
    int number = rp_node_last_sheet(node, ref);
    if (number < 0) {
        return number;
    }
    number = number < 0xffff ? number + 1 : number;
    uint8_t bytes[2] = {(uint8_t)(number >> 8), (uint8_t)number};
    sheet_key(ref, key);
    int code = node->config.store->set_value(node->config.store_ctx, key,
                                             (struct rp_view){bytes, sizeof bytes});
    return code < 0 ? code : number;
}

uint64_t rp_node_revision(const struct rp_node *node)
{
    return node->revision;
}
