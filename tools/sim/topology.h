/* Who is on the air and how well each hears each: made from a word such as chain:5, or read from a
 * topology file. Data only; the channel, the genie and the baselines all work from it. */
#ifndef SIM_TOPOLOGY_H
#define SIM_TOPOLOGY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/problem.h"

#define SIM_STATIONS_MAX 200
#define SIM_NAME_CAP     16   /* a name has at most 15 characters */
#define SIM_LOSS_ONE     1000 /* losses are thousandths: 1000 loses every frame */

enum sim_link_kind {
    SIM_LINK_NONE,  /* neither heard nor disturbing */
    SIM_LINK_LOSS,  /* each frame is lost with the probability given, and always disturbs */
    SIM_LINK_MODEL, /* both stations have a position; the channel model decides */
};

struct sim_link {
    uint16_t kind; /* enum sim_link_kind */
    uint16_t loss; /* thousandths, 0..SIM_LOSS_ONE; only with SIM_LINK_LOSS */
};

struct sim_station {
    char name[SIM_NAME_CAP];
    bool has_position;
    int32_t x_m, y_m, z_m; /* only with has_position */
    bool is_base;
    bool reports; /* originates the workload */
};

struct sim_topology {
    unsigned count; /* 2..SIM_STATIONS_MAX */
    struct sim_station stations[SIM_STATIONS_MAX];
    struct sim_link links[SIM_STATIONS_MAX][SIM_STATIONS_MAX]; /* [from][to] */
};

/* The words of sim_topology_make and the lines of the file, for a program's --help. */
extern const char sim_topology_help[];

/* Makes the topology named by `word`, with the same loss (thousandths, 0..SIM_LOSS_ONE) on every
 * link in both directions:
 *   chain:N   N stations in a row, N 2..200
 *   grid:WxH  W columns and H rows, each linked to its 4 neighbours, 2..200 stations
 *   ladder:N  two rows of N, as grid:Nx2, N 1..100
 *   clique:N  each linked to each, N 2..200
 *   star:N    the second station is linked to all others and nothing else is, N 3..200
 * The first station reports; the last is base, in a grid and a ladder the opposite corner. 0, or
 * RP_E_INVALID with *out_problem (may be NULL) filled. */
int sim_topology_make(const char *word, uint16_t loss, struct sim_topology *out_topology,
                      struct rp_problem *out_problem);

/* Reads a topology file from memory. Lines, words parted by blanks, '#' starts a comment:
 *   station NAME [X_M Y_M Z_M] [base] [reports]
 *   link A B LOSS [LOSS_BACK]
 * Positions are whole metres. A loss is 0 to 1 with at most three decimals, or `none`; one loss
 * counts for both ways. Pairs without a link line get SIM_LINK_MODEL when both have a position and
 * SIM_LINK_NONE otherwise. There must be two stations and a base; when no station is marked with
 * `reports`, the first that is no base reports. 0, or RP_E_FORMAT, RP_E_INVALID, RP_E_NOT_FOUND,
 * RP_E_DUPLICATE or RP_E_FULL with the line, the field and the bound in *out_problem. */
int sim_topology_parse(const char *text, size_t len, struct sim_topology *out_topology,
                       struct rp_problem *out_problem);
/* The same from a file, at most 4 MiB; also RP_E_IO and RP_E_TOO_LONG. */
int sim_topology_load(const char *path, struct sim_topology *out_topology,
                      struct rp_problem *out_problem);

/* The index of the station of that name, or RP_E_NOT_FOUND. */
int sim_topology_find(const struct sim_topology *topology, const char *name);
/* 0 to 1 with at most three decimals, as thousandths. False when it is no such number. */
bool sim_topology_loss(const char *text, uint16_t *out_loss);

#endif
