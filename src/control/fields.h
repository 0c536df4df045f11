/* Reading a one-line entry: words and values, in any order, into a record by a table of fields.
 *
 * `obs 7-1 spo2 71 air pulse 118 bp 132/84 temp 36.4 oral` */
#ifndef RP_CONTROL_FIELDS_H
#define RP_CONTROL_FIELDS_H

#include "base/problem.h"
#include "clinical/range.h"
#include "control/words.h"
#include "node/node.h"

/* One entry being read. */
struct rp_entry {
    struct rp_node *node;
    struct rp_moment moment;
    uint32_t now_s;          /* net time */
    const char *const *args; /* the words, borrowed */
    size_t count, next;
    bool sure; /* unlikely values are confirmed */
    struct rp_problem *problem;
};

enum rp_field_type {
    RP_FIELD_TEXT,     /* keyword, then text; without keyword: a text with a space in it */
    RP_FIELD_KNOWN,    /* keyword, then "none", "unasked" or text: struct rp_known */
    RP_FIELD_VALUE,    /* keyword, then a quantity or "unable": struct rp_value */
    RP_FIELD_BARE,     /* a quantity without keyword, known by its unit: struct rp_value */
    RP_FIELD_NUMBER,   /* keyword, then a quantity: integer of `size` bytes, flag at `has` */
    RP_FIELD_WORD,     /* keyword, then a word of the table: one byte (or struct rp_value) */
    RP_FIELD_CHOICE,   /* a word of the table by itself: one byte (struct rp_value with `has`) */
    RP_FIELD_FLAG,     /* keyword by itself: bool */
    RP_FIELD_FINDING,  /* keyword, then yes or no: enum rp_finding */
    RP_FIELD_POSITION, /* keyword, then a position: struct rp_position */
    RP_FIELD_ALTITUDE, /* keyword, then metres and perhaps a source: struct rp_altitude */
    RP_FIELD_PAST,     /* keyword, then "6h" ago or "14:05Z": net time, flag at `has` */
    RP_FIELD_FUTURE,   /* keyword, then "2h" from now or "05:40Z": net time, flag at `has` */
    RP_FIELD_BITS,     /* keyword, then words joined by commas: one byte of bits, flag at `has` */
    RP_FIELD_CUSTOM,   /* keyword, then what `custom` reads */
};

struct rp_field {
    const char *word; /* keyword; NULL for CHOICE, BARE and the bare TEXT */
    enum rp_field_type type;
    size_t at;   /* offset in struct rp_record */
    size_t has;  /* offset of the presence flag in struct rp_record, 0: none */
    size_t size; /* TEXT: longest text in bytes; NUMBER: 1, 2 or 4 */
    enum rp_range_id range;
    const struct rp_word *words;
    int (*custom)(struct rp_entry *entry, struct rp_record *record);
    const char *example;
};

/* Ends a table of fields. */
#define RP_FIELDS_END                                                                              \
    {                                                                                              \
        .type = RP_FIELD_TEXT                                                                      \
    }

/* Reads all remaining words. RP_E_INVALID, RP_E_CONFIRM, RP_E_FORMAT with the problem filled. */
int rp_fields_read(struct rp_entry *entry, const struct rp_field *fields, struct rp_record *record);

/* The next word, or NULL. */
const char *rp_entry_peek(const struct rp_entry *entry);
const char *rp_entry_take(struct rp_entry *entry);
/* The next word, not empty, or a problem that says what was expected. */
int rp_entry_need(struct rp_entry *entry, const char *field, const char *example,
                  const char **out_word);
/* A word of a table, or a problem that lists them. */
int rp_entry_choose(struct rp_entry *entry, const char *field, const struct rp_word *words,
                    const char *word, uint8_t *out_value);
/* A text of at most len bytes, copied with its NUL; refused when it is nothing but spaces. */
int rp_entry_text(struct rp_entry *entry, const char *field, const char *text, char *out_text,
                  size_t len);
/* A quantity of a range under the name and with the example of this entry (NULL: the range's own),
 * so that a problem's example can be typed as it stands. */
int rp_entry_quantity(struct rp_entry *entry, enum rp_range_id id, const char *word,
                      const char *example, const char *text, int32_t *out_value);
/* "6h" (before or after now) or "14:05Z" (the last or next such time) as net time. */
int rp_entry_time(struct rp_entry *entry, const char *field, const char *text, bool future,
                  uint32_t *out_time_s);
/* The episode named by the next word, or the only one known. */
int rp_entry_episode(struct rp_entry *entry, struct rp_episode_ref *out_ref);

#endif
