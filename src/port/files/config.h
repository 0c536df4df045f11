/* Configuration files in INI form, read through libinih into a struct by a table of keys, and the
 * check of files that hold secrets. */
#ifndef RP_PORT_CONFIG_H
#define RP_PORT_CONFIG_H

#include <stdbool.h>

#include "base/problem.h"
#include "ridgepost/view.h"

/* Largest file and longest line, in bytes (the line without its line break; libinih's own buffer
 * has 200), and most keys in a table. */
#define RP_CONFIG_FILE_LEN_MAX (64 * 1024)
#define RP_CONFIG_LINE_LEN_MAX 190
#define RP_CONFIG_KEYS_MAX     128

enum rp_config_type {
    RP_CONFIG_TEXT,   /* char[size]: NUL-terminated UTF-8 of min..max bytes, max < size */
    RP_CONFIG_NUMBER, /* int64_t: a decimal (or 0x) number in min..max, times 10^decimals */
    RP_CONFIG_SWITCH, /* bool: "yes" or "no" */
    RP_CONFIG_CHOICE, /* int: the index of the word in `choices` */
};

/* A row of the table: where a key goes and what it may be. */
struct rp_config_key {
    const char *section, *name;
    enum rp_config_type type;
    size_t offset; /* of the field in the struct, by offsetof */
    size_t size;   /* TEXT: sizeof the field, NUL included; other types: ignored */
    int64_t min, max;
    /* NUMBER: how many digits may follow the point, 0..9. Value, min and max are integers in that
     * unit: with 2 decimals "7.5" is 750. Hexadecimal only with 0 decimals. */
    unsigned decimals;
    const char *const *choices; /* CHOICE: words, NULL after the last */
    bool required;              /* its absence is an error */
    bool has_flag;              /* when true, flag_offset is a bool that is set to true */
    size_t flag_offset;
    const char *example; /* shown in every error about the key */
};

/* Reads the file at `path` into the struct at `out_config` (size bytes; the caller has filled in
 * the defaults), which is untouched on failure. Stops at the first error: a section or key that is
 * not in the table, a key given twice, a missing required key, a value out of its bounds, a line
 * that is too long, indented, or no "key = value". The text names file, line, key, bound and
 * example. A ';' or '#' starts a comment line; " ;" starts a comment after a value.
 * RP_E_INVALID, RP_E_FORMAT, RP_E_NOT_FOUND, RP_E_PERMISSION, RP_E_TOO_LONG, RP_E_IO,
 * RP_E_MEMORY. */
int rp_config_read(const char *path, const struct rp_config_key *keys, size_t key_count,
                   void *out_config, size_t size, struct rp_problem *out_problem);

/* The same for text that is already in memory; `name` stands for the file in errors. */
int rp_config_parse(const char *name, struct rp_view text, const struct rp_config_key *keys,
                    size_t key_count, void *out_config, size_t size,
                    struct rp_problem *out_problem);

/* Reads a file that can keep a secret: a plain file, owned by this user or root, that group and
 * others can neither read nor write (mode 0600 or 0400). Fills buf with at most cap bytes and sets
 * *out_len; the caller wipes buf after use. RP_E_NOT_FOUND, RP_E_PERMISSION (too open, or cannot be
 * opened), RP_E_INVALID (not a plain file), RP_E_TOO_LONG, RP_E_IO. */
int rp_secret_file_read(const char *path, uint8_t *buf, size_t cap, size_t *out_len,
                        struct rp_problem *out_problem);

#endif
