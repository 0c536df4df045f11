/* The operations of the store, one source each group; store.c puts them in a table. What they do
 * is said in node/station_store.h. Internal to src/store. */
#ifndef RP_STORE_OPS_H
#define RP_STORE_OPS_H

#include "node/station_store.h"

struct rp_store;

int rp_store_append_own(void *ctx, const struct rp_segment_row *segments, size_t count,
                        const struct rp_record_row *record);
int rp_store_put_segment(void *ctx, const struct rp_segment_row *segment,
                         const struct rp_record_row *record);
int rp_store_get_segment(void *ctx, uint16_t origin, uint32_t seq, bool *out_first, bool *out_last,
                         uint8_t *buf, size_t cap);
int rp_store_each_run(void *ctx, rp_run_visit *visit, void *arg);
int64_t rp_store_last_seq(void *ctx, uint16_t origin);

int rp_store_each_record(void *ctx, const struct rp_record_filter *filter, rp_record_visit *visit,
                         void *arg);
int rp_store_get_record(void *ctx, struct rp_record_ref ref, rp_record_visit *visit, void *arg);
/* Part of the writes of segments.c: checks the bounds of a record; inserts it within the
 * transaction of its last segment. */
int rp_store_check_record(const struct rp_record_row *record);
int rp_store_insert_record(struct rp_store *store, const struct rp_record_row *record);

int rp_store_mark_aired(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s);
int rp_store_mark_heard(void *ctx, uint16_t origin, uint32_t seq, int64_t unix_s, uint8_t station);
int rp_store_mark_base(void *ctx, uint16_t origin, uint32_t seq_first, uint32_t seq_last,
                       int64_t unix_s);

int rp_store_charge(void *ctx, const struct rp_charge *charge);
int rp_store_each_charge(void *ctx, rp_charge_visit *visit, void *arg);

int rp_store_get_value(void *ctx, const char *key, uint8_t *buf, size_t cap);
int rp_store_set_value(void *ctx, const char *key, struct rp_view value);
/* The same within a transaction that has begun; bounds are checked. */
int rp_store_put_value(struct rp_store *store, const char *key, struct rp_view value);

#endif
