#include "incident/watch/course.h"

#include <string.h>

#define MIN_S  60u
#define HOUR_S 3600u

/* Sources, as the clinical references give them:
 *   session          1 h, then out and reassessed (US Air Force pararescue handbook, 8th ed.)
 *   deflation        about 3 minutes: common practice, no source
 *   rebound          12 h: no lasting effect of the chamber at 11-12 h (Keller 1995, Bartsch 1993)
 *   reports          every 30 min, 15 when unstable: ours
 *   gauge target     2 psi = 137.9 hPa (Taber 1990; pararescue handbook)
 *   gauge maximum    200 hPa: the highest of the published trials (Imray 2001, 199.5 hPa), rounded
 *   totals           at least 1 h AMS, 2-4 h HAPE, 4-6 h HACE: common practice, no source;
 *                    field series 2, 4, 6 h (Taber 1990, 4243 m) */
const struct rp_watch_plan rp_watch_plan_default = {
    .session_s = HOUR_S,
    .deflation_s = 3 * MIN_S,
    .rebound_s = 12 * HOUR_S,
    .report_s = 30 * MIN_S,
    .report_unstable_s = 15 * MIN_S,
    .gauge_target_dhpa = 1379,
    .gauge_max_dhpa = 2000,
    .ams = {HOUR_S, HOUR_S, 2 * HOUR_S},
    .hape = {2 * HOUR_S, 4 * HOUR_S, 4 * HOUR_S},
    .hace = {4 * HOUR_S, 6 * HOUR_S, 6 * HOUR_S},
};

/* Checks of the rebound watch: each 30 min in the first 2 h, then hourly (ours). */
#define CHECK_FIRST_S (30 * MIN_S)
#define CHECK_LATER_S HOUR_S
#define CHECK_CLOSE_S (2 * HOUR_S)

static uint32_t span_s(uint32_t from_s, uint32_t to_s)
{
    return to_s > from_s ? to_s - from_s : 0;
}

/* Within one second the order in one log decides. */
static bool is_after(const struct rp_source *from, const struct rp_source *since)
{
    return from->happened_s > since->happened_s ||
           (from->happened_s == since->happened_s &&
            (from->ref.origin != since->ref.origin || from->ref.seq > since->ref.seq));
}

bool rp_course_answered(const struct rp_episode *episode, uint8_t session)
{
    const struct rp_source *since = NULL;
    uint8_t since_session = 0;
    for (uint16_t i = 0; i < episode->chamber.count; i++) {
        const struct rp_chamber_entry *event = &episode->chamber.at[i];
        if (!event->from.voided && event->what.session >= session) {
            return true; /* this session has begun already */
        }
        if (!event->from.voided && event->what.session > since_session) {
            since = &event->from; /* oldest first: the start of the newest session */
            since_session = event->what.session;
        }
    }
    for (uint16_t i = 0; i < episode->descent.count; i++) {
        const struct rp_source *from = &episode->descent.at[i].from;
        if (!from->voided && (since == NULL || is_after(from, since))) {
            return true;
        }
    }
    return false;
}

/* The newest session: by the fold's order its first event came last. */
static const struct rp_session *newest_session(const struct rp_episode *ep)
{
    return ep->sessions.count > 0 ? &ep->sessions.at[ep->sessions.count - 1] : NULL;
}

/* Net time of the first event of a session. */
static uint32_t started_s(const struct rp_episode *ep, uint8_t session)
{
    uint32_t first_s = 0;
    for (size_t i = ep->chamber.count; i-- > 0;) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        if (!event->from.voided && event->what.session == session) {
            first_s = event->from.happened_s;
        }
    }
    return first_s;
}

static void set_phase(const struct rp_episode *ep, const struct rp_session *session, uint32_t now_s,
                      struct rp_course *course)
{
    course->session = session->number;
    course->session_from_s = started_s(ep, session->number);
    course->phase = session->phase;
    course->session_s = session->at_pressure_total_s;
    course->inside =
        session->phase >= RP_PHASE_CLOSED && session->phase <= RP_PHASE_DEFLATING && !ep->closed;
    for (size_t i = ep->chamber.count; i-- > 0;) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        if (event->from.voided || event->what.session != session->number) {
            continue;
        }
        if (event->what.phase != session->phase) {
            break;
        }
        course->phase_since_s = event->from.happened_s;
    }
    course->phase_s = span_s(course->phase_since_s, now_s);
}

static bool answered_between(const struct rp_episode *ep, uint32_t after_s, uint32_t until_s)
{
    for (size_t i = 0; i < ep->descent.count; i++) {
        const struct rp_source *from = &ep->descent.at[i].from;
        if (!from->voided && from->happened_s >= after_s && from->happened_s <= until_s) {
            return true;
        }
    }
    return false;
}

static void set_totals(const struct rp_episode *ep, struct rp_course *course)
{
    uint32_t before_s = 0; /* start of the session before */
    course->sessions = ep->sessions.count;
    course->older_dropped = ep->sessions.older_dropped > 0 || ep->chamber.older_dropped > 0;
    for (size_t i = 0; i < ep->sessions.count; i++) {
        const struct rp_session *session = &ep->sessions.at[i];
        uint32_t start_s = started_s(ep, session->number);
        course->total_s += session->at_pressure_total_s;
        course->unanswered =
            (uint16_t)(course->unanswered + !answered_between(ep, before_s, start_s));
        before_s = start_s;
        if (session->has_deflating && session->has_out && session->out_s >= session->deflating_s) {
            course->has_deflation = true;
            course->deflation_s = session->out_s - session->deflating_s;
        }
    }
}

static void set_plan(const struct rp_episode *ep, const struct rp_watch_plan *plan,
                     struct rp_course *course)
{
    const struct {
        uint8_t label;
        const struct rp_illness_plan *plan;
    } illnesses[] = {
        {RP_LABEL_HACE, &plan->hace}, {RP_LABEL_HAPE, &plan->hape}, {RP_LABEL_AMS, &plan->ams}};
    for (size_t i = 0; i < sizeof illnesses / sizeof illnesses[0]; i++) {
        bool longer = illnesses[i].plan->field_s > course->plan.field_s;
        if ((ep->opening.label & illnesses[i].label) != 0 && longer) {
            course->illness = illnesses[i].label;
            course->plan = *illnesses[i].plan;
        }
    }
    course->session_left_s = course->inside ? span_s(course->session_s, plan->session_s) : 0;
    course->deflation_fast = course->has_deflation && course->deflation_s < plan->deflation_s / 2;
}

/* A check looks at SpO2 or the conscious level; "unable" is a look too. */
static uint32_t last_check_s(const struct rp_episode *ep, uint32_t from_s)
{
    uint32_t last_s = from_s;
    for (size_t i = 0; i < ep->obs.count; i++) {
        const struct rp_obs *obs = &ep->obs.at[i];
        bool looked = obs->spo2_pct.state != RP_NOT_MEASURED || obs->acvpu.state != RP_NOT_MEASURED;
        if (!obs->from.voided && looked && obs->taken_s > last_s) {
            last_s = obs->taken_s;
        }
    }
    return last_s;
}

static void set_rebound(const struct rp_episode *ep, const struct rp_session *session,
                        const struct rp_watch_plan *plan, uint32_t now_s, struct rp_course *course)
{
    bool away = ep->closed || ep->evac_state == RP_EVAC_HANDED_OVER;
    bool had_pressure = session->has_at_pressure; /* what was never treated cannot relapse */
    if (session->phase != RP_PHASE_OUT || away || !had_pressure) {
        return;
    }
    course->rebound_from_s = session->out_s;
    course->rebound_until_s = session->out_s + plan->rebound_s;
    course->rebound = now_s < course->rebound_until_s;
    uint32_t last_s = last_check_s(ep, session->out_s);
    course->rebound_check_s =
        last_s + (last_s - session->out_s < CHECK_CLOSE_S ? CHECK_FIRST_S : CHECK_LATER_S);
}

static void set_why_not(const struct rp_episode *ep, struct rp_course *course)
{
    for (size_t i = ep->descent.count; i-- > 0;) {
        if (!ep->descent.at[i].from.voided) {
            course->why_not = &ep->descent.at[i];
            break;
        }
    }
    uint8_t next = course->session < 255 ? (uint8_t)(course->session + 1) : course->session;
    course->why_not_due = !rp_course_answered(ep, next);
}

/* An entry that was made later in one log and says it was recorded earlier: the clock stepped. */
static bool has_stepped(const struct rp_episode *ep)
{
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_source *a = &ep->chamber.at[i].from;
        for (size_t j = i + 1; j < ep->chamber.count; j++) {
            const struct rp_source *b = &ep->chamber.at[j].from;
            bool later = b->ref.seq > a->ref.seq;
            if (a->ref.origin == b->ref.origin && !a->voided && !b->voided &&
                (later ? b->recorded_s < a->recorded_s : b->recorded_s > a->recorded_s)) {
                return true;
            }
        }
    }
    return false;
}

void rp_course_of(const struct rp_episode *episode, const struct rp_watch_plan *plan,
                  uint32_t now_s, struct rp_course *out_course)
{
    struct rp_course course;
    memset(&course, 0, sizeof course);
    plan = plan != NULL ? plan : &rp_watch_plan_default;
    const struct rp_session *session = newest_session(episode);
    if (session != NULL) {
        set_phase(episode, session, now_s, &course);
        set_rebound(episode, session, plan, now_s, &course);
    }
    set_totals(episode, &course);
    set_plan(episode, plan, &course);
    set_why_not(episode, &course);
    course.head_up =
        course.inside && ((episode->opening.label & RP_LABEL_HAPE) != 0 ||
                          episode->opening.criteria[RP_CRIT_DYSPNOEA_REST] == RP_FINDING_YES);
    course.clock_stepped = has_stepped(episode);
    *out_course = course;
}
