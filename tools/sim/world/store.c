#include "sim/world/store.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"

#define CHUNK_LEN 65536
/* The airtime budget looks back one hour; twice that is kept. */
#define KEEP_US ((rp_time_us)7200 * 1000000)

struct sim_chunk {
    struct sim_chunk *next;
    size_t used;
    uint8_t bytes[CHUNK_LEN];
};

/* len is at most a record and its row: far below a chunk. */
static void *allot(struct sim_store *store, size_t len)
{
    size_t whole = (len + 15) & ~(size_t)15;
    if (store->chunks == NULL || store->chunks->used + whole > CHUNK_LEN) {
        struct sim_chunk *chunk = malloc(sizeof *chunk);
        assert(chunk != NULL && whole <= CHUNK_LEN);
        chunk->next = store->chunks;
        chunk->used = 0;
        store->chunks = chunk;
    }
    void *at = store->chunks->bytes + store->chunks->used;
    store->chunks->used += whole;
    return at;
}

static void *allot_copy(struct sim_store *store, struct rp_view bytes)
{
    void *at = allot(store, bytes.len > 0 ? bytes.len : 1);
    if (bytes.len > 0) {
        memcpy(at, bytes.bytes, bytes.len);
    }
    return at;
}

/* Makes room for one more of `size` bytes. */
static void *grown(void *at, unsigned count, unsigned *cap, size_t size)
{
    if (count < *cap) {
        return at;
    }
    *cap = *cap * 2 + 16;
    at = realloc(at, *cap * size);
    assert(at != NULL);
    return at;
}

/* Where the log of origin is, or belongs. */
static unsigned log_place(const struct sim_store *store, uint16_t origin)
{
    unsigned low = 0, high = store->log_count;
    while (low < high) {
        unsigned middle = (low + high) / 2;
        if (store->logs[middle].origin < origin) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

static struct sim_store_log *find_log(const struct sim_store *store, uint16_t origin)
{
    unsigned at = log_place(store, origin);
    return at < store->log_count && store->logs[at].origin == origin ? &store->logs[at] : NULL;
}

static struct sim_store_log *make_log(struct sim_store *store, uint16_t origin)
{
    unsigned at = log_place(store, origin);
    if (at == store->log_count || store->logs[at].origin != origin) {
        store->logs = grown(store->logs, store->log_count, &store->log_cap, sizeof store->logs[0]);
        memmove(&store->logs[at + 1], &store->logs[at],
                (store->log_count - at) * sizeof store->logs[0]);
        store->logs[at] = (struct sim_store_log){.origin = origin};
        store->log_count++;
    }
    return &store->logs[at];
}

static struct sim_store_segment *segment_of(const struct sim_store_log *log, uint32_t seq)
{
    if (log == NULL || seq == 0 || seq > log->top || log->segments[seq - 1].sealed == NULL) {
        return NULL;
    }
    return &log->segments[seq - 1];
}

const struct sim_store_segment *sim_store_find(const struct sim_store *store, uint16_t origin,
                                               uint32_t seq)
{
    return segment_of(find_log(store, origin), seq);
}

/* Counts a write; *out_apply tells whether its content is kept. */
static int begin_write(struct sim_store *store, bool *out_apply)
{
    assert(store->visiting == 0);
    store->writes++;
    *out_apply = false;
    if (store->cut) {
        return RP_E_IO;
    }
    if (store->cut_after > 0 && --store->cut_after == 0) {
        store->cut = true;
        *out_apply = store->cut_written;
        return RP_E_IO;
    }
    *out_apply = store->write_code == 0;
    return store->write_code;
}

static void keep_segment(struct sim_store *store, const struct rp_segment_row *row,
                         const struct rp_record_row *own)
{
    struct sim_store_log *log = make_log(store, row->origin);
    if (row->seq > log->cap) {
        uint32_t cap = row->seq * 2 + 16;
        log->segments = realloc(log->segments, cap * sizeof log->segments[0]);
        assert(log->segments != NULL);
        memset(&log->segments[log->cap], 0, (cap - log->cap) * sizeof log->segments[0]);
        log->cap = cap;
    }
    log->top = row->seq > log->top ? row->seq : log->top;
    struct sim_store_segment *segment = &log->segments[row->seq - 1];
    segment->sealed = allot_copy(store, row->sealed);
    segment->len = (uint16_t)row->sealed.len;
    segment->first = row->first;
    segment->last = row->last;
    if (store->watch.kept != NULL) {
        store->watch.kept(store->watch.ctx, row, own);
    }
}

static void keep_record(struct sim_store *store, const struct rp_record_row *row)
{
    struct sim_store_log *log = find_log(store, row->origin);
    struct rp_record_row *record = allot(store, sizeof *record);
    *record = *row;
    record->body.bytes = allot_copy(store, row->body);
    for (uint32_t seq = row->seq_first; seq <= row->seq_last; seq++) {
        segment_of(log, seq)->record_back = seq - row->seq_first;
    }
    log->segments[row->seq_first - 1].record = record;
}

static int append_own(void *ctx, const struct rp_segment_row *segments, size_t count,
                      const struct rp_record_row *record)
{
    struct sim_store *store = ctx;
    assert(count == record->seq_last - record->seq_first + 1);
    for (size_t i = 0; i < count; i++) {
        if (sim_store_find(store, segments[i].origin, segments[i].seq) != NULL) {
            return RP_E_DUPLICATE;
        }
    }
    bool apply;
    int code = begin_write(store, &apply);
    for (size_t i = 0; apply && i < count; i++) {
        keep_segment(store, &segments[i], record);
    }
    if (apply) {
        keep_record(store, record);
    }
    return code;
}

static int put_segment(void *ctx, const struct rp_segment_row *segment,
                       const struct rp_record_row *record)
{
    struct sim_store *store = ctx;
    if (sim_store_find(store, segment->origin, segment->seq) != NULL) {
        return RP_E_DUPLICATE;
    }
    bool apply;
    int code = begin_write(store, &apply);
    if (apply) {
        keep_segment(store, segment, NULL);
        if (record != NULL) {
            keep_record(store, record);
        }
    }
    return code;
}

static int get_segment(void *ctx, uint16_t origin, uint32_t seq, bool *out_first, bool *out_last,
                       uint8_t *buf, size_t cap)
{
    const struct sim_store_segment *segment = sim_store_find(ctx, origin, seq);
    if (segment == NULL) {
        return RP_E_NOT_FOUND;
    }
    if (segment->len > cap) {
        return RP_E_TOO_LONG;
    }
    memcpy(buf, segment->sealed, segment->len);
    *out_first = segment->first;
    *out_last = segment->last;
    return segment->len;
}

static int visit_runs(const struct sim_store_log *log, rp_run_visit *visit, void *arg)
{
    int code = 0;
    for (uint32_t seq = 1; seq <= log->top && code == 0; seq++) {
        uint32_t first = seq;
        while (segment_of(log, seq) != NULL) {
            seq++;
        }
        code = seq > first ? visit(arg, log->origin, first, seq - 1) : 0;
    }
    return code;
}

static int each_run(void *ctx, rp_run_visit *visit, void *arg)
{
    struct sim_store *store = ctx;
    int code = 0;
    store->visiting++;
    for (unsigned i = 0; i < store->log_count && code == 0; i++) {
        code = visit_runs(&store->logs[i], visit, arg);
    }
    store->visiting--;
    return code;
}

static int64_t last_seq(void *ctx, uint16_t origin)
{
    const struct sim_store_log *log = find_log(ctx, origin);
    return log != NULL ? log->top : 0;
}

static bool passes(const struct rp_record_filter *filter, const struct rp_record_row *row)
{
    bool episode = filter->episode.number == 0 || (row->episode.number == filter->episode.number &&
                                                   row->episode.origin == filter->episode.origin);
    return episode && (filter->kind == 0 || row->kind == filter->kind) &&
           (!filter->not_at_base || row->base_s == 0);
}

static int visit_records(const struct sim_store_log *log, const struct rp_record_filter *filter,
                         rp_record_visit *visit, void *arg)
{
    int code = 0;
    uint32_t seq = filter->not_at_base ? log->base_upto + 1 : 1;
    for (; seq <= log->top && code == 0; seq++) {
        const struct rp_record_row *row = log->segments[seq - 1].record;
        code = row != NULL && passes(filter, row) ? visit(arg, row) : 0;
    }
    return code;
}

static int each_record(void *ctx, const struct rp_record_filter *filter, rp_record_visit *visit,
                       void *arg)
{
    struct sim_store *store = ctx;
    int code = 0;
    store->visiting++;
    for (unsigned i = 0; i < store->log_count && code == 0; i++) {
        if (filter->origin == 0 || store->logs[i].origin == filter->origin) {
            code = visit_records(&store->logs[i], filter, visit, arg);
        }
    }
    store->visiting--;
    return code;
}

static struct rp_record_row *record_at(const struct sim_store *store, uint16_t origin, uint32_t seq)
{
    const struct sim_store_log *log = find_log(store, origin);
    return segment_of(log, seq) != NULL ? log->segments[seq - 1].record : NULL;
}

static int get_record(void *ctx, struct rp_record_ref ref, rp_record_visit *visit, void *arg)
{
    struct sim_store *store = ctx;
    const struct rp_record_row *row = record_at(store, ref.origin, ref.seq);
    if (row == NULL) {
        return RP_E_NOT_FOUND;
    }
    store->visiting++;
    int code = visit(arg, row);
    store->visiting--;
    return code;
}

/* The whole record that contains the segment, or NULL. */
static struct rp_record_row *record_around(const struct sim_store *store, uint16_t origin,
                                           uint32_t seq)
{
    const struct sim_store_segment *segment = sim_store_find(store, origin, seq);
    return segment != NULL ? record_at(store, origin, seq - segment->record_back) : NULL;
}

static int mark_aired(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s)
{
    struct rp_record_row *row = record_around(ctx, origin, seq);
    bool apply;
    if (row == NULL || row->aired_s != 0) {
        return row == NULL ? RP_E_NOT_FOUND : RP_OK;
    }
    int code = begin_write(ctx, &apply);
    row->aired_s = apply ? unix_s : 0;
    return code;
}

static int mark_heard(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s, uint8_t station)
{
    struct rp_record_row *row = record_around(ctx, origin, seq);
    bool apply;
    if (row == NULL || row->heard_s != 0) {
        return row == NULL ? RP_E_NOT_FOUND : RP_OK;
    }
    int code = begin_write(ctx, &apply);
    row->heard_s = apply ? unix_s : 0;
    row->heard_station = apply ? station : 0;
    return code;
}

static int mark_records(struct sim_store *store, struct sim_store_log *log, uint32_t seq_first,
                        uint32_t seq_last, int64_t unix_s)
{
    int marked = 0;
    uint32_t from = seq_first > log->base_upto ? seq_first : log->base_upto + 1;
    uint32_t upto = seq_last < log->top ? seq_last : log->top;
    bool contiguous = from == log->base_upto + 1;
    for (uint32_t seq = from; seq <= upto; seq++) {
        struct rp_record_row *row = log->segments[seq - 1].record;
        if (row != NULL && row->seq_last <= seq_last && row->base_s == 0) {
            row->base_s = unix_s;
            marked++;
            if (store->watch.at_base != NULL) {
                store->watch.at_base(store->watch.ctx, log->origin, row->seq_first, row->seq_last);
            }
        }
        contiguous = contiguous && row != NULL && row->seq_last <= seq_last;
        if (contiguous) {
            log->base_upto = row->seq_last;
            seq = row->seq_last;
        }
    }
    return marked;
}

static int mark_base(void *ctx, uint16_t origin, uint32_t seq_first, uint32_t seq_last,
                     int64_t unix_s)
{
    struct sim_store *store = ctx;
    struct sim_store_log *log = find_log(store, origin);
    bool apply;
    int code = begin_write(store, &apply), marked = 0;
    if (apply && log != NULL && seq_first > 0) {
        marked = mark_records(store, log, seq_first, seq_last, unix_s);
    }
    return code < 0 ? code : marked;
}

/* What src/store/charges.c drops too: what is certainly of before the hour. */
static bool is_old(const struct rp_charge *row, const struct rp_charge *now)
{
    return row->boot == now->boot ? row->at_us < now->at_us - KEEP_US : now->at_us > KEEP_US / 2;
}

static int charge(void *ctx, const struct rp_charge *now)
{
    struct sim_store *store = ctx;
    bool apply;
    int code = begin_write(store, &apply);
    if (!apply) {
        return code;
    }
    while (store->charge_count > 0 && is_old(&store->charges[store->charge_first], now)) {
        store->charge_first++;
        store->charge_count--;
    }
    if (store->charge_first > 0 && store->charge_first + store->charge_count == store->charge_cap) {
        memmove(store->charges, store->charges + store->charge_first,
                store->charge_count * sizeof store->charges[0]);
        store->charge_first = 0;
    }
    store->charges = grown(store->charges, store->charge_first + store->charge_count,
                           &store->charge_cap, sizeof store->charges[0]);
    store->charges[store->charge_first + store->charge_count++] = *now;
    return code;
}

static int each_charge(void *ctx, rp_charge_visit *visit, void *arg)
{
    struct sim_store *store = ctx;
    int code = 0;
    store->visiting++;
    for (unsigned i = store->charge_count; i > 0 && code == 0; i--) {
        code = visit(arg, &store->charges[store->charge_first + i - 1]);
    }
    store->visiting--;
    return code;
}

static struct sim_store_value *find_value(struct sim_store *store, const char *key)
{
    for (unsigned i = 0; i < store->value_count; i++) {
        if (strcmp(store->values[i].key, key) == 0) {
            return &store->values[i];
        }
    }
    return NULL;
}

static int get_value(void *ctx, const char *key, uint8_t *buf, size_t cap)
{
    const struct sim_store_value *value = find_value(ctx, key);
    if (value == NULL || value->len > cap) {
        return value == NULL ? RP_E_NOT_FOUND : RP_E_TOO_LONG;
    }
    memcpy(buf, value->bytes, value->len);
    return value->len;
}

static int set_value(void *ctx, const char *key, struct rp_view value)
{
    struct sim_store *store = ctx;
    bool apply;
    int code = begin_write(store, &apply);
    if (!apply) {
        return code;
    }
    struct sim_store_value *named = find_value(store, key);
    if (named == NULL) {
        if (store->value_count == SIM_STORE_VALUES_MAX) {
            store->over = true;
            return RP_E_NO_SPACE;
        }
        named = &store->values[store->value_count++];
    }
    assert(strlen(key) < sizeof named->key && value.len <= sizeof named->bytes);
    memcpy(named->key, key, strlen(key) + 1);
    named->len = (uint8_t)value.len;
    memcpy(named->bytes, value.bytes, value.len);
    return code;
}

const struct rp_store_ops *sim_store_ops(void)
{
    static const struct rp_store_ops ops = {
        .append_own = append_own,
        .put_segment = put_segment,
        .get_segment = get_segment,
        .each_run = each_run,
        .last_seq = last_seq,
        .each_record = each_record,
        .get_record = get_record,
        .mark_aired = mark_aired,
        .mark_heard = mark_heard,
        .mark_base = mark_base,
        .charge = charge,
        .each_charge = each_charge,
        .get_value = get_value,
        .set_value = set_value,
    };
    return &ops;
}

struct sim_store *sim_store_new(void)
{
    struct sim_store *store = calloc(1, sizeof *store);
    assert(store != NULL);
    return store;
}

void sim_store_free(struct sim_store *store)
{
    if (store == NULL) {
        return;
    }
    for (unsigned i = 0; i < store->log_count; i++) {
        free(store->logs[i].segments);
    }
    while (store->chunks != NULL) {
        struct sim_chunk *next = store->chunks->next;
        free(store->chunks);
        store->chunks = next;
    }
    free(store->logs);
    free(store->charges);
    free(store);
}
