/* The words of an entry, one at a time. */
#include <stdio.h>
#include <string.h>

#include "clinical/quantity.h"
#include "control/entries.h"

const char *rp_entry_peek(const struct rp_entry *entry)
{
    return entry->next < entry->count ? entry->args[entry->next] : NULL;
}

const char *rp_entry_take(struct rp_entry *entry)
{
    return entry->next < entry->count ? entry->args[entry->next++] : NULL;
}

int rp_entry_need(struct rp_entry *entry, const char *field, const char *example,
                  const char **out_word)
{
    const char *word = rp_entry_take(entry);
    if (word == NULL || word[0] == '\0') {
        return rp_problem_set(entry->problem, RP_E_FORMAT, field,
                              "%s: something is missing after it (example: %s)", field, example);
    }
    *out_word = word;
    return RP_OK;
}

int rp_entry_choose(struct rp_entry *entry, const char *field, const struct rp_word *words,
                    const char *word, uint8_t *out_value)
{
    int value = rp_word_find(words, word);
    if (value < 0) {
        char list[140];
        rp_words_list(words, list, sizeof list);
        return rp_problem_set(entry->problem, RP_E_INVALID, field,
                              "%s: \"%.24s\" is none of %s (example: %s %s)", field, word, list,
                              field, words->word);
    }
    *out_value = (uint8_t)value;
    return RP_OK;
}

int rp_entry_text(struct rp_entry *entry, const char *field, const char *text, char *out_text,
                  size_t len)
{
    size_t used = strlen(text);
    if (used > len) {
        return rp_problem_set(entry->problem, RP_E_TOO_LONG, field,
                              "%s: %zu bytes, at most %zu fit; put the rest into a note "
                              "(example: note 7-1 \"the rest\")",
                              field, used, len);
    }
    if (used > 0 && strspn(text, " ") == used) {
        return rp_problem_set(entry->problem, RP_E_INVALID, field,
                              "%s: nothing but spaces; leave it out, or say what it is (example: "
                              "%s \"two words\")",
                              field, field);
    }
    for (size_t i = 0; i < used; i++) {
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7f) {
            return rp_problem_set(entry->problem, RP_E_INVALID, field,
                                  "%s: byte %zu is a control character; only plain text is taken "
                                  "(example: %s \"two words\")",
                                  field, i + 1, field);
        }
    }
    memcpy(out_text, text, used + 1);
    return RP_OK;
}

int rp_entry_quantity(struct rp_entry *entry, enum rp_range_id id, const char *word,
                      const char *example, const char *text, int32_t *out_value)
{
    struct rp_range range = *rp_range_of(id);
    range.word = word != NULL ? word : range.word;
    range.example = example != NULL ? example : range.example;
    return rp_range_parse(&range, text, entry->sure, out_value, entry->problem);
}

/* "14:05Z": seconds of the UTC day, or -1. */
static int32_t read_day_time(const char *text)
{
    unsigned hour, minute;
    char zone, rest;
    if (strlen(text) > 6 || sscanf(text, "%2u:%2u%c%c", &hour, &minute, &zone, &rest) != 3 ||
        (zone != 'Z' && zone != 'z') || hour > 23 || minute > 59) {
        return -1;
    }
    return (int32_t)(hour * 3600 + minute * 60);
}

int rp_entry_time(struct rp_entry *entry, const char *field, const char *text, bool future,
                  uint32_t *out_time_s)
{
    const uint32_t day_s = 86400;
    int32_t of_day_s = read_day_time(text);
    if (of_day_s >= 0) {
        /* The net epoch is midnight UTC, so days of net time are days of UTC. */
        uint32_t at_s = entry->now_s - entry->now_s % day_s + (uint32_t)of_day_s;
        if (future && at_s < entry->now_s) {
            at_s += day_s;
        } else if (!future && at_s > entry->now_s && at_s >= day_s) {
            at_s -= day_s;
        }
        *out_time_s = at_s;
        return RP_OK;
    }
    int32_t span_s = 0;
    int code = rp_quantity_parse(RP_DIM_DURATION, field, text, &span_s, NULL);
    if (code < 0 || span_s < 0 || span_s > 30 * 86400 ||
        (!future && (uint32_t)span_s > entry->now_s)) {
        return rp_problem_set(entry->problem, RP_E_INVALID, field,
                              "%s: \"%.20s\" is no time; say UTC with Z or a span of at most 30 "
                              "days (example: %s 14:05Z, or %s 1h30)",
                              field, text, field, field);
    }
    *out_time_s = future ? entry->now_s + (uint32_t)span_s : entry->now_s - (uint32_t)span_s;
    return RP_OK;
}

static bool looks_like_episode(const char *word)
{
    size_t digits = strspn(word, "0123456789");
    size_t rest = strspn(word, "0123456789-/");
    return digits > 0 && word[rest] == '\0';
}

int rp_entry_episode(struct rp_entry *entry, struct rp_episode_ref *out_ref)
{
    const char *word = rp_entry_peek(entry);
    bool named = word != NULL && looks_like_episode(word);
    if (named) {
        entry->next++;
    }
    return rp_node_find_episode(entry->node, named ? word : "", out_ref, entry->problem);
}

int rp_entry_row_episode(void *arg, const struct rp_record_row *row)
{
    *(struct rp_episode_ref *)arg = row->episode;
    return 0;
}

struct rp_record rp_entry_record(const struct rp_entry_common *common, enum rp_record_kind kind,
                                 struct rp_episode_ref episode)
{
    struct rp_record record = {
        .kind = kind, .episode = episode, .via = common->via, .ago_s = common->ago_s};
    memcpy(record.by, common->by, sizeof record.by);
    return record;
}

int rp_entry_commit(struct rp_entry *entry, struct rp_record *record, struct rp_entered *entered)
{
    struct rp_record_ref ref;
    int code = rp_node_enter(entry->node, record, entry->moment, &ref, entry->problem);
    if (code == RP_OK && entered->count < RP_ENTERED_MAX) {
        entered->refs[entered->count] = ref;
        entered->kinds[entered->count++] = (uint8_t)record->kind;
        entered->episode = record->episode;
    }
    return code;
}

int rp_entry_fold(struct rp_entry *entry, struct rp_episode_ref ref,
                  const struct rp_episode **out_episode)
{
    const struct rp_holding *holdings;
    size_t count;
    int code = rp_node_episode(entry->node, ref, entry->moment, out_episode, &holdings, &count);
    return code < 0 ? rp_problem_set(entry->problem, code, "episode",
                                     "the episode cannot be read from the database")
                    : RP_OK;
}

int rp_entry_folded(struct rp_entry *entry, struct rp_episode_ref *out_ref,
                    const struct rp_episode **out_episode)
{
    int code = rp_entry_episode(entry, out_ref);
    return code < 0 ? code : rp_entry_fold(entry, *out_ref, out_episode);
}
