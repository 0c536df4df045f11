/* Small text tools for modems that speak in lines. Private to src/radio. */
#ifndef RP_RADIO_TEXT_H
#define RP_RADIO_TEXT_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

bool rp_text_is(struct rp_view text, const char *word);
bool rp_text_starts(struct rp_view text, const char *prefix);
bool rp_text_contains(struct rp_view text, const char *word);

/* These two take something off the front of *text; false, and nothing taken, when it is not there.
 * A number is decimal, has an optional minus sign and at most nine digits, and lies in
 * [min, max]. */
bool rp_text_take(struct rp_view *text, const char *prefix);
bool rp_text_take_number(struct rp_view *text, int32_t min, int32_t max, int32_t *out_number);

/* RFC 4648 section 4, without the padding (section 3.2). Writes rp_base64_len(len) characters and
 * no NUL. */
size_t rp_base64_len(size_t len);
void rp_base64_encode(struct rp_view bytes, char *out);
/* Accepts text with or without padding; refuses foreign characters and unused bits that are not
 * zero (section 3.5). Returns the number of bytes, RP_E_FORMAT, or RP_E_TOO_LONG. */
int rp_base64_decode(struct rp_view text, uint8_t *out, size_t cap);

/* Lower case, two characters a byte, no NUL. */
void rp_hex_encode(struct rp_view bytes, char *out);
/* Either case. Returns the number of bytes, RP_E_FORMAT, or RP_E_TOO_LONG. */
int rp_hex_decode(struct rp_view text, uint8_t *out, size_t cap);

#endif
