/* What each station's log holds here: sets of sequence numbers, and their hash. */
#include "mesh/state.h"

#include <string.h>

bool rp_held_has(const struct rp_held *held, uint32_t seq)
{
    return seq > 0 && rp_held_below(held, seq, true) == seq;
}

uint32_t rp_held_top(const struct rp_held *held)
{
    return held->run_count > 0 ? held->runs[held->run_count - 1].last : held->upto;
}

static void remove_runs(struct rp_held *held, unsigned from, unsigned to)
{
    memmove(&held->runs[from], &held->runs[to], (held->run_count - to) * sizeof held->runs[0]);
    held->run_count = (uint8_t)(held->run_count - (to - from));
}

static void extend_start(struct rp_held *held, uint32_t last)
{
    held->upto = last;
    unsigned absorbed = 0;
    while (absorbed < held->run_count && held->runs[absorbed].first <= held->upto + 1) {
        if (held->runs[absorbed].last > held->upto) {
            held->upto = held->runs[absorbed].last;
        }
        absorbed++;
    }
    remove_runs(held, 0, absorbed);
}

int rp_held_add(struct rp_held *held, uint32_t first, uint32_t last)
{
    if (last <= held->upto) {
        return 0;
    }
    if (first <= held->upto + 1) {
        extend_start(held, last);
        return 0;
    }
    unsigned from = 0;
    while (from < held->run_count && held->runs[from].last + 1 < first) {
        from++;
    }
    struct rp_run merged = {first, last};
    unsigned to = from;
    for (; to < held->run_count && held->runs[to].first <= merged.last + 1; to++) {
        if (held->runs[to].first < merged.first) {
            merged.first = held->runs[to].first;
        }
        if (held->runs[to].last > merged.last) {
            merged.last = held->runs[to].last;
        }
    }
    if (from == to) {
        if (held->run_count == RP_RUNS_MAX) {
            return RP_E_FULL;
        }
        memmove(&held->runs[from + 1], &held->runs[from],
                (held->run_count - from) * sizeof held->runs[0]);
        held->run_count++;
    } else {
        remove_runs(held, from + 1, to);
    }
    held->runs[from] = merged;
    return 0;
}

bool rp_held_room(const struct rp_held *held, uint32_t seq)
{
    if (held->run_count < RP_RUNS_MAX) {
        return true;
    }
    struct rp_held copy = *held;
    return rp_held_add(&copy, seq, seq) == 0;
}

static uint32_t held_below(const struct rp_held *held, uint32_t seq)
{
    for (unsigned i = held->run_count; i-- > 0;) {
        if (held->runs[i].first <= seq) {
            return seq < held->runs[i].last ? seq : held->runs[i].last;
        }
    }
    return seq < held->upto ? seq : held->upto;
}

static uint32_t missing_below(const struct rp_held *held, uint32_t seq)
{
    for (unsigned i = held->run_count; i-- > 0;) {
        if (seq > held->runs[i].last) {
            return seq;
        }
        if (seq >= held->runs[i].first) {
            return held->runs[i].first - 1; /* runs never touch: the number below is missing */
        }
    }
    return seq > held->upto ? seq : 0;
}

uint32_t rp_held_below(const struct rp_held *held, uint32_t seq, bool wanted)
{
    return wanted ? held_below(held, seq) : missing_below(held, seq);
}

uint32_t rp_held_lacking(const struct rp_held *a, const struct rp_held *b, uint32_t seq)
{
    /* Each round either ends or goes below a run of a or of b. */
    while (seq > 0) {
        uint32_t held = held_below(a, seq);
        uint32_t missing = missing_below(b, held);
        if (missing == held) {
            return held;
        }
        seq = missing;
    }
    return 0;
}

bool rp_held_equal(const struct rp_held *a, const struct rp_held *b)
{
    return a->upto == b->upto && a->run_count == b->run_count &&
           memcmp(a->runs, b->runs, a->run_count * sizeof a->runs[0]) == 0;
}

/* The finalizer of SplitMix64, as src/base/rng.h names it: a mixing of 64 bits. */
static uint64_t mix(uint64_t z)
{
    z += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static uint64_t log_hash(const struct rp_log *log)
{
    if (rp_held_top(&log->held) == 0) {
        return 0;
    }
    uint64_t hash = mix((uint64_t)log->origin << 32 | log->held.upto);
    for (unsigned i = 0; i < log->held.run_count; i++) {
        const struct rp_run *run = &log->held.runs[i];
        hash = mix(hash ^ ((uint64_t)run->first << 32 | run->last));
    }
    return hash;
}

uint32_t rp_state_hash(const struct rp_mesh *mesh, uint16_t sender, uint32_t counter)
{
    /* Sender and counter make two different states that hash alike once differ the next time. */
    return (uint32_t)mix(mesh->state_sum ^ ((uint64_t)sender << 24 | counter));
}

/* Nothing above top any more. */
static void held_cut(struct rp_held *held, uint32_t top)
{
    while (held->run_count > 0 && held->runs[held->run_count - 1].first > top) {
        held->run_count--;
    }
    if (held->run_count > 0 && held->runs[held->run_count - 1].last > top) {
        held->runs[held->run_count - 1].last = top;
    }
    held->upto = held->upto < top ? held->upto : top;
}

uint32_t rp_state_hash_if(const struct rp_mesh *mesh, const struct rp_log *log, uint32_t top,
                          uint16_t sender, uint32_t counter)
{
    struct rp_log other = *log;
    uint32_t now = rp_held_top(&log->held);
    if (top > now) {
        rp_held_add(&other.held, now + 1, top); /* no room for another run: no hash comes out */
    } else {
        held_cut(&other.held, top);
    }
    uint64_t sum = mesh->state_sum - log->hash + log_hash(&other);
    return (uint32_t)mix(sum ^ ((uint64_t)sender << 24 | counter));
}

struct rp_log *rp_log_find(struct rp_mesh *mesh, uint16_t origin)
{
    for (unsigned i = 0; i < mesh->log_count; i++) {
        if (mesh->logs[i].origin == origin) {
            return &mesh->logs[i];
        }
    }
    return NULL;
}

struct rp_log *rp_log_of_station(struct rp_mesh *mesh, uint8_t station)
{
    struct rp_log *newest = NULL;
    for (unsigned i = 0; i < mesh->log_count; i++) {
        struct rp_log *log = &mesh->logs[i];
        if (rp_origin_station(log->origin) == station &&
            (newest == NULL || log->changed > newest->changed)) {
            newest = log;
        }
    }
    return newest;
}

static struct rp_log *free_log(struct rp_mesh *mesh)
{
    if (mesh->log_count < RP_ORIGINS_MAX) {
        return &mesh->logs[mesh->log_count++];
    }
    for (unsigned i = 0; i < mesh->log_count; i++) {
        struct rp_log *log = &mesh->logs[i];
        if (rp_held_top(&log->held) == 0 && log->origin != mesh->config.origin) {
            return log; /* known by name only */
        }
    }
    return NULL;
}

struct rp_log *rp_log_make(struct rp_mesh *mesh, uint16_t origin)
{
    struct rp_log *log = rp_log_find(mesh, origin);
    if (log != NULL) {
        return log;
    }
    log = free_log(mesh);
    if (log == NULL) {
        mesh->counters.queue_full++;
        return NULL;
    }
    *log = (struct rp_log){.origin = origin, .need_us = RP_NEVER, .pace = {.due_us = RP_NEVER}};
    return log;
}

int rp_log_add(struct rp_mesh *mesh, struct rp_log *log, uint32_t first, uint32_t last)
{
    int error = rp_held_add(&log->held, first, last);
    if (error != 0) {
        return error;
    }
    if (last > log->known) {
        log->known = last;
    }
    mesh->state_sum -= log->hash;
    log->hash = log_hash(log);
    mesh->state_sum += log->hash;
    log->changed = ++mesh->stamp;
    return 0;
}

bool rp_log_missing(const struct rp_log *log)
{
    return log->held.upto < log->known;
}
