#include "incident/table.h"

#include <string.h>

int rp_order(uint32_t a_happened_s, struct rp_record_ref a, uint32_t b_happened_s,
             struct rp_record_ref b)
{
    if (a_happened_s != b_happened_s) {
        return a_happened_s < b_happened_s ? -1 : 1;
    }
    if (a.origin != b.origin) {
        return a.origin < b.origin ? -1 : 1;
    }
    return a.seq == b.seq ? 0 : a.seq < b.seq ? -1 : 1;
}

int rp_source_order(const struct rp_source *a, const struct rp_source *b)
{
    return rp_order(a->happened_s, a->ref, b->happened_s, b->ref);
}

int rp_entry_order(const void *a, const void *b)
{
    return rp_source_order(a, b);
}

/* How many entries come before *entry. */
static size_t rank_of(struct rp_table t, rp_compare *compare, const void *entry)
{
    const unsigned char *at = t.at;
    size_t low = 0, high = *t.count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (compare(at + middle * t.entry_len, entry) < 0) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

enum rp_table_result rp_table_insert(struct rp_table t, rp_compare *compare, const void *entry)
{
    unsigned char *at = t.at;
    size_t rank = rank_of(t, compare, entry);
    if (rank < *t.count && compare(at + rank * t.entry_len, entry) == 0) {
        return RP_TABLE_HELD;
    }
    if (*t.count < t.max) {
        memmove(at + (rank + 1) * t.entry_len, at + rank * t.entry_len,
                (*t.count - rank) * t.entry_len);
        memcpy(at + rank * t.entry_len, entry, t.entry_len);
        (*t.count)++;
        return RP_TABLE_KEPT;
    }
    (*t.older_dropped)++;
    if (rank == 0) {
        return RP_TABLE_TOO_OLD;
    }
    memmove(at, at + t.entry_len, (rank - 1) * t.entry_len);
    memcpy(at + (rank - 1) * t.entry_len, entry, t.entry_len);
    return RP_TABLE_KEPT;
}
