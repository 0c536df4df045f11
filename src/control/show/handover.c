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

/* Made of the records, not of what is folded from them, so no row of the table of forms. */
#define LINES_WORD "jsonl"

static int show_lines(struct rp_show *show, struct rp_episode_ref ref)
{
    json_object_set_new(show->data, "form", json_string(LINES_WORD));
    json_object_set_new(show->data, "type", json_string("application/jsonl"));
    json_object_set_new(show->data, "suffix", json_string("jsonl"));
    return rp_show_lines(show, ref);
}

/* "form csv" after the episode, or nothing: the usual sheet. NULL: the log's JSON lines. */
static int read_form(struct rp_entry *entry, const struct rp_form **out_form)
{
    const char *word = rp_entry_take(entry);
    char list[200];
    struct rp_text all = rp_text_on(list, sizeof list);
    *out_form = rp_form_at(0);
    if (word == NULL) {
        return RP_OK;
    }
    const char *name = strcmp(word, "form") == 0 ? rp_entry_take(entry) : NULL;
    const struct rp_form *form = name != NULL ? rp_form_find(name) : NULL;
    if (name != NULL && strcmp(name, LINES_WORD) == 0) {
        *out_form = NULL;
        return RP_OK;
    }
    if (form == NULL) {
        for (size_t i = 0; rp_form_at(i) != NULL; i++) {
            rp_text_add(&all, "%s%s", i > 0 ? ", " : "", rp_form_at(i)->word);
        }
        rp_text_add(&all, ", %s", LINES_WORD);
        return rp_problem_set(entry->problem, RP_E_INVALID, "form",
                              "\"%.16s\" is no form; forms: %s (example: handover 7-1 form csv)",
                              name != NULL ? name : word, list);
    }
    *out_form = form;
    return RP_OK;
}

/* A sheet that a person may print has a number of its own; data for a program has that of the
 * newest sheet. */
static int number_sheet(struct rp_entry *entry, const struct rp_form *form, bool draft,
                        struct rp_episode_ref ref)
{
    int number = form->is_sheet && !draft ? rp_node_next_sheet(entry->node, ref)
                                          : rp_node_last_sheet(entry->node, ref);
    return number < 0 ? rp_problem_set(entry->problem, number, "handover",
                                       "the sheet cannot be made: the database fails")
                      : number;
}

/* "draft" at the end: to look whether something changed, not to print. It gets no number. */
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
    const struct rp_form *form = NULL;
    bool draft = take_draft(entry);
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = read_form(entry, &form);
    }
    if (code < 0) {
        return code;
    }
    if (form == NULL) {
        return show_lines(show, ref);
    }
    code = rp_node_episode(entry->node, ref, entry->moment, &input.episode, &input.holdings,
                           &input.holding_count);
    int number = code == RP_OK ? number_sheet(entry, form, draft, ref) : code;
    if (number < 0) {
        return number;
    }
    const struct rp_node_config *config = rp_node_config(entry->node);
    input.now_s = entry->now_s;
    input.sheet_number = (uint32_t)number;
    input.station = config->station;
    input.station_name = config->name;
    input.station_name_of = name_of;
    input.names_ctx = entry->node;
    int len = rp_form_make(form, &input, &rp_texts_english, show->text->buf, show->text->cap);
    if (len < 0) {
        return rp_problem_set(entry->problem, len, "handover", "the sheet is too long to print");
    }
    show->text->len = (size_t)len;
    char check[5];
    rp_sheet_check(&input, check);
    json_object_set_new(show->data, "sheet", json_integer(number));
    json_object_set_new(show->data, "check", json_string(check));
    json_object_set_new(show->data, "form", json_string(form->word));
    json_object_set_new(show->data, "type", json_string(form->type));
    json_object_set_new(show->data, "suffix", json_string(form->suffix));
    json_object_set_new(show->data, "exercise", json_boolean(input.episode->exercise));
    return RP_OK;
}
