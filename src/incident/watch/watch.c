#include "incident/watch/watch.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "incident/watch/rules.h"

uint32_t rp_watch_span(uint32_t from_s, uint32_t to_s)
{
    return to_s > from_s ? to_s - from_s : 0;
}

const char *rp_watch_time(uint32_t time_s, char out_text[8])
{
    snprintf(out_text, 8, "%02u:%02uZ", (unsigned)(time_s / 3600 % 24),
             (unsigned)(time_s / 60 % 60));
    return out_text;
}

uint32_t rp_watch_eta_s(const struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    return ep->eta_answer >= 0 ? ep->answers.at[ep->eta_answer].what.eta_s : 0;
}

const struct rp_obs *rp_watch_obs(const struct rp_watch *watch, size_t offset)
{
    return rp_episode_last_obs(watch->ep, offset, -1);
}

const struct rp_status_entry *rp_watch_condition(const struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    for (size_t i = ep->reports.count; i-- > 0;) {
        const struct rp_status_entry *report = &ep->reports.at[i];
        if (!report->from.voided && report->what.condition != RP_COND_UNSAID) {
            return report;
        }
    }
    return NULL;
}

bool rp_watch_unstable(const struct rp_watch *watch)
{
    const struct rp_status_entry *report = rp_watch_condition(watch);
    const struct rp_obs *level = rp_watch_obs(watch, offsetof(struct rp_obs, acvpu));
    return report == NULL || report->what.condition >= RP_COND_WORSE ||
           (watch->ep->opening.label & (RP_LABEL_HACE | RP_LABEL_HAPE)) != 0 ||
           (level != NULL && level->acvpu.value != RP_ACVPU_ALERT);
}

/* The newest snooze or acknowledgement of this alarm that still holds. */
static void apply_answers(const struct rp_watch *watch, struct rp_alarm *alarm)
{
    const struct rp_episode *ep = watch->ep;
    for (size_t i = 0; i < ep->alarms.count; i++) {
        const struct rp_alarm_entry *entry = &ep->alarms.at[i];
        const struct rp_rec_alarm *what = &entry->what;
        if (entry->from.voided || what->rule != alarm->rule->number ||
            what->subject != alarm->subject || !what->has_about ||
            what->about_s != alarm->since_s) {
            continue;
        }
        if (what->action == RP_ALARM_ACK && alarm->rule->ackable) {
            alarm->acknowledged = true;
            alarm->answer = entry;
        }
        /* Whoever wrote it, no silence is longer than the rule allows. */
        uint32_t longest_s = entry->from.recorded_s + alarm->rule->snooze_s_max;
        uint32_t until_s = what->until_s < longest_s ? what->until_s : longest_s;
        if (what->action == RP_ALARM_SNOOZE && what->has_until && watch->now_s < until_s &&
            entry->from.recorded_s <= watch->now_s) {
            alarm->snoozed = true;
            alarm->until_s = until_s;
            alarm->answer = alarm->acknowledged ? alarm->answer : entry;
        }
    }
}

void rp_watch_raise(struct rp_watch *watch, enum rp_sound sound, uint8_t subject, uint32_t since_s,
                    uint32_t value_s, const char *format, ...)
{
    struct rp_alarms *out = watch->out;
    assert(out->count < RP_ALARMS_MAX); /* see the bound beside the table */
    struct rp_alarm *alarm = &out->at[out->count++];
    memset(alarm, 0, sizeof *alarm);
    alarm->rule = watch->rule;
    alarm->subject = subject;
    alarm->sound = sound;
    alarm->since_s = since_s;
    alarm->value_s = value_s;
    va_list args;
    va_start(args, format);
    vsnprintf(alarm->reason, sizeof alarm->reason, format, args);
    va_end(args);
    apply_answers(watch, alarm);
}

static bool goes_before(const struct rp_alarm *a, const struct rp_alarm *b)
{
    if (rp_alarm_sounds(a) != rp_alarm_sounds(b)) {
        return rp_alarm_sounds(a);
    }
    if (a->sound != b->sound) {
        return a->sound > b->sound;
    }
    return a->rule->clinical && !b->rule->clinical;
}

/* Stable: else the order of the table. */
static void sort(struct rp_alarms *alarms)
{
    for (size_t i = 1; i < alarms->count; i++) {
        struct rp_alarm moving = alarms->at[i];
        size_t to = i;
        for (; to > 0 && goes_before(&moving, &alarms->at[to - 1]); to--) {
            alarms->at[to] = alarms->at[to - 1];
        }
        alarms->at[to] = moving;
    }
}

static void begin(const struct rp_watch_input *input, struct rp_alarms *out_alarms,
                  struct rp_watch *out_watch)
{
    const struct rp_episode *ep = input->episode;
    *out_watch = (struct rp_watch){
        .in = input,
        .ep = ep,
        .plan = input->plan != NULL ? input->plan : &rp_watch_plan_default,
        .now_s = input->now_s,
        .out = out_alarms,
    };
    const struct rp_status_entry *report = rp_watch_condition(out_watch);
    out_watch->over = ep->closed || ep->evac_state == RP_EVAC_HANDED_OVER ||
                      (report != NULL && report->what.condition == RP_COND_DEAD);
    rp_course_of(ep, out_watch->plan, input->now_s, &out_watch->course);
    rp_oxygen_left_of(ep, input->now_s, &out_watch->oxygen);
}

void rp_watch_evaluate(const struct rp_watch_input *input, struct rp_alarms *out_alarms)
{
    struct rp_watch watch;
    begin(input, out_alarms, &watch);
    out_alarms->count = 0;
    for (size_t i = 0; i < rp_watch_rule_count; i++) {
        watch.rule = &rp_watch_rules[i];
        bool meant = watch.rule->clinical || !input->patient_only;
        if (meant && (watch.rule->place & input->places) != 0) {
            watch.rule->check(&watch);
        }
    }
    sort(out_alarms);
}

uint32_t rp_watch_obs_due(const struct rp_watch_input *input)
{
    struct rp_watch watch;
    uint32_t last_s = 0;
    begin(input, NULL, &watch);
    uint32_t every_s = rp_watch_obs_every(&watch, &last_s);
    return every_s > 0 ? last_s + every_s : 0;
}
