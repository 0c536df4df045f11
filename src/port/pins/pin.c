#include "port/pins/pin.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/gpio.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "port/line_backend.h"

#define LINE_MAX_NUMBER 511 /* the largest chips of the kernel's tree stay below; ours */

static int bad_name(const char *name, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_INVALID, "mode_pin",
                          "mode_pin must be dtr, rts or gpiochipN:LINE, such as gpiochip0:17; not "
                          "'%.40s'",
                          name);
}

/* The second version of the kernel's GPIO character device, linux/gpio.h. */
static int request_line(int chip, unsigned line, int *out_fd)
{
    struct gpio_v2_line_request request = {.num_lines = 1};
    request.offsets[0] = line;
    request.config.flags = GPIO_V2_LINE_FLAG_OUTPUT;
    snprintf(request.consumer, sizeof request.consumer, "ridgepost");
    if (ioctl(chip, GPIO_V2_GET_LINE_IOCTL, &request) != 0) {
        return -errno;
    }
    *out_fd = request.fd;
    return 0;
}

static int open_gpio(struct rp_pin *pin, const char *name, struct rp_problem *out_problem)
{
    unsigned number, line;
    char end, device[40];
    if (sscanf(name, "gpiochip%3u:%3u%c", &number, &line, &end) != 2 || line > LINE_MAX_NUMBER) {
        return bad_name(name, out_problem);
    }
    snprintf(device, sizeof device, "/dev/gpiochip%u", number);
    int chip = open(device, O_RDWR | O_CLOEXEC);
    if (chip < 0) {
        return rp_tty_open_failed(device, device, errno, out_problem);
    }
    int failed = request_line(chip, line, &pin->fd);
    close(chip);
    if (failed != 0) {
        return rp_problem_set(out_problem, failed == -EBUSY ? RP_E_TAKEN : RP_E_IO, "mode_pin",
                              "%.40s cannot be used: %s", name, strerror(-failed));
    }
    fcntl(pin->fd, F_SETFD, FD_CLOEXEC);
    pin->kind = RP_PIN_GPIO;
    return 0;
}

int rp_pin_open(struct rp_pin *pin, const char *name, struct rp_problem *out_problem)
{
    *pin = (struct rp_pin){.kind = RP_PIN_NONE, .fd = -1};
    if (strcmp(name, "dtr") == 0) {
        pin->kind = RP_PIN_DTR;
    } else if (strcmp(name, "rts") == 0) {
        pin->kind = RP_PIN_RTS;
    } else if (name[0] != '\0') {
        return open_gpio(pin, name, out_problem);
    }
    return 0;
}

int rp_pin_set(struct rp_pin *pin, struct rp_line *line, bool high)
{
    struct gpio_v2_line_values values = {.bits = high ? 1 : 0, .mask = 1};
    switch (pin->kind) {
    case RP_PIN_DTR:
        return rp_line_signal(line, RP_LINE_DTR, !high);
    case RP_PIN_RTS:
        return rp_line_signal(line, RP_LINE_RTS, !high);
    case RP_PIN_GPIO:
        return ioctl(pin->fd, GPIO_V2_LINE_SET_VALUES_IOCTL, &values) == 0 ? 0 : RP_E_IO;
    case RP_PIN_NONE:
        break;
    }
    return RP_E_UNSUPPORTED;
}

void rp_pin_close(struct rp_pin *pin)
{
    if (pin->kind == RP_PIN_GPIO) {
        close(pin->fd);
    }
    *pin = (struct rp_pin){.kind = RP_PIN_NONE, .fd = -1};
}
