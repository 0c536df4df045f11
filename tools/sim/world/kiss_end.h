/* The modem's end of a KISS line, written from the reference and not from the driver: what the host
 * writes becomes frames for the air, what the air brings becomes bytes for the host.
 * Sources: M. Chepponis and P. Karn, "The KISS TNC", 6th ARRL Computer Networking Conference, 1987;
 * data with an id that the modem returns once it is sent: command 12 of multi-drop KISS. */
#ifndef SIM_WORLD_KISS_END_H
#define SIM_WORLD_KISS_END_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

#define SIM_KISS_ENCODED_MAX (2 * (RP_FRAME_LEN_MAX + 1) + 2)

struct sim_kiss_end {
    uint8_t line[512]; /* bytes of a host frame that has not ended */
    size_t line_len;
    bool escaped, overlong;
    /* The frame that ended last. */
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t frame_len;
    bool ack_wanted;
    uint8_t ack_id[2];
};

/* One byte from the host; true when a data frame has ended and stands in `frame`. Settings and
 * malformed frames are taken silently. */
bool sim_kiss_end_take(struct sim_kiss_end *kiss, uint8_t byte);
/* A received frame as bytes for the host; buf holds SIM_KISS_ENCODED_MAX. Returns their count. */
size_t sim_kiss_end_data(struct rp_view frame, uint8_t *buf);
/* "The frame with this id has been sent." */
size_t sim_kiss_end_ack(const uint8_t id[2], uint8_t *buf);

#endif
