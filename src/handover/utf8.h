/* Texts that people entered, made safe to print, and their width in columns. */
#ifndef RP_HANDOVER_UTF8_H
#define RP_HANDOVER_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Reads one code point of NUL-terminated text (RFC 3629: no surrogates, no long forms, up to
 * U+10FFFF). Returns the bytes used, 1 or more; for a byte that starts no valid sequence 1, with
 * *out_code UINT32_MAX. Must not be called at the NUL. */
size_t rp_utf8_next(const char *text, uint32_t *out_code);
/* Columns a code point takes on a fixed-width terminal or printer: 0 for marks that combine and
 * for invisible joiners, 2 for East Asian wide characters and pictures, else 1. Rather too wide
 * than too narrow: nothing prints beyond its line. */
unsigned rp_utf8_width(uint32_t code);
/* Columns of the first `len` bytes of text. */
unsigned rp_utf8_columns(const char *text, size_t len);
/* Bytes of the longest start of `len` bytes of text that fits in `columns`; one character at least,
 * when there is one. */
size_t rp_utf8_fit(const char *text, size_t len, unsigned columns);
/* True for what must never reach a terminal or printer: C0 and C1 controls, DEL, line and
 * paragraph separators, marks that reorder text (bidirectional controls), tags, private use. */
bool rp_utf8_hostile(uint32_t code);
/* The capital of a small letter of the Latin, Greek or Cyrillic script, where it takes as many
 * bytes as the small letter (simple upper-case mapping of the Unicode Character Database); else
 * `code`. */
uint32_t rp_utf8_capital(uint32_t code);
/* Makes capitals of the small letters of `len` bytes, in place. */
void rp_utf8_capitalise(char *text, size_t len);

#endif
