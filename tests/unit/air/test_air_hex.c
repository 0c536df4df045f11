/* The hex-text module against the RN2483 LoRa module command reference DS40001784G, section 2.5. */
#include "rp_test.h"

#include <string.h>

#include "modem_rig.h"

static struct air_modem modem;

static int set_up(void **state)
{
    (void)state;
    rig_boot(&modem, AIR_HEXTEXT, NULL);
    rig_ask(&modem, "mac pause", "4294967245\r\n", 0);
    return 0;
}

static void it_tells_its_version_after_a_reset(void **state)
{
    (void)state;
    rig_ask(&modem, "sys reset", "", 1000);
    rig_ask(&modem, "sys get ver", "", 1001); /* deaf while it boots */
    air_modem_tick(&modem, modem.wake_us, false, RP_NEVER);
    assert_memory_equal(modem.out, "RN2483 ", 7);
    modem.out_len = 0;
    rig_ask(&modem, "radio get wdt", "15000\r\n", 2000000);
    rig_ask(&modem, "radio rx 0", "busy\r\n", 2000000); /* the pause is forgotten */
}

static void every_setting_is_told_back(void **state)
{
    (void)state;
    static const char *const dialogue[][2] = {
        {"radio set mod lora", "ok\r\n"},       {"radio get mod", "lora\r\n"},
        {"radio set freq 869525000", "ok\r\n"}, {"radio get freq", "869525000\r\n"},
        {"radio set pwr -3", "ok\r\n"},         {"radio get pwr", "-3\r\n"},
        {"radio set sf sf9", "ok\r\n"},         {"radio get sf", "sf9\r\n"},
        {"radio set bw 250", "ok\r\n"},         {"radio get bw", "250\r\n"},
        {"radio set cr 4/7", "ok\r\n"},         {"radio get cr", "4/7\r\n"},
        {"radio set crc off", "ok\r\n"},        {"radio get crc", "off\r\n"},
        {"radio set iqi on", "ok\r\n"},         {"radio get iqi", "on\r\n"},
        {"radio set prlen 65535", "ok\r\n"},    {"radio get prlen", "65535\r\n"},
        {"radio set sync 1f", "ok\r\n"},        {"radio get sync", "1F\r\n"},
        {"radio set wdt 4294967295", "ok\r\n"}, {"radio get wdt", "4294967295\r\n"},
    };
    for (size_t i = 0; i < sizeof dialogue / sizeof dialogue[0]; i++) {
        rig_ask(&modem, dialogue[i][0], dialogue[i][1], 0);
    }
    assert_int_equal(modem.settings.freq_hz, 869525000);
    assert_int_equal(modem.settings.spreading_factor, 9);
    assert_int_equal(modem.settings.bandwidth_hz, 250000);
    assert_int_equal(modem.settings.coding_rate, 7);
    assert_int_equal(modem.settings.sync_word, 0x1f);
    assert_true(modem.settings.inverted_iq);
    assert_false(modem.settings.crc);
}

/* Section 2.5.5: freq 433050000-434790000 and 863000000-870000000, pwr -3..15, sf7..sf12, bw 125,
 * 250, 500, cr 4/5..4/8, prlen 0-65535, wdt 0-4294967295. */
static void bounds_are_kept(void **state)
{
    (void)state;
    static const char *const refused[] = {
        "radio set freq 433049999",
        "radio set freq 434790001",
        "radio set freq 862999999",
        "radio set freq 870000001",
        "radio set pwr -4",
        "radio set pwr 16",
        "radio set sf sf6",
        "radio set sf sf13",
        "radio set sf 7",
        "radio set bw 62",
        "radio set cr 4/4",
        "radio set cr 4/9",
        "radio set crc yes",
        "radio set prlen 65536",
        "radio set sync 1g",
        "radio set sync 123",
        "radio set wdt 4294967296",
        "radio set wdt -1",
        "radio set snr 1",
        "radio set",
        "radio set sf",
        "radio get nothing",
        "radio rx",
        "radio rx 65536",
        "radio rx x",
        "radio tx",
        "radio tx ",
        "radio tx 0",
        "radio tx 0g",
        "RADIO RX 0",
        "sys get",
        "radio rx  0",
        "",
        "radio set  sf sf7",
        "mac pause now",
        "sys factoryreset",
    };
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        rig_ask(&modem, refused[i], "invalid_param\r\n", 0);
    }
    static const char *const taken[] = {"radio set freq 433050000", "radio set freq 434790000",
                                        "radio set freq 863000000", "radio set freq 870000000",
                                        "radio set pwr 15",         "radio set prlen 0"};
    for (size_t i = 0; i < sizeof taken / sizeof taken[0]; i++) {
        rig_ask(&modem, taken[i], "ok\r\n", 0);
    }
    rig_write(&modem, "radio set sf sf7\n", 17, 0);
    rig_expect(&modem, "invalid_param\r\n", 15);
}

/* DS40001811: 902000000-928000000 Hz, 2..20 dBm. */
static void the_american_module_has_its_own_bounds(void **state)
{
    (void)state;
    struct air_options options = air_options_default(AIR_HEXTEXT);
    options.rn2903 = true;
    rig_boot(&modem, AIR_HEXTEXT, &options);
    rig_ask(&modem, "radio set freq 868100000", "invalid_param\r\n", 0);
    rig_ask(&modem, "radio set freq 902000000", "ok\r\n", 0);
    rig_ask(&modem, "radio set freq 928000000", "ok\r\n", 0);
    rig_ask(&modem, "radio set pwr 1", "invalid_param\r\n", 0);
    rig_ask(&modem, "radio set pwr 20", "ok\r\n", 0);
}

static void sending_has_two_answers(void **state)
{
    (void)state;
    rig_ask(&modem, "radio tx 48656C6c6f00", "ok\r\n", 0);
    rig_expect_sending(&modem, "Hello\0", 6);
    rig_ask(&modem, "radio tx 01", "busy\r\n", 10);
    rig_ask(&modem, "radio rx 0", "busy\r\n", 10);
    air_modem_sent(&modem, 50000);
    rig_expect(&modem, "radio_tx_ok\r\n", 13);
    assert_false(modem.listening); /* deaf until told to receive */
    modem.fail_sends = 1;
    rig_ask(&modem, "radio tx 01", "ok\r\nradio_err\r\n", 60000);
    char line[600] = "radio tx ";
    memset(line + 9, 'a', 512);
    rig_ask(&modem, line, "invalid_param\r\n", 70000); /* 256 bytes */
    line[9 + 510] = '\0';
    rig_ask(&modem, line, "ok\r\n", 70000);
    assert_int_equal(modem.frame.len, 255);
}

static void receiving_ends_after_one_packet(void **state)
{
    (void)state;
    struct air_frame frame = {.len = 3, .bytes = {0x00, 0xab, 0x7f}};
    rig_ask(&modem, "radio rx 0", "ok\r\n", 0);
    assert_true(modem.listening);
    rig_ask(&modem, "radio tx 01", "busy\r\n", 10);
    air_modem_heard(&modem, &frame, -101, -7, 20);
    rig_expect(&modem, "radio_rx  00AB7F\r\n", 18);
    assert_false(modem.listening);
    rig_ask(&modem, "radio get snr", "-7\r\n", 30);
    rig_ask(&modem, "radio get rssi", "-101\r\n", 30);
    air_modem_heard(&modem, &frame, -101, -7, 40);
    rig_expect(&modem, "", 0);
}

static void settings_while_receiving_count_from_the_next_time(void **state)
{
    (void)state;
    rig_ask(&modem, "radio set sf sf7", "ok\r\n", 0);
    rig_ask(&modem, "radio rx 0", "ok\r\n", 0);
    rig_ask(&modem, "radio set sf sf9", "ok\r\n", 0);
    assert_int_equal(modem.hearing.spreading_factor, 7);
    rig_ask(&modem, "radio rxstop", "ok\r\n", 0);
    assert_false(modem.listening);
    rig_ask(&modem, "radio rx 0", "ok\r\n", 0);
    assert_int_equal(modem.hearing.spreading_factor, 9);
}

/* 10 symbols of SF7 at 125 kHz are 10.24 ms. A packet that comes in is taken to its end. */
static void the_window_closes_after_its_symbols(void **state)
{
    (void)state;
    rig_ask(&modem, "radio set sf sf7", "ok\r\n", 0);
    rig_ask(&modem, "radio rx 10", "ok\r\n", 1000);
    assert_int_equal(modem.wake_us, 11240);
    air_modem_tick(&modem, 11240, false, RP_NEVER);
    rig_expect(&modem, "radio_err\r\n", 11);
    rig_ask(&modem, "radio rx 10", "ok\r\n", 100000);
    air_modem_tick(&modem, 110240, true, 150000);
    rig_expect(&modem, "", 0);
    assert_true(modem.listening);
    struct air_frame frame = {.len = 1, .bytes = {0x42}};
    air_modem_heard(&modem, &frame, -90, 3, 150000);
    rig_expect(&modem, "radio_rx  42\r\n", 14);
}

static void the_watchdog_ends_both(void **state)
{
    (void)state;
    rig_ask(&modem, "radio rx 0", "ok\r\n", 0);
    assert_int_equal(modem.wake_us, 15000000);
    air_modem_tick(&modem, 15000000, false, 15000001);
    rig_expect(&modem, "radio_err\r\n", 11);
    rig_ask(&modem, "radio set wdt 100", "ok\r\n", 0);
    rig_ask(&modem, "radio tx 01", "ok\r\n", 20000000);
    rig_expect_sending(&modem, "\x01", 1);
    air_modem_tick(&modem, 20100000, false, RP_NEVER);
    assert_true(modem.abort);
    rig_expect(&modem, "radio_err\r\n", 11);
    rig_ask(&modem, "radio set wdt 0", "ok\r\n", 0);
    rig_ask(&modem, "radio rx 0", "ok\r\n", 30000000);
    assert_true(modem.wake_us == RP_NEVER);
}

static void the_stack_must_be_paused_first(void **state)
{
    (void)state;
    rig_ask(&modem, "mac resume", "ok\r\n", 0);
    rig_ask(&modem, "radio rx 0", "busy\r\n", 0);
    rig_ask(&modem, "radio tx 00", "busy\r\n", 0);
    rig_ask(&modem, "mac pause", "4294967245\r\n", 0);
    rig_ask(&modem, "radio rx 0", "ok\r\n", 0);
}

static void spoiled_frames_are_told_only_when_asked(void **state)
{
    (void)state;
    rig_ask(&modem, "radio rx 0", "ok\r\n", 0);
    air_modem_garbled(&modem, 10);
    rig_expect(&modem, "", 0);
    modem.options.report_garbled = true;
    air_modem_garbled(&modem, 20);
    rig_expect(&modem, "radio_err\r\n", 11);
    assert_false(modem.listening);
}

static void a_stuck_module_is_busy_until_the_power_is_cycled(void **state)
{
    (void)state;
    air_modem_set_stuck(&modem, true, 0);
    rig_ask(&modem, "radio rx 0", "busy\r\n", 0);
    rig_ask(&modem, "sys reset", "", 0);
    air_modem_tick(&modem, modem.wake_us, false, RP_NEVER);
    modem.out_len = 0;
    rig_ask(&modem, "mac pause", "4294967245\r\n", 1000000);
    rig_ask(&modem, "radio rx 0", "busy\r\n", 1000000);
    air_modem_power(&modem, 2000000);
    air_modem_tick(&modem, modem.wake_us, false, RP_NEVER);
    modem.out_len = 0;
    rig_ask(&modem, "mac pause", "4294967245\r\n", 3000000);
    rig_ask(&modem, "radio rx 0", "ok\r\n", 3000000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(it_tells_its_version_after_a_reset, set_up),
        cmocka_unit_test_setup(every_setting_is_told_back, set_up),
        cmocka_unit_test_setup(bounds_are_kept, set_up),
        cmocka_unit_test_setup(the_american_module_has_its_own_bounds, set_up),
        cmocka_unit_test_setup(sending_has_two_answers, set_up),
        cmocka_unit_test_setup(receiving_ends_after_one_packet, set_up),
        cmocka_unit_test_setup(settings_while_receiving_count_from_the_next_time, set_up),
        cmocka_unit_test_setup(the_window_closes_after_its_symbols, set_up),
        cmocka_unit_test_setup(the_watchdog_ends_both, set_up),
        cmocka_unit_test_setup(the_stack_must_be_paused_first, set_up),
        cmocka_unit_test_setup(spoiled_frames_are_told_only_when_asked, set_up),
        cmocka_unit_test_setup(a_stuck_module_is_busy_until_the_power_is_cycled, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
