/* The serial ports of this computer, as a person looking for the radio wants to see them. Nothing
 * here opens a USB port: opening raises its control lines, which resets some boards. */
#ifndef RP_PORT_PORTS_H
#define RP_PORT_PORTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/problem.h"
#include "port/line.h"

/* Longest text kept of an adapter's descriptors, with NUL; longer ones are cut. */
#define RP_PORTS_TEXT_CAP 64

/* Who has a port open, or has locked it, as far as this user may see: /proc/PID/fd of one's own
 * processes (root: of all), and the locks of all (/proc/locks). */
struct rp_port_holder {
    int pid;       /* 0: nobody that we can see */
    bool locked;   /* it holds the lock (flock) that well-mannered programs take */
    char name[32]; /* of the program, "?" when unknown */
};

struct rp_port_info {
    char device[RP_LINE_TARGET_CAP]; /* "/dev/ttyUSB0" */
    char stable[RP_LINE_TARGET_CAP]; /* /dev/serial/by-id/..., or by-path when the adapter has no
                                      * serial number of its own; empty: none */
    bool has_usb;
    uint16_t vendor, product;       /* USB numbers */
    char serial[RP_PORTS_TEXT_CAP]; /* as the adapter says them; may be empty */
    char maker[RP_PORTS_TEXT_CAP], model[RP_PORTS_TEXT_CAP];
    struct rp_port_holder holder;
    bool allowed; /* this user may open it */
};

/* Calls each(ctx, port) for every serial port that the kernel lists, in the kernel's order; pseudo-
 * terminals are none. RP_E_IO (libserialport cannot list), RP_E_MEMORY. */
int rp_ports_list(void (*each)(void *ctx, const struct rp_port_info *port), void *ctx,
                  struct rp_problem *out_problem);

/* Looks for the holder of any terminal, by its path. Our own process does not count. */
void rp_port_find_holder(const char *device, struct rp_port_holder *out_holder);

/* Whether the name under /dev/serial/by-id can belong to two adapters: they are told apart by their
 * serial numbers alone, and some have none. */
bool rp_port_shares_name(const struct rp_port_info *port);

#endif
