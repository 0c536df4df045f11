/* The transparent module. Commands and registers: E22-400T22S user manual v1.5 and E32-433T20DT user
 * manual v1.6, their register and command tables. */
#include "rp_test.h"

#include <string.h>

#include "modem_rig.h"

static struct air_modem modem;

static void boot(enum air_chip chip)
{
    struct air_options options = air_options_default(AIR_UART);
    options.chip = chip;
    rig_boot(&modem, AIR_UART, &options);
}

static void quiet(rp_time_us now_us)
{
    air_modem_tick(&modem, now_us, false, RP_NEVER);
}

static void what_is_written_is_sent_when_the_line_is_quiet(void **state)
{
    (void)state;
    boot(AIR_CHIP_E22);
    rig_write(&modem, "abc", 3, 1000000);
    assert_false(modem.frame_ready);
    quiet(1003126);
    rig_expect_sending(&modem, "abc", 3);
    rig_expect(&modem, "", 0);
}

static void a_full_packet_is_sent_at_once_and_the_rest_follows(void **state)
{
    (void)state;
    static const struct {
        enum air_chip chip;
        size_t size;
    } rows[] = {{AIR_CHIP_E22, 240}, {AIR_CHIP_E32, 58}, {AIR_CHIP_E220, 200}};
    uint8_t bytes[250];
    memset(bytes, 'x', sizeof bytes);
    for (size_t i = 0; i < 3; i++) {
        boot(rows[i].chip);
        rig_write(&modem, bytes, rows[i].size + 2, 1000000);
        rig_expect_sending(&modem, bytes, rows[i].size);
        air_modem_sent(&modem, 3000000);
        quiet(3010000);
        rig_expect_sending(&modem, "xx", 2);
    }
}

/* E22: 1000 bytes; what does not fit is lost. */
static void the_buffer_is_bounded(void **state)
{
    (void)state;
    boot(AIR_CHIP_E22);
    uint8_t bytes[1300];
    memset(bytes, 'y', sizeof bytes);
    rig_write(&modem, bytes, sizeof bytes, 1000000);
    assert_int_equal(modem.as.uart.len, 1000);
    assert_string_equal(modem.note, "lost bytes, its buffer is full");
}

static void a_packet_comes_out_with_its_signal_byte_when_asked(void **state)
{
    (void)state;
    struct air_frame frame = {.len = 3, .bytes = {'a', 0, 'b'}};
    boot(AIR_CHIP_E22);
    air_modem_heard(&modem, &frame, -101, 3, 1000000);
    rig_expect(&modem, "a\0b", 3);
    modem.as.uart.block[6] = 0x80;
    air_modem_heard(&modem, &frame, -101, 3, 1000000);
    rig_expect(&modem, "a\0b\x9b", 4);
}

static void ask(const char *command, size_t len, const char *answer, size_t answer_len)
{
    rig_write(&modem, command, len, 2000000);
    quiet(2010000);
    rig_expect(&modem, answer, answer_len);
}

/* The bench is at 869.525 MHz, which is channel 19 and a bit. */
static void registers_are_read_and_written_in_configuration_mode(void **state)
{
    (void)state;
    boot(AIR_CHIP_E22);
    assert_true(air_modem_set_mode(&modem, true));
    assert_false(modem.listening);
    assert_int_equal(modem.baud, 9600);
    ask("\xc1\x00\x07", 3, "\xc1\x00\x07\x00\x00\x12\x62\x00\x13\x00", 10);
    ask("\xc2\x05\x01\x12", 4, "\xc1\x05\x01\x12", 4);
    ask("\xc1\x05\x03", 3, "\xff\xff\xff", 3); /* beyond the block */
    ask("hello", 5, "\xff\xff\xff", 3);
    air_modem_set_mode(&modem, false);
    assert_true(modem.listening);
    assert_int_equal(modem.hearing.freq_hz, 868125000);
    /* C2 lasts until power-off, C0 is stored. */
    air_modem_power(&modem, 3000000);
    quiet(4000000);
    assert_int_equal(modem.hearing.freq_hz, 869125000);
    air_modem_set_mode(&modem, true);
    ask("\xc0\x05\x01\x12", 4, "\xc1\x05\x01\x12", 4);
    air_modem_set_mode(&modem, false);
    air_modem_power(&modem, 5000000);
    quiet(6000000);
    assert_int_equal(modem.hearing.freq_hz, 868125000);
}

/* Manual: the default is C0 00 00 1A 17 44. The channel here is that of the bench. */
static void the_e32_has_its_own_commands(void **state)
{
    (void)state;
    struct air_options options = air_options_default(AIR_UART);
    struct air_settings start = rig_start;
    options.chip = AIR_CHIP_E32;
    start.freq_hz = 433000000;
    air_modem_init(&modem, AIR_UART, &options, &start, 5);
    air_modem_power(&modem, 0);
    quiet(1000000);
    air_modem_set_mode(&modem, true);
    ask("\xc1\xc1\xc1", 3, "\xc0\x00\x00\x1a\x17\x44", 6);
    ask("\xc2\x00\x00\x1a\x05\x44", 6, "\xc0\x00\x00\x1a\x05\x44", 6);
    ask("\xc1\xc1", 2, "\xff\xff\xff", 3);
    air_modem_set_mode(&modem, false);
    assert_int_equal(modem.hearing.freq_hz, 415000000);
}

static void some_payloads_are_not_carried(void **state)
{
    (void)state;
    boot(AIR_CHIP_E22);
    rig_write(&modem, "\xc0\xc1\xc2\xc3z", 5, 1000000);
    quiet(1010000);
    rig_expect_sending(&modem, "\xc0\xc1\xc2\xc3z", 5); /* while REG1 bits 5 and 4 are clear */
    air_modem_sent(&modem, 1500000);
    modem.as.uart.block[4] = 0x20;
    rig_write(&modem, "\xc0\xc1\xc2\xc3z", 5, 2000000);
    quiet(2010000);
    assert_false(modem.frame_ready);
    modem.as.uart.block[4] = 0;
    modem.as.uart.block[6] = 0x40; /* fixed mode eats three bytes */
    rig_write(&modem, "\x01\x02\x03hi", 5, 3000000);
    quiet(3010000);
    rig_expect_sending(&modem, "hi", 2);
    air_modem_sent(&modem, 3500000);
    struct air_frame frame = {.len = 4, .bytes = {0xcf, 0xcf, 0xc2, 0x00}};
    air_modem_heard(&modem, &frame, -80, 3, 4000000);
    assert_false(modem.listening);
    rig_expect(&modem, "", 0);
}

static void a_failing_or_stuck_module_loses_or_keeps_packets(void **state)
{
    (void)state;
    boot(AIR_CHIP_E22);
    modem.fail_sends = 1;
    rig_write(&modem, "a", 1, 1000000);
    quiet(1010000);
    assert_false(modem.frame_ready);
    air_modem_set_stuck(&modem, true, 2000000);
    rig_write(&modem, "b", 1, 2000000);
    quiet(2010000);
    assert_false(modem.frame_ready);
    air_modem_set_stuck(&modem, false, 3000000);
    quiet(3000000);
    rig_expect_sending(&modem, "b", 1);
}

static void other_families_have_no_mode_pin(void **state)
{
    (void)state;
    rig_boot(&modem, AIR_AT, NULL);
    assert_false(air_modem_set_mode(&modem, true));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_written_is_sent_when_the_line_is_quiet),
        cmocka_unit_test(a_full_packet_is_sent_at_once_and_the_rest_follows),
        cmocka_unit_test(the_buffer_is_bounded),
        cmocka_unit_test(a_packet_comes_out_with_its_signal_byte_when_asked),
        cmocka_unit_test(registers_are_read_and_written_in_configuration_mode),
        cmocka_unit_test(the_e32_has_its_own_commands),
        cmocka_unit_test(some_payloads_are_not_carried),
        cmocka_unit_test(a_failing_or_stuck_module_loses_or_keeps_packets),
        cmocka_unit_test(other_families_have_no_mode_pin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
