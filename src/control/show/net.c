/* The net as this station sees it, and this station itself. */
#include <stdio.h>
#include <string.h>

#include "control/show/show.h"
#include "radio/plan/settings.h"

void rp_show_settings(struct rp_text *text, const struct rp_radio_profile *profile)
{
    rp_text_add(text, "%04x: %u.%06u MHz, SF%u, %u kHz, 4/%u, sync 0x%02x, %d dBm",
                rp_settings_hash(profile), (unsigned)(profile->freq_hz / 1000000),
                (unsigned)(profile->freq_hz % 1000000), profile->spreading_factor,
                (unsigned)(profile->bandwidth_hz / 1000), profile->coding_rate, profile->sync_word,
                profile->power_dbm);
}

void rp_show_silence(struct rp_text *text, const struct rp_node_config *config,
                     const struct rp_node_status *status)
{
    char span[24];
    if (status->silent_s == 0) {
        return;
    }
    rp_text_add(text, "WARNING nothing heard for %s: do the settings differ? Compare by voice: ",
                rp_show_span(status->silent_s, span));
    rp_show_settings(text, &config->net.profile);
    rp_text_add(text, "%s\n", config->net.profile.text_armour ? ", text armour" : "");
    if (status->mesh.refused_auth > 0) {
        rp_text_add(text, "WARNING %u frames of another net, or of another secret, were heard\n",
                    status->mesh.refused_auth);
    }
}

struct stations {
    struct rp_show *show;
    json_t *array;
};

/* What a neighbour says of its settings; that it is heard means that frequency, bandwidth and
 * spreading factor agree. */
static bool settings_differ(const struct rp_show *show, const struct rp_mesh_neighbour *neighbour)
{
    const struct rp_net *net = &rp_node_config(show->entry->node)->net;
    return neighbour->has_settings && neighbour->settings_hash != rp_settings_hash(&net->profile);
}

static int show_station(void *arg, const struct rp_station_row *row)
{
    struct stations *stations = arg;
    struct rp_show *show = stations->show;
    char span[24];
    bool self = row->station == rp_node_config(show->entry->node)->station;
    rp_text_add(show->text, "%-3u %-20s %-6s", row->station, row->has_card ? row->name : "no card",
                row->has_card ? rp_word_of(rp_words_role, row->role) : "?");
    json_t *json = json_pack("{s:i,s:s,s:s,s:b}", "station", row->station, "name", row->name,
                             "role", row->has_card ? rp_word_of(rp_words_role, row->role) : "",
                             "neighbour", row->is_neighbour);
    if (self) {
        rp_text_add(show->text, " this station");
    } else if (row->is_neighbour) {
        int64_t age_us = show->entry->moment.now_us - row->neighbour.heard_us;
        uint32_t age_s = age_us > 0 ? (uint32_t)(age_us / 1000000) : 0;
        rp_text_add(show->text, " heard %s ago, %u %% in, %u %% out", rp_show_span(age_s, span),
                    row->neighbour.in_pct, row->neighbour.out_pct);
        if (row->neighbour.has_signal) {
            rp_text_add(show->text, ", %d dBm, SNR %d dB", row->neighbour.rssi_dbm,
                        row->neighbour.snr_db);
        }
        if (row->neighbour.battery_pct <= 100) {
            rp_text_add(show->text, ", battery %u %%", row->neighbour.battery_pct);
            json_object_set_new(json, "battery_pct", json_integer(row->neighbour.battery_pct));
        }
        bool differs = settings_differ(show, &row->neighbour);
        if (differs) {
            rp_text_add(show->text,
                        ", SETTINGS DIFFER: its profile is %04x, compare power, coding "
                        "rate, preamble and armour by ridgepost net show",
                        row->neighbour.settings_hash);
        }
        json_object_set_new(json, "settings_differ", json_boolean(differs));
        json_object_set_new(json, "heard_age_s", json_integer(age_s));
        json_object_set_new(json, "in_pct", json_integer(row->neighbour.in_pct));
        json_object_set_new(json, "out_pct", json_integer(row->neighbour.out_pct));
    } else {
        rp_text_add(show->text, " over others");
    }
    rp_text_add(show->text, "\n");
    json_array_append_new(stations->array, json);
    return 0;
}

int rp_show_stations(struct rp_show *show)
{
    struct stations stations = {show, json_array()};
    json_object_set_new(show->data, "stations", stations.array);
    int code = rp_node_each_station(show->entry->node, show_station, &stations);
    struct rp_node_status status;
    rp_node_status(show->entry->node, show->entry->moment, &status);
    rp_show_silence(show->text, rp_node_config(show->entry->node), &status);
    json_object_set_new(show->data, "silent_s", json_integer(status.silent_s));
    return code;
}

/* What the modem itself says was read back; one that says something else is never ready. */
static void show_said(struct rp_text *text, const struct rp_node_status *status)
{
    if (!status->radio_ready) {
        return;
    }
    rp_text_add(text, status->settings_said != 0
                          ? "        the modem says the same of"
                          : "        this modem does not tell its settings: compare them by hand");
    for (unsigned i = 0; i < RP_SETTING_COUNT; i++) {
        if ((status->settings_said >> i & 1) != 0) {
            rp_text_add(text, " %s", rp_setting_name((enum rp_setting)i));
        }
    }
    rp_text_add(text, "\n");
}

static void status_text(struct rp_text *text, const struct rp_node_config *config,
                        const struct rp_node_status *status, uint32_t now_s)
{
    char time[24], span[24];
    rp_text_add(text, "%sstation %u %s (%s), log %u\n", status->exercise ? "EXERCISE  " : "",
                status->station, config->name, rp_word_of(rp_words_role, (int)status->role),
                status->origin & 511u);
    rp_text_add(text, "clock   %s\n",
                status->clock_synced ? "synchronised" : "NOT SYNCHRONISED: entries are marked");
    if (status->clock_back_s > 0) {
        rp_text_add(text, "        SET BACK by %s, found %s: compare with a watch\n",
                    rp_show_span(status->clock_back_s, span),
                    rp_show_time(now_s, status->clock_back_at_s, time));
    }
    if (status->battery_pct <= 100) {
        rp_text_add(text, "battery %u %%\n", status->battery_pct);
    }
    rp_text_add(text, "radio   %s%s%s%s\n", status->modem[0] ? status->modem : "none configured",
                status->modem[0] == '\0' ? ": records are kept"
                : status->radio_ready    ? " ready"
                : status->radio_open     ? " starting"
                                         : " NOT CONNECTED: records are kept and go later",
                status->fault_code != 0 ? "; " : "", status->fault);
    rp_text_add(text, "profile ");
    rp_show_settings(text, &config->net.profile);
    rp_text_add(text, ", band %s\n", config->net.band[0] != '\0' ? config->net.band : "not chosen");
    if (status->modem[0] != '\0') {
        show_said(text, status);
        const struct rp_node_modem *radio = &status->radio;
        rp_text_add(text,
                    "modem   %s; %u restarts, %u time-outs, %u soft resets, %u line resets, "
                    "%u re-opened, %u faults\n",
                    radio->ladder, radio->restarts, radio->timeouts, radio->resets,
                    radio->line_resets, radio->reopens, radio->faults);
        rp_text_add(text, "        %u frames perhaps sent, %u refused, %u received damaged\n",
                    radio->tx_unknown, radio->tx_refused, radio->rx_bad);
    }
    rp_text_add(text, "queue   %u records not known to be at base\n", status->queued);
    if (status->promised_s >= now_s && status->promised_s != 0) {
        rp_text_add(text, "promise next report due by %s\n",
                    rp_show_time(now_s, status->promised_s, time));
    }
    rp_text_add(text, "airtime %u.%u s left this hour, %u.%u s for urgent\n",
                status->airtime_left_ms / 1000, status->airtime_left_ms / 100 % 10,
                status->airtime_left_urgent_ms / 1000, status->airtime_left_urgent_ms / 100 % 10);
    rp_text_add(text, "frames  %u sent, %u heard; %u refused (seal %u, form %u)\n",
                status->mesh.frames_out, status->mesh.frames_in,
                status->mesh.refused_auth + status->mesh.refused_format, status->mesh.refused_auth,
                status->mesh.refused_format);
    rp_show_silence(text, config, status);
    if (status->same_station) {
        rp_text_add(text,
                    "WARNING another live station uses number %u: give one of them another "
                    "number; nothing is lost meanwhile\n",
                    status->station);
    }
    if (status->restarted_log) {
        rp_text_add(text, "NOTE    this database was older than the net remembers: a new log was "
                          "begun\n");
    }
    if (status->store_failures > 0) {
        rp_text_add(text, "WARNING %u writes to the database failed\n", status->store_failures);
    }
    if (status->unreadable > 0) {
        rp_text_add(text, "NOTE    %u records are of a newer version and kept unread\n",
                    status->unreadable);
    }
}

static json_t *said_json(const struct rp_node_status *status)
{
    json_t *names = json_array();
    for (unsigned i = 0; i < RP_SETTING_COUNT; i++) {
        if ((status->settings_said >> i & 1) != 0) {
            json_array_append_new(names, json_string(rp_setting_name((enum rp_setting)i)));
        }
    }
    return names;
}

int rp_show_status(struct rp_show *show)
{
    struct rp_node_status status;
    rp_node_status(show->entry->node, show->entry->moment, &status);
    status_text(show->text, rp_node_config(show->entry->node), &status, show->entry->now_s);
    json_t *data = json_pack(
        "{s:i,s:i,s:s,s:b,s:b,s:b,s:b,s:b,s:b,s:s,s:i,s:i,s:i,s:i,s:i}", "station", status.station,
        "origin", status.origin, "role", rp_word_of(rp_words_role, (int)status.role), "exercise",
        status.exercise, "clock_synced", status.clock_synced, "radio_open", status.radio_open,
        "radio_ready", status.radio_ready, "same_station", status.same_station, "restarted_log",
        status.restarted_log, "fault", status.fault, "queued", (int)status.queued,
        "airtime_left_ms", (int)status.airtime_left_ms, "airtime_left_urgent_ms",
        (int)status.airtime_left_urgent_ms, "store_failures", (int)status.store_failures,
        "unreadable", (int)status.unreadable);
    const struct rp_node_config *config = rp_node_config(show->entry->node);
    char hash[8];
    snprintf(hash, sizeof hash, "%04x", status.settings_hash);
    json_object_set_new(data, "settings_hash", json_string(hash));
    json_object_set_new(data, "clock_back_s", json_integer(status.clock_back_s));
    json_object_set_new(data, "clock_back_at_s", json_integer(status.clock_back_at_s));
    json_object_set_new(data, "promised_s", json_integer(status.promised_s));
    if (status.battery_pct <= 100) {
        json_object_set_new(data, "battery_pct", json_integer(status.battery_pct));
    }
    json_object_set_new(data, "band", json_string(config->net.band));
    json_object_set_new(data, "settings_read_back", said_json(&status));
    json_object_set_new(data, "silent_s", json_integer(status.silent_s));
    const struct rp_mesh_counters *mesh = &status.mesh;
    rp_show_place(show);
    json_object_set_new(
        data, "frames",
        json_pack("{s:i,s:i,s:i,s:i,s:i,s:i,s:i,s:i,s:i,s:I}", "in", (int)mesh->frames_in, "out",
                  (int)mesh->frames_out, "refused_auth", (int)mesh->refused_auth, "refused_format",
                  (int)mesh->refused_format, "duplicates", (int)mesh->duplicates, "digests_out",
                  (int)mesh->digests_out, "vectors_out", (int)mesh->vectors_out, "requests_out",
                  (int)mesh->requests_out, "answers_out", (int)mesh->answers_out, "airtime_us",
                  (json_int_t)mesh->airtime_out_us));
    const struct rp_node_modem *radio = &status.radio;
    json_object_set_new(data, "modem",
                        json_pack("{s:s,s:i,s:i,s:i,s:i,s:i,s:i,s:i,s:i,s:i}", "ladder",
                                  radio->ladder, "restarts", (int)radio->restarts, "timeouts",
                                  (int)radio->timeouts, "resets", (int)radio->resets, "line_resets",
                                  (int)radio->line_resets, "reopens", (int)radio->reopens, "faults",
                                  (int)radio->faults, "tx_unknown", (int)radio->tx_unknown,
                                  "tx_refused", (int)radio->tx_refused, "rx_bad",
                                  (int)radio->rx_bad));
    json_object_update(show->data, data);
    json_decref(data);
    return RP_OK;
}
