/* Status reports and observations. A report is self-contained: what was not measured now is
 * repeated from the newest set, with its age. */
#include <stdio.h>
#include <string.h>

#include "control/entries.h"

#define AT(member) offsetof(struct rp_record, as.status.member)

static int read_blood(struct rp_entry *entry, struct rp_record *record)
{
    struct rp_rec_status *status = &record->as.status;
    const char *word;
    int code = rp_entry_need(entry, "bp", "bp 132/84", &word);
    if (code < 0) {
        return code;
    }
    if (strcmp(word, "unable") == 0) {
        status->systolic_mmhg.state = status->diastolic_mmhg.state = RP_UNABLE;
        return RP_OK;
    }
    char systolic[16];
    const char *slash = strchr(word, '/');
    if (slash == NULL || slash == word || slash - word >= (long)sizeof systolic) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "bp",
                              "bp: \"%.16s\" is not systolic/diastolic (example: bp 132/84)", word);
    }
    snprintf(systolic, sizeof systolic, "%.*s", (int)(slash - word), word);
    int32_t upper = 0, lower = 0;
    bool sure = entry->sure; /* what is impossible is told before what is unlikely */
    for (int pass = 0; pass < 2; pass++) {
        entry->sure = pass == 0 || sure;
        code = rp_entry_quantity(entry, RP_RANGE_SYSTOLIC, NULL, "bp 132/84", systolic, &upper);
        code = code < 0 ? code
                        : rp_entry_quantity(entry, RP_RANGE_DIASTOLIC, NULL, "bp 132/84", slash + 1,
                                            &lower);
        code = code < 0 ? code : rp_range_check_blood(upper, lower, entry->problem);
        if (code < 0) {
            break;
        }
    }
    entry->sure = sure;
    if (code == RP_OK) {
        status->systolic_mmhg = (struct rp_value){RP_MEASURED, (int16_t)upper};
        status->diastolic_mmhg = (struct rp_value){RP_MEASURED, (int16_t)lower};
    }
    return code;
}

static int read_coma_scale(struct rp_entry *entry, struct rp_record *record)
{
    static const enum rp_range_id ids[] = {RP_RANGE_GCS_EYE, RP_RANGE_GCS_VERBAL,
                                           RP_RANGE_GCS_MOTOR};
    struct rp_rec_status *status = &record->as.status;
    struct rp_value *parts[] = {&status->gcs_eye, &status->gcs_verbal, &status->gcs_motor};
    const char *word;
    int code = rp_entry_need(entry, "gcs", "gcs 4/5/6", &word);
    if (code < 0) {
        return code;
    }
    if (strcmp(word, "unable") == 0) {
        for (size_t i = 0; i < 3; i++) {
            parts[i]->state = RP_UNABLE;
        }
        return RP_OK;
    }
    char part[3][2] = {{word[0], 0}, {0, 0}, {0, 0}};
    if (strlen(word) != 5 || word[1] != '/' || word[3] != '/') {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "gcs",
                              "gcs: \"%.16s\" is not eye/verbal/motor (example: gcs 4/5/6)", word);
    }
    part[1][0] = word[2];
    part[2][0] = word[4];
    for (size_t i = 0; i < 3 && code == RP_OK; i++) {
        int32_t value = 0;
        code = rp_entry_quantity(entry, ids[i], NULL, "gcs 4/5/6", part[i], &value);
        *parts[i] = (struct rp_value){RP_MEASURED, (int16_t)value};
    }
    return code;
}

/* Rounded up: within the next whole minute. */
static int read_next(struct rp_entry *entry, struct rp_record *record)
{
    const char *word;
    int32_t span_s = 0;
    int code = rp_entry_need(entry, "next", "next 15min", &word);
    if (code == RP_OK) {
        code = rp_entry_quantity(entry, RP_RANGE_NEXT_REPORT, "next", "next 15min", word, &span_s);
    }
    if (code == RP_OK) {
        record->as.status.next_min = (uint8_t)((span_s + 59) / 60);
    }
    return code;
}

static const struct rp_field fields[] = {
    {.type = RP_FIELD_CHOICE, .at = AT(condition), .words = rp_words_condition},
    {"spo2", RP_FIELD_VALUE, AT(spo2_pct), .range = RP_RANGE_SPO2, .example = "spo2 71 air"},
    {.type = RP_FIELD_CHOICE, .at = AT(mode), .words = rp_words_mode},
    {"pulse", RP_FIELD_VALUE, AT(pulse_bpm), .range = RP_RANGE_PULSE, .example = "pulse 118"},
    {"resp", RP_FIELD_VALUE, AT(resp_rpm), .range = RP_RANGE_RESP, .example = "resp 28"},
    {"bp", RP_FIELD_CUSTOM, .custom = read_blood, .example = "bp 132/84"},
    {"temp", RP_FIELD_VALUE, AT(temp_dc), .range = RP_RANGE_TEMP, .example = "temp 36.4 oral"},
    {.type = RP_FIELD_CHOICE, .at = AT(temp_site), .words = rp_words_site},
    {.type = RP_FIELD_CHOICE,
     .at = AT(acvpu),
     .size = sizeof(struct rp_value),
     .words = rp_words_acvpu},
    {"airway", RP_FIELD_WORD, .at = AT(airway), .size = sizeof(struct rp_value),
     .words = rp_words_airway, .example = "airway clear"},
    {"pain-score", RP_FIELD_VALUE, AT(pain), .range = RP_RANGE_PAIN, .example = "pain-score 4"},
    {"gcs", RP_FIELD_CUSTOM, .custom = read_coma_scale, .example = "gcs 4/5/6"},
    {"lls", RP_FIELD_VALUE, AT(lls), .range = RP_RANGE_LLS, .example = "lls 7"},
    {"ataxia", RP_FIELD_VALUE, AT(ataxia), .range = RP_RANGE_ATAXIA, .example = "ataxia 2"},
    {"flow", RP_FIELD_VALUE, AT(oxygen_flow_dlpm), .range = RP_RANGE_FLOW,
     .example = "flow 2L/min"},
    {"cylinder", RP_FIELD_VALUE, AT(cylinder_bar), .range = RP_RANGE_CYLINDER,
     .example = "cylinder 140bar"},
    {"next", RP_FIELD_CUSTOM, .custom = read_next, .example = "next 15min"},
    RP_FIELDS_END,
};

/* One age group of a report: values taken together. */
struct group {
    size_t age; /* offset in struct rp_rec_status of the age in minutes */
    struct {
        size_t report, obs; /* offsets in struct rp_rec_status and struct rp_obs */
    } values[9];
    size_t count;
    bool has_mode, has_site;
};

#define VALUE(name)                                                                                \
    {                                                                                              \
        offsetof(struct rp_rec_status, name), offsetof(struct rp_obs, name)                        \
    }
static const struct group groups[] = {
    {offsetof(struct rp_rec_status, vitals_age_min),
     {VALUE(spo2_pct), VALUE(pulse_bpm), VALUE(resp_rpm), VALUE(acvpu), VALUE(gcs_eye),
      VALUE(gcs_verbal), VALUE(gcs_motor), VALUE(airway), VALUE(pain)},
     9,
     .has_mode = true},
    {offsetof(struct rp_rec_status, pressure_age_min),
     {VALUE(systolic_mmhg), VALUE(diastolic_mmhg)},
     2,
     .has_mode = false},
    {offsetof(struct rp_rec_status, temp_age_min), {VALUE(temp_dc)}, 1, .has_site = true},
    {offsetof(struct rp_rec_status, score_age_min),
     {VALUE(lls), VALUE(ataxia)},
     2,
     .has_mode = false},
};

static struct rp_value *report_value(struct rp_rec_status *status, const struct group *group,
                                     size_t i)
{
    return (struct rp_value *)(void *)((char *)status + group->values[i].report);
}

static bool entered_now(struct rp_rec_status *status, const struct group *group)
{
    for (size_t i = 0; i < group->count; i++) {
        if (report_value(status, group, i)->state != RP_NOT_MEASURED) {
            return true;
        }
    }
    return false;
}

static bool holds_any(const struct rp_obs *obs, const struct group *group)
{
    for (size_t i = 0; i < group->count; i++) {
        struct rp_value value;
        memcpy(&value, (const char *)obs + group->values[i].obs, sizeof value);
        if (value.state == RP_MEASURED) {
            return true;
        }
    }
    return false;
}

/* The newest set by that time that holds anything of the group; NULL: none. */
static const struct rp_obs *newest(const struct rp_episode *episode, const struct group *group,
                                   uint32_t at_s)
{
    for (size_t i = episode->obs.count; i-- > 0;) {
        const struct rp_obs *obs = &episode->obs.at[i];
        if (!obs->from.voided && obs->taken_s <= at_s && holds_any(obs, group)) {
            return obs;
        }
    }
    return NULL;
}

static void repeat_group(struct rp_rec_status *status, const struct group *group,
                         const struct rp_obs *obs, uint32_t at_s)
{
    for (size_t i = 0; i < group->count; i++) {
        memcpy(report_value(status, group, i), (const char *)obs + group->values[i].obs,
               sizeof(struct rp_value));
    }
    /* Rounded up: no value looks younger than it is, and age 0 says taken now. */
    uint32_t age_min = at_s > obs->taken_s ? (at_s - obs->taken_s + 59) / 60 : 1;
    uint16_t age = age_min > UINT16_MAX ? UINT16_MAX : (uint16_t)age_min;
    memcpy((char *)status + group->age, &age, sizeof age);
    status->mode = group->has_mode ? obs->mode : status->mode;
    status->temp_site = group->has_site ? obs->temp_site : status->temp_site;
}

static void fill_oxygen(struct rp_rec_status *status, const struct rp_episode *episode)
{
    bool flow_known = status->oxygen_flow_dlpm.state != RP_NOT_MEASURED;
    bool cylinder_known = status->cylinder_bar.state != RP_NOT_MEASURED;
    for (uint16_t i = episode->oxygen.count; i-- > 0;) {
        const struct rp_oxygen_entry *entry = &episode->oxygen.at[i];
        if (entry->from.voided) {
            continue;
        }
        if (!flow_known && entry->what.action == RP_O2_STOP) {
            flow_known = true;
        } else if (!flow_known && entry->what.flow_dlpm.state == RP_MEASURED) {
            status->oxygen_flow_dlpm = entry->what.flow_dlpm;
            flow_known = true;
        }
        if (!cylinder_known && entry->what.cylinder_bar.state == RP_MEASURED) {
            status->cylinder_bar = entry->what.cylinder_bar;
            cylinder_known = true;
        }
    }
}

static void fill_chamber(struct rp_rec_status *status, const struct rp_episode *episode,
                         uint32_t at_s)
{
    if (episode->sessions.count == 0) {
        return;
    }
    const struct rp_session *session = &episode->sessions.at[episode->sessions.count - 1];
    uint32_t begin_s = session->has_closed         ? session->closed_s
                       : session->has_pressurising ? session->pressurising_s
                       : session->has_at_pressure  ? session->at_pressure_s
                                                   : at_s;
    uint32_t end_s = session->has_out ? session->out_s : at_s;
    uint32_t elapsed_min = end_s > begin_s ? (end_s - begin_s) / 60 : 0;
    status->phase = session->phase;
    status->elapsed_min = (uint16_t)(elapsed_min > 1023 ? 1023 : elapsed_min);
    status->cycle = session->number > 15 ? 15 : session->number;
}

/* What means nothing without another word, or together with one. */
static int check_meaning(struct rp_entry *entry, const struct rp_rec_status *status)
{
    if (status->spo2_pct.state == RP_MEASURED && status->mode == RP_MODE_UNSAID) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "spo2",
                              "spo2 means nothing without its mode: air, oxygen, chamber or "
                              "chamber+oxygen (example: spo2 71 air)");
    }
    if (status->temp_dc.state == RP_MEASURED && status->temp_site == RP_SITE_UNSAID) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "temp",
                              "temp needs its site: oral, tympanic or oesophageal "
                              "(example: temp 36.4 oral)");
    }
    bool on_oxygen = status->mode == RP_MODE_OXYGEN || status->mode == RP_MODE_CHAMBER_OXYGEN;
    return !on_oxygen || status->oxygen_flow_dlpm.state != RP_MEASURED
               ? RP_OK
               : rp_range_check_some(rp_range_of(RP_RANGE_FLOW), status->oxygen_flow_dlpm.value,
                                     "flow 2L/min; without oxygen: spo2 71 air", entry->problem);
}

int rp_enter_report(struct rp_entry *entry, const struct rp_entry_common *common,
                    struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    int code = rp_entry_episode(entry, &ref);
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_STATUS, ref);
    struct rp_rec_status *status = &record.as.status;
    code = rp_fields_read(entry, fields, &record);
    const struct rp_episode *episode = NULL;
    if (code == RP_OK) {
        code = rp_entry_fold(entry, ref, &episode);
    }
    code = code == RP_OK ? check_meaning(entry, status) : code;
    if (code < 0) {
        return code;
    }
    uint32_t at_s = entry->now_s > common->ago_s ? entry->now_s - common->ago_s : 0;
    for (size_t i = 0; i < sizeof groups / sizeof groups[0]; i++) {
        const struct rp_obs *obs = newest(episode, &groups[i], at_s);
        if (!entered_now(status, &groups[i]) && obs != NULL) {
            repeat_group(status, &groups[i], obs, at_s);
        }
    }
    fill_oxygen(status, episode);
    fill_chamber(status, episode, at_s);
    status->evac_state = episode->evac_state;
    return rp_entry_commit(entry, &record, entered);
}
