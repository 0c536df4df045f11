/* A serial line in one direction: bytes come out later than they went in. */
#ifndef AIR_DELAY_H
#define AIR_DELAY_H

#include <stddef.h>
#include <stdint.h>

#include "ridgepost/view.h"

#define AIR_DELAY_BYTES 8192
#define AIR_DELAY_MARKS 128

struct air_delay {
    uint8_t bytes[AIR_DELAY_BYTES];
    unsigned head, held;
    struct {
        rp_time_us due_us;
        unsigned count;
    } marks[AIR_DELAY_MARKS];
    unsigned mark_first, mark_count;
    rp_time_us last_due_us;
};

void air_delay_clear(struct air_delay *delay);
/* Bytes that come out at due_us, or later when bytes before them come out later. Each takes byte_us
 * microseconds after the one before it; the run comes out when its last byte is through. Returns
 * how many fitted; the rest is lost, as on a serial line without flow control. When there are too
 * many runs the newest one is made longer. */
size_t air_delay_push(struct air_delay *delay, struct rp_view bytes, rp_time_us due_us,
                      int64_t byte_us);
/* When the next bytes come out; RP_NEVER. */
rp_time_us air_delay_wake(const struct air_delay *delay);
/* Takes at most cap bytes that are out by now. */
size_t air_delay_take(struct air_delay *delay, uint8_t *buf, size_t cap, rp_time_us now_us);

#endif
