#include "sim/topology.h"

#include <stdio.h>
#include <string.h>

const char sim_topology_help[] =
    "Topologies: chain:N, grid:WxH, ladder:N (two rows of N), clique:N, star:N (the second\n"
    "station in the middle); the first station reports, the last is base. Or a file of lines:\n"
    "  station NAME [X_M Y_M Z_M] [base] [reports]   whole metres\n"
    "  link A B LOSS [LOSS_BACK]                     0 to 1, or none; one loss counts both ways\n"
    "  # a comment\n"
    "Pairs without a link line: from the positions when both have one, otherwise no link. When\n"
    "no station is marked with reports, the first that is no base reports.\n";

static void link_both(struct sim_topology *t, unsigned a, unsigned b, uint16_t loss)
{
    t->links[a][b] = t->links[b][a] = (struct sim_link){SIM_LINK_LOSS, loss};
}

static void make_grid(struct sim_topology *t, unsigned wide, unsigned high, uint16_t loss)
{
    for (unsigned i = 0; i < wide * high; i++) {
        if (i % wide + 1 < wide) {
            link_both(t, i, i + 1, loss);
        }
        if (i / wide + 1 < high) {
            link_both(t, i, i + wide, loss);
        }
    }
}

static void make_chain(struct sim_topology *t, unsigned count, unsigned high, uint16_t loss)
{
    (void)high;
    make_grid(t, count, 1, loss);
}

static void make_ladder(struct sim_topology *t, unsigned count, unsigned high, uint16_t loss)
{
    (void)high;
    make_grid(t, count, 2, loss);
}

static void make_clique(struct sim_topology *t, unsigned count, unsigned high, uint16_t loss)
{
    (void)high;
    for (unsigned a = 0; a < count; a++) {
        for (unsigned b = a + 1; b < count; b++) {
            link_both(t, a, b, loss);
        }
    }
}

static void make_star(struct sim_topology *t, unsigned count, unsigned high, uint16_t loss)
{
    (void)high;
    for (unsigned leaf = 0; leaf < count; leaf++) {
        if (leaf != 1) {
            link_both(t, leaf, 1, loss);
        }
    }
}

static const struct maker {
    const char *name;
    void (*links)(struct sim_topology *t, unsigned wide, unsigned high, uint16_t loss);
    unsigned rows; /* 0: the word gives them, as WxH */
    unsigned least, most;
    const char *example;
} makers[] = {
    {"chain", make_chain, 1, 2, SIM_STATIONS_MAX, "chain:5"},
    {"grid", make_grid, 0, 1, SIM_STATIONS_MAX, "grid:3x3"},
    {"ladder", make_ladder, 2, 1, SIM_STATIONS_MAX / 2, "ladder:5"},
    {"clique", make_clique, 1, 2, SIM_STATIONS_MAX, "clique:8"},
    {"star", make_star, 1, 3, SIM_STATIONS_MAX, "star:6"},
};

/* Reads digits and moves *text past them. */
static bool take_number(const char **text, unsigned *out_number)
{
    unsigned number = 0, digits = 0;
    for (; **text >= '0' && **text <= '9' && digits < 4; digits++, (*text)++) {
        number = number * 10 + (unsigned)(**text - '0');
    }
    *out_number = number;
    return digits > 0;
}

static bool take_size(const struct maker *maker, const char *text, unsigned *out_wide,
                      unsigned *out_high)
{
    unsigned high = maker->rows;
    if (!take_number(&text, out_wide)) {
        return false;
    }
    if (maker->rows == 0 && (*text++ != 'x' || !take_number(&text, &high))) {
        return false;
    }
    *out_high = high;
    unsigned count = *out_wide * high;
    return *text == '\0' && *out_wide >= maker->least && *out_wide <= maker->most && count >= 2 &&
           count <= SIM_STATIONS_MAX;
}

static const struct maker *find_maker(const char *word)
{
    const char *colon = strchr(word, ':');
    size_t len = colon != NULL ? (size_t)(colon - word) : 0;
    for (size_t i = 0; i < sizeof makers / sizeof makers[0]; i++) {
        if (colon != NULL && strlen(makers[i].name) == len &&
            memcmp(makers[i].name, word, len) == 0) {
            return &makers[i];
        }
    }
    return NULL;
}

int sim_topology_make(const char *word, uint16_t loss, struct sim_topology *out_topology,
                      struct rp_problem *out_problem)
{
    const struct maker *maker = find_maker(word);
    if (maker == NULL) {
        return rp_problem_set(out_problem, RP_E_INVALID, "topology",
                              "%.20s is none of chain:N, grid:WxH, ladder:N, clique:N, star:N",
                              word);
    }
    unsigned wide, high;
    if (!take_size(maker, strchr(word, ':') + 1, &wide, &high)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "topology",
                              "%s takes a size of %u to %u and at least 2 and at most %d "
                              "stations, for example %s",
                              maker->name, maker->least, maker->most, SIM_STATIONS_MAX,
                              maker->example);
    }
    if (loss > SIM_LOSS_ONE) {
        return rp_problem_set(out_problem, RP_E_INVALID, "loss", "0 to 1, for example 0.3");
    }
    memset(out_topology, 0, sizeof *out_topology);
    out_topology->count = wide * high;
    for (unsigned i = 0; i < out_topology->count; i++) {
        snprintf(out_topology->stations[i].name, SIM_NAME_CAP, "s%u", i + 1);
    }
    out_topology->stations[0].reports = true;
    out_topology->stations[out_topology->count - 1].is_base = true;
    maker->links(out_topology, wide, high, loss);
    return 0;
}

int sim_topology_find(const struct sim_topology *topology, const char *name)
{
    for (unsigned i = 0; i < topology->count; i++) {
        if (strcmp(topology->stations[i].name, name) == 0) {
            return (int)i;
        }
    }
    return RP_E_NOT_FOUND;
}

bool sim_topology_loss(const char *text, uint16_t *out_loss)
{
    if (text[0] != '0' && text[0] != '1') {
        return false;
    }
    unsigned loss = (unsigned)(text[0] - '0') * SIM_LOSS_ONE;
    text++;
    if (*text == '.') {
        text++;
        unsigned digits = 0;
        for (unsigned worth = SIM_LOSS_ONE / 10; *text >= '0' && *text <= '9' && worth > 0;
             worth /= 10, text++, digits++) {
            loss += worth * (unsigned)(*text - '0');
        }
        if (digits == 0) {
            return false;
        }
    }
    if (*text != '\0' || loss > SIM_LOSS_ONE) {
        return false;
    }
    *out_loss = (uint16_t)loss;
    return true;
}
