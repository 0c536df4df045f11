/* The KISS modem against Chepponis and Karn, "The KISS TNC" (1987): framing, escapes, commands,
 * channel access. ACKMODE as radio modems that know it answer it: type byte 0x0C and the id. */
#include "rp_test.h"

#include <string.h>

#include "modem_rig.h"

static struct air_modem modem;

static void boot_with(enum air_family family, bool csma, uint8_t ack_type)
{
    struct air_options options = air_options_default(family);
    options.csma = csma;
    options.tx_delay = 0;
    options.ack_type = ack_type;
    rig_boot(&modem, family, &options);
}

/* Works off the channel access at one time; the frame is then to be sent. */
static void run_access(rp_time_us now_us)
{
    for (int i = 0; i < 4 && !modem.frame_ready; i++) {
        air_modem_tick(&modem, now_us, false, RP_NEVER);
    }
}

/* The paper's own example of transparency: a C0 in the data travels as DB DC, a DB as DB DD. */
static void escapes_both_ways(void **state)
{
    (void)state;
    boot_with(AIR_KISS, false, 0);
    assert_true(modem.listening);
    rig_write(&modem, "\xc0\x00\x41\xdb\xdc\xdb\xdd\x42\xc0", 9, 100);
    run_access(100);
    rig_expect_sending(&modem, "\x41\xc0\xdb\x42", 4);
    struct air_frame frame = {.len = 4, .bytes = {0x41, 0xc0, 0xdb, 0x42}};
    air_modem_heard(&modem, &frame, -90, 5, 200);
    rig_expect(&modem, "\xc0\x00\x41\xdb\xdc\xdb\xdd\x42\xc0", 9);
}

static void noise_before_the_first_fend_and_bad_escapes_are_dropped(void **state)
{
    (void)state;
    boot_with(AIR_KISS, false, 0);
    /* A byte other than DC or DD after DB: no action, assembly goes on. */
    rig_write(&modem, "noise\xc0\xc0\xc0\x00\x31\xdb\x55\x32\xc0", 14, 0);
    run_access(0);
    rig_expect_sending(&modem, "12", 2);
    air_modem_sent(&modem, 1000);
    assert_false(modem.frame_ready);
    rig_expect(&modem, "", 0); /* plain KISS says nothing at the end of a transmission */
}

static void commands_and_other_ports_send_nothing(void **state)
{
    (void)state;
    boot_with(AIR_KISS, false, 0);
    rig_write(&modem, "\xc0\x01\x07\xc0\x02\xff\xc0\x03\x05\xc0\x04\x02\xc0\x05\x01\xc0", 16, 0);
    rig_write(&modem, "\x10port one\xc0\xff\xc0\x06hw\xc0\x0c\x00\x01x\xc0\x00\xc0", 23, 0);
    assert_int_equal(modem.as.kiss.tx_delay, 7);
    assert_int_equal(modem.as.kiss.persistence, 255);
    assert_int_equal(modem.as.kiss.slot_time, 5);
    assert_int_equal(modem.as.kiss.tx_tail, 2);
    assert_true(modem.as.kiss.full_duplex);
    run_access(0);
    assert_false(modem.frame_ready);
    rig_expect(&modem, "", 0);
}

static void ackmode_answers_after_the_transmission(void **state)
{
    (void)state;
    static const uint8_t types[] = {0x0c, 0x0e};
    for (unsigned i = 0; i < 2; i++) {
        boot_with(AIR_KISS_ACK, false, types[i]);
        rig_write(&modem, "\xc0\x0c\xdb\xdc\x2ahello\xc0", 11, 0);
        run_access(0);
        rig_expect_sending(&modem, "hello", 5);
        rig_expect(&modem, "", 0);
        air_modem_sent(&modem, 50000);
        const uint8_t answer[] = {0xc0, types[i], 0xdb, 0xdc, 0x2a, 0xc0};
        rig_expect(&modem, answer, sizeof answer);
    }
}

static void ackmode_can_be_left_unanswered(void **state)
{
    (void)state;
    boot_with(AIR_KISS_ACK, false, 0);
    modem.note = NULL;
    rig_write(&modem, "\xc0\x0c\x01\x02hello\xc0", 10, 0);
    run_access(0);
    assert_false(modem.frame_ready);
    assert_non_null(modem.note);
}

static void lengths_up_to_255_are_sent_and_longer_ones_dropped(void **state)
{
    (void)state;
    uint8_t frame[AIR_PAYLOAD_MAX + 4];
    for (size_t len = 255; len <= 256; len++) {
        boot_with(AIR_KISS, false, 0);
        memset(frame, 'x', sizeof frame);
        frame[0] = 0xc0;
        frame[1] = 0x00;
        frame[2 + len] = 0xc0;
        rig_write(&modem, frame, len + 3, 0);
        run_access(0);
        assert_int_equal(modem.frame_ready, len == 255);
    }
}

static void the_queue_keeps_order_and_drops_the_ninth(void **state)
{
    (void)state;
    boot_with(AIR_KISS, false, 0);
    for (uint8_t i = 0; i < AIR_KISS_QUEUE + 1; i++) {
        const uint8_t frame[] = {0xc0, 0x00, (uint8_t)('0' + i), 0xc0};
        rig_write(&modem, frame, sizeof frame, 0);
    }
    assert_string_equal(modem.note, "dropped a frame, the queue is full");
    for (uint8_t i = 0; i < AIR_KISS_QUEUE; i++) {
        rp_time_us now_us = 1000 * (rp_time_us)(i + 1);
        run_access(now_us);
        const uint8_t byte = (uint8_t)('0' + i);
        rig_expect_sending(&modem, &byte, 1);
        air_modem_sent(&modem, now_us + 500);
    }
    run_access(100000);
    assert_false(modem.frame_ready);
}

/* TXDELAY counts 10 ms, default 50; SlotTime 10 ms, default 10 (paper, section 4). With P 255 the
 * draw always succeeds. */
static void a_busy_channel_is_waited_for(void **state)
{
    (void)state;
    rig_boot(&modem, AIR_KISS, NULL);
    rig_write(&modem, "\xc0\x02\xff\xc0\x00hi\xc0", 8, 1000);
    assert_int_equal(modem.wake_us, 1000);
    air_modem_tick(&modem, 1000, true, RP_NEVER);
    assert_int_equal(modem.wake_us, 101000);
    air_modem_tick(&modem, 101000, true, RP_NEVER);
    assert_int_equal(modem.wake_us, 201000);
    air_modem_tick(&modem, 201000, false, RP_NEVER);
    assert_int_equal(modem.wake_us, 701000);
    air_modem_tick(&modem, 700999, false, RP_NEVER);
    assert_false(modem.frame_ready);
    air_modem_tick(&modem, 701000, false, RP_NEVER);
    rig_expect_sending(&modem, "hi", 2);
}

/* P 63 means (63 + 1) / 256 = a quarter. 4000 draws: mean 1000, deviation 27.4, five of them. */
static void persistence_is_a_chance(void **state)
{
    (void)state;
    rig_boot(&modem, AIR_KISS, NULL);
    print_message("seed 5\n");
    unsigned through = 0;
    for (int i = 0; i < 4000; i++) {
        modem.as.kiss.state = AIR_KISS_WAITING;
        modem.wake_us = 0;
        air_modem_tick(&modem, 0, false, RP_NEVER);
        through += modem.as.kiss.state == AIR_KISS_KEYED;
    }
    assert_in_range(through, 1000 - 137, 1000 + 137);
}

static void a_stuck_modem_keeps_its_frames(void **state)
{
    (void)state;
    boot_with(AIR_KISS, false, 0);
    air_modem_set_stuck(&modem, true, 0);
    rig_write(&modem, "\xc0\x00hi\xc0", 5, 0);
    run_access(0);
    assert_false(modem.frame_ready);
    air_modem_set_stuck(&modem, false, 5000);
    run_access(5000);
    rig_expect_sending(&modem, "hi", 2);
}

static void a_restart_forgets_frames_and_parameters(void **state)
{
    (void)state;
    boot_with(AIR_KISS, false, 0);
    rig_write(&modem, "\xc0\x02\xff\xc0\x00hi\xc0\x00half", 13, 0);
    air_modem_power(&modem, 10);
    assert_true(modem.abort);
    rig_write(&modem, "\xc0", 1, 20);
    run_access(20);
    assert_false(modem.frame_ready);
    assert_int_equal(modem.as.kiss.persistence, 63);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(escapes_both_ways),
        cmocka_unit_test(noise_before_the_first_fend_and_bad_escapes_are_dropped),
        cmocka_unit_test(commands_and_other_ports_send_nothing),
        cmocka_unit_test(ackmode_answers_after_the_transmission),
        cmocka_unit_test(ackmode_can_be_left_unanswered),
        cmocka_unit_test(lengths_up_to_255_are_sent_and_longer_ones_dropped),
        cmocka_unit_test(the_queue_keeps_order_and_drops_the_ninth),
        cmocka_unit_test(a_busy_channel_is_waited_for),
        cmocka_unit_test(persistence_is_a_chance),
        cmocka_unit_test(a_stuck_modem_keeps_its_frames),
        cmocka_unit_test(a_restart_forgets_frames_and_parameters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
