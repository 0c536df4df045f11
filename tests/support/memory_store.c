#include "memory_store.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"

struct segment {
    uint16_t origin;
    uint32_t seq;
    bool first, last;
    uint16_t len;
    uint8_t sealed[RP_FRAME_LEN_MAX];
};

struct record {
    struct rp_record_row row; /* body: owned by the store */
};

#define KEY_LEN 64

struct named {
    char key[KEY_LEN + 1];
    size_t len;
    uint8_t bytes[256];
};

/* A growing array of `size` bytes each. */
struct array {
    void *at;
    size_t count, cap, size;
};

struct memory_store {
    struct array segments; /* struct segment, by (origin, seq) */
    struct array records;  /* struct record, by (origin, seq_first) */
    struct array charges;  /* struct rp_charge, as they came */
    struct array values;   /* struct named */
    struct memory_fault fault;
    int read_code;
    uint32_t writes;
    unsigned visiting;
};

static void *grow(struct array *array, size_t index)
{
    if (array->count == array->cap) {
        array->cap = array->cap == 0 ? 16 : 2 * array->cap;
        array->at = realloc(array->at, array->cap * array->size);
        assert(array->at != NULL);
    }
    uint8_t *place = (uint8_t *)array->at + index * array->size;
    memmove(place + array->size, place, (array->count - index) * array->size);
    array->count++;
    memset(place, 0, array->size);
    return place;
}

static struct segment *segment_at(const struct memory_store *store, size_t i)
{
    return (struct segment *)store->segments.at + i;
}

static struct record *record_at(const struct memory_store *store, size_t i)
{
    return (struct record *)store->records.at + i;
}

static uint64_t key_of(uint16_t origin, uint32_t seq)
{
    return (uint64_t)origin << 32 | seq;
}

/* The first segment not before (origin, seq). */
static size_t find_segment(const struct memory_store *store, uint16_t origin, uint32_t seq)
{
    size_t low = 0, high = store->segments.count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        const struct segment *segment = segment_at(store, middle);
        if (key_of(segment->origin, segment->seq) < key_of(origin, seq)) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

static size_t find_record(const struct memory_store *store, uint16_t origin, uint32_t seq)
{
    size_t low = 0, high = store->records.count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        const struct rp_record_row *row = &record_at(store, middle)->row;
        if (key_of(row->origin, row->seq_first) < key_of(origin, seq)) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

static bool holds(const struct memory_store *store, uint16_t origin, uint32_t seq)
{
    size_t i = find_segment(store, origin, seq);
    return i < store->segments.count && segment_at(store, i)->origin == origin &&
           segment_at(store, i)->seq == seq;
}

/* Counts a write; *out_apply tells whether its content is kept. */
static int begin_write(struct memory_store *store, bool *out_apply)
{
    assert(store->visiting == 0);
    struct memory_fault *fault = &store->fault;
    store->writes++;
    *out_apply = true;
    if (fault->count == 0) {
        return RP_OK;
    }
    if (fault->after > 0) {
        fault->after--;
        return RP_OK;
    }
    fault->count--;
    *out_apply = fault->written;
    return fault->code;
}

static void insert_segment(struct memory_store *store, const struct rp_segment_row *row)
{
    assert(row->sealed.len > 0 && row->sealed.len <= RP_FRAME_LEN_MAX);
    size_t i = find_segment(store, row->origin, row->seq);
    struct segment *segment = grow(&store->segments, i);
    segment->origin = row->origin;
    segment->seq = row->seq;
    segment->first = row->first;
    segment->last = row->last;
    segment->len = (uint16_t)row->sealed.len;
    memcpy(segment->sealed, row->sealed.bytes, row->sealed.len);
}

static struct rp_view own_bytes(struct rp_view bytes)
{
    uint8_t *copy = malloc(bytes.len > 0 ? bytes.len : 1);
    assert(copy != NULL);
    if (bytes.len > 0) {
        memcpy(copy, bytes.bytes, bytes.len);
    }
    return (struct rp_view){copy, bytes.len};
}

static void insert_record(struct memory_store *store, const struct rp_record_row *row)
{
    size_t i = find_record(store, row->origin, row->seq_first);
    struct record *record = grow(&store->records, i);
    record->row = *row;
    record->row.body = own_bytes(row->body);
}

static struct named *find_value(const struct memory_store *store, const char *key)
{
    struct named *values = store->values.at;
    for (size_t i = 0; i < store->values.count; i++) {
        if (strcmp(values[i].key, key) == 0) {
            return &values[i];
        }
    }
    return NULL;
}

static void put_value(struct memory_store *store, const char *key, struct rp_view value)
{
    struct named *named = find_value(store, key);
    named = named != NULL ? named : grow(&store->values, store->values.count);
    assert(strlen(key) <= KEY_LEN && value.len <= sizeof named->bytes);
    memcpy(named->key, key, strlen(key) + 1);
    named->len = value.len;
    memcpy(named->bytes, value.bytes, value.len);
}

static void keep_place(struct memory_store *store, const struct rp_record_row *record)
{
    uint8_t place[6] = {(uint8_t)(record->origin >> 8),     (uint8_t)record->origin,
                        (uint8_t)(record->seq_first >> 24), (uint8_t)(record->seq_first >> 16),
                        (uint8_t)(record->seq_first >> 8),  (uint8_t)record->seq_first};
    put_value(store, record->entry_name, (struct rp_view){place, sizeof place});
}

static int append_own(void *ctx, const struct rp_segment_row *segments, size_t count,
                      const struct rp_record_row *record)
{
    struct memory_store *store = ctx;
    assert(count == record->seq_last - record->seq_first + 1);
    for (size_t i = 0; i < count; i++) {
        assert(segments[i].seq == record->seq_first + i && segments[i].origin == record->origin);
        if (holds(store, segments[i].origin, segments[i].seq)) {
            return RP_E_DUPLICATE;
        }
    }
    bool apply;
    int code = begin_write(store, &apply);
    for (size_t i = 0; apply && i < count; i++) {
        insert_segment(store, &segments[i]);
    }
    if (apply) {
        insert_record(store, record);
    }
    if (apply && record->entry_name != NULL) {
        keep_place(store, record);
    }
    return code;
}

static int put_segment(void *ctx, const struct rp_segment_row *segment,
                       const struct rp_record_row *record)
{
    struct memory_store *store = ctx;
    if (holds(store, segment->origin, segment->seq)) {
        return RP_E_DUPLICATE;
    }
    bool apply;
    int code = begin_write(store, &apply);
    if (apply) {
        insert_segment(store, segment);
    }
    if (apply && record != NULL) {
        insert_record(store, record);
    }
    return code;
}

static int get_segment(void *ctx, uint16_t origin, uint32_t seq, bool *out_first, bool *out_last,
                       uint8_t *buf, size_t cap)
{
    const struct memory_store *store = ctx;
    if (store->read_code < 0) {
        return store->read_code;
    }
    if (!holds(store, origin, seq)) {
        return RP_E_NOT_FOUND;
    }
    const struct segment *segment = segment_at(store, find_segment(store, origin, seq));
    if (segment->len > cap) {
        return RP_E_TOO_LONG;
    }
    memcpy(buf, segment->sealed, segment->len);
    *out_first = segment->first;
    *out_last = segment->last;
    return segment->len;
}

static int each_run(void *ctx, rp_run_visit *visit, void *arg)
{
    struct memory_store *store = ctx;
    int code = store->read_code;
    store->visiting++;
    for (size_t i = 0; i < store->segments.count && code == 0;) {
        const struct segment *first = segment_at(store, i), *last = first;
        for (i++; i < store->segments.count && segment_at(store, i)->origin == first->origin &&
                  segment_at(store, i)->seq == last->seq + 1;
             i++) {
            last = segment_at(store, i);
        }
        code = visit(arg, first->origin, first->seq, last->seq);
    }
    store->visiting--;
    return code;
}

static int64_t last_seq(void *ctx, uint16_t origin)
{
    const struct memory_store *store = ctx;
    if (store->read_code < 0) {
        return store->read_code;
    }
    size_t i = find_segment(store, origin, UINT32_MAX);
    return i > 0 && segment_at(store, i - 1)->origin == origin ? segment_at(store, i - 1)->seq : 0;
}

static bool passes(const struct rp_record_filter *filter, const struct rp_record_row *row)
{
    bool episode = filter->episode.number == 0 || (row->episode.number == filter->episode.number &&
                                                   row->episode.origin == filter->episode.origin);
    return episode && (filter->origin == 0 || row->origin == filter->origin) &&
           (filter->kind == 0 || row->kind == filter->kind) &&
           (!filter->not_at_base || row->base_s == 0);
}

static int each_record(void *ctx, const struct rp_record_filter *filter, rp_record_visit *visit,
                       void *arg)
{
    struct memory_store *store = ctx;
    int code = store->read_code;
    store->visiting++;
    for (size_t i = 0; i < store->records.count && code == 0; i++) {
        const struct rp_record_row *row = &record_at(store, i)->row;
        code = passes(filter, row) ? visit(arg, row) : 0;
    }
    store->visiting--;
    return code;
}

static int get_record(void *ctx, struct rp_record_ref ref, rp_record_visit *visit, void *arg)
{
    struct memory_store *store = ctx;
    if (store->read_code < 0) {
        return store->read_code;
    }
    size_t i = find_record(store, ref.origin, ref.seq);
    if (i == store->records.count || record_at(store, i)->row.origin != ref.origin ||
        record_at(store, i)->row.seq_first != ref.seq) {
        return RP_E_NOT_FOUND;
    }
    store->visiting++;
    int code = visit(arg, &record_at(store, i)->row);
    store->visiting--;
    return code;
}

/* The record that contains the segment, or NULL. */
static struct rp_record_row *row_around(struct memory_store *store, uint16_t origin, uint32_t seq)
{
    size_t i = find_record(store, origin, seq);
    if (i < store->records.count && record_at(store, i)->row.origin == origin &&
        record_at(store, i)->row.seq_first == seq) {
        return &record_at(store, i)->row;
    }
    if (i == 0 || record_at(store, i - 1)->row.origin != origin ||
        record_at(store, i - 1)->row.seq_last < seq) {
        return NULL;
    }
    return &record_at(store, i - 1)->row;
}

static int mark_aired(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s)
{
    struct rp_record_row *row = row_around(ctx, origin, seq);
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
    struct rp_record_row *row = row_around(ctx, origin, seq);
    bool apply;
    if (row == NULL || row->heard_s != 0) {
        return row == NULL ? RP_E_NOT_FOUND : RP_OK;
    }
    int code = begin_write(ctx, &apply);
    row->heard_s = apply ? unix_s : 0;
    row->heard_station = apply ? station : 0;
    return code;
}

static int mark_base(void *ctx, uint16_t origin, uint32_t seq_first, uint32_t seq_last,
                     int64_t unix_s)
{
    struct memory_store *store = ctx;
    bool apply;
    int code = begin_write(store, &apply), marked = 0;
    for (size_t i = 0; apply && i < store->records.count; i++) {
        struct rp_record_row *row = &record_at(store, i)->row;
        if (row->origin == origin && row->seq_first >= seq_first && row->seq_last <= seq_last &&
            row->base_s == 0) {
            row->base_s = unix_s;
            marked++;
        }
    }
    return code < 0 ? code : marked;
}

static int charge(void *ctx, const struct rp_charge *charge)
{
    struct memory_store *store = ctx;
    bool apply;
    int code = begin_write(store, &apply);
    if (apply) {
        *(struct rp_charge *)grow(&store->charges, store->charges.count) = *charge;
    }
    return code;
}

/* Newest first: tests let runs follow each other. */
static int each_charge(void *ctx, rp_charge_visit *visit, void *arg)
{
    struct memory_store *store = ctx;
    int code = store->read_code;
    store->visiting++;
    for (size_t i = store->charges.count; i > 0 && code == 0; i--) {
        code = visit(arg, (const struct rp_charge *)store->charges.at + i - 1);
    }
    store->visiting--;
    return code;
}

static int get_value(void *ctx, const char *key, uint8_t *buf, size_t cap)
{
    const struct memory_store *store = ctx;
    if (store->read_code < 0) {
        return store->read_code;
    }
    const struct named *value = find_value(store, key);
    if (value == NULL || value->len > cap) {
        return value == NULL ? RP_E_NOT_FOUND : RP_E_TOO_LONG;
    }
    memcpy(buf, value->bytes, value->len);
    return (int)value->len;
}

static int set_value(void *ctx, const char *key, struct rp_view value)
{
    struct memory_store *store = ctx;
    bool apply;
    int code = begin_write(store, &apply);
    if (!apply) {
        return code;
    }
    put_value(store, key, value);
    return code;
}

const struct rp_store_ops *memory_store_ops(void)
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

struct memory_store *memory_store_new(void)
{
    struct memory_store *store = calloc(1, sizeof *store);
    assert(store != NULL);
    store->segments.size = sizeof(struct segment);
    store->records.size = sizeof(struct record);
    store->charges.size = sizeof(struct rp_charge);
    store->values.size = sizeof(struct named);
    return store;
}

static void free_bytes(struct rp_view bytes)
{
    uint8_t *owned;
    memcpy(&owned, &bytes.bytes, sizeof owned); /* views are const; this one is the store's own */
    free(owned);
}

void memory_store_free(struct memory_store *store)
{
    if (store == NULL) {
        return;
    }
    for (size_t i = 0; i < store->records.count; i++) {
        free_bytes(record_at(store, i)->row.body);
    }
    free(store->segments.at);
    free(store->records.at);
    free(store->charges.at);
    free(store->values.at);
    free(store);
}

static void copy_array(struct array *to, const struct array *from)
{
    *to = *from;
    to->at = NULL;
    if (from->cap > 0) {
        to->at = malloc(from->cap * from->size);
        assert(to->at != NULL);
        memcpy(to->at, from->at, from->count * from->size);
    }
}

struct memory_store *memory_store_copy(const struct memory_store *store)
{
    struct memory_store *copy = memory_store_new();
    copy_array(&copy->segments, &store->segments);
    copy_array(&copy->records, &store->records);
    copy_array(&copy->charges, &store->charges);
    copy_array(&copy->values, &store->values);
    for (size_t i = 0; i < copy->records.count; i++) {
        struct rp_record_row *row = &record_at(copy, i)->row;
        row->body = own_bytes(row->body);
    }
    return copy;
}

void memory_store_fail(struct memory_store *store, struct memory_fault fault)
{
    store->fault = fault;
}

void memory_store_fail_reads(struct memory_store *store, int code)
{
    store->read_code = code;
}

uint32_t memory_store_writes(const struct memory_store *store)
{
    return store->writes;
}

uint32_t memory_store_segments(const struct memory_store *store, uint16_t origin)
{
    uint32_t count = 0;
    for (size_t i = 0; i < store->segments.count; i++) {
        count += segment_at(store, i)->origin == origin;
    }
    return count;
}

uint32_t memory_store_records(const struct memory_store *store, uint16_t origin)
{
    uint32_t count = 0;
    for (size_t i = 0; i < store->records.count; i++) {
        count += record_at(store, i)->row.origin == origin;
    }
    return count;
}

uint64_t memory_store_charged_us(const struct memory_store *store, int64_t since_unix_s)
{
    uint64_t sum_us = 0;
    for (size_t i = 0; i < store->charges.count; i++) {
        const struct rp_charge *charged = (const struct rp_charge *)store->charges.at + i;
        sum_us += charged->unix_s >= since_unix_s ? charged->airtime_us : 0;
    }
    return sum_us;
}
