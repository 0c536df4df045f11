#include "sim/world/kiss_end.h"

#include <string.h>

enum {
    FEND = 0xc0,
    FESC = 0xdb,
    TFEND = 0xdc,
    TFESC = 0xdd,
    COMMAND_DATA = 0x00,
    COMMAND_DATA_ACK = 0x0c,
};

static bool end_frame(struct sim_kiss_end *kiss)
{
    size_t len = kiss->line_len, head = 1;
    bool well = !kiss->overlong && !kiss->escaped && len > 1;
    kiss->line_len = 0;
    kiss->escaped = kiss->overlong = false;
    if (!well || (kiss->line[0] != COMMAND_DATA && kiss->line[0] != COMMAND_DATA_ACK)) {
        return false;
    }
    kiss->ack_wanted = kiss->line[0] == COMMAND_DATA_ACK;
    if (kiss->ack_wanted) {
        head = 3;
    }
    if (len <= head || len - head > sizeof kiss->frame) {
        return false;
    }
    memcpy(kiss->ack_id, kiss->line + 1, sizeof kiss->ack_id);
    kiss->frame_len = len - head;
    memcpy(kiss->frame, kiss->line + head, kiss->frame_len);
    return true;
}

bool sim_kiss_end_take(struct sim_kiss_end *kiss, uint8_t byte)
{
    if (byte == FEND) {
        return end_frame(kiss);
    }
    if (byte == FESC) {
        kiss->escaped = true;
        return false;
    }
    if (kiss->escaped) {
        byte = byte == TFEND ? FEND : byte == TFESC ? FESC : byte;
        kiss->escaped = false;
    }
    if (kiss->line_len < sizeof kiss->line) {
        kiss->line[kiss->line_len++] = byte;
    } else {
        kiss->overlong = true;
    }
    return false;
}

size_t sim_kiss_end_data(struct rp_view frame, uint8_t *buf)
{
    size_t at = 0;
    buf[at++] = FEND;
    buf[at++] = COMMAND_DATA;
    for (size_t i = 0; i < frame.len; i++) {
        uint8_t byte = frame.bytes[i];
        if (byte == FEND || byte == FESC) {
            buf[at++] = FESC;
            byte = byte == FEND ? TFEND : TFESC;
        }
        buf[at++] = byte;
    }
    buf[at++] = FEND;
    return at;
}

size_t sim_kiss_end_ack(const uint8_t id[2], uint8_t *buf)
{
    size_t at = 0;
    buf[at++] = FEND;
    buf[at++] = COMMAND_DATA_ACK;
    for (unsigned i = 0; i < 2; i++) {
        if (id[i] == FEND || id[i] == FESC) {
            buf[at++] = FESC;
        }
        buf[at++] = id[i] == FEND ? TFEND : id[i] == FESC ? TFESC : id[i];
    }
    buf[at++] = FEND;
    return at;
}
