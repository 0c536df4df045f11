/* The handover, in any form. */
#include <stdio.h>
#include <string.h>

#include "control/record/lines.h"
#include "control/show/show.h"
#include "handover/forms.h"

static const char *name_of(void *ctx, uint8_t station)
{
    return rp_node_station_name(ctx, station);
}

/* What is asked for after the episode. */
struct wish {
    const struct rp_form *form; /* NULL: the log's JSON lines */
    const struct rp_texts *texts;
    struct rp_lines_part part; /* of the JSON lines */
};

static int show_lines(struct rp_show *show, struct rp_episode_ref ref,
                      const struct rp_lines_part *part)
{
    json_object_set_new(show->data, "form", json_string(RP_LINES_WORD));
    json_object_set_new(show->data, "type", json_string("application/jsonl"));
    json_object_set_new(show->data, "suffix", json_string("jsonl"));
    return rp_show_lines(show, ref, part);
}

static int refuse_form(struct rp_entry *entry, const char *word)
{
    char list[200];
    struct rp_text all = rp_text_on(list, sizeof list);
    for (size_t i = 0; rp_form_at(i) != NULL; i++) {
        rp_text_add(&all, "%s, ", rp_form_at(i)->word);
    }
    rp_text_add(&all, "%s", RP_LINES_WORD);
    return rp_problem_set(entry->problem, RP_E_INVALID, "form",
                          "\"%.16s\" is no form; forms: %s (example: handover 7-1 form csv)", word,
                          list);
}

static int refuse_language(struct rp_entry *entry, const char *word)
{
    char list[300];
    struct rp_text all = rp_text_on(list, sizeof list);
    for (size_t i = 0; i < rp_texts_count; i++) {
        const char *const *words = rp_texts_all[i]->words;
        rp_text_add(&all, "%s%s %s", i > 0 ? ", " : "", words[RP_TX_LANGUAGE_CODE],
                    words[RP_TX_LANGUAGE_NAME]);
    }
    return rp_problem_set(entry->problem, RP_E_INVALID, "lang",
                          "\"%.16s\" is no language of the forms; languages: %s (example: "
                          "handover 7-1 lang %s)",
                          word, list, rp_texts_all[rp_texts_count - 1]->words[RP_TX_LANGUAGE_CODE]);
}

/* One word and what follows it; RP_OK also for a part that is wrong for the form. */
static int read_wish_word(struct rp_entry *entry, const char *word, struct wish *wish)
{
    if (rp_lines_part_takes(word)) {
        return rp_lines_part_read(entry, word, &wish->part);
    }
    bool form = strcmp(word, "form") == 0, lang = strcmp(word, "lang") == 0;
    const char *name = form || lang ? rp_entry_take(entry) : word;
    name = name != NULL ? name : "";
    if (lang) {
        wish->texts = rp_texts_find(name);
        return wish->texts != NULL ? RP_OK : refuse_language(entry, name);
    }
    wish->form = form ? rp_form_find(name) : NULL;
    return wish->form != NULL || (form && strcmp(name, RP_LINES_WORD) == 0)
               ? RP_OK
               : refuse_form(entry, name);
}

/* "form csv lang fr" in any order; without: the usual sheet in English. */
static int read_wish(struct rp_entry *entry, struct wish *wish)
{
    const char *word;
    int code = RP_OK;
    while (code == RP_OK && (word = rp_entry_take(entry)) != NULL) {
        code = read_wish_word(entry, word, wish);
    }
    if (code == RP_OK && wish->form != NULL && wish->part.asked) {
        code =
            rp_problem_set(entry->problem, RP_E_INVALID, "part",
                           "only the form " RP_LINES_WORD " comes in parts (example: handover 7-1 "
                           "form " RP_LINES_WORD " count 100)");
    }
    return code;
}

/* The stations that have told where they are; this one first, by its configuration: its card is in
 * the log as well. */
struct stations {
    size_t count;
    struct rp_sheet_station rows[RP_STATION_MAX + 1];
};

static int add_station(void *arg, const struct rp_station_row *row)
{
    struct stations *all = arg;
    bool again = all->count > 0 && all->rows[0].number == row->station;
    if (row->has_card && row->position.present && !again && all->count <= RP_STATION_MAX) {
        struct rp_sheet_station *station = &all->rows[all->count++];
        station->number = row->station;
        station->role = (uint8_t)row->role;
        memcpy(station->name, row->name, sizeof station->name);
        station->position = row->position;
        station->altitude = row->altitude;
    }
    return 0;
}

static int find_stations(struct rp_node *node, struct stations *all)
{
    const struct rp_node_config *config = rp_node_config(node);
    struct rp_station_row own = {.station = config->station,
                                 .has_card = true,
                                 .role = config->role,
                                 .altitude = config->altitude,
                                 .position = config->position};
    snprintf(own.name, sizeof own.name, "%s", config->name);
    all->count = 0;
    (void)add_station(all, &own);
    return rp_node_each_station(node, add_station, all);
}

/* A sheet that a person may print has a number of its own, a draft of it none (0); data for a
 * program has that of the newest sheet. */
static int number_sheet(struct rp_entry *entry, const struct rp_form *form, bool draft,
                        struct rp_episode_ref ref)
{
    if (form->is_sheet && draft) {
        return 0;
    }
    int number = form->is_sheet ? rp_node_next_sheet(entry->node, ref)
                                : rp_node_last_sheet(entry->node, ref);
    return number < 0 ? rp_problem_set(entry->problem, number, "handover",
                                       "the sheet cannot be made: the database fails")
                      : number;
}

/* "draft" at the end: to be looked at, not to be given to anybody. It gets no number. */
static bool take_draft(struct rp_entry *entry)
{
    bool draft = entry->count > entry->next && strcmp(entry->args[entry->count - 1], "draft") == 0;
    entry->count -= draft;
    return draft;
}

int rp_show_handover(struct rp_show *show)
{
    struct rp_entry *entry = show->entry;
    struct rp_episode_ref ref;
    struct rp_sheet_input input = {0};
    struct wish wish = {.form = rp_form_at(0), .texts = &rp_texts_english};
    struct stations stations;
    bool draft = take_draft(entry);
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = read_wish(entry, &wish);
    }
    if (code < 0) {
        return code;
    }
    const struct rp_form *form = wish.form;
    if (form == NULL) {
        return show_lines(show, ref, &wish.part);
    }
    code = rp_node_episode(entry->node, ref, entry->moment, &input.episode, &input.holdings,
                           &input.holding_count);
    int number = code == RP_OK ? number_sheet(entry, form, draft, ref) : code;
    if (number >= 0) {
        code = find_stations(entry->node, &stations);
    }
    if (number < 0 || code < 0) {
        return number < 0 ? number : code;
    }
    const struct rp_node_config *config = rp_node_config(entry->node);
    input.now_s = entry->now_s;
    input.sheet_number = (uint32_t)number;
    input.station = config->station;
    input.station_name = config->name;
    input.station_name_of = name_of;
    input.names_ctx = entry->node;
    input.protocol = config->protocol;
    input.stations = stations.rows;
    input.station_count = stations.count;
    int len = rp_form_make(form, &input, wish.texts, show->text->buf, show->text->cap);
    if (len < 0) {
        return rp_problem_set(entry->problem, len, "handover", "the sheet is too long to print");
    }
    show->text->len = (size_t)len;
    char check[5];
    rp_sheet_check(&input, check);
    json_object_set_new(show->data, "sheet", json_integer(number));
    json_object_set_new(show->data, "check", json_string(check));
    json_object_set_new(show->data, "form", json_string(form->word));
    json_object_set_new(show->data, "lang", json_string(wish.texts->words[RP_TX_LANGUAGE_CODE]));
    json_object_set_new(show->data, "type", json_string(form->type));
    json_object_set_new(show->data, "suffix", json_string(form->suffix));
    json_object_set_new(show->data, "exercise", json_boolean(input.episode->exercise));
    return RP_OK;
}
