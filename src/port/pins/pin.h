/* One output pin that switches a radio module between its modes: a control line of its serial port,
 * or a line of a GPIO chip of the kernel. */
#ifndef RP_PORT_PIN_H
#define RP_PORT_PIN_H

#include <stdbool.h>

#include "port/line.h"

enum rp_pin_kind { RP_PIN_NONE, RP_PIN_DTR, RP_PIN_RTS, RP_PIN_GPIO };

/* The fields belong to src/port. A zeroed pin is none. */
struct rp_pin {
    enum rp_pin_kind kind;
    int fd; /* of the GPIO line */
};

/* Opens the pin named "dtr", "rts" or "gpiochipN:LINE" (LINE 0..511), and pulls a GPIO line low.
 * The empty name is none. RP_E_INVALID, RP_E_NOT_FOUND, RP_E_PERMISSION, RP_E_TAKEN, RP_E_IO;
 * *out_problem says what to do. */
int rp_pin_open(struct rp_pin *pin, const char *name, struct rp_problem *out_problem);
/* Drives the pin high or low as the module sees it. A serial adapter's TTL outputs are inverted:
 * its pin is high while the signal is off. line: the open port of a "dtr" or "rts" pin.
 * RP_E_UNSUPPORTED (no such pin here), RP_E_IO, RP_E_GONE. */
int rp_pin_set(struct rp_pin *pin, struct rp_line *line, bool high);
void rp_pin_close(struct rp_pin *pin);

#endif
