#include "sim/world/truth.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

void sim_truth_init(struct sim_truth *truth, unsigned hosts, const struct sim_set *bases)
{
    *truth = (struct sim_truth){.hosts = hosts, .bases = *bases};
}

void sim_truth_deinit(struct sim_truth *truth)
{
    for (unsigned i = 0; i < truth->log_count; i++) {
        for (uint32_t seq = 0; seq < truth->logs[i].top; seq++) {
            free(truth->logs[i].facts[seq].sealed);
        }
        free(truth->logs[i].facts);
    }
    free(truth->logs);
    free(truth->records);
}

static unsigned log_place(const struct sim_truth *truth, uint16_t origin)
{
    unsigned low = 0, high = truth->log_count;
    while (low < high) {
        unsigned middle = (low + high) / 2;
        if (truth->logs[middle].origin < origin) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

struct sim_fact_log *sim_truth_log(const struct sim_truth *truth, uint16_t origin)
{
    unsigned at = log_place(truth, origin);
    return at < truth->log_count && truth->logs[at].origin == origin ? &truth->logs[at] : NULL;
}

static struct sim_fact_log *make_log(struct sim_truth *truth, uint16_t origin, unsigned host)
{
    struct sim_fact_log *known = sim_truth_log(truth, origin);
    if (known != NULL) {
        return known;
    }
    if (truth->log_count == truth->log_cap) {
        truth->log_cap = truth->log_cap * 2 + 16;
        truth->logs = realloc(truth->logs, truth->log_cap * sizeof truth->logs[0]);
        assert(truth->logs != NULL);
    }
    unsigned at = log_place(truth, origin);
    memmove(&truth->logs[at + 1], &truth->logs[at],
            (truth->log_count - at) * sizeof truth->logs[0]);
    truth->log_count++;
    truth->logs[at] = (struct sim_fact_log){.origin = origin, .host = (uint16_t)host};
    return &truth->logs[at];
}

struct sim_fact *sim_truth_find(const struct sim_truth *truth, uint16_t origin, uint32_t seq)
{
    struct sim_fact_log *log = sim_truth_log(truth, origin);
    bool known = log != NULL && seq > 0 && seq <= log->top && log->facts[seq - 1].sealed != NULL;
    return known ? &log->facts[seq - 1] : NULL;
}

static struct sim_fact *make_fact(struct sim_fact_log *log, uint32_t seq)
{
    if (seq > log->cap) {
        uint32_t cap = seq * 2 + 16;
        log->facts = realloc(log->facts, cap * sizeof log->facts[0]);
        assert(log->facts != NULL);
        memset(&log->facts[log->cap], 0, (cap - log->cap) * sizeof log->facts[0]);
        log->cap = cap;
    }
    log->top = seq > log->top ? seq : log->top;
    return &log->facts[seq - 1];
}

static uint32_t make_record(struct sim_truth *truth, unsigned host, const struct rp_record_row *row,
                            enum sim_sort sort, rp_time_us now_us)
{
    if (truth->record_count == truth->record_cap) {
        truth->record_cap = truth->record_cap * 2 + 64;
        truth->records = realloc(truth->records, truth->record_cap * sizeof truth->records[0]);
        assert(truth->records != NULL);
    }
    uint32_t segments = row->seq_last - row->seq_first + 1;
    truth->records[truth->record_count] = (struct sim_fact_record){
        .origin = row->origin,
        .host = (uint16_t)host,
        .first = row->seq_first,
        .last = row->seq_last,
        .sort = sort,
        .urgent = row->urgent,
        .segments_to_base = segments,
        .segments_to_all = segments,
        .made_us = now_us,
        .base_us = RP_NEVER,
        .all_us = RP_NEVER,
        .proved_us = RP_NEVER,
    };
    return truth->record_count++;
}

void sim_truth_held(struct sim_truth *truth, unsigned host, uint16_t origin, uint32_t seq,
                    rp_time_us now_us)
{
    struct sim_fact *fact = sim_truth_find(truth, origin, seq);
    assert(fact != NULL && !sim_set_has(&fact->holders, host));
    struct sim_fact_record *record = &truth->records[fact->record];
    sim_set_put(&fact->holders, host, true);
    truth->missing += fact->holder_count == 0 ? truth->hosts - 1 : (uint64_t)-1;
    fact->holder_count++;
    if (!fact->at_base && sim_set_has(&truth->bases, host)) {
        fact->at_base = true;
        record->base_us = --record->segments_to_base == 0 ? now_us : RP_NEVER;
    }
    if (fact->holder_count == truth->hosts && record->segments_to_all > 0) {
        record->all_us = --record->segments_to_all == 0 ? now_us : RP_NEVER;
    }
}

static void keep_bytes(struct sim_fact *fact, struct rp_view sealed)
{
    fact->sealed = malloc(sealed.len);
    assert(fact->sealed != NULL);
    memcpy(fact->sealed, sealed.bytes, sealed.len);
    fact->len = (uint16_t)sealed.len;
}

void sim_truth_made(struct sim_truth *truth, unsigned host, const struct rp_segment_row *segment,
                    const struct rp_record_row *record, enum sim_sort sort, rp_time_us now_us)
{
    struct sim_fact *fact = make_fact(make_log(truth, segment->origin, host), segment->seq);
    assert(fact->sealed == NULL);
    keep_bytes(fact, segment->sealed);
    fact->record = segment->seq == record->seq_first
                       ? make_record(truth, host, record, sort, now_us)
                       : truth->record_count - 1;
    sim_truth_held(truth, host, segment->origin, segment->seq, now_us);
}

void sim_truth_made_outside(struct sim_truth *truth, uint16_t origin, uint32_t seq,
                            struct rp_view sealed, rp_time_us now_us)
{
    struct rp_record_row row = {.origin = origin, .seq_first = seq, .seq_last = seq};
    struct sim_fact *fact = make_fact(make_log(truth, origin, truth->hosts), seq);
    assert(fact->sealed == NULL);
    keep_bytes(fact, sealed);
    fact->record = make_record(truth, truth->hosts, &row, SIM_SORT_OUTSIDE, now_us);
}

/* Gone from this station; when nobody else holds it, gone for good: nobody misses it. */
static void lose(struct sim_truth *truth, struct sim_fact *fact, unsigned host)
{
    if (!sim_set_has(&fact->holders, host)) {
        return;
    }
    struct sim_fact_record *record = &truth->records[fact->record];
    if (fact->holder_count == truth->hosts) {
        record->segments_to_all++;
        record->all_us = RP_NEVER;
    }
    sim_set_put(&fact->holders, host, false);
    fact->holder_count--;
    truth->missing =
        fact->holder_count > 0 ? truth->missing + 1 : truth->missing - (truth->hosts - 1);
}

void sim_truth_proved(struct sim_truth *truth, unsigned host, uint16_t origin, uint32_t first,
                      uint32_t last, rp_time_us now_us)
{
    for (uint32_t seq = last; seq >= first && seq > 0; seq--) {
        const struct sim_fact *fact = sim_truth_find(truth, origin, seq);
        struct sim_fact_record *record = fact != NULL ? &truth->records[fact->record] : NULL;
        if (record != NULL && record->host == host && record->first >= first &&
            record->last <= last && record->proved_us == RP_NEVER) {
            record->proved_us = now_us;
        }
    }
}

void sim_truth_wiped(struct sim_truth *truth, unsigned host)
{
    for (unsigned i = 0; i < truth->log_count; i++) {
        for (uint32_t seq = 1; seq <= truth->logs[i].top; seq++) {
            if (truth->logs[i].facts[seq - 1].sealed != NULL) {
                lose(truth, &truth->logs[i].facts[seq - 1], host);
            }
        }
    }
}
