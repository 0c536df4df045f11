#include "sim/topology.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define WORDS_MAX    8          /* station NAME X Y Z base reports, and one too many */
#define LINE_CAP     256        /* longest line and its end */
#define FILE_MAX     (4u << 20) /* 200 stations, all linked by hand, need about 2 MB */
#define POSITION_MAX 1000000    /* m: 1000 km, far beyond any link */
#define HEIGHT_MIN   (-500)     /* m: below the lowest land */
#define HEIGHT_MAX   9000       /* m: above the highest mountain */

struct reader {
    struct sim_topology *topology;
    struct rp_problem *out_problem;
    unsigned line;
    bool has_reporter;
    unsigned words;
    char *word[WORDS_MAX];
};

/* Puts the line before the field. */
static int fail(struct reader *r, int code, const char *field, const char *text)
{
    char where[32];
    snprintf(where, sizeof where, "line %u, %s", r->line, field);
    return rp_problem_set(r->out_problem, code, where, "%s", text);
}

static bool parse_metres(const char *text, long low, long high, int32_t *out_metres)
{
    char *end;
    long metres = strtol(text, &end, 10);
    if (end == text || *end != '\0' || metres < low || metres > high) {
        return false;
    }
    *out_metres = (int32_t)metres;
    return true;
}

static bool valid_name(const char *name)
{
    size_t len = strlen(name);
    return len > 0 && len < SIM_NAME_CAP &&
           strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") == len;
}

static bool starts_number(const char *word)
{
    return word[0] == '-' || word[0] == '+' || (word[0] >= '0' && word[0] <= '9');
}

/* Takes three words from *next on when the first is a number. */
static int read_position(struct reader *r, unsigned *next, struct sim_station *station)
{
    if (*next >= r->words || !starts_number(r->word[*next])) {
        return 0;
    }
    if (*next + 3 > r->words) {
        return fail(r, RP_E_FORMAT, "position",
                    "needs three whole numbers of metres, for example 0 1200 4920");
    }
    char **word = &r->word[*next];
    if (!parse_metres(word[0], -POSITION_MAX, POSITION_MAX, &station->x_m)) {
        return fail(r, RP_E_INVALID, "x_m", "whole metres, -1000000 to 1000000, for example 350");
    }
    if (!parse_metres(word[1], -POSITION_MAX, POSITION_MAX, &station->y_m)) {
        return fail(r, RP_E_INVALID, "y_m", "whole metres, -1000000 to 1000000, for example 1200");
    }
    if (!parse_metres(word[2], HEIGHT_MIN, HEIGHT_MAX, &station->z_m)) {
        return fail(r, RP_E_INVALID, "z_m", "whole metres, -500 to 9000, for example 4920");
    }
    station->has_position = true;
    *next += 3;
    return 0;
}

static int read_station(struct reader *r)
{
    struct sim_topology *t = r->topology;
    if (r->words < 2 || !valid_name(r->word[1])) {
        return fail(r, RP_E_FORMAT, "station",
                    "needs a name of 1 to 15 letters, digits, '-', '_' or '.', for example camp");
    }
    if (sim_topology_find(t, r->word[1]) >= 0) {
        return fail(r, RP_E_DUPLICATE, "station", "each name once, for example camp and camp2");
    }
    if (t->count == SIM_STATIONS_MAX) {
        return fail(r, RP_E_FULL, "station", "at most 200 stations, for example 10");
    }
    struct sim_station station = {.is_base = false};
    unsigned next = 2;
    int err = read_position(r, &next, &station);
    if (err != 0) {
        return err;
    }
    for (; next < r->words; next++) {
        if (strcmp(r->word[next], "base") == 0) {
            station.is_base = true;
        } else if (strcmp(r->word[next], "reports") == 0) {
            station.reports = r->has_reporter = true;
        } else {
            return fail(r, RP_E_FORMAT, "station",
                        "after the name three numbers, base or reports, for example "
                        "camp 350 1200 4920 base");
        }
    }
    strcpy(station.name, r->word[1]);
    t->stations[t->count++] = station;
    return 0;
}

static int read_loss(struct reader *r, const char *field, const char *word, struct sim_link *link)
{
    uint16_t loss = 0;
    if (strcmp(word, "none") == 0) {
        *link = (struct sim_link){SIM_LINK_NONE, 0};
        return 0;
    }
    if (!sim_topology_loss(word, &loss)) {
        return fail(r, RP_E_INVALID, field,
                    "0 to 1 with at most three decimals, for example 0.3, or none");
    }
    *link = (struct sim_link){SIM_LINK_LOSS, loss};
    return 0;
}

static int read_link(struct reader *r)
{
    if (r->words != 4 && r->words != 5) {
        return fail(r, RP_E_FORMAT, "link",
                    "needs A B LOSS [LOSS_BACK], for example camp base 0.3");
    }
    int a = sim_topology_find(r->topology, r->word[1]);
    int b = sim_topology_find(r->topology, r->word[2]);
    if (a < 0 || b < 0) {
        return fail(r, RP_E_NOT_FOUND, "link",
                    "needs two stations named in lines before, for example camp base 0.3");
    }
    if (a == b) {
        return fail(r, RP_E_INVALID, "link",
                    "needs two different stations, for example camp base 0.3");
    }
    struct sim_link there, back;
    int err = read_loss(r, "loss", r->word[3], &there);
    if (err == 0) {
        err = read_loss(r, "loss back", r->word[r->words - 1], &back);
    }
    if (err != 0) {
        return err;
    }
    r->topology->links[a][b] = there;
    r->topology->links[b][a] = back;
    return 0;
}

static int read_line(struct reader *r, char *line)
{
    static const char blanks[] = " \t\r";
    line[strcspn(line, "#")] = '\0';
    r->words = 0;
    char *rest = line;
    for (char *word; (word = strtok_r(rest, blanks, &rest)) != NULL;) {
        if (r->words == WORDS_MAX) {
            return fail(r, RP_E_FORMAT, "line", "has more than 8 words, for example see --help");
        }
        r->word[r->words++] = word;
    }
    if (r->words == 0) {
        return 0;
    }
    if (strcmp(r->word[0], "station") == 0) {
        return read_station(r);
    }
    if (strcmp(r->word[0], "link") == 0) {
        return read_link(r);
    }
    return fail(r, RP_E_FORMAT, "line",
                "starts with station or link, for example station camp 350 1200 4920");
}

/* Pairs without a line of their own hear each other by position, or not at all. */
static void mark_unset(struct sim_topology *t)
{
    for (unsigned a = 0; a < t->count; a++) {
        for (unsigned b = 0; b < t->count; b++) {
            bool placed = t->stations[a].has_position && t->stations[b].has_position;
            if (t->links[a][b].kind == SIM_LINK_MODEL && (a == b || !placed)) {
                t->links[a][b].kind = SIM_LINK_NONE;
            }
        }
    }
}

static int finish(struct reader *r)
{
    struct sim_topology *t = r->topology;
    unsigned bases = 0, first = t->count;
    for (unsigned i = 0; i < t->count; i++) {
        bases += t->stations[i].is_base ? 1 : 0;
        first = !t->stations[i].is_base && first == t->count ? i : first;
    }
    if (t->count < 2 || bases == 0 || first == t->count) {
        return rp_problem_set(r->out_problem, RP_E_INVALID, "file",
                              "needs at least two stations, one of them base and one not, for "
                              "example: station camp, station lake base, link camp lake 0.3");
    }
    if (!r->has_reporter) {
        t->stations[first].reports = true;
    }
    mark_unset(t);
    return 0;
}

static void start(struct sim_topology *t)
{
    memset(t, 0, sizeof *t);
    for (unsigned a = 0; a < SIM_STATIONS_MAX; a++) {
        for (unsigned b = 0; b < SIM_STATIONS_MAX; b++) {
            t->links[a][b].kind = SIM_LINK_MODEL;
        }
    }
}

static int read_lines(struct reader *r, const char *text, size_t len)
{
    size_t at = 0;
    while (at < len) {
        const char *end = memchr(text + at, '\n', len - at);
        size_t line_len = end != NULL ? (size_t)(end - (text + at)) : len - at;
        char line[LINE_CAP];
        r->line++;
        if (line_len >= sizeof line || memchr(text + at, '\0', line_len) != NULL) {
            return fail(r, RP_E_FORMAT, "line",
                        "text of at most 255 characters, for example link camp base 0.3");
        }
        memcpy(line, text + at, line_len);
        line[line_len] = '\0';
        int err = read_line(r, line);
        if (err != 0) {
            return err;
        }
        at += line_len + 1;
    }
    return finish(r);
}

int sim_topology_parse(const char *text, size_t len, struct sim_topology *out_topology,
                       struct rp_problem *out_problem)
{
    struct sim_topology *t = malloc(sizeof *t);
    if (t == NULL) {
        return rp_problem_set(out_problem, RP_E_MEMORY, "file", "out of memory");
    }
    start(t);
    struct reader r = {.topology = t, .out_problem = out_problem};
    int err = read_lines(&r, text, len);
    if (err == 0) {
        *out_topology = *t;
    }
    free(t);
    return err;
}

/* Reads the whole file; the caller frees *out_text. */
static int read_all(FILE *file, char **out_text, size_t *out_len)
{
    char *text = malloc(FILE_MAX + 1);
    if (text == NULL) {
        return RP_E_MEMORY;
    }
    size_t len = fread(text, 1, FILE_MAX + 1, file);
    if (ferror(file) || len > FILE_MAX) {
        int err = ferror(file) ? RP_E_IO : RP_E_TOO_LONG;
        free(text);
        return err;
    }
    *out_text = text;
    *out_len = len;
    return 0;
}

int sim_topology_load(const char *path, struct sim_topology *out_topology,
                      struct rp_problem *out_problem)
{
    char *text = NULL;
    size_t len = 0;
    FILE *file = fopen(path, "r");
    int err = file != NULL ? read_all(file, &text, &len) : RP_E_IO;
    if (file != NULL) {
        fclose(file);
    }
    if (err != 0) {
        return rp_problem_set(out_problem, err, "topology",
                              "%.80s cannot be read: a text file of at most 4 MiB is needed, or a "
                              "word such as chain:5",
                              path);
    }
    err = sim_topology_parse(text, len, out_topology, out_problem);
    free(text);
    return err;
}
