#include "sim/world/world.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "radio/airtime.h"
#include "sim/world/links.h"
#include "sim/world/workload.h"

#define START_WITHIN_US (10 * SIM_SECOND_US)
#define POWER_BACK_US   (20 * SIM_SECOND_US)
#define RETRY_US        (60 * SIM_SECOND_US) /* a record that could not be entered: people try again */

/* Agenda: four slots per station, then one for hooks and one for the cuts. */
enum slot_kind { SLOT_WAKE, SLOT_MODEM, SLOT_ARRIVAL, SLOT_PEOPLE, SLOT_KINDS };

static size_t slot_of(unsigned host, enum slot_kind kind)
{
    return (size_t)host * SLOT_KINDS + kind;
}

static size_t hook_slot(const struct sim_world *world)
{
    return (size_t)world->count * SLOT_KINDS;
}

static size_t cut_slot(const struct sim_world *world)
{
    return hook_slot(world) + 1;
}

void sim_settings_defaults(struct sim_settings *settings)
{
    *settings = (struct sim_settings){
        .spreading_factor = 9,
        .bandwidth_hz = 125000,
        .duty_permille = 10,
        .urgent_reserve_pct = 30,
        .frame_len_max = 120,
        .latency_us_max = 10000,
        .hours_us = 24 * SIM_HOUR_US,
        .settle_us = 12 * SIM_HOUR_US,
        .interval_us = 10 * SIM_MINUTE_US,
        .record_bytes = 40,
        .cadence = SIM_DECLARED,
    };
}

/* FNV-1a over words of 8 bytes instead of single bytes: it only has to tell two runs apart. */
static void trace(struct sim_world *world, uint64_t value)
{
    world->trace_hash = (world->trace_hash ^ value) * 0x100000001b3u;
    world->trace_hash ^= world->trace_hash >> 29;
}

static void trace_bytes(struct sim_world *world, struct rp_view bytes)
{
    for (size_t at = 0; at < bytes.len; at += 8) {
        uint64_t word = 0;
        size_t len = bytes.len - at < 8 ? bytes.len - at : 8;
        memcpy(&word, bytes.bytes + at, len);
        trace(world, word);
    }
}

/* Nothing the node wrote since the cut leaves. */
static void lose_power(struct sim_world *world, unsigned at)
{
    sim_world_down(world, at);
    sim_host_boot(&world->hosts[at], world->now_us);
    sim_world_up_at(world, at, world->now_us + POWER_BACK_US);
    if (world->hooks.power_cut != NULL) {
        world->hooks.power_cut(world->hooks.ctx, world, at);
    }
}

void sim_world_touch(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    if (host->store->cut) {
        lose_power(world, at);
        return;
    }
    if (host->node == NULL) {
        return; /* down; when it starts is decided already */
    }
    if (sim_host_collect(host, world->now_us)) {
        sim_agenda_set(&world->agenda, slot_of(at, SLOT_MODEM), host->modem.due_us);
    }
    rp_time_us wake_us = sim_host_wake_us(host);
    wake_us = wake_us <= world->now_us ? world->now_us + 1 : wake_us;
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_WAKE), wake_us);
    rp_time_us arrival_us = sim_host_arrival_us(host);
    arrival_us = arrival_us <= world->now_us ? world->now_us + 1 : arrival_us;
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_ARRIVAL), arrival_us);
}

void sim_world_bring(struct sim_world *world, unsigned at, enum sim_arrival_kind kind,
                     struct rp_view bytes, rp_time_us delay_us)
{
    struct sim_host *host = &world->hosts[at];
    if (host->node != NULL) {
        sim_host_bring(host, kind, bytes, world->now_us, delay_us);
        rp_time_us due_us = sim_host_arrival_us(host);
        due_us = due_us <= world->now_us ? world->now_us + 1 : due_us;
        sim_agenda_set(&world->agenda, slot_of(at, SLOT_ARRIVAL), due_us);
    }
}

/* --- the stations' storage, watched --- */

struct watch {
    struct sim_world *world;
    unsigned host;
};

static void segment_kept(void *ctx, const struct rp_segment_row *segment,
                         const struct rp_record_row *record)
{
    const struct watch *watch = ctx;
    struct sim_world *world = watch->world;
    const struct sim_hooks *hooks = &world->hooks;
    if (record != NULL) {
        if (hooks->made != NULL) {
            hooks->made(hooks->ctx, world, watch->host, segment, record);
        }
        enum sim_sort sort = world->entering                  ? SIM_SORT_WORKLOAD
                             : record->kind == RP_REC_RECEIPT ? SIM_SORT_RECEIPT
                                                              : SIM_SORT_OTHER;
        if (sim_truth_find(&world->truth, segment->origin, segment->seq) == NULL) {
            sim_truth_made(&world->truth, watch->host, segment, record, sort, world->now_us);
        }
        return;
    }
    if (hooks->held != NULL) {
        hooks->held(hooks->ctx, world, watch->host, segment);
    }
    struct sim_fact *fact = sim_truth_find(&world->truth, segment->origin, segment->seq);
    if (fact != NULL && !sim_set_has(&fact->holders, watch->host)) {
        sim_truth_held(&world->truth, watch->host, segment->origin, segment->seq, world->now_us);
    }
    trace(world, (uint64_t)segment->origin << 32 | segment->seq);
}

static void record_at_base(void *ctx, uint16_t origin, uint32_t first, uint32_t last)
{
    const struct watch *watch = ctx;
    const struct sim_hooks *hooks = &watch->world->hooks;
    sim_truth_proved(&watch->world->truth, watch->host, origin, first, last, watch->world->now_us);
    if (hooks->at_base != NULL) {
        hooks->at_base(hooks->ctx, watch->world, watch->host, origin, first, last);
    }
}

/* --- building --- */

static struct rp_node_config node_config(const struct sim_world *world, unsigned at)
{
    const struct sim_settings *settings = world->settings;
    const struct sim_station *station = &world->topology->stations[at];
    struct rp_node_config config = {.station = (uint8_t)(1 + at % RP_STATION_MAX)};
    rp_net_defaults(&config.net);
    config.role = station->is_base ? RP_ROLE_BASE : station->reports ? RP_ROLE_CAMP : RP_ROLE_RELAY;
    config.net.profile.spreading_factor = settings->spreading_factor;
    config.net.profile.bandwidth_hz = settings->bandwidth_hz;
    config.net.duty_permille = settings->duty_permille;
    /* The settings are the law here, whatever a real band would allow. */
    snprintf(config.net.band, sizeof config.net.band, "none");
    config.no_limit_acknowledged = true;
    config.net.urgent_reserve_pct = settings->urgent_reserve_pct;
    config.net.frame_len_max = settings->frame_len_max;
    memcpy(config.net.secret, SIM_SECRET, RP_SECRET_LEN);
    snprintf(config.name, sizeof config.name, "%s", station->name);
    snprintf(config.modem, sizeof config.modem, "%s", settings->modem_acks ? "kiss-ack" : "kiss");
    struct rp_rng rng = rp_rng_seeded(world->seed * 65537 + at);
    config.generation_seed = (uint16_t)(rp_rng_next(&rng) & RP_GENERATION_MAX);
    return config;
}

static void build_host(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    struct rp_node_config config = node_config(world, at);
    sim_host_init(host, at, &config, world->settings->latency_us_max, world->seed * 1000003 + at);
    host->senses = world->settings->sensing;
    struct watch *watch = malloc(sizeof *watch);
    assert(watch != NULL);
    *watch = (struct watch){world, at};
    host->store->watch = (struct sim_store_watch){watch, segment_kept, record_at_base};
    rp_time_us start_us = rp_rng_between(&world->people_rng, 0, START_WITHIN_US);
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_WAKE), start_us);
    if (world->topology->stations[at].reports) {
        sim_agenda_set(&world->agenda, slot_of(at, SLOT_PEOPLE),
                       sim_workload_first_us(world->settings, &world->people_rng));
    }
}

static int fill_airtimes(struct sim_world *world, struct rp_problem *out_problem)
{
    struct rp_radio_profile profile;
    struct rp_net net;
    rp_net_defaults(&net);
    profile = net.profile;
    profile.spreading_factor = world->settings->spreading_factor;
    profile.bandwidth_hz = world->settings->bandwidth_hz;
    for (unsigned len = 0; len <= RP_FRAME_LEN_MAX; len++) {
        int64_t airtime_us = rp_airtime_profile_us(&profile, len);
        if (airtime_us < 0) {
            return rp_problem_set(out_problem, RP_E_INVALID, "sf",
                                  "no such radio setting (example: --sf 9 --bw 125)");
        }
        world->airtime_us[len] = (uint32_t)airtime_us;
    }
    return 0;
}

static void schedule_cut(struct sim_world *world)
{
    rp_time_us next_us = RP_NEVER;
    for (unsigned i = 0; i < world->settings->cut_count; i++) {
        const struct sim_cut *cut = &world->settings->cuts[i];
        if (cut->from_us > world->now_us && cut->from_us < next_us) {
            next_us = cut->from_us;
        }
        if (cut->to_us > world->now_us && cut->to_us < next_us) {
            next_us = cut->to_us;
        }
    }
    sim_agenda_set(&world->agenda, cut_slot(world), next_us);
}

int sim_world_init(struct sim_world *world, const struct sim_topology *topology,
                   const struct sim_settings *settings, uint64_t seed,
                   const struct sim_hooks *hooks, struct rp_problem *out_problem)
{
    memset(world, 0, sizeof *world);
    world->settings = settings;
    world->topology = topology;
    world->seed = seed;
    world->count = topology->count;
    int code = fill_airtimes(world, out_problem);
    if (code < 0) {
        return code;
    }
    /* A station that the node refuses would be taken for one that is down, and the net for idle. */
    struct rp_node_config first = node_config(world, 0);
    uint32_t baud;
    code = rp_node_check_radio(&first, &baud, out_problem);
    if (code < 0) {
        return code;
    }
    if (hooks != NULL) {
        world->hooks = *hooks;
    }
    world->trace_hash = 0xcbf29ce484222325u;
    world->people_rng = rp_rng_seeded(seed * 31 + 7);
    sim_channel_init(&world->channel, topology->count, settings->capture, seed * 97 + 13);
    sim_links_fill(&world->channel, topology, settings);
    sim_agenda_init(&world->agenda, (size_t)topology->count * SLOT_KINDS + 2);
    struct sim_set bases = {{0}};
    for (unsigned at = 0; at < topology->count; at++) {
        sim_set_put(&bases, at, topology->stations[at].is_base);
    }
    sim_truth_init(&world->truth, topology->count, &bases);
    world->hosts = calloc(topology->count, sizeof world->hosts[0]);
    assert(world->hosts != NULL);
    for (unsigned at = 0; at < topology->count; at++) {
        build_host(world, at);
    }
    schedule_cut(world);
    return 0;
}

void sim_world_deinit(struct sim_world *world)
{
    for (unsigned at = 0; world->hosts != NULL && at < world->count; at++) {
        free(world->hosts[at].store->watch.ctx);
        sim_host_deinit(&world->hosts[at]);
    }
    free(world->hosts);
    if (world->agenda.count > 0) {
        sim_agenda_deinit(&world->agenda);
        sim_channel_deinit(&world->channel);
        sim_truth_deinit(&world->truth);
    }
}

/* --- what faults and people do --- */

void sim_world_hook_at(struct sim_world *world, rp_time_us at_us)
{
    sim_agenda_set(&world->agenda, hook_slot(world), at_us);
}

void sim_world_up_at(struct sim_world *world, unsigned at, rp_time_us at_us)
{
    assert(world->hosts[at].node == NULL);
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_WAKE), at_us);
}

static void start_up(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    struct rp_problem problem;
    if (sim_host_up(host, world->now_us, &problem) == 0 || host->store->cut) {
        sim_world_touch(world, at);
        return;
    }
    /* Its storage fails at this moment: whoever runs it tries again. */
    sim_world_up_at(world, at, world->now_us + RETRY_US);
}

/* Stations whose modem can tell learn that `from` begins or ends. A modem needs some symbols to see
 * a frame: 15 to 20 ms, as the prototype of the rules had it; the serial delay comes on top. */
#define SENSE_US 15000

static void tell_channel(struct sim_world *world, unsigned from)
{
    for (unsigned at = 0; at < world->count; at++) {
        if (world->hosts[at].senses && sim_set_has(&world->channel.hears[from], at)) {
            uint8_t unknown = 0; /* what the channel is by then, is seen then */
            sim_world_bring(world, at, SIM_ARRIVAL_CHANNEL, (struct rp_view){&unknown, 1},
                            SENSE_US);
        }
    }
}

void sim_world_down(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    if (host->modem.state == SIM_MODEM_ON_AIR) {
        sim_channel_abort(&world->channel, at);
        tell_channel(world, at);
    }
    sim_host_down(host);
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_WAKE), RP_NEVER);
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_MODEM), RP_NEVER);
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_ARRIVAL), RP_NEVER);
}

void sim_world_wipe(struct sim_world *world, unsigned at)
{
    sim_host_wipe(&world->hosts[at]);
    sim_truth_wiped(&world->truth, at);
}

void sim_world_pause(struct sim_world *world, unsigned at, bool paused)
{
    world->hosts[at].paused = paused;
    sim_world_touch(world, at);
}

void sim_world_cut(struct sim_world *world, unsigned a, unsigned b, bool cut)
{
    for (unsigned way = 0; way < 2; way++) {
        unsigned from = way == 0 ? a : b, to = way == 0 ? b : a;
        struct sim_path *path = sim_channel_path(&world->channel, from, to);
        path->cuts = (uint8_t)(cut ? path->cuts + 1 : path->cuts - 1);
        sim_channel_changed(&world->channel, from, to);
    }
}

static void move_cuts(struct sim_world *world)
{
    for (unsigned i = 0; i < world->settings->cut_count; i++) {
        const struct sim_cut *cut = &world->settings->cuts[i];
        if (cut->from_us == world->now_us) {
            sim_world_cut(world, cut->a, cut->b, true);
        }
        if (cut->to_us == world->now_us) {
            sim_world_cut(world, cut->a, cut->b, false);
        }
    }
    schedule_cut(world);
}

static void people_act(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    if (world->now_us > world->settings->hours_us) {
        sim_agenda_set(&world->agenda, slot_of(at, SLOT_PEOPLE), RP_NEVER);
        return;
    }
    bool done = false;
    if (host->node != NULL && !host->paused) {
        world->entering = true;
        struct rp_record_ref ref;
        done =
            sim_workload_enter(host, world->settings, &world->people_rng, world->now_us, &ref) == 0;
        world->entering = false;
        if (done && world->hooks.entered != NULL) {
            world->hooks.entered(world->hooks.ctx, world, at, ref);
        }
        world->refused_entries += !done;
        sim_world_touch(world, at);
    }
    rp_time_us next_us =
        done ? sim_workload_next_us(world->settings, &world->people_rng, world->now_us)
             : world->now_us + RETRY_US;
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_PEOPLE), next_us);
}

/* --- the air --- */

static enum sim_spent spent_on(const struct sim_world *world, struct rp_view frame)
{
    struct rp_frame_head head;
    if (rp_frame_head_read(frame, &head) < 0) {
        return SIM_SPENT_OTHER;
    }
    switch (head.kind) {
    case RP_FRAME_DIGEST:
        return SIM_SPENT_DIGEST;
    case RP_FRAME_VECTOR:
        return SIM_SPENT_VECTOR;
    case RP_FRAME_REQUEST:
        return SIM_SPENT_REQUEST;
    case RP_FRAME_SEGMENT:
        break;
    }
    const struct sim_fact *fact = sim_truth_find(&world->truth, head.origin, head.counter);
    if (fact == NULL) {
        return SIM_SPENT_OTHER;
    }
    enum sim_sort sort = world->truth.records[fact->record].sort;
    return sort == SIM_SORT_WORKLOAD  ? SIM_SPENT_WORKLOAD
           : sort == SIM_SORT_RECEIPT ? SIM_SPENT_RECEIPT
                                      : SIM_SPENT_OTHER;
}

static struct sim_air_frame frame_of(const struct sim_world *world, unsigned from)
{
    const struct sim_modem *modem = &world->hosts[from].modem;
    return (struct sim_air_frame){.from = from,
                                  .bytes = {modem->frame, modem->frame_len},
                                  .taken_us = modem->taken_us,
                                  .start_us = world->channel.flights[from].start_us,
                                  .end_us = world->channel.flights[from].end_us};
}

static void begin_frame(struct sim_world *world, unsigned from)
{
    struct sim_modem *modem = &world->hosts[from].modem;
    modem->state = SIM_MODEM_ON_AIR;
    modem->due_us = world->now_us + world->airtime_us[modem->frame_len];
    sim_channel_begin(&world->channel, from, world->now_us, modem->due_us);
    tell_channel(world, from);
    struct sim_air_frame frame = frame_of(world, from);
    enum sim_spent spent = spent_on(world, frame.bytes);
    world->spent_us[spent] += world->airtime_us[modem->frame_len];
    world->spent_frames[spent]++;
    trace(world, (uint64_t)world->now_us << 8 | from);
    trace_bytes(world, frame.bytes);
    if (world->hooks.on_air != NULL) {
        world->hooks.on_air(world->hooks.ctx, world, &frame);
    }
}

static void end_frame(struct sim_world *world, unsigned from)
{
    struct sim_set reached;
    struct sim_air_frame frame = frame_of(world, from);
    sim_channel_end(&world->channel, from, &reached);
    tell_channel(world, from);
    for (unsigned word = 0; word < SIM_SET_WORDS; word++) {
        trace(world, reached.words[word]);
        for (uint64_t left = reached.words[word]; left != 0; left &= left - 1) {
            unsigned to = word * 64 + (unsigned)__builtin_ctzll(left);
            if (world->hooks.reached == NULL ||
                world->hooks.reached(world->hooks.ctx, world, to, &frame)) {
                sim_world_bring(world, to, SIM_ARRIVAL_FRAME, frame.bytes, 0);
            }
        }
    }
    sim_host_sent(&world->hosts[from], world->now_us);
}

static void move_modem(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    if (host->modem.state == SIM_MODEM_WAIT) {
        begin_frame(world, at);
    } else {
        end_frame(world, at);
        sim_agenda_set(&world->agenda, slot_of(at, SLOT_ARRIVAL), sim_host_arrival_us(host));
    }
    sim_agenda_set(&world->agenda, slot_of(at, SLOT_MODEM), host->modem.due_us);
}

/* --- running --- */

static void arrive(struct sim_world *world, unsigned at)
{
    struct sim_host *host = &world->hosts[at];
    const struct sim_hooks *hooks = &world->hooks;
    if (host->arrivals[0].kind == SIM_ARRIVAL_CHANNEL) {
        host->arrivals[0].bytes[0] = sim_channel_busy(&world->channel, at);
    }
    struct sim_arrival arrival = host->arrivals[0];
    if (hooks->arriving != NULL) {
        hooks->arriving(hooks->ctx, world, at, &arrival);
    }
    sim_host_arrive(host, world->now_us);
    if (hooks->arrived != NULL) {
        hooks->arrived(hooks->ctx, world, at, &arrival);
    }
    sim_world_touch(world, at);
}

static void act(struct sim_world *world, unsigned at, enum slot_kind kind)
{
    struct sim_host *host = &world->hosts[at];
    switch (kind) {
    case SLOT_WAKE:
        if (host->node == NULL) {
            start_up(world, at);
            return;
        }
        sim_host_tick(host, world->now_us);
        if (world->hooks.woken != NULL) {
            world->hooks.woken(world->hooks.ctx, world, at);
        }
        sim_world_touch(world, at);
        break;
    case SLOT_MODEM:
        move_modem(world, at);
        break;
    case SLOT_ARRIVAL:
        arrive(world, at);
        break;
    case SLOT_PEOPLE:
        people_act(world, at);
        break;
    case SLOT_KINDS:
        break;
    }
}

bool sim_world_settled(const struct sim_world *world)
{
    return world->truth.missing == 0;
}

void sim_world_run(struct sim_world *world, rp_time_us until_us)
{
    size_t slot;
    rp_time_us next_us;
    while ((next_us = sim_agenda_next(&world->agenda, &slot)) <= until_us) {
        if (world->now_us >= world->settings->hours_us && sim_world_settled(world)) {
            return;
        }
        world->now_us = next_us;
        world->events++;
        if (slot == hook_slot(world)) {
            sim_agenda_set(&world->agenda, slot, RP_NEVER);
            world->hooks.due(world->hooks.ctx, world);
        } else if (slot == cut_slot(world)) {
            move_cuts(world);
        } else {
            act(world, (unsigned)(slot / SLOT_KINDS), (enum slot_kind)(slot % SLOT_KINDS));
        }
    }
    world->now_us = until_us;
}

void sim_world_run_all(struct sim_world *world)
{
    sim_world_run(world, world->settings->hours_us + world->settings->settle_us);
}

uint64_t sim_world_airtime_us(const struct sim_world *world)
{
    uint64_t sum_us = 0;
    for (unsigned i = 0; i < SIM_SPENT_COUNT; i++) {
        sum_us += world->spent_us[i];
    }
    return sum_us;
}
