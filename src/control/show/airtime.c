/* The airtime of this hour, and what a report costs and reaches at each spreading factor. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "control/show/show.h"
#include "radio/plan/link.h"

/* A sealed report of vital signs takes 39 to 66 bytes (the golden frames of the wire format). */
#define REPORT_BYTES 48

/* One line of the table. */
struct cost {
    uint8_t spreading_factor;
    bool possible; /* by this modem */
    uint32_t airtime_us;
    uint32_t per_hour;   /* so many fit into the routine budget */
    uint32_t share_ppm;  /* of the whole budget */
    uint32_t longest_ms; /* the band's bound when the report is longer than it; else 0 */
    uint32_t range_m;    /* an estimate */
};

static uint32_t bound_ms(const struct rp_band *band)
{
    if (band == NULL) {
        return 0;
    }
    return band->dwell_ms_max != 0 ? band->dwell_ms_max : band->transmission_ms_max;
}

static struct cost cost_of(const struct rp_node *node, uint8_t spreading_factor, size_t len)
{
    const struct rp_node_config *config = rp_node_config(node);
    struct cost cost = {.spreading_factor = spreading_factor};
    cost.possible = rp_node_frame_airtime(node, spreading_factor, len, &cost.airtime_us) == RP_OK;
    if (!cost.possible) {
        return cost;
    }
    uint64_t budget_us = (uint64_t)config->net.duty_permille * 3600000;
    uint64_t routine_us = budget_us * (100u - config->net.urgent_reserve_pct) / 100;
    cost.per_hour = (uint32_t)(routine_us / cost.airtime_us);
    cost.share_ppm = (uint32_t)((uint64_t)cost.airtime_us * 1000000 / budget_us);
    uint32_t most_ms = bound_ms(rp_band_find(config->net.band));
    cost.longest_ms = most_ms != 0 && cost.airtime_us > (uint64_t)most_ms * 1000 ? most_ms : 0;
    int16_t needs_dbm;
    if (rp_link_sensitivity_dbm(spreading_factor, config->net.profile.bandwidth_hz, &needs_dbm)) {
        double gain_dbi = (config->antenna_gain_cdbd + RP_DIPOLE_GAIN_CDBI) / 100.0;
        cost.range_m = (uint32_t)rp_link_ground_range_m(config->net.profile.power_dbm +
                                                        2 * gain_dbi - needs_dbm);
    }
    return cost;
}

static void cost_text(struct rp_text *text, const struct cost *cost, bool present)
{
    if (!cost->possible) {
        rp_text_add(text, "SF%-3u not with this modem and these settings\n",
                    cost->spreading_factor);
        return;
    }
    rp_text_add(text, "SF%-2u%s %6u.%u ms  %3u.%03u %%  %6u  %3u.%u km", cost->spreading_factor,
                present ? "*" : " ", (cost->airtime_us + 50) / 1000,
                (cost->airtime_us + 50) / 100 % 10, cost->share_ppm / 10000,
                cost->share_ppm / 10 % 1000, cost->per_hour, cost->range_m / 1000,
                cost->range_m / 100 % 10);
    if (cost->longest_ms > 0) {
        rp_text_add(text, "  NOT ALLOWED: above %u ms", cost->longest_ms);
    }
    rp_text_add(text, "\n");
}

static json_t *cost_json(const struct cost *cost)
{
    json_t *json = json_pack("{s:i,s:b}", "spreading_factor", cost->spreading_factor, "possible",
                             cost->possible);
    if (cost->possible) {
        json_object_set_new(json, "airtime_us", json_integer(cost->airtime_us));
        json_object_set_new(json, "share_ppm", json_integer(cost->share_ppm));
        json_object_set_new(json, "per_hour", json_integer(cost->per_hour));
        json_object_set_new(json, "allowed", json_boolean(cost->longest_ms == 0));
        json_object_set_new(json, "range_estimate_m", json_integer(cost->range_m));
    }
    return json;
}

static void add_seconds(struct rp_text *text, const char *before, uint32_t span_ms)
{
    rp_text_add(text, "%s%u.%u s", before, span_ms / 1000, span_ms / 100 % 10);
}

static void budget_text(struct rp_text *text, const struct rp_node_config *config,
                        const struct rp_node_status *status)
{
    const struct rp_band *band = rp_band_find(config->net.band);
    uint32_t reserve_ms =
        (uint32_t)((uint64_t)status->budget_ms * config->net.urgent_reserve_pct / 100);
    add_seconds(text, "budget  ", status->budget_ms);
    rp_text_add(text, " in any sliding hour (%u of 1000)", (unsigned)config->net.duty_permille);
    add_seconds(text, ", kept for urgent ", reserve_ms);
    add_seconds(text, "\nspent   ", status->budget_ms - status->airtime_left_urgent_ms);
    add_seconds(text, " in the last hour; left ", status->airtime_left_ms);
    add_seconds(text, ", for urgent ", status->airtime_left_urgent_ms);
    rp_text_add(text, "\nband    %s", band != NULL ? band->word : "not chosen: nothing is sent");
    if (band != NULL) {
        rp_text_add(text, ": %s%s%s%s%s", band->title, band->no_limit ? "" : ", ", band->law,
                    band->no_limit ? "" : " ", band->clause);
    }
    if (band != NULL && band->duty_permille_max < 1000) {
        rp_text_add(text, ", at most %u of 1000", band->duty_permille_max);
    }
    rp_text_add(text, "\n");
    if (band != NULL && band->unsure[0] != '\0') {
        rp_text_add(text, "        unsure: %s\n", band->unsure);
    }
}

/* The next word, if any, is the length of a frame in bytes. */
static int read_len(struct rp_entry *entry, size_t *out_len)
{
    unsigned most = rp_node_config(entry->node)->net.frame_len_max;
    const char *word = rp_entry_take(entry);
    if (word == NULL) {
        *out_len = REPORT_BYTES;
        return RP_OK;
    }
    size_t digits = strspn(word, "0123456789");
    unsigned long len = digits > 0 && digits < 5 ? strtoul(word, NULL, 10) : 0;
    if (word[digits] != '\0' || len < 1 || len > most) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "bytes",
                              "bytes \"%.24s\": a frame of this net has 1 to %u bytes (example: "
                              "airtime 48)",
                              word, most);
    }
    if (rp_entry_peek(entry) != NULL) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "bytes",
                              "\"%.24s\" is one word too many (example: airtime 48)",
                              rp_entry_peek(entry));
    }
    *out_len = len;
    return RP_OK;
}

int rp_show_airtime(struct rp_show *show)
{
    const struct rp_node *node = show->entry->node;
    const struct rp_node_config *config = rp_node_config(node);
    struct rp_node_status status;
    size_t len = 0;
    int code = read_len(show->entry, &len);
    if (code < 0) {
        return code;
    }
    rp_node_status(show->entry->node, show->entry->moment, &status);
    budget_text(show->text, config, &status);
    rp_text_add(show->text,
                "a report of %u bytes, sent once (each relay spends the same again):\n"
                "      on air     of hour   an hour  reach near the ground, ESTIMATE\n",
                (unsigned)len);
    json_t *costs = json_array();
    for (uint8_t factor = 7; factor <= 12; factor++) {
        struct cost cost = cost_of(node, factor, len);
        cost_text(show->text, &cost, factor == config->net.profile.spreading_factor);
        json_array_append_new(costs, cost_json(&cost));
    }
    rp_text_add(show->text,
                "* in use. \"an hour\": as many fit beside what is kept for urgent. ESTIMATE: half "
                "of all\nplaces at that distance hear, by one measurement near 868 MHz; hills "
                "decide, see path.\n");
    json_t *data =
        json_pack("{s:I,s:I,s:I,s:I,s:i,s:s,s:i,s:o}", "budget_ms", (json_int_t)status.budget_ms,
                  "spent_ms", (json_int_t)(status.budget_ms - status.airtime_left_urgent_ms),
                  "left_ms", (json_int_t)status.airtime_left_ms, "left_urgent_ms",
                  (json_int_t)status.airtime_left_urgent_ms, "urgent_reserve_pct",
                  config->net.urgent_reserve_pct, "band", config->net.band, "bytes", (int)len,
                  "spreading_factors", costs);
    json_object_update(show->data, data);
    json_decref(data);
    return RP_OK;
}
