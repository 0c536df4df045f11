#include "rp_test.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "radio/airtime.h"
#include "ridgepost/error.h"

/* One data row of the file: "A,1,7,125,5,1,0,8,1,30.976". */
static void check_row(const char *row)
{
    char source;
    unsigned payload, sf, bandwidth_khz, rate, crc, implicit, preamble, ldro, whole, fraction;
    int fields =
        sscanf(row, "%c,%u,%u,%u,%u,%u,%u,%u,%u,%u.%3u", &source, &payload, &sf, &bandwidth_khz,
               &rate, &crc, &implicit, &preamble, &ldro, &whole, &fraction);
    if (fields != 11) {
        fail_msg("malformed row: %s", row);
    }
    struct rp_airtime settings = {
        .spreading_factor = (uint8_t)sf,
        .bandwidth_hz = bandwidth_khz * 1000,
        .coding_rate = (uint8_t)rate,
        .crc = crc != 0,
        .implicit_header = implicit != 0,
        .preamble_symbols = (uint16_t)preamble,
        .low_data_rate = ldro != 0,
    };
    int64_t got_us = rp_airtime_us(&settings, payload);
    if (got_us != (int64_t)whole * 1000 + fraction) {
        fail_msg("%s gives %lld us", row, (long long)got_us);
    }
}

/* Sources: named in the first line of airtime_vectors.csv. */
static void every_published_value_is_met(void **state)
{
    (void)state;
    FILE *file = fopen(RP_SOURCE_DIR "/tests/unit/radio/airtime_vectors.csv", "r");
    assert_non_null(file);
    char row[512];
    int rows = 0;
    while (fgets(row, sizeof row, file) != NULL) {
        if (row[0] != '#' && strncmp(row, "source,", 7) != 0) {
            check_row(row);
            rows++;
        }
    }
    fclose(file);
    assert_int_equal(rows, 64);
}

static int largest_payload(unsigned sf, uint32_t bandwidth_hz, int64_t limit_us)
{
    struct rp_airtime settings = {
        .spreading_factor = (uint8_t)sf,
        .bandwidth_hz = bandwidth_hz,
        .coding_rate = 5,
        .crc = true,
        .preamble_symbols = 8,
        .low_data_rate = rp_airtime_low_data_rate((uint8_t)sf, bandwidth_hz),
    };
    int largest = -1;
    for (unsigned len = 0; len <= 255 && rp_airtime_us(&settings, len) <= limit_us; len++) {
        largest = (int)len;
    }
    return largest;
}

/* Largest payloads under the 400 ms dwell of 47 CFR 15.247 and under 1 s, computed elsewhere with
 * the chip maker's own C function (sx126x_driver, sx126x.c, commit 9636dc4); -1: not even none. */
static void largest_payloads_match_the_table(void **state)
{
    (void)state;
    static const struct {
        uint32_t bandwidth_hz;
        int64_t limit_us;
        int largest[6]; /* SF7..12 */
    } rows[] = {
        {125000, 400000, {255, 138, 66, 24, 0, -1}},
        {250000, 400000, {255, 255, 156, 74, 27, 0}},
        {500000, 400000, {255, 255, 255, 174, 82, 30}},
        {125000, 1000000, {255, 255, 197, 99, 36, 10}},
        {250000, 1000000, {255, 255, 255, 219, 110, 40}},
        {500000, 1000000, {255, 255, 255, 255, 242, 120}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (unsigned sf = 7; sf <= 12; sf++) {
            assert_int_equal(largest_payload(sf, rows[i].bandwidth_hz, rows[i].limit_us),
                             rows[i].largest[sf - 7]);
        }
    }
}

/* SX1276 data sheet, "Low Data Rate Optimization": on when a symbol lasts more than 16 ms. Symbol
 * times worked by hand: 2^SF / bandwidth. */
/* SF12 at 250 kHz, 16.384 ms a symbol: on in the chip maker's LoRaMac-node (radio.c), off in a
 * widely used web calculator, which has it on only for SF11 and SF12 at 125 kHz. With it 48 bytes
 * take 10 blocks of 40 bits, without 9 of 48: 5 symbols of 16.384 ms more. */
static void the_rule_of_a_firmware_differs_only_at_sf12_and_250_khz(void **state)
{
    (void)state;
    static const uint32_t bandwidths_hz[] = {125000, 250000, 500000};
    for (uint8_t sf = 7; sf <= 12; sf++) {
        for (size_t i = 0; i < 3; i++) {
            bool symbol =
                rp_airtime_low_data_rate_by(RP_LOW_DATA_RATE_SYMBOL, sf, bandwidths_hz[i]);
            bool narrow = rp_airtime_low_data_rate_by(RP_LOW_DATA_RATE_125, sf, bandwidths_hz[i]);
            assert_int_equal(symbol != narrow, sf == 12 && bandwidths_hz[i] == 250000);
            assert_int_equal(narrow, sf >= 11 && bandwidths_hz[i] == 125000);
        }
    }
    struct rp_radio_profile profile = {
        .bandwidth_hz = 250000, .spreading_factor = 12, .coding_rate = 5, .preamble_symbols = 8};
    int64_t with_us = rp_airtime_ruled_us(&profile, RP_LOW_DATA_RATE_SYMBOL, 48);
    int64_t without_us = rp_airtime_ruled_us(&profile, RP_LOW_DATA_RATE_125, 48);
    assert_int_equal(with_us - without_us, 10 * 16384);
    assert_int_equal(rp_airtime_ruled_us(&profile, RP_LOW_DATA_RATE_USUAL, 48), with_us);
    assert_int_equal(rp_airtime_profile_us(&profile, 48), with_us);
}

static void low_data_rate_follows_the_symbol_time(void **state)
{
    (void)state;
    static const struct {
        uint8_t sf;
        uint32_t bandwidth_hz;
        bool on;
    } rows[] = {
        {10, 125000, false}, /* 8.192 ms */
        {11, 125000, true},  /* 16.384 ms */
        {12, 125000, true},  /* 32.768 ms */
        {11, 250000, false}, /* 8.192 ms */
        {12, 250000, true},  /* 16.384 ms */
        {12, 500000, false}, /* 8.192 ms */
        {10, 62500, true},   /* 16.384 ms */
        {9, 62500, false},   /* 8.192 ms */
        {9, 32000, false},   /* 16.000 ms: not more than 16 */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(rp_airtime_low_data_rate(rows[i].sf, rows[i].bandwidth_hz), rows[i].on);
    }
}

/* 10.4 kHz does not divide a second into whole microseconds: 2^7 / 10400 Hz = 12307.69 us a symbol.
 * Preamble 12.25 symbols, 8 + 5 symbols for one byte (8 - 28 + 28 + 16 = 24 bits of 28): 25.25
 * symbols = 310769.23 us, worked by hand. */
static void a_part_of_a_microsecond_is_rounded_up(void **state)
{
    (void)state;
    struct rp_airtime settings = {.spreading_factor = 7,
                                  .bandwidth_hz = 10400,
                                  .coding_rate = 5,
                                  .crc = true,
                                  .preamble_symbols = 8};
    assert_int_equal(rp_airtime_us(&settings, 1), 310770);
}

static void settings_outside_their_range_are_refused(void **state)
{
    (void)state;
    const struct rp_airtime good = {.spreading_factor = 9,
                                    .bandwidth_hz = 125000,
                                    .coding_rate = 5,
                                    .crc = true,
                                    .preamble_symbols = 8};
    assert_true(rp_airtime_us(&good, 255) > 0);
    assert_int_equal(rp_airtime_us(&good, 256), RP_E_INVALID);
    struct rp_airtime bad[9];
    for (size_t i = 0; i < 9; i++) {
        bad[i] = good;
    }
    bad[0].spreading_factor = 6;
    bad[1].spreading_factor = 13;
    bad[2].bandwidth_hz = 7799;
    bad[3].bandwidth_hz = 500001;
    bad[4].coding_rate = 4;
    bad[5].coding_rate = 9;
    bad[6].preamble_symbols = 5;
    bad[7].spreading_factor = 0;
    bad[8].bandwidth_hz = 0;
    for (size_t i = 0; i < 9; i++) {
        assert_int_equal(rp_airtime_us(&bad[i], 10), RP_E_INVALID);
    }
}

/* The largest value must stay exact: SF12, 7.8 kHz, preamble 65535, 255 bytes, 4/8. Worked with
 * exact integers in another language: 4 * 65535 + 17 + 4 * (8 + 51 * 8) quarter symbols. */
static void the_longest_transmission_does_not_overflow(void **state)
{
    (void)state;
    struct rp_airtime settings = {.spreading_factor = 12,
                                  .bandwidth_hz = 7800,
                                  .coding_rate = 8,
                                  .crc = true,
                                  .preamble_symbols = 65535,
                                  .low_data_rate = true};
    assert_int_equal(rp_airtime_us(&settings, 255), INT64_C(34634962052));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_published_value_is_met),
        cmocka_unit_test(largest_payloads_match_the_table),
        cmocka_unit_test(low_data_rate_follows_the_symbol_time),
        cmocka_unit_test(the_rule_of_a_firmware_differs_only_at_sf12_and_250_khz),
        cmocka_unit_test(a_part_of_a_microsecond_is_rounded_up),
        cmocka_unit_test(settings_outside_their_range_are_refused),
        cmocka_unit_test(the_longest_transmission_does_not_overflow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
