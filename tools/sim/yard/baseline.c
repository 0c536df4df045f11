#include "sim/yard/baseline.h"

#include <stdlib.h>

#include "sim/yard/air.h"
#include "sim/yard/genie.h"

#define GRACE_US        INT64_C(43200000000) /* 12 h, as the published runs */
#define RECORDS_MAX     10000
#define INTERVAL_US_MIN 1000000
#define FRAME_BYTES_MAX 222

static const struct yard_protocol *const protocols[SIM_BASELINE_COUNT] = {
    [SIM_FLOOD_ONCE] = &yard_flood_once,
    [SIM_FLOOD_THRICE] = &yard_flood_thrice,
    [SIM_MPL] = &yard_mpl,
    [SIM_STOP_WAIT] = &yard_stop_wait,
};

const char *sim_baseline_name(enum sim_baseline which)
{
    return (unsigned)which < SIM_BASELINE_COUNT ? protocols[which]->name : "";
}

static int check(enum sim_baseline which, const struct sim_topology *t,
                 const struct sim_workload *w)
{
    int64_t frame_us = rp_airtime_us(&w->radio, w->record_bytes);
    if ((unsigned)which >= SIM_BASELINE_COUNT || w->record_bytes == 0 ||
        w->record_bytes > FRAME_BYTES_MAX || w->records == 0 || w->records > RECORDS_MAX ||
        w->interval_us < INTERVAL_US_MIN || frame_us <= 0 || w->budget_us_per_hour < 0 ||
        (w->budget_us_per_hour > 0 && frame_us > w->budget_us_per_hour)) {
        return RP_E_INVALID;
    }
    bool reports = false;
    for (unsigned i = 0; i < t->count; i++) {
        reports = reports || t->stations[i].reports;
        for (unsigned j = 0; j < t->count; j++) {
            if (t->links[i][j].kind == SIM_LINK_MODEL) {
                return RP_E_UNSUPPORTED;
            }
        }
    }
    return reports ? 0 : RP_E_INVALID;
}

static int compare_us(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

/* The smallest wait that at least that many thousandths of the waits do not exceed. */
static double quantile_s(const int64_t *sorted_us, unsigned count, unsigned thousandths)
{
    if (count == 0) {
        return 0.0;
    }
    uint64_t rank = ((uint64_t)count * thousandths + 999) / 1000;
    return (double)sorted_us[rank > 0 ? rank - 1 : 0] / 1e6;
}

static int count_records(const struct yard *yard, struct sim_baseline_figures *out)
{
    int64_t *waits_us = malloc(yard->record_count * sizeof *waits_us);
    if (waits_us == NULL) {
        return RP_E_MEMORY;
    }
    for (uint32_t i = 0; i < yard->record_count; i++) {
        const struct yard_record *r = &yard->records[i];
        if (r->base_us >= 0) {
            waits_us[out->delivered_to_base++] = r->base_us - r->at_us;
        }
        out->delivered_to_all += r->holders == yard->topology->count ? 1 : 0;
    }
    qsort(waits_us, out->delivered_to_base, sizeof *waits_us, compare_us);
    out->p50_s = quantile_s(waits_us, out->delivered_to_base, 500);
    out->p95_s = quantile_s(waits_us, out->delivered_to_base, 950);
    out->p99_s = quantile_s(waits_us, out->delivered_to_base, 990);
    free(waits_us);
    return 0;
}

static int64_t newest_after_us(const struct yard *yard, unsigned origin, int64_t end_us)
{
    int64_t made_us = -1, base_us = -1;
    for (uint32_t i = 0; i < yard->record_count; i++) { /* those of an origin by time */
        const struct yard_record *r = &yard->records[i];
        if (r->origin != origin) {
            continue;
        }
        if (r->at_us <= end_us) {
            made_us = r->at_us;
            base_us = r->base_us;
        } else if (r->base_us >= 0 && (base_us < 0 || r->base_us < base_us)) {
            base_us = r->base_us;
        }
    }
    if (made_us < 0 || base_us < 0) {
        return -1;
    }
    return base_us > end_us ? base_us - end_us : 0;
}

static int64_t newest_us(const struct yard *yard)
{
    int64_t longest_us = 0;
    for (unsigned i = 0; i < yard->workload->break_count; i++) {
        for (unsigned at = 0; at < yard->topology->count; at++) {
            if (yard->topology->stations[at].reports && longest_us >= 0) {
                int64_t us = newest_after_us(yard, at, yard->workload->breaks[i].to_us);
                longest_us = us < 0 || us > longest_us ? us : longest_us;
            }
        }
    }
    return longest_us;
}

static int ask_genie(const struct yard *yard, struct sim_baseline_figures *out)
{
    const struct sim_workload *w = yard->workload;
    int64_t frame_us = rp_airtime_us(&w->radio, w->record_bytes);
    out->base_known = out->all_known = true;
    for (unsigned i = 0; i < yard->topology->count; i++) {
        struct sim_genie genie;
        if (!yard->topology->stations[i].reports) {
            continue;
        }
        int err = sim_genie(yard->topology, i, frame_us, &genie);
        if (err != 0) {
            return err;
        }
        out->base_known = out->base_known && genie.base_known;
        out->all_known = out->all_known && genie.all_known;
        out->genie_base_us += genie.base_us * w->records;
        out->genie_all_us += genie.all_us * w->records;
    }
    if (out->base_known && out->genie_base_us > 0) {
        out->ratio_base = (double)out->airtime_us / (double)out->genie_base_us;
    }
    if (out->all_known && out->genie_all_us > 0) {
        out->ratio_all = (double)out->airtime_us / (double)out->genie_all_us;
    }
    return 0;
}

static int sum_up(const struct yard *yard, struct sim_baseline_figures *out_figures)
{
    struct sim_baseline_figures figures = {.originated = yard->record_count,
                                           .frames = yard->frames,
                                           .heard = yard->heard,
                                           .lost_to_loss = yard->lost_to_loss,
                                           .lost_to_clash = yard->lost_to_clash,
                                           .dropped = yard->dropped,
                                           .airtime_us = yard->airtime_us,
                                           .control_us = yard->control_us};
    figures.newest_us = newest_us(yard);
    int err = count_records(yard, &figures);
    if (err == 0) {
        err = ask_genie(yard, &figures);
    }
    if (err == 0) {
        *out_figures = figures;
    }
    return err;
}

int sim_baseline_run(enum sim_baseline which, const struct sim_topology *topology,
                     const struct sim_workload *workload, uint64_t seed,
                     struct sim_baseline_figures *out_figures)
{
    int err = check(which, topology, workload);
    if (err != 0) {
        return err;
    }
    struct yard *yard = yard_open(protocols[which], topology, workload, seed);
    if (yard == NULL) {
        return RP_E_MEMORY;
    }
    yard_run(yard, yard_plan_us(yard) + GRACE_US);
    err = yard->out_of_memory ? RP_E_MEMORY : sum_up(yard, out_figures);
    yard_close(yard);
    return err;
}
