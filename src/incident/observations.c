/* Observation sets out of status reports. A report carries the newest value of every group with
 * its age, so most of what it says repeats an earlier report; the repeat is what fills the hole
 * when that earlier report is missing. */
#include <string.h>

#include "incident/fold.h"
#include "incident/table.h"

/* The oldest age a status report can tell, in minutes: see record.h. */
#define AGE_LAST_MIN 1440

/* Values of one group are taken together and share one age. */
enum group { VITALS, PRESSURE, TEMP, SCORE, GROUPS };

static const struct {
    enum group group;
    size_t status_offset, obs_offset;
} values[] = {
#define VALUE(group, name)                                                                         \
    {                                                                                              \
        group, offsetof(struct rp_rec_status, name), offsetof(struct rp_obs, name)                 \
    }
    VALUE(VITALS, spo2_pct),
    VALUE(VITALS, pulse_bpm),
    VALUE(VITALS, resp_rpm),
    VALUE(VITALS, acvpu),
    VALUE(VITALS, gcs_eye),
    VALUE(VITALS, gcs_verbal),
    VALUE(VITALS, gcs_motor),
    VALUE(VITALS, airway),
    VALUE(VITALS, pain),
    VALUE(PRESSURE, systolic_mmhg),
    VALUE(PRESSURE, diastolic_mmhg),
    VALUE(TEMP, temp_dc),
    VALUE(SCORE, lls),
    VALUE(SCORE, ataxia),
#undef VALUE
};
#define VALUE_COUNT (sizeof values / sizeof values[0])

static uint16_t age_min(const struct rp_rec_status *s, enum group group)
{
    switch (group) {
    case VITALS:
        return s->vitals_age_min;
    case PRESSURE:
        return s->pressure_age_min;
    case TEMP:
        return s->temp_age_min;
    default:
        return s->score_age_min;
    }
}

static struct rp_value value_of(const struct rp_rec_status *s, size_t i)
{
    struct rp_value value;
    memcpy(&value, (const unsigned char *)s + values[i].status_offset, sizeof value);
    return value;
}

/* Whether the group can make a set: "unable" counts when it is said now, but a repeat of it is not
 * worth a set. The last age means that old or older, which is no time at all. */
static bool has_group(const struct rp_rec_status *s, enum group group)
{
    bool now = age_min(s, group) == 0;
    if (age_min(s, group) >= AGE_LAST_MIN) {
        return false;
    }
    for (size_t i = 0; i < VALUE_COUNT; i++) {
        enum rp_measured state = value_of(s, i).state;
        if (values[i].group == group && (state == RP_MEASURED || (now && state == RP_UNABLE))) {
            return true;
        }
    }
    return false;
}

bool rp_status_has_own_set(const struct rp_rec_status *status)
{
    for (int g = 0; g < GROUPS; g++) {
        if (age_min(status, (enum group)g) == 0 && has_group(status, (enum group)g)) {
            return true;
        }
    }
    return false;
}

/* Net time at which the group was taken, as told: the age is rounded up, so never later. */
static uint32_t taken_s(const struct rp_status_entry *report, enum group group)
{
    uint32_t age_s = 60u * age_min(&report->what, group);
    return report->from.happened_s > age_s ? report->from.happened_s - age_s : 0;
}

/* How much too old an age may be told, in seconds: an age on air is the next step up, and the
 * widest step of the status report (120 to 360 min) hides two thirds of it. The smallest steps hide
 * 5 min. The values must be equal too, so this may be generous. */
static uint32_t slack_s(const struct rp_rec_status *s, enum group group)
{
    uint32_t age = age_min(s, group);
    uint32_t two_thirds = (2 * age + 2) / 3;
    return age == 0 ? 0 : 60u * (two_thirds > 5 ? two_thirds : 5);
}

/* Every measured value of the group in `a` is the same in `b`, taken in the same way. */
static bool same_values(const struct rp_rec_status *a, const struct rp_rec_status *b,
                        enum group group)
{
    if ((group == VITALS && a->mode != b->mode) ||
        (group == TEMP && a->temp_site != b->temp_site)) {
        return false;
    }
    for (size_t i = 0; i < VALUE_COUNT; i++) {
        struct rp_value va = value_of(a, i), vb = value_of(b, i);
        if (values[i].group == group && va.state == RP_MEASURED &&
            (vb.state != RP_MEASURED || va.value != vb.value)) {
            return false;
        }
    }
    return true;
}

/* Whether report `a`, which gives the group an age, repeats what report `b` gave. */
static bool repeats(const struct rp_status_entry *a, const struct rp_status_entry *b,
                    enum group group)
{
    if (a->from.station != b->from.station || !same_values(&a->what, &b->what, group)) {
        return false;
    }
    uint32_t a_s = taken_s(a, group), b_s = taken_s(b, group);
    /* The true times lie in [a_s, a_s + slack of a] and [b_s, b_s + slack of b]; they may be one
     * time when the two overlap. A minute more, for seconds that ages do not tell. */
    return a_s <= b_s + slack_s(&b->what, group) + 60 && b_s <= a_s + slack_s(&a->what, group) + 60;
}

/* Whether some other report already gives this repeated group: one that took it, or an earlier one
 * that repeats it too. A voided repeat does not stand in for one that is not. */
static bool known_already(const struct rp_episode *ep, size_t index, enum group group)
{
    const struct rp_status_entry *a = &ep->reports.at[index];
    for (size_t j = 0; j < ep->reports.count; j++) {
        const struct rp_status_entry *b = &ep->reports.at[j];
        bool took = age_min(&b->what, group) == 0;
        bool earlier = j < index && b->from.voided == a->from.voided;
        if (j != index && (took || earlier) && repeats(a, b, group)) {
            return true;
        }
    }
    return false;
}

static int taken_order(const void *a, const void *b)
{
    const struct rp_obs *x = a, *y = b;
    return rp_order(x->taken_s, x->from.ref, y->taken_s, y->from.ref);
}

/* Adds a set of those groups of the report. */
static void add_set(struct rp_episode *ep, const struct rp_status_entry *report,
                    const bool chosen[GROUPS], uint32_t at_s)
{
    struct rp_obs obs;
    memset(&obs, 0, sizeof obs);
    obs.from = report->from;
    obs.taken_s = at_s;
    bool mode_known =
        chosen[VITALS] || (report->what.vitals_age_min == 0 && at_s == report->from.happened_s);
    obs.mode = mode_known ? report->what.mode : RP_MODE_UNSAID;
    obs.temp_site = chosen[TEMP] ? report->what.temp_site : RP_SITE_UNSAID;
    for (size_t i = 0; i < VALUE_COUNT; i++) {
        if (chosen[values[i].group]) {
            memcpy((unsigned char *)&obs + values[i].obs_offset,
                   (const unsigned char *)&report->what + values[i].status_offset,
                   sizeof(struct rp_value));
        }
    }
    rp_table_insert(RP_TABLE_OF(ep->obs), taken_order, &obs);
}

/* Groups of one report that were taken at one time make one set. */
static void add_sets(struct rp_episode *ep, size_t index)
{
    const struct rp_status_entry *report = &ep->reports.at[index];
    /* Once reports have given way, what is older than those left was theirs. */
    uint32_t oldest_s = ep->reports.older_dropped > 0 ? ep->reports.at[0].from.happened_s : 0;
    bool open[GROUPS];
    for (int g = 0; g < GROUPS; g++) {
        enum group group = (enum group)g;
        open[g] = has_group(&report->what, group) &&
                  (age_min(&report->what, group) == 0 ||
                   (taken_s(report, group) >= oldest_s && !known_already(ep, index, group)));
    }
    for (int g = 0; g < GROUPS; g++) {
        if (!open[g]) {
            continue;
        }
        bool chosen[GROUPS] = {false};
        for (int h = g; h < GROUPS; h++) {
            chosen[h] = open[h] && age_min(&report->what, (enum group)h) ==
                                       age_min(&report->what, (enum group)g);
            open[h] = open[h] && !chosen[h];
        }
        add_set(ep, report, chosen, taken_s(report, (enum group)g));
    }
}

void rp_fold_observations(struct rp_episode *ep)
{
    memset(&ep->obs, 0, sizeof ep->obs);
    for (size_t i = 0; i < ep->reports.count; i++) {
        add_sets(ep, i);
    }
    ep->obs.older_dropped += ep->obs_dropped;
}
