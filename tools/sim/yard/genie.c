#include "sim/yard/genie.h"

#include <stdlib.h>
#include <string.h>

/* Stations in the order in which they are settled, nearest to base first, and what becomes of a
 * frame of each: the rows of a triangular matrix. */
struct orders {
    unsigned count; /* settled */
    uint8_t station[SIM_STATIONS_MAX];
    double frames[SIM_STATIONS_MAX];                 /* C, by rank */
    double best[SIM_STATIONS_MAX][SIM_STATIONS_MAX]; /* P(best receiver has rank), by rank */
    double none[SIM_STATIONS_MAX];                   /* P(no better station received) */
};

static double arrives(const struct sim_topology *t, unsigned from, unsigned to)
{
    const struct sim_link *link = &t->links[from][to];
    return link->kind == SIM_LINK_LOSS ? 1.0 - link->loss / (double)SIM_LOSS_ONE : 0.0;
}

/* Running sums of a station that is not settled yet. */
struct open_station {
    bool open;
    double none, weighted; /* P(no settled station received), sum of P(best) C */
};

static double open_frames(const struct open_station *o)
{
    return (1.0 + o->weighted) / (1.0 - o->none);
}

/* The open station with the least C, or the count when none has a settled neighbour. */
static unsigned nearest(const struct open_station *open, unsigned count)
{
    unsigned best = count;
    for (unsigned i = 0; i < count; i++) {
        if (open[i].open && open[i].none < 1.0 &&
            (best == count || open_frames(&open[i]) < open_frames(&open[best]))) {
            best = i;
        }
    }
    return best;
}

static void settle(struct orders *o, struct open_station *open, const struct sim_topology *t,
                   unsigned station, double frames)
{
    unsigned rank = o->count++;
    o->station[rank] = (uint8_t)station;
    o->frames[rank] = frames;
    o->none[rank] = open[station].none;
    open[station].open = false;
    for (unsigned i = 0; i < t->count; i++) {
        if (open[i].open) {
            double q = arrives(t, i, station);
            open[i].weighted += open[i].none * q * frames;
            open[i].none *= 1.0 - q;
        }
    }
}

static void fill_best(struct orders *o, const struct sim_topology *t)
{
    for (unsigned i = 0; i < o->count; i++) {
        double none = 1.0;
        for (unsigned j = 0; j < i; j++) {
            double q = arrives(t, o->station[i], o->station[j]);
            o->best[i][j] = none * q;
            none *= 1.0 - q;
        }
    }
}

static void settle_all(struct orders *o, const struct sim_topology *t)
{
    struct open_station open[SIM_STATIONS_MAX];
    for (unsigned i = 0; i < t->count; i++) {
        open[i] = (struct open_station){.open = true, .none = 1.0};
    }
    for (unsigned i = 0; i < t->count; i++) {
        if (t->stations[i].is_base) {
            settle(o, open, t, i, 0.0);
        }
    }
    for (unsigned i; (i = nearest(open, t->count)) < t->count;) {
        settle(o, open, t, i, open_frames(&open[i]));
    }
    fill_best(o, t);
}

/* One transmission by the best holder: moves the probabilities at[rank] on. */
static void step(const struct orders *o, const struct sim_topology *t, unsigned worst, double *at)
{
    for (unsigned i = 0; i <= worst; i++) {
        if (t->stations[o->station[i]].is_base || at[i] == 0.0) {
            continue;
        }
        /* Better ranks have been moved already, so what arrives there waits for the next step. */
        for (unsigned j = 0; j < i; j++) {
            at[j] += at[i] * o->best[i][j];
        }
        at[i] *= o->none[i];
    }
}

static double arrived(const struct orders *o, const struct sim_topology *t, unsigned worst,
                      const double *at)
{
    double sum = 0.0;
    for (unsigned i = 0; i <= worst && t->stations[o->station[i]].is_base; i++) {
        sum += at[i];
    }
    return sum;
}

static void find_quantiles(const struct orders *o, const struct sim_topology *t, unsigned rank,
                           struct sim_genie *out)
{
    /* Sums of products: a quantile that is met exactly must not be missed by rounding. */
    static const double slack = 1e-9;
    double at[SIM_STATIONS_MAX] = {0};
    at[rank] = 1.0;
    bool half = false;
    for (unsigned n = 0; n <= SIM_GENIE_FRAMES_MAX; n++) {
        double sum = arrived(o, t, rank, at);
        if (!half && sum >= 0.5 - slack) {
            half = true;
            out->p50_frames = n;
        }
        if (sum >= 0.95 - slack) {
            out->p95_frames = n;
            out->quantiles_known = true;
            return;
        }
        step(o, t, rank, at);
    }
}

static int find_to_base(const struct sim_topology *t, unsigned origin, struct sim_genie *out)
{
    struct orders *o = calloc(1, sizeof *o);
    if (o == NULL) {
        return RP_E_MEMORY;
    }
    settle_all(o, t);
    for (unsigned rank = 0; rank < o->count; rank++) {
        if (o->station[rank] == origin) {
            out->base_known = true;
            out->base_frames = o->frames[rank];
            find_quantiles(o, t, rank, out);
        }
    }
    free(o);
    return 0;
}

/* P(exactly the stations of `got` receive, of those in `open`), station i sending. */
static double pattern(const double *q, unsigned count, unsigned open, unsigned got)
{
    double p = 1.0;
    for (unsigned j = 0; j < count; j++) {
        if ((open >> j & 1) != 0) {
            p *= (got >> j & 1) != 0 ? q[j] : 1.0 - q[j];
        }
    }
    return p;
}

/* V(S) when station i sends; negative when that reaches nobody new. */
static double value_by(const double *value, const double *q, unsigned count, unsigned set)
{
    unsigned open = 0;
    for (unsigned j = 0; j < count; j++) {
        open |= (set >> j & 1) == 0 && q[j] > 0.0 ? 1u << j : 0;
    }
    double sum = 1.0;
    for (unsigned got = open; got != 0; got = (got - 1) & open) {
        if (value[set | got] < 0.0) {
            return -1.0; /* a set from which not everybody can be reached */
        }
        sum += pattern(q, count, open, got) * value[set | got];
    }
    double none = pattern(q, count, open, 0);
    return none < 1.0 ? sum / (1.0 - none) : -1.0;
}

static void find_to_all(const struct sim_topology *t, unsigned origin, struct sim_genie *out)
{
    static const double unknown = -1.0;
    double value[1u << SIM_GENIE_ALL_MAX];
    double q[SIM_GENIE_ALL_MAX][SIM_GENIE_ALL_MAX];
    for (unsigned i = 0; i < t->count; i++) {
        for (unsigned j = 0; j < t->count; j++) {
            q[i][j] = arrives(t, i, j);
        }
    }
    unsigned full = (1u << t->count) - 1;
    value[full] = 0.0;
    for (unsigned set = full - 1; set > 0; set--) {
        value[set] = unknown;
        for (unsigned i = 0; i < t->count; i++) {
            double v = (set >> i & 1) != 0 ? value_by(value, q[i], t->count, set) : unknown;
            if (v >= 0.0 && (value[set] < 0.0 || v < value[set])) {
                value[set] = v;
            }
        }
    }
    out->all_known = value[1u << origin] >= 0.0;
    out->all_frames = out->all_known ? value[1u << origin] : 0.0;
}

int sim_genie(const struct sim_topology *topology, unsigned origin, int64_t frame_us,
              struct sim_genie *out_genie)
{
    const struct sim_topology *t = topology;
    struct sim_genie genie = {.base_known = false};
    if (origin >= t->count || frame_us < 0) {
        return RP_E_INVALID;
    }
    for (unsigned i = 0; i < t->count; i++) {
        for (unsigned j = 0; j < t->count; j++) {
            if (t->links[i][j].kind == SIM_LINK_MODEL) {
                return RP_E_UNSUPPORTED;
            }
        }
    }
    int err = find_to_base(t, origin, &genie);
    if (err != 0) {
        return err;
    }
    if (t->count <= SIM_GENIE_ALL_MAX) {
        find_to_all(t, origin, &genie);
    }
    genie.base_us = (int64_t)(genie.base_frames * (double)frame_us + 0.5);
    genie.all_us = (int64_t)(genie.all_frames * (double)frame_us + 0.5);
    genie.p50_us = genie.p50_frames * frame_us;
    genie.p95_us = genie.p95_frames * frame_us;
    *out_genie = genie;
    return 0;
}
