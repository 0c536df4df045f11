#include "wire/record_row.h"

#include <string.h>

#include "ridgepost/error.h"
#include "wire/frame.h"

static bool entry_valid(const struct rp_receipt_entry *entry)
{
    uint8_t station = rp_origin_station(entry->origin);
    if (station < RP_STATION_MIN || station > RP_STATION_MAX || entry->upto > RP_SEQ_MAX) {
        return false;
    }
    if (entry->also_first == 0) {
        return entry->also_last == 0;
    }
    return entry->also_first >= entry->upto + 2 && entry->also_last >= entry->also_first &&
           entry->also_last <= RP_SEQ_MAX;
}

int rp_receipt_check(const struct rp_rec_receipt *receipt)
{
    if (receipt->count < 1 || receipt->count > RP_RECEIPT_MAX) {
        return RP_E_INVALID;
    }
    for (size_t i = 0; i < receipt->count; i++) {
        if (!entry_valid(&receipt->entries[i])) {
            return RP_E_INVALID;
        }
    }
    return 0;
}

size_t rp_receipt_pack(const struct rp_rec_receipt *receipt, uint32_t values[RP_RECEIPT_VALUES_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < receipt->count; i++) {
        const struct rp_receipt_entry *entry = &receipt->entries[i];
        bool further = entry->also_first > 0;
        values[count++] = entry->origin;
        values[count++] = entry->upto * 2 + (further ? 1 : 0);
        if (further) {
            values[count++] = entry->also_first - entry->upto - 2;
            values[count++] = entry->also_last - entry->also_first;
        }
    }
    return count;
}

/* One entry from values[at..]; returns the index behind it, or an error. */
static int entry_unpack(const uint32_t *values, size_t count, size_t at,
                        struct rp_receipt_entry *out_entry)
{
    if (count - at < 2 || (values[at + 1] % 2 == 1 && count - at < 4)) {
        return RP_E_FORMAT;
    }
    struct rp_receipt_entry entry = {.origin = (uint16_t)values[at], .upto = values[at + 1] / 2};
    bool further = values[at + 1] % 2 == 1;
    if (values[at] > UINT16_MAX || entry.upto > RP_SEQ_MAX ||
        (further && (values[at + 2] > RP_SEQ_MAX || values[at + 3] > RP_SEQ_MAX))) {
        return RP_E_INVALID; /* and the sums below stay far from 2^32 */
    }
    if (further) {
        entry.also_first = entry.upto + 2 + values[at + 2];
        entry.also_last = entry.also_first + values[at + 3];
    }
    /* Field by field: what lies between them stays zero, so that equal records are equal bytes. */
    out_entry->origin = entry.origin;
    out_entry->upto = entry.upto;
    out_entry->also_first = entry.also_first;
    out_entry->also_last = entry.also_last;
    return (int)at + (further ? 4 : 2);
}

int rp_receipt_unpack(const uint32_t *values, size_t count, struct rp_rec_receipt *out_receipt)
{
    struct rp_rec_receipt receipt;
    memset(&receipt, 0, sizeof receipt);
    size_t at = 0;
    while (at < count) {
        if (receipt.count == RP_RECEIPT_MAX) {
            return RP_E_INVALID;
        }
        int next = entry_unpack(values, count, at, &receipt.entries[receipt.count]);
        if (next < 0) {
            return next;
        }
        receipt.count++;
        at = (size_t)next;
    }
    *out_receipt = receipt;
    return 0;
}
