#include "sim/measure.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sim/yard/genie.h"

void sim_measure_init(struct sim_measure *measure)
{
    memset(measure, 0, sizeof *measure);
}

void sim_measure_deinit(struct sim_measure *measure)
{
    free(measure->routine.at);
    free(measure->urgent.at);
    free(measure->newest.at);
    free(measure->proof.at);
}

static void add_time(struct sim_times *times, rp_time_us time_us)
{
    if (times->count == times->cap) {
        times->cap = times->cap * 2 + 256;
        times->at = realloc(times->at, times->cap * sizeof times->at[0]);
        assert(times->at != NULL);
    }
    times->at[times->count++] = time_us;
}

static int by_time(const void *a, const void *b)
{
    rp_time_us x = *(const rp_time_us *)a, y = *(const rp_time_us *)b;
    return (x > y) - (x < y);
}

rp_time_us sim_times_quantile(struct sim_times *times, unsigned permille)
{
    if (times->count == 0) {
        return RP_NEVER;
    }
    qsort(times->at, times->count, sizeof times->at[0], by_time);
    /* The smallest value with at least this share of all at or below it. */
    size_t rank = (times->count * permille + 999) / 1000;
    return times->at[rank > 0 ? rank - 1 : 0];
}

/* On a chain the yardstick is base, elsewhere everybody (as far as that can be computed): a chain
 * is a net in which nobody has more than two neighbours and base has one. */
static bool is_chain(const struct sim_topology *topology)
{
    unsigned ends = 0;
    for (unsigned a = 0; a < topology->count; a++) {
        unsigned degree = 0;
        for (unsigned b = 0; b < topology->count; b++) {
            degree += b != a && topology->links[a][b].kind != SIM_LINK_NONE &&
                      topology->links[a][b].loss < SIM_LOSS_ONE;
        }
        if (degree == 0 || degree > 2) {
            return false;
        }
        ends += degree == 1;
    }
    return ends == 2;
}

struct yard {
    bool to_all;
    double us_of[SIM_STATIONS_MAX]; /* per record of this origin; negative: unknown */
    int64_t urgent_p95_us;
};

static double record_us(struct yard *yard, const struct sim_world *world, unsigned origin)
{
    struct sim_genie genie;
    int64_t frame_us = world->airtime_us[world->settings->record_bytes];
    if (sim_genie(world->topology, origin, frame_us, &genie) < 0) {
        return -1;
    }
    if (yard->urgent_p95_us == 0 && genie.quantiles_known) {
        yard->urgent_p95_us = genie.p95_us;
    }
    if (yard->to_all) {
        return genie.all_known ? genie.all_frames * (double)frame_us : -1;
    }
    return genie.base_known ? genie.base_frames * (double)frame_us : -1;
}

static double genie_us(struct sim_measure *measure, const struct sim_world *world)
{
    struct yard yard = {.to_all = !is_chain(world->topology) &&
                                  world->topology->count <= SIM_GENIE_ALL_MAX};
    double sum_us = 0;
    for (unsigned at = 0; at < world->count; at++) {
        yard.us_of[at] = world->topology->stations[at].reports ? record_us(&yard, world, at) : 0;
    }
    for (uint32_t i = 0; i < world->truth.record_count; i++) {
        const struct sim_fact_record *record = &world->truth.records[i];
        if (record->sort == SIM_SORT_WORKLOAD) {
            if (yard.us_of[record->host] < 0) {
                return 0;
            }
            sum_us += yard.us_of[record->host];
        }
    }
    measure->genie_to_all = yard.to_all;
    measure->genie_urgent_p95_us = yard.urgent_p95_us;
    return sum_us;
}

static void add_records(struct sim_measure *measure, const struct sim_world *world)
{
    for (uint32_t i = 0; i < world->truth.record_count; i++) {
        const struct sim_fact_record *record = &world->truth.records[i];
        if (record->sort != SIM_SORT_WORKLOAD) {
            continue;
        }
        bool at_base = record->base_us != RP_NEVER;
        measure->originated++;
        measure->delivered_to_base += at_base;
        measure->delivered_to_all += record->all_us != RP_NEVER;
        add_time(record->urgent ? &measure->urgent : &measure->routine,
                 at_base ? record->base_us - record->made_us : RP_NEVER);
        bool proved = record->proved_us != RP_NEVER;
        add_time(&measure->proof, proved ? record->proved_us - record->made_us : RP_NEVER);
    }
}

static rp_time_us newest_after_us(const struct sim_world *world, unsigned host, rp_time_us end_us)
{
    rp_time_us made_us = 0, base_us = RP_NEVER;
    /* In order of making, so the newest before the end is settled before any later one counts. */
    for (uint32_t i = 0; i < world->truth.record_count; i++) {
        const struct sim_fact_record *record = &world->truth.records[i];
        if (record->sort != SIM_SORT_WORKLOAD || record->host != host) {
            continue;
        }
        if (record->made_us <= end_us) {
            made_us = record->made_us;
            base_us = record->base_us;
        } else {
            base_us = record->base_us < base_us ? record->base_us : base_us;
        }
    }
    if (made_us == 0 || base_us == RP_NEVER) {
        return RP_NEVER;
    }
    return base_us > end_us ? base_us - end_us : 0;
}

static void add_newest(struct sim_measure *measure, const struct sim_world *world)
{
    const struct sim_settings *settings = world->settings;
    for (unsigned cut = 0; cut < settings->cut_count; cut++) {
        for (unsigned host = 0; host < world->count; host++) {
            rp_time_us end_us = settings->cuts[cut].to_us;
            if (world->topology->stations[host].reports && end_us < settings->hours_us) {
                add_time(&measure->newest, newest_after_us(world, host, end_us));
            }
        }
    }
}

void sim_measure_add(struct sim_measure *measure, const struct sim_world *world,
                     uint64_t violations)
{
    measure->seeds++;
    add_records(measure, world);
    add_newest(measure, world);
    for (unsigned i = 0; i < SIM_SPENT_COUNT; i++) {
        measure->spent_us[i] += world->spent_us[i];
        measure->spent_frames[i] += world->spent_frames[i];
    }
    double genie = genie_us(measure, world);
    double ratio = genie > 0 ? (double)sim_world_airtime_us(world) / genie : 0;
    measure->genie_us += genie;
    measure->ratio_sum += ratio;
    measure->ratio_square_sum += ratio * ratio;
    measure->collisions += world->channel.collisions;
    measure->losses += world->channel.losses;
    measure->frames += world->channel.frames;
    measure->refused_entries += world->refused_entries;
    measure->events += world->events;
    measure->violations += violations;
    rp_time_us over_us = world->now_us - world->settings->hours_us;
    measure->longest_settle_us =
        over_us > measure->longest_settle_us ? over_us : measure->longest_settle_us;
    measure->unsettled += !sim_world_settled(world);
    measure->simulated_us += world->now_us * (rp_time_us)world->count;
    measure->trace_hash = (measure->trace_hash ^ world->trace_hash) * 0x100000001b3u;
}

uint64_t sim_measure_airtime_us(const struct sim_measure *measure)
{
    uint64_t sum_us = 0;
    for (unsigned i = 0; i < SIM_SPENT_COUNT; i++) {
        sum_us += measure->spent_us[i];
    }
    return sum_us;
}

double sim_measure_ratio(const struct sim_measure *measure)
{
    return measure->genie_us > 0 ? (double)sim_measure_airtime_us(measure) / measure->genie_us : 0;
}

double sim_measure_ratio_error(const struct sim_measure *measure)
{
    if (measure->seeds < 2) {
        return 0;
    }
    double n = measure->seeds, mean = measure->ratio_sum / n;
    double variance = (measure->ratio_square_sum - n * mean * mean) / (n - 1);
    return variance > 0 ? sqrt(variance / n) : 0;
}
