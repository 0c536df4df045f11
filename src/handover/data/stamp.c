#include "handover/data/stamp.h"

#include "wire/frame.h"

static void put_clock(struct rp_textbuf *buf, int64_t net_s)
{
    struct rp_civil c = rp_civil_of(net_s);
    rp_textbuf_padded(buf, (uint32_t)c.year, 4);
    rp_textbuf_str(buf, "-");
    rp_textbuf_padded(buf, c.month, 2);
    rp_textbuf_str(buf, "-");
    rp_textbuf_padded(buf, c.day, 2);
    rp_textbuf_str(buf, "T");
    rp_textbuf_padded(buf, c.hour, 2);
    rp_textbuf_str(buf, ":");
    rp_textbuf_padded(buf, c.minute, 2);
    rp_textbuf_str(buf, ":");
    rp_textbuf_padded(buf, c.second, 2);
}

void rp_stamp_utc(struct rp_textbuf *buf, uint32_t time_s)
{
    put_clock(buf, time_s);
    rp_textbuf_str(buf, "Z");
}

void rp_stamp_offset(struct rp_textbuf *buf, uint32_t time_s, int32_t utc_offset_s)
{
    put_clock(buf, (int64_t)time_s + utc_offset_s);
    if (utc_offset_s == 0) {
        rp_textbuf_str(buf, "-00:00");
    } else {
        rp_format_offset(buf, utc_offset_s);
    }
}

void rp_stamp_episode(struct rp_textbuf *buf, struct rp_episode_ref ref)
{
    rp_textbuf_number(buf, rp_origin_station(ref.origin), 0);
    rp_textbuf_str(buf, "-");
    rp_textbuf_number(buf, ref.number, 0);
}

void rp_stamp_record(struct rp_textbuf *buf, struct rp_record_ref ref)
{
    rp_textbuf_number(buf, rp_origin_station(ref.origin), 0);
    rp_textbuf_str(buf, ":");
    rp_textbuf_number(buf, ref.seq, 0);
}

void rp_stamp_unique(struct rp_textbuf *buf, struct rp_record_ref ref, char between)
{
    rp_textbuf_number(buf, rp_origin_station(ref.origin), 0);
    rp_textbuf_put(buf, &between, 1);
    rp_textbuf_number(buf, ref.origin & 511, 0);
    rp_textbuf_put(buf, &between, 1);
    rp_textbuf_number(buf, ref.seq, 0);
}
