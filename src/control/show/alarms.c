/* Alarms that stand, and the table of rules behind them. */
#include <string.h>

#include "control/show/show.h"

struct standing {
    struct rp_show *show;
    json_t *rows;
    struct rp_episode_ref only; /* number 0: every episode */
    size_t count, sounding;
};

static uint32_t age_s(const struct rp_show *show, uint32_t time_s)
{
    return show->entry->now_s > time_s ? show->entry->now_s - time_s : 0;
}

static void add_answer(struct rp_show *show, const struct rp_alarm *alarm)
{
    char time[24];
    const char *by = alarm->answer != NULL ? alarm->answer->from.by : "";
    if (alarm->acknowledged) {
        rp_text_add(show->text, "       acknowledged by %s %s%s%s\n", by,
                    rp_show_time(show->entry->now_s, alarm->answer->from.recorded_s, time),
                    alarm->answer->what.text[0] != '\0' ? ": " : "", alarm->answer->what.text);
    } else if (alarm->snoozed) {
        rp_text_add(show->text, "       silent until %s by %s\n",
                    rp_show_time(show->entry->now_s, alarm->until_s, time), by);
    }
}

/* The drug of an alarm about one drug, as `alarms ack` takes it; "" for any other. */
static const char *about_of(const struct rp_alarm *alarm, char *buf, size_t cap)
{
    size_t len = alarm->subject != 0 ? strcspn(alarm->reason, ":") : 0;
    len = len < cap ? len : cap - 1;
    memcpy(buf, alarm->reason, len);
    buf[len] = '\0';
    return buf;
}

json_t *rp_show_alarm_data(const struct rp_alarm *alarm, const char *episode)
{
    char about[RP_LINE_LEN + 1];
    const struct rp_watch_rule *rule = alarm->rule;
    const char *by = alarm->answer != NULL ? alarm->answer->from.by : "";
    json_t *json = json_pack(
        "{s:s,s:s,s:i,s:i,s:s,s:b,s:b,s:b,s:s,s:I,s:I,s:I,s:s,s:s,s:s}", "episode", episode, "rule",
        rule->word, "number", rule->number, "subject", alarm->subject, "sound",
        rp_sound_word(alarm->sound), "sounds", rp_alarm_sounds(alarm), "snoozed", alarm->snoozed,
        "acknowledged", alarm->acknowledged, "by", by, "since_s", (json_int_t)alarm->since_s,
        "value_s", (json_int_t)alarm->value_s, "until_s", (json_int_t)alarm->until_s, "reason",
        alarm->reason, "next", rule->next, "source", rule->source);
    json_object_set_new(json, "about", json_string(about_of(alarm, about, sizeof about)));
    json_object_set_new(json, "snooze_s_max", json_integer(rule->snooze_s_max));
    json_object_set_new(json, "ackable", json_boolean(rule->ackable));
    return json;
}

static void add_alarm(struct standing *standing, const struct rp_alarm *alarm, const char *episode)
{
    struct rp_show *show = standing->show;
    static const char *const shown[] = {"soft", "LOUD", "FAST"};
    char span[24], since[24];
    rp_text_add(show->text, "  %s %s: %s", rp_alarm_sounds(alarm) ? shown[alarm->sound] : "  --",
                alarm->rule->word, alarm->reason);
    if (alarm->value_s != 0) {
        rp_text_add(show->text, " (%s old)", rp_show_span(age_s(show, alarm->value_s), span));
    }
    rp_text_add(show->text, ", since %s\n       next: %s\n",
                rp_show_time(show->entry->now_s, alarm->since_s, since), alarm->rule->next);
    add_answer(show, alarm);
    json_array_append_new(standing->rows, rp_show_alarm_data(alarm, episode));
    standing->count++;
    standing->sounding += rp_alarm_sounds(alarm);
}

static int add_episode(void *arg, struct rp_episode_ref ref)
{
    struct standing *standing = arg;
    struct rp_show *show = standing->show;
    const struct rp_episode *episode;
    struct rp_alarms alarms;
    char name[24];
    bool meant = standing->only.number == 0 ||
                 (standing->only.number == ref.number && standing->only.origin == ref.origin);
    if (!meant || rp_node_watch_places(show->entry->node, ref) == 0) {
        return 0;
    }
    int code = rp_node_watch(show->entry->node, ref, show->entry->moment, &episode, &alarms);
    if (code < 0 || alarms.count == 0) {
        return code;
    }
    rp_show_episode_name(show->entry->node, ref, name);
    rp_text_add(show->text, "\n%s%s %s\n", episode->exercise ? "EXERCISE " : "", name,
                episode->opened ? episode->opening.patient : "opening not received");
    for (size_t i = 0; i < alarms.count; i++) {
        add_alarm(standing, &alarms.at[i], name);
    }
    return 0;
}

void rp_show_sounding(struct rp_show *show, struct rp_episode_ref ref, json_t *data)
{
    const struct rp_episode *episode;
    struct rp_alarms alarms;
    char name[24];
    size_t sounding = 0;
    if (rp_node_watch_places(show->entry->node, ref) != 0 &&
        rp_node_watch(show->entry->node, ref, show->entry->moment, &episode, &alarms) == RP_OK) {
        while (sounding < alarms.count && rp_alarm_sounds(&alarms.at[sounding])) {
            sounding++; /* those that sound come first */
        }
    }
    if (sounding > 0) {
        rp_text_add(show->text, "  !! %zu alarm%s: %s: %s; see alarms %s\n", sounding,
                    sounding == 1 ? "" : "s", alarms.at[0].rule->word, alarms.at[0].reason,
                    rp_show_episode_name(show->entry->node, ref, name));
    }
    json_object_set_new(data, "sounding", json_integer((json_int_t)sounding));
}

static void show_rules(struct rp_show *show)
{
    json_t *rows = json_array();
    for (size_t i = 0; i < rp_watch_rule_count; i++) {
        const struct rp_watch_rule *rule = &rp_watch_rules[i];
        const char *place = rule->place == RP_WATCH_BASE ? "base" : "camp";
        rp_text_add(show->text, "%-16s %s  %s\n     next: %s\n     silence: %u s%s; source: %s\n",
                    rule->word, place, rule->trigger, rule->next, rule->snooze_s_max,
                    rule->ackable ? ", may be acknowledged" : "", rule->source);
        json_array_append_new(
            rows, json_pack("{s:s,s:s,s:i,s:s,s:s,s:i,s:b,s:b,s:s}", "rule", rule->word, "place",
                            place, "number", rule->number, "trigger", rule->trigger, "next",
                            rule->next, "snooze_s_max", rule->snooze_s_max, "ackable",
                            rule->ackable, "clinical", rule->clinical, "source", rule->source));
    }
    rp_text_add(show->text,
                "\n(ours): our own judgement, published nowhere; the expedition's doctor "
                "decides. Not a medical device.\n");
    json_object_set_new(show->data, "rules", rows);
}

/* `alarms`, `alarms 7-1`, `alarms rules` */
int rp_show_alarms(struct rp_show *show)
{
    struct rp_entry *entry = show->entry;
    struct standing standing = {.show = show, .rows = json_array()};
    const char *word = rp_entry_peek(entry);
    char time[24];
    json_object_set_new(show->data, "alarms", standing.rows);
    if (word != NULL && strcmp(word, "rules") == 0) {
        show_rules(show);
        return RP_OK;
    }
    int code = word != NULL ? rp_entry_episode(entry, &standing.only) : RP_OK;
    if (code == RP_OK && word != NULL && rp_entry_peek(entry) == word) {
        code = rp_problem_set(entry->problem, RP_E_FORMAT, "alarms",
                              "alarms: \"%.24s\" is none of snooze, ack, rules or an episode "
                              "(example: alarms snooze 7-1 obs 5min)",
                              word);
    }
    if (code < 0) {
        return code;
    }
    const struct rp_node_config *config = rp_node_config(entry->node);
    rp_text_add(show->text, "%sALARMS %s  %s (station %u)\n", config->exercise ? "EXERCISE  " : "",
                rp_show_time(entry->now_s, entry->now_s, time), config->name, config->station);
    code = rp_node_each_episode(entry->node, add_episode, &standing);
    rp_text_add(show->text, "%s%zu alarm%s, %zu sounding\n", standing.count > 0 ? "\n" : "",
                standing.count, standing.count == 1 ? "" : "s", standing.sounding);
    json_object_set_new(show->data, "sounding", json_integer((json_int_t)standing.sounding));
    return code;
}
