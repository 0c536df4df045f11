/* Changes, like with like. */
#include "incident/watch/rules.h"

/* The set that this one is most worse than, among those before it within the window; *out_by is
 * RP_TREND_APART when there is none to compare with. */
static const struct rp_obs *worst_before(const struct rp_episode *ep, size_t index,
                                         rp_trend_measure *worse_by, uint32_t window_s, int *out_by)
{
    const struct rp_obs *now = &ep->obs.at[index], *found = NULL;
    *out_by = RP_TREND_APART;
    for (size_t i = 0; i < index; i++) {
        const struct rp_obs *before = &ep->obs.at[i];
        if (before->from.voided || now->taken_s - before->taken_s > window_s) {
            continue;
        }
        int by = worse_by(before, now);
        if (by > *out_by) {
            *out_by = by;
            found = before;
        }
    }
    return found;
}

bool rp_trend_find(const struct rp_episode *episode, rp_trend_measure *worse_by, int least,
                   uint32_t window_s, struct rp_trend *out_trend)
{
    bool fallen = false;
    int worst = 0; /* in this run of fallen sets */
    for (size_t i = 0; i < episode->obs.count; i++) {
        const struct rp_obs *now = &episode->obs.at[i];
        if (now->from.voided || worse_by(now, now) == RP_TREND_APART) {
            continue; /* it does not hold the value at all */
        }
        int by;
        const struct rp_obs *before = worst_before(episode, i, worse_by, window_s, &by);
        bool was = fallen;
        fallen = by >= least;
        if (!fallen) {
            continue;
        }
        out_trend->now = now;
        out_trend->before = before;
        if (!was || by > worst) {
            out_trend->since_s = now->taken_s;
            worst = by;
        }
    }
    return fallen;
}
