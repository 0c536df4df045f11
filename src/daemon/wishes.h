/* What a radio asks of its port beyond bytes: resets, another opening, another mode. */
#ifndef RP_DAEMON_WISHES_H
#define RP_DAEMON_WISHES_H

#include "daemon/settings.h"
#include "port/pins/pin.h"

/* The fields belong to src/daemon. */
struct rp_wishes {
    const struct rp_settings *settings;
    struct rp_pin pin;
    rp_time_us reset_end_us; /* RP_NEVER: no reset is under way */
};

/* Opens the mode pin of the settings, when there is one; errors as rp_pin_open. */
int rp_wishes_init(struct rp_wishes *wishes, const struct rp_settings *settings,
                   struct rp_problem *out_problem);
void rp_wishes_deinit(struct rp_wishes *wishes);
/* Does what can be done; what fails is left to the radio's own time-outs. True: the port must be
 * closed and opened again. baud: the speed of normal mode. */
bool rp_wishes_fulfil(struct rp_wishes *wishes, enum rp_radio_wish wish, struct rp_line *line,
                      uint32_t baud, rp_time_us now_us);
/* Ends a reset whose time is over. line: the port, open or closed. */
void rp_wishes_tick(struct rp_wishes *wishes, struct rp_line *line, rp_time_us now_us);
/* The port was opened: the module is in normal mode and not held in reset. */
void rp_wishes_opened(struct rp_wishes *wishes, struct rp_line *line);

#endif
