/* The head of an episode: who, how, since when, what is asked. */
#include "control/view/view.h"

static const struct {
    const char *key;
    size_t at; /* in struct rp_obs */
} signs[] = {
    {"spo2_pct", offsetof(struct rp_obs, spo2_pct)},
    {"pulse_bpm", offsetof(struct rp_obs, pulse_bpm)},
    {"resp_rpm", offsetof(struct rp_obs, resp_rpm)},
    {"acvpu", offsetof(struct rp_obs, acvpu)},
    {"airway", offsetof(struct rp_obs, airway)},
    {"pain", offsetof(struct rp_obs, pain)},
    {"systolic_mmhg", offsetof(struct rp_obs, systolic_mmhg)},
    {"diastolic_mmhg", offsetof(struct rp_obs, diastolic_mmhg)},
    {"temp_dc", offsetof(struct rp_obs, temp_dc)},
    {"lls", offsetof(struct rp_obs, lls)},
    {"ataxia", offsetof(struct rp_obs, ataxia)},
};

/* The newest value of each sign, each with its own time and mode. */
static json_t *newest_signs(const struct rp_episode *episode)
{
    json_t *all = json_object();
    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++) {
        const struct rp_obs *obs = rp_episode_last_obs(episode, signs[i].at, -1);
        if (obs == NULL) {
            continue;
        }
        const struct rp_value *value =
            (const struct rp_value *)(const void *)((const char *)obs + signs[i].at);
        json_t *json = json_pack("{s:i,s:i,s:s}", "value", value->value, "taken_s",
                                 (int)obs->taken_s, "mode", rp_mode_word(obs->mode));
        if (signs[i].at == offsetof(struct rp_obs, acvpu)) {
            json_object_set_new(json, "word", json_string(rp_acvpu_word(value->value)));
        }
        if (signs[i].at == offsetof(struct rp_obs, airway)) {
            json_object_set_new(json, "word", json_string(rp_airway_word(value->value)));
        }
        json_object_set_new(all, signs[i].key, json);
    }
    return all;
}

static void add_request(struct rp_show *show, const struct rp_episode *episode, json_t *row)
{
    json_object_set_new(row, "evacuation", json_string(rp_evac_word(episode->evac_state)));
    if (episode->request_now < 0) {
        return;
    }
    const struct rp_request_entry *request = &episode->requests.at[episode->request_now];
    char name[24];
    json_t *json = json_pack(
        "{s:s,s:s,s:i,s:s,s:b,s:b}", "record", rp_show_record_name(request->from.ref, name),
        "urgency", rp_word_of(rp_words_urgency, request->what.urgency), "asked_s",
        (int)request->from.recorded_s, "by", request->from.by, "unanswered",
        episode->evac_state == RP_EVAC_ASKED, "level_withdrawn", request->level_withdrawn);
    (void)show;
    if (episode->eta_answer >= 0) {
        const struct rp_answer_entry *eta = &episode->answers.at[episode->eta_answer];
        json_object_set_new(json, "eta_s", json_integer(eta->what.eta_s));
        json_object_set_new(json, "eta_whom", json_string(eta->what.whom));
        json_object_set_new(json, "eta_read_back", json_boolean(eta->read_back));
    }
    json_object_set_new(row, "request", json);
}

static void add_session(const struct rp_episode *episode, json_t *row)
{
    if (episode->sessions.count == 0) {
        return;
    }
    const struct rp_session *session = &episode->sessions.at[episode->sessions.count - 1];
    json_object_set_new(row, "chamber",
                        json_pack("{s:i,s:s,s:i}", "session", session->number, "phase",
                                  rp_phase_word(session->phase), "at_pressure_s",
                                  (int)session->at_pressure_total_s));
}

static json_t *missing(const struct rp_episode *episode)
{
    json_t *list = json_array();
    if (!episode->opened) {
        json_array_append_new(list, json_string("the opening record has not come"));
    }
    if (episode->background.allergies.state == RP_NOT_ASKED) {
        json_array_append_new(list, json_string("allergies not asked"));
    }
    if (rp_episode_last_obs(episode, offsetof(struct rp_obs, airway), -1) == NULL) {
        json_array_append_new(list, json_string("airway not recorded"));
    }
    if (rp_episode_last_obs(episode, offsetof(struct rp_obs, acvpu), -1) == NULL) {
        json_array_append_new(list, json_string("conscious level not recorded"));
    }
    if (rp_episode_last_obs(episode, offsetof(struct rp_obs, spo2_pct), -1) == NULL) {
        json_array_append_new(list, json_string("SpO2 not recorded"));
    }
    return list;
}

void rp_view_head(struct rp_show *show, const struct rp_episode *episode, json_t *row)
{
    char name[24], label[120];
    struct rp_node *node = show->entry->node;
    json_object_set_new(row, "name", json_string(rp_show_episode_name(node, episode->ref, name)));
    json_object_set_new(row, "patient",
                        json_string(episode->opened ? episode->opening.patient : ""));
    json_object_set_new(row, "label", json_string(rp_show_label(episode, label, sizeof label)));
    json_object_set_new(row, "exercise", json_boolean(episode->exercise));
    json_object_set_new(row, "closed", json_boolean(episode->closed));
    json_object_set_new(row, "records", json_integer(episode->records));
    json_object_set_new(row, "station", json_integer(rp_origin_station(episode->ref.origin)));
    if (episode->has_status && episode->status.condition != RP_COND_UNSAID) {
        json_object_set_new(row, "condition",
                            json_string(rp_condition_word(episode->status.condition)));
        json_object_set_new(row, "condition_s", json_integer(episode->status_from.happened_s));
    }
    json_object_set_new(row, "signs", newest_signs(episode));
    add_request(show, episode, row);
    add_session(episode, row);
    json_object_set_new(row, "missing", missing(episode));
}
