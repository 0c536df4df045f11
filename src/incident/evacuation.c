#include <string.h>

#include "incident/fold.h"
#include "incident/table.h"

/* A request and what it revises, newest first, by reference: the oldest may be missing. */
struct chain {
    struct rp_record_ref refs[RP_EP_REQUESTS_MAX + 1];
    size_t count;
};

static int find_request(const struct rp_episode *ep, struct rp_record_ref ref)
{
    for (size_t i = 0; i < ep->requests.count; i++) {
        if (rp_ref_same(ep->requests.at[i].from.ref, ref)) {
            return (int)i;
        }
    }
    return -1;
}

static bool in_chain(const struct chain *chain, struct rp_record_ref ref)
{
    for (size_t i = 0; i < chain->count; i++) {
        if (rp_ref_same(chain->refs[i], ref)) {
            return true;
        }
    }
    return false;
}

/* Ends at a first request, at one that is missing, or where a chain bites its tail. */
static struct chain chain_of(const struct rp_episode *ep, struct rp_record_ref ref)
{
    struct chain chain;
    memset(&chain, 0, sizeof chain);
    /* All different, and only the last is not held: never more than refs has room for. */
    while (ref.origin != 0 && !in_chain(&chain, ref)) {
        chain.refs[chain.count++] = ref;
        int held = find_request(ep, ref);
        ref = held < 0 ? (struct rp_record_ref){0, 0} : ep->requests.at[held].what.revises;
    }
    return chain;
}

/* Oldest cancel first, so that the newest is the one named. A cancel of a request that was entered
 * in error cancels nothing else. */
static void mark_cancelled(struct rp_episode *ep)
{
    for (size_t i = 0; i < ep->requests.count; i++) {
        struct rp_request_entry *r = &ep->requests.at[i];
        r->cancelled = false;
        memset(&r->cancel_from, 0, sizeof r->cancel_from);
        memset(r->cancel_reason, 0, sizeof r->cancel_reason);
    }
    for (size_t c = 0; c < ep->cancels.count; c++) {
        const struct rp_cancel_entry *cancel = &ep->cancels.at[c];
        int held = find_request(ep, cancel->what.request);
        if (cancel->from.voided) {
            continue;
        }
        struct chain chain = chain_of(ep, cancel->what.request);
        bool whole = held >= 0 && !ep->requests.at[held].from.voided;
        for (size_t i = 0; i < (whole ? chain.count : 1); i++) {
            int index = find_request(ep, chain.refs[i]);
            if (index >= 0) {
                struct rp_request_entry *r = &ep->requests.at[index];
                r->cancelled = true;
                r->cancel_from = cancel->from;
                memcpy(r->cancel_reason, cancel->what.reason, sizeof r->cancel_reason);
            }
        }
    }
}

static bool is_revised(const struct rp_episode *ep, const struct rp_request_entry *request)
{
    for (size_t i = 0; i < ep->requests.count; i++) {
        const struct rp_request_entry *other = &ep->requests.at[i];
        if (other != request && !other->from.voided &&
            rp_ref_same(other->what.revises, request->from.ref)) {
            return true;
        }
    }
    return false;
}

/* The newest that is live and not revised. Requests that revise each other in a ring are bad data:
 * then the newest live one stands, for a request must not be lost. */
static int16_t find_in_force(const struct rp_episode *ep)
{
    int16_t live = -1;
    for (int i = ep->requests.count - 1; i >= 0; i--) {
        const struct rp_request_entry *r = &ep->requests.at[i];
        if (r->from.voided || r->cancelled) {
            continue;
        }
        if (!is_revised(ep, r)) {
            return (int16_t)i;
        }
        live = live < 0 ? (int16_t)i : live;
    }
    return live;
}

/* The newest answer about the chain that tells a state; -1 if none. "Seen" is the least: a second
 * person who sees a request that was accepted does not take the acceptance back. */
static int newest_answer(const struct rp_episode *ep, const struct chain *chain)
{
    int seen = -1;
    for (int i = ep->answers.count - 1; i >= 0; i--) {
        const struct rp_answer_entry *a = &ep->answers.at[i];
        if (a->from.voided || !in_chain(chain, a->what.about)) {
            continue;
        }
        if (a->what.kind > RP_ANS_SEEN && a->what.kind <= RP_ANS_REFUSED) {
            return i;
        }
        seen = seen < 0 && a->what.kind == RP_ANS_SEEN ? i : seen;
    }
    return seen;
}

static const struct rp_handover_entry *newest_handover(const struct rp_episode *ep)
{
    for (size_t i = ep->handovers.count; i-- > 0;) {
        if (!ep->handovers.at[i].from.voided) {
            return &ep->handovers.at[i];
        }
    }
    return NULL;
}

/* Without a request in force: what is not voided was cancelled, or it would be in force. */
static uint8_t state_of_none(const struct rp_episode *ep)
{
    for (size_t i = ep->requests.count; i-- > 0;) {
        if (!ep->requests.at[i].from.voided) {
            return RP_EVAC_CANCELLED;
        }
    }
    bool asked_elsewhere = ep->requests.count == 0 && ep->has_status;
    return asked_elsewhere ? ep->status.evac_state : RP_EVAC_NONE;
}

static uint8_t state_now(const struct rp_episode *ep, int answer)
{
    static const uint8_t state_of_answer[] = {
        [RP_ANS_SEEN] = RP_EVAC_SEEN,
        [RP_ANS_PASSED_ON] = RP_EVAC_PASSED_ON,
        [RP_ANS_ACCEPTED] = RP_EVAC_ACCEPTED,
        [RP_ANS_REFUSED] = RP_EVAC_REFUSED,
    };
    const struct rp_handover_entry *handover = newest_handover(ep);
    if (handover != NULL &&
        (ep->request_now < 0 ||
         rp_source_order(&ep->requests.at[ep->request_now].from, &handover->from) < 0)) {
        return RP_EVAC_HANDED_OVER;
    }
    if (ep->request_now < 0) {
        return state_of_none(ep);
    }
    return answer < 0 ? RP_EVAC_ASKED : state_of_answer[ep->answers.at[answer].what.kind];
}

static int16_t find_eta(const struct rp_episode *ep, const struct chain *chain, int answer)
{
    if (ep->evac_state == RP_EVAC_CANCELLED || ep->evac_state == RP_EVAC_HANDED_OVER) {
        return -1;
    }
    int refused = ep->evac_state == RP_EVAC_REFUSED ? answer : -1;
    for (int i = ep->answers.count - 1; i > refused; i--) {
        const struct rp_answer_entry *a = &ep->answers.at[i];
        bool about_it = in_chain(chain, a->what.about) || find_request(ep, a->what.about) < 0;
        if (!a->from.voided && a->what.has_eta && about_it) {
            return (int16_t)i;
        }
    }
    return -1;
}

static void mark_read_back(struct rp_episode *ep)
{
    for (size_t i = 0; i < ep->answers.count; i++) {
        struct rp_answer_entry *a = &ep->answers.at[i];
        a->read_back = false;
        for (size_t j = 0; j < ep->readbacks.count; j++) {
            const struct rp_readback_entry *b = &ep->readbacks.at[j];
            a->read_back =
                a->read_back || (!b->from.voided && rp_ref_same(b->what.about, a->from.ref));
        }
    }
}

void rp_fold_evacuation(struct rp_episode *ep)
{
    mark_read_back(ep);
    mark_cancelled(ep);
    ep->request_now = find_in_force(ep);
    struct rp_record_ref none = {0, 0};
    struct chain chain =
        chain_of(ep, ep->request_now < 0 ? none : ep->requests.at[ep->request_now].from.ref);
    int answer = newest_answer(ep, &chain);
    ep->evac_state = state_now(ep, answer);
    ep->eta_answer = find_eta(ep, &chain, answer);
}
