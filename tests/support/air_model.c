#include "air_model.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define REQUIRE(condition)                                                                         \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fprintf(stderr, "seed %llu, %.3f s, %s:%d: %s\n", (unsigned long long)air->seed,       \
                    (double)air->now_us / 1e6, __FILE__, __LINE__, #condition);                    \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

static const uint8_t secret[RP_SECRET_LEN] = "tsergang valley";

/* Semtech SX1276/77/78/79 data sheet rev 4 (2015) section 4.1.1.7: preamble 8 symbols, explicit
 * header, CRC on, coding rate 4/5, 125 kHz, no low-data-rate optimisation (SF7 to SF10). */
uint32_t air_time_us(unsigned spreading_factor, unsigned len)
{
    int bits = 8 * (int)len - 4 * (int)spreading_factor + 28 + 16;
    int per = 4 * (int)spreading_factor;
    int blocks = bits > 0 ? (bits + per - 1) / per : 0;
    uint32_t quarter_symbols = 4 * (8 + 8 + (uint32_t)blocks * 5) + 17;
    return quarter_symbols * ((1u << spreading_factor) * 8) / 4;
}

uint64_t air_random(struct air *air, uint64_t bound)
{
    /* xorshift64 (Marsaglia, "Xorshift RNGs", 2003): not the engine's generator. */
    uint64_t x = air->rng_state;
    x ^= x << 13;
    x ^= x >> 7;
    x ^= x << 17;
    air->rng_state = x;
    return (x >> 11) % bound;
}

static struct air_log *log_of(struct air_station *station, uint16_t origin, bool make)
{
    struct air *air = station->air;
    for (unsigned i = 0; i < station->log_count; i++) {
        if (station->logs[i].origin == origin) {
            return &station->logs[i];
        }
    }
    if (!make) {
        return NULL;
    }
    REQUIRE(station->log_count < AIR_LOGS_MAX);
    struct air_log *log = &station->logs[station->log_count++];
    *log = (struct air_log){.origin = origin};
    return log;
}

static struct air_segment *segment_of(struct air_station *station, uint16_t origin, uint32_t seq,
                                      bool make)
{
    struct air *air = station->air;
    struct air_log *log = log_of(station, origin, make);
    if (log == NULL || (seq > log->cap && !make)) {
        return NULL;
    }
    if (seq > log->cap) {
        uint32_t cap = seq * 2 + 16;
        log->segments = realloc(log->segments, cap * sizeof log->segments[0]);
        REQUIRE(log->segments != NULL);
        memset(&log->segments[log->cap], 0, (cap - log->cap) * sizeof log->segments[0]);
        log->cap = cap;
    }
    if (make && seq > log->top) {
        log->top = seq;
    }
    return &log->segments[seq - 1];
}

static struct air_station *owner_of(struct air *air, uint16_t origin)
{
    for (unsigned i = 0; i < air->config.stations; i++) {
        if (air->stations[i].origin == origin) {
            return &air->stations[i];
        }
    }
    return NULL;
}

static int store_put(void *ctx, const struct rp_segment *segment)
{
    struct air_station *station = ctx;
    struct air *air = station->air;
    if (station->put_fails) {
        return -13; /* RP_E_NO_SPACE */
    }
    struct air_segment *place = segment_of(station, segment->origin, segment->seq, true);
    if (place->len > 0) {
        return -6; /* RP_E_DUPLICATE */
    }
    struct air_station *owner = owner_of(air, segment->origin);
    if (owner != NULL) {
        struct air_segment *made = segment_of(owner, segment->origin, segment->seq, false);
        REQUIRE(made != NULL && made->len == segment->sealed.len);
        REQUIRE(memcmp(made->bytes, segment->sealed.bytes, made->len) == 0);
    }
    place->len = (uint16_t)segment->sealed.len;
    memcpy(place->bytes, segment->sealed.bytes, segment->sealed.len);
    place->held_us = air->now_us;
    return 0;
}

static int store_get(void *ctx, uint16_t origin, uint32_t seq, uint8_t *buf, size_t cap)
{
    struct air_segment *place = segment_of(ctx, origin, seq, false);
    if (place == NULL || place->len == 0 || place->len > cap) {
        return -7; /* RP_E_NOT_FOUND */
    }
    memcpy(buf, place->bytes, place->len);
    return place->len;
}

static int store_reserve(void *ctx, uint32_t upto)
{
    struct air_station *station = ctx;
    if (station->reserve_fails) {
        return -13;
    }
    station->counter_reserved = upto > station->counter_reserved ? upto : station->counter_reserved;
    return 0;
}

static int store_charge(void *ctx, uint32_t airtime_us, bool urgent)
{
    struct air_station *station = ctx;
    (void)airtime_us;
    (void)urgent;
    return station->charge_fails ? -13 : 0;
}

static void load_engine(struct air *air, struct air_station *station)
{
    for (unsigned i = 0; i < station->log_count; i++) {
        struct air_log *log = &station->logs[i];
        for (uint32_t seq = 1; seq <= log->top; seq++) {
            uint32_t first = seq;
            while (seq <= log->top && log->segments[seq - 1].len > 0) {
                seq++;
            }
            REQUIRE(seq == first || rp_mesh_load(station->mesh, log->origin, first, seq - 1) == 0);
        }
    }
    for (size_t i = station->hour_first; i < station->charge_count; i++) {
        const struct air_charge *charge = &station->charges[i];
        rp_time_us airtime_us = charge->end_us - charge->start_us;
        rp_mesh_load_charge(station->mesh, air->now_us, air->now_us - charge->start_us,
                            (uint32_t)airtime_us);
    }
}

static void start_engine(struct air *air, struct air_station *station)
{
    rp_seal_init(&station->seal, secret, 0);
    struct rp_mesh_config config = {
        .origin = station->origin,
        .is_base = station->is_base,
        .frame_len_max = air->config.frame_len_max,
        .airtime_us = air->airtime_us,
        .budget_us_per_hour = air->config.budget_us_per_hour,
        .urgent_reserve_pct = air->config.urgent_reserve_pct,
        .counter_reserved = station->counter_reserved,
        .seed = air->seed * 1000 + station->origin + 7919u * station->starts++,
        .seal = &station->seal,
        .store = {station, store_put, store_get, store_reserve, store_charge},
    };
    void *memory = station->mesh != NULL ? (void *)station->mesh : malloc(rp_mesh_size());
    REQUIRE(memory != NULL);
    REQUIRE(rp_mesh_init(memory, &config, air->now_us, &station->mesh) == 0);
    rp_mesh_promise(station->mesh, station->promise_s);
    load_engine(air, station);
    station->up = true;
}

void air_start(struct air *air, const struct air_config *config, uint64_t seed)
{
    memset(air, 0, sizeof *air);
    air->config = *config;
    air->seed = seed;
    air->rng_state = seed * 0x9e3779b97f4a7c15u + 0x1234567;
    REQUIRE(config->stations <= AIR_STATIONS_MAX && air->rng_state != 0);
    for (unsigned len = 0; len <= RP_FRAME_LEN_MAX; len++) {
        air->airtime_us[len] = air_time_us(config->spreading_factor, len);
    }
    for (unsigned a = 0; a < AIR_STATIONS_MAX; a++) {
        for (unsigned b = 0; b < AIR_STATIONS_MAX; b++) {
            air->loss[a][b] = AIR_NO_LINK;
        }
    }
    for (unsigned i = 0; i < config->stations; i++) {
        struct air_station *station = &air->stations[i];
        station->air = air;
        station->origin = rp_origin_make((uint8_t)(i + 1), (uint16_t)air_random(air, 512));
        station->is_base = i == config->base;
        station->clock_s = 24000000;
        start_engine(air, station);
    }
}

void air_stop(struct air *air)
{
    for (unsigned i = 0; i < air->config.stations; i++) {
        struct air_station *station = &air->stations[i];
        for (unsigned j = 0; j < station->log_count; j++) {
            free(station->logs[j].segments);
        }
        free(station->charges);
        free(station->mesh);
    }
}

void air_link(struct air *air, unsigned a, unsigned b, uint16_t loss)
{
    air->loss[a][b] = air->loss[b][a] = loss;
}

uint32_t air_publish(struct air *air, unsigned index, uint8_t lead, uint8_t stream,
                     size_t plain_len)
{
    struct air_station *station = &air->stations[index];
    struct air_log *log = log_of(station, station->origin, true);
    uint32_t seq = log->top + 1;
    uint8_t plain[RP_FRAME_LEN_MAX] = {lead, stream};
    for (size_t i = 2; i < plain_len; i++) {
        plain[i] = (uint8_t)air_random(air, 256);
    }
    /* A status report says when it was entered (PROTOCOL.md, "Record"): a varint of four bytes. */
    uint32_t entry_s = (uint32_t)(station->clock_s + air->now_us / AIR_SECOND_US);
    for (size_t i = 2; i < 6 && plain_len >= 6; i++, entry_s >>= 7) {
        plain[i] = (uint8_t)((entry_s & 127) | (i < 5 ? 128 : 0));
    }
    struct rp_frame_head head = {.kind = RP_FRAME_SEGMENT,
                                 .first = true,
                                 .last = true,
                                 .origin = station->origin,
                                 .counter = seq};
    struct air_segment *place = segment_of(station, station->origin, seq, true);
    struct rp_view view = {plain, plain_len};
    int len = rp_frame_seal(&station->seal, &head, view, place->bytes, sizeof place->bytes);
    REQUIRE(len > 0);
    place->len = (uint16_t)len;
    place->held_us = air->now_us;
    if (station->up) {
        REQUIRE(rp_mesh_publish(station->mesh, seq, view, air->now_us) == 0);
    }
    return seq;
}

void air_restart(struct air *air, unsigned index)
{
    air->stations[index].sending = false;
    start_engine(air, &air->stations[index]);
}

void air_restart_as(struct air *air, unsigned index, uint16_t origin)
{
    air->stations[index].origin = origin;
    air->stations[index].counter_reserved = 0;
    air->stations[index].counter_used = 0;
    air_restart(air, index);
}

static void drain_events(struct air_station *station)
{
    struct rp_mesh_event event;
    unsigned *counts[] = {[RP_MESH_AIRED] = &station->events.aired,
                          [RP_MESH_HEARD] = &station->events.heard,
                          [RP_MESH_ACCEPTED] = &station->events.accepted,
                          [RP_MESH_SAME_STATION] = &station->events.same_station,
                          [RP_MESH_OWN_AHEAD] = &station->events.own_ahead,
                          [RP_MESH_CLOCK] = &station->events.clock,
                          [RP_MESH_AT_BASE] = &station->events.at_base};
    while (rp_mesh_next_event(station->mesh, &event)) {
        (*counts[event.kind])++;
    }
}

/* No control counter twice, none that was not reserved first. */
static void audit_counter(struct air *air, struct air_station *station)
{
    struct rp_frame_head head;
    struct rp_view frame = {station->frame, station->frame_len};
    REQUIRE(rp_frame_head_read(frame, &head) > 0);
    if (head.kind != RP_FRAME_SEGMENT) {
        REQUIRE(head.counter > station->counter_used);
        REQUIRE(head.counter <= station->counter_reserved);
        station->counter_used = head.counter;
    }
}

/* The airtime of the hour that ends with this frame, cut at its start. */
static void audit_airtime(struct air *air, struct air_station *station)
{
    if (station->charge_count == station->charge_cap) {
        station->charge_cap = station->charge_cap * 2 + 64;
        station->charges =
            realloc(station->charges, station->charge_cap * sizeof station->charges[0]);
        REQUIRE(station->charges != NULL);
    }
    station->charges[station->charge_count++] =
        (struct air_charge){station->start_us, station->end_us};
    station->hour_us += (uint64_t)(station->end_us - station->start_us);
    station->airtime_us += (uint64_t)(station->end_us - station->start_us);
    rp_time_us from_us = station->end_us - AIR_HOUR_US;
    while (station->charges[station->hour_first].end_us <= from_us) {
        const struct air_charge *old = &station->charges[station->hour_first++];
        station->hour_us -= (uint64_t)(old->end_us - old->start_us);
    }
    const struct air_charge *oldest = &station->charges[station->hour_first];
    uint64_t cut_us = oldest->start_us < from_us ? (uint64_t)(from_us - oldest->start_us) : 0;
    REQUIRE(station->hour_us - cut_us <= air->config.budget_us_per_hour);
}

static void begin_frame(struct air *air, struct air_station *station, size_t len)
{
    unsigned from = (unsigned)(station - air->stations);
    station->frame_len = len;
    station->sending = true;
    /* The serial line and the modem: 5 ms and more before the first symbol. */
    uint32_t most_us = air->config.latency_most_us > 0 ? air->config.latency_most_us : 40000;
    station->start_us = air->now_us + 5000 + (rp_time_us)air_random(air, most_us - 5000);
    station->end_us = station->start_us + air->airtime_us[len];
    audit_counter(air, station);
    audit_airtime(air, station);
    air->recent[air->recent_next % 64] = (struct air_charge){station->start_us, station->end_us};
    air->recent_from[air->recent_next % 64] = (uint8_t)from;
    air->recent_next++;
    air->frames++;
    if (air->on_frame != NULL) {
        air->on_frame(air->on_frame_ctx, from, (struct rp_view){station->frame, len});
    }
}

static bool disturbed(const struct air *air, unsigned from, unsigned to)
{
    const struct air_station *sender = &air->stations[from];
    unsigned known = air->recent_next < 64 ? air->recent_next : 64;
    for (unsigned i = 0; i < known; i++) {
        unsigned other = air->recent_from[i];
        bool heard = other == to || air->loss[other][to] < AIR_NO_LINK;
        bool overlaps =
            air->recent[i].start_us < sender->end_us && sender->start_us < air->recent[i].end_us;
        if (other != from && heard && overlaps) {
            return true;
        }
    }
    return false;
}

void air_inject(struct air *air, unsigned index, struct rp_view frame)
{
    struct air_station *station = &air->stations[index];
    rp_mesh_receive(station->mesh, frame, true, -100, 5, air->now_us);
    drain_events(station);
}

static void end_frame(struct air *air, struct air_station *sender)
{
    unsigned from = (unsigned)(sender - air->stations);
    for (unsigned to = 0; to < air->config.stations; to++) {
        uint16_t loss = air->loss[from][to];
        if (to == from || loss >= AIR_NO_LINK || !air->stations[to].up) {
            continue;
        }
        if (disturbed(air, from, to)) {
            air->collisions++;
        } else if (air_random(air, 1000) >= loss) {
            /* A copy of the exact size, so that a sanitizer sees one byte too many. */
            uint8_t *exact = malloc(sender->frame_len);
            REQUIRE(exact != NULL);
            memcpy(exact, sender->frame, sender->frame_len);
            air_inject(air, to, (struct rp_view){exact, sender->frame_len});
            free(exact);
        }
    }
    sender->sending = false;
    rp_mesh_sent(sender->mesh, true, air->now_us);
    drain_events(sender);
}

static rp_time_us next_of(const struct air *air, const struct air_station *station)
{
    if (!station->up) {
        return RP_NEVER;
    }
    rp_time_us next_us = station->sending ? station->end_us : rp_mesh_wake(station->mesh);
    return next_us > air->now_us ? next_us : air->now_us;
}

static void act(struct air *air, struct air_station *station)
{
    if (station->sending) {
        end_frame(air, station);
        return;
    }
    size_t len =
        rp_mesh_take_frame(station->mesh, air->now_us, station->frame, sizeof station->frame);
    if (len > 0) {
        begin_frame(air, station, len);
    } else {
        /* An engine that has nothing to send must not ask to be called again at once. */
        REQUIRE(rp_mesh_wake(station->mesh) > air->now_us);
    }
    drain_events(station);
}

void air_run_until(struct air *air, rp_time_us until_us)
{
    for (;;) {
        struct air_station *next = NULL;
        rp_time_us next_us = RP_NEVER;
        for (unsigned i = 0; i < air->config.stations; i++) {
            rp_time_us own_us = next_of(air, &air->stations[i]);
            if (own_us < next_us) {
                next_us = own_us;
                next = &air->stations[i];
            }
        }
        if (next == NULL || next_us > until_us) {
            break;
        }
        air->now_us = next_us;
        act(air, next);
    }
    air->now_us = until_us;
}

rp_time_us air_held_at(const struct air *air, unsigned index, uint16_t origin, uint32_t seq)
{
    const struct air_station *station = &air->stations[index];
    for (unsigned i = 0; i < station->log_count; i++) {
        const struct air_log *log = &station->logs[i];
        if (log->origin == origin && seq <= log->top && log->segments[seq - 1].len > 0) {
            return log->segments[seq - 1].held_us;
        }
    }
    return -1;
}

bool air_same(const struct air *air)
{
    for (unsigned i = 0; i < air->config.stations; i++) {
        for (unsigned j = 0; j < air->stations[i].log_count; j++) {
            const struct air_log *log = &air->stations[i].logs[j];
            for (unsigned to = 0; to < air->config.stations; to++) {
                for (uint32_t seq = 1; seq <= log->top; seq++) {
                    if (log->segments[seq - 1].len > 0 &&
                        air_held_at(air, to, log->origin, seq) < 0) {
                        return false;
                    }
                }
            }
        }
    }
    return true;
}

rp_time_us air_run_until_same(struct air *air, rp_time_us limit_us)
{
    rp_time_us from_us = air->now_us;
    while (!air_same(air)) {
        if (air->now_us - from_us >= limit_us) {
            return -1;
        }
        air_run_until(air, air->now_us + AIR_SECOND_US / 2);
    }
    return air->now_us - from_us;
}

uint64_t air_airtime_us(const struct air *air)
{
    uint64_t sum_us = 0;
    for (unsigned i = 0; i < air->config.stations; i++) {
        sum_us += air->stations[i].airtime_us;
    }
    return sum_us;
}
