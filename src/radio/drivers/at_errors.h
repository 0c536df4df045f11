/* The +ERR=n table of the AT modules. Private to src/radio. */
#ifndef RP_RADIO_AT_ERRORS_H
#define RP_RADIO_AT_ERRORS_H

#include <stdbool.h>
#include <stdint.h>

struct rp_at_error {
    int32_t number;       /* n of +ERR=n */
    int code;             /* the enum rp_error value it is reported as */
    bool receive_side;    /* about a frame that came in, so not an answer to a command */
    bool maybe_aired;     /* the frame may have left the antenna all the same */
    bool hold;            /* the module is still sending: wait before the next frame */
    const char *sentence; /* what it is and what to do, under 96 bytes */
};

/* Never NULL: numbers the reference does not list get a row of their own. */
const struct rp_at_error *rp_at_error_find(int32_t number);

#endif
