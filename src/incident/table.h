/* Bounded tables in order, newest kept. Private to this room. */
#ifndef RP_INCIDENT_TABLE_H
#define RP_INCIDENT_TABLE_H

#include "incident/episode.h"

struct rp_table {
    void *at;
    size_t entry_len; /* bytes */
    uint16_t max;
    uint16_t *count;
    uint32_t *older_dropped;
};
#define RP_TABLE_OF(member)                                                                        \
    ((struct rp_table){(member).at, sizeof(member).at[0],                                          \
                       (uint16_t)(sizeof(member).at / sizeof(member).at[0]), &(member).count,      \
                       &(member).older_dropped})

enum rp_table_result {
    RP_TABLE_KEPT,    /* now in the table; the oldest may have given way */
    RP_TABLE_HELD,    /* an entry of the same order was there already */
    RP_TABLE_TOO_OLD, /* the table is full of newer ones; counted as dropped */
};
typedef int rp_compare(const void *a, const void *b);

/* Puts a copy of *entry in its place. What is kept and what is counted depends only on the set of
 * entries, not on their order: of n different ones the newest `max` stay and n - max are counted.
 */
enum rp_table_result rp_table_insert(struct rp_table table, rp_compare *compare, const void *entry);

/* The total order of records: (happened_s, origin, seq). Negative, 0 or positive. */
int rp_order(uint32_t a_happened_s, struct rp_record_ref a, uint32_t b_happened_s,
             struct rp_record_ref b);
int rp_source_order(const struct rp_source *a, const struct rp_source *b);
/* For entries that begin with a struct rp_source. */
int rp_entry_order(const void *a, const void *b);

/* By members, so that no padding is copied: equal episodes are equal bytes. */
static inline void rp_ref_set(struct rp_record_ref *out, struct rp_record_ref ref)
{
    out->origin = ref.origin;
    out->seq = ref.seq;
}

static inline bool rp_ref_same(struct rp_record_ref a, struct rp_record_ref b)
{
    return a.origin == b.origin && a.seq == b.seq;
}

#endif
