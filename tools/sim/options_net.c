/* The options that need the topology: it itself, who reports, what is cut. */
#include "sim/options.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"
#include "sim/world/links.h"

static int make(const struct sim_options *options, struct sim_topology *out_topology,
                struct rp_problem *out_problem)
{
    const char *text = options->topology_text;
    if (text == NULL) {
        return rp_problem_set(out_problem, RP_E_INVALID, "--topology",
                              "run needs --topology (example: --topology chain:5)");
    }
    /* A word has a colon and no slash or dot; anything else is a file. */
    bool is_word = strchr(text, ':') != NULL && strpbrk(text, "/.") == NULL;
    return is_word ? sim_topology_make(text, options->loss, out_topology, out_problem)
                   : sim_topology_load(text, out_topology, out_problem);
}

/* The first stations that are no base, spread evenly would hide the far ones: the farthest first,
 * as the topology's own order has them. */
static int choose_origins(const struct sim_options *options, struct sim_topology *topology,
                          struct rp_problem *out_problem)
{
    if (options->origins == 0) {
        return 0;
    }
    unsigned left = options->origins;
    for (unsigned i = 0; i < topology->count; i++) {
        topology->stations[i].reports = !topology->stations[i].is_base && left > 0;
        left -= topology->stations[i].reports;
    }
    return left == 0 ? 0
                     : rp_problem_set(out_problem, RP_E_INVALID, "--origins",
                                      "--origins %u is more than the %u stations that are no base "
                                      "(example: --origins 2)",
                                      options->origins, options->origins - left);
}

static int find_station(const struct sim_topology *topology, const char *name, size_t len)
{
    char word[SIM_NAME_CAP];
    if (len == 0 || len >= sizeof word) {
        return RP_E_NOT_FOUND;
    }
    memcpy(word, name, len);
    word[len] = '\0';
    return sim_topology_find(topology, word);
}

/* "A-B:2-14" */
static int read_cut(const struct sim_topology *topology, const char *text, struct sim_cut *out_cut,
                    struct rp_problem *out_problem)
{
    const char *colon = strrchr(text, ':'), *dash = strchr(text, '-');
    double from_h = 0, to_h = 0;
    char after = 0;
    bool well = colon != NULL && dash != NULL && dash < colon &&
                sscanf(colon + 1, "%lf-%lf%c", &from_h, &to_h, &after) == 2 && from_h >= 0 &&
                to_h > from_h && to_h <= 2400;
    if (!well) {
        return rp_problem_set(out_problem, RP_E_INVALID, "--cut",
                              "--cut '%s' is not A-B:from-to with hours from 0 to 2400 "
                              "(example: --cut s2-s3:2-14)",
                              text);
    }
    int a = find_station(topology, text, (size_t)(dash - text));
    int b = find_station(topology, dash + 1, (size_t)(colon - dash - 1));
    if (a < 0 || b < 0 || a == b) {
        return rp_problem_set(out_problem, RP_E_INVALID, "--cut",
                              "--cut '%s' must name two stations of the topology, such as %s-%s",
                              text, topology->stations[0].name, topology->stations[1].name);
    }
    *out_cut = (struct sim_cut){(uint16_t)a, (uint16_t)b, (rp_time_us)(from_h * SIM_HOUR_US) + 1,
                                (rp_time_us)(to_h * SIM_HOUR_US) + 1};
    return 0;
}

int sim_options_topology(struct sim_options *options, struct sim_topology *out_topology,
                         struct rp_problem *out_problem)
{
    int code = make(options, out_topology, out_problem);
    if (code == 0) {
        code = choose_origins(options, out_topology, out_problem);
    }
    for (unsigned i = 0; code == 0 && i < options->cut_count; i++) {
        code =
            read_cut(out_topology, options->cut_texts[i], &options->settings.cuts[i], out_problem);
        options->settings.cut_count = i + 1;
    }
    if (code == 0) {
        options->settings.terrain_seed = options->seed;
        sim_links_resolve(out_topology, &options->settings);
    }
    return code;
}
