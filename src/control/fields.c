#include "control/fields.h"

#include <stdio.h>
#include <string.h>

#include "clinical/quantity.h"
#include "geo/geo.h"

static uint8_t *place(struct rp_record *record, size_t offset)
{
    return (uint8_t *)record + offset;
}

static void set_flag(struct rp_record *record, size_t offset)
{
    if (offset != 0) {
        bool yes = true;
        memcpy(place(record, offset), &yes, sizeof yes);
    }
}

static void put_value(struct rp_record *record, size_t offset, int32_t value)
{
    struct rp_value out = {RP_MEASURED, (int16_t)value};
    memcpy(place(record, offset), &out, sizeof out);
}

static int read_text(struct rp_entry *entry, const struct rp_field *field, const char *word,
                     struct rp_record *record)
{
    const char *name = field->word != NULL ? field->word : "text";
    return rp_entry_text(entry, name, word, (char *)place(record, field->at), field->size);
}

static int read_known(struct rp_entry *entry, const struct rp_field *field, const char *word,
                      struct rp_record *record)
{
    struct rp_known *known = (struct rp_known *)(void *)place(record, field->at);
    if (strcmp(word, "none") == 0 || strcmp(word, "unasked") == 0) {
        known->state = word[0] == 'n' ? RP_NONE_KNOWN : RP_NOT_ASKED;
        return RP_OK;
    }
    int code = rp_entry_text(entry, field->word, word, known->text, RP_LINE_LEN);
    if (code == RP_OK) {
        known->state = RP_KNOWN;
    }
    return code;
}

static int read_value(struct rp_entry *entry, const struct rp_field *field, const char *word,
                      struct rp_record *record)
{
    if (strcmp(word, "unable") == 0) {
        struct rp_value out = {RP_UNABLE, 0};
        memcpy(place(record, field->at), &out, sizeof out);
        return RP_OK;
    }
    int32_t value = 0;
    int code = rp_entry_quantity(entry, field->range, field->word, field->example, word, &value);
    if (code == RP_OK) {
        put_value(record, field->at, value);
    }
    return code;
}

static int read_number(struct rp_entry *entry, const struct rp_field *field, const char *word,
                       struct rp_record *record)
{
    int32_t value = 0;
    int code = rp_entry_quantity(entry, field->range, field->word, field->example, word, &value);
    if (code < 0) {
        return code;
    }
    uint8_t *at = place(record, field->at);
    if (field->size == 1) {
        uint8_t narrow = (uint8_t)value; /* also right for int8_t */
        memcpy(at, &narrow, 1);
    } else if (field->size == 2) {
        uint16_t narrow = (uint16_t)value;
        memcpy(at, &narrow, 2);
    } else {
        uint32_t wide = (uint32_t)value;
        memcpy(at, &wide, 4);
    }
    set_flag(record, field->has);
    return RP_OK;
}

static int read_word(struct rp_entry *entry, const struct rp_field *field, const char *word,
                     struct rp_record *record)
{
    uint8_t value = 0;
    int code = rp_entry_choose(entry, field->word, field->words, word, &value);
    if (code == RP_OK && field->size == sizeof(struct rp_value)) {
        put_value(record, field->at, value);
    } else if (code == RP_OK) {
        *place(record, field->at) = value;
    }
    return code;
}

static int read_finding(struct rp_entry *entry, const struct rp_field *field, const char *word,
                        struct rp_record *record)
{
    uint8_t value = 0;
    int code = rp_entry_choose(entry, field->word, rp_words_finding, word, &value);
    if (code == RP_OK) {
        enum rp_finding finding = (enum rp_finding)value;
        memcpy(place(record, field->at), &finding, sizeof finding);
    }
    return code;
}

static int read_position(struct rp_entry *entry, const struct rp_field *field, const char *word,
                         struct rp_record *record)
{
    struct rp_position position = {.present = true};
    uint16_t accuracy_m = 0;
    int code = rp_geo_parse(word, &position.lat_e6, &position.lon_e6, &accuracy_m, entry->problem);
    if (code == RP_OK) {
        /* A coarse grid square says how little is known; a fine one does not say who measured. */
        position.has_accuracy = accuracy_m > 1;
        position.accuracy_m = position.has_accuracy ? accuracy_m : 0;
        memcpy(place(record, field->at), &position, sizeof position);
    }
    return code;
}

static int read_altitude(struct rp_entry *entry, const struct rp_field *field, const char *word,
                         struct rp_record *record)
{
    int32_t metres = 0;
    int code =
        rp_entry_quantity(entry, RP_RANGE_ALTITUDE, field->word, field->example, word, &metres);
    if (code < 0) {
        return code;
    }
    struct rp_altitude altitude = {.present = true, .metres = (int16_t)metres};
    const char *source = rp_entry_peek(entry);
    int value = source != NULL ? rp_word_find(rp_words_altitude_source, source) : -1;
    if (value >= 0) {
        altitude.source = (uint8_t)value;
        entry->next++;
    }
    memcpy(place(record, field->at), &altitude, sizeof altitude);
    return RP_OK;
}

static int read_time(struct rp_entry *entry, const struct rp_field *field, const char *word,
                     struct rp_record *record)
{
    uint32_t time_s = 0;
    int code = rp_entry_time(entry, field->word, word, field->type == RP_FIELD_FUTURE, &time_s);
    if (code == RP_OK) {
        memcpy(place(record, field->at), &time_s, sizeof time_s);
        set_flag(record, field->has);
    }
    return code;
}

static int read_bits(struct rp_entry *entry, const struct rp_field *field, const char *word,
                     struct rp_record *record)
{
    uint8_t bits = 0;
    while (*word != '\0') {
        char one[RP_NAME_LEN + 1];
        size_t len = strcspn(word, ",");
        snprintf(one, sizeof one, "%.*s", (int)(len < sizeof one ? len : sizeof one - 1), word);
        uint8_t value = 0;
        int code = rp_entry_choose(entry, field->word, field->words, one, &value);
        if (code < 0) {
            return code;
        }
        bits |= value;
        word += len + (word[len] == ',');
    }
    memcpy(place(record, field->at), &bits, 1);
    set_flag(record, field->has);
    return RP_OK;
}

typedef int reader(struct rp_entry *entry, const struct rp_field *field, const char *word,
                   struct rp_record *record);

/* Readers of the types that take a word after their keyword. */
static reader *const readers[] = {
    [RP_FIELD_TEXT] = read_text,         [RP_FIELD_KNOWN] = read_known,
    [RP_FIELD_VALUE] = read_value,       [RP_FIELD_NUMBER] = read_number,
    [RP_FIELD_WORD] = read_word,         [RP_FIELD_FINDING] = read_finding,
    [RP_FIELD_POSITION] = read_position, [RP_FIELD_ALTITUDE] = read_altitude,
    [RP_FIELD_PAST] = read_time,         [RP_FIELD_FUTURE] = read_time,
    [RP_FIELD_BITS] = read_bits,         [RP_FIELD_CUSTOM] = NULL,
};

static bool at_end(const struct rp_field *field)
{
    return field->word == NULL && field->type == RP_FIELD_TEXT && field->size == 0;
}

static int read_keyed(struct rp_entry *entry, const struct rp_field *field,
                      struct rp_record *record)
{
    if (field->type == RP_FIELD_FLAG) {
        set_flag(record, field->at);
        return RP_OK;
    }
    if (field->type == RP_FIELD_CUSTOM) {
        return field->custom(entry, record);
    }
    const char *word = NULL;
    int code = rp_entry_need(entry, field->word, field->example, &word);
    return code < 0 ? code : readers[field->type](entry, field, word, record);
}

/* A word that is not a keyword: a choice, a bare quantity, or the bare text. */
static const struct rp_field *find_bare(const struct rp_field *fields, const char *word,
                                        int32_t *out_value)
{
    for (const struct rp_field *field = fields; !at_end(field); field++) {
        if (field->type == RP_FIELD_CHOICE) {
            *out_value = rp_word_find(field->words, word);
            if (*out_value >= 0) {
                return field;
            }
        }
        /* Bare quantities need their unit, so that no bare number is ever guessed at. */
        if (field->type == RP_FIELD_BARE && strpbrk(word, "0123456789") == word &&
            word[strspn(word, "0123456789.")] != '\0' &&
            rp_quantity_parse(rp_range_of(field->range)->dimension, "", word, out_value, NULL) ==
                RP_OK) {
            return field;
        }
    }
    for (const struct rp_field *field = fields; !at_end(field); field++) {
        /* Free text has a space in it: a mistyped word is never taken for a text. */
        bool free_text = strchr(word, ' ') != NULL;
        if (field->type == RP_FIELD_TEXT && field->word == NULL && free_text) {
            return field;
        }
    }
    return NULL;
}

static int read_bare(struct rp_entry *entry, const struct rp_field *field, const char *word,
                     int32_t value, struct rp_record *record)
{
    if (field->type == RP_FIELD_TEXT) {
        return read_text(entry, field, word, record);
    }
    if (field->type == RP_FIELD_BARE) {
        struct rp_range range = *rp_range_of(field->range);
        range.example = field->example != NULL ? field->example : range.example;
        int code = rp_range_check(&range, value, entry->sure, entry->problem);
        if (code == RP_OK) {
            put_value(record, field->at, value);
        }
        return code;
    }
    if (field->size == sizeof(struct rp_value)) {
        put_value(record, field->at, value);
    } else {
        *place(record, field->at) = (uint8_t)value;
    }
    set_flag(record, field->has);
    return RP_OK;
}

/* Adds ", word" or "/word" to a list; one that does not fit ends the list with " ...". */
static void add_word(char *list, size_t cap, const char *separator, const char *word)
{
    const char *more = " ...";
    size_t len = strlen(list);
    if (len >= strlen(more) && strcmp(list + len - strlen(more), more) == 0) {
        return;
    }
    bool fits = len + strlen(separator) + strlen(word) + strlen(more) < cap;
    snprintf(list + len, cap - len, "%s%s", fits && len > 0 ? separator : "", fits ? word : more);
}

/* "\"x\" is not known here; words: a, b/c (example: a 1)" */
static int unknown_word(struct rp_entry *entry, const struct rp_field *fields, const char *word)
{
    char list[100] = "";
    const char *example = NULL;
    bool takes_text = false;
    for (const struct rp_field *field = fields; !at_end(field); field++) {
        example = example == NULL ? field->example : example;
        takes_text = takes_text || (field->word == NULL && field->type == RP_FIELD_TEXT);
        if (field->word != NULL) {
            add_word(list, sizeof list, ", ", field->word);
        }
        for (const struct rp_word *at = field->words;
             field->word == NULL && at != NULL && at->word != NULL; at++) {
            add_word(list, sizeof list, at == field->words ? ", " : "/", at->word);
        }
    }
    return rp_problem_set(entry->problem, RP_E_FORMAT, word,
                          "\"%.20s\" is not known here; words: %s%s (example: %s)", word, list,
                          takes_text ? "; or a text of several words in quotes" : "",
                          example != NULL ? example : list);
}

int rp_fields_read(struct rp_entry *entry, const struct rp_field *fields, struct rp_record *record)
{
    const char *word;
    while ((word = rp_entry_take(entry)) != NULL) {
        const struct rp_field *found = NULL;
        for (const struct rp_field *field = fields; found == NULL && !at_end(field); field++) {
            found = field->word != NULL && strcmp(field->word, word) == 0 ? field : NULL;
        }
        int32_t value = 0;
        int code;
        if (found != NULL) {
            code = read_keyed(entry, found, record);
        } else if ((found = find_bare(fields, word, &value)) != NULL) {
            code = read_bare(entry, found, word, value, record);
        } else {
            code = unknown_word(entry, fields, word);
        }
        if (code < 0) {
            return code;
        }
    }
    return RP_OK;
}
