/* Proof of delivery, and the log as it is. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "control/show/show.h"
#include "handover/utf8.h"
#include "incident/watch/watch.h"

/* The longest summary: five facts of a patient's background with their words. */
#define SUMMARY_LEN_MAX (5 * (RP_LINE_LEN + 12))

static const char *state_text(struct rp_show *show, const struct rp_delivery_row *row, char *buf,
                              size_t cap)
{
    char time[24];
    int64_t net_s = row->state_s - RP_NET_EPOCH_UNIX_S;
    rp_show_time(show->entry->now_s, net_s > 0 && net_s <= UINT32_MAX ? (uint32_t)net_s : 0, time);
    const char *word = rp_word_of(rp_words_delivery, row->state);
    if (row->state == RP_DEL_SEEN) {
        snprintf(buf, cap, "seen by %s %s", row->seen_by, time);
    } else if (row->state == RP_DEL_HEARD) {
        snprintf(buf, cap, "heard by %s %s", rp_node_station_name(show->entry->node, row->station),
                 time);
    } else if (row->state == RP_DEL_QUEUED) {
        snprintf(buf, cap, "%s", word);
    } else {
        snprintf(buf, cap, "%s %s", word, time);
    }
    return buf;
}

/* Where a record stands in the whole log by time; ties by log and sequence. */
struct key {
    uint32_t time_s, seq;
    uint16_t origin;
};

struct rows {
    struct rp_show *show;
    json_t *array;
    uint32_t total, at_base;
    const struct rp_episode *folded; /* of whose records it is told which came late, or NULL */
    bool part;                       /* not the whole log */
    struct key *keys;                /* of a part of the log: all of its records in order of time */
    size_t key_count, key_room, first, last; /* shown are those from first to before last */
    struct rp_show_logs logs;
};

static int show_delivery(void *arg, const struct rp_delivery_row *row)
{
    struct rows *rows = arg;
    struct rp_show *show = rows->show;
    char name[24], time[24], state[80], episode[24] = "";
    if (row->kind == RP_REC_RECEIPT || row->kind == RP_REC_CLOCK) {
        return 0; /* the net's own bookkeeping */
    }
    if (row->episode.number != 0) {
        rp_show_episode_name(show->entry->node, row->episode, episode);
    }
    rows->total++;
    rows->at_base += row->state >= RP_DEL_AT_BASE;
    rp_show_record_in(&rows->logs, row->ref, name);
    rp_text_add(show->text, "%s%-7s %-6s %s  %-20s %s%s\n", row->exercise ? "EXERCISE " : "", name,
                episode, rp_show_time(show->entry->now_s, row->entered_s, time),
                rp_record_kind_word(row->kind), state_text(show, row, state, sizeof state),
                row->urgent ? "  URGENT" : "");
    json_t *json =
        json_pack("{s:s,s:s,s:s,s:i,s:s,s:I,s:b,s:b}", "record", name, "episode", episode, "kind",
                  rp_record_kind_word(row->kind), "entered_s", (int)row->entered_s, "state",
                  rp_word_of(rp_words_delivery, row->state), "state_unix_s",
                  (json_int_t)row->state_s, "urgent", row->urgent, "exercise", row->exercise);
    if (row->state == RP_DEL_SEEN) {
        json_object_set_new(json, "seen_by", json_string(row->seen_by));
    }
    json_array_append_new(rows->array, json);
    return 0;
}

int rp_show_delivery(struct rp_show *show)
{
    struct rows rows = {.show = show, .array = json_array()};
    struct rp_episode_ref ref = {0, 0};
    json_object_set_new(show->data, "records", rows.array);
    int code = rp_entry_peek(show->entry) != NULL ? rp_entry_episode(show->entry, &ref) : RP_OK;
    if (code == RP_OK) {
        code = rp_show_logs_find(show->entry->node, &rows.logs);
    }
    if (code == RP_OK) {
        code = rp_node_each_delivery(show->entry->node, ref, show_delivery, &rows);
    }
    if (code == RP_OK) {
        rp_text_add(show->text, "%u of %u records at base\n", rows.at_base, rows.total);
        json_object_set_new(show->data, "at_base", json_integer(rows.at_base));
        json_object_set_new(show->data, "total", json_integer(rows.total));
    }
    return code;
}

void rp_show_amount(uint32_t milli, uint8_t unit, struct rp_text *text)
{
    static const char *const units[] = {"", "mg", "g", "mcg", "mL", "tablet", "puff", "IU"};
    if (unit >= sizeof units / sizeof units[0]) {
        return;
    }
    char part[8] = "";
    if (milli % 1000 != 0) {
        snprintf(part, sizeof part, ".%03u", milli % 1000);
        for (size_t len = strlen(part); len > 0 && part[len - 1] == '0'; len--) {
            part[len - 1] = '\0';
        }
    }
    rp_text_add(text, "%u%s %s", milli / 1000, part, units[unit]);
}

void rp_show_dose(const struct rp_rec_treatment *treatment, struct rp_text *text)
{
    if (treatment->has_dose) {
        rp_show_amount(treatment->dose_milli, treatment->dose_unit, text);
    }
}

static void add_oxygen(const struct rp_rec_oxygen *oxygen, struct rp_text *text)
{
    rp_text_add(text, "%s", rp_word_of(rp_words_oxygen_action, oxygen->action));
    if (oxygen->flow_dlpm.state == RP_MEASURED) {
        rp_text_add(text, " %d.%d L/min", oxygen->flow_dlpm.value / 10,
                    oxygen->flow_dlpm.value % 10);
    }
    if (oxygen->cylinder_bar.state == RP_MEASURED) {
        rp_text_add(text, " %d bar", oxygen->cylinder_bar.value);
    }
}

/* The start of a text, cut between characters, and so that it is seen. */
static void add_start(const char *words, unsigned columns, struct rp_text *text)
{
    size_t len = rp_utf8_fit(words, strlen(words), columns);
    rp_text_add(text, "%.*s%s", (int)len, words, words[len] != '\0' ? " ..." : "");
}

static void add_correction(const struct rp_rec_correction *correction, struct rp_text *text)
{
    char name[24];
    rp_text_add(text, "%s ", rp_show_record_name(correction->about, name));
    if (correction->replacement.origin != 0) {
        rp_text_add(text, "replaced by %s", rp_show_record_name(correction->replacement, name));
    } else {
        rp_text_add(text, "entered in error");
    }
    rp_text_add(text, ": ");
    add_start(correction->reason, 50, text);
}

static void add_volume(const char *word, struct rp_value ml, struct rp_text *text)
{
    if (ml.state == RP_MEASURED) {
        rp_text_add(text, "%s %d mL, ", word, ml.value);
    } else if (ml.state == RP_UNABLE) {
        rp_text_add(text, "%s no result, ", word);
    }
}

static void add_fluids(const struct rp_rec_fluids *fluids, struct rp_text *text)
{
    add_volume("urine", fluids->urine_ml, text);
    add_volume("drunk", fluids->drunk_ml, text);
    if (fluids->has_span) {
        rp_text_add(text, "in %u min", fluids->span_min);
    } else {
        rp_text_add(text, "time span not said");
    }
}

/* Whole: a reader must not take half an allergy for all of it. What nobody asked is left out. */
static void add_background(const struct rp_rec_background *known, struct rp_text *text)
{
    const struct {
        const char *word;
        const struct rp_known *fact;
    } facts[] = {{"allergies", &known->allergies},
                 {"medicines", &known->medicines},
                 {"history", &known->history},
                 {"last meal", &known->last_meal},
                 {"contact", &known->contact}};
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
        const struct rp_known *fact = facts[i].fact;
        if (fact->state != RP_NOT_ASKED) {
            rp_text_add(text, "%s%s %s", text->len > 0 ? "; " : "", facts[i].word,
                        fact->state == RP_KNOWN ? fact->text : "none");
        }
    }
}

/* What can be said of a record in one short line; station cards and the net's own records too. */
static void summarise(const struct rp_record *record, struct rp_text *text)
{
    switch (record->kind) {
    case RP_REC_EPISODE:
        rp_text_add(text, "%s", record->as.opened.patient);
        break;
    case RP_REC_NOTE:
        add_start(record->as.note.text, 60, text);
        break;
    case RP_REC_TREATMENT:
        rp_text_add(text, "%s%s", record->as.treatment.refused ? "REFUSED " : "",
                    record->as.treatment.name);
        if (record->as.treatment.has_dose) {
            rp_text_add(text, " ");
            rp_show_dose(&record->as.treatment, text);
            rp_text_add(text, " %s", rp_word_of(rp_words_route, record->as.treatment.route));
        }
        if (record->as.treatment.flags != 0) {
            rp_text_add(text, ", AGAINST THE TABLE, confirmed %s", record->as.treatment.confirmed);
        }
        break;
    case RP_REC_OXYGEN:
        add_oxygen(&record->as.oxygen, text);
        break;
    case RP_REC_CHAMBER:
        rp_text_add(text, "session %u %s", record->as.chamber.session,
                    rp_phase_word(record->as.chamber.phase));
        break;
    case RP_REC_REASSESS:
        rp_text_add(text, "%s", rp_condition_word(record->as.reassess.condition));
        break;
    case RP_REC_DESCENT:
        rp_text_add(text, "%s%s", record->as.descent.descending ? "going down" : "not down: ",
                    rp_word_of(rp_words_why_not, record->as.descent.why_not));
        if (record->as.descent.has_way) {
            rp_text_add(text, "; the way takes %u min", record->as.descent.way_min);
        }
        break;
    case RP_REC_EVACUATION:
        rp_text_add(text, "%s %s%s", rp_word_of(rp_words_urgency, record->as.evacuation.urgency),
                    rp_word_of(rp_words_mobility, record->as.evacuation.mobility),
                    record->as.evacuation.revises.origin != 0 ? " (revised)" : "");
        break;
    case RP_REC_EVAC_CANCEL:
        add_start(record->as.evac_cancel.reason, 60, text);
        break;
    case RP_REC_ANSWER:
        rp_text_add(text, "%s%s%s", rp_answer_word(record->as.answer.kind),
                    record->as.answer.whom[0] != '\0' ? " " : "", record->as.answer.whom);
        break;
    case RP_REC_READBACK:
        add_start(record->as.readback.text, 60, text);
        break;
    case RP_REC_HANDOVER:
        rp_text_add(text, "%s, %s", record->as.handover.team, record->as.handover.taken_by);
        break;
    case RP_REC_CORRECTION:
        add_correction(&record->as.correction, text);
        break;
    case RP_REC_CLOSE:
        rp_text_add(text, "%s", rp_word_of(rp_words_outcome, record->as.close.outcome));
        break;
    case RP_REC_STATUS:
        rp_text_add(text, "%s, %s", rp_condition_word(record->as.status.condition),
                    rp_phase_word(record->as.status.phase));
        if (record->as.status.next_min > 0) {
            rp_text_add(text, ", next within %u min", record->as.status.next_min);
        }
        break;
    case RP_REC_STATION:
        rp_text_add(text, "%s", record->as.station.name);
        break;
    case RP_REC_CLOCK:
        rp_text_add(text, "moved by %d s", (int)record->as.clock.offset_s);
        break;
    case RP_REC_ALARM:
        rp_text_add(text, "%s %s", rp_watch_rule_word(record->as.alarm.rule),
                    record->as.alarm.action == RP_ALARM_ACK ? "acknowledged" : "snoozed");
        break;
    case RP_REC_PUMPING:
        rp_text_add(text, "%u stroke%s in %u s%s%s", record->as.pumping.strokes,
                    record->as.pumping.strokes == 1 ? "" : "s", record->as.pumping.spell_s,
                    record->as.pumping.pumper[0] != '\0' ? ", " : "", record->as.pumping.pumper);
        break;
    case RP_REC_STOCK:
        rp_text_add(text, "%s ", record->as.stock.name);
        rp_show_amount(record->as.stock.left_milli, record->as.stock.unit, text);
        rp_text_add(text, " left");
        break;
    case RP_REC_FLUIDS:
        add_fluids(&record->as.fluids, text);
        break;
    case RP_REC_BACKGROUND:
        add_background(&record->as.background, text);
        break;
    case RP_REC_RECEIPT:
        break;
    }
}

static struct key key_of(const struct rp_record_row *row)
{
    return (struct key){row->time_s, row->seq_first, row->origin};
}

static int compare_keys(const void *left, const void *right)
{
    const struct key *a = left, *b = right;
    if (a->time_s != b->time_s) {
        return a->time_s < b->time_s ? -1 : 1;
    }
    if (a->origin != b->origin) {
        return a->origin < b->origin ? -1 : 1;
    }
    return a->seq < b->seq ? -1 : a->seq > b->seq;
}

static int note_key(void *arg, const struct rp_record_row *row)
{
    struct rows *rows = arg;
    if (rows->key_count == rows->key_room) {
        size_t room = rows->key_room > 0 ? 2 * rows->key_room : 1024;
        struct key *keys = realloc(rows->keys, room * sizeof *keys);
        if (keys == NULL) {
            return RP_E_MEMORY;
        }
        rows->keys = keys;
        rows->key_room = room;
    }
    rows->keys[rows->key_count++] = key_of(row);
    return 0;
}

/* The `newest` records by time but for the `skip` newest of all. */
static int choose_part(struct rows *rows, const struct rp_record_filter *filter, uint32_t newest,
                       uint32_t skip)
{
    int code = rp_node_each_record(rows->show->entry->node, filter, note_key, rows);
    if (code == RP_OK && rows->key_count > 0) {
        qsort(rows->keys, rows->key_count, sizeof *rows->keys, compare_keys);
    }
    rows->last = rows->key_count > skip ? rows->key_count - skip : 0;
    rows->first = rows->last > newest ? rows->last - newest : 0;
    json_object_set_new(rows->show->data, "total", json_integer((json_int_t)rows->key_count));
    return code;
}

static bool is_chosen(const struct rows *rows, const struct rp_record_row *row)
{
    struct key key = key_of(row);
    return rows->first < rows->last && compare_keys(&key, &rows->keys[rows->first]) >= 0 &&
           compare_keys(&key, &rows->keys[rows->last - 1]) <= 0;
}

/* A whole number after a word of the range. */
static int read_count(struct rp_entry *entry, const char *field, uint32_t *out_count)
{
    const char *word;
    int code = rp_entry_need(entry, field, "log 7-1 newest 50 skip 100", &word);
    if (code < 0) {
        return code;
    }
    size_t len = strlen(word);
    if (len == 0 || len > 7 || strspn(word, "0123456789") != len) {
        return rp_problem_set(entry->problem, RP_E_INVALID, field,
                              "\"%.16s\" is no whole number of records up to 9999999 "
                              "(example: log 7-1 newest 50 skip 100)",
                              word);
    }
    *out_count = (uint32_t)strtoul(word, NULL, 10);
    return RP_OK;
}

/* "newest 50", and "skip 100" newer ones before them: a long log in parts. Nothing: all of it. */
static int read_range(struct rp_entry *entry, uint32_t *out_newest, uint32_t *out_skip)
{
    const char *word;
    *out_newest = UINT32_MAX;
    *out_skip = 0;
    while ((word = rp_entry_take(entry)) != NULL) {
        int code;
        if (strcmp(word, "newest") == 0) {
            code = read_count(entry, "newest", out_newest);
        } else if (strcmp(word, "skip") == 0) {
            code = read_count(entry, "skip", out_skip);
        } else {
            code = rp_problem_set(entry->problem, RP_E_INVALID, "log",
                                  "\"%.16s\" is not understood (example: log 7-1 newest 50)", word);
        }
        if (code < 0) {
            return code;
        }
    }
    return RP_OK;
}

static bool names_episode(const struct rp_entry *entry)
{
    const char *word = rp_entry_peek(entry);
    return word != NULL && strcmp(word, "newest") != 0 && strcmp(word, "skip") != 0;
}

static int show_record(void *arg, const struct rp_record_row *row)
{
    struct rows *rows = arg;
    if (rows->part && !is_chosen(rows, row)) {
        return 0;
    }
    struct rp_show *show = rows->show;
    struct rp_record record;
    struct rp_record_ref ref = {row->origin, row->seq_first};
    char name[24], time[24], line[SUMMARY_LEN_MAX + 1], episode[24] = "";
    struct rp_text text = rp_text_on(line, sizeof line);
    bool readable = rp_record_decode(row->body, row->origin, &record) == RP_OK;
    if (readable) {
        summarise(&record, &text);
    } else {
        rp_text_add(&text, "made by a newer version; kept as it is");
    }
    if (row->episode.number != 0) {
        rp_show_episode_name(show->entry->node, row->episode, episode);
    }
    const struct rp_source from = {.ref = ref, .recorded_s = row->time_s};
    bool late = rows->folded != NULL && rp_episode_is_late(rows->folded, &from);
    rp_text_add(show->text, "%s%-7s %-6s %s%s%s  %-20s  %s%s%s\n", row->exercise ? "EXERCISE " : "",
                rp_show_record_in(&rows->logs, ref, name), episode,
                rp_show_time(show->entry->now_s, row->time_s, time),
                row->unsynced ? " (clock not synchronised)" : "",
                late ? " (AFTER THE HANDOVER)" : "",
                readable ? rp_record_kind_word(row->kind) : "unreadable record", line,
                readable && record.by[0] ? (line[0] != '\0' ? "  by " : "by ") : "",
                readable ? record.by : "");
    json_array_append_new(
        rows->array,
        json_pack("{s:s,s:i,s:i,s:s,s:s,s:i,s:I,s:I,s:b,s:b,s:b,s:s,s:s}", "record", name, "origin",
                  row->origin, "seq", (int)row->seq_first, "episode", episode, "kind",
                  readable ? rp_record_kind_word(row->kind) : "?", "parts",
                  (int)(row->seq_last - row->seq_first + 1), "time_s", (json_int_t)row->time_s,
                  "stored_unix_s", (json_int_t)row->stored_s, "exercise", row->exercise, "unsynced",
                  row->unsynced, "late", late, "summary", line, "by", readable ? record.by : ""));
    return show->text->cut ? 1 : 0;
}

int rp_show_log(struct rp_show *show)
{
    struct rows rows = {.show = show, .array = json_array()};
    struct rp_record_filter filter = {0};
    uint32_t newest = 0, skip = 0;
    json_object_set_new(show->data, "records", rows.array);
    int code = names_episode(show->entry) ? rp_entry_episode(show->entry, &filter.episode) : RP_OK;
    if (code == RP_OK) {
        code = read_range(show->entry, &newest, &skip);
    }
    if (code == RP_OK && filter.episode.number != 0) {
        code = rp_entry_fold(show->entry, filter.episode, &rows.folded);
    }
    if (code == RP_OK) {
        code = rp_show_logs_find(show->entry->node, &rows.logs);
    }
    rows.part = newest != UINT32_MAX || skip != 0;
    if (code == RP_OK && rows.part) {
        code = choose_part(&rows, &filter, newest, skip);
    }
    if (code == RP_OK) {
        code = rp_node_each_record(show->entry->node, &filter, show_record, &rows);
    }
    free(rows.keys);
    if (code == 1) {
        return rp_problem_set(show->entry->problem, RP_E_TOO_LONG, "log",
                              "the log is too long to show at once: name an episode or ask for "
                              "a part (example: log 7-1 newest 50 skip 100)");
    }
    return code;
}
