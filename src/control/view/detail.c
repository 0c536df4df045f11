/* All of an episode, table by table, newest last. */
#include <string.h>

#include "control/view/view.h"

/* What every row tells of its record. */
static json_t *row_of(struct rp_show *show, const struct rp_episode *episode,
                      const struct rp_source *from)
{
    char name[24];
    return json_pack("{s:s,s:i,s:i,s:s,s:s,s:s,s:b,s:b,s:b}", "record",
                     rp_show_record_name(from->ref, name), "happened_s", (int)from->happened_s,
                     "recorded_s", (int)from->recorded_s, "by", from->by, "station",
                     rp_node_station_name(show->entry->node, from->station), "via",
                     rp_word_of(rp_words_via, from->via), "unsynced", from->unsynced, "voided",
                     from->voided, "late", rp_episode_is_late(episode, from));
}

static void add_value(json_t *row, const char *key, const struct rp_value *value)
{
    if (value->state == RP_MEASURED) {
        json_object_set_new(row, key, json_integer(value->value));
    } else if (value->state == RP_UNABLE) {
        json_object_set_new(row, key, json_string("unable"));
    }
}

static void add_text(json_t *row, const char *key, const char *text)
{
    if (text[0] != '\0') {
        json_object_set_new(row, key, json_string(text));
    }
}

static void add_known(json_t *row, const char *key, const struct rp_known *known)
{
    static const char *const words[] = {"not asked", "none", ""};
    json_object_set_new(
        row, key, json_string(known->state == RP_KNOWN ? known->text : words[known->state % 3]));
}

static json_t *observations(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->obs.count; i++) {
        const struct rp_obs *obs = &episode->obs.at[i];
        json_t *row = row_of(show, episode, &obs->from);
        json_object_set_new(row, "taken_s", json_integer(obs->taken_s));
        json_object_set_new(row, "mode", json_string(rp_mode_word(obs->mode)));
        add_value(row, "spo2_pct", &obs->spo2_pct);
        add_value(row, "pulse_bpm", &obs->pulse_bpm);
        add_value(row, "resp_rpm", &obs->resp_rpm);
        add_value(row, "systolic_mmhg", &obs->systolic_mmhg);
        add_value(row, "diastolic_mmhg", &obs->diastolic_mmhg);
        add_value(row, "temp_dc", &obs->temp_dc);
        add_value(row, "lls", &obs->lls);
        add_value(row, "ataxia", &obs->ataxia);
        add_value(row, "pain", &obs->pain);
        if (obs->acvpu.state == RP_MEASURED) {
            add_text(row, "acvpu", rp_acvpu_word(obs->acvpu.value));
        }
        if (obs->airway.state == RP_MEASURED) {
            add_text(row, "airway", rp_airway_word(obs->airway.value));
        }
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *doses(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->doses.count; i++) {
        const struct rp_dose *dose = &episode->doses.at[i];
        json_t *row = row_of(show, episode, &dose->from);
        add_text(row, "name", dose->what.name);
        if (dose->what.has_dose) {
            json_object_set_new(row, "dose_milli", json_integer(dose->what.dose_milli));
            json_object_set_new(row, "dose_unit", json_integer(dose->what.dose_unit));
            char amount[40];
            struct rp_text text = rp_text_on(amount, sizeof amount);
            rp_show_dose(&dose->what, &text);
            add_text(row, "dose_text", amount);
        }
        add_text(row, "route", rp_word_of(rp_words_route, dose->what.route));
        add_text(row, "checker", dose->what.checker);
        add_text(row, "text", dose->what.text);
        json_object_set_new(row, "refused", json_boolean(dose->what.refused));
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *oxygen(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->oxygen.count; i++) {
        const struct rp_oxygen_entry *entry = &episode->oxygen.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        add_text(row, "action", rp_word_of(rp_words_oxygen_action, entry->what.action));
        add_text(row, "device", rp_word_of(rp_words_oxygen_device, entry->what.device));
        add_text(row, "cylinder", entry->what.cylinder);
        add_value(row, "flow_dlpm", &entry->what.flow_dlpm);
        add_value(row, "cylinder_bar", &entry->what.cylinder_bar);
        add_value(row, "water_dl", &entry->what.water_dl);
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *chamber(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->chamber.count; i++) {
        const struct rp_chamber_entry *entry = &episode->chamber.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        add_text(row, "phase", rp_phase_word(entry->what.phase));
        json_object_set_new(row, "session", json_integer(entry->what.session));
        add_text(row, "hold", rp_word_of(rp_words_hold, entry->what.hold_reason));
        add_value(row, "gauge_dhpa", &entry->what.gauge_dhpa);
        add_value(row, "altimeter_m", &entry->what.altimeter_m);
        add_text(row, "text", entry->what.text);
        json_array_append_new(list, row);
    }
    return list;
}

static void add_session_time(json_t *row, const char *key, bool has, uint32_t time_s)
{
    if (has) {
        json_object_set_new(row, key, json_integer(time_s));
    }
}

static json_t *sessions(const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->sessions.count; i++) {
        const struct rp_session *session = &episode->sessions.at[i];
        json_t *row = json_pack("{s:i,s:s,s:i,s:i}", "session", session->number, "phase",
                                rp_phase_word(session->phase), "at_pressure_total_s",
                                (int)session->at_pressure_total_s, "holds", session->holds);
        add_session_time(row, "closed_s", session->has_closed, session->closed_s);
        add_session_time(row, "pressurising_s", session->has_pressurising, session->pressurising_s);
        add_session_time(row, "at_pressure_s", session->has_at_pressure, session->at_pressure_s);
        add_session_time(row, "deflating_s", session->has_deflating, session->deflating_s);
        add_session_time(row, "out_s", session->has_out, session->out_s);
        add_value(row, "gauge_dhpa", &session->gauge_dhpa);
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *answers(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    char name[24];
    for (uint16_t i = 0; i < episode->answers.count; i++) {
        const struct rp_answer_entry *answer = &episode->answers.at[i];
        json_t *row = row_of(show, episode, &answer->from);
        add_text(row, "kind", rp_answer_word(answer->what.kind));
        add_text(row, "about", rp_show_record_name(answer->what.about, name));
        add_text(row, "whom", answer->what.whom);
        add_text(row, "text", answer->what.text);
        if (answer->what.has_eta) {
            json_object_set_new(row, "eta_s", json_integer(answer->what.eta_s));
        }
        json_object_set_new(row, "read_back", json_boolean(answer->read_back));
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *notes(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->notes.count; i++) {
        json_t *row = row_of(show, episode, &episode->notes.at[i].from);
        add_text(row, "text", episode->notes.at[i].text);
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *descent(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->descent.count; i++) {
        const struct rp_descent_entry *entry = &episode->descent.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        json_object_set_new(row, "descending", json_boolean(entry->what.descending));
        add_text(row, "why_not", rp_word_of(rp_words_why_not, entry->what.why_not));
        if (entry->what.has_ask_again) {
            json_object_set_new(row, "ask_again_min", json_integer(entry->what.ask_again_min));
        }
        add_text(row, "text", entry->what.text);
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *reassessments(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->reassess.count; i++) {
        const struct rp_reassess_entry *entry = &episode->reassess.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        add_text(row, "condition", rp_condition_word(entry->what.condition));
        add_text(row, "next", rp_word_of(rp_words_next, entry->what.next));
        add_value(row, "functional", &entry->what.functional);
        add_value(row, "ataxia", &entry->what.ataxia);
        add_text(row, "text", entry->what.text);
        json_array_append_new(list, row);
    }
    return list;
}

/* What is listed so that it can be corrected: the newest are enough. */
#define NEWEST_MAX 20

static uint16_t newest_from(uint16_t count)
{
    return count > NEWEST_MAX ? count - NEWEST_MAX : 0;
}

static json_t *reports(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = newest_from(episode->reports.count); i < episode->reports.count; i++) {
        const struct rp_status_entry *entry = &episode->reports.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        if (entry->what.condition != RP_COND_UNSAID) {
            add_text(row, "condition", rp_condition_word(entry->what.condition));
        }
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *requests(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = newest_from(episode->requests.count); i < episode->requests.count; i++) {
        const struct rp_request_entry *entry = &episode->requests.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        add_text(row, "urgency", rp_word_of(rp_words_urgency, entry->what.urgency));
        json_object_set_new(row, "revises", json_boolean(entry->what.revises.origin != 0));
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *fluids(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = newest_from(episode->fluids.count); i < episode->fluids.count; i++) {
        const struct rp_fluids_entry *entry = &episode->fluids.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        add_value(row, "drunk_ml", &entry->what.drunk_ml);
        add_value(row, "urine_ml", &entry->what.urine_ml);
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *handovers(struct rp_show *show, const struct rp_episode *episode)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < episode->handovers.count; i++) {
        const struct rp_handover_entry *entry = &episode->handovers.at[i];
        json_t *row = row_of(show, episode, &entry->from);
        add_text(row, "team", entry->what.team);
        add_text(row, "taken_by", entry->what.taken_by);
        if (entry->what.has_sheet) {
            json_object_set_new(row, "sheet", json_integer(entry->what.sheet));
        }
        add_text(row, "text", entry->what.text);
        json_array_append_new(list, row);
    }
    return list;
}

static json_t *background(const struct rp_episode *episode)
{
    const struct rp_rec_background *known = &episode->background;
    json_t *row = json_object();
    add_known(row, "allergies", &known->allergies);
    add_known(row, "medicines", &known->medicines);
    add_known(row, "history", &known->history);
    add_known(row, "last_meal", &known->last_meal);
    add_known(row, "contact", &known->contact);
    if (episode->opened && episode->opening.has_age) {
        json_object_set_new(row, "age_y", json_integer(episode->opening.age_y));
    }
    if (episode->opened && episode->opening.has_weight) {
        json_object_set_new(row, "weight_kg", json_integer(episode->opening.weight_kg));
    }
    if (episode->opened && episode->opening.has_onset) {
        json_object_set_new(row, "onset_s", json_integer(episode->opening.onset_s));
    }
    return row;
}

void rp_view_detail(struct rp_show *show, const struct rp_episode *episode, json_t *row)
{
    json_object_set_new(row, "background", background(episode));
    json_object_set_new(row, "observations", observations(show, episode));
    json_object_set_new(row, "doses", doses(show, episode));
    json_object_set_new(row, "oxygen", oxygen(show, episode));
    json_object_set_new(row, "chamber_events", chamber(show, episode));
    json_object_set_new(row, "sessions", sessions(episode));
    json_object_set_new(row, "reassessments", reassessments(show, episode));
    json_object_set_new(row, "descent", descent(show, episode));
    json_object_set_new(row, "answers", answers(show, episode));
    json_object_set_new(row, "notes", notes(show, episode));
    json_object_set_new(row, "handovers", handovers(show, episode));
    json_object_set_new(row, "reports", reports(show, episode));
    json_object_set_new(row, "requests", requests(show, episode));
    json_object_set_new(row, "fluids", fluids(show, episode));
}

/* --- delivery --- */

#define DELIVERY_ROWS_MAX 40 /* newest shown one by one; all are counted */

static const char *const delivery_keys[] = {"queued", "on_air", "heard", "at_base", "seen"};

struct delivery {
    struct rp_show *show;
    int counts[5];
    json_t *rows;
};

static int add_delivery(void *arg, const struct rp_delivery_row *row)
{
    struct delivery *delivery = arg;
    char name[24];
    delivery->counts[row->state]++;
    json_array_append_new(delivery->rows,
                          json_pack("{s:s,s:s,s:s,s:i,s:b,s:s}", "record",
                                    rp_show_record_name(row->ref, name), "kind",
                                    rp_record_kind_word(row->kind), "state",
                                    delivery_keys[row->state], "entered_s", (int)row->entered_s,
                                    "urgent", row->urgent, "seen_by", row->seen_by));
    if (json_array_size(delivery->rows) > DELIVERY_ROWS_MAX) {
        json_array_remove(delivery->rows, 0);
    }
    return 0;
}

int rp_view_delivery(struct rp_show *show, struct rp_episode_ref ref, json_t *row)
{
    struct delivery delivery = {.show = show, .rows = json_array()};
    int code = rp_node_each_delivery(show->entry->node, ref, add_delivery, &delivery);
    json_t *json = json_pack("{s:o}", "rows", delivery.rows);
    for (size_t i = 0; i < 5; i++) {
        json_object_set_new(json, delivery_keys[i], json_integer(delivery.counts[i]));
    }
    json_object_set_new(row, "delivery", json);
    return code;
}
