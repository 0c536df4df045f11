/* Writing JSON (RFC 8259) into a bounded text, one member after the other; no heap. Commas are set
 * by themselves. What is entered by people is escaped; bytes that are no UTF-8 become '?'. */
#ifndef RP_HANDOVER_DATA_JSON_H
#define RP_HANDOVER_DATA_JSON_H

#include <stdbool.h>
#include <stdint.h>

#include "handover/format.h"

#define RP_JSON_DEPTH_MAX 16

struct rp_json {
    struct rp_textbuf *out; /* borrowed */
    bool plain_spaces;      /* every other space becomes the plain one */
    unsigned depth;
    bool begun[RP_JSON_DEPTH_MAX + 1]; /* a value stands already at that depth */
};

struct rp_json rp_json_on(struct rp_textbuf *out);
/* `key`: the member's name inside an object, NULL inside a list or at the top. Opening and closing
 * must match, RP_JSON_DEPTH_MAX deep at most (asserted). */
void rp_json_object(struct rp_json *json, const char *key);
void rp_json_list(struct rp_json *json, const char *key);
void rp_json_end_object(struct rp_json *json);
void rp_json_end_list(struct rp_json *json);
void rp_json_text(struct rp_json *json, const char *key, const char *text);
void rp_json_text_len(struct rp_json *json, const char *key, const char *text, size_t len);
/* value / 10^decimals, exactly; decimals 0..6. */
void rp_json_number(struct rp_json *json, const char *key, int64_t value, unsigned decimals);
void rp_json_bool(struct rp_json *json, const char *key, bool value);

#endif
