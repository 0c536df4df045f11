#include "sim/trial/plan.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define YEAR_S (365 * 24 * 3600)

static const char *const words[SIM_FAULT_COUNT] = {
#define SIM_FAULT_WORDS(name, text) [SIM_FAULT_##name] = text,
    SIM_FAULTS(SIM_FAULT_WORDS)
#undef SIM_FAULT_WORDS
};

const char *sim_fault_words(enum sim_fault fault)
{
    return words[fault];
}

static bool chance(struct rp_rng *rng, unsigned permille)
{
    return rp_rng_below(rng, 1000) < permille;
}

static rp_time_us between(struct rp_rng *rng, rp_time_us low_us, rp_time_us high_us)
{
    return rp_rng_between(rng, low_us, high_us);
}

static void draw_topology(struct sim_plan *plan, struct rp_rng *rng)
{
    static const char *const nets[] = {"chain:2",  "chain:3",  "chain:4",  "chain:5",  "chain:6",
                                       "grid:2x2", "grid:3x2", "grid:3x3", "ladder:3", "ladder:4",
                                       "clique:3", "clique:5", "star:4",   "star:6"};
    snprintf(plan->word, sizeof plan->word, "%s",
             nets[rp_rng_below(rng, sizeof nets / sizeof nets[0])]);
    struct rp_problem problem;
    int code =
        sim_topology_make(plan->word, (uint16_t)rp_rng_below(rng, 301), &plan->topology, &problem);
    assert(code == 0); /* a word of our own table */
    for (unsigned i = 0; i < plan->topology.count; i++) {
        struct sim_station *station = &plan->topology.stations[i];
        station->reports = station->reports || (!station->is_base && chance(rng, 200));
    }
}

static void draw_losses(struct sim_plan *plan, struct rp_rng *rng)
{
    for (unsigned a = 0; a < plan->topology.count; a++) {
        for (unsigned b = 0; b < plan->topology.count; b++) {
            if (plan->topology.links[a][b].kind == SIM_LINK_LOSS) {
                plan->topology.links[a][b].loss = (uint16_t)rp_rng_below(rng, 601);
            }
        }
    }
}

static void draw_settings(struct sim_plan *plan, struct rp_rng *rng, rp_time_us hours_us,
                          rp_time_us settle_us, uint16_t duty_permille)
{
    static const uint16_t duties[] = {10, 10, 100, 1000};
    struct sim_settings *settings = &plan->settings;
    sim_settings_defaults(settings);
    settings->hours_us = hours_us;
    settings->settle_us = settle_us;
    uint16_t drawn = duties[rp_rng_below(rng, 4)];
    settings->duty_permille = duty_permille > 0 ? duty_permille : drawn;
    settings->interval_us = between(rng, 10, 90) * SIM_MINUTE_US;
    settings->record_bytes = (uint16_t)rp_rng_between(rng, 36, 60);
    settings->cadence = chance(rng, 500) ? SIM_DECLARED : SIM_SPORADIC;
    settings->urgent_permille = chance(rng, 500) ? (uint16_t)rp_rng_below(rng, 200) : 0;
    settings->capture = chance(rng, 300);
    settings->modem_acks = chance(rng, 300);
    settings->latency_us_max = between(rng, 0, 30000);
}

static struct sim_incident *add(struct sim_plan *plan, enum sim_fault fault, bool on, unsigned host,
                                rp_time_us at_us)
{
    static struct sim_incident overflow;
    struct sim_incident *made = plan->incident_count < SIM_INCIDENTS_MAX
                                    ? &plan->incidents[plan->incident_count++]
                                    : &overflow;
    *made = (struct sim_incident){.at_us = at_us, .fault = fault, .on = on, .host = (uint16_t)host};
    return made;
}

/* Moments of a fault that comes again and again, the last one `lead_us` before the end. */
static rp_time_us next_moment(struct rp_rng *rng, rp_time_us at_us, rp_time_us mean_us)
{
    return at_us + between(rng, mean_us / 10, 2 * mean_us);
}

static void draw_restarts(struct sim_plan *plan, struct rp_rng *rng, enum sim_fault fault,
                          rp_time_us mean_us)
{
    rp_time_us end_us = plan->settings.hours_us - 10 * SIM_MINUTE_US;
    for (rp_time_us at_us = next_moment(rng, 0, mean_us); at_us < end_us;
         at_us = next_moment(rng, at_us, mean_us)) {
        unsigned host = (unsigned)rp_rng_below(rng, plan->topology.count);
        struct sim_incident *made = add(plan, fault, true, host, at_us);
        made->value = fault == SIM_FAULT_POWER_CUT ? rp_rng_between(rng, 1, 12)
                                                   : between(rng, 1, 300) * SIM_SECOND_US;
    }
}

/* Faults that begin and end: how often, and how long at most. */
static void draw_spells(struct sim_plan *plan, struct rp_rng *rng, enum sim_fault fault,
                        rp_time_us mean_us, rp_time_us longest_us)
{
    rp_time_us end_us = plan->settings.hours_us;
    rp_time_us at_us = next_moment(rng, 0, mean_us);
    while (at_us < end_us) {
        unsigned host = (unsigned)rp_rng_below(rng, plan->topology.count);
        rp_time_us until_us = at_us + between(rng, SIM_SECOND_US, longest_us);
        until_us = until_us < end_us ? until_us : end_us;
        uint64_t side = rp_rng_next(rng);
        add(plan, fault, true, host, at_us)->side.words[0] = side;
        add(plan, fault, false, host, until_us)->side.words[0] = side;
        at_us = next_moment(rng, until_us, mean_us);
    }
}

static void draw_clocks(struct sim_plan *plan, struct rp_rng *rng)
{
    for (unsigned i = 0; i < plan->topology.count; i++) {
        if (plan->has[SIM_FAULT_DRIFT]) {
            plan->drift_ppm[i] = (int16_t)rp_rng_between(rng, -500, 500);
        }
        if (plan->has[SIM_FAULT_CLOCK_STEP]) {
            plan->unsynced[i] = chance(rng, 500);
        }
    }
    rp_time_us at_us = next_moment(rng, 0, 4 * SIM_HOUR_US);
    while (plan->has[SIM_FAULT_CLOCK_STEP] && at_us < plan->settings.hours_us) {
        unsigned host = (unsigned)rp_rng_below(rng, plan->topology.count);
        add(plan, SIM_FAULT_CLOCK_STEP, true, host, at_us)->value =
            chance(rng, 500) ? rp_rng_between(rng, -120, 120)
                             : rp_rng_between(rng, -YEAR_S, 3 * (int64_t)YEAR_S);
        at_us = next_moment(rng, at_us, 4 * SIM_HOUR_US);
    }
}

/* In one net of four some modems tell of the channel. From a generator of their own: what else a
 * seed does stays what it was. */
static void draw_modems(struct sim_plan *plan, uint64_t seed)
{
    struct rp_rng rng = rp_rng_seeded(seed ^ 0x11575e45e5u);
    bool any = chance(&rng, 250);
    for (unsigned i = 0; i < plan->topology.count; i++) {
        plan->senses[i] = any && chance(&rng, 500);
    }
}

static int by_time(const void *a, const void *b)
{
    const struct sim_incident *x = a, *y = b;
    if (x->at_us != y->at_us) {
        return x->at_us < y->at_us ? -1 : 1;
    }
    if (x->fault != y->fault) {
        return x->fault < y->fault ? -1 : 1;
    }
    return (int)x->host - (int)y->host;
}

static void draw_frames(struct sim_plan *plan, struct rp_rng *rng)
{
    plan->duplicate_permille =
        plan->has[SIM_FAULT_DUPLICATE] ? (uint16_t)rp_rng_between(rng, 1, 100) : 0;
    plan->delay_permille = plan->has[SIM_FAULT_DELAY] ? (uint16_t)rp_rng_between(rng, 1, 50) : 0;
    plan->delay_us_max = between(rng, 1, 60) * SIM_SECOND_US;
    plan->corrupt_permille =
        plan->has[SIM_FAULT_CORRUPT] ? (uint16_t)rp_rng_between(rng, 1, 100) : 0;
    plan->attack_every_us = plan->has[SIM_FAULT_ATTACK] ? between(rng, 10, 600) * SIM_SECOND_US : 0;
    plan->newer_every_us = plan->has[SIM_FAULT_NEWER] ? between(rng, 60, 1200) * SIM_SECOND_US : 0;
}

void sim_plan_draw(struct sim_plan *plan, uint64_t seed, rp_time_us hours_us, rp_time_us settle_us,
                   uint16_t duty_permille)
{
    memset(plan, 0, sizeof *plan);
    struct rp_rng rng = rp_rng_seeded(seed ^ 0x5707a11f00d5eed5u);
    draw_topology(plan, &rng);
    draw_settings(plan, &rng, hours_us, settle_us, duty_permille);
    for (unsigned fault = 0; fault < SIM_FAULT_COUNT; fault++) {
        plan->has[fault] = chance(&rng, 500);
    }
    if (plan->has[SIM_FAULT_LOSS]) {
        draw_losses(plan, &rng);
    }
    draw_frames(plan, &rng);
    if (plan->has[SIM_FAULT_PARTITION]) {
        draw_spells(plan, &rng, SIM_FAULT_PARTITION, 8 * SIM_HOUR_US, 12 * SIM_HOUR_US);
    }
    if (plan->has[SIM_FAULT_RESTART]) {
        draw_restarts(plan, &rng, SIM_FAULT_RESTART, between(&rng, 20, 360) * SIM_MINUTE_US);
    }
    if (plan->has[SIM_FAULT_POWER_CUT]) {
        draw_restarts(plan, &rng, SIM_FAULT_POWER_CUT, between(&rng, 20, 360) * SIM_MINUTE_US);
    }
    if (plan->has[SIM_FAULT_LOST_DATABASE]) {
        draw_restarts(plan, &rng, SIM_FAULT_LOST_DATABASE, 12 * SIM_HOUR_US);
    }
    if (plan->has[SIM_FAULT_PAUSE]) {
        draw_spells(plan, &rng, SIM_FAULT_PAUSE, 2 * SIM_HOUR_US, 20 * SIM_MINUTE_US);
    }
    if (plan->has[SIM_FAULT_DISK_FULL]) {
        draw_spells(plan, &rng, SIM_FAULT_DISK_FULL, 6 * SIM_HOUR_US, 2 * SIM_HOUR_US);
    }
    draw_clocks(plan, &rng);
    draw_modems(plan, seed);
    qsort(plan->incidents, plan->incident_count, sizeof plan->incidents[0], by_time);
}
