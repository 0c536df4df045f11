/* Rules of drugs, oxygen, and data that contradict each other. */
#include <strings.h>

#include "incident/assess/assess.h"
#include "incident/watch/rules.h"

#define MIN_S      60u
#define DUE_SOON_S (10 * MIN_S)
#define DUE_LATE_S (15 * MIN_S)
#define AHEAD_S    (2 * MIN_S)
#define ALTITUDE_M 500
#define DOUBLE_S   1800 /* as in drugs.c */

void rp_check_drugs(struct rp_watch *watch)
{
    struct rp_drug_due due[RP_DRUGS_MAX];
    size_t count = watch->over ? 0 : rp_drugs_due(watch->in->protocol, watch->ep, due);
    for (size_t i = 0; i < count; i++) {
        const struct rp_drug_due *d = &due[i];
        char given[8], at[8];
        rp_watch_time(d->last->from.happened_s, given);
        rp_watch_time(d->due_s, at);
        if (watch->now_s >= d->due_s + DUE_LATE_S) {
            rp_watch_raise(watch, RP_SOUND_LOUD, d->subject, d->due_s + DUE_LATE_S, 0,
                           "%s: given %s, interval over since %s", d->drug->name, given, at);
        } else if (watch->now_s + DUE_SOON_S >= d->due_s) {
            rp_watch_raise(watch, RP_SOUND_SOFT, d->subject, d->due_s - DUE_SOON_S, 0,
                           "%s: given %s, interval over at %s", d->drug->name, given, at);
        }
    }
}

void rp_check_oxygen(struct rp_watch *watch)
{
    static const uint32_t steps_s[] = {10 * MIN_S, 30 * MIN_S, 60 * MIN_S};
    const struct rp_oxygen_left *oxygen = &watch->oxygen;
    char at[8];
    for (size_t i = 0; i < 3 && oxygen->known && !watch->over; i++) {
        if (oxygen->left_s <= steps_s[i]) {
            uint32_t past_s = steps_s[i] - oxygen->left_s;
            rp_watch_raise(watch, RP_SOUND_LOUD, 0, rp_watch_span(past_s, watch->now_s),
                           oxygen->read_s, "oxygen for %u min at this flow, until %s",
                           (unsigned)(oxygen->left_s / MIN_S), rp_watch_time(oxygen->empty_s, at));
            return;
        }
    }
}

void rp_check_oxygen_eta(struct rp_watch *watch)
{
    const struct rp_oxygen_left *oxygen = &watch->oxygen;
    uint32_t eta_s = rp_watch_eta_s(watch);
    char at[8], eta[8];
    if (!watch->over && oxygen->known && eta_s > watch->now_s && oxygen->empty_s < eta_s) {
        uint32_t told_s = watch->ep->answers.at[watch->ep->eta_answer].from.recorded_s;
        uint32_t since_s = told_s > oxygen->read_s ? told_s : oxygen->read_s;
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, since_s, oxygen->read_s,
                       "oxygen until %s at this flow, arrival expected %s",
                       rp_watch_time(oxygen->empty_s, at), rp_watch_time(eta_s, eta));
    }
}

void rp_check_drugs_eta(struct rp_watch *watch)
{
    struct rp_drug_out out[RP_DRUGS_MAX];
    uint32_t eta_s = rp_watch_eta_s(watch);
    bool waits = !watch->over && eta_s > watch->now_s;
    size_t count = waits ? rp_drugs_out(watch->in->protocol, watch->ep, out) : 0;
    for (size_t i = 0; i < count; i++) {
        const struct rp_drug_out *d = &out[i];
        if (d->out_s >= eta_s) {
            continue;
        }
        char at[8], eta[8];
        uint32_t told_s = watch->ep->answers.at[watch->ep->eta_answer].from.recorded_s;
        uint32_t read_s = d->stock->from.happened_s;
        rp_watch_raise(watch, RP_SOUND_LOUD, d->subject, told_s > read_s ? told_s : read_s, read_s,
                       "%s: %u dose%s left, none for %s; arrival expected %s", d->drug->name,
                       d->doses, d->doses == 1 ? "" : "s", rp_watch_time(d->out_s, at),
                       rp_watch_time(eta_s, eta));
    }
}

/* A drug that was given and not taken back. */
static bool is_given(const struct rp_dose *dose)
{
    return !dose->from.voided && !dose->what.refused && dose->what.kind == RP_TREAT_DRUG;
}

/* The dose of the same drug next before this one, if it came too close. By the table of this
 * station; without one, within half an hour. */
static const struct rp_dose *too_close(const struct rp_watch *watch, size_t index)
{
    const struct rp_episode *ep = watch->ep;
    const struct rp_dose *dose = &ep->doses.at[index], *found = NULL;
    const struct rp_drug *drug = rp_drug_find(watch->in->protocol, dose->what.name);
    uint32_t close_s = drug != NULL && drug->interval_s > 0 ? drug->interval_s / 2 : DOUBLE_S;
    for (size_t i = 0; i < index; i++) {
        const struct rp_dose *before = &ep->doses.at[i];
        bool same = drug != NULL ? rp_drug_find(watch->in->protocol, before->what.name) == drug
                                 : strcasecmp(before->what.name, dose->what.name) == 0;
        if (same && is_given(before) && dose->from.happened_s - before->from.happened_s < close_s) {
            found = before;
        }
    }
    return found;
}

/* Not when a second person stood for it. */
void rp_check_dose_twice(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    const struct rp_dose *found = NULL, *before = NULL;
    for (size_t i = 0; i < ep->doses.count; i++) {
        const struct rp_dose *dose = &ep->doses.at[i];
        if (!is_given(dose) || dose->what.confirmed[0] != '\0') {
            continue;
        }
        const struct rp_dose *earlier = too_close(watch, i);
        found = earlier != NULL ? dose : found;
        before = earlier != NULL ? earlier : before;
    }
    if (found != NULL && !watch->over) {
        char at[8], earlier[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, found->from.happened_s, found->from.happened_s,
                       "%s given %s and %s", found->what.name,
                       rp_watch_time(before->from.happened_s, earlier),
                       rp_watch_time(found->from.happened_s, at));
    }
}

void rp_check_altitude(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    if (watch->over || ep->request_now < 0 || !ep->opening.altitude.present) {
        return;
    }
    const struct rp_request_entry *request = &ep->requests.at[ep->request_now];
    int apart_m = request->what.altitude.metres - ep->opening.altitude.metres;
    if (request->what.altitude.present && (apart_m > ALTITUDE_M || apart_m < -ALTITUDE_M)) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, request->from.happened_s, request->from.happened_s,
                       "opened at %d m, request says %d m", ep->opening.altitude.metres,
                       request->what.altitude.metres);
    }
}

void rp_check_time(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    if (!watch->over && ep->has_latest && ep->latest_s > watch->now_s + AHEAD_S) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, ep->latest_s, ep->latest_s,
                       "record of station %u from %s, %u min ahead of this clock",
                       ep->latest_from.station, rp_watch_time(ep->latest_s, at),
                       (unsigned)((ep->latest_s - watch->now_s + 59) / MIN_S));
    }
}

/* Doses, heights and clocks have rules of their own. Of the others the newest is told. */
void rp_check_contradiction(struct rp_watch *watch)
{
    struct rp_contradiction found[RP_CONTRA_COUNT];
    const struct rp_contradiction *newest = NULL;
    size_t count = rp_episode_contradictions(watch->ep, watch->now_s, found);
    for (size_t i = 0; i < count; i++) {
        bool own_rule = found[i].kind == RP_CONTRA_DOSE || found[i].kind == RP_CONTRA_ALTITUDE ||
                        found[i].kind == RP_CONTRA_AHEAD;
        if (!own_rule &&
            (newest == NULL || found[i].later->recorded_s > newest->later->recorded_s)) {
            newest = &found[i];
        }
    }
    if (newest != NULL && !watch->over) {
        rp_watch_raise(watch, RP_SOUND_LOUD, (uint8_t)(newest->kind + 1), newest->later->recorded_s,
                       newest->later->recorded_s, "%s", rp_contradiction_sentence(newest->kind));
    }
}
