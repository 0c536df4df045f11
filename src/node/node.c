/* Building a station, and moving bytes, frames and events between its parts. */
#include "node/node_state.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "radio/plan/settings.h"

/* Rounds of moving events before control goes back to the caller; what is left is moved at the
 * next call, which wake makes immediate. */
#define PUMP_ROUNDS 64

static int unknown_modem(const char *modem, struct rp_problem *out_problem)
{
    char names[120] = "";
    const char *name;
    for (size_t i = 0; (name = rp_radio_driver_name(i)) != NULL; i++) {
        size_t len = strlen(names);
        snprintf(names + len, sizeof names - len, "%s%s", i > 0 ? ", " : "", name);
    }
    return rp_problem_set(out_problem, RP_E_NOT_FOUND, "modem",
                          "modem must be one of %s, such as kiss; not '%s'", names, modem);
}

/* The modem's driver with this station's settings, were the net's profile `profile`. */
static int set_radio(const struct rp_node_config *config, const struct rp_radio_profile *profile,
                     struct rp_radio *radio, const char **out_why)
{
    int code = rp_radio_init(radio, config->modem, profile, out_why);
    if (code == RP_OK) {
        rp_radio_set_baud(radio, config->baud);
        rp_radio_set_mode_pin(radio, config->has_mode_pin);
        rp_radio_set_low_data_rate(radio, config->low_data_rate);
    }
    return code;
}

static int bind_radio(const struct rp_node_config *config, struct rp_radio *radio,
                      struct rp_problem *out_problem)
{
    const char *why = "";
    int code = set_radio(config, &config->net.profile, radio, &why);
    if (code == RP_E_NOT_FOUND) {
        return unknown_modem(config->modem, out_problem);
    }
    if (code < 0) {
        return rp_problem_set(out_problem, code, "modem", "%s", why);
    }
    if (config->has_mode_pin && !rp_radio_uses_mode_pin(radio)) {
        return rp_problem_set(
            out_problem, RP_E_INVALID, "mode_pin",
            "mode_pin is of no use with modem %s: only uart-e22 and uart-e32 have "
            "a configuration mode that is used; leave it out",
            config->modem);
    }
    uint16_t most = rp_radio_frame_len_max(radio);
    if (most < config->net.frame_len_max) {
        return rp_problem_set(out_problem, RP_E_INVALID, "frame_len_max",
                              "the net's frames are %u bytes, this modem carries %u: lower "
                              "frame_len_max in the net file at every station",
                              config->net.frame_len_max, most);
    }
    struct rp_law_use use = {
        .antenna_gain_cdbd = config->antenna_gain_cdbd,
        .transmission_us = rp_radio_airtime_us(radio, config->net.frame_len_max),
        .no_limit_acknowledged = config->no_limit_acknowledged,
    };
    return rp_net_check_law(&config->net, use, out_problem);
}

int rp_node_frame_airtime(const struct rp_node *node, uint8_t spreading_factor, size_t len,
                          uint32_t *out_airtime_us)
{
    struct rp_net net = node->config.net;
    net.profile.spreading_factor = spreading_factor;
    if (!node->has_radio) {
        *out_airtime_us = rp_net_airtime_us(&net, len);
        return *out_airtime_us > 0 ? RP_OK : RP_E_INVALID;
    }
    struct rp_radio radio;
    int code = set_radio(&node->config, &net.profile, &radio, NULL);
    if (code == RP_OK) {
        *out_airtime_us = rp_radio_airtime_us(&radio, len);
    }
    return code;
}

int rp_node_check_radio(const struct rp_node_config *config, uint32_t *out_baud,
                        struct rp_problem *out_problem)
{
    struct rp_radio radio;
    int code = bind_radio(config, &radio, out_problem);
    if (code == RP_OK) {
        *out_baud = rp_radio_baud(&radio);
    }
    return code;
}

/* What was sealed before frame_len_max was lowered is sent as it is, wherever modem and law carry
 * it: a sealed segment cannot be cut. */
static uint16_t carry_len_max(const struct rp_node *node)
{
    const struct rp_node_config *config = &node->config;
    uint16_t len = config->net.frame_len_max;
    uint16_t most = node->has_radio ? rp_radio_frame_len_max(&node->radio) : len;
    struct rp_law_use use = {.antenna_gain_cdbd = config->antenna_gain_cdbd,
                             .no_limit_acknowledged = config->no_limit_acknowledged};
    struct rp_problem problem;
    for (; len < most; len++) {
        use.transmission_us = rp_radio_airtime_us(&node->radio, len + 1u);
        if (rp_net_check_law(&config->net, use, &problem) < 0) {
            break;
        }
    }
    return len;
}

static int start_radio(struct rp_node *node, struct rp_problem *out_problem)
{
    const struct rp_net *net = &node->config.net;
    if (node->config.modem[0] != '\0') {
        int code = bind_radio(&node->config, &node->radio, out_problem);
        if (code < 0) {
            return code;
        }
        node->has_radio = true;
    }
    node->carry_len_max = carry_len_max(node);
    for (size_t len = 0; len <= node->carry_len_max; len++) {
        node->airtime_us[len] =
            node->has_radio ? rp_radio_airtime_us(&node->radio, len) : rp_net_airtime_us(net, len);
    }
    return RP_OK;
}

/* Counters are never used twice under one key: when it cannot be read, nothing starts. */
static int reserved_counter(struct rp_node *node, uint32_t *out_counter)
{
    char key[16];
    snprintf(key, sizeof key, "counter.%04x", node->origin);
    uint8_t bytes[4];
    int len = node->config.store->get_value(node->config.store_ctx, key, bytes, sizeof bytes);
    if (len == RP_E_NOT_FOUND) {
        *out_counter = 0;
        return RP_OK;
    }
    if (len != sizeof bytes) {
        return len < 0 ? len : RP_E_CORRUPT;
    }
    *out_counter =
        (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
    return RP_OK;
}

/* Also used when a new log must be begun: the engine starts over with it. */
static int start_mesh(struct rp_node *node)
{
    const struct rp_net *net = &node->config.net;
    uint32_t counter = 0;
    int code = reserved_counter(node, &counter);
    if (code < 0) {
        return code;
    }
    struct rp_mesh_config config = {
        .origin = node->origin,
        .is_base = node->config.role == RP_ROLE_BASE,
        .frame_len_max = net->frame_len_max,
        .carry_len_max = node->carry_len_max,
        .airtime_us = node->airtime_us,
        .budget_us_per_hour = net->duty_permille * 3600000u,
        .urgent_reserve_pct = net->urgent_reserve_pct,
        .settings_hash = rp_settings_hash(&net->profile),
        .counter_reserved = counter,
        .seed = node->config.seed ^ node->origin,
        .seal = &node->seal,
        .store = rp_intake_store(node),
    };
    code = rp_mesh_init(node->mesh_memory, &config, node->moment.now_us, &node->mesh);
    if (code == RP_OK) {
        code = rp_intake_load(node);
    }
    if (code == RP_OK) {
        rp_own_log_publish_unheard(node);
    }
    return code;
}

int rp_node_new(const struct rp_node_config *config, struct rp_moment moment,
                struct rp_node **out_node, struct rp_problem *out_problem)
{
    int code = rp_net_check(&config->net, out_problem);
    if (code < 0) {
        return code;
    }
    if (config->station < RP_STATION_MIN || config->station > RP_STATION_MAX) {
        return rp_problem_set(out_problem, RP_E_INVALID, "station",
                              "station %u is outside 1..99 (example: 7)", config->station);
    }
    struct rp_node *node = calloc(1, sizeof *node);
    void *memory = calloc(1, rp_mesh_size());
    if (node == NULL || memory == NULL) {
        free(node);
        free(memory);
        return rp_problem_set(out_problem, RP_E_MEMORY, "", "out of memory");
    }
    node->config = *config;
    node->moment = moment;
    node->mesh_memory = memory;
    node->receipt.due_us = node->receipt.soon_us = RP_NEVER;
    node->same_station_us = RP_NEVER;
    node->ready_us = RP_NEVER;
    node->watch.battery_pct = 127;
    rp_seal_init(&node->seal, config->net.secret, config->net.epoch);
    code = start_radio(node, out_problem);
    if (code == RP_OK) {
        code = rp_own_log_start(node, out_problem);
    }
    if (code == RP_OK) {
        code = start_mesh(node);
        if (code < 0) {
            rp_problem_set(out_problem, code, "database", "the log cannot be read back");
        }
    }
    if (code == RP_OK) {
        rp_clock_resume(node, moment);
        rp_clock_observe(node, moment);
        rp_strokes_load(node);
        rp_hops_load(node);
        rp_receipts_resume(node);
        rp_enter_plan_card(node);
    }
    if (code < 0) {
        rp_node_free(node);
        return code;
    }
    *out_node = node;
    return RP_OK;
}

void rp_node_free(struct rp_node *node)
{
    if (node != NULL) {
        rp_seal_deinit(&node->seal);
        free(node->mesh_memory);
        free(node);
    }
}

static void set_fault(struct rp_node *node, int code, const char *text)
{
    node->fault_code = code;
    snprintf(node->fault, sizeof node->fault, "%s", text);
}

static void frame_finished(struct rp_node *node, bool aired)
{
    if (node->in_flight) {
        node->in_flight = false;
        rp_mesh_sent(node->mesh, aired, node->moment.now_us);
    }
}

static void take_radio_event(struct rp_node *node, const struct rp_radio_event *event)
{
    switch (event->kind) {
    case RP_RADIO_READY:
        set_fault(node, 0, "");
        node->ready_us = node->ready_us == RP_NEVER ? node->moment.now_us : node->ready_us;
        break;
    case RP_RADIO_FRAME:
        rp_mesh_receive(node->mesh, (struct rp_view){event->frame, event->frame_len},
                        event->has_rssi && event->has_snr, event->rssi_dbm, event->snr_db,
                        node->moment.now_us);
        break;
    case RP_RADIO_SENT:
        frame_finished(node, true);
        break;
    case RP_RADIO_UNSENT:
        /* What may have been on air counts as aired: its silence is what brings the repetition. */
        frame_finished(node, event->maybe_aired);
        break;
    case RP_RADIO_RESTARTED:
        break;
    case RP_RADIO_FAULT:
        set_fault(node, event->code, event->text);
        break;
    }
}

/* The net remembers more of this log than the database: it was restored from a copy. Its numbers
 * must never be used again, so a new log begins; the old one comes back over the air. */
static void begin_again(struct rp_node *node)
{
    if (rp_own_log_begin_again(node) < 0) {
        node->store_failures++;
        return;
    }
    node->restarted_log = true;
    node->in_flight = false;
    node->store_failures += start_mesh(node) < 0;
    rp_enter_plan_card(node);
}

static void take_mesh_event(struct rp_node *node, const struct rp_mesh_event *event)
{
    const struct rp_store_ops *store = node->config.store;
    int code = RP_OK;
    switch (event->kind) {
    case RP_MESH_AIRED:
        code = store->mark_aired(node->config.store_ctx, node->origin, event->seq,
                                 node->moment.unix_s);
        break;
    case RP_MESH_HEARD:
        code = store->mark_heard(node->config.store_ctx, node->origin, event->seq,
                                 node->moment.unix_s, event->station);
        break;
    case RP_MESH_ACCEPTED:
        break; /* storage has learnt it already */
    case RP_MESH_SAME_STATION:
        node->same_station_us = node->moment.now_us;
        break;
    case RP_MESH_OWN_AHEAD:
        begin_again(node);
        break;
    case RP_MESH_AT_BASE:
        rp_receipts_proved(node, event->origin, event->seq);
        break;
    case RP_MESH_CLOCK:
        rp_clock_hear(node, event->station, event->clock_s, event->clock_quality);
        break;
    }
    node->revision++;
    node->store_failures += code < 0;
}

static bool send_next(struct rp_node *node)
{
    if (!node->has_radio || !node->line_open || node->in_flight || !rp_radio_ready(&node->radio)) {
        return false;
    }
    struct rp_mesh_self self = {rp_net_seconds(node, node->moment), node->clock.quality,
                                node->watch.battery_pct};
    rp_mesh_set_self(node->mesh, &self);
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t len = rp_mesh_take_frame(node->mesh, node->moment.now_us, frame, sizeof frame);
    if (len == 0) {
        return false;
    }
    node->in_flight = true;
    if (rp_radio_send(&node->radio, (struct rp_view){frame, len}, node->moment.now_us) < 0) {
        frame_finished(node, false);
    }
    return true;
}

void rp_node_pump(struct rp_node *node)
{
    bool moved = true;
    for (int round = 0; moved && round < PUMP_ROUNDS; round++) {
        moved = false;
        struct rp_radio_event radio_event;
        while (node->has_radio && rp_radio_next_event(&node->radio, &radio_event)) {
            take_radio_event(node, &radio_event);
            moved = true;
        }
        struct rp_mesh_event mesh_event;
        while (rp_mesh_next_event(node->mesh, &mesh_event)) {
            take_mesh_event(node, &mesh_event);
            moved = true;
        }
        rp_enter_card_due(node);
        if (node->receipt.due_us <= node->moment.now_us) {
            node->receipt.due_us = RP_NEVER;
            rp_receipts_write(node);
            moved = true;
        }
        moved = rp_receipts_apply(node) || moved;
        moved = send_next(node) || moved;
    }
    node->unfinished = moved;
}

static void begin_call(struct rp_node *node, struct rp_moment moment)
{
    node->moment = moment;
    rp_clock_observe(node, moment);
}

void rp_node_line_opened(struct rp_node *node, struct rp_moment moment)
{
    begin_call(node, moment);
    if (node->has_radio) {
        node->line_open = true;
        node->revision++;
        rp_radio_opened(&node->radio, moment.now_us);
    }
    rp_node_pump(node);
}

void rp_node_line_closed(struct rp_node *node, struct rp_moment moment)
{
    begin_call(node, moment);
    if (node->has_radio) {
        node->line_open = false;
        node->ready_us = RP_NEVER;
        node->revision++;
        rp_radio_closed(&node->radio, moment.now_us);
    }
    rp_node_pump(node);
}

void rp_node_line_bytes(struct rp_node *node, struct rp_view bytes, struct rp_moment moment)
{
    begin_call(node, moment);
    if (node->has_radio && node->line_open) {
        rp_radio_receive(&node->radio, bytes, moment.now_us);
    }
    rp_node_pump(node);
}

size_t rp_node_line_output(struct rp_node *node, uint8_t *buf, size_t cap)
{
    return node->has_radio && node->line_open ? rp_radio_take_output(&node->radio, buf, cap) : 0;
}

void rp_node_channel(struct rp_node *node, bool busy, struct rp_moment moment)
{
    begin_call(node, moment);
    rp_mesh_channel(node->mesh, busy, moment.now_us);
    rp_node_pump(node);
}

void rp_node_tick(struct rp_node *node, struct rp_moment moment)
{
    begin_call(node, moment);
    if (node->has_radio && node->line_open) {
        rp_radio_tick(&node->radio, moment.now_us);
    }
    rp_strokes_tick(node);
    rp_node_pump(node);
}

rp_time_us rp_node_wake(const struct rp_node *node)
{
    if (node->unfinished) {
        return node->moment.now_us;
    }
    rp_time_us wake_us = rp_sooner_us(node->receipt.due_us, node->card_us);
    wake_us = rp_sooner_us(wake_us, rp_strokes_wake(node));
    if (node->has_radio && node->line_open) {
        wake_us = rp_sooner_us(wake_us, rp_radio_wake(&node->radio));
        if (!node->in_flight && rp_radio_ready(&node->radio)) {
            wake_us = rp_sooner_us(wake_us, rp_mesh_wake(node->mesh));
        }
    }
    return wake_us;
}

uint32_t rp_node_line_baud(const struct rp_node *node)
{
    return node->has_radio ? rp_radio_baud(&node->radio) : 0;
}

enum rp_radio_wish rp_node_take_wish(struct rp_node *node)
{
    return node->has_radio && node->line_open ? rp_radio_take_wish(&node->radio)
                                              : RP_RADIO_WISH_NONE;
}

uint16_t rp_node_origin(const struct rp_node *node)
{
    return node->origin;
}

const struct rp_node_config *rp_node_config(const struct rp_node *node)
{
    return &node->config;
}

uint32_t rp_node_net_time(const struct rp_node *node, struct rp_moment moment)
{
    return rp_net_seconds(node, moment);
}
