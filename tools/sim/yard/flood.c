/* Blind flooding: who hears a record for the first time repeats it, once or three times, after a
 * random wait. Base repeats like all others; it cannot know that nobody needs it. */
#include "sim/yard/air.h"

/* The waits before the first copy and between copies, uniform from 0, in halves of a frame time.
 * Ours: the published figures are met with them (1 s and 3.5 s for a frame of 288 ms). */
#define FIRST_WAIT_HALVES 7
#define NEXT_WAIT_HALVES  24

static size_t no_state(const struct yard *yard)
{
    (void)yard;
    return 0;
}

static void accept(struct yard *yard, unsigned station, uint32_t record)
{
    int64_t half_us = yard_frame_us(yard, yard->workload->record_bytes) / 2;
    yard_timer(yard, station, yard_wait_us(yard, 0, FIRST_WAIT_HALVES * half_us), record, 1);
}

static void hear(struct yard *yard, unsigned station, const struct yard_frame *frame)
{
    yard_accept(yard, station, frame->record);
}

static void send_copy(struct yard *yard, unsigned station, uint32_t record)
{
    yard_send(yard, (struct yard_frame){.from = (uint8_t)station,
                                        .len = (uint16_t)yard->workload->record_bytes,
                                        .record = record});
}

static void timer_once(struct yard *yard, unsigned station, uint32_t record, uint32_t copy)
{
    (void)copy;
    send_copy(yard, station, record);
}

static void timer_thrice(struct yard *yard, unsigned station, uint32_t record, uint32_t copy)
{
    send_copy(yard, station, record);
    if (copy < 3) {
        int64_t half_us = yard_frame_us(yard, yard->workload->record_bytes) / 2;
        int64_t wait_us = 2 * half_us + yard_wait_us(yard, 0, NEXT_WAIT_HALVES * half_us);
        yard_timer(yard, station, wait_us, record, copy + 1);
    }
}

const struct yard_protocol yard_flood_once = {.name = "flood once",
                                              .state_size = no_state,
                                              .accept = accept,
                                              .hear = hear,
                                              .timer = timer_once};
const struct yard_protocol yard_flood_thrice = {.name = "flood three times",
                                                .state_size = no_state,
                                                .accept = accept,
                                                .hear = hear,
                                                .timer = timer_thrice};
