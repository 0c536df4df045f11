#include "control/record/lines.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "control/record/json.h"

struct lines {
    struct rp_show *show;
    const struct rp_lines_part *part;
    const struct rp_episode *episode; /* NULL: of all */
    uint32_t count;
    struct rp_record_ref last; /* of the part */
    bool more;
};

bool rp_lines_part_takes(const char *word)
{
    return strcmp(word, "after") == 0 || strcmp(word, "count") == 0 || strcmp(word, "whole") == 0;
}

static int refuse(struct rp_entry *entry, const char *word, const char *text)
{
    return rp_problem_set(entry->problem, RP_E_INVALID, word,
                          "%s: \"%.20s\" is no such part (example: after 3589:42 count 200)", word,
                          text);
}

int rp_lines_part_read(struct rp_entry *entry, const char *word, struct rp_lines_part *part)
{
    char *end;
    part->asked = true;
    part->whole = part->whole || strcmp(word, "whole") == 0;
    if (strcmp(word, "whole") == 0) {
        return RP_OK;
    }
    const char *text = rp_entry_take(entry);
    text = text != NULL ? text : "";
    bool digit = text[0] >= '0' && text[0] <= '9';
    unsigned long first = digit ? strtoul(text, &end, 10) : 0;
    if (strcmp(word, "count") == 0) {
        bool good = digit && *end == '\0' && first > 0 && first <= UINT32_MAX;
        part->count = (uint32_t)first;
        return good ? RP_OK : refuse(entry, word, text);
    }
    if (!digit || *end != ':' || end[1] < '0' || end[1] > '9' || first == 0 || first > UINT16_MAX) {
        return refuse(entry, word, text);
    }
    unsigned long seq = strtoul(end + 1, &end, 10);
    part->after = (struct rp_record_ref){(uint16_t)first, (uint32_t)seq};
    return *end == '\0' && seq <= UINT32_MAX ? RP_OK : refuse(entry, word, text);
}

static bool is_before(struct rp_record_ref ref, struct rp_record_ref after)
{
    return ref.origin < after.origin || (ref.origin == after.origin && ref.seq <= after.seq);
}

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

static void add_late(json_t *line, const struct lines *lines, const struct rp_record *record,
                     struct rp_record_ref ref)
{
    const struct rp_source from = {.ref = ref, .recorded_s = record->time_s};
    if (lines->episode != NULL) {
        json_object_set_new(line, "late", json_boolean(rp_episode_is_late(lines->episode, &from)));
    }
}

static int add_line(void *arg, const struct rp_record_row *row)
{
    struct lines *lines = arg;
    struct rp_show *show = lines->show;
    struct rp_record record;
    struct rp_record_ref ref = {row->origin, row->seq_first};
    char name[24], episode[24];
    if (is_before(ref, lines->part->after)) {
        return 0;
    }
    if (lines->part->count > 0 && lines->count == lines->part->count) {
        lines->more = true;
        return 1;
    }
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
        add_late(line, lines, &record, ref);
    }
    add_body(line, row->body);
    char *text = json_dumps(line, JSON_COMPACT);
    json_decref(line);
    if (text == NULL) {
        return RP_E_MEMORY;
    }
    size_t before = show->text->len;
    rp_text_add(show->text, "%s\n", text);
    free(text);
    if (show->text->cut) { /* the next part begins with it */
        show->text->len = before;
        show->text->buf[before] = '\0';
        show->text->cut = false;
        lines->more = true;
        return 1;
    }
    lines->last = ref;
    lines->count++;
    return 0;
}

int rp_show_lines(struct rp_show *show, struct rp_episode_ref episode,
                  const struct rp_lines_part *part)
{
    struct lines lines = {.show = show, .part = part};
    struct rp_record_filter filter = {.episode =
                                          part->whole ? (struct rp_episode_ref){0, 0} : episode};
    int code = part->whole ? RP_OK : rp_entry_fold(show->entry, episode, &lines.episode);
    if (code == RP_OK) {
        code = rp_node_each_record(show->entry->node, &filter, add_line, &lines);
    }
    json_object_set_new(show->data, "records", json_integer(lines.count));
    if (lines.more && lines.count > 0) {
        char next[24];
        snprintf(next, sizeof next, "%u:%lu", lines.last.origin, (unsigned long)lines.last.seq);
        json_object_set_new(show->data, "next", json_string(next));
    }
    return code < 0 ? code : RP_OK;
}
