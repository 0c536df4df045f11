/* Answers to an alarm: silence for a while, or acknowledgement by name. */
#include <string.h>

#include "clinical/quantity.h"
#include "control/entries.h"
#include "control/show/show.h"

/* What is answered: every standing alarm of one rule, or only of one drug. */
struct answering {
    const struct rp_watch_rule *rule;
    const char *about; /* how the reason begins; "": any */
};

static int no_such_alarm(struct rp_entry *entry, const char *word)
{
    return rp_problem_set(entry->problem, RP_E_NOT_FOUND, "alarms",
                          "alarms: \"%.24s\" does not stand now; ridgepost alarms lists those that "
                          "do (example: alarms ack 7-1 spo2-band \"finger warmed\")",
                          word);
}

/* How long: at most what the rule allows, and that when nothing is said. */
static int read_span(struct rp_entry *entry, const struct rp_watch_rule *rule, uint32_t *out_s)
{
    const char *word = rp_entry_peek(entry);
    int32_t span_s = rule->snooze_s_max;
    *out_s = rule->snooze_s_max;
    if (word == NULL) {
        return RP_OK;
    }
    entry->next++;
    int code = rp_quantity_parse(RP_DIM_DURATION, "snooze", word, &span_s, entry->problem);
    if (code == RP_OK && (span_s < 1 || span_s > rule->snooze_s_max)) {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "snooze",
                              "snooze: %s is at most %u s for \"%s\" (example: alarms snooze 7-1 "
                              "%s %us)",
                              word, rule->snooze_s_max, rule->word, rule->word, rule->snooze_s_max);
    }
    *out_s = (uint32_t)span_s;
    return code;
}

/* `drug dexamethasone`: only that drug's. */
static int read_what(struct rp_entry *entry, const struct rp_alarms *alarms,
                     struct answering *answering)
{
    const char *word;
    int code = rp_entry_need(entry, "alarms", "alarms snooze 7-1 spo2-band 5min", &word);
    if (code < 0) {
        return code;
    }
    for (size_t i = 0; i < alarms->count; i++) {
        if (strcmp(alarms->at[i].rule->word, word) == 0) {
            answering->rule = alarms->at[i].rule;
        }
    }
    if (answering->rule == NULL) {
        return no_such_alarm(entry, word);
    }
    const char *about = rp_entry_peek(entry);
    for (size_t i = 0; about != NULL && i < alarms->count; i++) {
        const struct rp_alarm *alarm = &alarms->at[i];
        size_t len = strlen(about);
        if (alarm->subject != 0 && alarm->rule == answering->rule &&
            strncmp(alarm->reason, about, len) == 0 && alarm->reason[len] == ':') {
            answering->about = about;
            entry->next++;
            break;
        }
    }
    return RP_OK;
}

static int commit_answers(struct rp_entry *entry, const struct rp_alarms *alarms,
                          const struct answering *answering, struct rp_record *record,
                          struct rp_entered *entered)
{
    int code = RP_OK;
    for (size_t i = 0; i < alarms->count && code == RP_OK; i++) {
        const struct rp_alarm *alarm = &alarms->at[i];
        bool meant = alarm->rule == answering->rule &&
                     strncmp(alarm->reason, answering->about, strlen(answering->about)) == 0;
        if (!meant || entered->count == RP_ENTERED_MAX) {
            continue;
        }
        record->as.alarm.rule = alarm->rule->number;
        record->as.alarm.subject = alarm->subject;
        record->as.alarm.has_about = true;
        record->as.alarm.about_s = alarm->since_s;
        code = rp_entry_commit(entry, record, entered);
    }
    return code;
}

static int read_answer(struct rp_entry *entry, const struct rp_watch_rule *rule, uint8_t action,
                       struct rp_record *record)
{
    struct rp_rec_alarm *answer = &record->as.alarm;
    uint32_t span_s = 0;
    int code = RP_OK;
    answer->action = action;
    if (action == RP_ALARM_SNOOZE) {
        code = read_span(entry, rule, &span_s);
        answer->has_until = true;
        answer->until_s = entry->now_s + span_s;
    } else if (!rule->ackable) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "alarms",
                              "alarms: \"%s\" ends when what it asks for is done; it can only be "
                              "snoozed (example: alarms snooze 7-1 %s)",
                              rule->word, rule->word);
    }
    const char *text = rp_entry_take(entry);
    if (code == RP_OK && text != NULL) {
        code = rp_entry_text(entry, "alarms", text, answer->text, RP_LINE_LEN);
    }
    if (code == RP_OK && rp_entry_peek(entry) != NULL) {
        code = rp_problem_set(entry->problem, RP_E_FORMAT, "alarms",
                              "alarms: \"%.24s\" is one word too many; put a text in quotes "
                              "(example: alarms ack 7-1 %s \"two words\")",
                              rp_entry_peek(entry), rule->word);
    }
    return code;
}

/* `alarms snooze 7-1 obs 5min`, `alarms ack 7-1 drug dexamethasone "stopped by Dr Lindqvist"` */
int rp_enter_alarm(struct rp_entry *entry, const struct rp_entry_common *common,
                   struct rp_entered *entered)
{
    struct rp_alarms alarms;
    struct answering answering = {NULL, ""};
    struct rp_episode_ref ref;
    const struct rp_episode *episode;
    uint8_t action = 0;
    int code = rp_entry_choose(entry, "alarms", rp_words_alarm, rp_entry_take(entry), &action);
    if (code == RP_OK) {
        code = rp_entry_episode(entry, &ref);
    }
    if (code == RP_OK && common->by[0] == '\0') {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "by",
                              "an alarm is answered by name (example: ridgepost --by \"Ines "
                              "Okafor\" alarms ack 7-1 spo2-band)");
    }
    if (code < 0) {
        return code;
    }
    code = rp_node_watch(entry->node, ref, entry->moment, &episode, &alarms);
    if (code < 0) {
        return rp_problem_set(entry->problem, code, "episode",
                              "the episode cannot be read from the database");
    }
    code = read_what(entry, &alarms, &answering);
    struct rp_record record = rp_entry_record(common, RP_REC_ALARM, ref);
    if (code == RP_OK) {
        code = read_answer(entry, answering.rule, action, &record);
    }
    return code < 0 ? code : commit_answers(entry, &alarms, &answering, &record, entered);
}

/* `stroke`, `stroke Jory`, `stroke 7-1 Jory`: told by a pedal, a script or a person at the pump. Of
 * the episode named, or of the only one that is open; the station records them in stretches. */
int rp_show_stroke(struct rp_show *show)
{
    struct rp_entry *entry = show->entry;
    struct rp_episode_ref ref = {0, 0};
    const char *first = rp_entry_peek(entry);
    char pumper[RP_NAME_LEN + 1] = "";
    int code = rp_entry_episode(entry, &ref);
    if (code < 0 && (first == NULL || rp_entry_peek(entry) == first)) {
        code = RP_OK; /* none was named and none is the only one: heard, not recorded */
        ref.number = 0;
    }
    const char *word = code == RP_OK ? rp_entry_take(entry) : NULL;
    if (word != NULL) {
        code = rp_entry_text(entry, "stroke", word, pumper, RP_NAME_LEN);
    }
    if (code == RP_OK) {
        rp_node_stroke(entry->node, ref, pumper, entry->moment);
        rp_text_add(show->text, "stroke heard%s%s%s\n", pumper[0] != '\0' ? " of " : "", pumper,
                    ref.number == 0 ? "; not recorded: name the episode (example: stroke 7-1 Jory)"
                                    : "");
    }
    return code;
}
