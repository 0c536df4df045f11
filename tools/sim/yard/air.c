#include "sim/yard/air.h"

#include <stdlib.h>

#define HOUR_US INT64_C(3600000000)

static bool before(const struct yard_event *a, const struct yard_event *b)
{
    if (a->at_us != b->at_us) {
        return a->at_us < b->at_us;
    }
    /* A frame that starts when another ends does not meet it. */
    bool a_sent = a->kind == YARD_SENT, b_sent = b->kind == YARD_SENT;
    return a_sent != b_sent ? a_sent : a->order < b->order;
}

static void push_event(struct yard *yard, struct yard_event event)
{
    if (yard->event_count == yard->event_cap) {
        size_t cap = yard->event_cap == 0 ? 1024 : 2 * yard->event_cap;
        struct yard_event *grown = realloc(yard->events, cap * sizeof *grown);
        if (grown == NULL) {
            yard->out_of_memory = true;
            return;
        }
        yard->events = grown;
        yard->event_cap = cap;
    }
    event.order = yard->order++;
    size_t at = yard->event_count++;
    for (; at > 0 && before(&event, &yard->events[(at - 1) / 2]); at = (at - 1) / 2) {
        yard->events[at] = yard->events[(at - 1) / 2];
    }
    yard->events[at] = event;
}

static struct yard_event pop_event(struct yard *yard)
{
    struct yard_event first = yard->events[0];
    struct yard_event last = yard->events[--yard->event_count];
    size_t at = 0;
    for (size_t child; (child = 2 * at + 1) < yard->event_count; at = child) {
        if (child + 1 < yard->event_count &&
            before(&yard->events[child + 1], &yard->events[child])) {
            child++;
        }
        if (!before(&yard->events[child], &last)) {
            break;
        }
        yard->events[at] = yard->events[child];
    }
    yard->events[at] = last;
    return first;
}

void yard_timer(struct yard *yard, unsigned station, int64_t wait_us, uint32_t id,
                uint32_t generation)
{
    push_event(yard, (struct yard_event){.at_us = yard->now_us + wait_us,
                                         .kind = YARD_TIMER,
                                         .station = (uint8_t)station,
                                         .id = id,
                                         .generation = generation});
}

void yard_originate_at(struct yard *yard, int64_t at_us, uint32_t record)
{
    push_event(yard, (struct yard_event){.at_us = at_us,
                                         .kind = YARD_ORIGINATE,
                                         .station = yard->records[record].origin,
                                         .id = record});
}

bool yard_holds(const struct yard *yard, unsigned station, uint32_t record)
{
    return yard->held[(size_t)station * yard->record_count + record] != 0;
}

int64_t yard_wait_us(struct yard *yard, int64_t low_us, int64_t high_us)
{
    return rp_rng_between(&yard->rng, low_us, high_us);
}

int64_t yard_frame_us(const struct yard *yard, unsigned len)
{
    return rp_airtime_us(&yard->workload->radio, len);
}

bool yard_accept(struct yard *yard, unsigned station, uint32_t record)
{
    if (yard_holds(yard, station, record)) {
        return false;
    }
    struct yard_record *r = &yard->records[record];
    yard->held[(size_t)station * yard->record_count + record] = 1;
    r->holders++;
    if (yard->topology->stations[station].is_base && r->base_us < 0) {
        r->base_us = yard->now_us;
    }
    yard->protocol->accept(yard, station, record);
    return true;
}

/* Forgets what is older than an hour and says when airtime_us more is lawful. */
static int64_t lawful_us(struct yard *yard, struct yard_station *s, int64_t airtime_us)
{
    int64_t budget_us = yard->workload->budget_us_per_hour;
    if (budget_us == 0) {
        return yard->now_us;
    }
    while (s->hour_first < s->charge_count &&
           s->charges[s->hour_first].start_us + s->charges[s->hour_first].airtime_us + HOUR_US <=
               yard->now_us) {
        s->hour_us -= s->charges[s->hour_first++].airtime_us;
    }
    int64_t hour_us = s->hour_us, at_us = yard->now_us;
    for (size_t i = s->hour_first; hour_us + airtime_us > budget_us && i < s->charge_count; i++) {
        hour_us -= s->charges[i].airtime_us;
        at_us = s->charges[i].start_us + s->charges[i].airtime_us + HOUR_US;
    }
    return at_us;
}

static void charge(struct yard *yard, struct yard_station *s, int64_t airtime_us)
{
    if (yard->workload->budget_us_per_hour == 0) {
        return;
    }
    if (s->charge_count == s->charge_cap) {
        size_t cap = s->charge_cap == 0 ? 64 : 2 * s->charge_cap;
        struct yard_charge *grown = realloc(s->charges, cap * sizeof *grown);
        if (grown == NULL) {
            yard->out_of_memory = true;
            return;
        }
        s->charges = grown;
        s->charge_cap = cap;
    }
    s->charges[s->charge_count++] = (struct yard_charge){yard->now_us, airtime_us};
    s->hour_us += airtime_us;
}

static bool linked(const struct yard *yard, unsigned from, unsigned to)
{
    return yard->topology->links[from][to].kind == SIM_LINK_LOSS;
}

/* Everything on its way to the station is lost. */
static void spoil_all(struct yard *yard, unsigned station)
{
    for (unsigned from = 0; yard->arriving[station] > 0 && from < yard->topology->count; from++) {
        if (yard->stations[from].sending && linked(yard, from, station)) {
            yard->spoiled[from][station] = 1;
        }
    }
}

static void begin(struct yard *yard, unsigned from, struct yard_frame frame, int64_t airtime_us)
{
    struct yard_station *s = &yard->stations[from];
    spoil_all(yard, from);
    for (unsigned to = 0; to < yard->topology->count; to++) {
        if (linked(yard, from, to)) {
            yard->spoiled[from][to] = yard->stations[to].sending || yard->arriving[to] > 0;
            spoil_all(yard, to);
            yard->arriving[to]++;
        }
    }
    s->sending = true;
    s->frame = frame;
    charge(yard, s, airtime_us);
    yard->frames++;
    yard->airtime_us += airtime_us;
    yard->control_us += frame.record == YARD_NO_RECORD ? airtime_us : 0;
    push_event(yard, (struct yard_event){.at_us = yard->now_us + airtime_us,
                                         .kind = YARD_SENT,
                                         .station = (uint8_t)from});
}

/* Sends the first waiting frame, or comes back when that is lawful. */
static void work_queue(struct yard *yard, unsigned station)
{
    struct yard_station *s = &yard->stations[station];
    if (s->sending || s->queued == 0 || s->queue_timed) {
        return;
    }
    int64_t airtime_us = yard_frame_us(yard, s->queue[s->queue_first].len);
    int64_t at_us = lawful_us(yard, s, airtime_us);
    if (at_us > yard->now_us) {
        s->queue_timed = true;
        push_event(yard, (struct yard_event){
                             .at_us = at_us, .kind = YARD_QUEUE, .station = (uint8_t)station});
        return;
    }
    struct yard_frame frame = s->queue[s->queue_first];
    s->queue_first = (s->queue_first + 1) % YARD_QUEUE_MAX;
    s->queued--;
    begin(yard, station, frame, airtime_us);
}

static bool waits(const struct yard_station *s, const struct yard_frame *frame)
{
    for (unsigned i = 0; i < s->queued; i++) {
        const struct yard_frame *other = &s->queue[(s->queue_first + i) % YARD_QUEUE_MAX];
        if (other->kind == frame->kind && other->to == frame->to &&
            other->record == frame->record) {
            return true;
        }
    }
    return false;
}

void yard_send(struct yard *yard, struct yard_frame frame)
{
    struct yard_station *s = &yard->stations[frame.from];
    if (waits(s, &frame)) {
        return;
    }
    if (s->queued == YARD_QUEUE_MAX) {
        yard->dropped++;
        return;
    }
    s->queue[(s->queue_first + s->queued++) % YARD_QUEUE_MAX] = frame;
    work_queue(yard, frame.from);
}

static bool broken(const struct yard *yard, unsigned from, unsigned to)
{
    for (unsigned i = 0; i < yard->workload->break_count; i++) {
        const struct sim_break *b = &yard->workload->breaks[i];
        bool between = (b->a == from && b->b == to) || (b->a == to && b->b == from);
        if (between && yard->now_us >= b->from_us && yard->now_us < b->to_us) {
            return true;
        }
    }
    return false;
}

static void end(struct yard *yard, unsigned from)
{
    struct yard_station *s = &yard->stations[from];
    struct yard_frame frame = s->frame;
    bool arrives[SIM_STATIONS_MAX] = {false};
    for (unsigned to = 0; to < yard->topology->count; to++) {
        if (!linked(yard, from, to)) {
            continue;
        }
        yard->arriving[to]--;
        bool lost = rp_rng_below(&yard->rng, SIM_LOSS_ONE) < yard->topology->links[from][to].loss;
        lost = lost || broken(yard, from, to); /* it still disturbs: a break is a wall for frames */
        yard->lost_to_loss += lost;
        yard->lost_to_clash += !lost && yard->spoiled[from][to];
        arrives[to] = !lost && !yard->spoiled[from][to];
    }
    s->sending = false;
    for (unsigned to = 0; to < yard->topology->count; to++) {
        if (arrives[to]) {
            yard->heard++;
            yard->protocol->hear(yard, to, &frame);
        }
    }
    if (yard->protocol->sent != NULL) {
        yard->protocol->sent(yard, from, &frame);
    }
    work_queue(yard, from);
}

void yard_run(struct yard *yard, int64_t until_us)
{
    while (yard->event_count > 0 && yard->events[0].at_us <= until_us && !yard->out_of_memory) {
        struct yard_event event = pop_event(yard);
        yard->now_us = event.at_us;
        switch ((enum yard_event_kind)event.kind) {
        case YARD_ORIGINATE:
            yard_accept(yard, event.station, event.id);
            break;
        case YARD_SENT:
            end(yard, event.station);
            break;
        case YARD_QUEUE:
            yard->stations[event.station].queue_timed = false;
            work_queue(yard, event.station);
            break;
        case YARD_TIMER:
            yard->protocol->timer(yard, event.station, event.id, event.generation);
            break;
        }
    }
}
