/* Push once, by name: what follows from a segment that was accepted, overheard or confirmed. */
#include "mesh/push/profile.h"

#define CONFIRMED_IN_VAIN 4

void rp_push_plan(struct rp_pending *pending, enum rp_pending_state state, rp_time_us due_us)
{
    pending->state = state;
    pending->due_us = due_us;
}

void rp_push_done(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    pending->named = 0;
    pending->touched_us = now_us;
    if (!pending->receipt_wanted) {
        rp_push_plan(pending, RP_PENDING_IDLE, RP_NEVER);
        return;
    }
    rp_push_plan(pending, RP_PENDING_REPEAT, rp_urgent_round_us(mesh, pending, now_us));
}

void rp_push_own(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    pending->receipt_wanted = pending->urgent && !mesh->config.is_base;
    pending->promise = mesh->promise;
    rp_push_plan(pending, RP_PENDING_FORWARD, now_us + rp_wait_us(mesh, 0, 50));
}

static void plan_ack(struct rp_mesh *mesh, const struct rp_pending *pending, bool second_copy,
                     rp_time_us now_us)
{
    const struct rp_profile *profile = rp_profile_of(pending);
    rp_time_us due_us = now_us + rp_wait_us(mesh, profile->ack_low_ms, profile->ack_high_ms);
    if (pending->urgent && !second_copy) {
        /* Its sender sends a second copy now, and would not hear the acknowledgement. */
        due_us += rp_scale_us(mesh, RP_COPY_HIGH_MS) + RP_LATENCY_US + mesh->frame40_us;
    }
    rp_ack_plan(mesh, pending->origin, pending->seq, pending->urgent, due_us);
}

bool rp_push_busy(const struct rp_mesh *mesh, const struct rp_pending *besides)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        const struct rp_pending *pending = &mesh->pending[i];
        bool active = pending->state == RP_PENDING_AWAIT ||
                      (pending->state == RP_PENDING_FORWARD && pending->late == 0);
        if (active && pending != besides) {
            return true;
        }
    }
    return false;
}

/* Who was not named need only care for those whom nobody else would serve. */
static unsigned unnamed_lacking(const struct rp_mesh *mesh, const struct rp_pending *pending,
                                rp_time_us now_us)
{
    return pending->urgent ? rp_belief_uncovered(mesh, pending, now_us)
                           : rp_belief_forsaken(mesh, pending, now_us);
}

/* At the end of a path: asked to confirm a record that would be asked for when due. Over the link
 * as it was last said nobody would ask: the word was probably lost, so it is said again. */
static void asked_to_confirm(struct rp_mesh *mesh, const struct rp_pending *pending,
                             uint8_t station)
{
    int slot = rp_neighbour_slot(mesh, station);
    if (slot >= 0 && !pending->urgent && rp_due_regular(mesh, pending->log) &&
        mesh->neighbours[slot].said_q8 >= RP_CONFIRMS_Q8 &&
        ++mesh->neighbours[slot].confirmed % CONFIRMED_IN_VAIN == 0) {
        mesh->row_asked = true;
    }
}

void rp_push_accepted(struct rp_mesh *mesh, struct rp_pending *pending,
                      const struct rp_trailer *trailer, rp_time_us now_us)
{
    const struct rp_profile *profile = rp_profile_of(pending);
    pending->previous = trailer->station;
    pending->hops = trailer->hops < RP_HOPS_MAX ? trailer->hops + 1 : RP_HOPS_MAX;
    pending->promise = trailer->promise;
    rp_belief_trailer(mesh, pending, trailer, now_us);
    unsigned lacking = rp_belief_uncovered(mesh, pending, now_us);
    bool named = trailer->named == mesh->station;
    if (named && lacking >= profile->named_least) {
        if (!pending->urgent && rp_push_busy(mesh, pending)) {
            plan_ack(mesh, pending, trailer->retransmission, now_us);
        }
        rp_push_plan(pending, RP_PENDING_FORWARD,
                     now_us + rp_wait_us(mesh, profile->named_low_ms, profile->named_high_ms));
    } else if (named || (pending->urgent && mesh->config.is_base)) {
        plan_ack(mesh, pending, trailer->retransmission, now_us);
        asked_to_confirm(mesh, pending, trailer->station);
    } else if (unnamed_lacking(mesh, pending, now_us) >= profile->unnamed_least) {
        unsigned others = rp_neighbours_usable(mesh, now_us);
        others = others > 2 ? others - 1 : 1;
        uint32_t spread_ms = 1000 + 500 * (others - 1);
        rp_push_plan(pending, RP_PENDING_OFFER,
                     now_us + RP_LATENCY_US + rp_wait_us(mesh, 2500, 2500 + spread_ms));
    }
}

/* Named for a segment that is held already: send again what still makes progress, else say so. */
static void named_again(struct rp_mesh *mesh, struct rp_pending *pending,
                        const struct rp_trailer *trailer, rp_time_us now_us)
{
    const struct rp_profile *profile = rp_profile_of(pending);
    rp_time_us soon_us = now_us + rp_wait_us(mesh, profile->named_low_ms, profile->named_high_ms);
    bool lacking = rp_belief_uncovered(mesh, pending, now_us) >= profile->named_least;
    if (rp_pending_sends(pending) && (lacking || pending->state == RP_PENDING_ANSWER)) {
        if (!pending->urgent && rp_push_busy(mesh, pending)) {
            plan_ack(mesh, pending, trailer->retransmission, now_us);
        }
        rp_push_plan(pending, RP_PENDING_FORWARD, rp_sooner_us(soon_us, pending->due_us));
    } else if (pending->state == RP_PENDING_AWAIT && trailer->retransmission) {
        rp_push_plan(pending, RP_PENDING_FORWARD, soon_us);
    } else if (trailer->retransmission && rp_urgent_is_round(mesh, pending, now_us)) {
        /* The origin insists, so base has not receipted: a round all along the path. */
        pending->sends = 0;
        pending->repeats = 1;
        rp_push_plan(pending, RP_PENDING_FORWARD, soon_us);
    } else {
        plan_ack(mesh, pending, trailer->retransmission, now_us);
    }
}

void rp_push_overheard(struct rp_mesh *mesh, uint16_t origin, uint32_t seq, bool urgent,
                       const struct rp_trailer *trailer, rp_time_us now_us)
{
    bool named = trailer->named == mesh->station;
    struct rp_pending *pending = rp_queue_find(mesh, origin, seq);
    if (pending == NULL) {
        if (origin == mesh->config.origin && trailer->station != 0) {
            rp_event_heard_one(mesh, seq, trailer->station);
        }
        if (named || (urgent && mesh->config.is_base)) {
            struct rp_pending known = {.origin = origin, .seq = seq, .urgent = urgent};
            plan_ack(mesh, &known, trailer->retransmission, now_us);
        }
        return;
    }
    rp_belief_trailer(mesh, pending, trailer, now_us);
    if (named) {
        named_again(mesh, pending, trailer, now_us);
    } else if (trailer->station != 0 && pending->named == trailer->station) {
        rp_push_done(mesh, pending, now_us); /* the forward heard is the acknowledgement */
        rp_contend_won(mesh, now_us);
    } else if (pending->state == RP_PENDING_ANSWER) {
        rp_push_done(mesh, pending, now_us); /* one copy heard cancels the other answers */
    } else if (urgent && mesh->config.is_base) {
        plan_ack(mesh, pending, trailer->retransmission, now_us);
    }
}

void rp_push_holds(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t station, bool forwards,
                   rp_time_us now_us)
{
    rp_belief_holds(mesh, pending, station);
    if (pending->named != station ||
        (pending->state != RP_PENDING_AWAIT && pending->state != RP_PENDING_FORWARD)) {
        return;
    }
    int slot = rp_neighbour_slot(mesh, station);
    if (slot >= 0) {
        mesh->neighbours[slot].proven = true; /* it answers what it was named for */
    }
    if (forwards && !pending->urgent) {
        /* It has others to forward first. Nothing is sent again, but the next push waits for it:
         * what it cannot pass on yet would only meet its frames. */
        uint32_t wait_ms = rp_profile_of(pending)->again_busy_ms;
        rp_push_plan(pending, RP_PENDING_AWAIT, now_us + rp_wait_us(mesh, wait_ms, 2 * wait_ms));
    } else {
        rp_push_done(mesh, pending, now_us);
        rp_contend_won(mesh, now_us);
    }
}

bool rp_push_fire(struct rp_mesh *mesh, struct rp_pending *pending, uint8_t *out_named,
                  rp_time_us now_us)
{
    if (pending->state == RP_PENDING_ANSWER) {
        *out_named = 0;
        return true;
    }
    const struct rp_profile *profile = rp_profile_of(pending);
    if (!pending->own && pending->sends == 0 && pending->repeats == 0) {
        bool offer = pending->state == RP_PENDING_OFFER;
        unsigned least = offer ? profile->unnamed_least : profile->named_least;
        unsigned lacking = offer ? unnamed_lacking(mesh, pending, now_us)
                                 : rp_belief_uncovered(mesh, pending, now_us);
        if (lacking < least) {
            if (!offer) {
                plan_ack(mesh, pending, true, now_us);
            }
            rp_push_done(mesh, pending, now_us);
            return false;
        }
    }
    bool kept = pending->sends > 0 && pending->named != 0;
    *out_named =
        kept ? pending->named : rp_name_choose(mesh, pending, pending->repeats > 0, now_us);
    return true;
}

void rp_push_sent(struct rp_mesh *mesh, struct rp_pending *pending, size_t frame_len,
                  rp_time_us now_us)
{
    pending->touched_us = now_us;
    mesh->urgent_us = pending->urgent ? now_us : mesh->urgent_us;
    pending->aired = true;
    pending->sent_us = now_us;
    rp_belief_covers(mesh, pending, mesh->station, 255);
    rp_ack_cancel(mesh, pending->origin, pending->seq); /* the frame itself says it is held */
    if (pending->state == RP_PENDING_ANSWER) {
        rp_push_done(mesh, pending, now_us);
        return;
    }
    pending->sends = pending->sends < UINT8_MAX ? pending->sends + 1 : UINT8_MAX;
    pending->postponed = 0;
    if (pending->urgent) {
        rp_urgent_sent(mesh, pending, frame_len, now_us);
    } else if (pending->named != 0) {
        rp_push_plan(pending, RP_PENDING_AWAIT,
                     now_us + rp_insist_await_us(mesh, pending, frame_len));
    } else {
        rp_push_done(mesh, pending, now_us);
    }
}

void rp_push_tick(struct rp_mesh *mesh, rp_time_us now_us)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (now_us < pending->due_us) {
            continue;
        }
        if (pending->state == RP_PENDING_AWAIT) {
            rp_insist_judge(mesh, pending, now_us);
        } else if (pending->state == RP_PENDING_REPEAT) {
            pending->sends = 0;
            pending->repeats = pending->repeats < UINT8_MAX ? pending->repeats + 1 : UINT8_MAX;
            rp_push_plan(pending, RP_PENDING_FORWARD, now_us);
        }
    }
}
