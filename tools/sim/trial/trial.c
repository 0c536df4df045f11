#include "sim/trial/trial.h"

#include <string.h>

#include "sim/trial/faults.h"

/* --- what the world tells, passed on to the audit and the story --- */

/* What a clock note says: it explains times that look odd. */
static void tell_clock(const struct sim_trial *trial, unsigned host,
                       const struct rp_record_row *row)
{
    struct rp_record record;
    if (trial->story.to != NULL && row->kind == RP_REC_CLOCK &&
        rp_record_decode(row->body, row->origin, &record) == RP_OK) {
        sim_story_tell(&trial->story, &trial->world, host, "notes that its clock %s by %d s",
                       record.as.clock.reason == RP_CLOCK_STEPPED ? "was stepped"
                                                                  : "was set by the net",
                       record.as.clock.offset_s);
    }
}

static void made(void *ctx, struct sim_world *world, unsigned host,
                 const struct rp_segment_row *segment, const struct rp_record_row *record)
{
    struct sim_trial *trial = ctx;
    sim_audit_made(&trial->audit, world, host, segment, record);
    if (segment->seq == record->seq_first) {
        sim_story_tell(&trial->story, world, host, "writes record %u of log %04x: %s%s",
                       segment->seq, segment->origin, record->urgent ? "urgent " : "",
                       rp_record_kind_word(record->kind));
        tell_clock(trial, host, record);
    }
}

static void held(void *ctx, struct sim_world *world, unsigned host,
                 const struct rp_segment_row *segment)
{
    struct sim_trial *trial = ctx;
    sim_audit_held(&trial->audit, world, host, segment);
    if (sim_set_has(&world->truth.bases, host)) {
        sim_story_tell(&trial->story, world, host, "(base) has got segment %u of log %04x",
                       segment->seq, segment->origin);
    }
}

static void at_base(void *ctx, struct sim_world *world, unsigned host, uint16_t origin,
                    uint32_t first, uint32_t last)
{
    struct sim_trial *trial = ctx;
    sim_audit_at_base(&trial->audit, world, host, origin, first, last);
    sim_story_tell(&trial->story, world, host, "learns that its record %u is at base", first);
}

static void on_air(void *ctx, struct sim_world *world, const struct sim_air_frame *frame)
{
    struct sim_trial *trial = ctx;
    sim_story_frame(&trial->story, world, frame);
    sim_audit_on_air(&trial->audit, world, frame);
    if (trial->plan != NULL && trial->plan->attack_every_us > 0) {
        sim_outsider_hear(&trial->outsider, frame->bytes);
    }
}

static bool reached(void *ctx, struct sim_world *world, unsigned to,
                    const struct sim_air_frame *frame)
{
    struct sim_trial *trial = ctx;
    (void)world;
    return trial->plan == NULL || sim_faults_pass(trial, to, frame);
}

static void arriving(void *ctx, struct sim_world *world, unsigned host,
                     const struct sim_arrival *arrival)
{
    struct sim_trial *trial = ctx;
    sim_audit_arriving(&trial->audit, world, host, arrival);
}

static void arrived(void *ctx, struct sim_world *world, unsigned host,
                    const struct sim_arrival *arrival)
{
    struct sim_trial *trial = ctx;
    sim_audit_arrived(&trial->audit, world, host, arrival);
}

static void woken(void *ctx, struct sim_world *world, unsigned host)
{
    struct sim_trial *trial = ctx;
    sim_audit_woken(&trial->audit, world, host);
}

static void entered(void *ctx, struct sim_world *world, unsigned host, struct rp_record_ref ref)
{
    struct sim_trial *trial = ctx;
    sim_audit_entered(&trial->audit, world, host, ref);
}

static void power_cut(void *ctx, struct sim_world *world, unsigned host)
{
    struct sim_trial *trial = ctx;
    sim_audit_down(&trial->audit, host);
    trial->injected[SIM_FAULT_POWER_CUT]++;
    sim_story_tell(&trial->story, world, host, "loses its power in the middle of a write");
}

static void due(void *ctx, struct sim_world *world)
{
    (void)world;
    sim_faults_due(ctx);
}

static const struct sim_hooks hooks = {
    .made = made,
    .held = held,
    .at_base = at_base,
    .on_air = on_air,
    .reached = reached,
    .arriving = arriving,
    .arrived = arrived,
    .woken = woken,
    .entered = entered,
    .power_cut = power_cut,
    .due = due,
};

int sim_trial_init(struct sim_trial *trial, const struct sim_topology *topology,
                   const struct sim_settings *settings, const struct sim_plan *plan, uint64_t seed,
                   struct sim_story story, struct rp_problem *out_problem)
{
    memset(trial, 0, sizeof *trial);
    trial->plan = plan;
    trial->story = story;
    struct sim_hooks own = hooks;
    own.ctx = trial;
    int code = sim_world_init(&trial->world, topology, settings, seed, &own, out_problem);
    if (code < 0) {
        sim_world_deinit(&trial->world);
        return code;
    }
    sim_audit_init(&trial->audit, topology->count, (uint64_t)settings->duty_permille * 3600000u);
    sim_outsider_init(&trial->outsider, seed);
    trial->rng = rp_rng_seeded(seed ^ 0xfa0175u);
    if (plan != NULL) {
        sim_faults_start(trial);
    }
    return 0;
}

void sim_trial_deinit(struct sim_trial *trial)
{
    sim_outsider_deinit(&trial->outsider);
    sim_audit_deinit(&trial->audit);
    sim_world_deinit(&trial->world);
}

/* Which station lacks how much of which log. */
static void tell_missing(const struct sim_trial *trial, const struct sim_fact_log *log)
{
    const struct sim_world *world = &trial->world;
    for (unsigned at = 0; at < world->count; at++) {
        unsigned lacks = 0;
        uint32_t last = 0;
        for (uint32_t seq = 1; seq <= log->top; seq++) {
            const struct sim_fact *fact = &log->facts[seq - 1];
            if (fact->holder_count > 0 && !sim_set_has(&fact->holders, at)) {
                lacks++;
                last = seq;
            }
        }
        if (lacks > 0) {
            sim_story_tell(&trial->story, world, at,
                           "lacks %u of the %u segments of log %04x, the last of them %u", lacks,
                           log->top, log->origin, last);
        }
    }
}

static void tell_end(const struct sim_trial *trial)
{
    const struct sim_world *world = &trial->world;
    uint64_t kept = trial->audit.violations < SIM_VIOLATIONS_KEPT ? trial->audit.violations
                                                                  : SIM_VIOLATIONS_KEPT;
    sim_story_say(&trial->story, world->now_us, "the end: %s",
                  sim_world_settled(world) ? "everything is everywhere"
                                           : "something is still missing somewhere");
    for (unsigned i = 0; i < world->truth.log_count; i++) {
        tell_missing(trial, &world->truth.logs[i]);
    }
    for (uint64_t i = 0; i < kept; i++) {
        const struct sim_violation *violation = &trial->audit.kept[i];
        sim_story_say(&trial->story, violation->at_us, "VIOLATED at %s: %s: %s",
                      world->topology->stations[violation->host].name,
                      sim_rule_sentence(violation->rule), violation->text);
    }
}

void sim_trial_run(struct sim_trial *trial)
{
    sim_world_run_all(&trial->world);
    sim_audit_end(&trial->audit, &trial->world);
    if (trial->plan != NULL) {
        sim_audit_liveness(&trial->audit, &trial->world);
    }
    tell_end(trial);
}
