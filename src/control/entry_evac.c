/* The evacuation handshake: request, revision, cancel; base's answers; read-back. */
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "clinical/position.h"
#include "control/entries.h"

#define EV(member) offsetof(struct rp_record, as.evacuation.member)
#define AN(member) offsetof(struct rp_record, as.answer.member)

/* `area 40x40` */
static int read_area(struct rp_entry *entry, struct rp_record *record)
{
    struct rp_rec_evacuation *evac = &record->as.evacuation;
    const char *word;
    int code = rp_entry_need(entry, "area", "area 40x40", &word);
    if (code < 0) {
        return code;
    }
    char length[8];
    size_t digits = strspn(word, "0123456789");
    if (digits == 0 || digits >= sizeof length || word[digits] != 'x') {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "area",
                              "area: \"%.16s\" is not length x width in metres "
                              "(example: area 40x40)",
                              word);
    }
    snprintf(length, sizeof length, "%.*s", (int)digits, word);
    int32_t long_m = 0, wide_m = 0;
    code = rp_entry_quantity(entry, RP_RANGE_SITE_LENGTH, NULL, "area 40x40", length, &long_m);
    if (code == RP_OK) {
        code = rp_entry_quantity(entry, RP_RANGE_SITE_WIDTH, NULL, "area 40x40", word + digits + 1,
                                 &wide_m);
    }
    if (code == RP_OK) {
        evac->has_site_size = true;
        evac->site_length_m = (uint16_t)long_m;
        evac->site_width_m = (uint16_t)wide_m;
    }
    return code;
}

/* What a person says with the request is of no report. */
static int read_conscious(struct rp_entry *entry, struct rp_record *record)
{
    struct rp_rec_evacuation *evac = &record->as.evacuation;
    const char *word;
    uint8_t finding = 0;
    int code = rp_entry_need(entry, "conscious", "conscious yes", &word);
    if (code == RP_OK) {
        code = rp_entry_choose(entry, "conscious", rp_words_finding, word, &finding);
    }
    if (code == RP_OK) {
        evac->conscious = (enum rp_finding)finding;
        evac->conscious_from = (struct rp_record_ref){0, 0};
    }
    return code;
}

static const struct rp_field evacuation_fields[] = {
    {.type = RP_FIELD_CHOICE, .at = EV(urgency), .words = rp_words_urgency},
    {.type = RP_FIELD_CHOICE, .at = EV(mobility), .words = rp_words_mobility},
    {"patients", RP_FIELD_NUMBER, EV(patients), EV(has_patients), 1, RP_RANGE_PATIENTS,
     .example = "patients 1"},
    {"weight", RP_FIELD_NUMBER, EV(weight_kg), EV(has_weight), 2, RP_RANGE_WEIGHT,
     .example = "weight 85kg"},
    {"conscious", RP_FIELD_CUSTOM, .custom = read_conscious, .example = "conscious yes"},
    {"oxygen", RP_FIELD_FINDING, EV(oxygen_needed), .example = "oxygen yes"},
    {"flat", RP_FIELD_FINDING, EV(lies_flat), .example = "flat no"},
    {"at", RP_FIELD_POSITION, EV(position), .example = "at 27.98800,86.92533"},
    {"altitude", RP_FIELD_ALTITUDE, EV(altitude), .example = "altitude 5480m gps"},
    {"site", RP_FIELD_POSITION, EV(site), .example = "site 27.98840,86.92600"},
    {"area", RP_FIELD_CUSTOM, .custom = read_area},
    {"surface", RP_FIELD_WORD, EV(surface), .words = rp_words_surface, .example = "surface snow"},
    {"slope", RP_FIELD_NUMBER, EV(slope_deg), EV(has_slope), 1, RP_RANGE_SLOPE,
     .example = "slope 4"},
    {"obstacles", RP_FIELD_TEXT, EV(obstacles), .size = RP_LINE_LEN,
     .example = "obstacles \"prayer flags north\""},
    {"marked", RP_FIELD_FINDING, EV(site_marked), .example = "marked yes"},
    {"wind", RP_FIELD_NUMBER, EV(wind_kmh), EV(has_wind), 2, RP_RANGE_WIND,
     .example = "wind 15km/h"},
    {"from", RP_FIELD_NUMBER, EV(wind_from_deg), EV(has_wind_dir), 2, RP_RANGE_WIND_FROM,
     .example = "from 270"},
    {"gust", RP_FIELD_NUMBER, EV(gust_kmh), EV(has_gust), 2, RP_RANGE_GUST,
     .example = "gust 30km/h"},
    {"temp", RP_FIELD_NUMBER, EV(temp_c), EV(has_temp), 1, RP_RANGE_AIR_TEMP,
     .example = "temp -15C"},
    {"visibility", RP_FIELD_NUMBER, EV(visibility_m), EV(has_visibility), 4, RP_RANGE_VISIBILITY,
     .example = "visibility 5km"},
    {"cloud", RP_FIELD_NUMBER, EV(cloud_base_m), EV(has_cloud_base), 2, RP_RANGE_CLOUD_BASE,
     .example = "cloud 6200m"},
    {"weather", RP_FIELD_TEXT, EV(weather), .size = RP_LINE_LEN,
     .example = "weather \"clear, trend steady\""},
    {"hazards", RP_FIELD_TEXT, EV(hazards), .size = RP_LINE_LEN,
     .example = "hazards \"serac west\""},
    {"contact", RP_FIELD_TEXT, EV(ground_contact), .size = RP_LINE_LEN,
     .example = "contact \"Ridge Camp, 145.500 MHz\""},
    {"needs", RP_FIELD_BITS, EV(needs), EV(has_needs), .words = rp_words_needs,
     .example = "needs doctor,oxygen"},
    {"party", RP_FIELD_NUMBER, EV(party), EV(has_party), 1, RP_RANGE_PARTY, .example = "party 3"},
    {"daylight", RP_FIELD_FUTURE, EV(daylight_end_s), EV(has_daylight),
     .example = "daylight 11:45Z"},
    {"insurance", RP_FIELD_KNOWN, EV(insurance), .example = "insurance none"},
    {"fallback", RP_FIELD_TEXT, EV(fallback), .size = RP_LINE_LEN,
     .example = "fallback \"carry down at first light\""},
    RP_FIELDS_END,
};

static const struct rp_request_entry *in_force(const struct rp_episode *episode)
{
    return episode->request_now >= 0 ? &episode->requests.at[episode->request_now] : NULL;
}

/* A conscious level may change within minutes: an older one is asked for anew. Ours: the first step
 * of the ladder of silence (clinical references 6.4). */
#define LEVEL_OLD_S 600

static void take_level(struct rp_rec_evacuation *evac, const struct rp_episode *episode,
                       uint32_t now_s)
{
    const struct rp_obs *obs = rp_episode_last_obs(episode, offsetof(struct rp_obs, acvpu), -1);
    evac->conscious = RP_FINDING_NOT_ASKED;
    evac->conscious_from = (struct rp_record_ref){0, 0};
    if (obs != NULL && now_s <= obs->taken_s + LEVEL_OLD_S) {
        evac->conscious =
            obs->acvpu.value == RP_ACVPU_UNRESPONSIVE ? RP_FINDING_NO : RP_FINDING_YES;
        evac->conscious_from = obs->from.ref;
    }
}

/* A first request starts from what is known; a revision from the request in force, but for a level
 * that was withdrawn since: it is not said once more. */
static void prefill(struct rp_rec_evacuation *evac, const struct rp_episode *episode,
                    uint32_t now_s)
{
    const struct rp_request_entry *now = in_force(episode);
    if (now != NULL) {
        *evac = now->what;
        evac->revises = now->from.ref;
        if (now->level_withdrawn) {
            take_level(evac, episode, now_s);
        }
        return;
    }
    evac->has_patients = true;
    evac->patients = 1;
    evac->position = episode->opening.position;
    evac->altitude = episode->opening.altitude;
    take_level(evac, episode, now_s);
}

static void remark_level(const struct rp_episode *episode, const struct rp_rec_evacuation *evac,
                         struct rp_entered *entered)
{
    const struct rp_request_entry *before = in_force(episode);
    if (before != NULL && before->level_withdrawn && evac->conscious == RP_FINDING_NOT_ASKED) {
        struct rp_text remark = rp_text_on(entered->remark, sizeof entered->remark);
        rp_text_add(&remark, "its conscious level was withdrawn with the report: say it anew "
                             "(example: evacuate revise conscious yes)");
    }
}

static int cancel(struct rp_entry *entry, const struct rp_entry_common *common,
                  struct rp_episode_ref ref, const struct rp_episode *episode,
                  struct rp_entered *entered)
{
    const struct rp_request_entry *now = in_force(episode);
    const char *word;
    if (now == NULL) {
        return rp_problem_set(entry->problem, RP_E_STATE, "evacuate",
                              "evacuate: no request is in force that could be cancelled "
                              "(example: evacuate 7-1 e1 stretcher)");
    }
    int code = rp_entry_need(entry, "cancel", "evacuate 7-1 cancel \"walking down\"", &word);
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_EVAC_CANCEL, ref);
    record.urgent = true; /* a crew may be on its way */
    record.as.evac_cancel.request = now->from.ref;
    code = rp_entry_text(entry, "cancel", word, record.as.evac_cancel.reason, RP_LINE_LEN);
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

/* A place far from the one known before asks again (clinical references 3.5, ours): 500 m of
 * height, 5 km. */
static int check_place(struct rp_entry *entry, const struct rp_rec_evacuation *evac,
                       const struct rp_rec_evacuation *before)
{
    const struct rp_position *at = &evac->position, *was = &before->position;
    if (evac->altitude.present && before->altitude.present) {
        int code = rp_range_check_near(rp_range_of(RP_RANGE_ALTITUDE), evac->altitude.metres,
                                       before->altitude.metres, 500, entry->sure, entry->problem);
        if (code < 0) {
            return code;
        }
    }
    if (!entry->sure && at->present && was->present &&
        rp_position_apart_m(at->lat_e6, at->lon_e6, was->lat_e6, was->lon_e6) > 5000) {
        return rp_problem_set(
            entry->problem, RP_E_CONFIRM, "at",
            "at: more than 5 km from the position before (%.1f km); check and "
            "enter again with --sure",
            rp_position_apart_m(at->lat_e6, at->lon_e6, was->lat_e6, was->lon_e6) / 1000);
    }
    return RP_OK;
}

/* `evacuate 7-1 e1 stretcher ...`, `evacuate 7-1 revise cloud 5900m`,
 * `evacuate 7-1 cancel "walking down"` */
int rp_enter_evacuate(struct rp_entry *entry, const struct rp_entry_common *common,
                      struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    const struct rp_episode *episode = NULL;
    int code = rp_entry_folded(entry, &ref, &episode);
    if (code < 0) {
        return code;
    }
    const char *word = rp_entry_peek(entry);
    bool revise = word != NULL && strcmp(word, "revise") == 0;
    bool is_cancel = word != NULL && strcmp(word, "cancel") == 0;
    entry->next += revise || is_cancel;
    if (is_cancel) {
        return cancel(entry, common, ref, episode, entered);
    }
    if (revise != (in_force(episode) != NULL)) {
        return rp_problem_set(entry->problem, RP_E_STATE, "evacuate",
                              revise ? "evacuate: nothing to revise; make the request first "
                                       "(example: evacuate 7-1 e1 stretcher)"
                                     : "evacuate: a request is in force; say revise or cancel "
                                       "(example: evacuate 7-1 revise cloud 5900m)");
    }
    struct rp_record record = rp_entry_record(common, RP_REC_EVACUATION, ref);
    prefill(&record.as.evacuation, episode, entry->now_s);
    const struct rp_rec_evacuation before = record.as.evacuation;
    code = rp_fields_read(entry, evacuation_fields, &record);
    code = code == RP_OK ? check_place(entry, &record.as.evacuation, &before) : code;
    if (code == RP_OK && record.as.evacuation.urgency == RP_URG_UNSAID) {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "urgency",
                              "how urgent? e1 now, e2 within an hour of light or weather, e3 "
                              "today, e4 routine (example: evacuate 7-1 e1 stretcher)");
    }
    remark_level(episode, &record.as.evacuation, entered);
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

static const struct rp_field answer_fields[] = {
    {"from", RP_FIELD_TEXT, AN(whom), .size = RP_NAME_LEN, .example = "from \"Valley Air 3\""},
    {"to", RP_FIELD_TEXT, AN(whom), .size = RP_NAME_LEN, .example = "to \"Valley Air 3\""},
    {"arrives", RP_FIELD_FUTURE, AN(eta_s), AN(has_eta), .example = "arrives 09:30Z"},
    {.type = RP_FIELD_TEXT, .at = AN(text), .size = RP_LINE_LEN},
    RP_FIELDS_END,
};

/* What the kinds of answer cannot do without. */
static int check_answer(struct rp_entry *entry, const struct rp_record *record)
{
    const struct rp_rec_answer *answer = &record->as.answer;
    if (record->by[0] == '\0') {
        return rp_problem_set(entry->problem, RP_E_INVALID, "by",
                              "an answer needs a name: --by NAME (example: --by Pelle answer 7-1 "
                              "seen)");
    }
    if (answer->kind == RP_ANS_ETA && !answer->has_eta) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "arrives",
                              "eta: when? (example: answer 7-1 eta arrives 09:30Z from "
                              "\"Valley Air 3\")");
    }
    if ((answer->kind == RP_ANS_PASSED_ON || answer->kind == RP_ANS_ACCEPTED) &&
        answer->whom[0] == '\0') {
        return rp_problem_set(entry->problem, RP_E_INVALID, "whom",
                              "%s: whom? (example: answer 7-1 passed-on to \"Valley Air 3\", or "
                              "accepted from \"Valley Air 3\")",
                              rp_answer_word(answer->kind));
    }
    if ((answer->kind == RP_ANS_PLAN || answer->kind == RP_ANS_ADVICE) && answer->text[0] == '\0') {
        return rp_problem_set(entry->problem, RP_E_INVALID, "text",
                              "%s: the text is missing (example: answer 7-1 plan \"be at the "
                              "site 09:15Z\")",
                              rp_answer_word(answer->kind));
    }
    return RP_OK;
}

static bool names_record(const char *word)
{
    return word != NULL && strchr(word, ':') != NULL &&
           strspn(word, "0123456789:/") == strlen(word);
}

/* `answer 7-1 seen`, `answer 7-1 eta arrives 09:30Z from "Valley Air 3"`,
 * `answer 7:42 advice "..."`: about a record, or about the request in force. */
int rp_enter_answer(struct rp_entry *entry, const struct rp_entry_common *common,
                    struct rp_entered *entered)
{
    static const char example[] = "answer 7-1 seen";
    struct rp_episode_ref ref = {0, 0};
    struct rp_record_ref about = {0, 0};
    const char *word = rp_entry_peek(entry);
    int code = RP_OK;
    if (names_record(word)) {
        entry->next++;
        code = rp_node_find_record(entry->node, word, &about, entry->problem);
        if (code == RP_OK) {
            rp_node_record(entry->node, about, rp_entry_row_episode, &ref);
        }
    } else {
        const struct rp_episode *episode = NULL;
        code = rp_entry_folded(entry, &ref, &episode);
        const struct rp_request_entry *now = code == RP_OK ? in_force(episode) : NULL;
        if (now != NULL) {
            about = now->from.ref;
        } else if (code == RP_OK && episode->has_status) {
            about = episode->status_from.ref;
        }
    }
    if (code == RP_OK) {
        code = rp_entry_need(entry, "answer", example, &word);
    }
    struct rp_record record = rp_entry_record(common, RP_REC_ANSWER, ref);
    record.as.answer.about = about;
    if (code == RP_OK) {
        code = rp_entry_choose(entry, "answer", rp_words_answer, word, &record.as.answer.kind);
    }
    if (code == RP_OK) {
        code = rp_fields_read(entry, answer_fields, &record);
    }
    if (code == RP_OK) {
        code = check_answer(entry, &record);
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

/* `readback 7-1 2:14 ...`: only of that answer. What looks like a record and is no answer that
 * waits is refused, never taken for the text of all the others. */
static int read_which(struct rp_entry *entry, struct rp_record_ref *about, size_t *count)
{
    struct rp_record_ref which;
    const char *word = rp_entry_peek(entry);
    if (!names_record(word)) {
        return RP_OK;
    }
    entry->next++;
    int code = rp_node_find_record(entry->node, word, &which, entry->problem);
    for (size_t i = 0; code == RP_OK && i < *count; i++) {
        if (about[i].origin == which.origin && about[i].seq == which.seq) {
            about[0] = which;
            *count = 1;
            return RP_OK;
        }
    }
    return code < 0 ? code
                    : rp_problem_set(entry->problem, RP_E_STATE, "readback",
                                     "readback: %.16s is no answer that waits for one (example: "
                                     "readback 7-1 \"09:30Z at the lower site\")",
                                     word);
}

/* `readback 7-1`: of every answer not read back yet (at most four at once), the text,
 * if given, with the newest; "seen" needs none. */
int rp_enter_readback(struct rp_entry *entry, const struct rp_entry_common *common,
                      struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    const struct rp_episode *episode = NULL;
    int code = rp_entry_folded(entry, &ref, &episode);
    if (code < 0) {
        return code;
    }
    struct rp_record_ref about[RP_ENTERED_MAX];
    size_t count = 0;
    for (uint16_t i = 0; i < episode->answers.count && count < RP_ENTERED_MAX; i++) {
        const struct rp_answer_entry *answer = &episode->answers.at[i];
        if (!answer->read_back && !answer->from.voided && answer->what.kind != RP_ANS_SEEN) {
            about[count++] = answer->from.ref;
        }
    }
    if (count == 0) {
        return rp_problem_set(entry->problem, RP_E_STATE, "readback",
                              "readback: no answer waits for one (example, once there is: "
                              "readback 7-1 \"09:30Z at the lower site\")");
    }
    code = read_which(entry, about, &count);
    const char *text = code == RP_OK ? rp_entry_take(entry) : NULL;
    for (size_t i = 0; i < count && code == RP_OK; i++) {
        struct rp_record record = rp_entry_record(common, RP_REC_READBACK, ref);
        record.as.readback.about = about[i];
        if (text != NULL && i + 1 == count) { /* once: it costs airtime */
            code = rp_entry_text(entry, "readback", text, record.as.readback.text, RP_LINE_LEN);
        }
        code = code < 0 ? code : rp_entry_commit(entry, &record, entered);
    }
    return code;
}
