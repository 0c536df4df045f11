#include "handover/format.h"

#include <string.h>

#include "handover/utf8.h"
#include "wire/frame.h"

struct rp_textbuf rp_textbuf_on(char *at, size_t cap)
{
    return (struct rp_textbuf){at, cap, 0, false};
}

void rp_textbuf_put(struct rp_textbuf *buf, const char *bytes, size_t len)
{
    if (buf->full || len > buf->cap - buf->len) {
        buf->full = true;
        return;
    }
    if (len > 0) {
        memcpy(buf->at + buf->len, bytes, len);
        buf->len += len;
    }
}

void rp_textbuf_str(struct rp_textbuf *buf, const char *text)
{
    rp_textbuf_put(buf, text, strlen(text));
}

void rp_textbuf_plain(struct rp_textbuf *buf, const char *text, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        bool wide = i + 1 < len && memcmp(text + i, "\xc2\xa0", 2) == 0;
        rp_textbuf_put(buf, wide || text[i] == RP_NO_BREAK_BYTE ? " " : text + i, 1);
        i += wide;
    }
}

void rp_textbuf_padded(struct rp_textbuf *buf, uint32_t value, unsigned digits)
{
    char reversed[20];
    unsigned count = 0;
    do {
        reversed[count++] = (char)('0' + value % 10);
        value /= 10;
    } while (value > 0 || (count < digits && count < sizeof reversed));
    while (count > 0) {
        rp_textbuf_put(buf, &reversed[--count], 1);
    }
}

void rp_textbuf_number(struct rp_textbuf *buf, int64_t value, unsigned decimals)
{
    char reversed[24];
    unsigned count = 0;
    uint64_t left = value < 0 ? (uint64_t)0 - (uint64_t)value : (uint64_t)value;
    do {
        if (decimals > 0 && count == decimals) {
            reversed[count++] = '.';
        }
        reversed[count++] = (char)('0' + left % 10);
        left /= 10;
    } while (left > 0 || (decimals > 0 && count < decimals + 2));
    if (value < 0) {
        rp_textbuf_put(buf, "-", 1);
    }
    while (count > 0) {
        rp_textbuf_put(buf, &reversed[--count], 1);
    }
}

void rp_textbuf_short_number(struct rp_textbuf *buf, int64_t value, unsigned decimals)
{
    while (decimals > 0 && value % 10 == 0) {
        value /= 10;
        decimals--;
    }
    rp_textbuf_number(buf, value, decimals);
}

void rp_textbuf_entered(struct rp_textbuf *buf, const char *text)
{
    for (const char *at = text; *at != '\0';) {
        uint32_t code;
        size_t len = rp_utf8_next(at, &code);
        if (code == '\n' || code == '\r' || code == '\t') {
            rp_textbuf_put(buf, " ", 1);
        } else if (rp_utf8_hostile(code)) {
            rp_textbuf_put(buf, "?", 1);
        } else {
            rp_textbuf_put(buf, at, len);
        }
        at += len;
    }
}

static int64_t floor_div(int64_t value, int64_t by)
{
    return value / by - (value % by < 0 ? 1 : 0);
}

/* Days to a date by eras of 400 years, which hold 146097 days; the year is taken to begin in
 * March, so that a leap day is its last day. */
struct rp_civil rp_civil_of(int64_t net_s)
{
    int64_t unix_s = net_s + RP_NET_EPOCH_UNIX_S;
    int64_t days = floor_div(unix_s, 86400);
    int64_t in_day = unix_s - days * 86400;
    int64_t from_0000_03_01 = days + 719468; /* 1970-01-01 counted from 0000-03-01 */
    int64_t era = floor_div(from_0000_03_01, 146097);
    int64_t day_of_era = from_0000_03_01 - era * 146097;
    int64_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t month_from_march = (5 * day_of_year + 2) / 153; /* 153 days in 5 such months */
    struct rp_civil civil = {
        .day = (uint8_t)(day_of_year - (153 * month_from_march + 2) / 5 + 1),
        .month = (uint8_t)(month_from_march < 10 ? month_from_march + 3 : month_from_march - 9),
        .hour = (uint8_t)(in_day / 3600),
        .minute = (uint8_t)(in_day / 60 % 60),
        .second = (uint8_t)(in_day % 60),
    };
    civil.year = (int32_t)(year_of_era + era * 400 + (civil.month <= 2 ? 1 : 0));
    return civil;
}

static bool same_day(const struct rp_civil *a, const struct rp_civil *b)
{
    return a->year == b->year && a->month == b->month && a->day == b->day;
}

static void put_day(struct rp_textbuf *buf, const struct rp_texts *texts,
                    const struct rp_civil *civil, bool with_year)
{
    rp_textbuf_number(buf, civil->day, 0);
    rp_textbuf_str(buf, RP_NO_BREAK);
    rp_textbuf_str(buf, texts->words[RP_TX_MONTH_1 + civil->month - 1]);
    if (with_year) {
        rp_textbuf_str(buf, RP_NO_BREAK);
        rp_textbuf_number(buf, civil->year, 0);
    }
}

static void put_clock(struct rp_textbuf *buf, const struct rp_civil *civil)
{
    rp_textbuf_padded(buf, civil->hour, 2);
    rp_textbuf_put(buf, ":", 1);
    rp_textbuf_padded(buf, civil->minute, 2);
}

void rp_format_time_utc(struct rp_textbuf *buf, const struct rp_time_frame *frame, uint32_t time_s)
{
    struct rp_civil today = rp_civil_of(frame->now_s);
    struct rp_civil utc = rp_civil_of(time_s);
    if (!same_day(&today, &utc)) {
        put_day(buf, frame->texts, &utc, today.year != utc.year);
        rp_textbuf_str(buf, RP_NO_BREAK);
    }
    put_clock(buf, &utc);
    rp_textbuf_put(buf, "Z", 1);
}

void rp_format_time(struct rp_textbuf *buf, const struct rp_time_frame *frame, uint32_t time_s)
{
    rp_format_time_utc(buf, frame, time_s);
    if (!frame->has_local) {
        return;
    }
    struct rp_civil utc = rp_civil_of(time_s);
    struct rp_civil local = rp_civil_of((int64_t)time_s + frame->utc_offset_s);
    rp_textbuf_str(buf, RP_NO_BREAK "(");
    if (!same_day(&utc, &local)) {
        put_day(buf, frame->texts, &local, false);
        rp_textbuf_str(buf, RP_NO_BREAK);
    }
    put_clock(buf, &local);
    rp_textbuf_put(buf, ")", 1);
}

void rp_format_day(struct rp_textbuf *buf, const struct rp_texts *texts, uint32_t time_s)
{
    struct rp_civil civil = rp_civil_of(time_s);
    put_day(buf, texts, &civil, true);
}

void rp_format_offset(struct rp_textbuf *buf, int32_t utc_offset_s)
{
    rp_textbuf_put(buf, utc_offset_s < 0 ? "-" : "+", 1);
    uint32_t minutes = (uint32_t)(utc_offset_s < 0 ? -(int64_t)utc_offset_s : utc_offset_s) / 60;
    rp_textbuf_padded(buf, minutes / 60, 2);
    rp_textbuf_put(buf, ":", 1);
    rp_textbuf_padded(buf, minutes % 60, 2);
}

static void put_with_unit(struct rp_textbuf *buf, const struct rp_texts *texts, uint32_t value,
                          enum rp_text_id unit)
{
    rp_textbuf_number(buf, value, 0);
    rp_textbuf_str(buf, RP_NO_BREAK);
    rp_textbuf_str(buf, texts->words[unit]);
}

void rp_format_span(struct rp_textbuf *buf, const struct rp_texts *texts, uint32_t span_s)
{
    uint32_t minutes = span_s / 60, hours = minutes / 60;
    if (minutes == 0) {
        rp_textbuf_str(buf, "<1" RP_NO_BREAK);
        rp_textbuf_str(buf, texts->words[RP_TX_U_MIN]);
    } else if (hours == 0) {
        put_with_unit(buf, texts, minutes, RP_TX_U_MIN);
    } else if (hours < 48) {
        put_with_unit(buf, texts, hours, RP_TX_U_HOUR);
        rp_textbuf_str(buf, RP_NO_BREAK);
        rp_textbuf_padded(buf, minutes % 60, 2);
    } else {
        put_with_unit(buf, texts, hours / 24, RP_TX_U_DAY);
        rp_textbuf_str(buf, RP_NO_BREAK);
        put_with_unit(buf, texts, hours % 24, RP_TX_U_HOUR);
    }
}

static void put_angle(struct rp_textbuf *buf, int32_t angle_e6, unsigned degree_digits,
                      const char *side)
{
    uint32_t size_e6 = (uint32_t)(angle_e6 < 0 ? -(int64_t)angle_e6 : angle_e6);
    /* Thousandths of a minute: millionths of a degree * 60 / 1000, half up. */
    uint32_t milli_min = (uint32_t)(((uint64_t)size_e6 * 60 + 500) / 1000);
    rp_textbuf_padded(buf, milli_min / 60000, degree_digits);
    rp_textbuf_str(buf, RP_NO_BREAK);
    rp_textbuf_padded(buf, milli_min % 60000 / 1000, 2);
    rp_textbuf_put(buf, ".", 1);
    rp_textbuf_padded(buf, milli_min % 1000, 3);
    rp_textbuf_str(buf, RP_NO_BREAK);
    rp_textbuf_str(buf, side);
}

void rp_format_position(struct rp_textbuf *buf, const struct rp_texts *texts, int32_t lat_e6,
                        int32_t lon_e6)
{
    put_angle(buf, lat_e6, 2, texts->words[lat_e6 < 0 ? RP_TX_SOUTH : RP_TX_NORTH]);
    rp_textbuf_str(buf, RP_NO_BREAK);
    put_angle(buf, lon_e6, 3, texts->words[lon_e6 < 0 ? RP_TX_WEST : RP_TX_EAST]);
}
