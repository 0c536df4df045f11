#include "control/record/lines.h"

#include <stdlib.h>

#include "control/record/json.h"

struct lines {
    struct rp_show *show;
    uint32_t count;
};

static void add_body(json_t *line, struct rp_view body)
{
    static const char digits[] = "0123456789abcdef";
    char hex[2 * RP_RECORD_LEN_MAX + 1];
    size_t len = body.len < RP_RECORD_LEN_MAX ? body.len : RP_RECORD_LEN_MAX;
    for (size_t i = 0; i < len; i++) {
        hex[2 * i] = digits[body.bytes[i] >> 4];
        hex[2 * i + 1] = digits[body.bytes[i] & 15];
    }
    json_object_set_new(line, "body", json_stringn(hex, 2 * len));
}

static void add_readable(json_t *line, const struct rp_record *record)
{
    static const char *const vias[] = {"entered", "paper", "voice"};
    json_object_set_new(line, "kind", json_string(rp_record_kind_word((int)record->kind)));
    json_object_set_new(line, "ago_s", json_integer(record->ago_s));
    json_object_set_new(line, "via",
                        json_string(record->via <= RP_VIA_VOICE ? vias[record->via] : "?"));
    json_object_set_new(line, "by", json_string(record->by));
    json_object_set_new(line, "says", rp_record_json(record));
}

static int add_line(void *arg, const struct rp_record_row *row)
{
    struct lines *lines = arg;
    struct rp_show *show = lines->show;
    struct rp_record record;
    struct rp_record_ref ref = {row->origin, row->seq_first};
    char name[24], episode[24];
    json_t *line = json_object();
    if (row->exercise) {
        json_object_set_new(line, "EXERCISE", json_string("EXERCISE - NOT REAL"));
    }
    json_object_set_new(line, "record", json_string(rp_show_record_name(ref, name)));
    json_object_set_new(line, "origin", json_integer(row->origin));
    json_object_set_new(line, "seq", json_integer(row->seq_first));
    json_object_set_new(
        line, "episode",
        json_string(rp_show_episode_name(show->entry->node, row->episode, episode)));
    json_object_set_new(line, "time_s", json_integer(row->time_s));
    json_object_set_new(line, "exercise", json_boolean(row->exercise));
    json_object_set_new(line, "urgent", json_boolean(row->urgent));
    json_object_set_new(line, "unsynced", json_boolean(row->unsynced));
    if (rp_record_decode(row->body, row->origin, &record) == RP_OK) {
        add_readable(line, &record);
    }
    add_body(line, row->body);
    char *text = json_dumps(line, JSON_COMPACT);
    json_decref(line);
    if (text == NULL) {
        return RP_E_MEMORY;
    }
    rp_text_add(show->text, "%s\n", text);
    free(text);
    lines->count++;
    return show->text->cut ? 1 : 0;
}

int rp_show_lines(struct rp_show *show, struct rp_episode_ref episode)
{
    struct lines lines = {.show = show};
    struct rp_record_filter filter = {.episode = episode};
    int code = rp_node_each_record(show->entry->node, &filter, add_line, &lines);
    json_object_set_new(show->data, "records", json_integer(lines.count));
    if (code == 1) {
        return rp_problem_set(show->entry->problem, RP_E_TOO_LONG, "form",
                              "the log is too long for one reply: ask for parts of it "
                              "(example: log 7-1 newest 200 skip 400)");
    }
    return code;
}
