#include "control/control.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "control/show/show.h"
#include "incident/assess/assess.h"

#define ARGS_MAX 128 /* words of one entry */

/* Texts are cut by bytes, which may leave half a character: JSON takes only whole ones. */
static void mend_utf8(char *text)
{
    unsigned char *at = (unsigned char *)text;
    while (*at != '\0') {
        if (*at < 0x80) {
            at++;
            continue;
        }
        size_t more = (*at & 0xe0) == 0xc0   ? 1
                      : (*at & 0xf0) == 0xe0 ? 2
                      : (*at & 0xf8) == 0xf0 ? 3
                                             : 4;
        size_t have = 0;
        while (have < more && (at[1 + have] & 0xc0) == 0x80) {
            have++;
        }
        json_t *whole = have == more ? json_stringn((const char *)at, more + 1) : NULL;
        if (whole == NULL) {
            *at = '?';
            more = 0;
        }
        json_decref(whole);
        at += more + 1;
    }
}

struct command {
    const char *word;
    rp_entry_command *enter; /* either this, */
    rp_show_command *show;   /* or that; with both, the entry when its first word is a verb */
    const char *example;
};

static const struct command commands[] = {
    {"open", rp_enter_open, NULL,
     "open hace patient \"M. Tarn\" sex m age 34 weight 71kg onset 6h yes ataxia,mental "
     "allergies none"},
    {"background", rp_enter_background, NULL, "background 7-1 allergies \"sulfa: rash\""},
    {"report", rp_enter_report, NULL, "report 7-1 same spo2 71 air pulse 118 resp 28"},
    {"obs", rp_enter_report, NULL, "obs 7-1 spo2 71 air bp 132/84 temp 36.4 oral alert"},
    {"chamber", rp_enter_chamber, NULL, "chamber 7-1 at 2psi altimeter 3420m"},
    {"give", rp_enter_give, NULL, "give 7-1 dexamethasone 8mg im checked Jory"},
    {"oxygen", rp_enter_oxygen, NULL, "oxygen 7-1 start prongs 2L/min cylinder A 180bar"},
    {"stock", rp_enter_stock, NULL, "stock 7-1 dexamethasone 16mg"},
    {"fluids", rp_enter_fluids, NULL, "fluids 7-1 urine 300mL over 4h fluid 500mL"},
    {"reassess", rp_enter_reassess, NULL, "reassess 7-1 better next session ataxia 2"},
    {"descent", rp_enter_descent, NULL, "descent 7-1 no dark \"first light 05:40\" takes 4h"},
    {"note", rp_enter_note, NULL, "note 7-1 \"vomited once, head end raised\""},
    {"evacuate", rp_enter_evacuate, NULL, "evacuate 7-1 e1 stretcher site 27.9884,86.926"},
    {"answer", rp_enter_answer, NULL, "answer 7-1 eta arrives 09:30Z from \"Valley Air 3\""},
    {"readback", rp_enter_readback, NULL, "readback 7-1 \"09:30Z at the lower site\""},
    {"taken", rp_enter_taken, NULL, "taken 7-1 team \"Valley Air 3\" person \"Dr L\" sheet 2"},
    {"correct", rp_enter_correct, NULL, "correct 7:12 void \"wrong patient\""},
    {"close", rp_enter_close, NULL, "close 7-1 handed-over"},
    {"alarms", rp_enter_alarm, rp_show_alarms, "alarms; alarms ack 7-1 spo2-band \"warm now\""},
    {"stroke", NULL, rp_show_stroke, "stroke; stroke 7-1 Jory"},
    {"drugs", NULL, rp_show_drugs, "drugs"},
    {"board", NULL, rp_show_board, "board"},
    {"episode", NULL, rp_show_episode, "episode 7-1"},
    {"delivery", NULL, rp_show_delivery, "delivery 7-1"},
    {"handover", NULL, rp_show_handover, "handover 7-1"},
    {"log", NULL, rp_show_log, "log 7-1"},
    {"stations", NULL, rp_show_stations, "stations"},
    {"status", NULL, rp_show_status, "status"},
    {"airtime", NULL, rp_show_airtime, "airtime 48"},
    {"path", NULL, rp_show_path, "path distance 5km antenna 2m 5m ridge 30m at 2km"},
    {"compute", NULL, rp_show_compute, "compute chamber 5480m 2psi   (compute: lists what it can)"},
    {"view", NULL, rp_show_view, "view 7-1"},
    {"pair", NULL, rp_show_pair, "pair bedside"},
};
#define COMMAND_COUNT (sizeof commands / sizeof commands[0])

const char *rp_control_usage(size_t index, const char **out_example)
{
    if (index >= COMMAND_COUNT) {
        return NULL;
    }
    *out_example = commands[index].example;
    return commands[index].word;
}

static const struct command *find_command(const char *word)
{
    for (size_t i = 0; i < COMMAND_COUNT; i++) {
        if (strcmp(commands[i].word, word) == 0) {
            return &commands[i];
        }
    }
    return NULL;
}

/* A request, read out of its JSON. The words stay owned by the JSON. */
struct request {
    const struct command *command;
    const char *args[ARGS_MAX];
    size_t count;
    struct rp_entry_common common;
    const char *ago, *key;
    bool sure;
};

static int read_args(const json_t *array, struct request *request, struct rp_problem *problem)
{
    if (array == NULL) {
        return RP_OK;
    }
    if (!json_is_array(array) || json_array_size(array) > ARGS_MAX) {
        return rp_problem_set(problem, RP_E_FORMAT, "args",
                              "args is not a list of at most %d words (example: "
                              "[\"7-1\",\"better\"])",
                              ARGS_MAX);
    }
    request->count = json_array_size(array);
    for (size_t i = 0; i < request->count; i++) {
        request->args[i] = json_string_value(json_array_get(array, i));
        if (request->args[i] == NULL) {
            return rp_problem_set(problem, RP_E_FORMAT, "args",
                                  "args: word %zu is not a text (example: \"71\", in quotes)",
                                  i + 1);
        }
    }
    return RP_OK;
}

/* The options are texts, or not there; one of another type is refused, not overlooked. */
static int check_types(const json_t *root, struct rp_problem *problem)
{
    static const char *const texts[] = {"by", "via", "ago", "key"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        const json_t *value = json_object_get(root, texts[i]);
        if (value != NULL && !json_is_string(value)) {
            return rp_problem_set(problem, RP_E_FORMAT, texts[i],
                                  "%s is not a text (example: \"by\":\"Ines\", \"via\":\"voice\", "
                                  "\"ago\":\"20min\")",
                                  texts[i]);
        }
    }
    const json_t *sure = json_object_get(root, "sure");
    if (sure != NULL && !json_is_boolean(sure)) {
        return rp_problem_set(problem, RP_E_FORMAT, "sure",
                              "sure is neither true nor false (example: \"sure\":true)");
    }
    return RP_OK;
}

static int read_common(const json_t *root, struct request *request, struct rp_problem *problem)
{
    const char *by = json_string_value(json_object_get(root, "by"));
    const char *via = json_string_value(json_object_get(root, "via"));
    struct rp_entry entry = {.problem = problem};
    int code = check_types(root, problem);
    if (code == RP_OK && by != NULL) {
        code = rp_entry_text(&entry, "by", by, request->common.by, RP_NAME_LEN);
    }
    if (code == RP_OK && via != NULL) {
        code = rp_entry_choose(&entry, "via", rp_words_via, via, &request->common.via);
    }
    request->ago = json_string_value(json_object_get(root, "ago"));
    request->key = json_string_value(json_object_get(root, "key"));
    request->sure = json_is_true(json_object_get(root, "sure"));
    return code;
}

static int read_request(const json_t *root, struct request *request, struct rp_problem *problem)
{
    const json_t *version = json_object_get(root, "v");
    const char *word = json_string_value(json_object_get(root, "command"));
    if (version != NULL && json_integer_value(version) != 1) {
        return rp_problem_set(problem, RP_E_VERSION, "v",
                              "this daemon speaks version 1 of the control protocol (example: "
                              "\"v\":1)");
    }
    if (word == NULL) {
        return rp_problem_set(problem, RP_E_FORMAT, "command",
                              "the request names no command (example: {\"command\":\"board\"})");
    }
    request->command = find_command(word);
    if (request->command == NULL) {
        return rp_problem_set(problem, RP_E_NOT_FOUND, "command",
                              "\"%.24s\" is no command; ridgepost --help lists them (example: "
                              "board)",
                              word);
    }
    int code = read_args(json_object_get(root, "args"), request, problem);
    return code < 0 ? code : read_common(root, request, problem);
}

static int begin_keyed(const struct request *request, struct rp_entry *entry, bool *out_again)
{
    struct rp_record_ref ref;
    if (request->key == NULL) {
        return RP_OK;
    }
    if (rp_node_entry_begin(entry->node, request->key) < 0) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "key",
                              "key is not 8 to %d letters, digits and hyphens (example: "
                              "\"key\":\"f3a19c04-17\")",
                              RP_ENTRY_KEY_LEN_MAX);
    }
    *out_again = rp_node_entry_record(entry->node, request->key, 0, &ref) == RP_OK;
    return RP_OK;
}

/* The same entry again, refused now though it was recorded then (a dose just given is early the
 * second time): what counts is what was recorded. */
static int tell_recorded(const struct request *request, struct rp_entry *entry,
                         struct rp_text *text, json_t *data)
{
    struct rp_record_ref ref;
    char name[24];
    json_t *records = json_array();
    for (unsigned i = 0; rp_node_entry_record(entry->node, request->key, i, &ref) == RP_OK; i++) {
        rp_text_add(text, "%srecorded before: %s", i > 0 ? "\n" : "",
                    rp_show_record_name(ref, name));
        json_array_append_new(records, json_string(name));
    }
    rp_text_add(text, "\n");
    json_object_set_new(data, "records", records);
    entry->problem->code = RP_OK;
    return RP_OK;
}

/* What the new records contradict: recorded as they are, and said. */
static void say_conflicts(struct rp_entry *entry, const struct rp_entered *entered,
                          struct rp_text *text, json_t *data)
{
    struct rp_contradiction found[RP_CONTRA_COUNT];
    const struct rp_episode *episode;
    if (entered->episode.number == 0 || rp_entry_fold(entry, entered->episode, &episode) < 0) {
        return;
    }
    size_t count = rp_episode_contradictions(episode, entry->now_s, found);
    json_t *rows = json_array();
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < entered->count; k++) {
            struct rp_record_ref ref = entered->refs[k], later = found[i].later->ref,
                                 earlier = found[i].earlier->ref;
            char name[24];
            bool is_later = later.origin == ref.origin && later.seq == ref.seq;
            bool is_earlier = earlier.origin == ref.origin && earlier.seq == ref.seq;
            if (is_later || is_earlier) {
                bool alone = is_later && is_earlier;
                rp_text_add(text,
                            "\nCONFLICT%s%s: %s; what was entered is kept, a correction mends it",
                            alone ? "" : " with ",
                            alone ? "" : rp_show_record_name(is_later ? earlier : later, name),
                            rp_contradiction_sentence(found[i].kind));
                json_array_append_new(rows, json_string(rp_contradiction_sentence(found[i].kind)));
                break;
            }
        }
    }
    json_object_set_new(data, "conflicts", rows);
}

static int run_entry(struct rp_control *control, struct request *request, struct rp_entry *entry,
                     struct rp_text *text, json_t *data)
{
    struct rp_entered entered = {0};
    if (request->ago != NULL) {
        int32_t span_s = 0;
        int code =
            rp_entry_quantity(entry, RP_RANGE_AGO, NULL, "--ago 15min", request->ago, &span_s);
        if (code < 0) {
            return code;
        }
        request->common.ago_s = (uint32_t)span_s;
    }
    bool again = false;
    int code = begin_keyed(request, entry, &again);
    if (code < 0) {
        return code;
    }
    code = request->command->enter(entry, &request->common, &entered);
    rp_node_entry_end(control->node);
    if (again) {
        json_object_set_new(data, "again", json_true());
    }
    if (code < 0 && again) {
        return tell_recorded(request, entry, text, data);
    }
    json_t *records = json_array();
    char name[24];
    for (size_t i = 0; i < entered.count; i++) {
        rp_text_add(text, "%srecorded %s %s", i > 0 ? "\n" : "",
                    rp_show_record_name(entered.refs[i], name),
                    rp_record_kind_word(entered.kinds[i]));
        json_array_append_new(records, json_string(name));
    }
    json_object_set_new(data, "records", records);
    if (entered.count > 0 && entered.episode.number != 0) {
        rp_show_episode_name(entry->node, entered.episode, name);
        rp_text_add(text, ", episode %s", name);
        json_object_set_new(data, "episode", json_string(name));
        say_conflicts(entry, &entered, text, data);
    }
    if (code == RP_OK && entered.remark[0] != '\0') {
        rp_text_add(text, "\n%s", entered.remark);
        json_object_set_new(data, "remark", json_string(entered.remark));
    }
    if (code < 0 && entered.count > 0) {
        rp_text_add(text, "; the rest was NOT recorded: %s", entry->problem->text);
        return code;
    }
    rp_text_add(text, code < 0 ? "" : "\n");
    return code;
}

static int run(struct rp_control *control, struct request *request, struct rp_moment moment,
               struct rp_problem *problem, json_t *data)
{
    struct rp_entry entry = {.node = control->node,
                             .moment = moment,
                             .now_s = control->node != NULL
                                          ? rp_node_net_time(control->node, moment)
                                          : (uint32_t)(moment.unix_s - RP_NET_EPOCH_UNIX_S),
                             .args = request->args,
                             .count = request->count,
                             .sure = request->sure,
                             .problem = problem};
    struct rp_text text = rp_text_on(control->text, sizeof control->text);
    if (control->node == NULL && request->command->show != rp_show_compute) {
        return rp_problem_set(problem, RP_E_STATE, request->command->word,
                              "%s needs the station's daemon (example: compute pressure 5480m)",
                              request->command->word);
    }
    bool enters = request->command->enter != NULL;
    if (enters && request->command->show != NULL) {
        enters = request->count > 0 && rp_word_find(rp_words_alarm, request->args[0]) >= 0;
    }
    if (enters) {
        return run_entry(control, request, &entry, &text, data);
    }
    struct rp_show show = {&entry, &text, data, control->pages};
    int code = request->command->show(&show);
    if (code < 0) {
        control->text[0] = '\0';
    }
    if (code < 0 && problem->code == 0) {
        rp_problem_set(problem, code, request->command->word,
                       "%s failed: the database cannot be read", request->command->word);
    }
    return code;
}

static char *reply_text(json_t *reply)
{
    char *line = reply != NULL ? json_dumps(reply, JSON_COMPACT) : NULL;
    json_decref(reply);
    return line;
}

char *rp_control_handle(struct rp_control *control, struct rp_view line, struct rp_moment moment)
{
    struct rp_problem problem = {0};
    struct request request = {0};
    json_error_t error;
    json_t *root = json_loadb((const char *)line.bytes, line.len, JSON_REJECT_DUPLICATES, &error);
    json_t *data = json_object();
    int code;
    control->text[0] = '\0'; /* after a failure: what a person must know instead of the problem */
    if (!json_is_object(root)) {
        code = rp_problem_set(&problem, RP_E_FORMAT, "request",
                              "the request is not a JSON object: %.70s (example: "
                              "{\"command\":\"board\"})",
                              root == NULL ? error.text : "another type");
    } else {
        code = read_request(root, &request, &problem);
    }
    if (code == RP_OK) {
        code = run(control, &request, moment, &problem, data);
    }
    json_t *reply;
    mend_utf8(control->text);
    if (code == RP_OK) {
        reply =
            json_pack("{s:i,s:b,s:s,s:o}", "v", 1, "ok", 1, "text", control->text, "data", data);
    } else {
        json_decref(data);
        mend_utf8(problem.field);
        mend_utf8(problem.text);
        reply = json_pack("{s:i,s:b,s:{s:s,s:s,s:s}}", "v", 1, "ok", 0, "error", "code",
                          rp_error_name(code), "field", problem.field, "text",
                          control->text[0] != '\0' ? control->text : problem.text);
    }
    json_decref(root);
    return reply_text(reply);
}
