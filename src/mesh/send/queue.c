/* Segments that may have to be sent, in order of importance, and what is believed of them. */
#include "mesh/state.h"

#include <string.h>

/* How long beliefs about a segment are kept when nothing happens to it. Own choice: longer than
 * any wait of a push. */
#define IDLE_KEPT_US (600 * RP_SECOND_US)

bool rp_pending_sends(const struct rp_pending *pending)
{
    return pending->state == RP_PENDING_FORWARD || pending->state == RP_PENDING_OFFER ||
           pending->state == RP_PENDING_ANSWER;
}

struct rp_pending *rp_queue_find(struct rp_mesh *mesh, uint16_t origin, uint32_t seq)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        if (mesh->pending[i].seq == seq && mesh->pending[i].origin == origin) {
            return &mesh->pending[i];
        }
    }
    return NULL;
}

static uint32_t age_of(const struct rp_mesh *mesh, const struct rp_pending *pending)
{
    return mesh->logs[pending->log].known - pending->seq;
}

bool rp_queue_before(const struct rp_mesh *mesh, const struct rp_pending *a,
                     const struct rp_pending *b)
{
    if (a->class != b->class) {
        return a->class < b->class;
    }
    if (a->class == RP_CLASS_HISTORY && age_of(mesh, a) != age_of(mesh, b)) {
        return age_of(mesh, a) < age_of(mesh, b); /* from new to old */
    }
    return a->stamp < b->stamp;
}

static struct rp_stream *claim_stream(struct rp_mesh *mesh, uint16_t origin, int stream)
{
    struct rp_stream *oldest = &mesh->streams[0];
    for (unsigned i = 0; i < mesh->stream_count; i++) {
        struct rp_stream *known = &mesh->streams[i];
        if (known->origin == origin && known->stream == stream) {
            return known;
        }
        oldest = known->stamp < oldest->stamp ? known : oldest;
    }
    if (mesh->stream_count < RP_STREAMS_MAX) {
        oldest = &mesh->streams[mesh->stream_count++];
    }
    *oldest = (struct rp_stream){.origin = origin, .stream = (int16_t)stream};
    return oldest;
}

/* A status that a newer one replaces is history at once. */
static void rank_status(struct rp_mesh *mesh, struct rp_pending *pending)
{
    struct rp_stream *newest = claim_stream(mesh, pending->origin, pending->stream);
    newest->stamp = ++mesh->stamp;
    if (pending->seq < newest->seq) {
        pending->class = RP_CLASS_HISTORY;
        return;
    }
    newest->seq = pending->seq;
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *older = &mesh->pending[i];
        if (older->origin == pending->origin && older->stream == pending->stream &&
            older->seq < pending->seq && older->class == RP_CLASS_STATUS) {
            older->class = RP_CLASS_HISTORY;
        }
    }
}

static void classify(struct rp_mesh *mesh, struct rp_pending *pending, struct rp_view plain,
                     bool first)
{
    uint8_t lead = plain.len > 0 ? plain.bytes[0] : 0;
    pending->urgent = rp_lead_unpack(lead).urgent;
    pending->class = rp_segment_class(lead);
    pending->stream = -1;
    if (pending->class != RP_CLASS_STATUS) {
        return;
    }
    if (first) {
        pending->stream = (int16_t)rp_segment_stream(plain);
        if (pending->stream >= 0) {
            rank_status(mesh, pending);
        }
    } else {
        /* The stream stands in a record's first segment only. */
        struct rp_pending *before = rp_queue_find(mesh, pending->origin, pending->seq - 1);
        if (before != NULL && before->stream >= 0) {
            pending->stream = before->stream;
            pending->class = before->class;
        }
    }
}

/* The entry to give up for another: the idle one untouched for longest, else the least important
 * one; own urgent segments without receipt stay. */
static struct rp_pending *least_important(struct rp_mesh *mesh)
{
    struct rp_pending *idle = NULL, *last = NULL;
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (pending->receipt_wanted) {
            continue;
        }
        if (pending->state == RP_PENDING_IDLE) {
            idle = idle == NULL || pending->touched_us < idle->touched_us ? pending : idle;
        } else {
            last = last == NULL || rp_queue_before(mesh, last, pending) ? pending : last;
        }
    }
    return idle != NULL ? idle : last;
}

struct rp_pending *rp_queue_add(struct rp_mesh *mesh, uint16_t origin, uint32_t seq,
                                struct rp_view plain, bool first, rp_time_us now_us)
{
    struct rp_pending *place = rp_queue_find(mesh, origin, seq);
    struct rp_log *log = rp_log_find(mesh, origin);
    if (place != NULL || log == NULL) {
        return place;
    }
    struct rp_pending made = {.origin = origin,
                              .seq = seq,
                              .log = (unsigned)(log - mesh->logs),
                              .due_us = RP_NEVER,
                              .touched_us = now_us,
                              .sent_us = now_us,
                              .stamp = ++mesh->stamp,
                              .own = origin == mesh->config.origin};
    classify(mesh, &made, plain, first);
    memset(made.lack, 255, sizeof made.lack);
    if (mesh->pending_count < RP_PENDING_MAX) {
        place = &mesh->pending[mesh->pending_count++];
    } else {
        place = least_important(mesh);
        mesh->counters.queue_full += place == NULL || place->state != RP_PENDING_IDLE;
        if (place == NULL ||
            (place->state != RP_PENDING_IDLE && rp_queue_before(mesh, place, &made))) {
            return NULL;
        }
    }
    *place = made;
    return place;
}

void rp_queue_expire(struct rp_mesh *mesh, rp_time_us now_us)
{
    unsigned i = 0;
    while (i < mesh->pending_count) {
        struct rp_pending *pending = &mesh->pending[i];
        if (pending->state == RP_PENDING_IDLE && now_us - pending->touched_us > IDLE_KEPT_US) {
            *pending = mesh->pending[--mesh->pending_count];
        } else {
            i++;
        }
    }
}
