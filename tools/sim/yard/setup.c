#include <math.h>
#include <stdlib.h>

#include "sim/yard/air.h"

static int64_t interval_us(struct yard *yard)
{
    int64_t mean_us = yard->workload->interval_us;
    if (!yard->workload->sporadic) {
        return mean_us;
    }
    double u = ((double)(rp_rng_next(&yard->rng) >> 11) + 0.5) / 9007199254740992.0; /* 2^53 */
    return (int64_t)(-log(u) * (double)mean_us) + 1;
}

int64_t yard_plan_us(struct yard *yard)
{
    const struct sim_workload *w = yard->workload;
    int64_t last_us = 0;
    unsigned reporter = 0;
    for (unsigned station = 0; station < yard->topology->count; station++) {
        if (!yard->topology->stations[station].reports) {
            continue;
        }
        int64_t at_us = w->interval_us / yard->reporters * reporter;
        for (uint32_t number = 0; number < w->records; number++) {
            uint32_t record = reporter * w->records + number;
            yard->records[record] = (struct yard_record){
                .origin = (uint8_t)station, .number = number, .at_us = at_us, .base_us = -1};
            yard_originate_at(yard, at_us, record);
            last_us = at_us > last_us ? at_us : last_us;
            at_us += interval_us(yard);
        }
        reporter++;
    }
    return last_us;
}

void yard_close(struct yard *yard)
{
    for (unsigned i = 0; yard->stations != NULL && i < yard->topology->count; i++) {
        free(yard->stations[i].charges);
    }
    free(yard->stations);
    free(yard->records);
    free(yard->held);
    free(yard->events);
    free(yard->state);
    free(yard);
}

struct yard *yard_open(const struct yard_protocol *protocol, const struct sim_topology *topology,
                       const struct sim_workload *workload, uint64_t seed)
{
    struct yard *yard = calloc(1, sizeof *yard);
    if (yard == NULL) {
        return NULL;
    }
    yard->topology = topology;
    yard->workload = workload;
    yard->protocol = protocol;
    yard->rng = rp_rng_seeded(seed);
    for (unsigned i = 0; i < topology->count; i++) {
        yard->reporters += topology->stations[i].reports ? 1 : 0;
    }
    yard->record_count = yard->reporters * workload->records;
    yard->stations = calloc(topology->count, sizeof *yard->stations);
    yard->records = calloc(yard->record_count, sizeof *yard->records);
    yard->held = calloc((size_t)topology->count * yard->record_count, 1);
    size_t state_size = protocol->state_size(yard);
    yard->state = calloc(state_size > 0 ? state_size : 1, 1);
    if (yard->stations == NULL || yard->records == NULL || yard->held == NULL ||
        yard->state == NULL) {
        yard_close(yard);
        return NULL;
    }
    if (protocol->start != NULL) {
        protocol->start(yard);
    }
    return yard;
}
