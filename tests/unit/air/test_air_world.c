/* Modems, serial lines and air together, and the commands at run time, in made-up time. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "air/world.h"

static struct air_config config;
static struct air_world world;
static char logged[100000];
static size_t logged_len;
static int plug_calls, plug_result;

static void keep_log(void *ctx, rp_time_us at_us, const char *text)
{
    (void)ctx;
    int len = snprintf(logged + logged_len, sizeof logged - logged_len, "%lld %s\n",
                       (long long)at_us, text);
    logged_len += (size_t)len < sizeof logged - logged_len ? (size_t)len : 0;
}

static int count_plug(void *ctx, unsigned station, bool plugged)
{
    (void)ctx;
    (void)station;
    (void)plugged;
    plug_calls++;
    return plug_result;
}

/* A world from configuration lines; all hosts have their ports open, all modems have booted. */
static void build(const char *const *lines)
{
    air_config_init(&config);
    for (size_t i = 0; lines[i] != NULL; i++) {
        char line[AIR_CONFIG_CAP];
        struct rp_problem problem = {.text = ""};
        snprintf(line, sizeof line, "%s", lines[i]);
        if (air_config_line(&config, line, &problem) != 0) {
            fail_msg("%s: %s", lines[i], problem.text);
        }
    }
    logged_len = 0;
    logged[0] = '\0';
    plug_calls = 0;
    plug_result = 0;
    struct air_world_ops ops = {.log = keep_log, .plug = count_plug};
    air_world_init(&world, &config, &ops, 0);
    air_world_tick(&world, 1000000);
    for (unsigned i = 0; i < config.count; i++) {
        air_world_host_open(&world, i, true, 1000000);
    }
}

static void host_write(unsigned station, const char *text, rp_time_us now_us)
{
    air_world_host_wrote(&world, station, (struct rp_view){(const uint8_t *)text, strlen(text)},
                         now_us);
    air_world_tick(&world, now_us);
}

static void host_read(unsigned station, const char *expected, rp_time_us now_us)
{
    char got[5000];
    air_world_tick(&world, now_us);
    size_t len = air_world_host_take(&world, station, (uint8_t *)got, sizeof got - 1, now_us);
    got[len] = '\0';
    assert_string_equal(got, expected);
}

static void tell(const char *command, const char *answer, rp_time_us now_us)
{
    char line[200], reply[AIR_REPLY_CAP];
    snprintf(line, sizeof line, "%s", command);
    air_command(&world, line, reply, now_us);
    air_world_tick(&world, now_us);
    if (strncmp(reply, answer, strlen(answer)) != 0) {
        print_error("answer: %s", reply);
    }
    assert_memory_equal(reply, answer, strlen(answer));
}

static const char *const two_at[] = {"modem high at h baud=0", "modem base at b baud=0",
                                     "link high base 0", "signal high base -101 -4", NULL};

/* SF9, 125 kHz, 4/5, preamble 8: lora-rs' tests give 287.744 ms for 40 bytes. The 8 bytes the
 * module adds need one more block of 5 symbols, its preamble of 12 needs 4 more, of 4.096 ms each:
 * 324.608 ms. */
static void a_frame_travels_between_two_at_modules(void **state)
{
    (void)state;
    build(two_at);
    host_write(0, "AT+SEND=0,40,0123456789012345678901234567890123456789\r\n", 2000000);
    host_read(0, "+OK\r\n", 2000000);
    host_read(1, "", 2000000 + 324607);
    host_read(1, "+RCV=0,40,0123456789012345678901234567890123456789,-101,-4\r\n",
              2000000 + 324608);
    assert_non_null(strstr(logged, "2000000 tx begin high len=40 airtime_us=324608 "));
    assert_non_null(strstr(logged, "2324608 tx end high\n"));
    assert_non_null(strstr(logged, "2324608 rx base ok from=high len=40\n"));
    assert_int_equal(world.stations[0].counts.airtime_us, 324608);
    assert_int_equal(world.stations[1].counts.fates[AIR_OK], 1);
}

static void a_late_call_changes_no_time(void **state)
{
    (void)state;
    build(two_at);
    host_write(0, "AT+SEND=0,40,0123456789012345678901234567890123456789\r\n", 2000000);
    air_world_tick(&world, 9000000);
    assert_non_null(strstr(logged, "2324608 rx base ok from=high len=40\n"));
}

static void both_sending_hear_nothing(void **state)
{
    (void)state;
    build(two_at);
    host_write(0, "AT+SEND=0,2,hi\r\n", 2000000);
    host_write(1, "AT+SEND=0,2,ho\r\n", 2000100);
    host_read(0, "+OK\r\n", 4000000);
    host_read(1, "+OK\r\n", 4000000);
    assert_int_equal(world.stations[0].counts.fates[AIR_HALFDUPLEX], 1);
    assert_int_equal(world.stations[1].counts.fates[AIR_HALFDUPLEX], 1);
}

static void sync_words_and_network_ids_are_one_number(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem old at a baud=0", "modem new hextext h baud=0",
                                        "mixed on", "link old new 0", NULL};
    build(lines);
    host_write(0, "AT+BAND=868100000\r\n", 2000000);
    host_write(1, "mac pause\r\nradio set sf sf9\r\nradio set sync 12\r\nradio rx 0\r\n", 2000000);
    host_read(0, "+OK\r\n", 2000000);
    host_read(1, "4294967245\r\nok\r\nok\r\nok\r\n", 2000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 3000000);
    host_read(1, "radio_rx  6869\r\n", 4000000);
    host_write(1, "radio tx 796F\r\n", 5000000);
    host_read(1, "ok\r\nradio_tx_ok\r\n", 6000000);
    host_read(0, "+OK\r\n+RCV=0,2,yo,-95,6\r\n", 6000000);
    host_write(0, "AT+NETWORKID=5\r\n", 7000000);
    host_write(1, "radio tx 796F\r\n", 7000000);
    host_read(0, "+OK\r\n", 8000000);
    assert_int_equal(world.stations[0].counts.fates[AIR_UNTUNED], 1);
}

static void families_stay_apart_unless_mixed(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem old at a baud=0", "modem new hextext h baud=0",
                                        "link old new 0", NULL};
    build(lines);
    host_write(0, "AT+BAND=868100000\r\n", 2000000);
    host_write(1, "mac pause\r\nradio set sf sf9\r\nradio set sync 12\r\nradio rx 0\r\n", 2000000);
    host_read(1, "4294967245\r\nok\r\nok\r\nok\r\n", 2000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 3000000);
    host_read(1, "radio_rx  00000000000000006869\r\n", 4000000);
    host_write(1, "radio tx 796F\r\n", 5000000);
    host_read(0, "+OK\r\n+OK\r\n", 6000000);
}

static void kiss_waits_for_the_channel(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem a kiss a baud=0 txdelay=0",
                                        "modem b kiss b baud=0 txdelay=0",
                                        "modem c kiss-ack c baud=0 txdelay=0",
                                        "link a b 0",
                                        "link a c 0",
                                        "link b c 0",
                                        NULL};
    build(lines);
    for (unsigned i = 0; i < 3; i++) { /* P 255, SlotTime 10 ms */
        host_write(i, "\xc0\x02\xff\xc0\x03\x01\xc0", 1500000);
    }
    static const uint8_t first[] = "\xc0\x00"
                                   "first\xc0";
    air_world_host_wrote(&world, 0, (struct rp_view){first, 8}, 2000000);
    air_world_tick(&world, 2000000);
    static const uint8_t second[] = "\xc0\x00second\xc0";
    air_world_host_wrote(&world, 1, (struct rp_view){second, 9}, 2005000);
    air_world_tick(&world, 4000000);
    assert_int_equal(world.stations[2].counts.fates[AIR_OK], 2);
    assert_int_equal(world.stations[1].counts.fates[AIR_OK], 1);
    uint8_t got[100];
    size_t len = air_world_host_take(&world, 2, got, sizeof got, 4000000);
    assert_int_equal(len, 17);
    assert_memory_equal(got,
                        "\xc0\x00"
                        "first\xc0\xc0\x00second\xc0",
                        17);
}

/* 115200 bit/s and ten bits a byte: 4 bytes in and 5 out take 344 and 430 us with 86 us a byte
 * (rounded down); a latency of 5 ms each way is added. */
static void serial_speed_and_latency_delay_bytes(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem a at a", "latency 5 5", NULL};
    build(lines);
    host_write(0, "AT\r\n", 2000000);
    assert_int_equal(air_world_wake(&world), 2000000 + 5000 + 344);
    host_read(0, "", 2000000 + 5000 + 344 + 5000 + 429);
    assert_int_equal(air_world_wake(&world), 2000000 + 5000 + 344 + 5000 + 430);
    host_read(0, "+OK\r\n", 2000000 + 5000 + 344 + 5000 + 430);
    assert_true(air_world_wake(&world) == RP_NEVER);
}

static void a_wrong_speed_gives_rubbish(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem a at a baudcheck=on", NULL};
    build(lines);
    world.stations[0].host_baud = 9600;
    host_write(0, "AT\r\n", 2000000);
    uint8_t got[100];
    air_world_tick(&world, 3000000);
    size_t len = air_world_host_take(&world, 0, got, sizeof got, 3000000);
    assert_true(len != 5 || memcmp(got, "+OK\r\n", 5) != 0);
    world.stations[0].host_baud = 115200;
    host_write(0, "\r\n", 4000000); /* ends what the rubbish began */
    air_world_tick(&world, 4500000);
    air_world_host_take(&world, 0, got, sizeof got, 4500000);
    host_write(0, "AT\r\n", 5000000);
    host_read(0, "+OK\r\n", 6000000);
}

static void what_nobody_reads_is_lost(void **state)
{
    (void)state;
    build(two_at);
    air_world_host_open(&world, 0, false, 1500000);
    tell("restart high", "ok\n", 2000000);
    air_world_tick(&world, 3000000);
    air_world_host_open(&world, 0, true, 3000000);
    host_read(0, "", 3000000);
    tell("restart high", "ok\n", 3000000);
    host_read(0, "+READY\r\n", 4000000);
}

static void links_change_at_run_time(void **state)
{
    (void)state;
    build(two_at);
    tell("link high base 1 0", "ok\n", 1500000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 2000000);
    host_read(1, "", 3000000);
    assert_int_equal(world.stations[1].counts.fates[AIR_LOST], 1);
    tell("link high base none", "ok\n", 3000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 3000000);
    host_read(1, "", 4000000);
    tell("link high base 0", "ok\n", 4000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 4000000);
    host_read(1, "+RCV=0,2,hi,-101,-4\r\n", 5000000);
    tell("link high nowhere 0", "error: link: ", 5000000);
    tell("link high base 1.1", "error: link: ", 5000000);
    tell("link high base nan", "error: link: ", 5000000);
}

static void mute_and_hang_differ(void **state)
{
    (void)state;
    build(two_at);
    tell("mute high on", "ok\n", 1500000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 2000000);
    host_read(0, "", 3000000);
    host_read(1, "+RCV=0,2,hi,-101,-4\r\n", 3000000);
    tell("mute high off", "ok\n", 3000000);
    tell("hang high on", "ok\n", 3000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 3000000);
    host_write(1, "AT+SEND=0,2,ho\r\n", 3500000);
    host_read(0, "", 5000000);
    host_read(1, "+OK\r\n", 5000000);
    assert_int_equal(world.stations[0].counts.fates[AIR_DEAF], 1);
    tell("restart high", "ok\n", 5000000);
    host_read(0, "+READY\r\n", 6000000);
    host_write(0, "AT\r\n", 6000000);
    host_read(0, "+OK\r\n", 6000000);
}

static void pulling_the_plug_cuts_the_frame(void **state)
{
    (void)state;
    build(two_at);
    host_write(0, "AT+SEND=0,2,hi\r\n", 2000000);
    tell("unplug high", "ok\n", 2010000);
    assert_int_equal(plug_calls, 1);
    host_read(1, "", 3000000);
    assert_int_equal(world.stations[1].counts.fates[AIR_CUT], 1);
    assert_int_equal(world.stations[0].counts.airtime_us, 10000);
    tell("unplug high", "error: ", 3000000);
    host_write(0, "AT\r\n", 3000000);
    host_read(0, "", 4000000);
    plug_result = RP_E_IO;
    tell("plug high", "error: ", 4000000);
    plug_result = 0;
    tell("plug high", "ok\n", 4000000);
    air_world_host_open(&world, 0, true, 4000000);
    host_read(0, "+READY\r\n", 5000000);
}

static void other_commands_reach_the_modem(void **state)
{
    (void)state;
    build(two_at);
    tell("fail high 1", "ok\n", 2000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 2000000);
    host_read(0, "+ERR=10\r\n", 2000000);
    tell("stuck high on", "ok\n", 2000000);
    host_write(0, "AT+SEND=0,2,hi\r\n", 2000000);
    host_read(0, "+ERR=17\r\n", 2000000);
    tell("rubbish high 100", "ok\n", 3000000);
    uint8_t got[200];
    assert_int_equal(air_world_host_take(&world, 0, got, sizeof got, 3000000), 100);
    tell("stats", "high family=at frames=0 airtime_us=0 ok=0 lost=0 ", 3000000);
    tell("rubbish high 4097", "error: ", 3000000);
    tell("rubbish high", "error: ", 3000000);
    tell("mute high maybe", "error: ", 3000000);
    tell("mute nobody on", "error: ", 3000000);
    tell("explode high", "error: ", 3000000);
    tell("", "error: ", 3000000);
}

static void answers_can_come_in_pieces(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem a hextext a", "split on", NULL};
    build(lines);
    host_write(0, "sys get ver\r\n", 2000000);
    char all[200] = "";
    unsigned pieces = 0;
    for (rp_time_us wake_us; (wake_us = air_world_wake(&world)) != RP_NEVER;) {
        size_t len = strlen(all);
        air_world_tick(&world, wake_us);
        size_t got = air_world_host_take(&world, 0, (uint8_t *)all + len, 199 - len, wake_us);
        pieces += got > 0;
        all[len + got] = '\0';
    }
    assert_string_equal(all, "RN2483 1.0.5 Jan 01 2020 00:00:00\r\n");
    assert_true(pieces >= 3);
}

/* Random bytes into every family: nothing breaks, and every frame stays within the bounds. */
static void random_bytes_break_nothing(void **state)
{
    (void)state;
    static const char *const lines[] = {"modem a kiss-ack a", "modem b at b", "modem c hextext c",
                                        "modem d kiss d",     "split on",     "latency 0 30",
                                        "link a d 0.2",       "link b c 0.2", NULL};
    build(lines);
    struct rp_rng rng = rp_rng_seeded(99);
    print_message("seed 99\n");
    rp_time_us now_us = 2000000;
    for (int i = 0; i < 20000; i++) {
        uint8_t bytes[40], out[500];
        size_t len = rp_rng_below(&rng, sizeof bytes);
        for (size_t k = 0; k < len; k++) {
            static const uint8_t liked[] = "\xc0\x00\xdb\r\nAT+SEND=0,1radio tx 0";
            bytes[k] = rp_rng_below(&rng, 3) == 0 ? (uint8_t)rp_rng_next(&rng)
                                                  : liked[rp_rng_below(&rng, sizeof liked - 1)];
        }
        unsigned station = (unsigned)rp_rng_below(&rng, 4);
        air_world_host_wrote(&world, station, (struct rp_view){bytes, len}, now_us);
        now_us += (rp_time_us)rp_rng_below(&rng, 20000);
        air_world_tick(&world, now_us);
        air_world_host_take(&world, station, out, sizeof out, now_us);
        logged_len = 0;
    }
    assert_true(world.stations[0].counts.frames > 0);
    assert_true(world.stations[3].counts.fates[AIR_OK] > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_frame_travels_between_two_at_modules),
        cmocka_unit_test(a_late_call_changes_no_time),
        cmocka_unit_test(both_sending_hear_nothing),
        cmocka_unit_test(sync_words_and_network_ids_are_one_number),
        cmocka_unit_test(families_stay_apart_unless_mixed),
        cmocka_unit_test(kiss_waits_for_the_channel),
        cmocka_unit_test(serial_speed_and_latency_delay_bytes),
        cmocka_unit_test(a_wrong_speed_gives_rubbish),
        cmocka_unit_test(what_nobody_reads_is_lost),
        cmocka_unit_test(links_change_at_run_time),
        cmocka_unit_test(mute_and_hang_differ),
        cmocka_unit_test(pulling_the_plug_cuts_the_frame),
        cmocka_unit_test(other_commands_reach_the_modem),
        cmocka_unit_test(answers_can_come_in_pieces),
        cmocka_unit_test(random_bytes_break_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
