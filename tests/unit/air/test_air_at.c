/* The AT module against the RYLR998/498 AT command guide (2025): answers, bounds, error codes. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "modem_rig.h"

static struct air_modem modem;

static int set_up(void **state)
{
    (void)state;
    rig_boot(&modem, AIR_AT, NULL);
    return 0;
}

static void it_boots_and_resets_with_its_banners(void **state)
{
    (void)state;
    air_modem_power(&modem, 1000);
    assert_false(modem.listening);
    rig_ask(&modem, "AT", "", 1001); /* deaf while it boots */
    air_modem_tick(&modem, modem.wake_us, false, RP_NEVER);
    rig_expect(&modem, "+READY\r\n", 8);
    assert_true(modem.listening);
    rig_ask(&modem, "AT", "+OK\r\n", 2000000);
    rig_ask(&modem, "AT+RESET", "+RESET\r\n", 3000000);
    air_modem_tick(&modem, modem.wake_us, false, RP_NEVER);
    rig_expect(&modem, "+READY\r\n", 8);
}

static void every_setting_is_told_back(void **state)
{
    (void)state;
    static const char *const dialogue[][2] = {
        {"AT+BAND=868500000", "+OK\r\n"},
        {"AT+BAND?", "+BAND=868500000\r\n"},
        {"AT+PARAMETER=8,7,1,12", "+OK\r\n"},
        {"AT+PARAMETER?", "+PARAMETER=8,7,1,12\r\n"},
        {"AT+ADDRESS=120", "+OK\r\n"},
        {"AT+ADDRESS?", "+ADDRESS=120\r\n"},
        {"AT+NETWORKID=6", "+OK\r\n"},
        {"AT+NETWORKID?", "+NETWORKID=6\r\n"},
        {"AT+CPIN?", "+CPIN=No Password!\r\n"},
        {"AT+CPIN=EEDCAA90", "+OK\r\n"},
        {"AT+CPIN?", "+CPIN=EEDCAA90\r\n"},
        {"AT+CRFOP=10", "+OK\r\n"},
        {"AT+CRFOP?", "+CRFOP=10\r\n"},
        {"AT+MODE=2,3000,3000", "+OK\r\n"},
        {"AT+MODE?", "+MODE=2,3000,3000\r\n"},
        {"AT+MODE=0", "+OK\r\n"},
        {"AT+MODE?", "+MODE=0\r\n"},
        {"AT+IPR?", "+IPR=115200\r\n"},
        {"AT+IPR=9600", "+IPR=9600\r\n"},
        {"AT+IPR?", "+IPR=9600\r\n"},
        {"AT+FACTORY", "+FACTORY\r\n"},
        {"AT+IPR?", "+IPR=115200\r\n"},
        {"AT+PARAMETER?", "+PARAMETER=9,7,1,12\r\n"},
        {"AT+NETWORKID?", "+NETWORKID=18\r\n"},
        {"AT+CRFOP?", "+CRFOP=22\r\n"},
    };
    for (size_t i = 0; i < sizeof dialogue / sizeof dialogue[0]; i++) {
        rig_ask(&modem, dialogue[i][0], dialogue[i][1], 1000);
    }
}

static void settings_reach_the_air(void **state)
{
    (void)state;
    rig_ask(&modem, "AT+BAND=868500000", "+OK\r\n", 0);
    rig_ask(&modem, "AT+PARAMETER=10,8,4,24", "+OK\r\n", 0);
    assert_int_equal(modem.settings.freq_hz, 868500000);
    assert_int_equal(modem.hearing.freq_hz, 868500000);
    assert_int_equal(modem.settings.bandwidth_hz, 250000);
    assert_int_equal(modem.settings.spreading_factor, 10);
    assert_int_equal(modem.settings.coding_rate, 8);
    assert_int_equal(modem.settings.preamble_symbols, 24);
    assert_int_equal(modem.settings.sync_word, 0x12);
    rig_ask(&modem, "AT+MODE=1", "+OK\r\n", 0);
    assert_false(modem.listening);
    rig_ask(&modem, "AT+MODE=0", "+OK\r\n", 0);
    assert_true(modem.listening);
}

/* Guide, AT+PARAMETER: SF7-9 at 125 kHz, 7-10 at 250, 7-11 at 500; CR 1-4; preamble 12, or 4 to
 * 24 with NETWORKID 18. AT+NETWORKID: 3-15 and 18. AT+CRFOP: 0-22. AT+MODE=2: 30 to 60000 ms. */
static void bounds_are_kept(void **state)
{
    (void)state;
    static const char *const dialogue[][2] = {
        {"AT+PARAMETER=9,7,1,12", "+OK\r\n"},
        {"AT+PARAMETER=10,7,1,12", "+ERR=4\r\n"},
        {"AT+PARAMETER=10,8,1,12", "+OK\r\n"},
        {"AT+PARAMETER=11,8,1,12", "+ERR=4\r\n"},
        {"AT+PARAMETER=11,9,1,12", "+OK\r\n"},
        {"AT+PARAMETER=12,9,1,12", "+ERR=4\r\n"},
        {"AT+PARAMETER=9,6,1,12", "+ERR=4\r\n"},
        {"AT+PARAMETER=9,7,0,12", "+ERR=4\r\n"},
        {"AT+PARAMETER=9,7,5,12", "+ERR=4\r\n"},
        {"AT+PARAMETER=9,7,1", "+ERR=4\r\n"},
        {"AT+PARAMETER=9,7,1,12,1", "+ERR=4\r\n"},
        {"AT+PARAMETER=9,7,1,3", "+ERR=18\r\n"},
        {"AT+PARAMETER=9,7,1,4", "+OK\r\n"},
        {"AT+PARAMETER=9,7,1,25", "+ERR=18\r\n"},
        {"AT+NETWORKID=2", "+ERR=4\r\n"},
        {"AT+NETWORKID=16", "+ERR=4\r\n"},
        {"AT+NETWORKID=15", "+OK\r\n"},
        {"AT+PARAMETER=9,7,1,11", "+ERR=18\r\n"},
        {"AT+CRFOP=23", "+ERR=4\r\n"},
        {"AT+ADDRESS=65536", "+ERR=4\r\n"},
        {"AT+ADDRESS=65535", "+OK\r\n"},
        {"AT+MODE=3", "+ERR=4\r\n"},
        {"AT+MODE=2,29,3000", "+ERR=20\r\n"},
        {"AT+MODE=2,3000,60001", "+ERR=20\r\n"},
        {"AT+CPIN=1234567", "+ERR=4\r\n"},
        {"AT+CPIN=1234567G", "+ERR=4\r\n"},
        {"AT+IPR=115201", "+ERR=4\r\n"},
        {"AT+BAND=abc", "+ERR=4\r\n"},
    };
    for (size_t i = 0; i < sizeof dialogue / sizeof dialogue[0]; i++) {
        rig_ask(&modem, dialogue[i][0], dialogue[i][1], 1000);
    }
}

static void bad_lines_have_their_codes(void **state)
{
    (void)state;
    rig_ask(&modem, "XT", "+ERR=2\r\n", 0);
    rig_ask(&modem, "AT+NOTHING=1", "+ERR=4\r\n", 0);
    rig_ask(&modem, "AT+UID=1", "+ERR=4\r\n", 0);
    rig_ask(&modem, "ATX", "+ERR=4\r\n", 0);
    rig_write(&modem, "AT\n", 3, 0);
    rig_expect(&modem, "+ERR=1\r\n", 8);
    char flood[2000];
    memset(flood, 'A', sizeof flood);
    rig_write(&modem, flood, sizeof flood, 0);
    rig_expect(&modem, "", 0);
    rig_ask(&modem, "", "+ERR=1\r\n", 0);
    rig_ask(&modem, "AT", "+OK\r\n", 0);
}

static void sending_checks_length_and_waits_its_turn(void **state)
{
    (void)state;
    rig_ask(&modem, "AT+ADDRESS=7", "+OK\r\n", 0);
    rig_ask(&modem, "AT+SEND=50,5,HELLO", "+OK\r\n", 0);
    rig_expect_sending(&modem, "HELLO", 5);
    assert_int_equal(modem.frame.from, 7);
    assert_int_equal(modem.frame.to, 50);
    assert_int_equal(modem.frame.extra_len, 8);
    rig_ask(&modem, "AT+SEND=50,5,AGAIN", "+ERR=17\r\n", 0);
    air_modem_sent(&modem, 100);
    rig_ask(&modem, "AT+SEND?", "+SEND=50,5,HELLO\r\n", 100);
    rig_ask(&modem, "AT+SEND=0,3,a,b", "+OK\r\n", 100); /* a comma is data */
    rig_expect_sending(&modem, "a,b", 3);
    air_modem_sent(&modem, 200);
    rig_ask(&modem, "AT+SEND=0,4,abc", "+ERR=5\r\n", 200);
    rig_ask(&modem, "AT+SEND=0,2,abc", "+ERR=5\r\n", 200);
    char line[300];
    snprintf(line, sizeof line, "AT+SEND=0,240,%0240d", 0);
    rig_ask(&modem, line, "+OK\r\n", 200);
    assert_int_equal(modem.frame.len, 240);
    air_modem_sent(&modem, 300);
    snprintf(line, sizeof line, "AT+SEND=0,241,%0241d", 0);
    rig_ask(&modem, line, "+ERR=13\r\n", 300);
}

static void unsafe_bytes_break_a_send_and_others_pass(void **state)
{
    (void)state;
    rig_write(&modem, "AT+SEND=0,3,a\0b\r\n", 17, 0);
    rig_expect(&modem, "+ERR=5\r\n", 8);
    rig_write(&modem, "AT+SEND=0,4,a\r\nb\r\n", 18, 0);
    rig_expect(&modem, "+ERR=5\r\n+ERR=2\r\n", 16);
    rig_write(&modem, "AT+SEND=0,4,\x01\x7f\x80\xff\r\n", 18, 0);
    rig_expect(&modem, "+OK\r\n", 5);
    rig_expect_sending(&modem, "\x01\x7f\x80\xff", 4);
}

static void a_failing_or_stuck_transmitter_says_so(void **state)
{
    (void)state;
    modem.fail_sends = 1;
    rig_ask(&modem, "AT+SEND=0,1,x", "+ERR=10\r\n", 0);
    rig_ask(&modem, "AT+SEND=0,1,x", "+OK\r\n", 0);
    modem.frame_ready = false;
    air_modem_sent(&modem, 10);
    air_modem_set_stuck(&modem, true, 10);
    rig_ask(&modem, "AT+SEND=0,1,x", "+ERR=17\r\n", 20);
}

static void late_ok_comes_when_the_frame_has_left(void **state)
{
    (void)state;
    struct air_options options = air_options_default(AIR_AT);
    options.late_ok = true;
    rig_boot(&modem, AIR_AT, &options);
    rig_ask(&modem, "AT+SEND=0,1,x", "", 0);
    rig_expect_sending(&modem, "x", 1);
    air_modem_sent(&modem, 100);
    rig_expect(&modem, "+OK\r\n", 5);
}

static void frames_are_filtered_by_address_and_password(void **state)
{
    (void)state;
    rig_ask(&modem, "AT+ADDRESS=7", "+OK\r\n", 0);
    struct air_frame frame = {.len = 5, .addressed = true, .from = 50, .to = 7, .bytes = "a,b\r\n"};
    air_modem_heard(&modem, &frame, -99, 40, 10);
    rig_expect(&modem, "+RCV=50,5,a,b\r\n,-99,40\r\n", 24);
    frame.to = 0;
    air_modem_heard(&modem, &frame, -99, -3, 10);
    rig_expect(&modem, "+RCV=50,5,a,b\r\n,-99,-3\r\n", 24);
    frame.to = 8;
    air_modem_heard(&modem, &frame, -99, 40, 10);
    rig_expect(&modem, "", 0);
    frame.to = 7;
    strcpy(frame.pin, "EEDCAA90");
    air_modem_heard(&modem, &frame, -99, 40, 10);
    rig_expect(&modem, "", 0);
    rig_ask(&modem, "AT+CPIN=EEDCAA90", "+OK\r\n", 0);
    air_modem_heard(&modem, &frame, -99, 40, 10);
    rig_expect(&modem, "+RCV=50,5,a,b\r\n,-99,40\r\n", 24);
}

static void only_flash_survives_a_restart(void **state)
{
    (void)state;
    rig_ask(&modem, "AT+BAND=868500000,M", "+OK\r\n", 0);
    rig_ask(&modem, "AT+BAND=868100000", "+OK\r\n", 0);
    rig_ask(&modem, "AT+ADDRESS=9", "+OK\r\n", 0);
    rig_ask(&modem, "AT+NETWORKID=5", "+OK\r\n", 0);
    rig_ask(&modem, "AT+PARAMETER=7,9,4,12", "+OK\r\n", 0);
    rig_ask(&modem, "AT+CRFOP=3", "+OK\r\n", 0);
    rig_ask(&modem, "AT+CPIN=00000001,M", "+OK\r\n", 0);
    rig_ask(&modem, "AT+CPIN=00000002", "+OK\r\n", 0);
    air_modem_power(&modem, 100);
    air_modem_tick(&modem, modem.wake_us, false, RP_NEVER);
    rig_expect(&modem, "+READY\r\n", 8);
    rig_ask(&modem, "AT+BAND?", "+BAND=868500000\r\n", 1000000);
    rig_ask(&modem, "AT+ADDRESS?", "+ADDRESS=9\r\n", 1000000);
    rig_ask(&modem, "AT+NETWORKID?", "+NETWORKID=5\r\n", 1000000);
    rig_ask(&modem, "AT+PARAMETER?", "+PARAMETER=9,7,1,12\r\n", 1000000);
    rig_ask(&modem, "AT+CRFOP?", "+CRFOP=22\r\n", 1000000);
    rig_ask(&modem, "AT+CPIN?", "+CPIN=00000001\r\n", 1000000);
}

static void spoiled_frames_are_told_only_when_asked(void **state)
{
    (void)state;
    air_modem_garbled(&modem, 0);
    rig_expect(&modem, "", 0);
    modem.options.report_garbled = true;
    air_modem_garbled(&modem, 0);
    rig_expect(&modem, "+ERR=12\r\n", 9);
}

static void cyclic_mode_listens_in_turns(void **state)
{
    (void)state;
    rig_ask(&modem, "AT+MODE=2,100,400", "+OK\r\n", 1000);
    assert_true(modem.listening);
    assert_int_equal(modem.wake_us, 101000);
    air_modem_tick(&modem, 101000, false, RP_NEVER);
    assert_false(modem.listening);
    assert_int_equal(modem.wake_us, 501000);
    air_modem_tick(&modem, 501000, false, RP_NEVER);
    assert_true(modem.listening);
}

/* The older module, RYLR896: other bounds (from memory), and a spreading factor of 12. */
static void the_older_module_has_its_own_bounds(void **state)
{
    (void)state;
    static const char *const dialogue[][2] = {
        {"AT+VER?", "+VER=RYLR89C_EMULATED_V1.0.0\r\n"},
        {"AT+PARAMETER=12,7,1,7", "+OK\r\n"},
        {"AT+PARAMETER=12,9,4,4", "+OK\r\n"},
        {"AT+PARAMETER=12,7,1,8", "+ERR=18\r\n"},
        {"AT+PARAMETER=12,7,1,3", "+ERR=18\r\n"},
        {"AT+NETWORKID=0", "+OK\r\n"},
        {"AT+NETWORKID=16", "+OK\r\n"},
        {"AT+NETWORKID=17", "+ERR=4\r\n"},
        {"AT+CRFOP=15", "+OK\r\n"},
        {"AT+CRFOP=16", "+ERR=4\r\n"},
    };
    struct air_options options = air_options_default(AIR_AT);
    options.rylr896 = true;
    rig_boot(&modem, AIR_AT, &options);
    for (size_t i = 0; i < sizeof dialogue / sizeof dialogue[0]; i++) {
        rig_ask(&modem, dialogue[i][0], dialogue[i][1], 1000000 + (rp_time_us)i);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(it_boots_and_resets_with_its_banners, set_up),
        cmocka_unit_test_setup(every_setting_is_told_back, set_up),
        cmocka_unit_test_setup(settings_reach_the_air, set_up),
        cmocka_unit_test_setup(bounds_are_kept, set_up),
        cmocka_unit_test(the_older_module_has_its_own_bounds),
        cmocka_unit_test_setup(bad_lines_have_their_codes, set_up),
        cmocka_unit_test_setup(sending_checks_length_and_waits_its_turn, set_up),
        cmocka_unit_test_setup(unsafe_bytes_break_a_send_and_others_pass, set_up),
        cmocka_unit_test_setup(a_failing_or_stuck_transmitter_says_so, set_up),
        cmocka_unit_test_setup(late_ok_comes_when_the_frame_has_left, set_up),
        cmocka_unit_test_setup(frames_are_filtered_by_address_and_password, set_up),
        cmocka_unit_test_setup(only_flash_survives_a_restart, set_up),
        cmocka_unit_test_setup(spoiled_frames_are_told_only_when_asked, set_up),
        cmocka_unit_test_setup(cyclic_mode_listens_in_turns, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
