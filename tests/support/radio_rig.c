#include "rp_test.h"

#include "radio_rig.h"

#include <stdio.h>
#include <string.h>

#include "ridgepost/error.h"

#define REOPEN_US 1000000 /* as the daemon's first wait */

static struct rig *plugging; /* the rig whose world calls back */

static void no_log(void *ctx, rp_time_us at_us, const char *text)
{
    (void)ctx;
    (void)at_us;
    (void)text;
}

static int on_plug(void *ctx, unsigned station, bool plugged)
{
    struct rig *rig = ctx != NULL ? ctx : plugging;
    struct rig_station *s = &rig->stations[station];
    if (!plugged && s->open) {
        rp_radio_closed(&s->radio, rig->now_us);
        s->open = false;
    }
    s->reopen_us = plugged ? rig->now_us + REOPEN_US : RP_NEVER;
    return 0;
}

static void add_line(struct rig *rig, const char *text)
{
    char line[AIR_CONFIG_CAP];
    struct rp_problem problem = {.text = ""};
    snprintf(line, sizeof line, "%s", text);
    if (air_config_line(&rig->config, line, &problem) != 0) {
        fail_msg("%s: %s", text, problem.text);
    }
}

static void set_up_world(struct rig *rig, const struct rig_family *family, uint64_t seed)
{
    static const char *const names[RIG_STATIONS] = {"high", "base"};
    air_config_init(&rig->config);
    rig->config.seed = seed;
    add_line(rig, "air sf 7 bw 125000 cr 5 preamble 8 freq 868125000 sync 12");
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        char line[200];
        const char *options = strchr(family->modem, ' ');
        int word = options != NULL ? (int)(options - family->modem) : (int)strlen(family->modem);
        snprintf(line, sizeof line, "modem %s %.*s port%u baudcheck=on%s", names[i], word,
                 family->modem, i, options != NULL ? options : "");
        add_line(rig, line);
    }
    add_line(rig, "link high base 0");
    add_line(rig, "latency 1 4");
    struct air_world_ops ops = {.ctx = rig, .log = no_log, .plug = on_plug};
    air_world_init(&rig->world, &rig->config, &ops, 0);
}

void rig_init(struct rig *rig, const struct rig_family *family, uint64_t seed)
{
    struct rp_radio_profile profile = {.freq_hz = 868125000,
                                       .bandwidth_hz = 125000,
                                       .spreading_factor = 7,
                                       .coding_rate = 5,
                                       .sync_word = 0x12,
                                       .power_dbm = 14,
                                       .preamble_symbols = 8,
                                       .text_armour = strncmp(family->driver, "at", 2) == 0};
    memset(rig, 0, sizeof *rig);
    plugging = rig;
    if (strcmp(family->driver, "uart-e32") == 0) {
        profile.freq_hz = 433000000;
    }
    if (strcmp(family->driver, "at-old") == 0) { /* its own bounds */
        profile.sync_word = 6;
        profile.preamble_symbols = 7;
    }
    set_up_world(rig, family, seed);
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        const char *why = "";
        rig->stations[i].reopen_us = RP_NEVER;
        if (rp_radio_init(&rig->stations[i].radio, family->driver, &profile, &why) != 0) {
            fail_msg("%s: %s", family->driver, why);
        }
    }
    /* Every kind of byte that means something to one of the families. */
    static const char bytes[] = "\x5a\xc0\xc1\xc2\xc3\xcf\xcf\xdb\xdc\xdd\x00\r\n\x11\x13,+ERR=17";
    memcpy(rig->frame, bytes, sizeof bytes);
    rig->frame_len = sizeof bytes;
    rig->now_us = 1000000;
}

void rig_open(struct rig *rig, unsigned station)
{
    struct rig_station *s = &rig->stations[station];
    s->open = true;
    s->reopen_us = RP_NEVER;
    air_world_host_open(&rig->world, station, true, rig->now_us);
    air_world_host_speed(&rig->world, station, rp_radio_baud(&s->radio), rig->now_us);
    rp_radio_opened(&s->radio, rig->now_us);
}

static void close_for_reopening(struct rig *rig, unsigned station)
{
    struct rig_station *s = &rig->stations[station];
    rp_radio_closed(&s->radio, rig->now_us);
    air_world_host_open(&rig->world, station, false, rig->now_us);
    s->open = false;
    s->reopen_us = rig->now_us + REOPEN_US;
}

static void set_mode(struct rig *rig, unsigned station, bool configuration)
{
    air_world_set_mode(&rig->world, station, configuration, rig->now_us);
    uint32_t baud = configuration ? 9600 : rp_radio_baud(&rig->stations[station].radio);
    air_world_host_speed(&rig->world, station, baud, rig->now_us);
}

static void fulfil(struct rig *rig, unsigned station)
{
    struct rig_station *s = &rig->stations[station];
    enum rp_radio_wish wish;
    while (s->open && (wish = rp_radio_take_wish(&s->radio)) != RP_RADIO_WISH_NONE) {
        if (wish == RP_RADIO_WISH_LINE_RESET && s->reset_wired) {
            air_world_restart(&rig->world, station, rig->now_us);
        } else if (wish == RP_RADIO_WISH_REOPEN) {
            close_for_reopening(rig, station);
        } else if (wish >= RP_RADIO_WISH_MODE_CONFIG && s->mode_wired) {
            set_mode(rig, station, wish == RP_RADIO_WISH_MODE_CONFIG);
        }
    }
}

static void take_frame(struct rig *rig, struct rig_station *s, const struct rp_radio_event *event)
{
    bool right =
        event->frame_len == rig->frame_len && memcmp(event->frame, rig->frame, rig->frame_len) == 0;
    s->frames += right;
    s->wrong += !right;
    s->has_rssi = s->has_rssi || event->has_rssi;
    s->rssi_dbm = event->has_rssi ? event->rssi_dbm : s->rssi_dbm;
}

static void take_events(struct rig *rig, struct rig_station *s)
{
    struct rp_radio_event event;
    while (rp_radio_next_event(&s->radio, &event)) {
        s->ready += event.kind == RP_RADIO_READY;
        s->sent += event.kind == RP_RADIO_SENT;
        s->unsent += event.kind == RP_RADIO_UNSENT;
        s->maybe += event.kind == RP_RADIO_UNSENT && event.maybe_aired;
        s->restarted += event.kind == RP_RADIO_RESTARTED;
        s->faults += event.kind == RP_RADIO_FAULT;
        if (event.kind == RP_RADIO_FAULT) {
            snprintf(s->fault, sizeof s->fault, "%s", event.text);
        } else if (event.kind == RP_RADIO_FRAME) {
            take_frame(rig, s, &event);
        }
    }
}

/* Everything of one station that is due now. */
static void serve(struct rig *rig, unsigned station)
{
    struct rig_station *s = &rig->stations[station];
    uint8_t bytes[RP_RADIO_OUT_CAP];
    size_t len;
    if (rig->now_us >= s->reopen_us) {
        rig_open(rig, station);
    }
    while ((len = air_world_host_take(&rig->world, station, bytes, sizeof bytes, rig->now_us)) >
           0) {
        if (s->open) {
            rp_radio_receive(&s->radio, (struct rp_view){bytes, len}, rig->now_us);
        }
    }
    if (s->open) {
        rp_radio_tick(&s->radio, rig->now_us);
        fulfil(rig, station);
    }
    while (s->open && (len = rp_radio_take_output(&s->radio, bytes, sizeof bytes)) > 0) {
        air_world_host_wrote(&rig->world, station, (struct rp_view){bytes, len}, rig->now_us);
    }
    take_events(rig, s);
}

static rp_time_us next_event(const struct rig *rig, rp_time_us end_us)
{
    rp_time_us next_us = air_world_wake(&rig->world);
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        const struct rig_station *s = &rig->stations[i];
        rp_time_us radio_us = s->open ? rp_radio_wake(&s->radio) : s->reopen_us;
        next_us = radio_us < next_us ? radio_us : next_us;
    }
    return next_us < end_us ? next_us : end_us;
}

void rig_run_ms(struct rig *rig, int64_t ms)
{
    rp_time_us end_us = rig->now_us + ms * 1000;
    for (;;) {
        air_world_tick(&rig->world, rig->now_us);
        for (unsigned i = 0; i < RIG_STATIONS; i++) {
            serve(rig, i);
        }
        air_world_tick(&rig->world, rig->now_us);
        if (rig->now_us >= end_us) {
            break;
        }
        rp_time_us next_us = next_event(rig, end_us);
        rig->now_us = next_us > rig->now_us ? next_us : rig->now_us;
    }
}

void rig_start(struct rig *rig, const struct rig_family *family, uint64_t seed)
{
    rig_init(rig, family, seed);
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        rig_open(rig, i);
    }
    rig_run_ms(rig, 4000);
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        if (!rp_radio_ready(&rig->stations[i].radio)) {
            fail_msg("%s: station %u does not start: %s", family->driver, i,
                     rig->stations[i].fault);
        }
    }
}

void rig_tell(struct rig *rig, const char *command)
{
    char line[200], reply[AIR_REPLY_CAP];
    snprintf(line, sizeof line, "%s", command);
    air_command(&rig->world, line, reply, rig->now_us);
    if (strcmp(reply, "ok\n") != 0) {
        fail_msg("%s: %s", command, reply);
    }
}

bool rig_send(struct rig *rig, int64_t limit_ms)
{
    struct rp_radio *radio = &rig->stations[0].radio;
    for (int64_t waited_ms = 0; waited_ms <= limit_ms; waited_ms += 50) {
        if (rig->stations[0].open && rp_radio_ready(radio) &&
            rp_radio_send(radio, (struct rp_view){rig->frame, rig->frame_len}, rig->now_us) == 0) {
            return true;
        }
        rig_run_ms(rig, 50);
    }
    return false;
}

bool rig_deliver(struct rig *rig, int64_t limit_ms)
{
    unsigned frames = rig->stations[1].frames;
    rp_time_us end_us = rig->now_us + limit_ms * 1000;
    while (rig->stations[1].frames == frames && rig->now_us < end_us) {
        rig_send(rig, (end_us - rig->now_us) / 1000);
        rig_run_ms(rig, 200);
    }
    return rig->stations[1].frames > frames;
}
