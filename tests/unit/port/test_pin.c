/* The signals of a port that resets and modes need, GPIO lines, and the daemon's use of them; see
 * modem_shim.h. */
#include "rp_test.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "daemon/wishes.h"
#include "modem_shim.h"
#include "port_support.h"

struct rig {
    struct folder folder;
    char sys[96], by_id[96], slave[64];
    int master;
    int own; /* the slave, held open by us to look at its settings */
    struct rp_line line;
    struct rp_problem problem;
};

/* The shape of a USB serial adapter in sysfs; libserialport refuses paths with "virtual" in them
 * and wants "usb". */
static void make_sysfs(struct rig *rig)
{
    static const char *const folders[] = {
        "sys",
        "sys/usb1",
        "sys/usb1/1-1",
        "sys/usb1/1-1/1-1:1.0",
        "sys/usb1/1-1/1-1:1.0/ttyUSB0",
        "sys/usb1/1-1/1-1:1.0/ttyUSB0/tty",
        "sys/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0",
        "by-id",
    };
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++) {
        assert_int_equal(mkdir(folder_file(&rig->folder, folders[i]), 0700), 0);
    }
    assert_int_equal(
        symlink("../../../ttyUSB0", folder_file(&rig->folder, "sys/usb1/1-1/1-1:1.0/ttyUSB0/tty/"
                                                              "ttyUSB0/device")),
        0);
    assert_int_equal(
        symlink("usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0", folder_file(&rig->folder, "sys/ttyUSB0")),
        0);
    static const char *const attributes[][2] = {
        {"busnum", "1\n"},       {"devnum", "4\n"},     {"idVendor", "10c4\n"},
        {"idProduct", "ea60\n"}, {"product", "UART\n"}, {"manufacturer", "Nobody\n"},
        {"serial", "0007\n"},
    };
    for (size_t i = 0; i < sizeof attributes / sizeof attributes[0]; i++) {
        char name[64];
        snprintf(name, sizeof name, "sys/usb1/1-1/%s", attributes[i][0]);
        file_write(folder_file(&rig->folder, name), attributes[i][1], 0600);
    }
    strcpy(rig->sys, folder_file(&rig->folder, "sys"));
    strcpy(rig->by_id, folder_file(&rig->folder, "by-id/usb-Nobody_UART_0007-if00-port0"));
    assert_int_equal(symlink(MODEM_NAME, rig->by_id), 0);
}

static int set_up(void **state)
{
    static struct rig rig;
    memset(&rig, 0, sizeof rig);
    modem_shim = (struct modem_shim){0};
    folder_make(&rig.folder);
    make_sysfs(&rig);
    rig.master = pty_pair(rig.slave, sizeof rig.slave);
    rig.own = open(rig.slave, O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(rig.own >= 0);
    modem_shim.sys = rig.sys;
    modem_shim.device = rig.slave;
    *state = &rig;
    return 0;
}

static int tear_down(void **state)
{
    struct rig *rig = *state;
    rp_line_close(&rig->line);
    modem_shim = (struct modem_shim){0};
    if (rig->master >= 0) {
        close(rig->master);
    }
    if (rig->own >= 0) {
        close(rig->own);
    }
    folder_remove(&rig->folder);
    return 0;
}

static void open_ok(struct rig *rig, uint32_t baud, const struct rp_line_options *options)
{
    int rc = rp_line_open(&rig->line, MODEM_NAME, baud, options, &rig->problem);
    if (rc != 0) {
        fail_msg("%s", rig->problem.text);
    }
}

static void each_signal_can_be_switched(void **state)
{
    struct rig *rig = *state;
    open_ok(rig, 9600, NULL);
    assert_int_equal(rp_line_signal(&rig->line, RP_LINE_DTR, true), 0);
    assert_int_equal(modem_shim.lines, TIOCM_DTR);
    assert_int_equal(rp_line_signal(&rig->line, RP_LINE_RTS, true), 0);
    assert_int_equal(rp_line_signal(&rig->line, RP_LINE_DTR, false), 0);
    assert_int_equal(modem_shim.lines, TIOCM_RTS);
    assert_int_equal(rp_line_signal(&rig->line, RP_LINE_BREAK, true), 0);
    assert_int_equal(modem_shim.breaks, 1);
    assert_int_equal(rp_line_signal(&rig->line, RP_LINE_BREAK, false), 0);
    assert_int_equal(modem_shim.breaks, 0);
}

static void the_speed_of_an_open_port_can_be_changed(void **state)
{
    struct rig *rig = *state;
    struct termios t;
    open_ok(rig, 57600, NULL);
    assert_int_equal(rp_line_set_baud(&rig->line, 9600), 0);
    assert_int_equal(tcgetattr(rig->own, &t), 0);
    assert_int_equal(cfgetospeed(&t), B9600);
    assert_int_equal(rp_line_set_baud(&rig->line, 9601), RP_E_INVALID);
    assert_int_equal(tcgetattr(rig->own, &t), 0);
    assert_int_equal(cfgetospeed(&t), B9600);
}

static void a_pin_is_a_control_line_or_a_gpio_line(void **state)
{
    struct rig *rig = *state;
    struct rp_pin pin;
    open_ok(rig, 9600, NULL);
    assert_int_equal(rp_pin_open(&pin, "", &rig->problem), 0);
    assert_int_equal(rp_pin_set(&pin, &rig->line, true), RP_E_UNSUPPORTED);
    rp_pin_close(&pin);
    /* An adapter's TTL output is high while its signal is off. */
    assert_int_equal(rp_pin_open(&pin, "rts", &rig->problem), 0);
    assert_int_equal(rp_pin_set(&pin, &rig->line, false), 0);
    assert_int_equal(modem_shim.lines, TIOCM_RTS);
    assert_int_equal(rp_pin_set(&pin, &rig->line, true), 0);
    assert_int_equal(modem_shim.lines, 0);
    rp_pin_close(&pin);
    modem_shim.gpio = 1;
    int before = descriptor_count();
    assert_int_equal(rp_pin_open(&pin, "gpiochip0:17", &rig->problem), 0);
    assert_int_equal(modem_shim.gpio_line, 17);
    assert_int_equal(rp_pin_set(&pin, &rig->line, true), 0);
    assert_int_equal(modem_shim.gpio_high, 1);
    assert_int_equal(rp_pin_set(&pin, &rig->line, false), 0);
    assert_int_equal(modem_shim.gpio_high, 0);
    assert_int_equal(descriptor_count(), before + 1);
    rp_pin_close(&pin);
    rp_pin_close(&pin);
    assert_int_equal(descriptor_count(), before);
}

static void a_pin_that_cannot_be_used_says_why(void **state)
{
    struct rig *rig = *state;
    struct rp_pin pin;
    static const char *const bad[] = {"cts",           "gpiochip0",    "gpiochip0:", "gpiochip0:x",
                                      "gpiochip0:512", "gpiochip0:1x", "17"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(rp_pin_open(&pin, bad[i], &rig->problem), RP_E_INVALID);
    }
    assert_string_equal(rig->problem.text, "mode_pin must be dtr, rts or gpiochipN:LINE, such as "
                                           "gpiochip0:17; not '17'");
    assert_int_equal(rp_pin_open(&pin, "gpiochip77:1", &rig->problem), RP_E_NOT_FOUND);
    modem_shim.gpio = 1;
    modem_shim.gpio_error = EBUSY;
    assert_int_equal(rp_pin_open(&pin, "gpiochip0:1", &rig->problem), RP_E_TAKEN);
    assert_string_equal(rig->problem.text, "gpiochip0:1 cannot be used: Device or resource busy");
}

static struct rp_wishes wishes_of(struct rig *rig, enum rp_reset reset, const char *pin)
{
    static struct rp_settings settings;
    struct rp_wishes wishes;
    memset(&settings, 0, sizeof settings);
    settings.reset = reset;
    snprintf(settings.mode_pin, sizeof settings.mode_pin, "%s", pin);
    assert_int_equal(rp_wishes_init(&wishes, &settings, &rig->problem), 0);
    return wishes;
}

/* Held for a quarter of a second, from the wish to the tick after it. */
static void a_reset_is_held_and_let_go(void **state)
{
    struct rig *rig = *state;
    open_ok(rig, 9600, NULL);
    static const struct {
        enum rp_reset reset;
        int well, held;
    } rows[] = {{RP_RESET_DTR, TIOCM_DTR, 0}, {RP_RESET_RTS, TIOCM_RTS, 0}, {RP_RESET_NONE, 0, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_wishes wishes = wishes_of(rig, rows[i].reset, "");
        modem_shim.lines = 0;
        rp_wishes_opened(&wishes, &rig->line);
        assert_int_equal(modem_shim.lines, rows[i].well);
        assert_false(
            rp_wishes_fulfil(&wishes, RP_RADIO_WISH_LINE_RESET, &rig->line, 9600, 1000000));
        assert_int_equal(modem_shim.lines, rows[i].held);
        assert_int_equal(wishes.reset_end_us, rows[i].reset == RP_RESET_NONE ? RP_NEVER : 1250000);
        rp_wishes_tick(&wishes, &rig->line, 1249999);
        assert_int_equal(modem_shim.lines, rows[i].held);
        rp_wishes_tick(&wishes, &rig->line, 1250000);
        assert_int_equal(modem_shim.lines, rows[i].well);
        assert_int_equal(wishes.reset_end_us, RP_NEVER);
        rp_wishes_deinit(&wishes);
    }
}

/* E22 user manual: configuration mode is at 9600 whatever the speed of normal mode is. */
static void the_mode_goes_with_its_speed(void **state)
{
    struct rig *rig = *state;
    struct termios t;
    modem_shim.gpio = 1;
    open_ok(rig, 57600, NULL);
    struct rp_wishes wishes = wishes_of(rig, RP_RESET_NONE, "gpiochip0:4");
    modem_shim.gpio_high = -1;
    rp_wishes_opened(&wishes, &rig->line);
    assert_int_equal(modem_shim.gpio_high, 0);
    assert_false(rp_wishes_fulfil(&wishes, RP_RADIO_WISH_MODE_CONFIG, &rig->line, 57600, 0));
    assert_int_equal(modem_shim.gpio_high, 1);
    assert_int_equal(tcgetattr(rig->own, &t), 0);
    assert_int_equal(cfgetospeed(&t), B9600);
    assert_false(rp_wishes_fulfil(&wishes, RP_RADIO_WISH_MODE_NORMAL, &rig->line, 57600, 0));
    assert_int_equal(modem_shim.gpio_high, 0);
    assert_int_equal(tcgetattr(rig->own, &t), 0);
    assert_int_equal(cfgetospeed(&t), B57600);
    assert_true(rp_wishes_fulfil(&wishes, RP_RADIO_WISH_REOPEN, &rig->line, 57600, 0));
    rp_wishes_deinit(&wishes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_signal_can_be_switched, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_speed_of_an_open_port_can_be_changed, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(a_pin_is_a_control_line_or_a_gpio_line, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_pin_that_cannot_be_used_says_why, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_reset_is_held_and_let_go, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_mode_goes_with_its_speed, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
