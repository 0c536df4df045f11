/* Entry points of the engine: building it, telling it what is held, and taking frames in. */
#include "mesh/state.h"

#include <assert.h>

/* The frame at which the reference waits were fitted: 40 bytes, SF9, 125 kHz, 4/5, 287.7 ms
 * (measured in a prototype). */
#define REFERENCE_LEN        40
#define REFERENCE_AIRTIME_US 287744
/* Trickle: Imin 4 s in reference time, Imax 60 min, k = 1 (measured in a prototype). */
#define IMIN_MS       4000
#define IMIN_LEAST_US RP_SECOND_US
#define IMAX_US       RP_HOUR_US
#define ROWS_PAUSE_US (120 * RP_SECOND_US)
/* A frame must at least hold a digest with a few rows, or a need. Own choice. */
#define FRAME_LEN_LEAST 40

size_t rp_mesh_size(void)
{
    return sizeof(struct rp_mesh);
}

rp_time_us rp_scale_us(const struct rp_mesh *mesh, uint32_t ref_ms)
{
    return (rp_time_us)ref_ms * 1000 * mesh->frame40_us / REFERENCE_AIRTIME_US;
}

rp_time_us rp_wait_us(struct rp_mesh *mesh, uint32_t low_ms, uint32_t high_ms)
{
    return rp_rng_between(&mesh->rng, rp_scale_us(mesh, low_ms), rp_scale_us(mesh, high_ms));
}

uint32_t rp_airtime_of_us(const struct rp_mesh *mesh, size_t frame_len)
{
    assert(frame_len <= mesh->config.carry_len_max);
    return mesh->config.airtime_us[frame_len];
}

static bool config_valid(const struct rp_mesh_config *config)
{
    uint8_t station = rp_origin_station(config->origin);
    return station >= RP_STATION_MIN && station <= RP_STATION_MAX &&
           config->frame_len_max >= FRAME_LEN_LEAST && config->frame_len_max <= RP_FRAME_LEN_MAX &&
           config->carry_len_max <= RP_FRAME_LEN_MAX && config->airtime_us != NULL &&
           config->airtime_us[REFERENCE_LEN] > 0 && config->urgent_reserve_pct <= 100 &&
           config->seal != NULL && config->store.put != NULL && config->store.get != NULL &&
           config->store.reserve_counter != NULL && config->store.charge != NULL;
}

int rp_mesh_init(void *memory, const struct rp_mesh_config *config, rp_time_us now_us,
                 struct rp_mesh **out_mesh)
{
    if (memory == NULL || !config_valid(config)) {
        return RP_E_INVALID;
    }
    struct rp_mesh *mesh = memory;
    *mesh = (struct rp_mesh){.config = *config};
    if (mesh->config.carry_len_max < config->frame_len_max) {
        mesh->config.carry_len_max = config->frame_len_max;
    }
    mesh->station = rp_origin_station(config->origin);
    mesh->rng = rp_rng_seeded(config->seed);
    mesh->frame40_us = config->airtime_us[REFERENCE_LEN];
    mesh->counter_reserved = config->counter_reserved;
    mesh->counter_next = config->counter_reserved + 1;
    mesh->self.clock_quality = 15;
    mesh->self.battery_pct = 127;
    mesh->digest_us = mesh->vector_us = RP_NEVER;
    mesh->row_pause_us = ROWS_PAUSE_US;
    mesh->row_sent_us = mesh->spoke_us = mesh->looked_us = now_us;
    mesh->hello_us = 180 * RP_SECOND_US;
    mesh->gap_us = mesh->urgent_gap_us = mesh->copy_gap_us = now_us;
    mesh->quiet_us = mesh->contend_us = now_us;
    mesh->urgent_us = now_us - RP_HOUR_US;
    mesh->status_us = now_us; /* until an hour has shown that none come */
    mesh->changed_us = now_us - RP_HOUR_US;
    mesh->sense.free_us = now_us;
    mesh->contact_us = mesh->difference_us = mesh->doubt_us = now_us;
    for (unsigned lane = 0; lane < RP_LANES; lane++) {
        mesh->blocked_us[lane] = now_us;
    }
    rp_time_us imin_us = rp_scale_us(mesh, IMIN_MS);
    imin_us = imin_us > IMIN_LEAST_US ? imin_us : IMIN_LEAST_US;
    mesh->difference_pause_us = imin_us;
    rp_trickle_start(&mesh->trickle, imin_us, IMAX_US, 1, now_us, &mesh->rng);
    rp_ledger_init(&mesh->ledger, config->budget_us_per_hour, config->urgent_reserve_pct, now_us);
    struct rp_log *own = rp_log_make(mesh, config->origin);
    assert(own != NULL);
    *out_mesh = mesh;
    return 0;
}

int rp_mesh_load(struct rp_mesh *mesh, uint16_t origin, uint32_t seq_first, uint32_t seq_last)
{
    if (seq_first < 1 || seq_last < seq_first || seq_last > RP_SEQ_MAX) {
        return RP_E_INVALID;
    }
    struct rp_log *log = rp_log_make(mesh, origin);
    int error = log != NULL ? rp_log_add(mesh, log, seq_first, seq_last) : RP_E_FULL;
    if (error == 0 && origin != mesh->config.origin) {
        rp_pull_wanted(mesh, log, mesh->gap_us); /* the moment of the start */
    }
    return error;
}

void rp_mesh_load_charge(struct rp_mesh *mesh, rp_time_us now_us, int64_t age_us,
                         uint32_t airtime_us)
{
    if (age_us > RP_HOUR_US + RP_LEDGER_BUCKET_US) {
        return;
    }
    age_us = age_us > 0 ? age_us : 0; /* a clock that was set back: it counts from now */
    /* It was charged before it left: up to one bucket may lie between. */
    rp_time_us at_us = now_us - age_us + RP_LEDGER_BUCKET_US;
    rp_ledger_add(&mesh->ledger, rp_sooner_us(at_us, now_us), airtime_us);
}

void rp_mesh_forget_charges(struct rp_mesh *mesh, rp_time_us now_us)
{
    assert(!mesh->flight.active);
    rp_ledger_init(&mesh->ledger, mesh->config.budget_us_per_hour, mesh->config.urgent_reserve_pct,
                   now_us);
}

/* Something changed here: differences may be acted on at once again. */
static void state_changed(struct rp_mesh *mesh, rp_time_us now_us)
{
    mesh->changed_us = now_us;
    mesh->difference_pause_us = mesh->trickle.imin_us;
    if (mesh->difference_us > now_us + mesh->difference_pause_us) {
        mesh->difference_us = now_us + mesh->difference_pause_us;
    }
}

int rp_mesh_publish(struct rp_mesh *mesh, uint32_t seq, struct rp_view plain, rp_time_us now_us)
{
    if (seq < 1 || seq > RP_SEQ_MAX || plain.len < 1) {
        return RP_E_INVALID;
    }
    struct rp_log *own = rp_log_find(mesh, mesh->config.origin);
    assert(own != NULL);
    uint8_t sealed[RP_FRAME_LEN_MAX];
    struct rp_frame_head head;
    int len =
        mesh->config.store.get(mesh->config.store.ctx, own->origin, seq, sealed, sizeof sealed);
    if (len <= 0) {
        return len < 0 ? len : RP_E_NOT_FOUND;
    }
    int error = rp_frame_head_read(rp_view_of(sealed, (size_t)len), &head);
    if (error < 0) {
        return error;
    }
    error = rp_log_add(mesh, own, seq, seq);
    if (error != 0) {
        return error;
    }
    state_changed(mesh, now_us);
    rp_event_unheard(mesh, seq);
    if (head.first) {
        rp_due_accepted(mesh, own, seq, plain, &(struct rp_trailer){.promise = mesh->promise},
                        now_us);
    }
    struct rp_pending *pending = rp_queue_add(mesh, own->origin, seq, plain, head.first, now_us);
    if (pending != NULL) {
        rp_push_own(mesh, pending, now_us);
    }
    return 0; /* without a place in the queue it is still found by digests */
}

void rp_mesh_promise(struct rp_mesh *mesh, uint32_t within_s)
{
    mesh->promise = 0;
    for (uint8_t code = 7; code > 0; code--) {
        if (within_s > 0 && rp_promise_min[code] * 60u >= within_s) {
            mesh->promise = code;
        }
    }
}

void rp_mesh_receipted(struct rp_mesh *mesh, uint32_t seq)
{
    struct rp_pending *pending = rp_queue_find(mesh, mesh->config.origin, seq);
    if (pending != NULL && pending->receipt_wanted) {
        pending->receipt_wanted = false;
        if (pending->state == RP_PENDING_REPEAT || pending->repeats > 0) {
            pending->state = RP_PENDING_IDLE;
            pending->due_us = RP_NEVER;
            pending->named = 0;
        }
    }
}

/* A new, authenticated segment. True when it is held now. */
static bool keep_segment(struct rp_mesh *mesh, struct rp_log *log, const struct rp_segment *segment,
                         rp_time_us now_us)
{
    if (!rp_held_room(&log->held, segment->seq)) {
        mesh->counters.queue_full++;
        rp_pull_wanted(mesh, log, now_us);
        return false;
    }
    int error = mesh->config.store.put(mesh->config.store.ctx, segment);
    if (error != 0 && error != RP_E_DUPLICATE) {
        mesh->counters.refused_store++;
        rp_pull_failed(mesh, log, now_us);
        return false;
    }
    mesh->store_failing = false;
    error = rp_log_add(mesh, log, segment->seq, segment->seq);
    assert(error == 0); /* room was checked above */
    state_changed(mesh, now_us);
    mesh->counters.segments_new++;
    struct rp_mesh_event event = {
        .kind = RP_MESH_ACCEPTED, .origin = segment->origin, .seq = segment->seq};
    rp_event_push(mesh, &event);
    return true;
}

static void take_segment_in(struct rp_mesh *mesh, const struct rp_segment *segment,
                            const struct rp_trailer *trailer, rp_time_us now_us)
{
    if (segment->plain.len < 1) {
        mesh->counters.refused_format++;
        return;
    }
    struct rp_log *log = rp_log_make(mesh, segment->origin);
    bool urgent = rp_lead_unpack(segment->plain.bytes[0]).urgent;
    if (log == NULL) {
        return;
    }
    if (rp_held_has(&log->held, segment->seq)) {
        mesh->counters.duplicates++;
        rp_pull_flowing(mesh, log, now_us);
        rp_push_overheard(mesh, segment->origin, segment->seq, urgent, trailer, now_us);
        return;
    }
    if (segment->origin == mesh->config.origin) {
        rp_event_own_ahead(mesh, segment->seq, now_us);
        return;
    }
    log->known = segment->seq > log->known ? segment->seq : log->known;
    if (!keep_segment(mesh, log, segment, now_us)) {
        return;
    }
    log->via = trailer->station;
    if (segment->first) {
        rp_due_accepted(mesh, log, segment->seq, segment->plain, trailer, now_us);
    }
    rp_pull_progress(mesh, log, segment->seq, trailer->named == 0, now_us);
    if (segment->last) {
        rp_base_kept(mesh, log, segment->seq, now_us);
    }
    struct rp_pending *pending =
        rp_queue_add(mesh, segment->origin, segment->seq, segment->plain, segment->first, now_us);
    if (pending != NULL) {
        rp_push_accepted(mesh, pending, trailer, now_us);
    }
}

/* What the trailer says of the links. It is not authenticated: it steers waits, nothing else. */
static void learn_links(struct rp_mesh *mesh, const struct rp_trailer *trailer, bool urgent,
                        bool has_signal, int16_t rssi_dbm, int16_t snr_db, size_t frame_len,
                        rp_time_us now_us)
{
    int slot = rp_neighbour_heard(mesh, trailer->station, now_us);
    struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    /* While all repeat urgent segments, half duplex looks like loss: learn only from what came
     * without any urgent frame between (measured in a prototype). */
    mesh->urgent_us = urgent ? now_us : mesh->urgent_us;
    rp_neighbour_data_counter(neighbour, trailer->counter,
                              !urgent && neighbour->data_us >= mesh->urgent_us);
    neighbour->data_us = now_us;
    neighbour->has_signal = has_signal;
    neighbour->rssi_dbm = rssi_dbm;
    neighbour->snr_db = snr_db;
    rp_neighbour_proves(mesh, trailer->previous, trailer->station);
    rp_neighbour_proves(mesh, trailer->station, trailer->named);
    bool other_named = trailer->named != 0 && trailer->named != mesh->station;
    rp_contend(mesh, other_named, urgent, frame_len, now_us);
    if (!trailer->retransmission) {
        /* Repetitions say nothing new of their sender's state. Were they to count, an urgent
         * segment repeated for want of a receipt would keep the very digests silent that bring
         * the receipt. */
        rp_trickle_consistent(&mesh->trickle, true);
    }
}

static int refuse(struct rp_mesh *mesh, int error)
{
    if (error == RP_E_AUTH) {
        mesh->counters.refused_auth++;
    } else {
        mesh->counters.refused_format++;
    }
    return error;
}

static void receive_segment(struct rp_mesh *mesh, struct rp_view frame, bool has_signal,
                            int16_t rssi_dbm, int16_t snr_db, rp_time_us now_us)
{
    struct rp_trailer trailer;
    int error = rp_trailer_read(frame, &trailer);
    if (error < 0) {
        refuse(mesh, error);
        return;
    }
    struct rp_view sealed = rp_view_of(frame.bytes, rp_segment_sealed_len(frame));
    struct rp_frame_head head;
    uint8_t plain[RP_FRAME_LEN_MAX];
    int len = rp_frame_open(mesh->config.seal, sealed, &head, plain, sizeof plain);
    if (len < 0) {
        refuse(mesh, len);
        return;
    }
    struct rp_segment segment = {.origin = head.origin,
                                 .seq = head.counter,
                                 .first = head.first,
                                 .last = head.last,
                                 .sealed = sealed,
                                 .plain = rp_view_of(plain, (size_t)len)};
    if (trailer.marked) {
        rp_base_heard(mesh, &head, frame, trailer.station, now_us);
    }
    if (trailer.station == mesh->station) {
        /* An echo, a forged trailer, or a station with this number: only the segment counts. The
         * last is recognised by its authenticated frames. */
        take_segment_in(mesh, &segment, &(struct rp_trailer){.station = 0}, now_us);
        return;
    }
    bool urgent = len > 0 && rp_lead_unpack(plain[0]).urgent;
    size_t airtime_len =
        frame.len < mesh->config.carry_len_max ? frame.len : mesh->config.carry_len_max;
    learn_links(mesh, &trailer, urgent, has_signal, rssi_dbm, snr_db, airtime_len, now_us);
    take_segment_in(mesh, &segment, &trailer, now_us);
}

void rp_mesh_receive(struct rp_mesh *mesh, struct rp_view frame, bool has_signal, int16_t rssi_dbm,
                     int16_t snr_db, rp_time_us now_us)
{
    mesh->counters.frames_in++;
    struct rp_frame_head head;
    int error = frame.len > RP_FRAME_LEN_MAX ? RP_E_TOO_LONG : rp_frame_head_read(frame, &head);
    if (error < 0) {
        refuse(mesh, error);
        return;
    }
    if (head.kind == RP_FRAME_SEGMENT) {
        receive_segment(mesh, frame, has_signal, rssi_dbm, snr_db, now_us);
        return;
    }
    uint8_t body[RP_FRAME_LEN_MAX];
    int len = rp_frame_open(mesh->config.seal, frame, &head, body, sizeof body);
    if (len < 0) {
        refuse(mesh, len);
        return;
    }
    rp_control_receive(mesh, &head, rp_view_of(body, (size_t)len), has_signal, rssi_dbm, snr_db,
                       now_us);
}

void rp_mesh_set_self(struct rp_mesh *mesh, const struct rp_mesh_self *self)
{
    mesh->self = *self;
    if (self->battery_pct > 100) {
        mesh->self.battery_pct = 127;
    }
    if (self->clock_quality > 15) {
        mesh->self.clock_quality = 15;
    }
}

size_t rp_mesh_neighbours(const struct rp_mesh *mesh, struct rp_mesh_neighbour *out, size_t cap)
{
    size_t count = 0;
    for (int slot = 0; slot < mesh->neighbour_count && count < cap; slot++) {
        const struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        if (neighbour->station == 0) {
            continue;
        }
        out[count++] = (struct rp_mesh_neighbour){
            .station = neighbour->station,
            .is_base = neighbour->is_base,
            .in_pct = (uint8_t)(neighbour->in_q16 * 100u / 65535),
            .out_pct = (uint8_t)(neighbour->out_q8 * 100u / 255),
            .has_signal = neighbour->has_signal,
            .rssi_dbm = neighbour->rssi_dbm,
            .snr_db = neighbour->snr_db,
            .battery_pct = neighbour->battery_pct,
            .has_settings = neighbour->has_settings,
            .settings_hash = neighbour->settings_hash,
            .heard_us = neighbour->heard_us,
        };
    }
    return count;
}

void rp_mesh_counters(const struct rp_mesh *mesh, struct rp_mesh_counters *out_counters)
{
    *out_counters = mesh->counters;
}

uint32_t rp_mesh_airtime_left_us(const struct rp_mesh *mesh, bool urgent, rp_time_us now_us)
{
    return rp_ledger_left_us(&mesh->ledger, urgent ? RP_SPEND_URGENT : RP_SPEND_ROUTINE, now_us);
}

bool rp_mesh_holds(const struct rp_mesh *mesh, uint16_t origin, uint32_t seq)
{
    for (unsigned i = 0; i < mesh->log_count; i++) {
        if (mesh->logs[i].origin == origin) {
            return mesh->logs[i].held.upto >= seq;
        }
    }
    return seq == 0;
}

void rp_mesh_holding(const struct rp_mesh *mesh, uint16_t origin,
                     struct rp_mesh_holding *out_holding)
{
    struct rp_mesh_holding holding = {0};
    for (unsigned i = 0; i < mesh->log_count; i++) {
        const struct rp_log *log = &mesh->logs[i];
        if (log->origin != origin) {
            continue;
        }
        uint32_t top = rp_held_top(&log->held);
        holding.upto = log->held.upto;
        holding.held = log->held.upto;
        for (unsigned run = 0; run < log->held.run_count; run++) {
            holding.newest_first = log->held.runs[run].first;
            holding.newest_last = log->held.runs[run].last;
            holding.held += holding.newest_last - holding.newest_first + 1;
        }
        holding.known = log->known > top ? log->known : top;
    }
    *out_holding = holding;
}

bool rp_mesh_run(const struct rp_mesh *mesh, uint16_t origin, uint32_t seq, uint32_t *out_first,
                 uint32_t *out_last)
{
    for (unsigned i = 0; i < mesh->log_count; i++) {
        const struct rp_held *held = &mesh->logs[i].held;
        if (mesh->logs[i].origin != origin || seq < 1 || !rp_held_has(held, seq)) {
            continue;
        }
        *out_first = 1;
        *out_last = held->upto;
        for (unsigned run = 0; seq > held->upto && run < held->run_count; run++) {
            if (held->runs[run].first <= seq && seq <= held->runs[run].last) {
                *out_first = held->runs[run].first;
                *out_last = held->runs[run].last;
            }
        }
        return true;
    }
    return false;
}
