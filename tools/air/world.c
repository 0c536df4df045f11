#include "air/world.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Bytes the AT module adds on air, as another family would hear them with `mixed off`. */
#define AT_EXTRA_LEN 8
/* Longest piece with `split on`: short enough to cut every kind of line. */
#define SPLIT_LEN_MAX 16
/* Longest piece that is damaged at once. A longer answer goes out in several, without a gap. */
#define DAMAGE_LEN_MAX AIR_OUT_CAP
/* Events one call works off. What is left, after a process that stood still for hours, is due at
 * once and waits for the next call. */
#define STEPS_MAX 1000000

void air_world_log(struct air_world *world, rp_time_us at_us, const char *format, ...)
{
    char text[2 * AIR_HOST_WRITE_MAX + 100];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    world->ops.log(world->ops.ctx, at_us, text);
}

static const char *name_of(const struct air_world *world, unsigned station)
{
    return world->config->modems[station].name;
}

/* Shadowing is drawn once, and alike in both directions. */
static void set_path(struct air_world *world, unsigned from, unsigned to,
                     const struct air_config_link *link)
{
    unsigned low = from < to ? from : to, high = from < to ? to : from;
    struct rp_rng rng = rp_rng_seeded(world->config->seed * AIR_STATIONS_MAX * AIR_STATIONS_MAX +
                                      low * AIR_STATIONS_MAX + high);
    struct air_link *out = &world->air.links[from][to];
    out->has_path = true;
    out->loss_db = (int16_t)(link->loss_db + air_draw_db(&rng, link->sigma_tenth_db));
    out->fading_tenth_db = world->config->fading_tenth_db;
}

void air_world_apply_links(struct air_world *world)
{
    const struct air_config *config = world->config;
    for (unsigned from = 0; from < config->count; from++) {
        for (unsigned to = 0; to < config->count; to++) {
            const struct air_config_link *link = &config->links[from][to];
            air_channel_set_link(&world->air, from, to, link->audible, link->loss_ppm);
            if (link->has_path) {
                set_path(world, from, to, link);
            }
            if (link->has_signal) {
                world->air.links[from][to].rssi_dbm = link->rssi_dbm;
                world->air.links[from][to].snr_db = link->snr_db;
            }
        }
    }
}

static int64_t draw_latency_us(struct air_world *world)
{
    return rp_rng_between(&world->rng, world->config->latency_min_us,
                          world->config->latency_max_us);
}

static int64_t byte_time_us(const struct air_station *s)
{
    /* 8N1 is ten bits a byte. */
    return s->modem.baud == 0 ? 0 : 10000000 / s->modem.baud;
}

static void push(struct air_world *world, struct air_station *s, struct air_delay *line,
                 struct rp_view bytes, rp_time_us now_us)
{
    rp_time_us due_us = now_us + draw_latency_us(world);
    size_t done = air_delay_push(line, bytes, due_us, byte_time_us(s));
    s->counts.serial_lost += bytes.len - done;
}

/* Lets bytes vanish and others appear; out holds twice as many. Returns how many there are. */
static size_t damage(struct air_world *world, const struct air_faults *faults, struct rp_view in,
                     uint8_t *out)
{
    size_t len = 0;
    for (size_t i = 0; i < in.len; i++) {
        if (faults->add_ppm > 0 && rp_rng_below(&world->rng, 1000000) < faults->add_ppm) {
            out[len++] = (uint8_t)rp_rng_next(&world->rng);
        }
        if (faults->drop_ppm == 0 || rp_rng_below(&world->rng, 1000000) >= faults->drop_ppm) {
            out[len++] = in.bytes[i];
        }
    }
    return len;
}

static void push_to_host(struct air_world *world, struct air_station *s, struct rp_view bytes,
                         rp_time_us now_us)
{
    if (!s->plugged || !s->host_open) {
        return;
    }
    for (size_t at = 0; at < bytes.len;) {
        size_t len = bytes.len - at;
        if (world->config->split) {
            size_t piece = 1 + rp_rng_below(&world->rng, SPLIT_LEN_MAX);
            len = piece < len ? piece : len;
        }
        len = len < DAMAGE_LEN_MAX ? len : DAMAGE_LEN_MAX;
        uint8_t out[2 * DAMAGE_LEN_MAX];
        size_t left = damage(world, &s->faults, (struct rp_view){bytes.bytes + at, len}, out);
        if (left > 0) {
            push(world, s, &s->to_host, (struct rp_view){out, left}, now_us);
        }
        at += len;
    }
}

static void log_sending(struct air_world *world, unsigned station, int64_t airtime_us,
                        rp_time_us now_us)
{
    const struct air_modem *m = &world->stations[station].modem;
    char hex[2 * AIR_PAYLOAD_MAX + 1] = "";
    for (size_t i = 0; i < m->frame.len; i++) {
        snprintf(hex + 2 * i, 3, "%02x", m->frame.bytes[i]);
    }
    air_world_log(world, now_us, "tx begin %s len=%u airtime_us=%lld freq=%u sf=%u bw=%u hex=%s",
                  name_of(world, station), m->frame.len, (long long)airtime_us, m->settings.freq_hz,
                  m->settings.spreading_factor, m->settings.bandwidth_hz, hex);
}

static void count_sending(struct air_world *world, unsigned station, int64_t airtime_us)
{
    world->stations[station].counts.frames++;
    world->stations[station].counts.airtime_us += (uint64_t)airtime_us;
}

static bool is_at(const struct air_world *world, unsigned station)
{
    return world->config->modems[station].family == AIR_AT;
}

static bool is_uart(const struct air_world *world, unsigned station)
{
    return world->config->modems[station].family == AIR_UART;
}

/* What another family makes of an AT frame: 8 bytes in front that only AT modules understand. */
static struct air_frame foreign_form(const struct air_frame *frame)
{
    struct air_frame heard = {.len = (uint16_t)(frame->len + AT_EXTRA_LEN)};
    assert(heard.len <= AIR_PAYLOAD_MAX);
    memcpy(heard.bytes + AT_EXTRA_LEN, frame->bytes, frame->len);
    return heard;
}

static void deliver(struct air_world *world, const struct air_report *report, unsigned to)
{
    unsigned from = report->from;
    struct air_frame heard = *report->frame;
    const struct air_frame *frame = report->frame;
    rp_time_us now_us = report->end_us;
    if (is_uart(world, from) != is_uart(world, to)) {
        return; /* their modulation is not published: nobody else can be set to it */
    }
    if (!world->config->mixed && is_at(world, from) != is_at(world, to)) {
        if (is_at(world, to)) {
            air_world_log(world, now_us, "modem %s drops a frame of another family",
                          name_of(world, to));
            return;
        }
        heard = foreign_form(frame);
    }
    air_modem_heard(&world->stations[to].modem, &heard, report->rssi_dbm[to], report->snr_db[to],
                    now_us);
}

static void log_fates(struct air_world *world, const struct air_report *report)
{
    for (unsigned to = 0; to < world->config->count; to++) {
        enum air_fate fate = report->fates[to];
        if (fate != AIR_UNHEARABLE) {
            world->stations[to].counts.fates[fate]++;
            air_world_log(world, report->end_us, "rx %s %s from=%s len=%u", name_of(world, to),
                          air_fate_name(fate), name_of(world, report->from), report->frame->len);
        }
    }
}

/* Carries over what a modem wants after it was given something. */
static void settle(struct air_world *world, unsigned station, rp_time_us now_us)
{
    struct air_station *s = &world->stations[station];
    struct air_modem *m = &s->modem;
    struct air_report cut;
    if (m->abort && air_channel_abort(&world->air, station, now_us, &cut)) {
        air_world_log(world, now_us, "tx cut %s after_us=%lld", name_of(world, station),
                      (long long)cut.airtime_us);
        count_sending(world, station, cut.airtime_us);
        log_fates(world, &cut);
    }
    m->abort = false;
    bool listens = m->listening && s->plugged && !s->hung;
    air_channel_listen(&world->air, station, listens ? &m->hearing : NULL, now_us);
    if (m->frame_ready) {
        m->frame_ready = false;
        int64_t airtime_us =
            air_channel_send(&world->air, station, &m->settings, &m->frame, now_us);
        assert(airtime_us > 0);
        if (s->faults.brownouts > 0) {
            s->faults.brownouts--;
            s->faults.brownout_us = now_us + airtime_us / 2;
        }
        log_sending(world, station, airtime_us, now_us);
    }
    if (m->note != NULL) {
        air_world_log(world, now_us, "modem %s %s", name_of(world, station), m->note);
        m->note = NULL;
    }
    if (!s->muted && !s->hung && m->out_len > 0) {
        if (s->faults.first_due) {
            s->faults.first_due = false;
            push_to_host(world, s, (struct rp_view){&s->faults.first_byte, 1}, now_us);
        }
        push_to_host(world, s, (struct rp_view){m->out, m->out_len}, now_us);
    }
    s->counts.serial_lost += m->out_lost;
    m->out_len = 0;
    m->out_lost = 0;
}

static void power(struct air_world *world, unsigned station, rp_time_us now_us)
{
    struct air_station *s = &world->stations[station];
    s->faults.first_due = s->faults.first_set;
    s->faults.brownout_us = RP_NEVER;
    air_modem_power(&s->modem, now_us);
    settle(world, station, now_us);
}

void air_world_init(struct air_world *world, struct air_config *config,
                    const struct air_world_ops *ops, rp_time_us now_us)
{
    assert(config->count >= 1);
    memset(world, 0, sizeof *world);
    world->config = config;
    world->ops = *ops;
    world->rng = rp_rng_seeded(config->seed);
    world->out_rng = rp_rng_seeded(config->seed + 1);
    world->now_us = now_us;
    air_channel_init(&world->air, config->count, rp_rng_next(&world->rng));
    world->air.sync_ignored = config->sync_ignored;
    world->air.capture = config->capture;
    world->air.capture_db = config->capture_db;
    air_world_apply_links(world);
    for (unsigned i = 0; i < config->count; i++) {
        struct air_station *s = &world->stations[i];
        const struct air_config_modem *c = &config->modems[i];
        air_modem_init(&s->modem, c->family, &c->options, &config->air, rp_rng_next(&world->rng));
        air_delay_clear(&s->to_host);
        air_delay_clear(&s->to_modem);
        s->plugged = true;
        power(world, i, now_us);
    }
}

static void garble(const struct air_station *s, struct rp_rng *rng, uint8_t *bytes, size_t len)
{
    bool same = s->host_baud == 0 || s->host_baud == s->modem.baud;
    if (s->modem.options.baud_check && !same) {
        for (size_t i = 0; i < len; i++) {
            bytes[i] = (uint8_t)rp_rng_next(rng);
        }
    }
}

void air_world_host_open(struct air_world *world, unsigned station, bool open, rp_time_us now_us)
{
    struct air_station *s = &world->stations[station];
    air_world_tick(world, now_us);
    if (s->host_open == open) {
        return;
    }
    s->host_open = open;
    air_delay_clear(&s->to_host);
    air_world_log(world, now_us, "host %s %s", name_of(world, station), open ? "opens" : "closes");
}

void air_world_host_speed(struct air_world *world, unsigned station, uint32_t baud,
                          rp_time_us now_us)
{
    air_world_tick(world, now_us);
    if (world->stations[station].host_baud != baud) {
        world->stations[station].host_baud = baud;
        air_world_log(world, now_us, "host %s speed %u", name_of(world, station), (unsigned)baud);
    }
}

/* A terminal with flow control by characters and line ends translated. */
static size_t cook(uint8_t *bytes, size_t len)
{
    size_t kept = 0;
    for (size_t i = 0; i < len; i++) {
        if (bytes[i] != 0x11 && bytes[i] != 0x13) {
            bytes[kept++] = bytes[i] == 0x0d ? 0x0a : bytes[i];
        }
    }
    return kept;
}

static void log_written(struct air_world *world, unsigned station, struct rp_view bytes,
                        rp_time_us now_us)
{
    while (bytes.len > 0) {
        char hex[2 * AIR_HOST_WRITE_MAX + 1];
        size_t len = bytes.len < AIR_HOST_WRITE_MAX ? bytes.len : AIR_HOST_WRITE_MAX;
        for (size_t i = 0; i < len; i++) {
            snprintf(hex + 2 * i, 3, "%02x", bytes.bytes[i]);
        }
        air_world_log(world, now_us, "host %s wrote %s", name_of(world, station), hex);
        bytes = (struct rp_view){bytes.bytes + len, bytes.len - len};
    }
}

void air_world_host_wrote(struct air_world *world, unsigned station, struct rp_view bytes,
                          rp_time_us now_us)
{
    struct air_station *s = &world->stations[station];
    air_world_tick(world, now_us);
    log_written(world, station, bytes, now_us);
    while (s->plugged && bytes.len > 0) {
        uint8_t copy[256];
        size_t len = bytes.len < sizeof copy ? bytes.len : sizeof copy;
        memcpy(copy, bytes.bytes, len);
        garble(s, &world->rng, copy, len);
        if (s->faults.echo) {
            push_to_host(world, s, (struct rp_view){copy, len}, now_us);
        }
        size_t kept = s->faults.cooked ? cook(copy, len) : len;
        uint8_t out[2 * sizeof copy];
        kept = damage(world, &s->faults, (struct rp_view){copy, kept}, out);
        if (kept > 0) {
            push(world, s, &s->to_modem, (struct rp_view){out, kept}, now_us);
        }
        bytes.bytes += len;
        bytes.len -= len;
    }
}

size_t air_world_host_take(struct air_world *world, unsigned station, uint8_t *buf, size_t cap,
                           rp_time_us now_us)
{
    struct air_station *s = &world->stations[station];
    size_t len = air_delay_take(&s->to_host, buf, cap, now_us);
    garble(s, &world->out_rng, buf, len);
    return len;
}

/* The earliest thing that world_tick itself has to do. */
static rp_time_us next_event(const struct air_world *world)
{
    rp_time_us next_us = air_channel_wake(&world->air);
    for (unsigned i = 0; i < world->config->count; i++) {
        const struct air_station *s = &world->stations[i];
        rp_time_us line_us = air_delay_wake(&s->to_modem);
        next_us = line_us < next_us ? line_us : next_us;
        next_us = s->modem.wake_us < next_us ? s->modem.wake_us : next_us;
        next_us = s->faults.brownout_us < next_us ? s->faults.brownout_us : next_us;
    }
    return next_us;
}

rp_time_us air_world_wake(const struct air_world *world)
{
    rp_time_us next_us = next_event(world);
    for (unsigned i = 0; i < world->config->count; i++) {
        rp_time_us line_us = air_delay_wake(&world->stations[i].to_host);
        next_us = line_us < next_us ? line_us : next_us;
    }
    return next_us;
}

static void finish_frame(struct air_world *world, const struct air_report *report)
{
    rp_time_us at_us = report->end_us;
    air_world_log(world, at_us, "tx end %s", name_of(world, report->from));
    count_sending(world, report->from, report->airtime_us);
    log_fates(world, report);
    for (unsigned to = 0; to < world->config->count; to++) {
        if (report->fates[to] == AIR_OK) {
            deliver(world, report, to);
            settle(world, to, at_us);
        } else if (report->fates[to] == AIR_COLLISION) {
            air_modem_garbled(&world->stations[to].modem, at_us);
            settle(world, to, at_us);
        }
    }
    struct air_station *sender = &world->stations[report->from];
    air_modem_sent(&sender->modem, at_us);
    if (sender->faults.lost_ends > 0) {
        sender->faults.lost_ends--;
        sender->modem.out_len = 0;
    }
    settle(world, report->from, at_us);
}

static void feed_modem(struct air_world *world, unsigned station, rp_time_us at_us)
{
    struct air_station *s = &world->stations[station];
    uint8_t bytes[256];
    size_t len = air_delay_take(&s->to_modem, bytes, sizeof bytes, at_us);
    for (size_t i = 0; i < len && !s->hung; i++) {
        air_modem_host_byte(&s->modem, bytes[i], at_us);
        settle(world, station, at_us);
    }
}

static void wake_modem(struct air_world *world, unsigned station, rp_time_us at_us)
{
    struct air_modem *m = &world->stations[station].modem;
    bool carrier = air_channel_carrier(&world->air, station, &m->settings);
    air_modem_tick(m, at_us, carrier, air_channel_locked_until(&world->air, station, at_us));
    settle(world, station, at_us);
}

static void step(struct air_world *world, rp_time_us at_us)
{
    struct air_report report;
    if (air_channel_finish(&world->air, at_us, &report)) {
        finish_frame(world, &report);
        return;
    }
    for (unsigned i = 0; i < world->config->count; i++) {
        const struct air_station *s = &world->stations[i];
        if (s->faults.brownout_us <= at_us) {
            air_world_restart(world, i, at_us);
            return;
        }
        if (air_delay_wake(&s->to_modem) <= at_us) {
            feed_modem(world, i, at_us);
            return;
        }
        if (s->modem.wake_us <= at_us) {
            wake_modem(world, i, at_us);
            return;
        }
    }
}

void air_world_tick(struct air_world *world, rp_time_us now_us)
{
    for (unsigned steps = 0; steps < STEPS_MAX; steps++) {
        rp_time_us at_us = next_event(world);
        if (at_us > now_us) {
            break;
        }
        world->now_us = at_us > world->now_us ? at_us : world->now_us;
        step(world, world->now_us);
    }
}

void air_world_restart(struct air_world *world, unsigned station, rp_time_us now_us)
{
    world->stations[station].faults.brownout_us = RP_NEVER;
    if (world->stations[station].plugged) {
        air_world_log(world, now_us, "modem %s restarts", name_of(world, station));
        world->stations[station].hung = false;
        power(world, station, now_us);
    }
}

int air_world_plug(struct air_world *world, unsigned station, bool plugged, rp_time_us now_us)
{
    struct air_station *s = &world->stations[station];
    if (s->plugged == plugged) {
        return RP_E_STATE;
    }
    int err = world->ops.plug(world->ops.ctx, station, plugged);
    if (err != 0) {
        return err;
    }
    air_world_log(world, now_us, "modem %s %s", name_of(world, station),
                  plugged ? "plugged" : "unplugged");
    s->host_open = false;
    s->hung = false;
    air_delay_clear(&s->to_host);
    air_delay_clear(&s->to_modem);
    s->plugged = plugged;
    power(world, station, now_us);
    if (!plugged) {
        s->modem.wake_us = RP_NEVER;
    }
    return 0;
}

void air_world_rubbish(struct air_world *world, unsigned station, unsigned count, rp_time_us now_us)
{
    for (unsigned i = 0; i < count; i++) {
        uint8_t byte = (uint8_t)rp_rng_next(&world->rng);
        push_to_host(world, &world->stations[station], (struct rp_view){&byte, 1}, now_us);
    }
}

void air_world_hang(struct air_world *world, unsigned station, bool hung, rp_time_us now_us)
{
    world->stations[station].hung = hung;
    settle(world, station, now_us);
}

int air_world_set_mode(struct air_world *world, unsigned station, bool configuring,
                       rp_time_us now_us)
{
    if (!air_modem_set_mode(&world->stations[station].modem, configuring)) {
        return RP_E_UNSUPPORTED;
    }
    settle(world, station, now_us);
    return 0;
}

void air_world_counts(const struct air_world *world, unsigned station, char *text, size_t cap)
{
    const struct air_counts *c = &world->stations[station].counts;
    const struct air_config_modem *m = &world->config->modems[station];
    int len = snprintf(text, cap, "%s family=%s frames=%llu airtime_us=%llu", m->name,
                       air_family_name(m->family), (unsigned long long)c->frames,
                       (unsigned long long)c->airtime_us);
    for (int fate = AIR_OK; fate < AIR_FATE_COUNT && len > 0 && (size_t)len < cap; fate++) {
        len += snprintf(text + len, cap - (size_t)len, " %s=%llu", air_fate_name(fate),
                        (unsigned long long)c->fates[fate]);
    }
    if (len > 0 && (size_t)len < cap) {
        snprintf(text + len, cap - (size_t)len, " serial_lost=%llu",
                 (unsigned long long)c->serial_lost);
    }
}
