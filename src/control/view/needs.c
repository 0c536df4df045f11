/* What asks for a person, and in which order: unanswered requests, alarms that sound, silence,
 * deterioration, then the age of the news; closed episodes last. */
#include <string.h>

#include "control/view/view.h"

int rp_view_watch(struct rp_show *show, struct rp_episode_ref ref,
                  const struct rp_episode **out_episode, struct rp_alarms *out_alarms)
{
    struct rp_entry *entry = show->entry;
    if (rp_node_watch_places(entry->node, ref) == 0) {
        out_alarms->count = 0;
        return rp_entry_fold(entry, ref, out_episode);
    }
    int code = rp_node_watch(entry->node, ref, entry->moment, out_episode, out_alarms);
    return code < 0 ? rp_problem_set(entry->problem, code, "episode",
                                     "the episode cannot be read from the database")
                    : RP_OK;
}

/* --- the place in the list --- */

enum need {
    NEED_ANSWER,  /* asked for evacuation, and nobody has answered */
    NEED_ALARM,   /* an alarm sounds */
    NEED_WORD,    /* silence: a report is late, and somebody knows */
    NEED_LOOK,    /* deterioration: worse by what was last told, and somebody knows */
    NEED_NOTHING, /* open */
    NEED_CLOSED
};
static const char *const need_words[] = {"answer", "alarm", "word", "look", "", "closed"};

static bool stands(const struct rp_alarms *alarms, const char *const *rules)
{
    for (size_t i = 0; i < alarms->count; i++) {
        for (size_t k = 0; rules[k] != NULL; k++) {
            if (strcmp(alarms->at[i].rule->word, rules[k]) == 0) {
                return true;
            }
        }
    }
    return false;
}

static bool is_worse(const struct rp_episode *episode, const struct rp_alarms *alarms)
{
    static const char *const rules[] = {
        "conscious", "spo2-band", "spo2-fall",      "resp",           "pulse",          "critical",
        "score-up",  "news2-up",  "spo2-fall-base", "conscious-base", "spo2-band-base", NULL};
    return stands(alarms, rules) ||
           (episode->has_status && (episode->status.condition == RP_COND_WORSE ||
                                    episode->status.condition == RP_COND_CRITICAL));
}

static enum need need_of(const struct rp_episode *episode, const struct rp_alarms *alarms)
{
    static const char *const silence[] = {"report", NULL};
    if (episode->request_now >= 0 && episode->evac_state == RP_EVAC_ASKED) {
        return NEED_ANSWER;
    }
    if (alarms->count > 0 && rp_alarm_sounds(&alarms->at[0])) {
        return NEED_ALARM; /* sounding ones come first */
    }
    if (episode->closed) {
        return NEED_CLOSED;
    }
    if (stands(alarms, silence)) {
        return NEED_WORD;
    }
    return is_worse(episode, alarms) ? NEED_LOOK : NEED_NOTHING;
}

/* Among those of one need: the more urgent request, the more pressing sound. */
static int degree_of(const struct rp_episode *episode, const struct rp_alarms *alarms,
                     enum need need)
{
    if (need == NEED_ANSWER) {
        return episode->requests.at[episode->request_now].what.urgency;
    }
    return need == NEED_ALARM ? RP_SOUND_FAST - (int)alarms->at[0].sound : 0;
}

#define DEGREES 10 /* more than there are urgencies or sounds */

bool rp_view_needs_before(const json_t *a, const json_t *b)
{
    json_int_t a_rank = json_integer_value(json_object_get(a, "rank"));
    json_int_t b_rank = json_integer_value(json_object_get(b, "rank"));
    return a_rank != b_rank ? a_rank < b_rank
                            : json_integer_value(json_object_get(a, "word_s")) <
                                  json_integer_value(json_object_get(b, "word_s"));
}

void rp_view_needs(struct rp_show *show, const struct rp_episode *episode,
                   const struct rp_alarms *alarms, json_t *row)
{
    char name[24], unused[2048]; /* the words of the clock are shown by "episode" */
    struct rp_text text = rp_text_on(unused, sizeof unused);
    struct rp_show clock = {show->entry, &text, row, show->pages};
    enum need need = need_of(episode, alarms);
    json_t *rows = json_array();
    rp_show_episode_name(show->entry->node, episode->ref, name);
    for (size_t i = 0; i < alarms->count; i++) {
        json_array_append_new(rows, rp_show_alarm_data(&alarms->at[i], name));
    }
    json_object_set_new(row, "need", json_string(need_words[need]));
    json_object_set_new(row, "rank",
                        json_integer((int)need * DEGREES + degree_of(episode, alarms, need)));
    json_object_set_new(row, "alarms", rows);
    rp_show_course(&clock, episode, row);
    uint32_t word_s = rp_episode_word_s(episode);
    if (word_s != 0) {
        json_object_set_new(row, "word_s", json_integer(word_s));
    }
    uint32_t due_s = rp_watch_obs_due(&(struct rp_watch_input){
        .episode = episode,
        .now_s = show->entry->now_s,
        .plan = rp_node_config(show->entry->node)->plan,
    });
    if (due_s != 0) {
        json_object_set_new(row, "obs_due_s", json_integer(due_s));
    }
    uint32_t report_s = rp_episode_next_report_s(episode);
    if (report_s != 0) {
        json_object_set_new(row, "next_report_s", json_integer(report_s));
    }
}
