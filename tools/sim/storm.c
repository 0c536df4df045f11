/* storm and tell: drawn faults, many seeds; and the story of one. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <sysexits.h>
#include <time.h>

#include "sim/run.h"
#include "sim/trial/trial.h"

/* All that is missing must be everywhere this long after the last fault: stated, and checked. */
#define SETTLE_US (24 * SIM_HOUR_US)

/* How long after the faults everything was everywhere. */
struct settled {
    rp_time_us after_us;
    uint64_t seed;
};

#define SLOWEST 5 /* seeds that are named */

struct storm {
    uint32_t seeds, failed;
    uint64_t violations, records, frames, station_us;
    uint64_t injected[SIM_FAULT_COUNT], checks[SIM_RULE_COUNT];
    struct settled *settled; /* of each seed; owned */
    uint64_t trace_hash;
};

static void print_violations(const struct sim_trial *trial, uint64_t seed,
                             const struct sim_options *options)
{
    uint64_t kept = trial->audit.violations < SIM_VIOLATIONS_KEPT ? trial->audit.violations
                                                                  : SIM_VIOLATIONS_KEPT;
    for (uint64_t i = 0; i < kept; i++) {
        const struct sim_violation *violation = &trial->audit.kept[i];
        fprintf(stderr, "seed %" PRIu64 ", %.3f h, %s: VIOLATED: %s: %s\n", seed,
                (double)violation->at_us / SIM_HOUR_US,
                trial->world.topology->stations[violation->host].name,
                sim_rule_sentence(violation->rule), violation->text);
    }
    fprintf(stderr, "its story: ridgepost-sim tell --seed %" PRIu64 " --hours %g", seed,
            (double)options->settings.hours_us / SIM_HOUR_US);
    if (options->has_duty) {
        fprintf(stderr, " --duty %g", options->settings.duty_permille / 10.0);
    }
    fputc('\n', stderr);
}

static void add(struct storm *storm, const struct sim_trial *trial, uint64_t seed)
{
    const struct sim_world *world = &trial->world;
    storm->settled[storm->seeds++] =
        (struct settled){world->now_us - world->settings->hours_us, seed};
    storm->failed += trial->audit.violations > 0;
    storm->violations += trial->audit.violations;
    storm->records += world->truth.record_count;
    storm->frames += world->channel.frames;
    storm->station_us += (uint64_t)world->now_us * world->count;
    for (unsigned i = 0; i < SIM_FAULT_COUNT; i++) {
        storm->injected[i] += trial->injected[i];
    }
    for (unsigned i = 0; i < SIM_RULE_COUNT; i++) {
        storm->checks[i] += trial->audit.checks[i];
    }
    storm->trace_hash = (storm->trace_hash ^ world->trace_hash) * 0x100000001b3u;
}

static int by_time(const void *a, const void *b)
{
    const struct settled *x = a, *y = b;
    return x->after_us < y->after_us ? -1 : x->after_us > y->after_us ? 1 : 0;
}

/* In hours; the settled are sorted. */
static double settled_h(const struct storm *storm, unsigned permille)
{
    return (double)storm->settled[(storm->seeds - 1) * (uint64_t)permille / 1000].after_us /
           SIM_HOUR_US;
}

static void print_settled(const struct storm *storm)
{
    printf("until everything was everywhere, hours after the faults: half of the seeds %.2f, 95 %% "
           "%.2f, 99 %% %.2f, 999 of 1000 %.2f, all %.2f; allowed are %d\n",
           settled_h(storm, 500), settled_h(storm, 950), settled_h(storm, 990),
           settled_h(storm, 999), settled_h(storm, 1000), (int)(SETTLE_US / SIM_HOUR_US));
    printf("the slowest seeds:");
    for (uint32_t i = 0; i < SLOWEST && i < storm->seeds; i++) {
        const struct settled *slow = &storm->settled[storm->seeds - 1 - i];
        printf("%s %" PRIu64 " %.2f h", i > 0 ? "," : "", slow->seed,
               (double)slow->after_us / SIM_HOUR_US);
    }
    putchar('\n');
}

static void tell_plan(FILE *to, const struct sim_plan *plan, uint64_t seed)
{
    const struct sim_settings *settings = &plan->settings;
    if (to == NULL) {
        return;
    }
    fprintf(to,
            "Seed %" PRIu64 ": %s, %u stations; transmit time %.1f %%; a record of %u bytes every "
            "%lld min from each origin, %s; %u of 1000 urgent.\n",
            seed, plan->word, plan->topology.count, settings->duty_permille / 10.0,
            settings->record_bytes, (long long)(settings->interval_us / SIM_MINUTE_US),
            settings->cadence == SIM_DECLARED ? "declared" : "sporadic", settings->urgent_permille);
    for (unsigned i = 0; i < plan->topology.count; i++) {
        const struct sim_station *station = &plan->topology.stations[i];
        fprintf(to, "%s (station %u)%s%s is heard by", station->name, 1 + i,
                station->is_base ? ", base," : "", station->reports ? ", reports," : "");
        for (unsigned j = 0; j < plan->topology.count; j++) {
            if (plan->topology.links[i][j].kind == SIM_LINK_LOSS) {
                fprintf(to, " %s (%.1f %% lost)", plan->topology.stations[j].name,
                        plan->topology.links[i][j].loss / 10.0);
            }
        }
        fputc('\n', to);
    }
    fprintf(to, "Faults:");
    for (unsigned i = 0; i < SIM_FAULT_COUNT; i++) {
        fprintf(to, "%s%s", plan->has[i] ? "; " : "",
                plan->has[i] ? sim_fault_words((enum sim_fault)i) : "");
    }
    fprintf(to, ".\n");
}

static int run_seed(struct storm *storm, struct sim_plan *plan, struct sim_trial *trial,
                    uint64_t seed, const struct sim_options *options, struct sim_story story)
{
    struct rp_problem problem;
    rp_time_us hours_us = options->settings.hours_us;
    uint16_t duty_permille = options->has_duty ? options->settings.duty_permille : 0;
    sim_plan_draw(plan, seed, hours_us, SETTLE_US, duty_permille);
    tell_plan(story.to, plan, seed);
    int code = sim_trial_init(trial, &plan->topology, &plan->settings, plan, seed, story, &problem);
    if (code < 0) {
        fprintf(stderr, "ridgepost-sim: seed %" PRIu64 ": %s\n", seed, problem.text);
        return code;
    }
    sim_trial_run(trial);
    add(storm, trial, seed);
    if (trial->audit.violations > 0) {
        print_violations(trial, seed, options);
    }
    sim_trial_deinit(trial);
    return 0;
}

static void print_text(const struct storm *storm, double hours)
{
    printf("%" PRIu32 " seeds of %g h, %" PRIu64 " records, %" PRIu64 " frames on air, "
           "%.0f station-days\n",
           storm->seeds, hours, storm->records, storm->frames,
           (double)storm->station_us / (24.0 * SIM_HOUR_US));
    for (unsigned i = 0; i < SIM_FAULT_COUNT; i++) {
        printf("  %10" PRIu64 "  %s\n", storm->injected[i], sim_fault_words((enum sim_fault)i));
    }
    printf("checks made\n");
    for (unsigned i = 0; i < SIM_RULE_COUNT; i++) {
        printf("  %10" PRIu64 "  %s\n", storm->checks[i], sim_rule_sentence((enum sim_rule)i));
    }
    print_settled(storm);
    printf("%" PRIu64 " violations in %" PRIu32 " seeds, trace %016" PRIx64 "\n", storm->violations,
           storm->failed, storm->trace_hash);
}

static void print_json(const struct storm *storm, double hours)
{
    printf("{\n  \"seeds\": %" PRIu32 ",\n  \"hours\": %g,\n", storm->seeds, hours);
    printf("  \"records\": %" PRIu64 ",\n  \"frames\": %" PRIu64 ",\n", storm->records,
           storm->frames);
    printf("  \"faults\": {");
    for (unsigned i = 0; i < SIM_FAULT_COUNT; i++) {
        printf("%s\"%s\": %" PRIu64, i > 0 ? ", " : "", sim_fault_words((enum sim_fault)i),
               storm->injected[i]);
    }
    printf("},\n  \"p50_settle_h\": %.3f,\n  \"p95_settle_h\": %.3f,\n  \"p99_settle_h\": %.3f,\n",
           settled_h(storm, 500), settled_h(storm, 950), settled_h(storm, 990));
    printf("  \"longest_settle_h\": %.3f,\n", settled_h(storm, 1000));
    printf("  \"failed_seeds\": %" PRIu32 ",\n  \"violations\": %" PRIu64 ",\n", storm->failed,
           storm->violations);
    printf("  \"trace_hash\": \"%016" PRIx64 "\"\n}\n", storm->trace_hash);
}

int sim_storm(const struct sim_options *options, bool tell)
{
    struct sim_plan *plan = malloc(sizeof *plan);
    struct sim_trial *trial = malloc(sizeof *trial);
    rp_time_us hours_us = options->settings.hours_us;
    uint32_t count = tell ? 1 : options->count;
    struct storm storm = {.settled = calloc(count, sizeof storm.settled[0])};
    int code = plan == NULL || trial == NULL || storm.settled == NULL ? RP_E_MEMORY : 0;
    struct sim_story story = {tell ? stdout : NULL, options->frames};
    for (uint32_t i = 0; code == 0 && i < count; i++) {
        code = run_seed(&storm, plan, trial, options->seed + i, options, story);
    }
    double hours = (double)hours_us / SIM_HOUR_US;
    qsort(storm.settled, storm.seeds, sizeof storm.settled[0], by_time);
    if (code == 0 && options->json) {
        print_json(&storm, hours);
    } else if (code == 0) {
        print_text(&storm, hours);
    }
    free(storm.settled);
    free(plan);
    free(trial);
    return code < 0 ? EX_SOFTWARE : storm.violations > 0 ? 1 : EX_OK;
}
