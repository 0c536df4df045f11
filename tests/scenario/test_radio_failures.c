/* What goes wrong with serial radios in the field, driver by driver, against the emulated modems:
 * after each failure the link must carry frames again by itself. The numbers are those of
 * tests/replay/FAILURES.md, where the evidence and the tests of other kinds are listed. Behaviour
 * of the modems: see the sources named in tools/air/modem/. */
#include "rp_test.h"

#include <string.h>

#include "radio_rig.h"
#include "ridgepost/error.h"

static const struct rig_family families[] = {
    {.driver = "kiss", .modem = "kiss txdelay=10"},
    {.driver = "kiss-crc", .modem = "kiss txdelay=10 smack=on", .checked = true},
    {.driver = "kiss-ack", .modem = "kiss-ack txdelay=10"},
    {.driver = "at", .modem = "at", .answers = true, .checked = true},
    {.driver = "hextext", .modem = "hextext baud=57600", .answers = true},
    {.driver = "uart-e22", .modem = "uart rssi=on", .checked = true},
    {.driver = "uart-e32", .modem = "uart chip=e32", .checked = true},
    {.driver = "uart-e220", .modem = "uart chip=e220", .checked = true},
    {.driver = "at-old", .modem = "at chip=rylr896", .answers = true, .checked = true},
};
enum { FAMILIES = sizeof families / sizeof families[0] };

static struct rig rig;

static bool is(const struct rig_family *family, const char *start)
{
    return strncmp(family->driver, start, strlen(start)) == 0;
}

static void must_deliver(const struct rig_family *family, const char *when, int64_t limit_ms)
{
    if (!rig_deliver(&rig, limit_ms)) {
        fail_msg("%s does not deliver %s: %s; %s", family->driver, when,
                 rp_radio_ladder(&rig.stations[0].radio), rig.stations[0].fault);
    }
}

/* As assert_int_equal, and says of which family. */
static void same(const struct rig_family *family, const char *what, unsigned got, unsigned wanted)
{
    if (got != wanted) {
        fail_msg("%s: %s: %u, not %u", family->driver, what, got, wanted);
    }
}

/* Runs `body` for every family, each on a fresh rig that works. */
static void for_each(void (*body)(const struct rig_family *family))
{
    for (size_t i = 0; i < FAMILIES; i++) {
        rig_start(&rig, &families[i], 40 + i);
        must_deliver(&families[i], "at first", 5000);
        body(&families[i]);
    }
}

static void write_raw(unsigned station, const char *text)
{
    air_world_host_wrote(&rig.world, station, (struct rp_view){(const uint8_t *)text, strlen(text)},
                         rig.now_us);
}

/* 1: another program spoke to the modem before us, in the words of its own trade. */
static void another_program_spoke_first(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        rig_init(&rig, &families[i], 1);
        rig_run_ms(&rig, 1000);
        write_raw(0, "AT\r\nATE0\r\nAT+CGMI\r\nATZ\r\n~\x7f\x21");
        write_raw(1, "AT+GCAP\r\n\r");
        rig_open(&rig, 0);
        rig_open(&rig, 1);
        must_deliver(&families[i], "after another program", 15000);
    }
}

/* 2: the port vanishes a second after it was plugged in, again and again. */
static void vanishes_after_attach_body(const struct rig_family *family)
{
    for (int i = 0; i < 3; i++) {
        rig_tell(&rig, "unplug high");
        rig_run_ms(&rig, 500);
        rig_tell(&rig, "plug high");
        rig_run_ms(&rig, 1200);
    }
    must_deliver(family, "after a port that came and went", 15000);
}

static void the_port_vanishes_after_attach(void **state)
{
    (void)state;
    for_each(vanishes_after_attach_body);
}

/* 3: power is gone and comes back: everything the module knew is lost. */
static void drop_body(const struct rig_family *family)
{
    rig_tell(&rig, "unplug high");
    rig_run_ms(&rig, 60000);
    rig_tell(&rig, "plug high");
    must_deliver(family, "after a drop", 15000);
}

static void the_port_drops_and_comes_back(void **state)
{
    (void)state;
    for_each(drop_body);
}

/* 5, 29: the port goes at any instant between handing a frame over and its outcome. The outcome is
 * told exactly once; unless it was SENT the frame counts as perhaps aired; it is sent again. */
static void gone_while_sending(const struct rig_family *family, int64_t after_ms)
{
    rig_start(&rig, family, 5);
    assert_true(rig_send(&rig, 5000));
    rig_run_ms(&rig, after_ms);
    const struct rig_station *high = &rig.stations[0];
    bool finished = high->sent > 0;
    rig_tell(&rig, "unplug high");
    rig_run_ms(&rig, 1);
    assert_int_equal(high->sent + high->unsent, 1);
    assert_int_equal(high->maybe, finished ? 0 : 1);
    rig_tell(&rig, "plug high");
    must_deliver(family, "after the port went while sending", 15000);
}

static void the_port_goes_while_sending(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        for (int64_t after_ms = 0; after_ms < 200; after_ms += 9) {
            gone_while_sending(&families[i], after_ms);
        }
    }
}

/* 7: opening the port resets the board; it talks while it starts, and is deaf for a while. */
static void opening_restarts_the_board(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        rig_init(&rig, &families[i], 7);
        rig_run_ms(&rig, 1000);
        for (unsigned station = 0; station < RIG_STATIONS; station++) {
            rig_open(&rig, station);
            rig_tell(&rig, station == 0 ? "restart high" : "restart base");
            rig_tell(&rig, station == 0 ? "rubbish high 30" : "rubbish base 30");
        }
        must_deliver(&families[i], "after opening reset the board", 15000);
    }
}

/* 8: the module restarts at any instant, also between a command and its answer. */
static void the_module_restarts_at_any_instant(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        for (int64_t after_ms = 0; after_ms < 300; after_ms += 13) {
            rig_start(&rig, &families[i], 8);
            assert_true(rig_send(&rig, 5000));
            rig_run_ms(&rig, after_ms);
            rig_tell(&rig, "restart high");
            rig_run_ms(&rig, 300);
            must_deliver(&families[i], "after a restart", 15000);
            bool told = rig.stations[0].radio.counters.restarts > 0;
            assert_true(told || !families[i].answers);
        }
    }
}

/* 9: the module's serial speed is another one now, for good. A modem that speaks in lines is found
 * again by trying a list; the others say nothing at any speed, so that nobody can tell. */
static void the_speed_changes_body(const struct rig_family *family)
{
    if (!family->answers) {
        return;
    }
    bool at = is(family, "at");
    rig_tell(&rig, at ? "speed high 9600" : "speed high 19200");
    must_deliver(family, "at another speed", 400000);
    assert_true(rig.stations[0].radio.counters.reopens >= 1);
    assert_int_equal(rp_radio_baud(&rig.stations[0].radio), at ? 9600 : 19200);
}

static void the_speed_changes(void **state)
{
    (void)state;
    for_each(the_speed_changes_body);
}

/* 10: deaf to everything, then busy for ever. The ladder is climbed to a fault that names the
 * cause; where the reset input is wired, the module comes back by itself. */
static void deaf_or_busy(const struct rig_family *family, const char *command)
{
    rig_start(&rig, family, 10);
    rig.stations[0].reset_wired = true;
    rig_tell(&rig, command);
    if (family->answers) {
        must_deliver(family, command, 60000);
        assert_true(rig.stations[0].faults >= 1);
        assert_true(rig.stations[0].radio.counters.line_resets >= 1);
        return;
    }
    /* Nothing is told by these, so nothing can be seen: the frames are gone, and the next ones
     * after somebody has switched it off and on go. */
    assert_true(rig_send(&rig, 5000));
    rig_run_ms(&rig, 20000);
    assert_int_equal(rig.stations[1].frames, 0);
    rig_tell(&rig, "restart high");
    must_deliver(family, "after it was switched off and on", 15000);
}

static void the_module_is_deaf_or_busy(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        deaf_or_busy(&families[i], "hang high on");
        deaf_or_busy(&families[i], "stuck high on");
    }
}

/* 11: the end of sending is never told. What is told by the modem is waited for and then counted as
 * perhaps aired; what is timed does not notice. */
static void no_end_body(const struct rig_family *family)
{
    const struct rig_station *high = &rig.stations[0];
    unsigned maybe = high->maybe;
    bool proof = is(family, "hextext") || is(family, "kiss-ack");
    rig_tell(&rig, "noend high 1");
    assert_true(rig_send(&rig, 5000));
    rig_run_ms(&rig, 6000);
    same(family, "perhaps aired", high->maybe - maybe, proof ? 1 : 0);
    must_deliver(family, "after an end that was not told", 15000);
}

static void the_end_of_sending_is_not_told(void **state)
{
    (void)state;
    for_each(no_end_body);
}

/* 12: each sending pulls the supply down, four times in a row. A module that says when it starts
 * shows it: the fault names supply and power. */
static void brown_out_body(const struct rig_family *family)
{
    const struct rig_station *high = &rig.stations[0];
    rig_tell(&rig, "brownout high 4");
    for (int i = 0; i < 4; i++) {
        rig_send(&rig, 10000);
        rig_run_ms(&rig, 3000);
    }
    if (family->answers) {
        assert_string_equal(high->fault,
                            "the module restarts again and again: check its supply and "
                            "battery, lower power_dbm");
    }
    must_deliver(family, "after brown-outs", 30000);
}

static void sending_browns_out(void **state)
{
    (void)state;
    for_each(brown_out_body);
}

/* 13: a byte of rubbish stands before the first one after each power-up. */
static void first_byte_body(const struct rig_family *family)
{
    rig_tell(&rig, "first high 252");
    rig_tell(&rig, "restart high");
    rig_run_ms(&rig, 300);
    must_deliver(family, "with rubbish after power-up", 15000);
}

static void the_first_byte_is_rubbish(void **state)
{
    (void)state;
    for_each(first_byte_body);
}

/* 14, 20: serial bytes vanish or appear, 0.3 % of them, both ways. Frames get there all the same;
 * where the framing has a check, no spoiled one is taken for good. (The others' frames are told
 * apart by their seal, above this layer.) */
static void damage_body(const struct rig_family *family, const char *high, const char *base)
{
    /* A modem uses the check once its host has. */
    rp_radio_send(&rig.stations[1].radio, (struct rp_view){rig.frame, rig.frame_len}, rig.now_us);
    rig_run_ms(&rig, 2000);
    rig_tell(&rig, high);
    rig_tell(&rig, base);
    for (int i = 0; i < 30; i++) {
        must_deliver(family, "over a serial line that spoils bytes", 120000);
    }
    if (family->checked) {
        same(family, "wrong frames", rig.stations[1].wrong, 0);
    }
}

static void vanish_body(const struct rig_family *family)
{
    damage_body(family, "drop high 3000", "drop base 3000");
}

static void serial_bytes_vanish(void **state)
{
    (void)state;
    for_each(vanish_body);
}

static void appear_body(const struct rig_family *family)
{
    damage_body(family, "add high 3000", "add base 3000");
}

static void serial_bytes_appear(void **state)
{
    (void)state;
    for_each(appear_body);
}

/* 15: a frame is handed over while another one is arriving. Half duplex: one of them may be lost on
 * the air, but neither driver is confused. */
static void crossing_body(const struct rig_family *family)
{
    struct rp_radio *base = &rig.stations[1].radio;
    for (int64_t after_ms = 0; after_ms < 120; after_ms += 17) {
        assert_true(rig_send(&rig, 5000));
        rig_run_ms(&rig, after_ms);
        rp_radio_send(base, (struct rp_view){rig.frame, rig.frame_len}, rig.now_us);
        rig_run_ms(&rig, 2000);
    }
    assert_int_equal(rig.stations[0].wrong + rig.stations[1].wrong, 0);
    must_deliver(family, "after frames that crossed", 5000);
}

static void frames_cross(void **state)
{
    (void)state;
    for_each(crossing_body);
}

/* 16: what is written comes back. It is no answer, and it spoils nothing. */
static void echo_body(const struct rig_family *family)
{
    rig_tell(&rig, "echo high on");
    must_deliver(family, "with an echo", 15000);
    rig_tell(&rig, "restart high");
    rig_run_ms(&rig, 300);
    must_deliver(family, "after a restart with an echo", 15000);
}

static void the_line_echoes(void **state)
{
    (void)state;
    for_each(echo_body);
}

/* 16: a terminal that is not raw eats bytes and changes others. No byte of it stops the driver, and
 * all is well when the terminal is. */
static void cooked_body(const struct rig_family *family)
{
    rig_tell(&rig, "cooked high on");
    rig_send(&rig, 1000);
    rig_run_ms(&rig, 30000);
    rig_tell(&rig, "cooked high off");
    must_deliver(family, "after the line was cooked", 200000);
}

static void the_line_is_cooked_for_a_while(void **state)
{
    (void)state;
    for_each(cooked_body);
}

/* 17: every byte value, and the longest frame. */
static void all_bytes_body(const struct rig_family *family)
{
    rig.frame_len = rp_radio_frame_len_max(&rig.stations[0].radio);
    for (unsigned first = 0; first < 256; first += 100) {
        for (size_t i = 0; i < rig.frame_len; i++) {
            rig.frame[i] = (uint8_t)(first + i);
        }
        must_deliver(family, "every byte value", 15000);
    }
}

static void every_byte_value_passes(void **state)
{
    (void)state;
    for_each(all_bytes_body);
}

/* 22: an earlier program was killed in the middle of a frame or a command. */
static void half_a_command_was_left(void **state)
{
    (void)state;
    static const char *const halves[] = {"\xc0\x01\x41\x42", "AT+SEND=0,12,Zm9", "radio tx 4142",
                                         "\x5a\x10\x20"};
    for (size_t i = 0; i < FAMILIES; i++) {
        for (size_t half = 0; half < 4; half++) {
            rig_init(&rig, &families[i], 22);
            rig_run_ms(&rig, 1000);
            write_raw(0, halves[half]);
            rig_run_ms(&rig, 10);
            rig_open(&rig, 0);
            rig_open(&rig, 1);
            must_deliver(&families[i], "after half a command", 15000);
            assert_int_equal(rig.stations[1].wrong, 0);
        }
    }
}

/* 24: the oscillators drift apart in the frost. Up to a quarter of the bandwidth is heard (users of
 * such modules report 20 to 25 %); 31.25 kHz at 125 kHz. */
static void frost_body(const struct rig_family *family)
{
    rig_tell(&rig, "offset high 21000"); /* 25 ppm at 868 MHz */
    must_deliver(family, "21 kHz off", 5000);
    rig_tell(&rig, "offset high 32000");
    assert_false(rig_deliver(&rig, 3000));
    rig_tell(&rig, "offset high 0");
    must_deliver(family, "when it is warm again", 5000);
}

static void the_crystal_drifts(void **state)
{
    (void)state;
    for_each(frost_body);
}

/* 26: the host slept for an hour in the middle of something. */
static void the_host_sleeps(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        for (int64_t after_ms = 0; after_ms < 200; after_ms += 23) {
            rig_start(&rig, &families[i], 26);
            assert_true(rig_send(&rig, 5000));
            rig_run_ms(&rig, after_ms);
            rig.now_us += (rp_time_us)3600 * 1000000;
            rig_run_ms(&rig, 100);
            must_deliver(&families[i], "after an hour asleep", 15000);
        }
    }
}

/* 27: four kilobytes of noise, in pieces, from a line that is not terminated. */
static void noise_body(const struct rig_family *family)
{
    for (int i = 0; i < 4; i++) {
        rig_tell(&rig, "rubbish high 1000");
        rig_tell(&rig, "rubbish base 1000");
        rig_run_ms(&rig, 300);
    }
    must_deliver(family, "after noise", 30000);
}

static void the_line_is_noisy(void **state)
{
    (void)state;
    for_each(noise_body);
}

/* 28: somebody has changed the settings that a module keeps. They are set again at the start; of a
 * transparent module only where its mode pin is wired. */
static void foreign_settings_are_set_again(void **state)
{
    (void)state;
    static const struct {
        const char *driver, *modem, *command;
    } rows[] = {
        {"at", "at", "AT+NETWORKID=5\r\n"},
        {"at", "at", "AT+ADDRESS=77\r\n"},
        {"at", "at", "AT+BAND=433000000,M\r\n"},
        {"at-old", "at chip=rylr896", "AT+NETWORKID=16\r\n"},
        {"hextext", "hextext baud=57600", "radio set freq 863000000\r\n"},
        {"uart-e22", "uart", "\xc0\x05\x01\x07"},                  /* channel 7 */
        {"uart-e22", "uart", "\xc0\x06\x01\x60"},                  /* fixed mode, repeater */
        {"uart-e32", "uart chip=e32", "\xc0\x01\x02\x1a\x07\xc4"}, /* another channel, fixed mode */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rig_family family = {.driver = rows[i].driver, .modem = rows[i].modem};
        rig_init(&rig, &family, 28);
        rig_run_ms(&rig, 1000);
        for (unsigned station = 0; station < RIG_STATIONS; station++) {
            rp_radio_set_mode_pin(&rig.stations[station].radio, true);
            rig.stations[station].mode_wired = true;
        }
        rig_tell(&rig, is(&family, "uart") ? "config high on" : "mute high off");
        write_raw(0, rows[i].command);
        rig_run_ms(&rig, 100);
        rig_tell(&rig, is(&family, "uart") ? "config high off" : "mute high off");
        rig_open(&rig, 0);
        rig_open(&rig, 1);
        must_deliver(&family, "after foreign settings", 15000);
    }
}

/* The signal byte of a transparent module is found, and is the strength the air gave the frame. */
static void a_signal_byte_is_detected(void **state)
{
    (void)state;
    rig_start(&rig, &families[5], 6);
    rig_tell(&rig, "signal high base -101 -4");
    for (int i = 0; i < 5; i++) {
        must_deliver(&families[5], "with a signal byte", 5000);
    }
    assert_true(rig.stations[1].has_rssi);
    assert_int_equal(rig.stations[1].rssi_dbm, -101);
    assert_int_equal(rig.stations[1].wrong, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(another_program_spoke_first),
        cmocka_unit_test(the_port_vanishes_after_attach),
        cmocka_unit_test(the_port_drops_and_comes_back),
        cmocka_unit_test(the_port_goes_while_sending),
        cmocka_unit_test(opening_restarts_the_board),
        cmocka_unit_test(the_module_restarts_at_any_instant),
        cmocka_unit_test(the_speed_changes),
        cmocka_unit_test(the_module_is_deaf_or_busy),
        cmocka_unit_test(the_end_of_sending_is_not_told),
        cmocka_unit_test(sending_browns_out),
        cmocka_unit_test(the_first_byte_is_rubbish),
        cmocka_unit_test(serial_bytes_vanish),
        cmocka_unit_test(serial_bytes_appear),
        cmocka_unit_test(frames_cross),
        cmocka_unit_test(the_line_echoes),
        cmocka_unit_test(the_line_is_cooked_for_a_while),
        cmocka_unit_test(every_byte_value_passes),
        cmocka_unit_test(half_a_command_was_left),
        cmocka_unit_test(the_crystal_drifts),
        cmocka_unit_test(the_host_sleeps),
        cmocka_unit_test(the_line_is_noisy),
        cmocka_unit_test(foreign_settings_are_set_again),
        cmocka_unit_test(a_signal_byte_is_detected),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
