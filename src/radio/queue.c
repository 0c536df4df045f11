/* Output bytes and events, both bounded.
 *
 * Rules for a full event queue. Frames: the newest is dropped and counted. Outcomes (SENT, UNSENT):
 * never dropped, because rp_radio_send refuses a frame whose outcome would not fit. States (READY,
 * RESTARTED, FAULT): the oldest gives way, since the newer one overtakes it; the newest is always
 * there. */
#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "radio/driver.h"
#include "radio/text.h"
#include "ridgepost/error.h"

static bool is_state(enum rp_radio_event_kind kind)
{
    return kind == RP_RADIO_READY || kind == RP_RADIO_RESTARTED || kind == RP_RADIO_FAULT;
}

static uint8_t *share_of(struct rp_radio_events *events, enum rp_radio_event_kind kind)
{
    if (kind == RP_RADIO_FRAME) {
        return &events->frames;
    }
    return is_state(kind) ? &events->states : &events->outcomes;
}

static struct rp_radio_event *slot(struct rp_radio_events *events, unsigned index)
{
    return &events->slots[(events->first + index) % RP_RADIO_EVENTS_CAP];
}

static void append(struct rp_radio_events *events, const struct rp_radio_event *event)
{
    assert(events->count < RP_RADIO_EVENTS_CAP);
    *slot(events, events->count) = *event;
    events->count++;
    ++*share_of(events, event->kind);
}

static void drop_first(struct rp_radio_events *events)
{
    --*share_of(events, slot(events, 0)->kind);
    events->first = (uint8_t)((events->first + 1) % RP_RADIO_EVENTS_CAP);
    events->count--;
}

static void drop_oldest_state(struct rp_radio_events *events)
{
    unsigned index = 0;
    while (!is_state(slot(events, index)->kind)) {
        index++;
    }
    struct rp_radio_event state = *slot(events, index);
    for (; index > 0; index--) {
        *slot(events, index) = *slot(events, index - 1);
    }
    *slot(events, 0) = state;
    drop_first(events);
}

static void push_state(struct rp_radio *radio, const struct rp_radio_event *event)
{
    if (radio->events.states == RP_RADIO_STATE_EVENTS_MAX) {
        drop_oldest_state(&radio->events);
        radio->counters.state_dropped++;
    }
    append(&radio->events, event);
}

void rp_radio_push_state(struct rp_radio *radio, enum rp_radio_event_kind kind)
{
    struct rp_radio_event event = {.kind = kind};
    push_state(radio, &event);
}

void rp_radio_push_fault(struct rp_radio *radio, int code, const char *text)
{
    struct rp_radio_event event = {.kind = RP_RADIO_FAULT, .code = code};
    snprintf(event.text, sizeof event.text, "%s", text);
    radio->counters.faults++;
    push_state(radio, &event);
}

void rp_radio_push_frame(struct rp_radio *radio, const struct rp_radio_event *event)
{
    assert(event->kind == RP_RADIO_FRAME && event->frame_len >= 1 &&
           event->frame_len <= RP_FRAME_LEN_MAX);
    if (radio->events.frames == RP_RADIO_FRAME_EVENTS_MAX) {
        radio->counters.rx_dropped++;
        return;
    }
    struct rp_radio_event frame = *event;
    if (rp_radio_armoured(radio)) {
        int len = rp_base64_decode((struct rp_view){event->frame, event->frame_len}, frame.frame,
                                   sizeof frame.frame);
        if (len <= 0) {
            radio->counters.rx_bad++;
            return;
        }
        frame.frame_len = (uint16_t)len;
    }
    radio->counters.rx_frames++;
    append(&radio->events, &frame);
}

void rp_radio_push_bytes(struct rp_radio *radio, struct rp_view frame)
{
    if (frame.len == 0 || frame.len > RP_FRAME_LEN_MAX) {
        radio->counters.rx_bad++;
        return;
    }
    struct rp_radio_event event = {.kind = RP_RADIO_FRAME, .frame_len = (uint16_t)frame.len};
    memcpy(event.frame, frame.bytes, frame.len);
    rp_radio_push_frame(radio, &event);
}

void rp_radio_finish_sent(struct rp_radio *radio)
{
    if (radio->tx.pending) {
        struct rp_radio_event event = {.kind = RP_RADIO_SENT};
        radio->tx.pending = false;
        radio->counters.tx_sent++;
        append(&radio->events, &event);
    }
}

void rp_radio_finish_unsent(struct rp_radio *radio, int code, bool maybe_aired)
{
    if (radio->tx.pending) {
        struct rp_radio_event event = {
            .kind = RP_RADIO_UNSENT, .code = code, .maybe_aired = maybe_aired};
        radio->tx.pending = false;
        if (maybe_aired) {
            radio->counters.tx_unknown++;
        } else {
            radio->counters.tx_refused++;
        }
        append(&radio->events, &event);
    }
}

bool rp_radio_outcome_fits(const struct rp_radio *radio)
{
    return radio->events.outcomes < RP_RADIO_OUTCOME_EVENTS_MAX;
}

bool rp_radio_next_event(struct rp_radio *radio, struct rp_radio_event *out_event)
{
    if (radio->events.count == 0) {
        return false;
    }
    *out_event = *slot(&radio->events, 0);
    drop_first(&radio->events);
    return true;
}

bool rp_radio_out_bytes(struct rp_radio *radio, const void *bytes, size_t len)
{
    struct rp_radio_output *out = &radio->out;
    if (sizeof out->bytes - out->len < len) {
        radio->counters.out_dropped++;
        return false;
    }
    memcpy(out->bytes + out->len, bytes, len);
    out->len += len;
    return true;
}

bool rp_radio_out_text(struct rp_radio *radio, const char *text)
{
    return rp_radio_out_bytes(radio, text, strlen(text));
}

void rp_radio_out_clear(struct rp_radio *radio)
{
    radio->out.len = 0;
}

size_t rp_radio_take_output(struct rp_radio *radio, uint8_t *buf, size_t cap)
{
    struct rp_radio_output *out = &radio->out;
    size_t taken = out->len < cap ? out->len : cap;
    if (taken > 0) {
        memcpy(buf, out->bytes, taken);
        memmove(out->bytes, out->bytes + taken, out->len - taken);
        out->len -= taken;
    }
    return taken;
}

int rp_radio_refuse(struct rp_radio *radio, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(radio->why, sizeof radio->why, format, args);
    va_end(args);
    return RP_E_INVALID;
}
