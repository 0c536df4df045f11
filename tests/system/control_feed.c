/* Feeds a daemon notes as fast as it takes them and kills it in the middle, at a moment that is
 * counted from the first connection by a timer: it may fall anywhere in the daemon's work.
 * Prints "RECORD TEXT" for every note that was acknowledged. With
 * DELAY_US 0 it kills nobody and feeds until the daemon goes away.
 * usage: control_feed SOCKET EPISODE PREFIX PID DELAY_US */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/time.h>

#include "control_io.h"

static volatile sig_atomic_t victim;

static void on_alarm(int number)
{
    (void)number;
    kill(victim, SIGKILL);
}

int main(int argc, char **argv)
{
    static struct io io;
    if (argc != 6) {
        return 64;
    }
    victim = atoi(argv[4]);
    long delay_us = atol(argv[5]);
    io_open(&io, argv[1]);
    struct sigaction action = {.sa_handler = on_alarm, .sa_flags = SA_RESTART};
    sigaction(SIGALRM, &action, NULL);
    struct itimerval when = {.it_value = {delay_us / 1000000, delay_us % 1000000}};
    setitimer(ITIMER_REAL, &when, NULL);
    char text[80], name[24];
    for (unsigned i = 0;; i++) {
        snprintf(text, sizeof text, "%s.%u", argv[3], i);
        if (!io_note(&io, argv[2], text, name)) {
            break; /* it died */
        }
        printf("%s %s\n", name, text);
    }
    return fflush(stdout) == 0 ? 0 : 1;
}
