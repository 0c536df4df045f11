/* Times as the data standards want them. */
#ifndef RP_HANDOVER_DATA_STAMP_H
#define RP_HANDOVER_DATA_STAMP_H

#include "handover/format.h"

#define RP_STAMP_LEN 32 /* bytes that hold any stamp with its NUL */

/* "2026-11-25T14:35:00Z" (RFC 3339), UTC. */
void rp_stamp_utc(struct rp_textbuf *buf, uint32_t time_s);
/* The same with a numeric offset, "2026-11-25T20:20:00+05:45"; 0 is "-00:00" as CAP 1.2 section
 * 3.3.2 wants it for UTC. */
void rp_stamp_offset(struct rp_textbuf *buf, uint32_t time_s, int32_t utc_offset_s);
/* "7-1" and "7:42": how people name an episode and a record. */
void rp_stamp_episode(struct rp_textbuf *buf, struct rp_episode_ref ref);
void rp_stamp_record(struct rp_textbuf *buf, struct rp_record_ref ref);
/* "7.5.42": log and number, unique in the whole net also after a log began anew. */
void rp_stamp_unique(struct rp_textbuf *buf, struct rp_record_ref ref, char between);

#endif
