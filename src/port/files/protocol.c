#include "port/files/protocol.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "clinical/quantity.h"

#define FILE_LEN_MAX (64 * 1024)
#define LINE_LEN_MAX 190 /* as in the other files */

enum { BEFORE, IN_PROTOCOL, IN_DRUG };

struct parsing {
    const char *name; /* of the file */
    unsigned line;
    int section;
    uint32_t given; /* keys of this section, one bit each */
    struct rp_protocol *protocol;
    struct rp_problem *problem;
    char text[LINE_LEN_MAX + 1]; /* the line, cut in pieces */
};

#define DRUG(p) (&(p)->protocol->drugs[(p)->protocol->count - 1])

static int fail(struct parsing *p, int code, const char *field, const char *what,
                const char *example)
{
    return rp_problem_set(p->problem, code, field, "%.60s line %u: %s: %s (example: %s)", p->name,
                          p->line, field, what, example);
}

static int set_text(struct parsing *p, const char *key, const char *value, char *out, size_t max)
{
    size_t len = strlen(value);
    if (len == 0 || len > max) {
        char what[60];
        snprintf(what, sizeof what, "%zu bytes, 1 to %zu are taken", len, max);
        return fail(p, len == 0 ? RP_E_INVALID : RP_E_TOO_LONG, key, what, "two words");
    }
    memcpy(out, value, len + 1);
    return RP_OK;
}

static int set_date(struct parsing *p, const char *key, char *value, char *out)
{
    unsigned year, month, day;
    char rest;
    if (strlen(value) != 10 || strspn(value, "0123456789-") != 10 ||
        sscanf(value, "%4u-%2u-%2u%c", &year, &month, &day, &rest) != 3 || month < 1 ||
        month > 12 || day < 1 || day > 31) {
        return fail(p, RP_E_INVALID, key, "this is no day", "2026-10-05");
    }
    memcpy(out, value, 11);
    return RP_OK;
}

/* The next of "a, b, c", without the spaces around it; NULL after the last. */
static char *next_word(char **at)
{
    if (*at == NULL) {
        return NULL;
    }
    char *word = *at + strspn(*at, " \t");
    char *comma = strchr(word, ',');
    *at = comma != NULL ? comma + 1 : NULL;
    size_t len = comma != NULL ? (size_t)(comma - word) : strlen(word);
    while (len > 0 && (word[len - 1] == ' ' || word[len - 1] == '\t')) {
        len--;
    }
    word[len] = '\0';
    return word;
}

static int set_words(struct parsing *p, const char *key, char *value, char (*out)[RP_NAME_LEN + 1])
{
    char *word;
    for (size_t count = 0; (word = next_word(&value)) != NULL; count++) {
        if (count == RP_DRUG_WORDS_MAX) {
            return fail(p, RP_E_TOO_LONG, key, "at most 6 words are taken", "dexa, dex");
        }
        int code = set_text(p, key, word, out[count], RP_NAME_LEN);
        if (code < 0) {
            return code;
        }
    }
    return RP_OK;
}

static int set_routes(struct parsing *p, const char *key, char *value)
{
    static const struct {
        const char *word;
        enum rp_route route;
    } routes[] = {
        {"po", RP_ROUTE_ORAL},   {"sl", RP_ROUTE_SUBLINGUAL},   {"im", RP_ROUTE_IM},
        {"iv", RP_ROUTE_IV},     {"sc", RP_ROUTE_SUBCUTANEOUS}, {"inhaled", RP_ROUTE_INHALED},
        {"pr", RP_ROUTE_RECTAL}, {"nasal", RP_ROUTE_NASAL},     {"topical", RP_ROUTE_TOPICAL},
    };
    char *word;
    while ((word = next_word(&value)) != NULL) {
        unsigned bit = 0;
        for (size_t i = 0; i < sizeof routes / sizeof routes[0]; i++) {
            bit = strcmp(routes[i].word, word) == 0 ? 1u << routes[i].route : bit;
        }
        if (bit == 0) {
            return fail(p, RP_E_INVALID, key,
                        "none of po, sl, im, iv, sc, inhaled, pr, nasal, topical", "po, im");
        }
        DRUG(p)->routes = (uint16_t)(DRUG(p)->routes | bit);
    }
    return RP_OK;
}

static int set_amount(struct parsing *p, const char *key, const char *value, uint32_t *out_milli)
{
    struct rp_amount amount;
    struct rp_problem problem = {0};
    struct rp_drug *drug = DRUG(p);
    if (rp_amount_parse(value, &amount, &problem) < 0) {
        return fail(p, RP_E_INVALID, key, "this is no dose with its unit", "4mg");
    }
    if (drug->unit != RP_DOSE_NONE && drug->unit != (uint8_t)amount.unit) {
        return fail(p, RP_E_INVALID, key, "the doses of one drug are in one unit", "4mg");
    }
    drug->unit = (uint8_t)amount.unit;
    *out_milli = amount.milli;
    return RP_OK;
}

static int set_interval(struct parsing *p, const char *key, const char *value)
{
    int32_t span_s = 0;
    struct rp_problem problem = {0};
    if (rp_quantity_parse(RP_DIM_DURATION, key, value, &span_s, &problem) < 0 || span_s < 60 ||
        span_s > 7 * 86400) {
        return fail(p, RP_E_INVALID, key, "a span of 1 min to 7 d is taken", "6h");
    }
    DRUG(p)->interval_s = (uint32_t)span_s;
    return RP_OK;
}

static int set_switch(struct parsing *p, const char *key, const char *value, bool *out)
{
    *out = strcmp(value, "yes") == 0;
    return *out || strcmp(value, "no") == 0 ? RP_OK
                                            : fail(p, RP_E_INVALID, key, "yes or no", "yes");
}

static int set_caution(struct parsing *p, const char *key, const char *value)
{
    struct rp_drug *drug = DRUG(p);
    for (size_t i = 0; i < RP_DRUG_CAUTIONS; i++) {
        if (drug->cautions[i][0] == '\0') {
            return set_text(p, key, value, drug->cautions[i], RP_LINE_LEN);
        }
    }
    return fail(p, RP_E_TOO_LONG, key, "at most four cautions are taken", "lowers blood pressure");
}

static int set_name(struct parsing *p, const char *key, const char *value)
{
    for (size_t i = 0; i + 1 < p->protocol->count; i++) {
        if (strcasecmp(p->protocol->drugs[i].name, value) == 0) {
            return fail(p, RP_E_INVALID, key, "this drug stands in the table already", "aspirin");
        }
    }
    return set_text(p, key, value, DRUG(p)->name, RP_NAME_LEN);
}

enum key {
    TITLE,
    REVIEWED_BY,
    REVIEWED_ON,
    DRUG_NAME,
    ALSO,
    ROUTE,
    DOSE,
    SINGLE_MAX,
    DAY_MAX,
    INTERVAL,
    VASODILATOR,
    ALLERGY,
    CAUTION,
    SOURCE,
    KEYS
};
static const struct {
    const char *word;
    int section;
} keys[KEYS] = {
    [TITLE] = {"title", IN_PROTOCOL},
    [REVIEWED_BY] = {"reviewed_by", IN_PROTOCOL},
    [REVIEWED_ON] = {"reviewed_on", IN_PROTOCOL},
    [DRUG_NAME] = {"name", IN_DRUG},
    [ALSO] = {"also", IN_DRUG},
    [ROUTE] = {"route", IN_DRUG},
    [DOSE] = {"dose", IN_DRUG},
    [SINGLE_MAX] = {"single_max", IN_DRUG},
    [DAY_MAX] = {"day_max", IN_DRUG},
    [INTERVAL] = {"interval", IN_DRUG},
    [VASODILATOR] = {"vasodilator", IN_DRUG},
    [ALLERGY] = {"allergy", IN_DRUG},
    [CAUTION] = {"caution", IN_DRUG},
    [SOURCE] = {"source", IN_DRUG},
};

static int set_drug_key(struct parsing *p, enum key key, const char *word, char *value)
{
    struct rp_drug *drug = DRUG(p);
    switch (key) {
    case DRUG_NAME:
        return set_name(p, word, value);
    case ALSO:
        return set_words(p, word, value, drug->also);
    case ROUTE:
        return set_routes(p, word, value);
    case DOSE:
        return set_amount(p, word, value, &drug->dose_milli);
    case SINGLE_MAX:
        return set_amount(p, word, value, &drug->single_milli);
    case DAY_MAX:
        return set_amount(p, word, value, &drug->day_milli);
    case INTERVAL:
        return set_interval(p, word, value);
    case VASODILATOR:
        return set_switch(p, word, value, &drug->vasodilator);
    case ALLERGY:
        return set_words(p, word, value, drug->allergy);
    case CAUTION:
        return set_caution(p, word, value);
    default:
        return set_text(p, word, value, drug->source, RP_LINE_LEN);
    }
}

static int set_key(struct parsing *p, enum key key, char *value)
{
    const char *word = keys[key].word;
    if ((p->given >> key & 1) != 0 && key != CAUTION) {
        return fail(p, RP_E_INVALID, word, "given twice", "once");
    }
    p->given |= 1u << key;
    switch (key) {
    case TITLE:
        return set_text(p, word, value, p->protocol->title, RP_LINE_LEN);
    case REVIEWED_BY:
        return set_text(p, word, value, p->protocol->reviewed_by, RP_LINE_LEN);
    case REVIEWED_ON:
        return set_date(p, word, value, p->protocol->reviewed_on);
    default:
        return set_drug_key(p, key, word, value);
    }
}

/* Both ends of a section: what it needs must be there. */
static int end_section(struct parsing *p)
{
    if (p->section == IN_PROTOCOL && p->protocol->title[0] == '\0') {
        return fail(p, RP_E_INVALID, "title", "[protocol] needs one", "title = Our protocol");
    }
    if (p->section == IN_DRUG && DRUG(p)->name[0] == '\0') {
        return fail(p, RP_E_INVALID, "name", "a [drug] needs one", "name = nifedipine");
    }
    if (p->section == IN_DRUG && DRUG(p)->source[0] == '\0') {
        return fail(p, RP_E_INVALID, "source", "a [drug] needs one", "source = who, where, when");
    }
    p->given = 0;
    return RP_OK;
}

static int begin_section(struct parsing *p, const char *line)
{
    int code = end_section(p);
    if (code < 0) {
        return code;
    }
    if (strcmp(line, "[protocol]") == 0 && p->section == BEFORE) {
        p->section = IN_PROTOCOL;
        return RP_OK;
    }
    if (strcmp(line, "[drug]") != 0 || p->section == BEFORE) {
        return fail(p, RP_E_FORMAT, "section", "first [protocol], once, then [drug] for each",
                    "[drug]");
    }
    if (p->protocol->count == RP_DRUGS_MAX) {
        return fail(p, RP_E_TOO_LONG, "drug", "at most 24 drugs are taken", "fewer");
    }
    p->section = IN_DRUG;
    p->protocol->count++;
    return RP_OK;
}

static void trim_end(char *text)
{
    size_t len = strlen(text);
    while (len > 0 && (text[len - 1] == ' ' || text[len - 1] == '\t')) {
        text[--len] = '\0';
    }
}

static int take_line(struct parsing *p)
{
    char *line = p->text;
    char *comment = strstr(line, " ;");
    if (line[0] == '#' || line[0] == ';') {
        return RP_OK;
    }
    if (comment != NULL) {
        *comment = '\0';
    }
    trim_end(line);
    if (line[0] == '\0') {
        return RP_OK;
    }
    if (line[0] == '[') {
        return begin_section(p, line);
    }
    char *value = strchr(line, '=');
    if (value == NULL) {
        return fail(p, RP_E_FORMAT, "line", "neither [section] nor key = value", "interval = 6h");
    }
    *value++ = '\0';
    value += strspn(value, " \t");
    trim_end(line);
    for (int key = 0; key < KEYS; key++) {
        if (keys[key].section == p->section && strcmp(keys[key].word, line) == 0) {
            return set_key(p, (enum key)key, value);
        }
    }
    return fail(p, RP_E_INVALID, "key", "not a key of this section", "interval = 6h");
}

/* Copies the next line without its end; returns its length with the end, or a problem. */
static int next_line(struct parsing *p, struct rp_view rest)
{
    const uint8_t *end = memchr(rest.bytes, '\n', rest.len);
    size_t len = end != NULL ? (size_t)(end - rest.bytes) : rest.len;
    size_t used = len > 0 && rest.bytes[len - 1] == '\r' ? len - 1 : len;
    p->line++;
    if (used > LINE_LEN_MAX) {
        return fail(p, RP_E_TOO_LONG, "line", "longer than 190 bytes", "a second caution line");
    }
    for (size_t i = 0; i < used; i++) {
        if ((rest.bytes[i] < 0x20 && rest.bytes[i] != '\t') || rest.bytes[i] == 0x7f) {
            return fail(p, RP_E_FORMAT, "line", "holds a control character", "plain text");
        }
    }
    memcpy(p->text, rest.bytes, used);
    p->text[used] = '\0';
    return (int)(len + (end != NULL));
}

static int parse(struct parsing *p, struct rp_view text)
{
    if (text.len > FILE_LEN_MAX) {
        return fail(p, RP_E_TOO_LONG, "file", "longer than 64 KiB", "fewer drugs");
    }
    while (text.len > 0) {
        int used = next_line(p, text);
        int code = used < 0 ? used : take_line(p);
        if (code < 0) {
            return code;
        }
        text.bytes += used;
        text.len -= (size_t)used;
    }
    if (p->section == BEFORE) {
        return fail(p, RP_E_FORMAT, "section", "the file has no [protocol]", "[protocol]");
    }
    return end_section(p);
}

int rp_protocol_parse(const char *name, struct rp_view text, struct rp_protocol *out_protocol,
                      struct rp_problem *out_problem)
{
    struct parsing p = {.name = name, .problem = out_problem};
    p.protocol = calloc(1, sizeof *p.protocol);
    if (p.protocol == NULL) {
        return rp_problem_set(out_problem, RP_E_MEMORY, "", "out of memory");
    }
    int code = parse(&p, text);
    if (code == RP_OK) {
        *out_protocol = *p.protocol;
    }
    free(p.protocol);
    return code;
}

int rp_protocol_read(const char *path, struct rp_protocol *out_protocol,
                     struct rp_problem *out_problem)
{
    FILE *file = fopen(path, "re");
    if (file == NULL) {
        int code = errno == ENOENT ? RP_E_NOT_FOUND : errno == EACCES ? RP_E_PERMISSION : RP_E_IO;
        return rp_problem_set(out_problem, code, "protocol", "%.120s: %s", path, strerror(errno));
    }
    uint8_t *bytes = malloc(FILE_LEN_MAX + 1);
    size_t len = bytes != NULL ? fread(bytes, 1, FILE_LEN_MAX + 1, file) : 0;
    int code = RP_OK;
    if (bytes == NULL) {
        code = rp_problem_set(out_problem, RP_E_MEMORY, "", "out of memory");
    } else if (ferror(file)) {
        code = rp_problem_set(out_problem, RP_E_IO, "protocol", "%.120s cannot be read", path);
    }
    fclose(file);
    if (code == RP_OK) {
        code = rp_protocol_parse(path, (struct rp_view){bytes, len}, out_protocol, out_problem);
    }
    free(bytes);
    return code;
}
