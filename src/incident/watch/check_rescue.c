/* Rules of word, request, arrival, daylight and handing over. */
#include "incident/watch/rules.h"

#define MIN_S            60u
#define UNACKED_S        (5 * MIN_S)
#define UNACKED_LOUD_S   (15 * MIN_S)
#define LAST_START_S     (90 * MIN_S)
#define LAST_START_2_S   (30 * MIN_S)
#define ETA_SESSION_S    (60 * MIN_S)
#define ETA_CLOSE_S      (15 * MIN_S)
#define ACCEPTED_S       (10 * MIN_S)
#define ACCEPTED_AGAIN_S (30 * MIN_S)
#define DAYLIGHT_S       (60 * MIN_S)
#define LIGHT_OLD_S      (6 * 60 * MIN_S) /* ours: an end of light so long ago is of another day */
#define RUNG_1_S         (10 * MIN_S)
#define RUNG_2_S         (20 * MIN_S)
#define RUNG_3_S         (40 * MIN_S)

static const struct rp_request_entry *request_now(const struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    return ep->request_now >= 0 && !watch->over ? &ep->requests.at[ep->request_now] : NULL;
}

void rp_check_unacked(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    uint32_t waits_s = rp_watch_span(station->unacked_s, watch->now_s);
    if (station->has_unacked && waits_s >= UNACKED_S && !watch->over) {
        bool loud = waits_s >= UNACKED_LOUD_S;
        rp_watch_raise(watch, loud ? RP_SOUND_LOUD : RP_SOUND_SOFT, 0,
                       station->unacked_s + (loud ? UNACKED_LOUD_S : UNACKED_S), 0,
                       "an urgent record is not at base after %u min", (unsigned)(waits_s / MIN_S));
    }
}

/* End of usable light: of the newest request that says it, else as the station knows it; one that
 * is long past is yesterday's. */
static uint32_t light_end_s(const struct rp_watch_input *input)
{
    const struct rp_episode *ep = input->episode;
    const struct rp_watch_station *station = &input->station;
    uint32_t end_s = station->has_daylight_end ? station->daylight_end_s : 0;
    for (size_t i = 0; i < ep->requests.count; i++) {
        const struct rp_request_entry *request = &ep->requests.at[i];
        if (!request->from.voided && request->what.has_daylight &&
            request->what.daylight_end_s + LIGHT_OLD_S > input->now_s) {
            end_s = request->what.daylight_end_s;
        }
    }
    return end_s;
}

bool rp_watch_last_start(const struct rp_watch_input *input, struct rp_last_start *out_start)
{
    const struct rp_episode *ep = input->episode;
    const struct rp_watch_plan *plan = input->plan != NULL ? input->plan : &rp_watch_plan_default;
    struct rp_last_start start = {.light_end_s = light_end_s(input), .way_s = plan->descent_s};
    for (size_t i = 0; i < ep->descent.count; i++) {
        const struct rp_descent_entry *entry = &ep->descent.at[i];
        if (!entry->from.voided && entry->what.has_way) {
            start.way_s = entry->what.way_min * MIN_S;
            start.way_entered = true;
        }
    }
    uint32_t needed_s = start.way_s * 3 / 2;
    if (needed_s == 0 || start.light_end_s <= needed_s) {
        return false;
    }
    start.start_s = start.light_end_s - needed_s;
    *out_start = start;
    return true;
}

void rp_check_descent(struct rp_watch *watch)
{
    struct rp_last_start last;
    const struct rp_descent_entry *answer = watch->course.why_not;
    bool going = answer != NULL && answer->what.descending;
    if (watch->over || going || !rp_watch_last_start(watch->in, &last) ||
        watch->now_s >= last.light_end_s) {
        return;
    }
    uint32_t start_s = last.start_s;
    if (watch->now_s + LAST_START_S < start_s) {
        return;
    }
    bool late = watch->now_s + LAST_START_2_S >= start_s;
    char at[8];
    rp_watch_raise(watch, RP_SOUND_LOUD, 0, start_s - (late ? LAST_START_2_S : LAST_START_S), 0,
                   watch->now_s < start_s ? "last safe start down at %s"
                                          : "last safe start down was at %s",
                   rp_watch_time(start_s, at));
}

void rp_check_eta_camp(struct rp_watch *watch)
{
    uint32_t eta_s = rp_watch_eta_s(watch);
    if (watch->over || eta_s <= watch->now_s || watch->now_s + ETA_SESSION_S < eta_s) {
        return;
    }
    bool close = watch->now_s + ETA_CLOSE_S >= eta_s;
    char at[8];
    rp_watch_raise(watch, RP_SOUND_LOUD, 0, eta_s - (close ? ETA_CLOSE_S : ETA_SESSION_S), 0,
                   watch->course.inside ? "arrival expected %s, patient still in the chamber"
                                        : "arrival expected %s",
                   rp_watch_time(eta_s, at));
}

void rp_check_request(struct rp_watch *watch)
{
    const struct rp_request_entry *request = request_now(watch);
    if (request != NULL && watch->ep->evac_state == RP_EVAC_ASKED) {
        char at[8];
        uint32_t asked_s = request->from.recorded_s;
        rp_watch_raise(watch, RP_SOUND_FAST, 0, asked_s, asked_s,
                       "evacuation asked %s, NOBODY HAS ANSWERED", rp_watch_time(asked_s, at));
    }
}

/* The last rung comes back every 40 min: silence that was acknowledged is silence still. */
void rp_check_report(struct rp_watch *watch)
{
    uint32_t word_s = rp_episode_word_s(watch->ep);
    const struct rp_status_entry *report = rp_watch_condition(watch);
    bool unstable = report != NULL && report->what.condition >= RP_COND_WORSE;
    if (watch->over || word_s == 0) {
        return;
    }
    uint32_t due_s = word_s + (unstable ? watch->plan->report_unstable_s : watch->plan->report_s);
    uint32_t promised_s = rp_episode_next_report_s(watch->ep);
    due_s = promised_s > word_s ? promised_s : due_s; /* the camp said when itself */
    uint32_t late_s = rp_watch_span(due_s, watch->now_s);
    if (late_s < RUNG_1_S) {
        return;
    }
    uint32_t rung_s = late_s >= RUNG_3_S   ? late_s / RUNG_3_S * RUNG_3_S
                      : late_s >= RUNG_2_S ? RUNG_2_S
                                           : RUNG_1_S;
    char at[8];
    rp_watch_raise(watch,
                   rung_s >= RUNG_3_S   ? RP_SOUND_FAST
                   : rung_s == RUNG_2_S ? RP_SOUND_LOUD
                                        : RP_SOUND_SOFT,
                   0, due_s + rung_s, 0, "no word since %s, report %u min late: %s",
                   rp_watch_time(word_s, at), (unsigned)(late_s / MIN_S),
                   rung_s >= RUNG_3_S   ? "ACT ON THE PLAN FOR SILENCE"
                   : rung_s == RUNG_2_S ? "try the relays"
                                        : "call the camp");
}

void rp_check_accepted(struct rp_watch *watch)
{
    const struct rp_request_entry *request = request_now(watch);
    if (request == NULL || watch->ep->evac_state == RP_EVAC_ACCEPTED) {
        return;
    }
    uint32_t asked_s = request->from.recorded_s;
    uint32_t waits_s = rp_watch_span(asked_s, watch->now_s);
    if (waits_s >= ACCEPTED_S) {
        uint32_t again_s = (waits_s - ACCEPTED_S) / ACCEPTED_AGAIN_S * ACCEPTED_AGAIN_S;
        char at[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, asked_s + ACCEPTED_S + again_s, 0,
                       watch->ep->evac_state == RP_EVAC_REFUSED
                           ? "asked %s, %u min ago: REFUSED, nobody has accepted"
                           : "asked %s, %u min ago: nobody has accepted",
                       rp_watch_time(asked_s, at), (unsigned)(waits_s / MIN_S));
    }
}

void rp_check_eta_passed(struct rp_watch *watch)
{
    uint32_t eta_s = rp_watch_eta_s(watch);
    if (!watch->over && eta_s != 0 && watch->now_s > eta_s) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, eta_s, 0, "arrival was expected %s, %u min ago",
                       rp_watch_time(eta_s, at), (unsigned)((watch->now_s - eta_s) / MIN_S));
    }
}

void rp_check_handover(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    if (!ep->closed || ep->close.outcome != RP_OUT_HANDED_OVER) {
        return;
    }
    for (size_t i = 0; i < ep->handovers.count; i++) {
        if (!ep->handovers.at[i].from.voided) {
            return;
        }
    }
    rp_watch_raise(watch, RP_SOUND_SOFT, 0, ep->close_from.recorded_s, ep->close_from.recorded_s,
                   "closed as handed over, but no receipt says to whom");
}

void rp_check_daylight(struct rp_watch *watch)
{
    uint32_t light_s = light_end_s(watch->in);
    if (request_now(watch) != NULL && light_s > watch->now_s &&
        watch->now_s + DAYLIGHT_S >= light_s) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, light_s - DAYLIGHT_S, 0, "light ends at %s",
                       rp_watch_time(light_s, at));
    }
}
