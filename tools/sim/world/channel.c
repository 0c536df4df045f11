#include "sim/world/channel.h"

#include <assert.h>
#include <stdlib.h>

#define CAPTURE_CDB 600 /* 6 dB, see channel.h */

void sim_channel_init(struct sim_channel *channel, unsigned count, bool capture, uint64_t seed)
{
    assert(count >= 2 && count <= SIM_STATIONS_MAX);
    *channel = (struct sim_channel){.count = count, .capture = capture};
    channel->rng = rp_rng_seeded(seed);
    channel->paths = calloc((size_t)count * count, sizeof channel->paths[0]);
    channel->hears = calloc(count, sizeof channel->hears[0]);
    channel->flights = calloc(count, sizeof channel->flights[0]);
    channel->active = calloc(count, sizeof channel->active[0]);
    assert(channel->paths != NULL && channel->hears != NULL && channel->flights != NULL &&
           channel->active != NULL);
}

void sim_channel_deinit(struct sim_channel *channel)
{
    free(channel->paths);
    free(channel->hears);
    free(channel->flights);
    free(channel->active);
}

struct sim_path *sim_channel_path(struct sim_channel *channel, unsigned from, unsigned to)
{
    assert(from < channel->count && to < channel->count);
    return &channel->paths[from * channel->count + to];
}

void sim_channel_changed(struct sim_channel *channel, unsigned from, unsigned to)
{
    const struct sim_path *path = sim_channel_path(channel, from, to);
    sim_set_put(&channel->hears[from], to, path->audible && path->cuts == 0);
}

/* Both a and b are on air and `at` hears both: who is spoiled there. */
static void meet_captured(struct sim_channel *channel, unsigned a, unsigned b, unsigned at)
{
    int difference_cdb =
        sim_channel_path(channel, a, at)->power_cdbm - sim_channel_path(channel, b, at)->power_cdbm;
    if (difference_cdb < CAPTURE_CDB) {
        sim_set_put(&channel->flights[a].spoiled, at, true);
    }
    if (difference_cdb > -CAPTURE_CDB) {
        sim_set_put(&channel->flights[b].spoiled, at, true);
    }
}

static void meet(struct sim_channel *channel, unsigned a, unsigned b)
{
    struct sim_flight *fa = &channel->flights[a], *fb = &channel->flights[b];
    for (unsigned word = 0; word < SIM_SET_WORDS; word++) {
        uint64_t both = channel->hears[a].words[word] & channel->hears[b].words[word];
        if (!channel->capture) {
            fa->spoiled.words[word] |= both;
            fb->spoiled.words[word] |= both;
            continue;
        }
        while (both != 0) {
            meet_captured(channel, a, b, word * 64 + (unsigned)__builtin_ctzll(both));
            both &= both - 1;
        }
    }
    sim_set_put(&fa->spoiled, b, true); /* half duplex, both ways */
    sim_set_put(&fb->spoiled, a, true);
}

void sim_channel_begin(struct sim_channel *channel, unsigned from, rp_time_us start_us,
                       rp_time_us end_us)
{
    struct sim_flight *flight = &channel->flights[from];
    assert(!flight->active && end_us > start_us);
    *flight = (struct sim_flight){.active = true, .start_us = start_us, .end_us = end_us};
    for (unsigned i = 0; i < channel->active_count; i++) {
        /* One that ends this very microsecond does not overlap. */
        if (channel->flights[channel->active[i]].end_us > start_us) {
            meet(channel, from, channel->active[i]);
        }
    }
    channel->active[channel->active_count++] = (uint8_t)from;
    channel->frames++;
}

static void take_off(struct sim_channel *channel, unsigned from)
{
    assert(channel->flights[from].active);
    channel->flights[from].active = false;
    unsigned at = 0;
    while (channel->active[at] != from) {
        at++;
    }
    channel->active[at] = channel->active[--channel->active_count];
}

void sim_channel_end(struct sim_channel *channel, unsigned from, struct sim_set *out_reached)
{
    const struct sim_flight *flight = &channel->flights[from];
    take_off(channel, from);
    for (unsigned word = 0; word < SIM_SET_WORDS; word++) {
        uint64_t hearers = channel->hears[from].words[word];
        uint64_t spoiled = hearers & flight->spoiled.words[word];
        uint64_t left = hearers & ~spoiled;
        channel->collisions += (unsigned)__builtin_popcountll(spoiled);
        uint64_t reached = 0;
        while (left != 0) {
            unsigned bit = (unsigned)__builtin_ctzll(left);
            const struct sim_path *path = sim_channel_path(channel, from, word * 64 + bit);
            unsigned loss = path->loss + path->extra_loss;
            bool lost = loss > 0 && rp_rng_below(&channel->rng, SIM_LOSS_ONE) < loss;
            channel->losses += lost;
            reached |= lost ? 0 : (uint64_t)1 << bit;
            left &= left - 1;
        }
        out_reached->words[word] = reached;
    }
}

void sim_channel_abort(struct sim_channel *channel, unsigned from)
{
    take_off(channel, from);
}

bool sim_channel_busy(const struct sim_channel *channel, unsigned at)
{
    for (unsigned i = 0; i < channel->active_count; i++) {
        if (sim_set_has(&channel->hears[channel->active[i]], at)) {
            return true;
        }
    }
    return false;
}
