/* A topology file: whatever is taken must hold what the header promises. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "sim/topology.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void demand(int truth)
{
    if (!truth) {
        abort();
    }
}

static void check_links(const struct sim_topology *t)
{
    for (unsigned a = 0; a < t->count; a++) {
        demand(t->links[a][a].kind == SIM_LINK_NONE);
        for (unsigned b = 0; b < t->count; b++) {
            demand(t->links[a][b].loss <= SIM_LOSS_ONE);
            demand(t->links[a][b].kind != SIM_LINK_MODEL ||
                   (t->stations[a].has_position && t->stations[b].has_position));
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct sim_topology t;
    struct rp_problem problem = {.code = 0};
    int err = sim_topology_parse((const char *)data, size, &t, &problem);
    demand(err <= 0 && problem.code == err);
    if (err == 0) {
        unsigned bases = 0, reporters = 0;
        for (unsigned i = 0; i < t.count; i++) {
            bases += t.stations[i].is_base;
            reporters += t.stations[i].reports;
            demand(sim_topology_find(&t, t.stations[i].name) == (int)i);
        }
        demand(t.count >= 2 && t.count <= SIM_STATIONS_MAX && bases > 0 && reporters > 0);
        check_links(&t);
    }
    return 0;
}
