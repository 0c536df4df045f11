/* Telling systemd how the daemon is, by the protocol of sd_notify(3): a datagram to the socket
 * named in $NOTIFY_SOCKET. */
#ifndef RP_PORT_NOTIFY_H
#define RP_PORT_NOTIFY_H

#include "ridgepost/view.h"

/* Sends `state`: "READY=1", "STATUS=a sentence", "STOPPING=1", "WATCHDOG=1", or several, a line
 * each. 1 when sent, 0 when nobody asked (not started by systemd), RP_E_IO, RP_E_INVALID ($NOTIFY_
 * SOCKET is neither a path nor an abstract name, or too long). */
int rp_notify(const char *state);

/* How long the service manager waits for WATCHDOG=1 before it restarts us, in microseconds, or
 * RP_NEVER when it does not. Say it at half that time; nothing else wakes the daemon for it. */
rp_time_us rp_notify_watchdog_us(void);

#endif
