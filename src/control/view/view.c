/* "view": what the pages show, as data. With an episode: all of it; without: every episode's head,
 * the stations and this station. Times are net seconds; epoch_unix_s + time is unix time. */
#include <string.h>

#include "control/record/lines.h"
#include "control/view/view.h"
#include "handover/forms.h"

struct list {
    struct rp_show *show;
    json_t *rows;
};

/* Those that need a person most come first. */
static void insert_head(json_t *rows, json_t *row)
{
    size_t at = 0;
    while (at < json_array_size(rows) && !rp_view_needs_before(row, json_array_get(rows, at))) {
        at++;
    }
    json_array_insert_new(rows, at, row);
}

static int add_head(void *arg, struct rp_episode_ref ref)
{
    struct list *list = arg;
    const struct rp_episode *episode;
    struct rp_alarms alarms;
    int code = rp_view_watch(list->show, ref, &episode, &alarms);
    if (code == RP_OK) {
        json_t *row = json_object();
        rp_view_head(list->show, episode, row);
        rp_view_needs(list->show, episode, &alarms, row);
        insert_head(list->rows, row);
    }
    return code;
}

static int add_station(void *arg, const struct rp_station_row *row)
{
    struct list *list = arg;
    json_t *json = json_pack("{s:i,s:s,s:s,s:b}", "station", row->station, "name", row->name,
                             "role", row->has_card ? rp_word_of(rp_words_role, (int)row->role) : "",
                             "neighbour", row->is_neighbour);
    if (row->altitude.present) {
        json_object_set_new(json, "altitude_m", json_integer(row->altitude.metres));
    }
    if (row->is_neighbour) {
        const struct rp_mesh_neighbour *link = &row->neighbour;
        int64_t age_us = list->show->entry->moment.now_us - link->heard_us;
        json_object_set_new(json, "heard_age_s", json_integer(age_us > 0 ? age_us / 1000000 : 0));
        json_object_set_new(json, "in_pct", json_integer(link->in_pct));
        json_object_set_new(json, "out_pct", json_integer(link->out_pct));
        json_object_set_new(json, "base", json_boolean(link->is_base));
        if (link->has_signal) {
            json_object_set_new(json, "rssi_dbm", json_integer(link->rssi_dbm));
            json_object_set_new(json, "snr_db", json_integer(link->snr_db));
        }
        if (link->battery_pct != 127) {
            json_object_set_new(json, "battery_pct", json_integer(link->battery_pct));
        }
    }
    json_array_append_new(list->rows, json);
    return 0;
}

static void add_self(struct rp_show *show)
{
    struct rp_entry *entry = show->entry;
    const struct rp_node_config *config = rp_node_config(entry->node);
    struct rp_node_status status;
    rp_node_status(entry->node, entry->moment, &status);
    json_object_set_new(
        show->data, "self",
        json_pack("{s:i,s:s,s:s,s:b,s:b,s:I,s:I,s:b,s:b,s:s,s:i,s:i,s:i,s:b,s:i}", "station",
                  status.station, "name", config->name, "role",
                  rp_word_of(rp_words_role, (int)status.role), "exercise", status.exercise,
                  "clock_synced", status.clock_synced, "clock_back_s",
                  (json_int_t)status.clock_back_s, "clock_back_at_s",
                  (json_int_t)status.clock_back_at_s, "radio_open", status.radio_open,
                  "radio_ready", status.radio_ready, "fault", status.fault, "queued",
                  (int)status.queued, "airtime_left_ms", (int)status.airtime_left_ms,
                  "airtime_left_urgent_ms", (int)status.airtime_left_urgent_ms, "same_station",
                  status.same_station, "store_failures", (int)status.store_failures));
}

static void add_place(struct rp_show *show)
{
    const struct rp_node_config *config = rp_node_config(show->entry->node);
    json_t *self = json_object_get(show->data, "self");
    if (config->altitude.present) {
        json_object_set_new(self, "altitude_m", json_integer(config->altitude.metres));
    }
    if (config->position.present) {
        json_object_set_new(self, "lat_e6", json_integer(config->position.lat_e6));
        json_object_set_new(self, "lon_e6", json_integer(config->position.lon_e6));
    }
}

/* The names in the protocol table, so that none need be typed. No dose: that is the clinician's. */
static void add_drugs(struct rp_show *show)
{
    const struct rp_protocol *protocol = rp_node_config(show->entry->node)->protocol;
    json_t *rows = json_array();
    for (size_t i = 0; protocol != NULL && i < protocol->count; i++) {
        json_array_append_new(rows, json_string(protocol->drugs[i].name));
    }
    json_object_set_new(show->data, "drugs", rows);
}

/* In which forms the handover can be had. */
static void add_forms(struct rp_show *show)
{
    json_t *rows = json_array();
    for (size_t i = 0; rp_form_at(i) != NULL; i++) {
        const struct rp_form *form = rp_form_at(i);
        json_array_append_new(rows, json_pack("{s:s,s:s,s:b}", "form", form->word, "purpose",
                                              form->purpose, "sheet", form->is_sheet));
    }
    json_array_append_new(rows, json_pack("{s:s,s:s,s:b}", "form", RP_LINES_WORD, "purpose",
                                          RP_LINES_PURPOSE, "sheet", false));
    json_object_set_new(show->data, "forms", rows);
}

/* And in which languages. */
static void add_languages(struct rp_show *show)
{
    json_t *rows = json_array();
    for (size_t i = 0; i < rp_texts_count; i++) {
        const char *const *words = rp_texts_all[i]->words;
        json_array_append_new(rows, json_pack("{s:s,s:s}", "code", words[RP_TX_LANGUAGE_CODE],
                                              "name", words[RP_TX_LANGUAGE_NAME]));
    }
    json_object_set_new(show->data, "languages", rows);
}

static int view_all(struct rp_show *show)
{
    struct list episodes = {show, json_array()};
    struct list stations = {show, json_array()};
    json_object_set_new(show->data, "episodes", episodes.rows);
    json_object_set_new(show->data, "stations", stations.rows);
    add_drugs(show);
    add_forms(show);
    add_languages(show);
    int code = rp_node_each_episode(show->entry->node, add_head, &episodes);
    return code < 0 ? code : rp_node_each_station(show->entry->node, add_station, &stations);
}

static int view_one(struct rp_show *show)
{
    struct rp_episode_ref ref;
    const struct rp_episode *episode;
    struct rp_alarms alarms;
    int code = rp_entry_episode(show->entry, &ref);
    if (code == RP_OK) {
        code = rp_view_watch(show, ref, &episode, &alarms);
    }
    if (code < 0) {
        return code;
    }
    json_t *row = json_object();
    json_object_set_new(show->data, "episode", row);
    rp_view_head(show, episode, row);
    rp_view_needs(show, episode, &alarms, row);
    rp_view_detail(show, episode, row);
    rp_view_request(episode, row);
    rp_view_assessed(show, episode, row);
    return rp_view_delivery(show, ref, row);
}

int rp_show_view(struct rp_show *show)
{
    struct rp_entry *entry = show->entry;
    json_object_set_new(show->data, "now_s", json_integer(entry->now_s));
    json_object_set_new(show->data, "epoch_unix_s", json_integer(RP_NET_EPOCH_UNIX_S));
    add_self(show);
    add_place(show);
    return rp_entry_peek(entry) == NULL ? view_all(show) : view_one(show);
}
