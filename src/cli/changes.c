#include "cli/changes.h"

#include <string.h>

#include "cli/ask.h"

/* What of a row counts. */
enum counts {
    WHOLE, /* all but what changes with the time of printing */
    LOUD,  /* the words that strike the eye: WORSE, IN CHAMBER; not its numbers */
    NOTHING
};

/* By section and label ("": all others of the section). What is not here is not important. */
static const struct important {
    const char *section, *key;
    enum counts counts;
} important[] = {
    {"HEADLINE", "NONE", WHOLE},
    {"HEADLINE", "L_GRID", WHOLE},
    {"HEADLINE", "L_CONDITION", LOUD},
    {"HEADLINE", "L_NOW", LOUD},
    {"HEADLINE", "L_EVAC", WHOLE},
    {"HEADLINE", "L_HANDED", WHOLE},
    {"HEADLINE", "L_CLOSED", WHOLE},
    {"SIGNS", "L_AIRWAY", LOUD},
    {"TREATMENT", "", WHOLE},
    {"ALLERGIES", "", WHOLE},
    {"MEDICINES", "", WHOLE},
    {"EVACUATION", "L_MISSING", NOTHING},
    {"EVACUATION", "", WHOLE},
    {"CORRECTIONS", "", WHOLE},
    {"COMPLETENESS", "L_CONFLICT", WHOLE},
    {"UNKNOWNS", "L_CONFLICT", WHOLE},
};

static const struct important *find_important(const json_t *row)
{
    const char *section = rp_ask_text(row, "section"), *key = rp_ask_text(row, "key");
    for (size_t i = 0; i < sizeof important / sizeof important[0]; i++) {
        if (strcmp(section, important[i].section) == 0 &&
            (important[i].key[0] == '\0' || strcmp(key, important[i].key) == 0)) {
            return important[i].counts == NOTHING ? NULL : &important[i];
        }
    }
    return NULL;
}

/* The loud words of both rows are the same. */
static bool same_loud(const json_t *left, const json_t *right)
{
    const json_t *a = json_object_get(left, "loud"), *b = json_object_get(right, "loud");
    if (json_array_size(a) != json_array_size(b)) {
        return false;
    }
    for (size_t i = 0; i + 1 < json_array_size(a); i += 2) {
        size_t from_a = (size_t)json_integer_value(json_array_get(a, i));
        size_t from_b = (size_t)json_integer_value(json_array_get(b, i));
        size_t len_a = (size_t)json_integer_value(json_array_get(a, i + 1)) - from_a;
        size_t len_b = (size_t)json_integer_value(json_array_get(b, i + 1)) - from_b;
        if (len_a != len_b || memcmp(rp_ask_text(left, "text") + from_a,
                                     rp_ask_text(right, "text") + from_b, len_a) != 0) {
            return false;
        }
    }
    return true;
}

static bool same(const json_t *left, const json_t *right, const struct important *how)
{
    if (find_important(right) != how ||
        strcmp(rp_ask_text(left, "key"), rp_ask_text(right, "key")) != 0) {
        return false;
    }
    return how->counts == LOUD
               ? same_loud(left, right)
               : json_equal(json_object_get(left, "sum"), json_object_get(right, "sum"));
}

static bool has(const json_t *sheet, const json_t *wanted, const struct important *how)
{
    const json_t *rows = json_object_get(sheet, "rows");
    for (size_t i = 0; i < json_array_size(rows); i++) {
        if (same(wanted, json_array_get(rows, i), how)) {
            return true;
        }
    }
    return false;
}

/* Calls visit with each important row of `of` that `other` has not; stops at true. */
static bool find_missing(const json_t *of, const json_t *other,
                         bool (*visit)(void *ctx, json_t *row), void *ctx)
{
    const json_t *rows = json_object_get(of, "rows");
    for (size_t i = 0; i < json_array_size(rows); i++) {
        json_t *row = json_array_get(rows, i);
        const struct important *how = find_important(row);
        if (how != NULL && !has(other, row, how) && visit(ctx, row)) {
            return true;
        }
    }
    return false;
}

static bool stop(void *ctx, json_t *row)
{
    (void)ctx;
    (void)row;
    return true;
}

bool rp_changes_any(const json_t *before, const json_t *now)
{
    return find_missing(now, before, stop, NULL) || find_missing(before, now, stop, NULL);
}

struct list {
    json_t *changes;
    const json_t *now;
    bool gone;
};

static bool has_label(const json_t *sheet, const json_t *wanted)
{
    const json_t *rows = json_object_get(sheet, "rows");
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        if (json_equal(json_object_get(row, "key"), json_object_get(wanted, "key")) &&
            json_equal(json_object_get(row, "section"), json_object_get(wanted, "section")) &&
            json_is_true(json_object_get(row, "changed"))) {
            return true;
        }
    }
    return false;
}

static bool add(void *ctx, json_t *row)
{
    struct list *list = ctx;
    if (list->gone && has_label(list->now, row)) {
        return false; /* the new row of that label tells it */
    }
    json_array_append_new(list->changes,
                          json_pack("{s:s,s:s,s:b}", "label", rp_ask_text(row, "label"), "text",
                                    rp_ask_text(row, "text"), "gone", list->gone));
    if (!list->gone) {
        json_object_set_new(row, "changed", json_true());
    }
    return false;
}

void rp_changes_add(const json_t *before, json_t *now)
{
    struct list list = {json_array(), now, false};
    find_missing(now, before, add, &list);
    list.gone = true;
    find_missing(before, now, add, &list);
    json_t *since = json_pack("{s:O,s:O}", "sheet", json_object_get(before, "sheet"), "check",
                              json_object_get(before, "check"));
    json_object_set_new(now, "since", since);
    json_object_set_new(now, "changes", list.changes);
}
