#include "air/delay.h"

void air_delay_clear(struct air_delay *delay)
{
    delay->head = 0;
    delay->held = 0;
    delay->mark_first = 0;
    delay->mark_count = 0;
    delay->last_due_us = INT64_MIN;
}

static size_t copy_in(struct air_delay *delay, struct rp_view bytes)
{
    size_t room = AIR_DELAY_BYTES - delay->held;
    size_t taken = bytes.len < room ? bytes.len : room;
    for (size_t i = 0; i < taken; i++) {
        delay->bytes[(delay->head + delay->held + i) % AIR_DELAY_BYTES] = bytes.bytes[i];
    }
    delay->held += (unsigned)taken;
    return taken;
}

size_t air_delay_push(struct air_delay *delay, struct rp_view bytes, rp_time_us due_us,
                      int64_t byte_us)
{
    size_t taken = copy_in(delay, bytes);
    if (taken == 0) {
        return 0;
    }
    rp_time_us start_us = due_us > delay->last_due_us ? due_us : delay->last_due_us;
    delay->last_due_us = start_us + (int64_t)taken * byte_us;
    if (delay->mark_count < AIR_DELAY_MARKS) {
        delay->marks[(delay->mark_first + delay->mark_count) % AIR_DELAY_MARKS].count = 0;
        delay->mark_count++;
    }
    unsigned last = (delay->mark_first + delay->mark_count - 1) % AIR_DELAY_MARKS;
    delay->marks[last].due_us = delay->last_due_us;
    delay->marks[last].count += (unsigned)taken;
    return taken;
}

rp_time_us air_delay_wake(const struct air_delay *delay)
{
    return delay->mark_count == 0 ? RP_NEVER : delay->marks[delay->mark_first].due_us;
}

size_t air_delay_take(struct air_delay *delay, uint8_t *buf, size_t cap, rp_time_us now_us)
{
    size_t done = 0;
    while (done < cap && air_delay_wake(delay) <= now_us) {
        unsigned *left = &delay->marks[delay->mark_first].count;
        while (done<cap && * left> 0) {
            buf[done++] = delay->bytes[delay->head];
            delay->head = (delay->head + 1) % AIR_DELAY_BYTES;
            delay->held--;
            (*left)--;
        }
        if (*left == 0) {
            delay->mark_first = (delay->mark_first + 1) % AIR_DELAY_MARKS;
            delay->mark_count--;
        }
    }
    return done;
}
