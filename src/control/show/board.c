/* The board: every episode, those that need a person first. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "control/show/show.h"
#include "incident/assess/assess.h"

#define BOARD_MAX 32

/* What the board sorts by: unanswered requests, then open ones by the age of the camp's last word.
 */
struct place {
    struct rp_episode_ref ref;
    bool unanswered, closed;
    uint32_t word_s;
};

struct places {
    struct rp_show *show;
    size_t count, left_out;
    struct place at[BOARD_MAX];
};

static const struct rp_request_entry *request_now(const struct rp_episode *episode)
{
    return episode->request_now >= 0 ? &episode->requests.at[episode->request_now] : NULL;
}

static bool is_unanswered(const struct rp_episode *episode)
{
    return request_now(episode) != NULL && episode->evac_state == RP_EVAC_ASKED;
}

static int note_place(void *arg, struct rp_episode_ref ref)
{
    struct places *places = arg;
    const struct rp_episode *episode;
    if (places->count == BOARD_MAX) {
        places->left_out++;
        return 0;
    }
    int code = rp_entry_fold(places->show->entry, ref, &episode);
    if (code == RP_OK) {
        places->at[places->count++] = (struct place){ref, is_unanswered(episode), episode->closed,
                                                     rp_episode_word_s(episode)};
    }
    return code;
}

static int compare_places(const void *a, const void *b)
{
    const struct place *left = a, *right = b;
    if (left->unanswered != right->unanswered) {
        return left->unanswered ? -1 : 1;
    }
    if (left->closed != right->closed) {
        return left->closed ? 1 : -1;
    }
    return left->word_s < right->word_s ? -1 : left->word_s > right->word_s;
}

#define LAST(field) rp_episode_last_obs(episode, offsetof(struct rp_obs, field), -1)

static uint32_t age_of(const struct rp_show *show, uint32_t time_s)
{
    return show->entry->now_s > time_s ? show->entry->now_s - time_s : 0;
}

/* One sign of the board: the newest set that holds it, and how it reads. */
struct sign {
    const char *key;
    const struct rp_obs *obs; /* NULL: never measured */
    struct rp_value value;
    char text[40];
};

static void add_sign_data(const struct rp_show *show, const struct sign *sign, json_t *data)
{
    if (sign->obs == NULL || sign->value.state != RP_MEASURED) {
        json_object_set_new(data, sign->key, json_null());
        return;
    }
    json_object_set_new(data, sign->key,
                        json_pack("{s:i,s:i,s:s}", "value", sign->value.value, "age_s",
                                  (int)age_of(show, sign->obs->taken_s), "mode",
                                  rp_mode_word(sign->obs->mode)));
}

static bool has_obs(const struct rp_episode *episode)
{
    bool has = false;
    for (size_t i = 0; i < episode->obs.count; i++) {
        has = has || !episode->obs.at[i].from.voided;
    }
    return has;
}

/* "SpO2 84 %, pulse 104 (in chamber, 18 min old); resp 28 (on air, 1 h 02 min old)": what was not
 * taken together is never shown as one set. */
static void show_signs(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    const struct rp_obs *spo2 = LAST(spo2_pct), *pulse = LAST(pulse_bpm), *resp = LAST(resp_rpm),
                        *level = LAST(acvpu), *airway = LAST(airway);
    struct sign signs[] = {
        {"acvpu", level, level ? level->acvpu : (struct rp_value){0}, ""},
        {"airway", airway, airway ? airway->airway : (struct rp_value){0}, ""},
        {"spo2_pct", spo2, spo2 ? spo2->spo2_pct : (struct rp_value){0}, ""},
        {"pulse_bpm", pulse, pulse ? pulse->pulse_bpm : (struct rp_value){0}, ""},
        {"resp_rpm", resp, resp ? resp->resp_rpm : (struct rp_value){0}, ""},
    };
    const size_t count = sizeof signs / sizeof signs[0];
    snprintf(signs[0].text, sizeof signs[0].text, "%s", rp_acvpu_word(signs[0].value.value));
    snprintf(signs[1].text, sizeof signs[1].text, "airway %s",
             rp_airway_word(signs[1].value.value));
    snprintf(signs[2].text, sizeof signs[2].text, "SpO2 %d %%", signs[2].value.value);
    snprintf(signs[3].text, sizeof signs[3].text, "pulse %d", signs[3].value.value);
    snprintf(signs[4].text, sizeof signs[4].text, "resp %d", signs[4].value.value);
    const struct rp_obs *shown = NULL;
    char span[24];
    rp_text_add(show->text, "     ");
    for (size_t i = 0; i < count; i++) {
        add_sign_data(show, &signs[i], data);
        if (signs[i].obs == NULL || signs[i].value.state != RP_MEASURED) {
            continue;
        }
        bool together = shown != NULL && shown->taken_s == signs[i].obs->taken_s &&
                        shown->mode == signs[i].obs->mode;
        if (shown != NULL && !together) {
            rp_text_add(show->text, " (%s, %s old); ", rp_mode_word(shown->mode),
                        rp_show_span(age_of(show, shown->taken_s), span));
        }
        rp_text_add(show->text, "%s%s", together ? ", " : "", signs[i].text);
        shown = signs[i].obs;
    }
    if (shown != NULL) {
        rp_text_add(show->text, " (%s, %s old)", rp_mode_word(shown->mode),
                    rp_show_span(age_of(show, shown->taken_s), span));
    }
    rp_text_add(show->text, "%s\n",
                shown != NULL      ? (level == NULL ? "; conscious level not recorded" : "")
                : has_obs(episode) ? "SpO2, pulse, resp, conscious level and airway not recorded"
                                   : "no observations");
    json_object_set_new(data, "conscious",
                        level != NULL && level->acvpu.state == RP_MEASURED
                            ? json_string(rp_acvpu_word(level->acvpu.value))
                            : json_null());
}

static void show_now(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    char span[24];
    if (episode->sessions.count > 0) {
        const struct rp_session *session = &episode->sessions.at[episode->sessions.count - 1];
        rp_text_add(show->text, "     chamber session %u: %s, %s at pressure\n", session->number,
                    rp_phase_word(session->phase),
                    rp_show_span(session->at_pressure_total_s, span));
        json_object_set_new(data, "chamber",
                            json_pack("{s:i,s:s,s:i}", "session", session->number, "phase",
                                      rp_phase_word(session->phase), "at_pressure_s",
                                      (int)session->at_pressure_total_s));
    }
}

static void show_evacuation(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    char time[24], span[24];
    const struct rp_request_entry *request = request_now(episode);
    json_object_set_new(data, "evacuation", json_string(rp_evac_word(episode->evac_state)));
    if (request == NULL) {
        return;
    }
    uint32_t asked_s = request->from.recorded_s, now_s = show->entry->now_s;
    rp_text_add(show->text, "  >> EVACUATION %s %s, asked %s (%s ago)%s\n",
                rp_word_of(rp_words_urgency, request->what.urgency),
                rp_evac_word(episode->evac_state), rp_show_time(now_s, asked_s, time),
                rp_show_span(now_s > asked_s ? now_s - asked_s : 0, span),
                is_unanswered(episode) ? " - NOBODY HAS ANSWERED" : "");
    if (request->level_withdrawn) {
        rp_text_add(show->text, "     THE CONSCIOUS LEVEL IN THE REQUEST WAS WITHDRAWN: its report "
                                "was corrected\n");
    }
    json_object_set_new(data, "level_withdrawn", json_boolean(request->level_withdrawn));
    if (episode->eta_answer >= 0) {
        const struct rp_answer_entry *eta = &episode->answers.at[episode->eta_answer];
        rp_text_add(show->text, "     expected %s %s%s\n",
                    rp_show_time(now_s, eta->what.eta_s, time), eta->what.whom,
                    eta->read_back ? ", read back" : ", NOT READ BACK");
        json_object_set_new(data, "eta_s", json_integer(eta->what.eta_s));
    }
    json_object_set_new(data, "unanswered", json_boolean(is_unanswered(episode)));
}

/* Both ends show who has the patient, and what came after. */
static void show_handed(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    const struct rp_handover_entry *handed = rp_episode_handed(episode);
    uint32_t late = rp_episode_late_count(episode);
    char time[24];
    if (handed == NULL) {
        return;
    }
    rp_text_add(show->text, "  >> HANDED OVER %s to %s, taken by %s",
                rp_show_time(show->entry->now_s, handed->from.happened_s, time), handed->what.team,
                handed->what.taken_by);
    if (handed->what.has_sheet) {
        rp_text_add(show->text, ", sheet %u check %s", handed->what.sheet,
                    handed->what.sheet_check[0] != '\0' ? handed->what.sheet_check : "not said");
    }
    rp_text_add(show->text, "\n");
    if (late > 0) {
        rp_text_add(show->text, "     LATE: %u %s from after the handover\n", late,
                    late == 1 ? "record" : "records");
    }
    json_object_set_new(data, "handed_over",
                        json_pack("{s:s,s:s,s:I,s:I}", "team", handed->what.team, "taken_by",
                                  handed->what.taken_by, "at_s",
                                  (json_int_t)handed->from.happened_s, "late", (json_int_t)late));
}

/* What the camp promised; nobody need guess whether its silence means anything. */
static void show_next_report(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    uint32_t due_s = rp_episode_next_report_s(episode), now_s = show->entry->now_s;
    char time[24], span[24];
    if (due_s == 0) {
        return;
    }
    rp_text_add(show->text, "     next report due by %s", rp_show_time(now_s, due_s, time));
    if (now_s > due_s) {
        rp_text_add(show->text, ": OVERDUE by %s", rp_show_span(now_s - due_s, span));
    }
    rp_text_add(show->text, "\n");
    json_object_set_new(data, "next_report_s", json_integer(due_s));
}

/* The word may be younger than the condition: each has its own age. */
static void show_word(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    char time[24], span[24];
    uint32_t word_s = rp_episode_word_s(episode);
    if (word_s == 0) {
        rp_text_add(show->text, "     no word from the camp yet");
    } else {
        rp_text_add(show->text, "     last word from the camp %s ago (%s)",
                    rp_show_span(age_of(show, word_s), span),
                    rp_show_time(show->entry->now_s, word_s, time));
        json_object_set_new(data, "word_s", json_integer(word_s));
    }
    if (episode->has_status && episode->status.condition != RP_COND_UNSAID) {
        rp_text_add(show->text, "; condition: %s (%s old)",
                    rp_condition_word(episode->status.condition),
                    rp_show_span(age_of(show, episode->status_from.happened_s), span));
    }
    rp_text_add(show->text, "\n");
}

static void show_place(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    char name[24], label[120];
    rp_show_episode_name(show->entry->node, episode->ref, name);
    rp_text_add(show->text, "%s%-6s %s, %s%s\n", episode->exercise ? "EXERCISE " : "", name,
                episode->opened ? episode->opening.patient : "opening not received",
                rp_show_label(episode, label, sizeof label), episode->closed ? " - CLOSED" : "");
    json_object_set_new(data, "episode", json_string(name));
    json_object_set_new(data, "patient", json_string(episode->opening.patient));
    json_object_set_new(data, "label", json_string(label));
    json_object_set_new(data, "exercise", json_boolean(episode->exercise));
    json_object_set_new(data, "closed", json_boolean(episode->closed));
    json_object_set_new(data, "records", json_integer(episode->records));
    show_evacuation(show, episode, data);
    show_handed(show, episode, data);
    rp_show_sounding(show, episode->ref, data);
    show_word(show, episode, data);
    show_next_report(show, episode, data);
    show_signs(show, episode, data);
    show_now(show, episode, data);
    if (episode->background.allergies.state == RP_NOT_ASKED) {
        rp_text_add(show->text, "     missing: allergies not asked\n");
    }
}

/* On the board alone: the episode itself lists them. */
static void show_conflicts(struct rp_show *show, const struct rp_episode *episode)
{
    char name[24];
    struct rp_contradiction found[RP_CONTRA_COUNT];
    size_t conflicts = rp_episode_contradictions(episode, show->entry->now_s, found);
    if (conflicts > 0) {
        rp_text_add(show->text, "     %zu CONFLICT%s in the records: see episode %s\n", conflicts,
                    conflicts == 1 ? "" : "S",
                    rp_show_episode_name(show->entry->node, episode->ref, name));
    }
}

int rp_show_board(struct rp_show *show)
{
    struct rp_entry *entry = show->entry;
    struct places places = {.show = show};
    char time[24];
    int code = rp_node_each_episode(entry->node, note_place, &places);
    qsort(places.at, places.count, sizeof places.at[0], compare_places);
    const struct rp_node_config *config = rp_node_config(entry->node);
    rp_text_add(show->text, "%sBOARD %s  %s (station %u)  %zu episode%s\n",
                config->exercise ? "EXERCISE  " : "",
                rp_show_time(entry->now_s, entry->now_s, time), config->name, config->station,
                places.count, places.count == 1 ? "" : "s");
    json_t *rows = json_array();
    json_object_set_new(show->data, "now_s", json_integer(entry->now_s));
    json_object_set_new(show->data, "episodes", rows);
    for (size_t i = 0; i < places.count && code == RP_OK; i++) {
        const struct rp_episode *episode;
        code = rp_entry_fold(entry, places.at[i].ref, &episode);
        if (code == RP_OK) {
            json_t *row = json_object();
            rp_text_add(show->text, "\n");
            show_place(show, episode, row);
            show_conflicts(show, episode);
            json_array_append_new(rows, row);
        }
    }
    if (places.left_out > 0) {
        rp_text_add(show->text, "\n%zu more episodes are not shown\n", places.left_out);
    }
    return code;
}

static void show_answers(struct rp_show *show, const struct rp_episode *episode, json_t *rows)
{
    char time[24], eta[24], name[24];
    for (uint16_t i = 0; i < episode->answers.count; i++) {
        const struct rp_answer_entry *answer = &episode->answers.at[i];
        const char *when =
            answer->what.has_eta ? rp_show_time(show->entry->now_s, answer->what.eta_s, eta) : "";
        bool needs = answer->what.kind != RP_ANS_SEEN && !answer->read_back;
        rp_text_add(show->text, "     %s %s%s%s%s%s%s%s (%s)%s\n",
                    rp_show_time(show->entry->now_s, answer->from.recorded_s, time),
                    rp_answer_word(answer->what.kind), *when ? " " : "", when,
                    answer->what.whom[0] ? ", " : "", answer->what.whom,
                    answer->what.text[0] ? ": " : "", answer->what.text, answer->from.by,
                    needs ? "  [read it back]" : "");
        json_array_append_new(rows,
                              json_pack("{s:s,s:s,s:s,s:s,s:i,s:s,s:b}", "record",
                                        rp_show_record_name(answer->from.ref, name), "kind",
                                        rp_answer_word(answer->what.kind), "by", answer->from.by,
                                        "whom", answer->what.whom, "eta_s",
                                        (int)(answer->what.has_eta ? answer->what.eta_s : 0),
                                        "text", answer->what.text, "read_back", answer->read_back));
    }
}

int rp_show_episode(struct rp_show *show)
{
    struct rp_episode_ref ref;
    const struct rp_episode *episode;
    int code = rp_entry_folded(show->entry, &ref, &episode);
    if (code < 0) {
        return code;
    }
    show_place(show, episode, show->data);
    rp_show_assessment(show, episode);
    rp_show_course(show, episode, show->data);
    json_t *rows = json_array();
    show_answers(show, episode, rows);
    json_object_set_new(show->data, "answers", rows);
    return RP_OK;
}
