/* Control frames: digests to bytes and back (PROTOCOL.md, "Control frames"), and what follows from
 * a frame that was heard. */
#include "mesh/state.h"

#include <string.h>

#define REFERENCE_LEN 40 /* a typical answer, bytes */
/* The least pause between announcements of changed rows doubles up to this. */
#define ROWS_PAUSE_MAX_US (64 * 60 * RP_SECOND_US)
#define ROW_LEAST_Q8      18  /* half of the least ratio a row can say */
#define ROW_BITS          10u /* station 7, ratio 3 */
#define SHORT_NEAR        64 /* a short need asks for nothing older than this many before the newest */
#define LONG_EVERY        4
/* States differ while a record travels: a difference counts once nothing changed here for this
 * long. Own choice: three waits for a named station. */
#define SETTLE_MS     16000u
#define MARK_EXPLAINS 2

static size_t rows_len(unsigned count)
{
    return (count * ROW_BITS + 7) / 8;
}

/* Levels of a row: what each stands for, and where the next begins. None of the bounds lies at a
 * ratio that decides something (0.3 usable, 0.6 and 0.8 insistence and confirmation), or at 0.5 or
 * 0.7, where links are simulated: with sevenths half of all 50 % links looked like 0.57. */
static const uint8_t ratio_q8[8] = {0, 51, 84, 115, 140, 168, 199, 240};
static const uint8_t level_below_q8[7] = {26, 68, 100, 128, 154, 184, 220};

static uint32_t level_of(uint8_t q8)
{
    uint32_t level = 0;
    while (level < sizeof level_below_q8 && q8 >= level_below_q8[level]) {
        level++;
    }
    return level;
}

static void rows_write(const struct rp_digest *digest, struct rp_writer *w)
{
    uint32_t bits = 0;
    unsigned have = 0;
    for (unsigned i = 0; i < digest->row_count; i++) {
        uint32_t ratio = level_of(digest->rows[i].q8);
        bits = bits << ROW_BITS | (uint32_t)(digest->rows[i].station & 127) << 3 | ratio;
        for (have += ROW_BITS; have >= 8; have -= 8) {
            rp_put_u8(w, (uint8_t)(bits >> (have - 8)));
        }
    }
    if (have > 0) {
        rp_put_u8(w, (uint8_t)(bits << (8 - have)));
    }
}

size_t rp_digest_write(const struct rp_digest *digest, uint8_t *buf, size_t cap)
{
    struct rp_writer w = rp_writer_on(buf, cap);
    rp_put_be(&w, digest->hash, 4);
    rp_put_be(&w, (digest->clock_s & 0xfffffffu) << 4 | (digest->clock_quality & 15u), 4);
    rp_put_be(&w,
              (uint64_t)(digest->battery_pct & 127u) << 9 | (uint64_t)digest->is_base << 8 |
                  (uint64_t)digest->is_leaf << 7 | (uint64_t)(digest->airtime_left & 15u) << 3 |
                  (uint64_t)digest->wants_rows << 2 | (uint64_t)digest->has_settings << 1,
              2);
    rp_put_be(&w, (uint64_t)(digest->mark_station & 127u) << 9 | (digest->mark & 511u), 2);
    if (digest->has_settings) {
        rp_put_be(&w, digest->settings_hash, RP_SETTINGS_LEN);
    }
    rows_write(digest, &w);
    return w.failed ? 0 : w.len;
}

static int rows_read(struct rp_reader *r, struct rp_digest *digest)
{
    size_t left = rp_reader_left(r);
    unsigned count = (unsigned)(left * 8 / ROW_BITS);
    if (count > RP_ROWS_MAX || rows_len(count) != left) {
        return RP_E_FORMAT;
    }
    uint32_t bits = 0;
    unsigned have = 0;
    for (unsigned i = 0; i < count; i++) {
        for (; have < ROW_BITS; have += 8) {
            bits = bits << 8 | rp_get_u8(r);
        }
        uint32_t row = bits >> (have - ROW_BITS) & 0x3ffu;
        have -= ROW_BITS;
        uint8_t station = (uint8_t)(row >> 3);
        if (station < RP_STATION_MIN || station > RP_STATION_MAX) {
            return RP_E_FORMAT;
        }
        digest->rows[i] = (struct rp_row){station, ratio_q8[row & 7u]};
    }
    digest->row_count = (uint8_t)count;
    return 0;
}

int rp_digest_read(struct rp_view body, struct rp_digest *out_digest)
{
    if (body.len < RP_DIGEST_LEN) {
        return RP_E_TRUNCATED;
    }
    struct rp_reader r = rp_reader_on(body);
    struct rp_digest digest = {.hash = (uint32_t)rp_get_be(&r, 4)};
    uint32_t clock = (uint32_t)rp_get_be(&r, 4);
    unsigned flags = (unsigned)rp_get_be(&r, 2);
    digest.clock_s = clock >> 4;
    digest.clock_quality = clock & 15u;
    digest.battery_pct = (uint8_t)(flags >> 9);
    digest.is_base = (flags >> 8 & 1) != 0;
    digest.is_leaf = (flags >> 7 & 1) != 0;
    digest.airtime_left = flags >> 3 & 15u;
    digest.wants_rows = (flags >> 2 & 1) != 0;
    unsigned mark = (unsigned)rp_get_be(&r, 2);
    digest.mark_station = (uint8_t)(mark >> 9);
    digest.mark = mark & 511u;
    if (digest.mark_station > RP_STATION_MAX) {
        return RP_E_FORMAT;
    }
    if ((flags & 1u) != 0) {
        return RP_E_FORMAT; /* reserved bits */
    }
    if (digest.battery_pct > 100 && digest.battery_pct != 127) {
        return RP_E_FORMAT;
    }
    digest.has_settings = (flags >> 1 & 1) != 0;
    if (digest.has_settings) {
        digest.settings_hash = (uint16_t)rp_get_be(&r, RP_SETTINGS_LEN);
    }
    int error = r.failed ? RP_E_FORMAT : rows_read(&r, &digest);
    if (error == 0) {
        *out_digest = digest;
    }
    return error;
}

void rp_control_difference(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    if (now_us < mesh->difference_us) {
        return;
    }
    if (now_us - mesh->changed_us < rp_scale_us(mesh, SETTLE_MS)) {
        /* Something is on its way through the net: look again once it should have arrived. */
        if (mesh->digest_us == RP_NEVER) {
            mesh->digest_us = now_us + rp_wait_us(mesh, SETTLE_MS / 2, SETTLE_MS);
            mesh->digest_check = true;
        }
        return;
    }
    /* A difference that nothing here can mend (a full disk, a lost log) must not keep the whole
     * net at Imin: the pause doubles until something changes here or somebody agrees. */
    mesh->difference_us = now_us + mesh->difference_pause_us;
    mesh->difference_pause_us *= 2;
    if (mesh->difference_pause_us > mesh->trickle.imax_us) {
        mesh->difference_pause_us = mesh->trickle.imax_us;
    }
    rp_trickle_inconsistent(&mesh->trickle, now_us, &mesh->rng);
    if (mesh->vector_us == RP_NEVER) {
        mesh->vector_us = now_us + rp_wait_us(mesh, 50, 2000);
        mesh->vector_for = station;
    } else if (mesh->vector_for != station) {
        mesh->vector_for = 0;
    }
}

void rp_control_same(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    rp_trickle_consistent(&mesh->trickle, rp_neighbours_hear(mesh, station, now_us));
    if (mesh->digest_check) {
        mesh->digest_check = false;
        mesh->digest_us = RP_NEVER;
    }
    mesh->difference_pause_us = mesh->trickle.imin_us;
    mesh->difference_us = now_us;
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        rp_push_holds(mesh, &mesh->pending[i], station, false, now_us);
    }
    rp_event_heard(mesh, &rp_log_find(mesh, mesh->config.origin)->held, station);
}

static void learn_rows(struct rp_mesh *mesh, struct rp_neighbour *neighbour,
                       const struct rp_digest *digest)
{
    if (digest->row_count == 0) {
        return; /* a digest without rows leaves the last ones standing */
    }
    rp_neighbour_row(mesh, neighbour, digest->rows, digest->row_count);
}

/* How far `mark`, a sequence modulo 512, is ahead of `top`; negative: behind. */
static int mark_ahead(uint32_t mark, uint32_t top)
{
    int ahead = (int)((mark - top) & 511u);
    return ahead < 256 ? ahead : ahead - 512;
}

/* The log of the marked station in which the mark is all the difference between the two states, or
 * NULL. A station may have several logs, and a mark alone may mean a segment that was never made:
 * the hash of the state must come out. */
static struct rp_log *marked_log(struct rp_mesh *mesh, const struct rp_frame_head *head,
                                 const struct rp_digest *digest, int *out_ahead)
{
    for (unsigned i = 0; digest->mark_station > 0 && i < mesh->log_count; i++) {
        struct rp_log *log = &mesh->logs[i];
        uint32_t top = rp_held_top(&log->held);
        int ahead = mark_ahead(digest->mark, top);
        bool near = ahead != 0 && ahead <= MARK_EXPLAINS && -ahead <= MARK_EXPLAINS &&
                    (int64_t)top + ahead >= 0 && (int64_t)top + ahead <= RP_SEQ_MAX;
        if (near && rp_origin_station(log->origin) == digest->mark_station &&
            rp_state_hash_if(mesh, log, top + (uint32_t)ahead, head->origin, head->counter) ==
                digest->hash) {
            *out_ahead = ahead;
            return log;
        }
    }
    return NULL;
}

/* The newest segment of the log that changed last often is all the difference: then it is asked
 * for, or offered, and nothing else need be said. */
static bool mark_explains(struct rp_mesh *mesh, uint8_t station, const struct rp_frame_head *head,
                          const struct rp_digest *digest, rp_time_us now_us)
{
    int ahead = 0;
    struct rp_log *log = marked_log(mesh, head, digest, &ahead);
    if (log == NULL || (ahead > 0 && log->origin == mesh->config.origin)) {
        return false;
    }
    uint32_t top = rp_held_top(&log->held);
    if (ahead > 0) {
        uint32_t known = top + (uint32_t)ahead;
        log->known = known > log->known ? known : log->known;
        rp_pull_holder(mesh, log, station, now_us);
        return true;
    }
    rp_time_us due_us = now_us + rp_pull_answer_wait_us(mesh, station, false);
    for (uint32_t seq = top; seq > top - (uint32_t)-ahead && seq > 0; seq--) {
        if (rp_held_has(&log->held, seq)) {
            rp_pull_answer(mesh, log->origin, seq, station, due_us, now_us);
        }
    }
    return true;
}

static void take_digest(struct rp_mesh *mesh, struct rp_neighbour *neighbour,
                        const struct rp_frame_head *head, struct rp_view body, rp_time_us now_us)
{
    struct rp_digest digest;
    if (rp_digest_read(body, &digest) != 0) {
        mesh->counters.refused_format++;
        return;
    }
    neighbour->is_base = digest.is_base;
    neighbour->is_leaf = digest.is_leaf;
    neighbour->battery_pct = digest.battery_pct;
    if (digest.has_settings) {
        neighbour->has_settings = true;
        neighbour->settings_hash = digest.settings_hash;
    }
    learn_rows(mesh, neighbour, &digest);
    struct rp_mesh_event event = {.kind = RP_MESH_CLOCK,
                                  .origin = head->origin,
                                  .station = neighbour->station,
                                  .clock_quality = digest.clock_quality,
                                  .clock_s = digest.clock_s};
    rp_event_push(mesh, &event);
    mesh->row_asked = mesh->row_asked || digest.wants_rows;
    if (digest.hash == rp_state_hash(mesh, head->origin, head->counter)) {
        rp_control_same(mesh, neighbour->station, now_us);
    } else if (!mark_explains(mesh, neighbour->station, head, &digest, now_us)) {
        rp_control_difference(mesh, neighbour->station, now_us);
    }
}

static void take_ack(struct rp_mesh *mesh, uint8_t station, const struct rp_request *request,
                     rp_time_us now_us)
{
    for (unsigned i = 0; i < request->mark_count; i++) {
        rp_base_learn(mesh, request->marks[i].origin, request->marks[i].upto);
    }
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        bool covered =
            pending->seq == request->seq || (request->all_below && pending->seq < request->seq);
        if (covered && rp_origin_station(pending->origin) == request->station) {
            bool forwards = request->forwards && pending->seq == request->seq;
            rp_push_holds(mesh, pending, station, forwards, now_us);
        }
    }
}

/* A short need names a station and the low byte of a sequence: meant are its newest log and the
 * sequence nearest to what is known of it. Where the two stations differ about which log that is,
 * the guess is wrong: so it may bring an answer too many, but never the belief that a segment
 * exists, which would be asked for without end, and of its origin too, which would take its own log
 * for an old copy and begin another (found by the simulator). */
static bool complete_short(struct rp_mesh *mesh, struct rp_need_entry *entry)
{
    struct rp_log *log = rp_log_of_station(mesh, rp_origin_station(entry->origin));
    if (log == NULL) {
        return false;
    }
    uint32_t near = log->known + 1;
    int ahead = (int)((entry->last - near) & 255u);
    ahead = ahead < 128 ? ahead : ahead - 256;
    if (ahead < 0 && (uint32_t)-ahead >= near) {
        ahead += 256;
    }
    entry->origin = log->origin;
    entry->last = near + (uint32_t)ahead;
    return entry->last >= 1 && entry->last <= log->known;
}

static void take_request(struct rp_mesh *mesh, uint8_t station, struct rp_view body,
                         rp_time_us now_us)
{
    struct rp_request request;
    if (rp_request_read(body, &request) != 0) {
        mesh->counters.refused_format++;
    } else if (request.is_ack) {
        take_ack(mesh, station, &request, now_us);
    } else {
        rp_contend(mesh, request.station != 0 && request.station != mesh->station, false,
                   REFERENCE_LEN, now_us);
        if (request.is_short && !complete_short(mesh, &request.entries[0])) {
            return;
        }
        rp_pull_need(mesh, station, request.station, request.entries, request.count, now_us);
    }
}

void rp_control_receive(struct rp_mesh *mesh, const struct rp_frame_head *head, struct rp_view body,
                        bool has_signal, int16_t rssi_dbm, int16_t snr_db, rp_time_us now_us)
{
    uint8_t station = rp_origin_station(head->origin);
    if (head->origin == mesh->config.origin) {
        /* An echo or a replay, unless it has a counter that was never given out here. */
        if (head->counter >= mesh->counter_next) {
            rp_event_own_ahead(mesh, 0, now_us);
        }
        return;
    }
    unsigned lost;
    if (!rp_sender_accept(mesh, head->origin, head->counter, &lost)) {
        mesh->counters.duplicates++;
        return;
    }
    if (station == mesh->station) {
        rp_event_same_station(mesh, head->origin, now_us);
        rp_control_difference(mesh, 0, now_us); /* so that the other one hears of this one */
        return;
    }
    int slot = rp_neighbour_heard(mesh, station, now_us);
    struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    if (neighbour->control_us >= mesh->urgent_us) {
        rp_neighbour_sample(neighbour, lost);
    }
    neighbour->control_us = now_us;
    neighbour->has_signal = has_signal;
    neighbour->rssi_dbm = rssi_dbm;
    neighbour->snr_db = snr_db;
    if (head->kind == RP_FRAME_DIGEST) {
        take_digest(mesh, neighbour, head, body, now_us);
    } else if (head->kind == RP_FRAME_VECTOR) {
        rp_vector_receive(mesh, station, body, now_us);
    } else {
        take_request(mesh, station, body, now_us);
    }
}

static void put_rows(struct rp_mesh *mesh, struct rp_digest *digest, unsigned most)
{
    for (int slot = 0; slot < mesh->neighbour_count && digest->row_count < most; slot++) {
        struct rp_neighbour *neighbour = &mesh->neighbours[slot];
        uint8_t q8 = (uint8_t)(neighbour->in_q16 >> 8);
        if (neighbour->station != 0 && q8 >= ROW_LEAST_Q8) {
            digest->rows[digest->row_count++] = (struct rp_row){neighbour->station, q8};
            neighbour->said_q8 = q8;
        }
    }
}

static void put_mark(const struct rp_mesh *mesh, struct rp_digest *digest)
{
    const struct rp_log *newest = NULL;
    for (unsigned i = 0; i < mesh->log_count; i++) {
        const struct rp_log *log = &mesh->logs[i];
        if (log->hash != 0 && (newest == NULL || log->changed > newest->changed)) {
            newest = log;
        }
    }
    if (newest != NULL) {
        digest->mark_station = rp_origin_station(newest->origin);
        digest->mark = rp_held_top(&newest->held) & 511u;
    }
}

static size_t write_digest(struct rp_mesh *mesh, uint32_t counter, uint8_t *buf, size_t cap,
                           rp_time_us now_us)
{
    uint64_t left_us = rp_ledger_left_us(&mesh->ledger, RP_SPEND_ROUTINE, now_us);
    uint32_t budget_us = mesh->config.budget_us_per_hour;
    struct rp_digest digest = {
        .hash = rp_state_hash(mesh, mesh->config.origin, counter),
        .clock_s = mesh->self.clock_s,
        .clock_quality = mesh->self.clock_quality,
        .battery_pct = mesh->self.battery_pct,
        .airtime_left = (uint8_t)(budget_us > 0 ? left_us * 15 / budget_us : 0),
        .is_base = mesh->config.is_base,
        .is_leaf = rp_neighbours_usable(mesh, now_us) == 1,
        .wants_rows = rp_neighbours_rowless(mesh, now_us),
    };
    put_mark(mesh, &digest);
    /* Rows ride along when they say something new: an eighth, the resolution of a row. */
    if (!mesh->row_said || rp_neighbours_moved(mesh) >= 32 || mesh->rows_due) {
        size_t room = cap - RP_DIGEST_LEN - RP_SETTINGS_LEN;
        put_rows(mesh, &digest,
                 room * 8 / 10 < RP_ROWS_MAX ? (unsigned)(room * 8 / 10) : RP_ROWS_MAX);
    }
    if (!mesh->row_said || now_us - mesh->row_sent_us >= RP_ROWS_OLD_US) {
        digest.has_settings = true;
        digest.settings_hash = mesh->config.settings_hash;
    }
    mesh->rows_due = false;
    if (digest.row_count > 0) {
        mesh->row_said = true;
        mesh->row_asked = false;
        mesh->row_sent_us = now_us;
        mesh->row_pause_us =
            2 * mesh->row_pause_us < ROWS_PAUSE_MAX_US ? 2 * mesh->row_pause_us : ROWS_PAUSE_MAX_US;
    }
    return rp_digest_write(&digest, buf, cap);
}

static size_t write_ack(struct rp_mesh *mesh, const struct rp_ack_due *ack, uint8_t *buf,
                        size_t cap, rp_time_us now_us)
{
    const struct rp_log *log = rp_log_find(mesh, ack->origin);
    const struct rp_pending *pending = rp_queue_find(mesh, ack->origin, ack->seq);
    struct rp_request request = {.is_ack = true,
                                 .station = rp_origin_station(ack->origin),
                                 .seq = ack->seq,
                                 .all_below = log != NULL && log->held.upto >= ack->seq,
                                 .forwards =
                                     pending != NULL && pending->state == RP_PENDING_FORWARD};
    if (!ack->urgent) {
        request.mark_count = (uint8_t)rp_base_compose(mesh, log, request.marks, now_us);
    }
    mesh->flight.origin = ack->origin;
    mesh->flight.seq = ack->seq;
    return rp_request_write(&request, buf, cap);
}

/* The short form saves a symbol or two, but may be misunderstood: now and then the long one. */
static bool short_will_do(struct rp_mesh *mesh, const struct rp_request *request)
{
    const struct rp_need_entry *entry = &request->entries[0];
    if (request->count != 1 || entry->count > 1) {
        return false;
    }
    const struct rp_log *log = rp_log_of_station(mesh, rp_origin_station(entry->origin));
    bool near =
        log != NULL && log->origin == entry->origin && entry->last + SHORT_NEAR > log->known;
    unsigned attempts = near ? log->attempts + log->pace.attempts : 0;
    return near && attempts % LONG_EVERY != 0;
}

static size_t write_need(struct rp_mesh *mesh, uint8_t *buf, size_t cap, rp_time_us now_us)
{
    struct rp_request request = {.is_ack = false};
    request.count = (uint8_t)rp_pull_compose(mesh, request.entries, &request.station, now_us);
    request.is_short = short_will_do(mesh, &request);
    return request.count > 0 ? rp_request_write(&request, buf, cap) : 0;
}

size_t rp_control_body(struct rp_mesh *mesh, enum rp_send_kind kind, const struct rp_ack_due *ack,
                       uint32_t counter, uint8_t *body, size_t cap, rp_time_us now_us)
{
    switch (kind) {
    case RP_SEND_ACK:
        return write_ack(mesh, ack, body, cap, now_us);
    case RP_SEND_NEED:
        return write_need(mesh, body, cap, now_us);
    case RP_SEND_VECTOR:
        return rp_vector_write(mesh, body, cap);
    case RP_SEND_DIGEST:
        return write_digest(mesh, counter, body, cap, now_us);
    case RP_SEND_SEGMENT:
        break;
    }
    return 0;
}

/* An upper bound of the length of the next frame of this kind. */
size_t rp_control_len_max(const struct rp_mesh *mesh, enum rp_send_kind kind, size_t cap)
{
    static const uint8_t longest[] = {
        /* Station 1, sequence 4; marks: origin 2, sequence 3. */
        [RP_SEND_ACK] = RP_CONTROL_LEN + 5 + RP_BASE_MARKS_MAX * 5,
        [RP_SEND_NEED] = RP_CONTROL_LEN + 1 + RP_NEED_MAX * 7, /* origin 2, sequence 4, count 1 */
        [RP_SEND_DIGEST] = RP_CONTROL_LEN + RP_DIGEST_LEN + RP_SETTINGS_LEN + RP_ROWS_MAX * 10 / 8,
    };
    size_t len = kind == RP_SEND_VECTOR ? RP_CONTROL_LEN + rp_vector_len(mesh) : longest[kind];
    return len < cap ? len : cap;
}
