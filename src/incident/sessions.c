#include <string.h>

#include "incident/fold.h"
#include "incident/table.h"

/* Sessions in the making, by their number. */
struct making {
    struct rp_session session;
    bool counting;    /* time at pressure runs */
    uint32_t since_s; /* since when */
};

static uint32_t span_s(uint32_t from_s, uint32_t to_s)
{
    return to_s > from_s ? to_s - from_s : 0;
}

static void stop_counting(struct making *m, uint32_t at_s)
{
    if (m->counting) {
        m->session.at_pressure_total_s += span_s(m->since_s, at_s);
        m->counting = false;
    }
}

static void first_time(bool *has, uint32_t *at_s, uint32_t now_s)
{
    if (!*has) {
        *has = true;
        *at_s = now_s;
    }
}

static void take_event(struct making *m, const struct rp_rec_chamber *event, uint32_t at_s)
{
    struct rp_session *s = &m->session;
    switch (event->phase) {
    case RP_PHASE_CLOSED:
        first_time(&s->has_closed, &s->closed_s, at_s);
        stop_counting(m, at_s);
        break;
    case RP_PHASE_PRESSURISING:
        first_time(&s->has_pressurising, &s->pressurising_s, at_s);
        stop_counting(m, at_s);
        break;
    case RP_PHASE_AT_PRESSURE:
        first_time(&s->has_at_pressure, &s->at_pressure_s, at_s);
        if (!m->counting) {
            m->counting = true;
            m->since_s = at_s;
        }
        break;
    case RP_PHASE_HOLD: /* at pressure the time runs on; on the way up it does not run yet */
        if (s->phase != RP_PHASE_HOLD) {
            s->holds++;
        }
        break;
    case RP_PHASE_DEFLATING:
        s->has_deflating = true;
        s->deflating_s = at_s;
        stop_counting(m, at_s);
        break;
    case RP_PHASE_OUT:
        s->has_out = true;
        s->out_s = at_s;
        stop_counting(m, at_s);
        break;
    default:
        stop_counting(m, at_s);
        break;
    }
    s->phase = event->phase;
    if (event->gauge_dhpa.state == RP_MEASURED &&
        (s->gauge_dhpa.state != RP_MEASURED || event->gauge_dhpa.value > s->gauge_dhpa.value)) {
        s->gauge_dhpa = event->gauge_dhpa;
    }
}

/* Whether the event at index `i` is the first of its session. */
static bool is_first(const struct rp_episode *ep, size_t i)
{
    for (size_t j = 0; j < i; j++) {
        if (!ep->chamber.at[j].from.voided &&
            ep->chamber.at[j].what.session == ep->chamber.at[i].what.session) {
            return false;
        }
    }
    return true;
}

/* Folds all events of the session whose first event is at `first`. There is one chamber: when
 * another session begins, this one is over, whatever was not entered. */
static struct rp_session make_session(const struct rp_episode *ep, size_t first, uint32_t now_s)
{
    struct making m;
    memset(&m, 0, sizeof m);
    m.session.number = ep->chamber.at[first].what.session;
    for (size_t i = first; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *e = &ep->chamber.at[i];
        if (e->from.voided) {
            continue;
        }
        if (e->what.session == m.session.number) {
            take_event(&m, &e->what, e->from.happened_s);
        } else if (is_first(ep, i)) {
            stop_counting(&m, e->from.happened_s);
        }
    }
    uint32_t end_s =
        ep->closed && ep->close_from.happened_s < now_s ? ep->close_from.happened_s : now_s;
    stop_counting(&m, end_s);
    return m.session;
}

void rp_fold_sessions(struct rp_episode *ep, uint32_t now_s)
{
    memset(&ep->sessions, 0, sizeof ep->sessions);
    for (size_t i = 0; i < ep->chamber.count; i++) {
        if (ep->chamber.at[i].from.voided || !is_first(ep, i)) {
            continue;
        }
        if (ep->sessions.count == RP_EP_SESSIONS_MAX) {
            memmove(&ep->sessions.at[0], &ep->sessions.at[1],
                    (RP_EP_SESSIONS_MAX - 1) * sizeof ep->sessions.at[0]);
            ep->sessions.count--;
            ep->sessions.older_dropped++;
        }
        ep->sessions.at[ep->sessions.count++] = make_session(ep, i, now_s);
    }
}
