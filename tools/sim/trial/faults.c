#include "sim/trial/faults.h"

#include <string.h>

static bool chance(struct sim_trial *trial, unsigned permille)
{
    return permille > 0 && rp_rng_below(&trial->rng, 1000) < permille;
}

static void note(struct sim_trial *trial, enum sim_fault fault)
{
    trial->injected[fault]++;
}

static void schedule(struct sim_trial *trial)
{
    const struct sim_plan *plan = trial->plan;
    rp_time_us next_us = trial->next_incident < plan->incident_count
                             ? plan->incidents[trial->next_incident].at_us
                             : RP_NEVER;
    next_us = trial->attack_us < next_us ? trial->attack_us : next_us;
    next_us = trial->newer_us < next_us ? trial->newer_us : next_us;
    if (next_us != RP_NEVER) {
        sim_world_hook_at(&trial->world, next_us);
    }
}

/* The next of something that comes at random; never once the faults have ended. */
static rp_time_us later(struct sim_trial *trial, rp_time_us mean_us)
{
    if (mean_us == 0) {
        return RP_NEVER;
    }
    rp_time_us at_us = trial->world.now_us + rp_rng_between(&trial->rng, 1, 2 * mean_us);
    return at_us < trial->plan->settings.hours_us ? at_us : RP_NEVER;
}

void sim_faults_start(struct sim_trial *trial)
{
    const struct sim_plan *plan = trial->plan;
    for (unsigned at = 0; at < trial->world.count; at++) {
        struct sim_host *host = &trial->world.hosts[at];
        host->clock.drift_ppm = plan->drift_ppm[at];
        host->synced = !plan->unsynced[at];
        host->senses = plan->senses[at];
        trial->injected[SIM_FAULT_DRIFT] += plan->drift_ppm[at] != 0;
        for (unsigned to = 0; plan->has[SIM_FAULT_LOSS] && to < trial->world.count; to++) {
            trial->injected[SIM_FAULT_LOSS] += plan->topology.links[at][to].kind == SIM_LINK_LOSS;
        }
    }
    trial->attack_us = later(trial, plan->attack_every_us);
    trial->newer_us = later(trial, plan->newer_every_us);
    schedule(trial);
}

/* --- single faults --- */

static bool take_down(struct sim_trial *trial, unsigned at, rp_time_us down_us)
{
    struct sim_world *world = &trial->world;
    if (world->hosts[at].node == NULL) {
        return false; /* it is down already */
    }
    sim_world_down(world, at);
    sim_audit_down(&trial->audit, at);
    sim_world_up_at(world, at, world->now_us + down_us);
    return true;
}

static void restart(struct sim_trial *trial, const struct sim_incident *incident)
{
    if (take_down(trial, incident->host, incident->value)) {
        if (incident->value / SIM_SECOND_US % 2 == 0) {
            /* The computer, not only its program. */
            sim_host_boot(&trial->world.hosts[incident->host], trial->world.now_us);
        }
        note(trial, SIM_FAULT_RESTART);
        sim_story_tell(&trial->story, &trial->world, incident->host, "goes down for %lld s",
                       (long long)(incident->value / SIM_SECOND_US));
    }
}

/* A generation that this station number has not had: picked at random it would meet an old one
 * once in 512 times, and the keys of the old log would be used again. */
static uint16_t fresh_generation(struct sim_trial *trial, unsigned at)
{
    uint8_t station = trial->world.hosts[at].config.station;
    uint16_t generation;
    do {
        generation = (uint16_t)rp_rng_below(&trial->rng, RP_GENERATION_MAX + 1);
    } while (sim_truth_log(&trial->world.truth, rp_origin_make(station, generation)) != NULL);
    return generation;
}

static void lose_database(struct sim_trial *trial, const struct sim_incident *incident)
{
    unsigned at = incident->host;
    if (take_down(trial, at, incident->value)) {
        sim_host_boot(&trial->world.hosts[at], trial->world.now_us);
        sim_world_wipe(&trial->world, at);
        sim_audit_wiped(&trial->audit, at);
        trial->world.hosts[at].config.generation_seed = fresh_generation(trial, at);
        note(trial, SIM_FAULT_LOST_DATABASE);
        sim_story_tell(&trial->story, &trial->world, at,
                       "loses its database, and is down for %lld s",
                       (long long)(incident->value / SIM_SECOND_US));
    }
}

static void plan_power_cut(struct sim_trial *trial, const struct sim_incident *incident)
{
    struct sim_store *store = trial->world.hosts[incident->host].store;
    store->cut_after = (uint32_t)incident->value;
    store->cut_written = incident->value % 2 == 1;
}

static void pause_process(struct sim_trial *trial, const struct sim_incident *incident)
{
    unsigned *depth = &trial->held_up[incident->host];
    *depth = incident->on ? *depth + 1 : *depth - 1;
    sim_world_pause(&trial->world, incident->host, *depth > 0);
    trial->injected[SIM_FAULT_PAUSE] += incident->on;
    sim_story_tell(&trial->story, &trial->world, incident->host,
                   incident->on ? "stands still: its process is paused" : "goes on");
}

static void fill_disk(struct sim_trial *trial, const struct sim_incident *incident)
{
    unsigned *depth = &trial->full[incident->host];
    *depth = incident->on ? *depth + 1 : *depth - 1;
    trial->world.hosts[incident->host].store->write_code = *depth > 0 ? RP_E_NO_SPACE : 0;
    trial->injected[SIM_FAULT_DISK_FULL] += incident->on;
    sim_story_tell(&trial->story, &trial->world, incident->host,
                   incident->on ? "has a full disk" : "has room on its disk again");
}

static void step_clock(struct sim_trial *trial, const struct sim_incident *incident)
{
    struct sim_host *host = &trial->world.hosts[incident->host];
    /* Sometimes the step is what sets it right. */
    bool mends = !host->synced && chance(trial, 300);
    int64_t step_s = mends ? -host->clock.wall_error_s : incident->value;
    /* A clock before 1970 is no clock: the system would not start with it. */
    if (sim_clock_unix_s(&host->clock, trial->world.now_us) + step_s < 0) {
        return;
    }
    /* A quarter of the wrong ones is called synchronised all the same. */
    bool lies = !mends && incident->value % 4 == 0;
    host->synced = mends || lies;
    host->clock.wall_error_s += step_s;
    note(trial, SIM_FAULT_CLOCK_STEP);
    sim_story_tell(&trial->story, &trial->world, incident->host,
                   "has its clock stepped by %lld s, %lld s from the truth now, and %s",
                   (long long)step_s, (long long)host->clock.wall_error_s,
                   mends  ? "is synchronised"
                   : lies ? "is called synchronised"
                          : "is not synchronised");
}

static void partition(struct sim_trial *trial, const struct sim_incident *incident)
{
    struct sim_world *world = &trial->world;
    for (unsigned a = 0; a < world->count; a++) {
        for (unsigned b = a + 1; b < world->count; b++) {
            if (sim_set_has(&incident->side, a) != sim_set_has(&incident->side, b)) {
                sim_world_cut(world, a, b, incident->on);
            }
        }
    }
    trial->injected[SIM_FAULT_PARTITION] += incident->on;
    sim_story_say(&trial->story, world->now_us,
                  incident->on ? "the net is parted in two" : "the two parts hear each other");
}

static void happen(struct sim_trial *trial, const struct sim_incident *incident)
{
    switch (incident->fault) {
    case SIM_FAULT_RESTART:
        restart(trial, incident);
        break;
    case SIM_FAULT_LOST_DATABASE:
        lose_database(trial, incident);
        break;
    case SIM_FAULT_POWER_CUT:
        plan_power_cut(trial, incident);
        break;
    case SIM_FAULT_PAUSE:
        pause_process(trial, incident);
        break;
    case SIM_FAULT_DISK_FULL:
        fill_disk(trial, incident);
        break;
    case SIM_FAULT_CLOCK_STEP:
        step_clock(trial, incident);
        break;
    case SIM_FAULT_PARTITION:
        partition(trial, incident);
        break;
    case SIM_FAULT_LOSS:
    case SIM_FAULT_DUPLICATE:
    case SIM_FAULT_DELAY:
    case SIM_FAULT_CORRUPT:
    case SIM_FAULT_DRIFT:
    case SIM_FAULT_ATTACK:
    case SIM_FAULT_NEWER:
    case SIM_FAULT_COUNT:
        break; /* they befall frames, or last from the start */
    }
}

static void outsiders_act(struct sim_trial *trial)
{
    struct sim_world *world = &trial->world;
    char words[64];
    if (trial->attack_us <= world->now_us) {
        if (sim_outsider_attack(&trial->outsider, world, words)) {
            note(trial, SIM_FAULT_ATTACK);
            sim_story_say(&trial->story, world->now_us, "an attacker %s", words);
        }
        trial->attack_us = later(trial, trial->plan->attack_every_us);
    }
    if (trial->newer_us <= world->now_us) {
        sim_outsider_newer(&trial->outsider, world, words);
        note(trial, SIM_FAULT_NEWER);
        sim_story_say(&trial->story, world->now_us, "a newer station %s", words);
        trial->newer_us = later(trial, trial->plan->newer_every_us);
    }
}

void sim_faults_due(struct sim_trial *trial)
{
    const struct sim_plan *plan = trial->plan;
    while (trial->next_incident < plan->incident_count &&
           plan->incidents[trial->next_incident].at_us <= trial->world.now_us) {
        happen(trial, &plan->incidents[trial->next_incident++]);
    }
    outsiders_act(trial);
    schedule(trial);
}

bool sim_faults_pass(struct sim_trial *trial, unsigned to, const struct sim_air_frame *frame)
{
    const struct sim_plan *plan = trial->plan;
    struct sim_world *world = &trial->world;
    if (world->now_us >= plan->settings.hours_us) {
        return true;
    }
    if (chance(trial, plan->corrupt_permille)) {
        uint8_t bytes[RP_FRAME_LEN_MAX];
        size_t len = frame->bytes.len;
        memcpy(bytes, frame->bytes.bytes, len);
        bool forged = sim_outsider_damage(&trial->rng, bytes, &len);
        sim_world_bring(world, to, forged ? SIM_ARRIVAL_FORGED : SIM_ARRIVAL_FRAME,
                        (struct rp_view){bytes, len}, 0);
        note(trial, SIM_FAULT_CORRUPT);
        return false;
    }
    if (chance(trial, plan->duplicate_permille)) {
        sim_world_bring(world, to, SIM_ARRIVAL_FRAME, frame->bytes,
                        rp_rng_between(&trial->rng, 0, 2 * SIM_SECOND_US));
        note(trial, SIM_FAULT_DUPLICATE);
    }
    if (chance(trial, plan->delay_permille)) {
        sim_world_bring(world, to, SIM_ARRIVAL_FRAME, frame->bytes,
                        rp_rng_between(&trial->rng, 0, plan->delay_us_max));
        note(trial, SIM_FAULT_DELAY);
        return false;
    }
    return true;
}
