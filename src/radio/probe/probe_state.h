/* The inside of struct rp_probe. Only src/radio reads or writes the fields. */
#ifndef RP_RADIO_PROBE_STATE_H
#define RP_RADIO_PROBE_STATE_H

#include "radio/probe/probe.h"

struct rp_probe_dialect; /* private to probe.c */

enum rp_probe_phase {
    RP_PROBE_ENTER,  /* the mode pin asks for configuration mode */
    RP_PROBE_BLOCK,  /* a register block is asked for, of one kind after the other */
    RP_PROBE_LISTEN, /* to what comes by itself */
    RP_PROBE_QUIET,  /* an empty line is sent, answers are thrown away */
    RP_PROBE_HELLO,  /* the families that speak in lines are greeted, one after the other */
    RP_PROBE_DETAIL, /* one is found, and asked for its settings */
    RP_PROBE_OVER,
};

struct rp_probe {
    struct rp_probe_options options;
    enum rp_probe_phase phase;
    unsigned step; /* of the phase */
    unsigned speed;
    rp_time_us deadline_us;
    uint32_t wishes;
    const struct rp_probe_dialect *dialect; /* the family found */
    struct rp_probe_found found;
    struct rp_probe_try tries[RP_PROBE_TRIES_CAP];
    size_t tried;
    size_t out_len, line_len, reply_len;
    uint8_t out[64];
    uint8_t line[128];
    uint8_t reply[RP_RADIO_REGISTERS_CAP];
    /* Two drivers that only listen: they know a frame of theirs when they see one. */
    struct rp_radio kiss, uart;
};

#endif
