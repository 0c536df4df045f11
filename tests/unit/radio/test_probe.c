/* Finding out what modem is on a port. The modems' answers are those of their references: REYAX AT
 * command guide 56312E33 (2025), Microchip DS40001784G, E22-400T22S user manual v1.5, E32-433T20DT
 * user manual v1.6, Chepponis and Karn 1987; the form of the AT answers to questions: from memory.
 */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "base/bytes.h"
#include "radio/crc.h"
#include "radio/probe/probe.h"

struct bench {
    struct rp_probe probe;
    rp_time_us now_us;
    uint32_t written; /* bytes in all */
    char sent[2048];  /* what was written, NUL-free */
    size_t sent_len;
};

/* What a modem answers to a command line; NULL: the command is not known. */
struct answer {
    const char *command, *answer;
};

static void start(struct bench *bench, struct rp_probe_options options)
{
    memset(bench, 0, sizeof *bench);
    bench->now_us = 1000000;
    rp_probe_start(&bench->probe, &options, bench->now_us);
}

static size_t take(struct bench *bench, uint8_t *out, size_t cap)
{
    size_t len = rp_probe_take_output(&bench->probe, out, cap);
    assert_true(bench->sent_len + len <= sizeof bench->sent);
    memcpy(bench->sent + bench->sent_len, out, len);
    bench->sent_len += len;
    bench->written += (uint32_t)len;
    return len;
}

static void from_modem(struct bench *bench, const void *bytes, size_t len)
{
    rp_probe_receive(&bench->probe, rp_view_of(bytes, len), bench->now_us);
}

/* Runs the probe to its end against a modem that speaks at one speed only and answers whole lines
 * by the table; `unknown` to the others. At other speeds it neither hears nor is heard. */
static void run_against(struct bench *bench, uint32_t baud, const struct answer *answers,
                        const char *unknown)
{
    char line[128] = "";
    size_t len = 0;
    while (rp_probe_wake(&bench->probe) != RP_NEVER) {
        uint8_t out[64];
        size_t put = take(bench, out, sizeof out);
        bool heard = rp_probe_baud(&bench->probe) == baud;
        for (size_t i = 0; heard && i < put; i++) {
            if (out[i] != '\n') {
                assert_true(len < sizeof line - 1);
                line[len++] = (char)out[i];
                continue;
            }
            line[len > 0 ? len - 1 : 0] = '\0'; /* without its CR */
            len = 0;
            const struct answer *row = answers;
            while (row->command != NULL && strcmp(row->command, line) != 0) {
                row++;
            }
            const char *text = row->command != NULL ? row->answer : unknown;
            from_modem(bench, text, strlen(text));
        }
        if (put == 0) {
            bench->now_us = rp_probe_wake(&bench->probe);
            rp_probe_tick(&bench->probe, bench->now_us);
        }
    }
}

static const struct answer at_module[] = {
    {"", ""},
    {"AT", "+OK\r\n"},
    {"AT+VER?", "+VER=RYLR998_V1.2.2\r\n"},
    {"AT+BAND?", "+BAND=868500000\r\n"},
    {"AT+PARAMETER?", "+PARAMETER=9,7,1,12\r\n"},
    {"AT+NETWORKID?", "+NETWORKID=18\r\n"},
    {"AT+CRFOP?", "+CRFOP=22\r\n"},
    {NULL, NULL},
};

static void an_at_module_is_found_at_any_speed(void **state)
{
    (void)state;
    static const uint32_t bauds[] = {115200, 57600, 9600, 38400, 19200};
    for (size_t i = 0; i < 5; i++) {
        struct bench bench;
        start(&bench, (struct rp_probe_options){.may_ask = true});
        run_against(&bench, bauds[i], at_module, "+ERR=4\r\n");
        const struct rp_probe_found *found = rp_probe_found(&bench.probe);
        assert_string_equal(found->driver, "at");
        assert_int_equal(found->baud, bauds[i]);
        assert_false(found->by_frame);
        assert_string_equal(found->module, "RYLR998_V1.2.2");
        assert_int_equal(found->said.known, 0x7f);
        assert_int_equal(found->said.profile.freq_hz, 868500000);
        assert_int_equal(found->said.profile.spreading_factor, 9);
        assert_int_equal(found->said.profile.bandwidth_hz, 125000);
        assert_int_equal(found->said.profile.coding_rate, 5);
        assert_int_equal(found->said.profile.preamble_symbols, 12);
        assert_int_equal(found->said.profile.sync_word, 18);
        assert_int_equal(found->said.profile.power_dbm, 22);
    }
}

static void an_older_at_module_is_told_by_its_name(void **state)
{
    (void)state;
    static const struct answer module[] = {
        {"AT", "+OK\r\n"}, {"AT+VER?", "+VER=RYLR89C_V1.2.7\r\n"}, {NULL, NULL}};
    struct bench bench;
    start(&bench, (struct rp_probe_options){.may_ask = true});
    run_against(&bench, 115200, module, "+ERR=4\r\n");
    assert_string_equal(rp_probe_found(&bench.probe)->driver, "at-old");
    assert_int_equal(rp_probe_found(&bench.probe)->said.known, 0);
}

static void a_hextext_module_is_found(void **state)
{
    (void)state;
    static const struct answer module[] = {
        {"sys get ver", "RN2483 1.0.5 Oct 31 2018 15:06:52\r\n"},
        {"radio get freq", "868100000\r\n"},
        {"radio get pwr", "-3\r\n"},
        {"radio get sf", "sf12\r\n"},
        {"radio get bw", "500\r\n"},
        {"radio get cr", "4/8\r\n"},
        {"radio get prlen", "8\r\n"},
        {"radio get sync", "34\r\n"},
        {NULL, NULL},
    };
    struct bench bench;
    start(&bench, (struct rp_probe_options){.may_ask = true});
    run_against(&bench, 57600, module, "invalid_param\r\n");
    const struct rp_probe_found *found = rp_probe_found(&bench.probe);
    assert_string_equal(found->driver, "hextext");
    assert_int_equal(found->baud, 57600);
    assert_string_equal(found->module, "RN2483 1.0.5 Oct 31 2018 15:06:52");
    assert_int_equal(found->said.known, 0x7f);
    assert_int_equal(found->said.profile.power_dbm, -3);
    assert_int_equal(found->said.profile.sync_word, 0x34);
    assert_int_equal(found->said.profile.bandwidth_hz, 500000);
    assert_int_equal(found->said.profile.coding_rate, 8);
}

/* A module may be in the middle of receiving, and another answer late. */
static void frames_between_answers_are_passed_over(void **state)
{
    (void)state;
    static const struct answer module[] = {
        {"AT", "+OK\r\n"},
        {"AT+VER?", "+RCV=7,5,HELLO,-99,7\r\n+VER=RYLR998_V1.2.2\r\n"},
        {"AT+BAND?", "+READY\r\n+BAND=868500000\r\n"},
        {NULL, NULL},
    };
    struct bench bench;
    start(&bench, (struct rp_probe_options){.may_ask = true});
    run_against(&bench, 115200, module, "+ERR=4\r\n");
    assert_string_equal(rp_probe_found(&bench.probe)->module, "RYLR998_V1.2.2");
    assert_int_equal(rp_probe_found(&bench.probe)->said.profile.freq_hz, 868500000);
}

/* Registers of the E22 manual, table "register description": C1 00 07, then address high and low,
 * network id, REG0 (serial speed 011 = 9600, air rate 010 = 2.4k), REG1, channel, REG3. */
static void an_e22_is_found_in_configuration_mode(void **state)
{
    (void)state;
    static const uint8_t reply[] = {0xfc, 0xc1, 0x00, 0x07, 0, 0, 0x12, 0x62, 0x00, 18, 0x40};
    struct bench bench;
    uint8_t out[64];
    start(&bench, (struct rp_probe_options){.has_mode_pin = true});
    assert_int_equal(rp_probe_take_wish(&bench.probe), RP_RADIO_WISH_MODE_CONFIG);
    assert_int_equal(rp_probe_take_wish(&bench.probe), RP_RADIO_WISH_NONE);
    assert_int_equal(rp_probe_baud(&bench.probe), 9600);
    assert_int_equal(take(&bench, out, sizeof out), 0); /* the module is still changing its mode */
    bench.now_us = rp_probe_wake(&bench.probe);
    rp_probe_tick(&bench.probe, bench.now_us);
    assert_int_equal(take(&bench, out, sizeof out), 3);
    assert_memory_equal(out, "\xc1\x00\x07", 3);
    for (size_t i = 0; i < sizeof reply; i++) {
        from_modem(&bench, reply + i, 1);
    }
    const struct rp_probe_found *found = rp_probe_found(&bench.probe);
    assert_string_equal(found->driver, "uart-e22");
    assert_int_equal(found->baud, 9600);
    assert_int_equal(found->channel, 18);
    assert_int_equal(found->channel_hz[0], 428125000);
    assert_int_equal(found->channel_hz[1], 868125000);
    assert_int_equal(found->air_bps, 2400);
    assert_int_equal(found->network, 0x12);
    assert_true(found->fixed);
    assert_int_equal(rp_probe_take_wish(&bench.probe), RP_RADIO_WISH_MODE_NORMAL);
    assert_int_equal(rp_probe_wake(&bench.probe), RP_NEVER);
}

/* E32 manual: the factory block is C0 00 00 1A 17 44: 9600 and 2.4k, channel 23 = 433 MHz. */
static void an_e32_is_asked_second(void **state)
{
    (void)state;
    static const uint8_t reply[] = {0xc0, 0x00, 0x00, 0x1a, 0x17, 0x44};
    struct bench bench;
    uint8_t out[64];
    start(&bench, (struct rp_probe_options){.has_mode_pin = true});
    for (int i = 0; i < 2; i++) {
        bench.now_us = rp_probe_wake(&bench.probe);
        rp_probe_tick(&bench.probe, bench.now_us);
        assert_int_equal(take(&bench, out, sizeof out), 3);
    }
    assert_memory_equal(out, "\xc1\xc1\xc1", 3);
    from_modem(&bench, reply, sizeof reply);
    const struct rp_probe_found *found = rp_probe_found(&bench.probe);
    assert_string_equal(found->driver, "uart-e32");
    assert_int_equal(found->channel_hz[0], 433000000);
    assert_int_equal(found->channel_hz[1], 0);
    assert_int_equal(found->air_bps, 2400);
    assert_false(found->has_network);
    assert_false(found->fixed);
}

/* Without leave nothing is ever written: a transparent module would send it. */
static void without_leave_it_only_listens(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, (struct rp_probe_options){0});
    rp_time_us start_us = bench.now_us;
    run_against(&bench, 115200, at_module, "+ERR=4\r\n");
    assert_int_equal(bench.written, 0);
    assert_null(rp_probe_found(&bench.probe)->driver);
    size_t tried = 0;
    for (; rp_probe_tried(&bench.probe, tried) != NULL; tried++) {
        assert_int_equal(rp_probe_tried(&bench.probe, tried)->what, RP_PROBE_LISTENED);
        assert_int_equal(rp_probe_tried(&bench.probe, tried)->bytes, 0);
    }
    assert_int_equal(tried, 5);
    assert_int_equal(bench.now_us - start_us, 5 * 2000000);
}

/* A KISS modem gives a frame: type 00 between two FENDs. */
static void a_kiss_modem_is_known_by_its_frame(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, (struct rp_probe_options){0});
    bench.now_us = rp_probe_wake(&bench.probe);
    rp_probe_tick(&bench.probe, bench.now_us); /* the second speed */
    from_modem(&bench,
               "\xc0\x00"
               "ABCDEFGH\xdb\xdc\xc0",
               13);
    assert_string_equal(rp_probe_found(&bench.probe)->driver, "kiss");
    assert_int_equal(rp_probe_found(&bench.probe)->baud, 57600);
    assert_true(rp_probe_found(&bench.probe)->by_frame);
    assert_int_equal(bench.written, 0);
}

static void a_transparent_module_is_known_by_our_pieces(void **state)
{
    (void)state;
    uint8_t piece[] = {0x5a, 0x10, 8, 'A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 0, 0};
    uint16_t crc = rp_radio_crc16(piece, 11);
    piece[11] = (uint8_t)crc;
    piece[12] = (uint8_t)(crc >> 8);
    struct bench bench;
    start(&bench, (struct rp_probe_options){.baud = 9600});
    from_modem(&bench, piece, sizeof piece);
    assert_string_equal(rp_probe_found(&bench.probe)->driver, "uart-e22");
    assert_int_equal(rp_probe_found(&bench.probe)->baud, 9600);
    assert_true(rp_probe_found(&bench.probe)->by_frame);
}

static void a_module_that_speaks_unasked_is_known_without_leave(void **state)
{
    (void)state;
    static const struct {
        const char *text, *driver;
    } cases[] = {{"\xff\xfc\r\n+READY\r\n", "at"},
                 {"+RCV=7,5,HELLO,-99,7\r\n", "at"},
                 {"RN2903 1.0.5 Nov 06 2018 10:45:27\r\n", "hextext"},
                 {"radio_rx  54736572\r\n", "hextext"}};
    for (size_t i = 0; i < 4; i++) {
        struct bench bench;
        start(&bench, (struct rp_probe_options){0});
        from_modem(&bench, cases[i].text, strlen(cases[i].text));
        assert_string_equal(rp_probe_found(&bench.probe)->driver, cases[i].driver);
        assert_int_equal(rp_probe_wake(&bench.probe), RP_NEVER);
        uint8_t out[64];
        assert_int_equal(take(&bench, out, sizeof out), 0);
    }
}

/* Rubbish, as at a wrong speed: nothing is found, and what came is counted. Random, seeded. */
static void rubbish_is_no_modem(void **state)
{
    (void)state;
    uint32_t seed = 20261126;
    print_message("seed %u\n", seed);
    for (int round = 0; round < 200; round++) {
        struct bench bench;
        start(&bench, (struct rp_probe_options){0});
        for (int i = 0; i < 4000; i++) {
            seed = seed * 1664525u + 1013904223u;
            uint8_t byte = (uint8_t)(seed >> 24);
            from_modem(&bench, &byte, 1);
        }
        assert_null(rp_probe_found(&bench.probe)->driver);
        assert_int_equal(rp_probe_tried(&bench.probe, 0)->bytes, 4000);
    }
}

/* What is written between asking and the first FEND of a KISS modem begins with CR, a type byte
 * (0D, command 13) that the paper of 1987 does not have; and never with a FEND. */
static void questions_are_noise_to_a_kiss_modem(void **state)
{
    (void)state;
    static const struct answer nothing[] = {{NULL, NULL}};
    struct bench bench;
    start(&bench, (struct rp_probe_options){.may_ask = true});
    run_against(&bench, 1, nothing, "");
    assert_null(rp_probe_found(&bench.probe)->driver);
    assert_true(bench.written > 0);
    assert_int_equal(bench.sent[0], 0x0d);
    assert_null(memchr(bench.sent, 0xc0, bench.sent_len));
    size_t tried = 0;
    while (rp_probe_tried(&bench.probe, tried) != NULL) {
        tried++;
    }
    assert_int_equal(tried, 10);
}

static void one_speed_alone_is_tried_when_it_is_named(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, (struct rp_probe_options){.may_ask = true, .baud = 4800});
    run_against(&bench, 4800, at_module, "+ERR=4\r\n");
    assert_string_equal(rp_probe_found(&bench.probe)->driver, "at");
    start(&bench, (struct rp_probe_options){.may_ask = true, .baud = 4800});
    run_against(&bench, 9600, at_module, "+ERR=4\r\n");
    assert_null(rp_probe_found(&bench.probe)->driver);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_at_module_is_found_at_any_speed),
        cmocka_unit_test(an_older_at_module_is_told_by_its_name),
        cmocka_unit_test(a_hextext_module_is_found),
        cmocka_unit_test(frames_between_answers_are_passed_over),
        cmocka_unit_test(an_e22_is_found_in_configuration_mode),
        cmocka_unit_test(an_e32_is_asked_second),
        cmocka_unit_test(without_leave_it_only_listens),
        cmocka_unit_test(a_kiss_modem_is_known_by_its_frame),
        cmocka_unit_test(a_transparent_module_is_known_by_our_pieces),
        cmocka_unit_test(a_module_that_speaks_unasked_is_known_without_leave),
        cmocka_unit_test(rubbish_is_no_modem),
        cmocka_unit_test(questions_are_noise_to_a_kiss_modem),
        cmocka_unit_test(one_speed_alone_is_tried_when_it_is_named),
    };
    return cmocka_run_group_tests_name("radio_probe", tests, NULL, NULL);
}
