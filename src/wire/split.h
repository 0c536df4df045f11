/* A record cut into segments and put together again. Every segment's plain bytes start with the
 * record's lead byte; the record's further bytes follow, cut at plain_max. */
#ifndef RP_WIRE_SPLIT_H
#define RP_WIRE_SPLIT_H

#include <stdint.h>

#include "ridgepost/view.h"

/* How many segments a record of `len` bytes (lead byte included, 1 or more) takes when a segment
 * may hold plain_max plain bytes (2 or more): 1..RP_RECORD_SEGMENTS_MAX. RP_E_INVALID, or
 * RP_E_TOO_LONG when it would be more or len is above RP_RECORD_LEN_MAX. */
int rp_record_segments(size_t len, size_t plain_max);

/* Writes the plain bytes of segment `index` (from 0) to buf; returns their length.
 * RP_E_NOT_FOUND past the last one, RP_E_TOO_LONG when cap is too small, and the errors of
 * rp_record_segments. */
int rp_record_split(struct rp_view record, size_t plain_max, size_t index, uint8_t *buf,
                    size_t cap);

/* Appends a segment's plain bytes to the `len` record bytes in `record` (0: the first segment,
 * which brings the lead byte along); returns the new length. RP_E_FORMAT when there is no lead
 * byte, it differs from the record's, or a continuation brings nothing; RP_E_TOO_LONG above cap. */
int rp_record_join(uint8_t *record, size_t cap, size_t len, struct rp_view plain);

#endif
