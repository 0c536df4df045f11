/* What leaves next: lanes in order of importance, gaps, budget, and the frames themselves. */
#include "mesh/state.h"

#include <assert.h>

#define COUNTER_BLOCK 64 /* control counters reserved at a time */
/* When storage refuses a reservation or a charge, nothing leaves before this. Own choice. */
#define STORE_AGAIN_US RP_SECOND_US
/* Rows: announced when older than 12 h, or moved by 0.3 and the last is older than a pause that
 * starts at 2 min (measured in a prototype) and doubles to 64 min, which bounds their number. */
#define ROWS_MOVED 77
/* While a neighbour is missing, this station is never silent for longer: whoever comes back finds
 * it within minutes. Digests alone then take 5 s of an hour at SF9. Own choice. */
#define HELLO_LOW_US     (110 * RP_SECOND_US)
#define HELLO_HIGH_US    (180 * RP_SECOND_US)
#define ROWS_SPREAD_MS   20000
#define ANSWER_WITHIN_MS 600 /* as rp_pull_answer_wait_us for the named station */
#define BACKLOG_FROM     8
#define HOLD_ROUNDS      8
/* After a busy channel those who waited must not all begin at once; a channel busy for longer than
 * the longest frame is a fault of the radio. Own choice. */
#define SENSE_SPREAD_MS   100
#define SENSE_MOST_US     (5 * RP_SECOND_US)
#define BLOCKED_SPREAD_MS 5000
#define BLOCKED_MAX_US    (600 * RP_SECOND_US) /* then a shorter frame may fit */

/* When an urgent entry may leave: its own second copy sooner than another segment. */
static rp_time_us urgent_ready_us(const struct rp_mesh *mesh, const struct rp_pending *pending)
{
    bool copy = pending->origin == mesh->copy_origin && pending->seq == mesh->copy_seq;
    return rp_later_us(pending->due_us, copy ? mesh->copy_gap_us : mesh->urgent_gap_us);
}

static struct rp_ack_due *first_ack(struct rp_mesh *mesh, bool urgent)
{
    struct rp_ack_due *first = NULL;
    for (unsigned i = 0; i < mesh->ack_count; i++) {
        struct rp_ack_due *ack = &mesh->acks[i];
        if (ack->urgent == urgent && (first == NULL || ack->due_us < first->due_us)) {
            first = ack;
        }
    }
    return first;
}

static rp_time_us acks_due_us(const struct rp_mesh *mesh, bool urgent)
{
    rp_time_us due_us = RP_NEVER;
    for (unsigned i = 0; i < mesh->ack_count; i++) {
        if (mesh->acks[i].urgent == urgent) {
            due_us = rp_sooner_us(due_us, mesh->acks[i].due_us);
        }
    }
    return due_us;
}

static rp_time_us urgent_lane_us(const struct rp_mesh *mesh)
{
    rp_time_us ready_us = rp_later_us(acks_due_us(mesh, true), mesh->copy_gap_us);
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        const struct rp_pending *pending = &mesh->pending[i];
        if (pending->class == RP_CLASS_URGENT && rp_pending_sends(pending)) {
            ready_us = rp_sooner_us(ready_us, urgent_ready_us(mesh, pending));
        }
    }
    return rp_later_us(ready_us, mesh->blocked_us[RP_LANE_URGENT]);
}

/* A routine frame that would still be on air when an urgent one is due waits for that one. */
static rp_time_us held_us(const struct rp_mesh *mesh, rp_time_us ready_us)
{
    rp_time_us window_us = 2 * (rp_time_us)mesh->frame40_us + RP_LATENCY_US;
    for (unsigned round = 0; round < HOLD_ROUNDS; round++) {
        rp_time_us before_us = ready_us;
        for (unsigned i = 0; i < mesh->pending_count; i++) {
            const struct rp_pending *pending = &mesh->pending[i];
            bool planned = pending->class == RP_CLASS_URGENT &&
                           (rp_pending_sends(pending) || pending->state == RP_PENDING_AWAIT);
            /* What the urgent one waits for, budget or storage, the routine one waits for too. */
            rp_time_us leaves_us = rp_later_us(pending->due_us, mesh->blocked_us[RP_LANE_URGENT]);
            if (planned && leaves_us > ready_us && pending->due_us - window_us <= ready_us) {
                ready_us = leaves_us;
            }
        }
        if (ready_us == before_us) {
            break;
        }
    }
    return ready_us;
}

/* Until when a push of this station may still be answered: the moment its silence is judged. */
static rp_time_us outstanding_us(const struct rp_mesh *mesh)
{
    rp_time_us until_us = INT64_MIN;
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        const struct rp_pending *pending = &mesh->pending[i];
        if (pending->state == RP_PENDING_AWAIT && pending->class != RP_CLASS_URGENT) {
            until_us = rp_later_us(until_us, pending->due_us);
        }
    }
    return until_us;
}

/* One routine push at a time: the next begins when the last is heard forwarded, acknowledged or
 * given up. Pushing on regardless only fills the air, and the named station's queue. */
static rp_time_us routine_ready_us(const struct rp_mesh *mesh, const struct rp_pending *pending,
                                   rp_time_us outstanding)
{
    bool again = pending->origin == mesh->push_origin && pending->seq == mesh->push_seq &&
                 pending->late == 0;
    rp_time_us ready_us = again ? pending->due_us : rp_later_us(pending->due_us, outstanding);
    bool waited_for = pending->state == RP_PENDING_ANSWER || (!pending->own && pending->sends == 0);
    return waited_for ? ready_us : rp_later_us(ready_us, mesh->contend_us);
}

static rp_time_us lane_us(const struct rp_mesh *mesh, enum rp_lane lane)
{
    if (lane == RP_LANE_URGENT) {
        return urgent_lane_us(mesh);
    }
    rp_time_us due_us = RP_NEVER;
    if (lane == RP_LANE_CONTROL) {
        due_us = rp_sooner_us(rp_sooner_us(mesh->digest_us, mesh->vector_us), rp_pull_next(mesh));
        due_us = due_us == RP_NEVER ? due_us : rp_later_us(due_us, mesh->contend_us);
        /* Who is named and answers with anything but what is waited for, is asked again. */
        rp_time_us ack_us = acks_due_us(mesh, false);
        due_us = due_us == RP_NEVER || ack_us == RP_NEVER ? due_us : rp_later_us(due_us, ack_us);
        due_us = rp_sooner_us(due_us, ack_us);
    } else {
        rp_time_us outstanding = outstanding_us(mesh);
        for (unsigned i = 0; i < mesh->pending_count; i++) {
            const struct rp_pending *pending = &mesh->pending[i];
            if (pending->class != RP_CLASS_URGENT && rp_pending_sends(pending)) {
                due_us = rp_sooner_us(due_us, routine_ready_us(mesh, pending, outstanding));
            }
        }
    }
    if (due_us == RP_NEVER) {
        return RP_NEVER;
    }
    due_us = rp_later_us(rp_later_us(due_us, mesh->blocked_us[lane]),
                         rp_later_us(mesh->gap_us, mesh->quiet_us));
    /* What was ready before the last look is ready at that look, not earlier: who waited for the
     * answer to another push would else be too old to be held. Found by the simulator. */
    return held_us(mesh, rp_later_us(due_us, mesh->looked_us));
}

void rp_mesh_channel(struct rp_mesh *mesh, bool busy, rp_time_us now_us)
{
    mesh->sense.known = true;
    if (busy && !mesh->sense.busy) {
        mesh->sense.busy_us = now_us;
    } else if (!busy && mesh->sense.busy) {
        mesh->sense.free_us = now_us + rp_wait_us(mesh, 0, SENSE_SPREAD_MS);
    }
    mesh->sense.busy = busy;
}

/* Not before this: somebody is on air. */
static rp_time_us channel_us(const struct rp_mesh *mesh)
{
    return mesh->sense.busy ? mesh->sense.busy_us + SENSE_MOST_US : mesh->sense.free_us;
}

rp_time_us rp_mesh_wake(const struct rp_mesh *mesh)
{
    if (mesh->flight.active) {
        return RP_NEVER;
    }
    rp_time_us wake_us = rp_trickle_next(&mesh->trickle);
    rp_time_us hello_us = mesh->spoke_us + mesh->hello_us;
    if (hello_us < wake_us && rp_neighbours_missing(mesh, mesh->spoke_us)) {
        wake_us = hello_us;
    }
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        const struct rp_pending *pending = &mesh->pending[i];
        if (pending->state == RP_PENDING_AWAIT || pending->state == RP_PENDING_REPEAT) {
            wake_us = rp_sooner_us(wake_us, pending->due_us);
        }
    }
    for (enum rp_lane lane = 0; lane < RP_LANES; lane++) {
        wake_us = rp_sooner_us(wake_us, rp_later_us(lane_us(mesh, lane), channel_us(mesh)));
    }
    return wake_us;
}

/* Rows are said unsuppressed when they are old, have moved much, or somebody lacks some. */
static bool rows_due(const struct rp_mesh *mesh, rp_time_us now_us)
{
    rp_time_us age_us = now_us - mesh->row_sent_us;
    if (age_us >= RP_ROWS_OLD_US) {
        return true;
    }
    return age_us >= mesh->row_pause_us &&
           ((!mesh->row_said && rp_neighbours_usable(mesh, now_us) > 0) || mesh->row_asked ||
            rp_neighbours_moved(mesh) >= ROWS_MOVED || rp_neighbours_rowless(mesh, now_us));
}

static void tick(struct rp_mesh *mesh, rp_time_us now_us)
{
    mesh->looked_us = now_us;
    rp_push_tick(mesh, now_us);
    rp_queue_expire(mesh, now_us);
    if (!mesh->rows_due && rows_due(mesh, now_us)) {
        mesh->rows_due = true;
        mesh->digest_us =
            rp_sooner_us(mesh->digest_us, now_us + rp_wait_us(mesh, 0, ROWS_SPREAD_MS));
        mesh->digest_check = false;
    }
    /* By the very rule of rp_mesh_wake: a neighbour that is forgotten meanwhile would wake this
     * station again and again for nothing. Found by the simulator. */
    if (now_us - mesh->spoke_us >= mesh->hello_us && rp_neighbours_missing(mesh, mesh->spoke_us)) {
        mesh->hello_us = rp_rng_between(&mesh->rng, HELLO_LOW_US, HELLO_HIGH_US);
        mesh->spoke_us = now_us;
        mesh->digest_us = rp_sooner_us(mesh->digest_us, now_us);
        mesh->digest_check = false;
    }
    if (rp_trickle_poll(&mesh->trickle, now_us, &mesh->rng)) {
        mesh->digest_us = rp_sooner_us(mesh->digest_us, now_us);
        mesh->digest_check = false;
    }
}

static void block(struct rp_mesh *mesh, enum rp_lane lane, rp_time_us until_us, rp_time_us now_us)
{
    /* Budgets end at whole buckets: without a spread all who wait for theirs meet. */
    rp_time_us spread_us = rp_wait_us(mesh, 0, BLOCKED_SPREAD_MS);
    mesh->blocked_us[lane] = rp_sooner_us(until_us, now_us + BLOCKED_MAX_US) + spread_us;
}

/* Asks the ledger, then storage, then enters the charge. On refusal the lane is blocked. */
static bool charge(struct rp_mesh *mesh, enum rp_lane lane, enum rp_spend spend, size_t len,
                   rp_time_us now_us)
{
    uint32_t airtime_us = rp_airtime_of_us(mesh, len);
    rp_time_us fits_us = rp_ledger_fits_at(&mesh->ledger, spend, airtime_us, now_us);
    if (fits_us > now_us) {
        block(mesh, lane, fits_us, now_us);
        return false;
    }
    bool urgent = spend == RP_SPEND_URGENT;
    if (mesh->config.store.charge(mesh->config.store.ctx, airtime_us, urgent) != 0) {
        /* What is less important must not find the storage mended first. Found by the simulator. */
        block(mesh, lane, now_us + STORE_AGAIN_US, now_us);
        for (enum rp_lane less = lane + 1; less < RP_LANES; less++) {
            mesh->blocked_us[less] = rp_later_us(mesh->blocked_us[less], mesh->blocked_us[lane]);
        }
        return false;
    }
    rp_ledger_add(&mesh->ledger, now_us, airtime_us);
    mesh->flight.active = true;
    mesh->flight.urgent = urgent;
    mesh->flight.airtime_us = airtime_us;
    mesh->flight.charged_us = now_us;
    mesh->flight.len = len;
    return true;
}

/* Old segments leave room for the reports that may be expected; in an hour without any they take
 * most of it. */
static enum rp_spend backlog_spend(const struct rp_mesh *mesh, rp_time_us now_us)
{
    return now_us - mesh->status_us < RP_HOUR_US ? RP_SPEND_BACKLOG : RP_SPEND_CATCH_UP;
}

static size_t take_segment(struct rp_mesh *mesh, struct rp_pending *pending, enum rp_lane lane,
                           uint8_t *buf, size_t cap, rp_time_us now_us)
{
    uint8_t named;
    if (!rp_push_fire(mesh, pending, &named, now_us)) {
        return 0;
    }
    int sealed = mesh->config.store.get(mesh->config.store.ctx, pending->origin, pending->seq, buf,
                                        cap - RP_TRAILER_LEN);
    size_t len = sealed > 0 ? (size_t)sealed + RP_TRAILER_LEN : 0;
    struct rp_mark mark;
    bool marked = len > 0 && len + RP_MARK_LEN <= mesh->config.frame_len_max &&
                  len + RP_MARK_LEN <= cap && rp_base_mark_for(mesh, pending, buf, &mark);
    len += marked ? RP_MARK_LEN : 0;
    if (len == 0 || len > mesh->config.carry_len_max || len > cap) {
        pending->receipt_wanted = false; /* it cannot be sent here; others may pull it */
        mesh->counters.refused_store++;
        rp_push_done(mesh, pending, now_us);
        return 0;
    }
    /* A single loss of the last hour or so is no backlog: it is mended at once, or the asking for
     * it would cost more than it does. */
    bool backlog = pending->state == RP_PENDING_ANSWER && pending->class == RP_CLASS_HISTORY &&
                   mesh->logs[pending->log].known - pending->seq > BACKLOG_FROM;
    enum rp_spend spend = lane == RP_LANE_URGENT ? RP_SPEND_URGENT
                          : backlog              ? backlog_spend(mesh, now_us)
                                                 : RP_SPEND_ROUTINE;
    if (!charge(mesh, lane, spend, len, now_us)) {
        return 0;
    }
    pending->named = named;
    mesh->data_counter = (mesh->data_counter + 1) & (RP_TRAILER_COUNTERS - 1);
    struct rp_trailer trailer = {.station = mesh->station,
                                 .previous = pending->previous,
                                 .named = named,
                                 .retransmission = pending->aired,
                                 .marked = marked,
                                 .counter = mesh->data_counter,
                                 .hops = pending->hops,
                                 .promise = pending->promise};
    if (marked) {
        rp_mark_write(&mark, buf + sealed);
    }
    rp_trailer_write(&trailer, buf + len - RP_TRAILER_LEN);
    mesh->flight.kind = RP_SEND_SEGMENT;
    mesh->flight.marked = marked;
    mesh->flight.origin = pending->origin;
    mesh->flight.seq = pending->seq;
    mesh->flight.named = named;
    if (lane == RP_LANE_DATA && pending->state != RP_PENDING_ANSWER) {
        mesh->status_us = pending->class == RP_CLASS_STATUS ? now_us : mesh->status_us;
        mesh->push_origin = pending->origin;
        mesh->push_seq = pending->seq;
    }
    return len;
}

/* Takes the next control counter; 0 when storage does not reserve it or all are used up. */
static uint32_t next_counter(struct rp_mesh *mesh)
{
    if (mesh->counter_next > RP_COUNTER_MAX) {
        return 0;
    }
    if (mesh->counter_next > mesh->counter_reserved) {
        uint32_t upto = mesh->counter_next + COUNTER_BLOCK - 1;
        upto = upto < RP_COUNTER_MAX ? upto : RP_COUNTER_MAX;
        if (mesh->config.store.reserve_counter(mesh->config.store.ctx, upto) != 0) {
            return 0;
        }
        mesh->counter_reserved = upto;
    }
    return mesh->counter_next++;
}

static size_t seal_control(struct rp_mesh *mesh, enum rp_frame_kind kind, uint32_t counter,
                           struct rp_view body, uint8_t *buf, size_t cap)
{
    struct rp_frame_head head = {.kind = kind, .origin = mesh->config.origin, .counter = counter};
    int len = rp_frame_seal(mesh->config.seal, &head, body, buf, cap);
    assert(len > 0); /* kind, origin, counter and length are our own */
    return (size_t)len;
}

static enum rp_send_kind choose_control(struct rp_mesh *mesh, rp_time_us now_us)
{
    const struct rp_ack_due *ack = first_ack(mesh, false);
    if (ack != NULL && ack->due_us <= now_us) {
        return RP_SEND_ACK;
    }
    if (rp_pull_next(mesh) <= now_us) {
        return RP_SEND_NEED;
    }
    return mesh->vector_us <= now_us ? RP_SEND_VECTOR : RP_SEND_DIGEST;
}

static void settle_control(struct rp_mesh *mesh, enum rp_send_kind kind, struct rp_ack_due *ack)
{
    switch (kind) {
    case RP_SEND_ACK:
        *ack = mesh->acks[--mesh->ack_count];
        break;
    case RP_SEND_VECTOR:
        mesh->vector_us = RP_NEVER;
        rp_trickle_consistent(&mesh->trickle, true); /* it says more than the digest would */
        break;
    case RP_SEND_DIGEST:
        mesh->digest_us = RP_NEVER;
        mesh->digest_check = false;
        break;
    case RP_SEND_NEED:
    case RP_SEND_SEGMENT:
        break;
    }
}

/* Builds one control frame. The budget is asked with the longest it may become before anything
 * is composed, so that nothing is lost when it does not fit. */
static size_t take_control(struct rp_mesh *mesh, enum rp_lane lane, enum rp_send_kind kind,
                           struct rp_ack_due *ack, uint8_t *buf, size_t cap, rp_time_us now_us)
{
    static const enum rp_frame_kind frame_kinds[] = {[RP_SEND_ACK] = RP_FRAME_REQUEST,
                                                     [RP_SEND_NEED] = RP_FRAME_REQUEST,
                                                     [RP_SEND_VECTOR] = RP_FRAME_VECTOR,
                                                     [RP_SEND_DIGEST] = RP_FRAME_DIGEST};
    enum rp_spend spend = lane == RP_LANE_URGENT ? RP_SPEND_URGENT : RP_SPEND_ROUTINE;
    cap = cap < mesh->config.frame_len_max ? cap : mesh->config.frame_len_max;
    uint32_t airtime_us = rp_airtime_of_us(mesh, rp_control_len_max(mesh, kind, cap));
    rp_time_us fits_us = rp_ledger_fits_at(&mesh->ledger, spend, airtime_us, now_us);
    if (fits_us > now_us) {
        block(mesh, lane, fits_us, now_us);
        return 0;
    }
    if (kind != RP_SEND_ACK) {
        rp_time_us talk_us = rp_ledger_talk_at(&mesh->ledger, airtime_us, now_us);
        if (talk_us > now_us) {
            block(mesh, lane, talk_us, now_us);
            return 0;
        }
    }
    uint32_t counter = next_counter(mesh);
    if (counter == 0) {
        block(mesh, lane, now_us + STORE_AGAIN_US, now_us);
        return 0;
    }
    uint8_t body[RP_FRAME_LEN_MAX];
    size_t body_len = rp_control_body(mesh, kind, ack, counter, body, cap - RP_CONTROL_LEN, now_us);
    if (body_len == 0) {
        return 0;
    }
    size_t len =
        seal_control(mesh, frame_kinds[kind], counter, rp_view_of(body, body_len), buf, cap);
    if (!charge(mesh, lane, spend, len, now_us)) {
        return 0;
    }
    mesh->flight.kind = kind;
    if (kind != RP_SEND_ACK) {
        rp_ledger_talked(&mesh->ledger, mesh->flight.airtime_us);
    }
    settle_control(mesh, kind, ack);
    return len;
}

static struct rp_pending *best_segment(struct rp_mesh *mesh, bool urgent, rp_time_us now_us)
{
    struct rp_pending *best = NULL;
    rp_time_us outstanding = outstanding_us(mesh);
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (!rp_pending_sends(pending) || (pending->class == RP_CLASS_URGENT) != urgent) {
            continue;
        }
        rp_time_us ready_us =
            urgent ? urgent_ready_us(mesh, pending) : routine_ready_us(mesh, pending, outstanding);
        if (ready_us <= now_us && (best == NULL || rp_queue_before(mesh, pending, best))) {
            best = pending;
        }
    }
    return best;
}

static size_t take_from_lane(struct rp_mesh *mesh, enum rp_lane lane, uint8_t *buf, size_t cap,
                             rp_time_us now_us)
{
    if (lane == RP_LANE_CONTROL) {
        enum rp_send_kind kind = choose_control(mesh, now_us);
        return take_control(mesh, lane, kind, first_ack(mesh, false), buf, cap, now_us);
    }
    if (lane == RP_LANE_URGENT) {
        struct rp_ack_due *ack = first_ack(mesh, true);
        if (ack != NULL && rp_later_us(ack->due_us, mesh->copy_gap_us) <= now_us) {
            return take_control(mesh, lane, RP_SEND_ACK, ack, buf, cap, now_us);
        }
    }
    struct rp_pending *pending = best_segment(mesh, lane == RP_LANE_URGENT, now_us);
    return pending != NULL ? take_segment(mesh, pending, lane, buf, cap, now_us) : 0;
}

size_t rp_mesh_take_frame(struct rp_mesh *mesh, rp_time_us now_us, uint8_t *buf, size_t cap)
{
    if (mesh->flight.active || cap < mesh->config.carry_len_max) {
        return 0;
    }
    tick(mesh, now_us);
    if (channel_us(mesh) > now_us) {
        return 0;
    }
    for (enum rp_lane lane = 0; lane < RP_LANES; lane++) {
        /* Each round takes, cancels or blocks one thing: bounded by what is queued. */
        for (unsigned round = 0; round <= RP_PENDING_MAX + RP_ACKS_MAX; round++) {
            if (lane_us(mesh, lane) > now_us) {
                break;
            }
            size_t len = take_from_lane(mesh, lane, buf, cap, now_us);
            if (len > 0) {
                return len;
            }
        }
    }
    return 0;
}

static void set_gaps(struct rp_mesh *mesh, const struct rp_flight *flight, rp_time_us now_us)
{
    /* After a frame that named somebody he speaks first. After any routine frame there is room for
     * another one as long: half duplex, and no other way to hear of something urgent. */
    rp_time_us forward_us = flight->named != 0 ? flight->airtime_us : 0;
    rp_time_us room_us = rp_rng_between(&mesh->rng, flight->airtime_us, 2 * flight->airtime_us);
    rp_time_us gap_us = room_us + rp_wait_us(mesh, 100, 500) + RP_LATENCY_US;
    if (flight->kind == RP_SEND_NEED) {
        /* The answer asked for must not meet another frame of the asker. */
        gap_us += rp_scale_us(mesh, ANSWER_WITHIN_MS) + mesh->frame40_us;
    }
    rp_time_us copy_us = rp_scale_us(mesh, 60);
    mesh->gap_us = now_us + gap_us;
    mesh->copy_gap_us = now_us + rp_later_us(copy_us, RP_LATENCY_US);
    mesh->urgent_gap_us = mesh->copy_gap_us + forward_us;
    mesh->copy_origin = flight->origin;
    mesh->copy_seq = flight->kind == RP_SEND_SEGMENT ? flight->seq : 0;
}

static void segment_aired(struct rp_mesh *mesh, const struct rp_flight *flight, rp_time_us now_us)
{
    struct rp_pending *pending = rp_queue_find(mesh, flight->origin, flight->seq);
    if (flight->origin == mesh->config.origin && (pending == NULL || !pending->aired)) {
        struct rp_mesh_event event = {
            .kind = RP_MESH_AIRED, .origin = flight->origin, .seq = flight->seq};
        rp_event_push(mesh, &event);
    }
    if (pending != NULL) {
        mesh->counters.answers_out += pending->state == RP_PENDING_ANSWER;
        rp_push_sent(mesh, pending, flight->len, now_us);
    }
}

/* The frame did not leave: what it was for stays due. */
static void put_back(struct rp_mesh *mesh, const struct rp_flight *flight, rp_time_us now_us)
{
    rp_time_us again_us = now_us + rp_wait_us(mesh, 300, 1000) + RP_LATENCY_US;
    struct rp_pending *pending;
    switch (flight->kind) {
    case RP_SEND_SEGMENT:
        mesh->data_counter =
            (mesh->data_counter - 1) & (RP_TRAILER_COUNTERS - 1); /* nobody can have missed it */
        pending = rp_queue_find(mesh, flight->origin, flight->seq);
        if (pending != NULL && rp_pending_sends(pending)) {
            pending->due_us = flight->urgent ? now_us + RP_LATENCY_US : again_us;
        }
        break;
    case RP_SEND_ACK:
        rp_ack_plan(mesh, flight->origin, flight->seq, flight->urgent, again_us);
        break;
    case RP_SEND_VECTOR:
        mesh->vector_us = rp_sooner_us(mesh->vector_us, again_us);
        break;
    case RP_SEND_DIGEST:
        mesh->digest_us = rp_sooner_us(mesh->digest_us, again_us);
        break;
    case RP_SEND_NEED: /* asks again by itself */
        break;
    }
}

void rp_mesh_sent(struct rp_mesh *mesh, bool aired, rp_time_us now_us)
{
    if (!mesh->flight.active) {
        return;
    }
    struct rp_flight flight = mesh->flight;
    mesh->flight = (struct rp_flight){.active = false};
    /* The charge counts from the moment the frame was on air, not from when it was taken. */
    rp_ledger_remove(&mesh->ledger, flight.charged_us, flight.airtime_us);
    set_gaps(mesh, &flight, now_us);
    if (!aired) {
        put_back(mesh, &flight, now_us);
        return;
    }
    rp_ledger_add(&mesh->ledger, now_us, flight.airtime_us);
    mesh->spoke_us = now_us;
    mesh->counters.frames_out++;
    mesh->counters.airtime_out_us += flight.airtime_us;
    mesh->counters.requests_out += flight.kind == RP_SEND_NEED || flight.kind == RP_SEND_ACK;
    mesh->counters.vectors_out += flight.kind == RP_SEND_VECTOR;
    mesh->counters.digests_out += flight.kind == RP_SEND_DIGEST;
    if (flight.kind == RP_SEND_SEGMENT) {
        if (flight.marked) {
            rp_base_marked(mesh, flight.origin);
        }
        segment_aired(mesh, &flight, now_us);
    }
}
