#include "sim/report.h"

#include <inttypes.h>

static const char *const spent_names[SIM_SPENT_COUNT] = {
    [SIM_SPENT_WORKLOAD] = "records",    [SIM_SPENT_RECEIPT] = "receipts",
    [SIM_SPENT_OTHER] = "other_records", [SIM_SPENT_DIGEST] = "digests",
    [SIM_SPENT_VECTOR] = "vectors",      [SIM_SPENT_REQUEST] = "requests"};

static double seconds(uint64_t us)
{
    return (double)us / 1e6;
}

/* A time in seconds, or null when it is not known or never came. */
static void put_time(FILE *to, const char *name, rp_time_us time_us)
{
    if (time_us == RP_NEVER) {
        fprintf(to, "  \"%s\": null,\n", name);
    } else {
        fprintf(to, "  \"%s\": %.3f,\n", name, seconds((uint64_t)time_us));
    }
}

static void put_spent(FILE *to, const struct sim_measure *measure)
{
    fprintf(to, "  \"airtime_by_kind_s\": {");
    for (unsigned i = 0; i < SIM_SPENT_COUNT; i++) {
        fprintf(to, "%s\"%s\": %.3f", i > 0 ? ", " : "", spent_names[i],
                seconds(measure->spent_us[i]));
    }
    fprintf(to, "},\n  \"frames_by_kind\": {");
    for (unsigned i = 0; i < SIM_SPENT_COUNT; i++) {
        fprintf(to, "%s\"%s\": %" PRIu64, i > 0 ? ", " : "", spent_names[i],
                measure->spent_frames[i]);
    }
    fprintf(to, "},\n");
}

static void put_ratio(FILE *to, const char *name, uint64_t airtime_us, double genie_us)
{
    if (genie_us > 0) {
        fprintf(to, "  \"%s\": %.4f,\n", name, (double)airtime_us / genie_us);
    } else {
        fprintf(to, "  \"%s\": null,\n", name);
    }
}

void sim_report_json(FILE *to, struct sim_measure *m, const struct sim_peers *peers)
{
    uint64_t airtime_us = sim_measure_airtime_us(m);
    uint64_t records_us = m->spent_us[SIM_SPENT_RECEIPT] + m->spent_us[SIM_SPENT_OTHER];
    fprintf(to, "{\n  \"seeds\": %" PRIu32 ",\n", m->seeds);
    fprintf(to, "  \"originated\": %" PRIu64 ",\n", m->originated);
    fprintf(to, "  \"delivered_to_base\": %" PRIu64 ",\n", m->delivered_to_base);
    fprintf(to, "  \"delivered_to_all\": %" PRIu64 ",\n", m->delivered_to_all);
    fprintf(to, "  \"airtime_s\": %.3f,\n", seconds(airtime_us));
    fprintf(to, "  \"genie_airtime_s\": %.3f,\n", m->genie_us / 1e6);
    fprintf(to, "  \"genie_to\": \"%s\",\n", m->genie_to_all ? "all" : "base");
    put_ratio(to, "ratio", airtime_us, m->genie_us);
    fprintf(to, "  \"ratio_error\": %.4f,\n", sim_measure_ratio_error(m));
    /* Without the segments of receipts, station cards and clock notes, which the genie never
     * sends; the control frames that they caused stay in. */
    put_ratio(to, "ratio_without_housekeeping", airtime_us - records_us, m->genie_us);
    put_time(to, "p50_s", sim_times_quantile(&m->routine, 500));
    put_time(to, "p95_s", sim_times_quantile(&m->routine, 950));
    put_time(to, "p99_s", sim_times_quantile(&m->routine, 990));
    put_time(to, "proof_p50_s", sim_times_quantile(&m->proof, 500));
    put_time(to, "proof_p95_s", sim_times_quantile(&m->proof, 950));
    put_time(to, "urgent_p50_s", sim_times_quantile(&m->urgent, 500));
    put_time(to, "urgent_p95_s", sim_times_quantile(&m->urgent, 950));
    put_time(to, "genie_urgent_p95_s",
             m->genie_urgent_p95_us > 0 ? m->genie_urgent_p95_us : RP_NEVER);
    put_time(to, "newest_after_cut_p50_s", sim_times_quantile(&m->newest, 500));
    put_time(to, "newest_after_cut_p95_s", sim_times_quantile(&m->newest, 950));
    fprintf(to, "  \"digest_share\": %.4f,\n",
            airtime_us > 0 ? (double)m->spent_us[SIM_SPENT_DIGEST] / (double)airtime_us : 0);
    put_spent(to, m);
    fprintf(to, "  \"frames\": %" PRIu64 ",\n  \"collisions\": %" PRIu64 ",\n", m->frames,
            m->collisions);
    fprintf(to, "  \"events\": %" PRIu64 ",\n", m->events);
    fprintf(to, "  \"refused_entries\": %" PRIu64 ",\n", m->refused_entries);
    fprintf(to, "  \"settle_s\": %.1f,\n  \"unsettled_seeds\": %" PRIu32 ",\n",
            m->longest_settle_us > 0 ? seconds((uint64_t)m->longest_settle_us) : 0.0, m->unsettled);
    if (peers != NULL) {
        sim_peers_json(to, peers);
    }
    fprintf(to, "  \"violations\": %" PRIu64 ",\n", m->violations);
    fprintf(to, "  \"trace_hash\": \"%016" PRIx64 "\"\n}\n", m->trace_hash);
}

static void say_time(FILE *to, const char *what, rp_time_us time_us)
{
    if (time_us == RP_NEVER) {
        fprintf(to, "%-28s never, or there was none\n", what);
    } else {
        fprintf(to, "%-28s %.1f s\n", what, seconds((uint64_t)time_us));
    }
}

void sim_report_text(FILE *to, struct sim_measure *m, const struct sim_peers *peers)
{
    uint64_t airtime_us = sim_measure_airtime_us(m);
    fprintf(to, "%-28s %" PRIu32 "\n", "seeds", m->seeds);
    fprintf(to, "%-28s %" PRIu64 "\n", "records originated", m->originated);
    fprintf(to, "%-28s %" PRIu64 "\n", "delivered to base", m->delivered_to_base);
    fprintf(to, "%-28s %" PRIu64 "\n", "delivered to all", m->delivered_to_all);
    fprintf(to, "%-28s %.1f s\n", "airtime of all stations", seconds(airtime_us));
    for (unsigned i = 0; i < SIM_SPENT_COUNT; i++) {
        fprintf(to, "    %-24s %.1f s in %" PRIu64 " frames\n", spent_names[i],
                seconds(m->spent_us[i]), m->spent_frames[i]);
    }
    if (m->genie_us > 0) {
        fprintf(to, "%-28s %.1f s, to %s\n", "genie's airtime", m->genie_us / 1e6,
                m->genie_to_all ? "everybody" : "base");
        fprintf(to, "%-28s %.3f +- %.3f (standard error)\n", "ratio", sim_measure_ratio(m),
                sim_measure_ratio_error(m));
    } else {
        fprintf(to, "%-28s not known for this net\n", "genie's airtime");
    }
    say_time(to, "to base, median", sim_times_quantile(&m->routine, 500));
    say_time(to, "to base, p95", sim_times_quantile(&m->routine, 950));
    say_time(to, "shown as at base, median", sim_times_quantile(&m->proof, 500));
    say_time(to, "urgent to base, p95", sim_times_quantile(&m->urgent, 950));
    fprintf(to, "%-28s %" PRIu64 "\n", "collisions", m->collisions);
    fprintf(to, "%-28s %" PRIu64 "\n", "violations", m->violations);
    if (peers != NULL) {
        sim_peers_text(to, peers);
    }
    fprintf(to, "%-28s %016" PRIx64 "\n", "trace", m->trace_hash);
}
