#include "node_net.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "radio/airtime.h"

enum { FEND = 0xc0, FESC = 0xdb, TFEND = 0xdc, TFESC = 0xdd }; /* The KISS TNC, 1987 */

void node_net_start(struct node_net *net, uint64_t seed)
{
    memset(net, 0, sizeof *net);
    net->seed = seed;
    net->rng = rp_rng_seeded(seed);
    for (size_t a = 0; a < NODE_NET_MAX; a++) {
        for (size_t b = 0; b < NODE_NET_MAX; b++) {
            net->loss[a][b] = NODE_NET_NO_LINK;
        }
    }
}

void node_net_stop(struct node_net *net)
{
    for (size_t i = 0; i < net->count; i++) {
        rp_node_free(net->at[i].node);
        memory_store_free(net->at[i].store);
    }
    net->count = 0;
}

struct rp_node_config node_net_config(uint8_t number, enum rp_role role)
{
    struct rp_node_config config = {
        .station = number, .role = role, .modem = "kiss", .generation_seed = 100};
    rp_net_defaults(&config.net);
    config.net.duty_permille = 1000;
    strcpy(config.net.band, "none"); /* nothing here reaches an antenna */
    config.no_limit_acknowledged = true;
    for (size_t i = 0; i < RP_SECRET_LEN; i++) {
        config.net.secret[i] = (uint8_t)(0x51 + 7 * i);
    }
    snprintf(config.name, sizeof config.name, "Camp %u", number);
    return config;
}

size_t node_net_add(struct node_net *net, const struct rp_node_config *config)
{
    assert(net->count < NODE_NET_MAX);
    struct node_net_station *station = &net->at[net->count];
    station->config = *config;
    station->store = memory_store_new();
    station->synced = true;
    return net->count++;
}

void node_net_link(struct node_net *net, size_t a, size_t b, uint16_t loss)
{
    net->loss[a][b] = net->loss[b][a] = loss;
}

void node_net_start_row(struct node_net *net, uint64_t seed, size_t relays, uint16_t loss)
{
    assert(relays <= 3);
    node_net_start(net, seed);
    for (size_t i = 0; i < relays + 2; i++) {
        struct rp_node_config config = i == 0 ? node_net_config(7, RP_ROLE_CAMP)
                                       : i <= relays
                                           ? node_net_config((uint8_t)(3 + i), RP_ROLE_RELAY)
                                           : node_net_config(2, RP_ROLE_BASE);
        node_net_add(net, &config);
        if (i > 0) {
            node_net_link(net, i - 1, i, loss);
        }
    }
}

struct rp_moment node_net_moment(const struct node_net *net, size_t index)
{
    const struct node_net_station *station = &net->at[index];
    return (struct rp_moment){
        .now_us = net->now_us,
        .unix_s = NODE_NET_START_S + net->now_us / NODE_NET_SECOND_US + station->clock_offset_s,
        .synced = station->synced,
    };
}

struct rp_node_status node_net_status(const struct node_net *net, size_t index)
{
    struct rp_node_status status;
    rp_node_status(net->at[index].node, node_net_moment(net, index), &status);
    return status;
}

uint32_t node_net_time(const struct node_net *net, size_t index)
{
    return rp_node_net_time(net->at[index].node, node_net_moment(net, index));
}

struct rp_record_ref node_net_enter(struct node_net *net, size_t index, struct rp_record *record)
{
    struct rp_record_ref ref = {0, 0};
    struct rp_problem problem;
    if (rp_node_enter(net->at[index].node, record, node_net_moment(net, index), &ref, &problem) <
        0) {
        fprintf(stderr, "not entered: %s\n", problem.text);
        abort();
    }
    return ref;
}

struct rp_episode_ref node_net_open(struct node_net *net, size_t index, const char *patient)
{
    struct rp_record record = {.kind = RP_REC_EPISODE};
    snprintf(record.as.opened.patient, sizeof record.as.opened.patient, "%s", patient);
    node_net_enter(net, index, &record);
    return record.episode;
}

struct rp_record_ref node_net_note(struct node_net *net, size_t index, struct rp_episode_ref ref,
                                   const char *text)
{
    struct rp_record record = {.kind = RP_REC_NOTE, .episode = ref};
    snprintf(record.as.note.text, sizeof record.as.note.text, "%s", text);
    return node_net_enter(net, index, &record);
}

static uint32_t airtime_us(const struct node_net_station *station, size_t len)
{
    return (uint32_t)rp_airtime_profile_us(&station->config.net.profile, (unsigned)len);
}

static void start_frame(struct node_net *net, struct node_net_station *station)
{
    assert(!station->sending); /* half duplex: the host waits for the end of its frame */
    station->sending = true;
    station->frames_sent++;
    station->start_us = net->now_us;
    station->end_us = net->now_us + airtime_us(station, station->frame_len);
}

/* A whole KISS frame from the host: data goes on air, settings are taken silently. */
static void take_kiss(struct node_net *net, struct node_net_station *station)
{
    if (station->line_len < 2 || station->line[0] != 0x00) {
        return;
    }
    size_t len = 0;
    for (size_t i = 1; i < station->line_len; i++) {
        uint8_t byte = station->line[i];
        if (byte == FESC) {
            i++;
            assert(i < station->line_len);
            byte = station->line[i] == TFEND ? FEND : FESC;
        }
        assert(len < sizeof station->frame);
        station->frame[len++] = byte;
    }
    station->frame_len = len;
    start_frame(net, station);
}

static void take_output(struct node_net *net, struct node_net_station *station)
{
    uint8_t buf[256];
    size_t got;
    while (station->node != NULL &&
           (got = rp_node_line_output(station->node, buf, sizeof buf)) > 0) {
        for (size_t i = 0; i < got; i++) {
            if (buf[i] == FEND) {
                take_kiss(net, station);
                station->line_len = 0;
            } else {
                assert(station->line_len < sizeof station->line);
                station->line[station->line_len++] = buf[i];
            }
        }
    }
}

static bool overlaps(const struct node_net_station *a, const struct node_net_station *b)
{
    return a->frame_len > 0 && b->frame_len > 0 && a->start_us < b->end_us &&
           b->start_us < a->end_us;
}

/* Whether another frame that `to` could hear, or one of its own, overlapped the one of `from`. A
 * station's last frame is remembered after its end for this. */
static bool disturbed(const struct node_net *net, size_t from, size_t to)
{
    for (size_t other = 0; other < net->count; other++) {
        bool audible = other == to || net->loss[other][to] < NODE_NET_NO_LINK;
        if (other != from && audible && overlaps(&net->at[from], &net->at[other])) {
            return true;
        }
    }
    return false;
}

static size_t put_kiss(const uint8_t *frame, size_t len, uint8_t *out)
{
    size_t at = 0;
    out[at++] = FEND;
    out[at++] = 0x00;
    for (size_t i = 0; i < len; i++) {
        if (frame[i] == FEND || frame[i] == FESC) {
            out[at++] = FESC;
            out[at++] = frame[i] == FEND ? TFEND : TFESC;
        } else {
            out[at++] = frame[i];
        }
    }
    out[at++] = FEND;
    return at;
}

static void deliver(struct node_net *net, size_t from, size_t to)
{
    const struct node_net_station *sender = &net->at[from];
    struct node_net_station *receiver = &net->at[to];
    if (receiver->node == NULL || net->loss[from][to] >= NODE_NET_NO_LINK) {
        return;
    }
    if (disturbed(net, from, to)) {
        receiver->frames_collided++;
        return;
    }
    if (rp_rng_below(&net->rng, 1000) < net->loss[from][to]) {
        receiver->frames_lost++;
        return;
    }
    receiver->frames_heard++;
    uint8_t bytes[2 * RP_FRAME_LEN_MAX + 3];
    size_t len = put_kiss(sender->frame, sender->frame_len, bytes);
    rp_node_line_bytes(receiver->node, (struct rp_view){bytes, len}, node_net_moment(net, to));
    take_output(net, receiver);
}

void node_net_up(struct node_net *net, size_t index)
{
    struct node_net_station *station = &net->at[index];
    assert(station->node == NULL);
    station->config.store = memory_store_ops();
    station->config.store_ctx = station->store;
    station->config.seed = net->seed * 1000 + index * 100 + station->starts++;
    struct rp_problem problem;
    int code = rp_node_new(&station->config, node_net_moment(net, index), &station->node, &problem);
    if (code < 0) {
        fprintf(stderr, "station %u does not start: %s\n", station->config.station, problem.text);
        abort();
    }
    rp_node_line_opened(station->node, node_net_moment(net, index));
    take_output(net, station);
}

void node_net_up_all(struct node_net *net)
{
    for (size_t i = 0; i < net->count; i++) {
        node_net_up(net, i);
    }
}

void node_net_down(struct node_net *net, size_t index)
{
    struct node_net_station *station = &net->at[index];
    assert(station->node != NULL);
    rp_node_free(station->node);
    station->node = NULL;
    station->line_len = 0;
}

void node_net_restart(struct node_net *net, size_t index)
{
    node_net_down(net, index);
    node_net_run(net, 5 * NODE_NET_SECOND_US);
    node_net_up(net, index);
}

void node_net_restore(struct node_net *net, size_t index, struct memory_store *store)
{
    assert(net->at[index].node == NULL);
    memory_store_free(net->at[index].store);
    net->at[index].store = store;
}

/* The next thing to happen: the end of a frame, or a station's wake. */
static rp_time_us next_us(const struct node_net *net)
{
    rp_time_us next = RP_NEVER;
    for (size_t i = 0; i < net->count; i++) {
        const struct node_net_station *station = &net->at[i];
        if (station->sending && station->end_us < next) {
            next = station->end_us;
        }
        rp_time_us wake_us = station->node != NULL ? rp_node_wake(station->node) : RP_NEVER;
        next = wake_us < next ? wake_us : next;
    }
    return next > net->now_us ? next : net->now_us + 1;
}

static void step(struct node_net *net, rp_time_us now_us)
{
    net->now_us = now_us;
    for (size_t i = 0; i < net->count; i++) {
        if (net->at[i].sending && net->at[i].end_us <= now_us) {
            net->at[i].sending = false;
            for (size_t to = 0; to < net->count; to++) {
                if (to != i) {
                    deliver(net, i, to);
                }
            }
        }
    }
    for (size_t i = 0; i < net->count; i++) {
        struct node_net_station *station = &net->at[i];
        if (station->node != NULL && rp_node_wake(station->node) <= now_us) {
            rp_node_tick(station->node, node_net_moment(net, i));
        }
        take_output(net, station); /* also of what a test has just entered */
    }
}

void node_net_run(struct node_net *net, rp_time_us span_us)
{
    rp_time_us until_us = net->now_us + span_us;
    while (net->now_us < until_us) {
        rp_time_us next = next_us(net);
        step(net, next < until_us ? next : until_us);
    }
}

rp_time_us node_net_run_until(struct node_net *net, node_net_test *done, void *arg,
                              rp_time_us limit_us)
{
    rp_time_us start_us = net->now_us;
    while (!done(arg)) {
        if (net->now_us - start_us > limit_us) {
            return -1;
        }
        node_net_run(net, NODE_NET_SECOND_US);
    }
    return net->now_us - start_us;
}

bool node_net_nothing_queued(void *net)
{
    return node_net_status(net, 0).queued == 0;
}
