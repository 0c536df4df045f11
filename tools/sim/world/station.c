#include "sim/world/station.h"

#include <assert.h>
#include <string.h>

void sim_host_init(struct sim_host *host, unsigned index, const struct rp_node_config *config,
                   rp_time_us latency_us_max, uint64_t seed)
{
    memset(host, 0, sizeof *host);
    host->index = index;
    host->config = *config;
    host->store = sim_store_new();
    host->config.store = sim_store_ops();
    host->config.store_ctx = host->store;
    host->config.boot = 1;
    host->synced = true;
    host->modem.due_us = RP_NEVER;
    host->latency_us_max = latency_us_max;
    host->rng = rp_rng_seeded(seed);
}

void sim_host_deinit(struct sim_host *host)
{
    rp_node_free(host->node);
    sim_store_free(host->store);
}

struct rp_moment sim_host_moment(const struct sim_host *host, rp_time_us now_us)
{
    return (struct rp_moment){
        .now_us = sim_clock_local_us(&host->clock, now_us),
        .unix_s = sim_clock_unix_s(&host->clock, now_us),
        .synced = host->synced,
    };
}

int sim_host_up(struct sim_host *host, rp_time_us now_us, struct rp_problem *out_problem)
{
    assert(host->node == NULL);
    host->config.seed = rp_rng_next(&host->rng);
    host->starts++;
    struct rp_moment moment = sim_host_moment(host, now_us);
    int code = rp_node_new(&host->config, moment, &host->node, out_problem);
    if (code == 0) {
        rp_node_line_opened(host->node, moment);
    }
    return code;
}

void sim_host_down(struct sim_host *host)
{
    rp_node_free(host->node);
    host->node = NULL;
    host->arrival_count = 0;
    memset(&host->modem, 0, sizeof host->modem);
    host->modem.due_us = RP_NEVER;
    host->store->cut = false;
    host->store->cut_after = 0;
}

void sim_host_boot(struct sim_host *host, rp_time_us now_us)
{
    assert(host->node == NULL);
    host->config.boot++;
    host->clock.boot_us = sim_clock_drifted_us(&host->clock, now_us);
}

void sim_host_wipe(struct sim_host *host)
{
    assert(host->node == NULL);
    struct sim_store_watch watch = host->store->watch;
    sim_store_free(host->store);
    host->store = sim_store_new();
    host->store->watch = watch;
    host->config.store_ctx = host->store;
}

rp_time_us sim_host_wake_us(const struct sim_host *host)
{
    if (host->node == NULL || host->paused) {
        return RP_NEVER;
    }
    rp_time_us local_us = rp_node_wake(host->node);
    return local_us == RP_NEVER ? RP_NEVER : sim_clock_true_us(&host->clock, local_us);
}

void sim_host_tick(struct sim_host *host, rp_time_us now_us)
{
    rp_node_tick(host->node, sim_host_moment(host, now_us));
}

static rp_time_us delay_us(struct sim_host *host)
{
    return rp_rng_between(&host->rng, 0, host->latency_us_max);
}

bool sim_host_collect(struct sim_host *host, rp_time_us now_us)
{
    struct sim_modem *modem = &host->modem;
    uint8_t buf[512];
    size_t got;
    bool began = false;
    while (host->node != NULL && (got = rp_node_line_output(host->node, buf, sizeof buf)) > 0) {
        for (size_t i = 0; i < got; i++) {
            /* A frame that comes while another one waits or is on air is lost, as in a modem with
             * one buffer: the node must not let it happen. */
            if (sim_kiss_end_take(&modem->kiss, buf[i]) && modem->state == SIM_MODEM_IDLE) {
                modem->state = SIM_MODEM_WAIT;
                modem->taken_us = now_us;
                modem->due_us = now_us + 1 + delay_us(host);
                modem->frame_len = modem->kiss.frame_len;
                memcpy(modem->frame, modem->kiss.frame, modem->kiss.frame_len);
                modem->ack_wanted = modem->kiss.ack_wanted;
                memcpy(modem->ack_id, modem->kiss.ack_id, sizeof modem->ack_id);
                began = true;
            }
        }
    }
    return began;
}

void sim_host_bring(struct sim_host *host, enum sim_arrival_kind kind, struct rp_view bytes,
                    rp_time_us now_us, rp_time_us extra_us)
{
    if (host->arrival_count == SIM_ARRIVALS_MAX || bytes.len > RP_FRAME_LEN_MAX) {
        host->overruns++;
        return;
    }
    rp_time_us due_us = now_us + 1 + extra_us + delay_us(host);
    unsigned at = host->arrival_count++;
    while (at > 0 && host->arrivals[at - 1].due_us > due_us) {
        host->arrivals[at] = host->arrivals[at - 1];
        at--;
    }
    struct sim_arrival *arrival = &host->arrivals[at];
    arrival->due_us = due_us;
    arrival->kind = kind;
    arrival->len = (uint16_t)bytes.len;
    memcpy(arrival->bytes, bytes.bytes, bytes.len);
}

rp_time_us sim_host_arrival_us(const struct sim_host *host)
{
    bool waits = host->arrival_count == 0 || host->paused || host->node == NULL;
    return waits ? RP_NEVER : host->arrivals[0].due_us;
}

void sim_host_arrive(struct sim_host *host, rp_time_us now_us)
{
    struct sim_arrival arrival = host->arrivals[0];
    host->arrival_count--;
    memmove(&host->arrivals[0], &host->arrivals[1], host->arrival_count * sizeof host->arrivals[0]);
    if (arrival.kind == SIM_ARRIVAL_CHANNEL) {
        rp_node_channel(host->node, arrival.bytes[0] != 0, sim_host_moment(host, now_us));
        return;
    }
    uint8_t line[SIM_KISS_ENCODED_MAX];
    size_t len = arrival.kind != SIM_ARRIVAL_ACK
                     ? sim_kiss_end_data((struct rp_view){arrival.bytes, arrival.len}, line)
                     : sim_kiss_end_ack(arrival.bytes, line);
    rp_node_line_bytes(host->node, (struct rp_view){line, len}, sim_host_moment(host, now_us));
}

void sim_host_sent(struct sim_host *host, rp_time_us now_us)
{
    struct sim_modem *modem = &host->modem;
    modem->state = SIM_MODEM_IDLE;
    modem->due_us = RP_NEVER;
    if (modem->ack_wanted) {
        sim_host_bring(host, SIM_ARRIVAL_ACK, (struct rp_view){modem->ack_id, 2}, now_us, 0);
    }
}
