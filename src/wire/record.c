#include "wire/record.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "ridgepost.pb-c.h"
#include "ridgepost/error.h"
#include "wire/frame.h"
#include "wire/record_row.h"

#define PACKED_FIELD 3 /* of every message that has digits */

/* X(kind, type of the generated code, name in it) */
#define MESSAGES(X)                                                                                \
    X(RP_REC_STATION, StationCard, station_card)                                                   \
    X(RP_REC_EPISODE, EpisodeOpened, episode_opened)                                               \
    X(RP_REC_BACKGROUND, Background, background)                                                   \
    X(RP_REC_STATUS, Status, status)                                                               \
    X(RP_REC_TREATMENT, Treatment, treatment)                                                      \
    X(RP_REC_OXYGEN, Oxygen, oxygen)                                                               \
    X(RP_REC_CHAMBER, ChamberEvent, chamber_event)                                                 \
    X(RP_REC_REASSESS, Reassessment, reassessment)                                                 \
    X(RP_REC_DESCENT, Descent, descent)                                                            \
    X(RP_REC_NOTE, Note, note)                                                                     \
    X(RP_REC_EVACUATION, Evacuation, evacuation)                                                   \
    X(RP_REC_EVAC_CANCEL, EvacuationCancelled, evacuation_cancelled)                               \
    X(RP_REC_ANSWER, Answer, answer)                                                               \
    X(RP_REC_READBACK, ReadBack, read_back)                                                        \
    X(RP_REC_RECEIPT, Receipt, receipt)                                                            \
    X(RP_REC_HANDOVER, HandoverTaken, handover_taken)                                              \
    X(RP_REC_CORRECTION, Correction, correction)                                                   \
    X(RP_REC_CLOSE, EpisodeClosed, episode_closed)                                                 \
    X(RP_REC_CLOCK, ClockNote, clock_note)                                                         \
    X(RP_REC_ALARM, AlarmAnswered, alarm_answered)                                                 \
    X(RP_REC_PUMPING, Pumping, pumping)                                                            \
    X(RP_REC_STOCK, DrugStock, drug_stock)                                                         \
    X(RP_REC_FLUIDS, Fluids, fluids)

union message {
    ProtobufCMessage base;
#define X(kind, type, name) Ridgepost__##type name;
    MESSAGES(X)
#undef X
};

static const ProtobufCMessageDescriptor *const descriptors[RP_REC_LAST + 1] = {
#define X(kind, type, name) [kind] = &ridgepost__##name##__descriptor,
    MESSAGES(X)
#undef X
};

static bool kind_known(int kind)
{
    return kind >= RP_REC_STATION && kind <= RP_REC_LAST;
}

const char *rp_record_kind_word(int kind)
{
    static const char *const words[RP_REC_LAST + 1] = {
#define X(name, number, word, class_) [number] = word,
        RP_RECORD_KINDS(X)
#undef X
    };
    return kind_known(kind) ? words[kind] : "record";
}

/* Checks. */

static int table_check(const struct rp_row_table *table, const struct rp_record *record,
                       const char **out_field)
{
    for (size_t i = 0; i < table->count; i++) {
        int rc = rp_row_check(&table->rows[i], record);
        if (rc < 0) {
            *out_field = table->rows[i].name;
            return rc;
        }
    }
    return 0;
}

/* What a table cannot say: bounds that depend on the kind or on another member. */
static int special_check(const struct rp_record *record, const char **out_field)
{
    bool needs_episode = record->kind == RP_REC_STATUS || record->kind == RP_REC_EPISODE;
    if (needs_episode && record->episode.number == 0) {
        *out_field = "episode";
        return RP_E_INVALID;
    }
    const struct rp_rec_answer *answer = &record->as.answer;
    if (record->kind == RP_REC_ANSWER && answer->kind <= RP_ANS_REFUSED && answer->about.seq == 0) {
        *out_field = "about";
        return RP_E_INVALID;
    }
    if (record->kind == RP_REC_RECEIPT && rp_receipt_check(&record->as.receipt) < 0) {
        *out_field = "entries";
        return RP_E_INVALID;
    }
    return 0;
}

int rp_record_check(const struct rp_record *record, const char **out_field)
{
    if (!kind_known((int)record->kind)) {
        *out_field = "kind";
        return RP_E_INVALID;
    }
    int rc = table_check(&rp_common_rows, record, out_field);
    if (rc == 0) {
        rc = table_check(&rp_record_rows[record->kind], record, out_field);
    }
    return rc < 0 ? rc : special_check(record, out_field);
}

/* Between cells and the generated structs, by field number. */

static const ProtobufCFieldDescriptor *field_of(const ProtobufCMessage *message, unsigned number)
{
    return protobuf_c_message_descriptor_get_field(message->descriptor, number);
}

static void cell_put(const struct rp_cell *cell, unsigned number, ProtobufCMessage *message)
{
    const ProtobufCFieldDescriptor *field = field_of(message, number);
    assert(field != NULL);
    uint8_t *base = (uint8_t *)message;
    if (!cell->present) {
        return;
    }
    if (field->type == PROTOBUF_C_TYPE_STRING) {
        memcpy(base + field->offset, &cell->text, sizeof cell->text);
        return;
    }
    assert(field->type == PROTOBUF_C_TYPE_UINT32 || field->type == PROTOBUF_C_TYPE_SINT32);
    protobuf_c_boolean yes = 1;
    memcpy(base + field->quantifier_offset, &yes, sizeof yes);
    memcpy(base + field->offset, &cell->number, sizeof cell->number);
}

static struct rp_cell cell_take(const ProtobufCMessage *message, unsigned number)
{
    const ProtobufCFieldDescriptor *field = field_of(message, number);
    assert(field != NULL);
    const uint8_t *base = (const uint8_t *)message;
    struct rp_cell cell = {.present = false};
    if (field->type == PROTOBUF_C_TYPE_STRING) {
        memcpy(&cell.text, base + field->offset, sizeof cell.text);
        cell.present = cell.text != NULL;
        return cell;
    }
    assert(field->type == PROTOBUF_C_TYPE_UINT32 || field->type == PROTOBUF_C_TYPE_SINT32);
    protobuf_c_boolean has;
    memcpy(&has, base + field->quantifier_offset, sizeof has);
    memcpy(&cell.number, base + field->offset, sizeof cell.number);
    cell.present = has != 0;
    return cell;
}

/* The number goes as bytes or as a varint, whichever the schema says; `digits` must outlive the
 * message. */
static void packed_put(struct rp_digits *digits, ProtobufCMessage *message)
{
    const ProtobufCFieldDescriptor *field = field_of(message, PACKED_FIELD);
    size_t len = rp_digits_len(digits);
    uint8_t *base = (uint8_t *)message;
    if (len == 0) {
        return;
    }
    protobuf_c_boolean yes = 1;
    memcpy(base + field->quantifier_offset, &yes, sizeof yes);
    if (field->type == PROTOBUF_C_TYPE_BYTES) {
        ProtobufCBinaryData data = {len, digits->bytes};
        memcpy(base + field->offset, &data, sizeof data);
        return;
    }
    uint64_t number = 0;
    assert(field->type == PROTOBUF_C_TYPE_UINT64 && len <= sizeof number);
    for (size_t i = len; i-- > 0;) {
        number = number << 8 | digits->bytes[i];
    }
    memcpy(base + field->offset, &number, sizeof number);
}

static int packed_take(const ProtobufCMessage *message, struct rp_digits *out_digits)
{
    const ProtobufCFieldDescriptor *field = field_of(message, PACKED_FIELD);
    const uint8_t *base = (const uint8_t *)message;
    struct rp_digits digits = {{0}};
    protobuf_c_boolean has;
    memcpy(&has, base + field->quantifier_offset, sizeof has);
    if (has && field->type == PROTOBUF_C_TYPE_BYTES) {
        ProtobufCBinaryData data;
        memcpy(&data, base + field->offset, sizeof data);
        if (data.len > RP_DIGITS_LEN) {
            return RP_E_FORMAT;
        }
        if (data.len > 0) {
            memcpy(digits.bytes, data.data, data.len);
        }
    } else if (has) {
        uint64_t number;
        assert(field->type == PROTOBUF_C_TYPE_UINT64);
        memcpy(&number, base + field->offset, sizeof number);
        for (size_t i = 0; number > 0; i++, number >>= 8) {
            digits.bytes[i] = (uint8_t)number;
        }
    }
    *out_digits = digits;
    return 0;
}

/* Out. */

/* The episode number of a status report is the stream byte, outside the message. */
static bool row_outside(const struct rp_row *row, enum rp_record_kind kind)
{
    return kind == RP_REC_STATUS && row->field == 1;
}

static void table_put(const struct rp_row_table *table, const struct rp_record *record,
                      ProtobufCMessage *message, struct rp_digits *digits)
{
    for (size_t i = table->count; i-- > 0;) {
        const struct rp_row *row = &table->rows[i];
        if (row_outside(row, record->kind)) {
            continue;
        }
        struct rp_cell cell = rp_row_get(row, record);
        if (row->field != 0) {
            cell_put(&cell, row->field, message);
            continue;
        }
        uint32_t digit = rp_row_can_miss(row) && cell.present ? cell.number + 1 : cell.number;
        bool fits = rp_digits_push(digits, row->radix, (uint16_t)digit);
        assert(fits);
    }
}

static void start_put(const struct rp_record *record, struct rp_writer *w)
{
    rp_put_u8(w, rp_lead_pack((struct rp_lead){record->urgent, record->exercise, record->unsynced,
                                               (uint8_t)record->kind}));
    if (record->kind == RP_REC_STATUS) {
        rp_put_u8(w, record->episode.number);
    }
    rp_put_varint(w, record->time_s);
}

int rp_record_encode(const struct rp_record *record, uint8_t *buf, size_t cap,
                     const char **out_field)
{
    const char *field = NULL;
    int rc = rp_record_check(record, &field);
    if (rc < 0) {
        if (out_field != NULL) {
            *out_field = field;
        }
        return rc;
    }
    union message message;
    struct rp_digits digits = {{0}};
    uint32_t values[RP_RECEIPT_VALUES_MAX];
    protobuf_c_message_init(descriptors[record->kind], &message.base);
    table_put(&rp_common_rows, record, &message.base, &digits);
    table_put(&rp_record_rows[record->kind], record, &message.base, &digits);
    packed_put(&digits, &message.base);
    if (record->kind == RP_REC_RECEIPT) {
        message.receipt.n_entries = rp_receipt_pack(&record->as.receipt, values);
        message.receipt.entries = values;
    }
    struct rp_writer w = rp_writer_on(buf, cap < RP_RECORD_LEN_MAX ? cap : RP_RECORD_LEN_MAX);
    start_put(record, &w);
    if (w.failed || protobuf_c_message_get_packed_size(&message.base) > w.cap - w.len) {
        if (out_field != NULL) {
            *out_field = "record";
        }
        return RP_E_TOO_LONG;
    }
    return (int)(w.len + protobuf_c_message_pack(&message.base, buf + w.len));
}

/* In. */

static int table_take(const struct rp_row_table *table, const ProtobufCMessage *message,
                      uint16_t origin, struct rp_digits *digits, struct rp_record *record)
{
    for (size_t i = 0; i < table->count; i++) {
        const struct rp_row *row = &table->rows[i];
        if (row_outside(row, record->kind)) {
            continue;
        }
        struct rp_cell cell = {.present = false};
        if (row->field != 0) {
            cell = cell_take(message, row->field);
        } else {
            uint16_t digit = rp_digits_pop(digits, row->radix);
            bool can_miss = rp_row_can_miss(row);
            cell.present = !can_miss || digit > 0;
            cell.number = can_miss && digit > 0 ? digit - 1u : digit;
        }
        int rc = rp_row_set(row, cell, origin, record);
        if (rc < 0) {
            return rc;
        }
    }
    return 0;
}

static int message_take(const ProtobufCMessage *message, uint16_t origin, struct rp_record *record)
{
    const struct rp_row_table *table = &rp_record_rows[record->kind];
    struct rp_digits digits = {{0}};
    int rc = 0;
    if (table->count > 0 && table->rows[0].field == 0) {
        rc = packed_take(message, &digits);
    }
    if (rc == 0) {
        rc = table_take(&rp_common_rows, message, origin, &digits, record);
    }
    if (rc == 0) {
        rc = table_take(table, message, origin, &digits, record);
    }
    if (rc == 0 && record->kind == RP_REC_RECEIPT) {
        const Ridgepost__Receipt *receipt = (const Ridgepost__Receipt *)message;
        rc = rp_receipt_unpack(receipt->entries, receipt->n_entries, &record->as.receipt);
    }
    const char *field;
    return rc < 0 ? rc : rp_record_check(record, &field);
}

/* The start of a record; returns its length. */
static int start_take(struct rp_view bytes, struct rp_record *record)
{
    struct rp_reader r = rp_reader_on(bytes);
    struct rp_lead lead = rp_lead_unpack(rp_get_u8(&r));
    if (r.failed) {
        return RP_E_TRUNCATED;
    }
    if (!kind_known(lead.kind)) {
        return RP_E_UNSUPPORTED;
    }
    record->kind = (enum rp_record_kind)lead.kind;
    record->urgent = lead.urgent;
    record->exercise = lead.exercise;
    record->unsynced = lead.unsynced;
    record->episode.number = record->kind == RP_REC_STATUS ? rp_get_u8(&r) : 0;
    bool at_end = rp_reader_left(&r) == 0;
    record->time_s = (uint32_t)rp_get_varint(&r, UINT32_MAX);
    if (r.failed) {
        bool cut = at_end || (r.at == r.len && (bytes.bytes[r.len - 1] & 0x80) != 0);
        return cut ? RP_E_TRUNCATED : RP_E_FORMAT;
    }
    return (int)r.at;
}

static void *heap_take(void *ctx, size_t size)
{
    (void)ctx;
    return malloc(size);
}

static void heap_give(void *ctx, void *at)
{
    (void)ctx;
    free(at);
}

/* protobuf-c gives NULL both for bad bytes and for no memory; this tells which it was. */
struct watched_memory {
    const struct rp_record_memory *inner;
    bool failed;
};

static void *watched_take(void *ctx, size_t size)
{
    struct watched_memory *memory = ctx;
    void *at = memory->inner->take(memory->inner->ctx, size > 0 ? size : 1);
    memory->failed = memory->failed || at == NULL;
    return at;
}

static void watched_give(void *ctx, void *at)
{
    struct watched_memory *memory = ctx;
    if (at != NULL) {
        memory->inner->give(memory->inner->ctx, at);
    }
}

int rp_record_decode_in(struct rp_view bytes, uint16_t origin,
                        const struct rp_record_memory *memory, struct rp_record *out_record)
{
    static const struct rp_record_memory heap = {NULL, heap_take, heap_give};
    struct rp_record record;
    memset(&record, 0, sizeof record);
    if (bytes.len > RP_RECORD_LEN_MAX) {
        return RP_E_TOO_LONG;
    }
    int start = start_take(bytes, &record);
    if (start < 0) {
        return start;
    }
    struct watched_memory watched = {memory != NULL ? memory : &heap, false};
    ProtobufCAllocator allocator = {watched_take, watched_give, &watched};
    ProtobufCMessage *message = protobuf_c_message_unpack(
        descriptors[record.kind], &allocator, bytes.len - (size_t)start, bytes.bytes + start);
    if (message == NULL) {
        return watched.failed ? RP_E_MEMORY : RP_E_FORMAT;
    }
    int rc = message_take(message, origin, &record);
    protobuf_c_message_free_unpacked(message, &allocator);
    if (rc < 0) {
        /* A text that is too long is a bad value here: nobody can shorten it. */
        return rc == RP_E_TOO_LONG ? RP_E_INVALID : rc;
    }
    *out_record = record;
    return 0;
}

int rp_record_decode(struct rp_view bytes, uint16_t origin, struct rp_record *out_record)
{
    return rp_record_decode_in(bytes, origin, NULL, out_record);
}
