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
#include "serial_rig.h"

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
        cmocka_unit_test_setup_teardown(each_signal_can_be_switched, rig_set_up, rig_tear_down),
        cmocka_unit_test_setup_teardown(the_speed_of_an_open_port_can_be_changed, rig_set_up,
                                        rig_tear_down),
        cmocka_unit_test_setup_teardown(a_pin_is_a_control_line_or_a_gpio_line, rig_set_up,
                                        rig_tear_down),
        cmocka_unit_test_setup_teardown(a_pin_that_cannot_be_used_says_why, rig_set_up,
                                        rig_tear_down),
        cmocka_unit_test_setup_teardown(a_reset_is_held_and_let_go, rig_set_up, rig_tear_down),
        cmocka_unit_test_setup_teardown(the_mode_goes_with_its_speed, rig_set_up, rig_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
