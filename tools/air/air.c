#include "air/air.h"

#include <assert.h>
#include <string.h>

#include "air/air_time.h"

/* Values for a link that was given only a loss: a middling link ("common practice, no source"). */
#define RSSI_DEFAULT_DBM (-95)
#define SNR_DEFAULT_DB   6
/* Symbols of preamble a receiver needs to lock on (LoRaSim, loraDir.py: Npream - 5). */
#define LOCK_SYMBOLS 5
/* A module reports no ratio above some 10 to 14 dB (common practice, no source). */
#define SNR_MAX_DB 12

void air_channel_init(struct air_channel *air, unsigned stations, uint64_t seed)
{
    assert(stations >= 1 && stations <= AIR_STATIONS_MAX);
    memset(air, 0, sizeof *air);
    air->stations = stations;
    struct rp_rng seeds = rp_rng_seeded(seed);
    for (unsigned from = 0; from < AIR_STATIONS_MAX; from++) {
        for (unsigned to = 0; to < AIR_STATIONS_MAX; to++) {
            struct air_link *link = &air->links[from][to];
            link->rssi_dbm = RSSI_DEFAULT_DBM;
            link->snr_db = SNR_DEFAULT_DB;
            link->rng = rp_rng_seeded(rp_rng_next(&seeds));
        }
        air->sendings[from].end_us = INT64_MIN;
    }
}

void air_channel_set_link(struct air_channel *air, unsigned from, unsigned to, bool audible,
                          uint32_t loss_ppm)
{
    assert(from < air->stations && to < air->stations && loss_ppm <= AIR_LOSS_ONE);
    air->links[from][to].audible = audible && from != to;
    air->links[from][to].loss_ppm = loss_ppm;
}

static bool same_listening(const struct air_settings *a, const struct air_settings *b)
{
    return a->freq_hz == b->freq_hz && a->bandwidth_hz == b->bandwidth_hz &&
           a->spreading_factor == b->spreading_factor && a->sync_word == b->sync_word &&
           a->inverted_iq == b->inverted_iq;
}

static bool tuned(const struct air_channel *air, unsigned from, unsigned at)
{
    struct air_settings wanted = air->ears[at].settings;
    const struct air_settings *sent = &air->sendings[from].settings;
    if (air->sync_ignored) {
        wanted.sync_word = sent->sync_word;
    }
    int32_t off_hz = air->offset_hz[from] - air->offset_hz[at];
    off_hz = off_hz < 0 ? -off_hz : off_hz;
    return same_listening(&wanted, sent) && (uint32_t)off_hz <= sent->bandwidth_hz / 4;
}

/* Centres closer than 30, 60 or 120 kHz disturb each other when the wider side uses 125, 250 or
 * 500 kHz (LoRaSim comments). */
static bool channel_shared(const struct air_settings *a, const struct air_settings *b)
{
    uint32_t apart = a->freq_hz > b->freq_hz ? a->freq_hz - b->freq_hz : b->freq_hz - a->freq_hz;
    return a->bandwidth_hz == b->bandwidth_hz && apart <= a->bandwidth_hz / 25 * 6;
}

void air_channel_listen(struct air_channel *air, unsigned station,
                        const struct air_settings *settings, rp_time_us now_us)
{
    assert(station < air->stations);
    struct air_ear *ear = &air->ears[station];
    if (settings == NULL) {
        ear->listening = false;
    } else if (!ear->listening || !same_listening(&ear->settings, settings)) {
        ear->listening = true;
        ear->since_us = now_us;
        ear->settings = *settings;
    }
}

static bool captures(const struct air_channel *air, unsigned wanted, unsigned other, unsigned at)
{
    const struct air_sending *w = &air->sendings[wanted];
    const struct air_sending *o = &air->sendings[other];
    int needed_db;
    if (!air_capture_needs(air->capture, air->capture_db, w->settings.spreading_factor,
                           o->settings.spreading_factor, &needed_db)) {
        return true;
    }
    bool never = air->capture == AIR_CAPTURE_FIXED && needed_db == 0;
    return !never && w->rssi_dbm[at] - o->rssi_dbm[at] >= needed_db;
}

/* Marks where `other` spoils `victim`. All times are known once both have started. */
static void spoil(struct air_channel *air, unsigned victim, unsigned other)
{
    struct air_sending *v = &air->sendings[victim];
    const struct air_sending *o = &air->sendings[other];
    if (o->start_us >= v->end_us || o->end_us <= v->lock_us) {
        return;
    }
    for (unsigned at = 0; at < air->stations; at++) {
        uint32_t bit = UINT32_C(1) << at;
        if ((v->audible & o->audible & bit) != 0 && !captures(air, victim, other, at)) {
            v->spoiled |= bit;
        }
    }
}

static void draw_strength(struct air_link *link, struct air_sending *s, unsigned to)
{
    s->rssi_dbm[to] = link->rssi_dbm;
    s->snr_db[to] = link->snr_db;
    if (link->has_path) {
        int rssi_dbm =
            s->settings.power_dbm - link->loss_db + air_draw_db(&link->rng, link->fading_tenth_db);
        int snr_db = rssi_dbm - air_noise_dbm(s->settings.bandwidth_hz);
        s->rssi_dbm[to] = (int16_t)rssi_dbm;
        s->snr_db[to] = (int16_t)(snr_db < SNR_MAX_DB ? snr_db : SNR_MAX_DB);
    }
}

static void draw_losses(struct air_channel *air, unsigned station)
{
    struct air_sending *s = &air->sendings[station];
    for (unsigned to = 0; to < air->stations; to++) {
        struct air_link *link = &air->links[station][to];
        if (!link->audible) {
            continue;
        }
        s->audible |= UINT32_C(1) << to;
        draw_strength(link, s, to);
        if (rp_rng_below(&link->rng, AIR_LOSS_ONE) < link->loss_ppm) {
            s->lost |= UINT32_C(1) << to;
        }
    }
}

static int64_t frame_airtime_us(const struct air_settings *settings, const struct air_frame *frame)
{
    struct air_time_input in = {
        .bandwidth_hz = settings->bandwidth_hz,
        .preamble_symbols = settings->preamble_symbols,
        .spreading_factor = settings->spreading_factor,
        .coding_rate = settings->coding_rate,
        .crc = settings->crc,
        .low_data_rate = air_time_low_data_rate(settings->spreading_factor, settings->bandwidth_hz),
        .payload_len = (uint16_t)(frame->len + frame->extra_len),
    };
    return air_time_us(&in);
}

int64_t air_channel_send(struct air_channel *air, unsigned station,
                         const struct air_settings *settings, const struct air_frame *frame,
                         rp_time_us now_us)
{
    assert(station < air->stations);
    struct air_sending *s = &air->sendings[station];
    if (s->on_air) {
        return RP_E_BUSY;
    }
    int64_t airtime_us = frame_airtime_us(settings, frame);
    if (airtime_us < 0) {
        return RP_E_INVALID;
    }
    int64_t symbol_us = air_time_symbol_us(settings->spreading_factor, settings->bandwidth_hz);
    int64_t early =
        settings->preamble_symbols > LOCK_SYMBOLS ? settings->preamble_symbols - LOCK_SYMBOLS : 0;
    *s = (struct air_sending){.on_air = true,
                              .start_us = now_us,
                              .lock_us = now_us + early * symbol_us,
                              .end_us = now_us + airtime_us,
                              .settings = *settings,
                              .frame = *frame};
    draw_losses(air, station);
    for (unsigned other = 0; other < air->stations; other++) {
        const struct air_sending *o = &air->sendings[other];
        if (other != station && o->on_air && channel_shared(settings, &o->settings)) {
            spoil(air, station, other);
            spoil(air, other, station);
        }
    }
    return airtime_us;
}

static bool too_weak(const struct air_channel *air, unsigned from, unsigned at)
{
    const struct air_sending *s = &air->sendings[from];
    return air->links[from][at].has_path &&
           s->rssi_dbm[at] <
               air_sensitivity_dbm(s->settings.spreading_factor, s->settings.bandwidth_hz);
}

static enum air_fate fate_at(const struct air_channel *air, unsigned from, unsigned at)
{
    const struct air_sending *s = &air->sendings[from];
    const struct air_sending *own = &air->sendings[at];
    const struct air_ear *ear = &air->ears[at];
    uint32_t bit = UINT32_C(1) << at;
    if ((s->audible & bit) == 0) {
        return AIR_UNHEARABLE;
    }
    if (own->on_air || own->end_us > s->lock_us) {
        return AIR_HALFDUPLEX;
    }
    if (!ear->listening || ear->since_us > s->lock_us) {
        return AIR_DEAF;
    }
    if (!tuned(air, from, at)) {
        return AIR_UNTUNED;
    }
    if (too_weak(air, from, at)) {
        return AIR_WEAK;
    }
    if ((s->spoiled & bit) != 0) {
        return AIR_COLLISION;
    }
    return (s->lost & bit) != 0 ? AIR_LOST : AIR_OK;
}

static void report(const struct air_channel *air, unsigned from, bool cut,
                   struct air_report *out_report)
{
    const struct air_sending *s = &air->sendings[from];
    *out_report = (struct air_report){.from = from,
                                      .end_us = s->end_us,
                                      .airtime_us = s->end_us - s->start_us,
                                      .frame = &s->frame,
                                      .rssi_dbm = s->rssi_dbm,
                                      .snr_db = s->snr_db};
    for (unsigned at = 0; at < air->stations; at++) {
        enum air_fate fate = fate_at(air, from, at);
        out_report->fates[at] = cut && fate != AIR_UNHEARABLE ? AIR_CUT : fate;
    }
}

bool air_channel_abort(struct air_channel *air, unsigned station, rp_time_us now_us,
                       struct air_report *out_report)
{
    struct air_sending *s = &air->sendings[station];
    if (!s->on_air) {
        return false;
    }
    s->end_us = now_us;
    report(air, station, true, out_report);
    s->on_air = false;
    return true;
}

static unsigned earliest(const struct air_channel *air)
{
    unsigned found = AIR_STATIONS_MAX;
    for (unsigned i = 0; i < air->stations; i++) {
        if (air->sendings[i].on_air &&
            (found == AIR_STATIONS_MAX || air->sendings[i].end_us < air->sendings[found].end_us)) {
            found = i;
        }
    }
    return found;
}

rp_time_us air_channel_wake(const struct air_channel *air)
{
    unsigned first = earliest(air);
    return first == AIR_STATIONS_MAX ? RP_NEVER : air->sendings[first].end_us;
}

bool air_channel_finish(struct air_channel *air, rp_time_us now_us, struct air_report *out_report)
{
    unsigned first = earliest(air);
    if (first == AIR_STATIONS_MAX || air->sendings[first].end_us > now_us) {
        return false;
    }
    report(air, first, false, out_report);
    air->sendings[first].on_air = false;
    return true;
}

bool air_channel_carrier(const struct air_channel *air, unsigned station,
                         const struct air_settings *settings)
{
    for (unsigned from = 0; from < air->stations; from++) {
        const struct air_sending *s = &air->sendings[from];
        if (s->on_air && (s->audible >> station & 1) != 0 &&
            settings->spreading_factor == s->settings.spreading_factor &&
            !too_weak(air, from, station) && channel_shared(settings, &s->settings)) {
            return true;
        }
    }
    return false;
}

rp_time_us air_channel_locked_until(const struct air_channel *air, unsigned station,
                                    rp_time_us now_us)
{
    for (unsigned from = 0; from < air->stations; from++) {
        const struct air_sending *s = &air->sendings[from];
        if (s->on_air && s->lock_us <= now_us && fate_at(air, from, station) == AIR_OK) {
            return s->end_us;
        }
    }
    return RP_NEVER;
}

const char *air_fate_name(enum air_fate fate)
{
    static const char *const words[AIR_FATE_COUNT] = {
#define AIR_FATE_WORD(name, word) [name] = word,
        AIR_FATES(AIR_FATE_WORD)
#undef AIR_FATE_WORD
    };
    return fate < AIR_FATE_COUNT ? words[fate] : "?";
}
