/* Stands between libserialport and the kernel in one test program: makes a pseudo-terminal look
 * like the USB serial port /dev/ttyUSB0, with a sysfs of its own and modem control lines, and
 * breaks system calls on demand. It is linked into the program, whose symbols win over those of
 * the shared libraries.
 *
 * Mapped are the calls that libserialport and src/port make on paths: open, fopen, opendir, stat,
 * lstat, readlink, realpath, access. */
#ifndef MODEM_SHIM_H
#define MODEM_SHIM_H

#define MODEM_NAME "/dev/ttyUSB0"

struct modem_shim {
    const char *sys;    /* stands for /sys/class/tty; NULL: the shim does nothing */
    const char *serial; /* stands for /dev/serial; NULL: the computer's own */
    const char *device; /* what /dev/ttyUSB0 leads to; NULL: nothing is plugged in */
    int lines;          /* TIOCM_* bits as last set */
    int lines_set;      /* how many times a line was switched */
    int opened;         /* how many times the device was opened */
    int open_error;     /* errno for every open of the device; 0: none */
    int read_error;     /* errno for the next read of a terminal; 0: none */
    int write_error;    /* the same for write */
    unsigned write_cap; /* most bytes a write takes; 0: no limit */
    int settings_fail;  /* not 0: tcsetattr of the device pretends and does nothing */
    int breaks;         /* breaks begun, less those ended */
    int gpio;           /* not 0: /dev/gpiochip0 is there */
    int gpio_error;     /* errno for every request of a line; 0: none */
    int gpio_line;      /* the line asked for last */
    int gpio_high;      /* what it was set to last */
    int mode_calls;     /* reads and writes of terminals that libserialport made */
};

extern struct modem_shim modem_shim;

#endif
