#include "port/files/config.h"

#include <errno.h>
#include <fcntl.h>
#include <ini.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* What one reading knows. libinih gives its handler no line number, so the reader counts. */
struct reading {
    const char *file;
    struct rp_view text;
    size_t at;      /* next byte of text */
    int line;       /* of the line read last, from 1 */
    int rc;         /* the first error: everything after it is ignored */
    int error_line; /* of that error */
    const struct rp_config_key *keys;
    size_t key_count;
    int first_line[RP_CONFIG_KEYS_MAX]; /* where each key was given; 0: not yet */
    uint8_t *config;
    struct rp_problem *problem;
};

static int fault(struct reading *r, int code, const char *field, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Puts "FILE:LINE: " before the sentence. */
static int fault(struct reading *r, int code, const char *field, const char *format, ...)
{
    char text[160];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    r->rc = rp_problem_set(r->problem, code, field, "%.60s:%d: %s", r->file, r->line, text);
    r->error_line = r->line;
    return r->rc;
}

/* --- values --- */

static bool is_utf8(const char *text)
{
    /* The well-formed sequences of RFC 3629 section 4: lead byte range, bounds of the second byte,
     * how many bytes follow. */
    static const struct {
        uint8_t lead_min, lead_max, second_min, second_max, follow;
    } forms[] = {
        {0x00, 0x7f, 0, 0, 0},       {0xc2, 0xdf, 0x80, 0xbf, 1}, {0xe0, 0xe0, 0xa0, 0xbf, 2},
        {0xe1, 0xec, 0x80, 0xbf, 2}, {0xed, 0xed, 0x80, 0x9f, 2}, {0xee, 0xef, 0x80, 0xbf, 2},
        {0xf0, 0xf0, 0x90, 0xbf, 3}, {0xf1, 0xf3, 0x80, 0xbf, 3}, {0xf4, 0xf4, 0x80, 0x8f, 3},
    };
    const uint8_t *p = (const uint8_t *)text;
    while (*p != 0) {
        size_t f = 0;
        while (f < sizeof forms / sizeof forms[0] &&
               (*p < forms[f].lead_min || *p > forms[f].lead_max)) {
            f++;
        }
        if (f == sizeof forms / sizeof forms[0]) {
            return false;
        }
        for (unsigned i = 1; i <= forms[f].follow; i++) {
            uint8_t low = i == 1 ? forms[f].second_min : 0x80;
            uint8_t high = i == 1 ? forms[f].second_max : 0xbf;
            if (p[i] < low || p[i] > high) {
                return false; /* also at the terminating NUL, which is below every bound */
            }
        }
        p += 1 + forms[f].follow;
    }
    return true;
}

/* Digits with at most `decimals` after a point, as an integer in units of 10^-decimals. */
static bool parse_decimal(const char *text, unsigned decimals, int64_t *out_value)
{
    bool negative = *text == '-';
    const char *p = text + (*text == '-' || *text == '+');
    int64_t value = 0;
    unsigned digits = 0, after = 0;
    bool point = false;
    for (; *p != '\0'; p++) {
        if (*p == '.' && !point && digits > 0) {
            point = true;
        } else if (*p >= '0' && *p <= '9' && digits < 18 && (!point || after < decimals)) {
            value = value * 10 + (*p - '0');
            digits++;
            after += point;
        } else {
            return false;
        }
    }
    if (digits == 0 || (point && after == 0)) {
        return false;
    }
    for (; after < decimals; after++) {
        if (value > INT64_MAX / 10) {
            return false;
        }
        value *= 10;
    }
    *out_value = negative ? -value : value;
    return true;
}

static bool parse_hex(const char *text, int64_t *out_value)
{
    size_t len = strlen(text);
    if (len < 1 || len > 15 || strspn(text, "0123456789abcdefABCDEF") != len) {
        return false;
    }
    *out_value = (int64_t)strtoull(text, NULL, 16);
    return true;
}

/* A number in a key's unit, as a person writes it. */
static void print_number(char *buf, size_t cap, int64_t value, unsigned decimals)
{
    uint64_t scale = 1;
    for (unsigned i = 0; i < decimals; i++) {
        scale *= 10;
    }
    uint64_t size = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    const char *sign = value < 0 ? "-" : "";
    if (size % scale == 0) {
        snprintf(buf, cap, "%s%llu", sign, (unsigned long long)(size / scale));
    } else {
        snprintf(buf, cap, "%s%llu.%0*llu", sign, (unsigned long long)(size / scale), (int)decimals,
                 (unsigned long long)(size % scale));
    }
}

static int set_number(struct reading *r, const struct rp_config_key *key, const char *value)
{
    int64_t number = 0;
    bool hex = key->decimals == 0 && value[0] == '0' && (value[1] == 'x' || value[1] == 'X');
    bool ok = hex ? parse_hex(value + 2, &number) : parse_decimal(value, key->decimals, &number);
    if (!ok || number < key->min || number > key->max) {
        char low[24], high[24];
        print_number(low, sizeof low, key->min, key->decimals);
        print_number(high, sizeof high, key->max, key->decimals);
        return fault(r, RP_E_INVALID, key->name,
                     "%s must be a number from %s to %s, such as %.30s; not '%.30s'", key->name,
                     low, high, key->example, value);
    }
    memcpy(r->config + key->offset, &number, sizeof number);
    return 0;
}

static int set_text(struct reading *r, const struct rp_config_key *key, const char *value)
{
    size_t len = strlen(value);
    if (len >= key->size || (int64_t)len < key->min || (int64_t)len > key->max) {
        char to[32] = "";
        if (key->max != key->min) {
            snprintf(to, sizeof to, " to %lld", (long long)key->max);
        }
        return fault(r, RP_E_INVALID, key->name,
                     "%s must have %lld%s bytes, such as %.50s; not %zu", key->name,
                     (long long)key->min, to, key->example, len);
    }
    if (!is_utf8(value)) {
        return fault(r, RP_E_INVALID, key->name, "%s is not valid UTF-8; an example is %.50s",
                     key->name, key->example);
    }
    memcpy(r->config + key->offset, value, len + 1);
    return 0;
}

static int set_switch(struct reading *r, const struct rp_config_key *key, const char *value)
{
    bool on = strcmp(value, "yes") == 0;
    if (!on && strcmp(value, "no") != 0) {
        return fault(r, RP_E_INVALID, key->name, "%s must be yes or no, such as %.30s; not '%.30s'",
                     key->name, key->example, value);
    }
    memcpy(r->config + key->offset, &on, sizeof on);
    return 0;
}

static int set_choice(struct reading *r, const struct rp_config_key *key, const char *value)
{
    char words[80] = "";
    for (int i = 0; key->choices[i] != NULL; i++) {
        if (strcmp(value, key->choices[i]) == 0) {
            memcpy(r->config + key->offset, &i, sizeof i);
            return 0;
        }
        size_t len = strlen(words);
        snprintf(words + len, sizeof words - len, "%s%s", i > 0 ? ", " : "", key->choices[i]);
    }
    return fault(r, RP_E_INVALID, key->name, "%s must be one of %s, such as %.20s; not '%.20s'",
                 key->name, words, key->example, value);
}

static int (*const setters[])(struct reading *, const struct rp_config_key *, const char *) = {
    [RP_CONFIG_TEXT] = set_text,
    [RP_CONFIG_NUMBER] = set_number,
    [RP_CONFIG_SWITCH] = set_switch,
    [RP_CONFIG_CHOICE] = set_choice,
};

/* --- keys --- */

static bool section_is_known(const struct reading *r, const char *name, size_t len)
{
    for (size_t i = 0; i < r->key_count; i++) {
        if (strlen(r->keys[i].section) == len && memcmp(r->keys[i].section, name, len) == 0) {
            return true;
        }
    }
    return false;
}

static int unknown_key(struct reading *r, const char *section, const char *name)
{
    return section[0] == '\0'
               ? fault(r, RP_E_INVALID, name, "'%.40s' stands before the first [section]", name)
               : fault(r, RP_E_INVALID, name, "there is no key '%.40s' in [%.40s]", name, section);
}

/* Called by libinih for each pair. Returns 1 for "go on", 0 for an error. */
static int take_pair(void *user, const char *section, const char *name, const char *value)
{
    struct reading *r = user;
    if (r->rc < 0) {
        return 0;
    }
    size_t i = 0;
    while (i < r->key_count &&
           (strcmp(r->keys[i].section, section) != 0 || strcmp(r->keys[i].name, name) != 0)) {
        i++;
    }
    if (i == r->key_count) {
        unknown_key(r, section, name);
        return 0;
    }
    const struct rp_config_key *key = &r->keys[i];
    if (r->first_line[i] != 0) {
        fault(r, RP_E_INVALID, name, "%s is given twice, first in line %d", name, r->first_line[i]);
        return 0;
    }
    r->first_line[i] = r->line;
    if (setters[key->type](r, key, value) < 0) {
        return 0;
    }
    if (key->has_flag) {
        bool given = true;
        memcpy(r->config + key->flag_offset, &given, sizeof given);
    }
    return 1;
}

static int check_required(struct reading *r)
{
    for (size_t i = 0; i < r->key_count; i++) {
        const struct rp_config_key *key = &r->keys[i];
        if (key->required && r->first_line[i] == 0) {
            return rp_problem_set(r->problem, RP_E_INVALID, key->name,
                                  "%.60s: %s is missing in [%s], for example: %s = %.50s", r->file,
                                  key->name, key->section, key->name, key->example);
        }
    }
    return 0;
}

/* --- lines --- */

/* Refuses what libinih would read in a way that surprises. */
static int check_line(struct reading *r, const char *line, size_t len)
{
    if (len > RP_CONFIG_LINE_LEN_MAX) {
        return fault(r, RP_E_TOO_LONG, "", "the line has %zu bytes; at most %d fit", len,
                     RP_CONFIG_LINE_LEN_MAX);
    }
    for (size_t i = 0; i < len; i++) {
        uint8_t byte = (uint8_t)line[i];
        if ((byte < 0x20 && byte != '\t' && byte != '\r') || byte == 0x7f) {
            return fault(r, RP_E_FORMAT, "", "the line holds a control character (byte %02x)",
                         byte);
        }
    }
    size_t blank = 0;
    while (blank < len && (line[blank] == ' ' || line[blank] == '\t' || line[blank] == '\r')) {
        blank++;
    }
    /* libinih takes an indented line as a second value of the key above it. */
    if (blank > 0 && blank < len && line[blank] != ';' && line[blank] != '#') {
        return fault(r, RP_E_FORMAT, "", "the line is indented: start it at the left edge");
    }
    if (len > 0 && line[0] == '[') {
        const char *end = memchr(line, ']', len);
        size_t name_len = end != NULL ? (size_t)(end - line) - 1 : len - 1;
        if (end == NULL || !section_is_known(r, line + 1, name_len)) {
            return fault(r, RP_E_INVALID, "", "there is no section [%.*s]",
                         (int)(name_len < 60 ? name_len : 60), line + 1);
        }
    }
    return 0;
}

/* libinih's fgets: gives the next line, or NULL at the end or after an error. */
static char *next_line(char *buf, int cap, void *stream)
{
    struct reading *r = stream;
    if (r->rc < 0 || r->at == r->text.len) {
        return NULL;
    }
    const char *line = (const char *)r->text.bytes + r->at;
    size_t left = r->text.len - r->at;
    const char *end = memchr(line, '\n', left);
    size_t len = end != NULL ? (size_t)(end - line) : left;
    r->at += end != NULL ? len + 1 : len;
    r->line++;
    if (check_line(r, line, len) < 0) {
        return NULL;
    }
    if (len + 2 > (size_t)cap) { /* libinih was built with a shorter line than Debian's */
        fault(r, RP_E_TOO_LONG, "", "the line has %zu bytes; at most %d fit", len, cap - 2);
        return NULL;
    }
    memcpy(buf, line, len);
    buf[len] = '\n';
    buf[len + 1] = '\0';
    return buf;
}

int rp_config_parse(const char *name, struct rp_view text, const struct rp_config_key *keys,
                    size_t key_count, void *out_config, size_t size, struct rp_problem *out_problem)
{
    if (key_count > RP_CONFIG_KEYS_MAX) {
        return rp_problem_set(out_problem, RP_E_FULL, "", "the table of keys is too long");
    }
    if (text.len > RP_CONFIG_FILE_LEN_MAX) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "", "%.100s is larger than %d bytes",
                              name, RP_CONFIG_FILE_LEN_MAX);
    }
    struct reading r = {.file = name, .text = text, .keys = keys, .key_count = key_count};
    r.problem = out_problem;
    r.config = malloc(size > 0 ? size : 1);
    if (r.config == NULL) {
        return rp_problem_set(out_problem, RP_E_MEMORY, "", "out of memory");
    }
    memcpy(r.config, out_config, size);
    if (text.len >= 3 && memcmp(text.bytes, "\xef\xbb\xbf", 3) == 0) {
        r.at = 3; /* the mark that some editors put before UTF-8 text */
    }
    int bad_line = ini_parse_stream(next_line, &r, take_pair, &r);
    /* libinih notes a line that is no pair, and goes on: it may come before our own error. */
    if (bad_line > 0 && (r.rc == 0 || bad_line < r.error_line)) {
        r.line = bad_line;
        fault(&r, RP_E_FORMAT, "", "this is neither [section] nor key = value nor a # comment");
    }
    int rc = r.rc < 0 ? r.rc : check_required(&r);
    if (rc == 0) {
        memcpy(out_config, r.config, size);
    }
    free(r.config);
    return rc;
}

/* --- files --- */

static int open_failed(const char *path, int error, struct rp_problem *out_problem)
{
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "", "%.150s does not exist", path);
    case EACCES:
    case EPERM:
        return rp_problem_set(out_problem, RP_E_PERMISSION, "", "no permission to read %.150s",
                              path);
    default:
        return rp_problem_set(out_problem, RP_E_IO, "", "%.100s cannot be read: %s", path,
                              strerror(error));
    }
}

/* Opens a plain file; O_NONBLOCK so that a pipe put in its place cannot hang us. */
static int open_plain(const char *path, int *out_fd, struct stat *out_st,
                      struct rp_problem *out_problem)
{
    struct stat st;
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (fd < 0) {
        return open_failed(path, errno, out_problem);
    }
    if (fstat(fd, &st) != 0 || !S_ISREG(st.st_mode)) {
        close(fd);
        return rp_problem_set(out_problem, RP_E_INVALID, "", "%.150s is not a plain file", path);
    }
    *out_fd = fd;
    *out_st = st;
    return 0;
}

/* Reads all of fd, at most cap bytes; cap + 1 in the count means that there is more. */
static ssize_t read_all(int fd, uint8_t *buf, size_t cap)
{
    size_t len = 0;
    while (len < cap) {
        ssize_t got = read(fd, buf + len, cap - len);
        if (got < 0 && errno != EINTR) {
            return -1;
        }
        if (got == 0) {
            return (ssize_t)len;
        }
        len += got > 0 ? (size_t)got : 0;
    }
    uint8_t more;
    return read(fd, &more, 1) == 1 ? (ssize_t)(cap + 1) : (ssize_t)cap;
}

int rp_config_read(const char *path, const struct rp_config_key *keys, size_t key_count,
                   void *out_config, size_t size, struct rp_problem *out_problem)
{
    int fd = -1;
    struct stat st = {0};
    int rc = open_plain(path, &fd, &st, out_problem);
    if (rc < 0) {
        return rc;
    }
    uint8_t *text = malloc(RP_CONFIG_FILE_LEN_MAX);
    ssize_t len = text != NULL ? read_all(fd, text, RP_CONFIG_FILE_LEN_MAX) : 0;
    int error = errno;
    close(fd);
    if (text == NULL) {
        return rp_problem_set(out_problem, RP_E_MEMORY, "", "out of memory");
    }
    /* A length of one more than fits is refused by the parser before it looks at the text. */
    rc = len < 0 ? open_failed(path, error, out_problem)
                 : rp_config_parse(path, (struct rp_view){text, (size_t)len}, keys, key_count,
                                   out_config, size, out_problem);
    free(text);
    return rc;
}

static int check_owner_and_mode(const char *path, const struct stat *st,
                                struct rp_problem *out_problem)
{
    if (st->st_uid != geteuid() && st->st_uid != 0) {
        return rp_problem_set(out_problem, RP_E_PERMISSION, "",
                              "%.100s holds a secret but belongs to another user: chown it", path);
    }
    if ((st->st_mode & 077) != 0) {
        return rp_problem_set(out_problem, RP_E_PERMISSION, "",
                              "%.70s holds a secret and is open to others (mode %03o): "
                              "chmod 600 %.70s",
                              path, (unsigned)(st->st_mode & 0777), path);
    }
    return 0;
}

static int open_secret(const char *path, int *out_fd, struct rp_problem *out_problem)
{
    int fd = -1;
    struct stat st = {0};
    int rc = open_plain(path, &fd, &st, out_problem);
    if (rc < 0) {
        return rc;
    }
    rc = check_owner_and_mode(path, &st, out_problem);
    if (rc < 0) {
        close(fd);
        return rc;
    }
    *out_fd = fd;
    return 0;
}

int rp_secret_file_read(const char *path, uint8_t *buf, size_t cap, size_t *out_len,
                        struct rp_problem *out_problem)
{
    int fd = -1;
    int rc = open_secret(path, &fd, out_problem);
    if (rc < 0) {
        return rc;
    }
    ssize_t len = read_all(fd, buf, cap);
    int error = errno;
    close(fd);
    if (len < 0) {
        return open_failed(path, error, out_problem);
    }
    if ((size_t)len > cap) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "", "%.100s has more than %zu bytes",
                              path, cap);
    }
    *out_len = (size_t)len;
    return 0;
}
