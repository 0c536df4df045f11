/* MPL, RFC 7731 with the defaults of section 5.4: proactive forwarding, data timers of 3
 * expirations with Imax = Imin, control timers of 10 with Imax 5 min, k = 1 for both; Imin is ten
 * times the link latency, here the time on air of a record. Trickle is RFC 6206 section 4.
 *
 * Ours where the RFC leaves it open: a control frame is 20 bytes of header and tag, as our digest
 * has, and the 4 octets for each seed of section 3; it tells the 64 newest records of each seed
 * (bm-len has 6 bits, 6.3); nothing is dropped from the buffer. The set compared is the sender's at
 * the end of its frame. */
#include <string.h>

#include "sim/yard/air.h"

#define DATA_EXPIRATIONS    3
#define CONTROL_EXPIRATIONS 10
#define CONTROL_IMAX_US     INT64_C(300000000) /* 5 min */
#define K                   1
#define IMIN_LATENCIES      10
#define BITMAP_RECORDS      64

enum { DATA, CONTROL };

struct trickle {
    bool on;
    uint16_t heard, expired; /* c and e */
    uint32_t generation;     /* even: the moment to send; odd: the end of the interval */
    int64_t interval_us;
};

/* A row of timers for each station: that of its control frames, then one for each record. */
struct state {
    int64_t imin_us;
    uint32_t *newest; /* [station * reporters + seed], behind the timers */
    struct trickle timers[];
};

static size_t timer_count(const struct yard *yard)
{
    return (size_t)yard->topology->count * (1 + (size_t)yard->record_count);
}

static size_t state_size(const struct yard *yard)
{
    return sizeof(struct state) + timer_count(yard) * sizeof(struct trickle) +
           (size_t)yard->topology->count * yard->reporters * sizeof(uint32_t);
}

static struct trickle *timer_of(const struct yard *yard, unsigned station, uint32_t record)
{
    struct state *state = yard->state;
    size_t row = (size_t)station * (1 + (size_t)yard->record_count);
    return &state->timers[record == YARD_NO_RECORD ? row : row + 1 + record];
}

static void start(struct yard *yard)
{
    struct state *state = yard->state;
    state->newest = (uint32_t *)&state->timers[timer_count(yard)];
    state->imin_us = IMIN_LATENCIES * yard_frame_us(yard, yard->workload->record_bytes);
}

static void begin_interval(struct yard *yard, unsigned station, uint32_t record)
{
    struct trickle *t = timer_of(yard, station, record);
    t->generation += 2;
    t->heard = 0;
    int64_t wait_us = yard_wait_us(yard, t->interval_us / 2, t->interval_us - 1);
    yard_timer(yard, station, wait_us, record, t->generation);
    yard_timer(yard, station, t->interval_us, record, t->generation + 1);
}

/* RFC 6206 rule 6: a timer that is at Imin already keeps its interval. */
static void reset(struct yard *yard, unsigned station, uint32_t record)
{
    const struct state *state = yard->state;
    struct trickle *t = timer_of(yard, station, record);
    t->expired = 0;
    if (!t->on || t->interval_us > state->imin_us) {
        t->on = true;
        t->interval_us = state->imin_us;
        begin_interval(yard, station, record);
    }
}

static void accept(struct yard *yard, unsigned station, uint32_t record)
{
    const struct state *state = yard->state;
    uint32_t number = yard->records[record].number, seed = record / yard->workload->records;
    uint32_t *top = &state->newest[(size_t)station * yard->reporters + seed];
    *top = number + 1 > *top ? number + 1 : *top;
    reset(yard, station, record);
    reset(yard, station, YARD_NO_RECORD);
}

/* One more than the number of the newest record of that seed the station holds; 0: none. */
static uint32_t newest(const struct yard *yard, unsigned station, uint32_t first)
{
    const struct state *state = yard->state;
    uint32_t seed = first / yard->workload->records;
    return state->newest[(size_t)station * yard->reporters + seed];
}

static void hear_data(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    if (!yard_accept(yard, station, frame->record)) {
        timer_of(yard, station, frame->record)->heard++;
    }
    /* The M flag (9.2): what the sender lacks above its newest is sent again. */
    uint32_t first = frame->record - yard->records[frame->record].number;
    for (uint32_t n = newest(yard, station, first); n > frame->newest; n--) {
        if (yard_holds(yard, station, first + n - 1)) {
            reset(yard, station, first + n - 1);
        }
    }
}

/* Compares the newest records of one seed, resets what the other lacks; false when the same. */
static bool compare_seed(struct yard *yard, unsigned station, unsigned other, uint32_t first)
{
    uint32_t mine = newest(yard, station, first), theirs = newest(yard, other, first);
    uint32_t top = mine > theirs ? mine : theirs;
    uint32_t low = top > BITMAP_RECORDS ? top - BITMAP_RECORDS : 0;
    const uint8_t *row = &yard->held[(size_t)station * yard->record_count + first + low];
    const uint8_t *other_row = &yard->held[(size_t)other * yard->record_count + first + low];
    bool differs = memcmp(row, other_row, top - low) != 0;
    for (uint32_t n = low; differs && n < top; n++) {
        bool have = yard_holds(yard, station, first + n), has = yard_holds(yard, other, first + n);
        if (have && !has) {
            reset(yard, station, first + n);
        }
    }
    return differs;
}

static void hear_control(struct yard *yard, unsigned station, unsigned other)
{
    bool differs = false;
    for (uint32_t first = 0; first < yard->record_count; first += yard->workload->records) {
        differs = compare_seed(yard, station, other, first) || differs;
    }
    if (differs) {
        reset(yard, station, YARD_NO_RECORD);
    } else {
        timer_of(yard, station, YARD_NO_RECORD)->heard++;
    }
}

static void hear(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    if (frame->kind == DATA) {
        hear_data(yard, station, frame);
    } else {
        hear_control(yard, station, frame->from);
    }
}

static void send(struct yard *yard, unsigned station, uint32_t record)
{
    struct yard_frame frame = {.kind = CONTROL, .from = (uint8_t)station, .record = record};
    if (record == YARD_NO_RECORD) {
        frame.len = (uint16_t)(20 + 4 * (yard->record_count / yard->workload->records));
    } else {
        frame.kind = DATA;
        frame.len = (uint16_t)yard->workload->record_bytes;
        frame.newest = newest(yard, station, record - yard->records[record].number);
    }
    yard_send(yard, frame);
}

static void end_interval(struct yard *yard, unsigned station, uint32_t record)
{
    struct trickle *t = timer_of(yard, station, record);
    bool control = record == YARD_NO_RECORD;
    t->expired++;
    if (t->expired >= (control ? CONTROL_EXPIRATIONS : DATA_EXPIRATIONS)) {
        t->on = false;
        return;
    }
    if (control) {
        t->interval_us =
            2 * t->interval_us < CONTROL_IMAX_US ? 2 * t->interval_us : CONTROL_IMAX_US;
    }
    begin_interval(yard, station, record);
}

static void timer(struct yard *yard, unsigned station, uint32_t record, uint32_t generation)
{
    struct trickle *t = timer_of(yard, station, record);
    if (t->on && generation == t->generation && t->heard < K) {
        send(yard, station, record);
    } else if (t->on && generation == t->generation + 1) {
        end_interval(yard, station, record);
    }
}

const struct yard_protocol yard_mpl = {.name = "RFC 7731 defaults",
                                       .state_size = state_size,
                                       .start = start,
                                       .accept = accept,
                                       .hear = hear,
                                       .timer = timer};
