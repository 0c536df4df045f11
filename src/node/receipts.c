/* Receipts: base says what has reached it; the others learn it. */
#include "node/node_state.h"

#include <string.h>

/* Base gathers routine receipts for this many 40-byte frames' time, so that a burst of records
 * costs one receipt. Ours: at SF9 about 43 s, far below the 10 minutes base allows a report. */
#define GATHER_FRAMES    150
#define GATHER_FRAME_LEN 40

/* A receipt travels as far as a record does, so one for each record would double the airtime of a
 * net (measured on a chain of 5: 2.4 times the least possible instead of 1.6), and one an hour
 * takes a seventh of it. So base's marks, which travel with the records themselves, tell of most
 * (mesh/ hold/base.c), and a routine receipt is for what they do not reach: when a patient is new
 * and proof counts most, SOON_COUNT and one more; when no more records come to bring a mark along;
 * and else rarely. The unit is that many frames' time divided by the duty cycle: an hour in a band
 * of 1 %, no more than they are gathered where all the time may be used. Ours. */
#define SPACING_US_MAX ((rp_time_us)3600 * 1000000)
#define RARE           6 /* units from one to the next while records and marks flow */
#define SOON_COUNT     2
#define QUIET_QUARTERS 3 /* of a unit without a record: no mark is coming */

static rp_time_us gather_us(const struct rp_node *node)
{
    return (rp_time_us)node->airtime_us[GATHER_FRAME_LEN] * GATHER_FRAMES;
}

rp_time_us rp_receipts_unit_us(const struct rp_node *node)
{
    rp_time_us wait_us = gather_us(node) * 1000 / node->config.net.duty_permille;
    return wait_us < SPACING_US_MAX ? wait_us : SPACING_US_MAX;
}

/* A unit after the last one. */
static rp_time_us apart_us(const struct rp_node *node)
{
    rp_time_us written_us = node->receipt.written_us;
    return written_us > 0 ? written_us + rp_receipts_unit_us(node) : 0;
}

/* When the next routine receipt may be written: gathered, and within the allowance. Whose records
 * come rarely waits for no mark. */
static rp_time_us soon_us(const struct rp_node *node, bool rare)
{
    rp_time_us allowed_us =
        node->receipt.paid_until_us - SOON_COUNT * RARE * rp_receipts_unit_us(node);
    rp_time_us apart = apart_us(node);
    allowed_us = rare && apart < allowed_us ? apart : allowed_us;
    return rp_later_us(node->moment.now_us + gather_us(node), allowed_us);
}

/* When it is written should no further record come. */
static rp_time_us quiet_us(const struct rp_node *node)
{
    rp_time_us wait_us = rp_receipts_unit_us(node) * QUIET_QUARTERS / 4;
    return rp_later_us(node->moment.now_us + wait_us, apart_us(node));
}

/* Notes a record of this origin; true when the one before is long ago. */
static bool comes_rarely(struct rp_node *node, uint16_t origin)
{
    rp_time_us *heard_us = &node->receipt_heard_us[rp_origin_station(origin)];
    rp_time_us apart = node->moment.now_us - *heard_us;
    *heard_us = node->moment.now_us;
    return apart >= rp_receipts_unit_us(node) * QUIET_QUARTERS / 4;
}

/* When full, what is left out is told once the gaps below it are closed. */
static void note_due(struct rp_receipt_due *due, uint16_t origin, uint32_t seq)
{
    for (size_t i = 0; i < due->count; i++) {
        if (due->at[i].origin == origin && due->at[i].seq == seq) {
            return;
        }
    }
    if (due->count < RP_NODE_RECEIPT_ORIGINS) {
        due->at[due->count].origin = origin;
        due->at[due->count++].seq = seq;
    }
}

void rp_receipts_owe(struct rp_node *node, uint16_t origin, uint32_t seq, int kind, bool urgent)
{
    struct rp_receipt_due *due = &node->receipt;
    /* Two bases must not answer each other's receipts for ever. */
    if (node->config.role != RP_ROLE_BASE || kind == RP_REC_RECEIPT || origin == node->origin) {
        return;
    }
    note_due(due, origin, urgent ? seq : 0);
    due->urgent = due->urgent || urgent;
    /* A station card can wait for company. */
    rp_time_us at_us = urgent                   ? node->moment.now_us
                       : kind == RP_REC_STATION ? RP_NEVER
                                                : soon_us(node, comes_rarely(node, origin));
    due->soon_us = rp_sooner_us(at_us, due->soon_us);
    rp_time_us quiet = quiet_us(node);
    due->due_us = quiet < due->soon_us ? quiet : due->soon_us;
}

/* Beyond the first gap one run is told: that of the urgent record, else the newest, which holds the
 * latest news. Found by the simulator: an urgent record between two gaps was repeated for a day. */
static struct rp_receipt_entry entry_for(const struct rp_node *node, uint16_t origin, uint32_t seq)
{
    struct rp_mesh_holding held; /* the engine holds a segment once it is stored */
    rp_mesh_holding(node->mesh, origin, &held);
    struct rp_receipt_entry entry = {origin, held.upto, held.newest_first, held.newest_last};
    if (seq > held.upto) {
        rp_mesh_run(node->mesh, origin, seq, &entry.also_first, &entry.also_last);
    }
    return entry;
}

static void add_entry(struct rp_rec_receipt *receipt, const struct rp_receipt_entry *entry)
{
    bool told = entry->upto == 0 && entry->also_last == 0;
    for (uint8_t i = 0; i < receipt->count; i++) {
        const struct rp_receipt_entry *other = &receipt->entries[i];
        told = told || (other->origin == entry->origin && other->also_last == entry->also_last);
    }
    if (!told) {
        receipt->entries[receipt->count++] = *entry;
    }
}

void rp_receipts_write(struct rp_node *node)
{
    struct rp_receipt_due *due = &node->receipt;
    struct rp_record record = {.kind = RP_REC_RECEIPT, .urgent = due->urgent};
    struct rp_rec_receipt *receipt = &record.as.receipt;
    struct rp_receipt_due left = *due;
    while (left.count > 0 && receipt->count < RP_RECEIPT_MAX) {
        left.count--;
        struct rp_receipt_entry entry =
            entry_for(node, left.at[left.count].origin, left.at[left.count].seq);
        add_entry(receipt, &entry);
    }
    struct rp_record_ref ref;
    struct rp_problem problem;
    if (receipt->count > 0 && rp_enter_now(node, &record, &ref, &problem) < 0) {
        /* The disk is full or failing: all of it is owed still, a little later. */
        due->due_us = due->soon_us = node->moment.now_us + gather_us(node);
        return;
    }
    rp_time_us now_us = node->moment.now_us;
    left.written_us = now_us;
    /* However many were urgent: the next waits no longer than RARE units. */
    rp_time_us rare_us = RARE * rp_receipts_unit_us(node);
    rp_time_us most_us = now_us + SOON_COUNT * rare_us;
    rp_time_us paid_us = rp_later_us(left.paid_until_us, now_us);
    left.paid_until_us = rp_sooner_us(paid_us, most_us) + rare_us;
    *due = left;
    due->urgent = due->count > 0 && due->urgent;
    due->due_us = due->soon_us = due->count > 0 ? node->moment.now_us : RP_NEVER;
}

/* What receipts of one base say of one log, together: the newest word, and those before it whose
 * further run it does not cover. When full the oldest gives way: what it told is told again once
 * the gaps below it are closed. */
#define WORDS_MAX 64

struct words {
    struct rp_node *node;
    size_t count;
    struct {
        uint16_t base;
        struct rp_receipt_entry entry;
        int64_t unix_s;
    } at[WORDS_MAX];
};

static bool covers(const struct rp_receipt_entry *entry, uint32_t first, uint32_t last)
{
    return last <= entry->upto || (first >= entry->also_first && last <= entry->also_last);
}

static void note_word(struct words *words, uint16_t base, const struct rp_receipt_entry *entry,
                      int64_t unix_s)
{
    size_t kept = 0;
    for (size_t i = 0; i < words->count; i++) {
        const struct rp_receipt_entry *old = &words->at[i].entry;
        bool replaced = words->at[i].base == base && old->origin == entry->origin &&
                        old->upto <= entry->upto && covers(entry, old->also_first, old->also_last);
        if (!replaced && (i > 0 || words->count < WORDS_MAX)) {
            words->at[kept++] = words->at[i];
        }
    }
    words->at[kept].base = base;
    words->at[kept].entry = *entry;
    words->at[kept].unix_s = unix_s;
    words->count = kept + 1;
}

static int note_told(void *arg, const struct rp_record_row *row)
{
    struct words *told = arg;
    struct rp_record *record = &told->node->record;
    if (rp_origin_station(row->origin) != told->node->config.station ||
        rp_record_decode(row->body, row->origin, record) < 0) {
        return 0;
    }
    for (uint8_t i = 0; i < record->as.receipt.count; i++) {
        note_word(told, told->node->config.station, &record->as.receipt.entries[i], 0);
    }
    return 0;
}

struct untold {
    const struct words *told;
    uint16_t origin;
    uint32_t first, last;
};

static bool is_told(const struct words *told, uint16_t origin, uint32_t first, uint32_t last)
{
    for (size_t i = 0; i < told->count; i++) {
        if (told->at[i].entry.origin == origin && covers(&told->at[i].entry, first, last)) {
            return true;
        }
    }
    return false;
}

/* The base went down between an urgent record and its receipt. */
static int owe_urgent(void *arg, const struct rp_record_row *row)
{
    const struct untold *untold = arg;
    if (row->urgent && row->seq_first >= untold->first && row->seq_last <= untold->last &&
        !is_told(untold->told, row->origin, row->seq_first, row->seq_last)) {
        rp_receipts_owe(untold->told->node, row->origin, row->seq_last, row->kind, true);
    }
    return 0;
}

static int owe_untold(void *arg, uint16_t origin, uint32_t first, uint32_t last)
{
    const struct words *told = arg;
    if (is_told(told, origin, first, last)) {
        return 0;
    }
    struct untold untold = {told, origin, first, last};
    struct rp_record_filter filter = {.origin = origin};
    rp_receipts_owe(told->node, origin, last, 0, false);
    return told->node->config.store->each_record(told->node->config.store_ctx, &filter, owe_urgent,
                                                 &untold);
}

void rp_receipts_resume(struct rp_node *node)
{
    const struct rp_store_ops *store = node->config.store;
    struct words told = {.node = node};
    struct rp_record_filter receipts = {.kind = RP_REC_RECEIPT};
    if (node->config.role == RP_ROLE_BASE &&
        (store->each_record(node->config.store_ctx, &receipts, note_told, &told) < 0 ||
         store->each_run(node->config.store_ctx, owe_untold, &told) < 0)) {
        node->store_failures++;
    }
}

struct urgent_seqs {
    struct rp_node *node;
    uint32_t first, last;
};

static int settle_urgent(void *arg, const struct rp_record_row *row)
{
    const struct urgent_seqs *range = arg;
    if (row->urgent && row->seq_first >= range->first && row->seq_last <= range->last) {
        for (uint32_t seq = row->seq_first; seq <= row->seq_last; seq++) {
            rp_mesh_receipted(range->node->mesh, seq);
        }
    }
    return 0;
}

static void take_run(struct rp_node *node, uint16_t origin, uint32_t first, uint32_t last,
                     int64_t unix_s)
{
    if (origin == node->origin) {
        struct urgent_seqs range = {node, first, last};
        struct rp_record_filter filter = {.origin = origin, .not_at_base = true};
        node->config.store->each_record(node->config.store_ctx, &filter, settle_urgent, &range);
    }
    node->revision++;
    if (node->config.store->mark_base(node->config.store_ctx, origin, first, last, unix_s) < 0) {
        node->store_failures++;
    }
}

static void take_entry(struct rp_node *node, const struct rp_receipt_entry *entry, int64_t unix_s)
{
    if (entry->upto > 0) {
        take_run(node, entry->origin, 1, entry->upto, unix_s);
    }
    if (entry->also_last > 0) {
        take_run(node, entry->origin, entry->also_first, entry->also_last, unix_s);
    }
}

void rp_receipts_proved(struct rp_node *node, uint16_t origin, uint32_t upto)
{
    take_run(node, origin, 1, upto, node->moment.unix_s);
}

static void take(struct rp_node *node, const struct rp_record *record)
{
    int64_t unix_s = (int64_t)record->time_s + RP_NET_EPOCH_UNIX_S;
    for (uint8_t i = 0; i < record->as.receipt.count; i++) {
        const struct rp_receipt_entry *entry = &record->as.receipt.entries[i];
        if (rp_origin_station(entry->origin) == node->config.station) {
            take_entry(node, entry, unix_s);
        }
    }
}

void rp_receipts_note(struct rp_node *node, struct rp_record_ref ref)
{
    struct rp_receipts_in *in = &node->receipts_in;
    const size_t cap = sizeof in->at / sizeof in->at[0];
    if (in->count == cap) {
        memmove(&in->at[0], &in->at[1], (cap - 1) * sizeof in->at[0]);
        in->count--;
    }
    in->at[in->count++] = ref;
}

static int decode_row(void *arg, const struct rp_record_row *row)
{
    struct rp_node *node = arg;
    return rp_record_decode(row->body, row->origin, &node->record);
}

static int note_own_words(void *arg, const struct rp_record_row *row)
{
    struct words *words = arg;
    struct rp_record *record = &words->node->record;
    if (rp_record_decode(row->body, row->origin, record) < 0) {
        return 0;
    }
    for (uint8_t i = 0; i < record->as.receipt.count; i++) {
        const struct rp_receipt_entry *entry = &record->as.receipt.entries[i];
        if (rp_origin_station(entry->origin) == words->node->config.station) {
            note_word(words, row->origin, entry, (int64_t)record->time_s + RP_NET_EPOCH_UNIX_S);
        }
    }
    return 0;
}

/* What all receipts held say of this station's logs. */
static void take_all(struct rp_node *node)
{
    struct words words = {.node = node};
    struct rp_record_filter receipts = {.kind = RP_REC_RECEIPT};
    if (node->config.store->each_record(node->config.store_ctx, &receipts, note_own_words, &words) <
        0) {
        node->store_failures++;
    }
    for (size_t i = 0; i < words.count; i++) {
        take_entry(node, &words.at[i].entry, words.at[i].unix_s);
    }
}

bool rp_receipts_apply(struct rp_node *node)
{
    struct rp_receipts_in in = node->receipts_in;
    node->receipts_in.count = 0;
    node->receipts_in.again = false;
    if (in.again) {
        take_all(node);
    }
    for (size_t i = 0; i < in.count; i++) {
        if (node->config.store->get_record(node->config.store_ctx, in.at[i], decode_row, node) ==
            RP_OK) {
            take(node, &node->record);
        }
    }
    return in.count > 0 || in.again;
}
