#include "sim/peers.h"

#include <inttypes.h>

static void add(struct sim_peer *peer, const struct sim_baseline_figures *f)
{
    peer->originated += f->originated;
    peer->delivered_to_base += f->delivered_to_base;
    peer->delivered_to_all += f->delivered_to_all;
    peer->airtime_us += f->airtime_us;
    peer->genie_base_us += f->base_known ? f->genie_base_us : 0;
    peer->genie_all_us += f->all_known ? f->genie_all_us : 0;
    peer->p50_sum_s += f->p50_s;
    peer->p95_sum_s += f->p95_s;
    if (peer->newest_us >= 0 && (f->newest_us < 0 || f->newest_us > peer->newest_us)) {
        peer->newest_us = f->newest_us;
    }
}

static struct sim_workload workload_of(const struct sim_settings *settings)
{
    int64_t records = settings->hours_us / settings->interval_us;
    struct sim_workload workload = {
        .radio = {.spreading_factor = settings->spreading_factor,
                  .bandwidth_hz = settings->bandwidth_hz,
                  .coding_rate = 5,
                  .crc = true,
                  .preamble_symbols = 8,
                  .low_data_rate =
                      rp_airtime_low_data_rate(settings->spreading_factor, settings->bandwidth_hz)},
        .record_bytes = settings->record_bytes,
        .records = records > 0 ? (unsigned)records : 1,
        .interval_us = settings->interval_us,
        .sporadic = settings->cadence == SIM_SPORADIC,
        .budget_us_per_hour = settings->duty_permille * (SIM_HOUR_US / 1000),
        .break_count = settings->cut_count,
    };
    for (unsigned i = 0; i < settings->cut_count; i++) {
        const struct sim_cut *cut = &settings->cuts[i];
        workload.breaks[i] = (struct sim_break){cut->a, cut->b, cut->from_us, cut->to_us};
    }
    return workload;
}

int sim_peers_add(struct sim_peers *peers, const struct sim_topology *topology,
                  const struct sim_settings *settings, uint64_t seed,
                  struct rp_problem *out_problem)
{
    struct sim_workload workload = workload_of(settings);
    for (unsigned i = 0; i < SIM_BASELINE_COUNT; i++) {
        struct sim_baseline_figures figures;
        int err = sim_baseline_run((enum sim_baseline)i, topology, &workload, seed, &figures);
        if (err != 0) {
            return rp_problem_set(out_problem, err, "--baselines",
                                  "--baselines need links with a loss and at most 10000 records of "
                                  "a station (example: --topology chain:5 --loss 0.3)");
        }
        add(&peers->of[i], &figures);
    }
    peers->seeds++;
    return 0;
}

static void put_ratio(FILE *to, const char *name, int64_t airtime_us, int64_t genie_us)
{
    if (genie_us > 0) {
        fprintf(to, ", \"%s\": %.4f", name, (double)airtime_us / (double)genie_us);
    } else {
        fprintf(to, ", \"%s\": null", name);
    }
}

static void put_newest(FILE *to, int64_t newest_us)
{
    if (newest_us >= 0) {
        fprintf(to, ", \"newest_after_cut_worst_s\": %.3f", (double)newest_us / 1e6);
    } else {
        fprintf(to, ", \"newest_after_cut_worst_s\": null");
    }
}

void sim_peers_json(FILE *to, const struct sim_peers *peers)
{
    fprintf(to, "  \"baselines\": {\n");
    for (unsigned i = 0; i < SIM_BASELINE_COUNT; i++) {
        const struct sim_peer *p = &peers->of[i];
        fprintf(to, "    \"%s\": {\"originated\": %" PRIu64 ", \"delivered_to_base\": %" PRIu64,
                sim_baseline_name((enum sim_baseline)i), p->originated, p->delivered_to_base);
        fprintf(to, ", \"delivered_to_all\": %" PRIu64 ", \"airtime_s\": %.3f", p->delivered_to_all,
                (double)p->airtime_us / 1e6);
        put_ratio(to, "ratio_base", p->airtime_us, p->genie_base_us);
        put_ratio(to, "ratio_all", p->airtime_us, p->genie_all_us);
        fprintf(to, ", \"p50_s\": %.3f, \"p95_s\": %.3f", p->p50_sum_s / peers->seeds,
                p->p95_sum_s / peers->seeds);
        put_newest(to, p->newest_us);
        fprintf(to, "}%s\n", i + 1 < SIM_BASELINE_COUNT ? "," : "");
    }
    fprintf(to, "  },\n");
}

void sim_peers_text(FILE *to, const struct sim_peers *peers)
{
    fprintf(to, "%-20s %9s %9s %8s %8s\n", "baseline", "at base", "airtime s", "p50 s", "p95 s");
    for (unsigned i = 0; i < SIM_BASELINE_COUNT; i++) {
        const struct sim_peer *p = &peers->of[i];
        fprintf(to, "%-20s %7.1f %% %9.1f %8.1f %8.1f\n", sim_baseline_name((enum sim_baseline)i),
                100.0 * (double)p->delivered_to_base / (double)p->originated,
                (double)p->airtime_us / 1e6, p->p50_sum_s / peers->seeds,
                p->p95_sum_s / peers->seeds);
    }
}
