/* Numbers, times and ages as words, without libc's locale or time zone. */
#ifndef RP_HANDOVER_FORMAT_H
#define RP_HANDOVER_FORMAT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "handover/texts.h"

/* A bounded text. Once something did not fit it stays `full` and takes nothing more. */
struct rp_textbuf {
    char *at; /* borrowed; not NUL-terminated until rp_textbuf_end */
    size_t cap, len;
    bool full;
};

/* A space that never becomes a line end; shown as a plain space. */
#define RP_NO_BREAK      "\x1f"
#define RP_NO_BREAK_BYTE '\x1f'

struct rp_textbuf rp_textbuf_on(char *at, size_t cap);
void rp_textbuf_put(struct rp_textbuf *buf, const char *bytes, size_t len);
void rp_textbuf_str(struct rp_textbuf *buf, const char *text);
/* value / 10^decimals with exactly `decimals` decimals, 0..6: (1234, 1) is "123.4". */
void rp_textbuf_number(struct rp_textbuf *buf, int64_t value, unsigned decimals);
/* The same without trailing zeros of the decimals: (8000, 3) is "8", (2500, 3) is "2.5". */
void rp_textbuf_short_number(struct rp_textbuf *buf, int64_t value, unsigned decimals);
/* At least `digits` digits, with leading zeros; value 0 or more. */
void rp_textbuf_padded(struct rp_textbuf *buf, uint32_t value, unsigned digits);
/* For paper: every space that must not become a line end (RP_NO_BREAK, U+00A0) is a plain one. */
void rp_textbuf_plain(struct rp_textbuf *buf, const char *text, size_t len);
/* Text that a person entered: what could harm a terminal becomes '?', line ends and tabs become
 * spaces, bytes that are no UTF-8 become '?'. */
void rp_textbuf_entered(struct rp_textbuf *buf, const char *text);

/* Proleptic Gregorian calendar date and time of day. */
struct rp_civil {
    int32_t year;
    uint8_t month, day, hour, minute, second; /* 1..12, 1..31, 0..23, 0..59, 0..59 */
};
/* net_s: seconds since RP_NET_EPOCH_UNIX_S, may be negative (down to -2^40). */
struct rp_civil rp_civil_of(int64_t net_s);

struct rp_time_frame {
    const struct rp_texts *texts;
    uint32_t now_s; /* net time: its day is "today" */
    bool has_local;
    int32_t utc_offset_s; /* when has_local, -86400..86400 */
};
/* "14:05Z (19:50)"; "24 Nov 14:05Z (25 Nov 01:20)": a day only where it is not today (UTC), a year
 * only where it is not this year. All spaces are RP_NO_BREAK. */
void rp_format_time(struct rp_textbuf *buf, const struct rp_time_frame *frame, uint32_t time_s);
/* "24 Nov 14:05Z" without the local clock, for table columns. */
void rp_format_time_utc(struct rp_textbuf *buf, const struct rp_time_frame *frame, uint32_t time_s);
/* "24 Nov 2026" of the UTC day. */
void rp_format_day(struct rp_textbuf *buf, const struct rp_texts *texts, uint32_t time_s);
/* "+05:45", "-03:00". */
void rp_format_offset(struct rp_textbuf *buf, int32_t utc_offset_s);
/* "<1 min", "12 min", "1 h 40", "2 d 3 h": rounded down to the minute; hours from 60 min, days
 * from 48 h. */
void rp_format_span(struct rp_textbuf *buf, const struct rp_texts *texts, uint32_t span_s);
/* "27 58.123 N 086 55.456 E": degrees and decimal minutes (aviation custom), rounded to a
 * thousandth of a minute, under 2 m. */
void rp_format_position(struct rp_textbuf *buf, const struct rp_texts *texts, int32_t lat_e6,
                        int32_t lon_e6);

#endif
