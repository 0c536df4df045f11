/* Time on air against values that others publish. Every row names its source:
 * A  RadioLib extras/test/unit/tests/TestCalculateTimeOnAir.cpp, values from the chip maker's
 *    calculators
 * B  The Things Stack pkg/toa/toa_test.go
 * C  lora-rs lora-modulation unit tests
 * E  ns-3 lorawan module TimeOnAirTest */
#include "rp_test.h"

#include "air/air_time.h"
#include "ridgepost/error.h"

struct row {
    char source;
    uint16_t payload_len;
    uint8_t sf;
    uint32_t bandwidth_hz;
    uint8_t coding_rate;
    bool crc, implicit_header;
    uint16_t preamble_symbols;
    bool low_data_rate;
    int64_t airtime_us;
};

/* clang-format off */
static const struct row rows[] = {
    {'A', 1, 7, 125000, 5, 1, 0, 8, 1, 30976},
    {'A', 10, 7, 125000, 5, 1, 0, 8, 1, 46336},
    {'A', 50, 7, 125000, 5, 1, 0, 8, 1, 128256},
    {'A', 255, 7, 125000, 5, 1, 0, 8, 1, 548096},
    {'A', 5, 11, 250000, 8, 0, 1, 16, 0, 296960},
    {'A', 15, 11, 250000, 8, 0, 1, 16, 0, 362496},
    {'A', 100, 11, 250000, 8, 0, 1, 16, 0, 1411072},
    {'A', 200, 11, 250000, 8, 0, 1, 16, 0, 2590720},
    {'A', 1, 10, 250000, 5, 1, 0, 8, 1, 103424},
    {'A', 20, 10, 250000, 5, 1, 0, 8, 1, 205824},
    {'A', 100, 10, 250000, 5, 1, 0, 8, 1, 615424},
    {'A', 10, 11, 500000, 6, 0, 1, 32, 0, 205824},
    {'A', 25, 11, 500000, 6, 0, 1, 32, 0, 279552},
    {'A', 200, 11, 500000, 6, 0, 1, 32, 0, 1065984},
    {'A', 10, 8, 250000, 8, 1, 1, 32, 0, 69888},
    {'A', 20, 8, 250000, 8, 1, 1, 32, 0, 86272},
    {'A', 80, 8, 250000, 8, 1, 1, 32, 0, 209152},
    {'A', 160, 8, 250000, 8, 1, 1, 32, 0, 372992},
    {'A', 1, 12, 125000, 7, 1, 0, 8, 1, 892928},
    {'A', 24, 12, 125000, 7, 1, 0, 8, 1, 1810432},
    {'A', 64, 12, 125000, 7, 1, 0, 8, 1, 3645440},
    {'A', 128, 12, 125000, 7, 1, 0, 8, 1, 6627328},
    {'B', 10, 7, 125000, 5, 1, 0, 8, 0, 41216},
    {'B', 10, 8, 125000, 5, 1, 0, 8, 0, 72192},
    {'B', 10, 9, 125000, 5, 1, 0, 8, 0, 144384},
    {'B', 10, 10, 125000, 5, 1, 0, 8, 0, 288768},
    {'B', 10, 11, 125000, 5, 1, 0, 8, 1, 577536},
    {'B', 10, 12, 125000, 5, 1, 0, 8, 1, 991232},
    {'B', 10, 7, 250000, 5, 1, 0, 8, 0, 20608},
    {'B', 10, 7, 500000, 5, 1, 0, 8, 0, 10304},
    {'B', 10, 7, 125000, 6, 1, 0, 8, 0, 45312},
    {'B', 10, 7, 125000, 7, 1, 0, 8, 0, 49408},
    {'B', 10, 7, 125000, 8, 1, 0, 8, 0, 53504},
    {'B', 13, 7, 125000, 5, 1, 0, 8, 0, 46336},
    {'B', 15, 7, 125000, 5, 1, 0, 8, 0, 46336},
    {'B', 16, 7, 125000, 5, 1, 0, 8, 0, 51456},
    {'B', 19, 7, 125000, 5, 1, 0, 8, 0, 51456},
    {'C', 38, 7, 250000, 5, 1, 0, 8, 0, 41088},
    {'C', 38, 7, 125000, 5, 1, 0, 8, 0, 82176},
    {'C', 38, 8, 125000, 5, 1, 0, 8, 0, 143872},
    {'C', 38, 9, 125000, 5, 1, 0, 8, 0, 267264},
    {'C', 38, 10, 125000, 5, 1, 0, 8, 0, 493568},
    {'C', 38, 11, 125000, 5, 1, 0, 8, 1, 1069056},
    {'C', 38, 12, 125000, 5, 1, 0, 8, 1, 1974272},
    {'C', 39, 8, 125000, 5, 1, 0, 8, 0, 154112},
    {'C', 40, 9, 125000, 5, 1, 0, 8, 0, 287744},
    {'C', 40, 10, 125000, 5, 1, 0, 8, 0, 534528},
    {'C', 41, 7, 250000, 5, 1, 0, 8, 0, 43648},
    {'C', 41, 7, 125000, 5, 1, 0, 8, 0, 87296},
    {'C', 41, 11, 125000, 5, 1, 0, 8, 1, 1150976},
    {'C', 41, 12, 125000, 5, 1, 0, 8, 1, 2138112},
    {'E', 10, 8, 125000, 5, 1, 1, 8, 0, 72192},
    {'E', 10, 8, 125000, 6, 1, 1, 8, 0, 78336},
    {'E', 10, 8, 125000, 6, 1, 1, 10, 0, 82432},
    {'E', 10, 8, 125000, 6, 1, 1, 10, 1, 82432},
    {'E', 10, 10, 125000, 6, 1, 1, 10, 1, 280576},
    {'E', 10, 10, 250000, 6, 1, 1, 10, 1, 140288},
    {'E', 10, 10, 500000, 6, 1, 1, 10, 1, 70144},
    {'E', 10, 10, 500000, 6, 1, 0, 10, 1, 82432},
    {'E', 10, 10, 500000, 6, 1, 0, 8, 1, 78336},
    {'E', 10, 12, 500000, 6, 1, 0, 8, 1, 264192},
    {'E', 50, 12, 500000, 6, 1, 0, 8, 1, 657408},
    {'E', 50, 12, 125000, 6, 1, 0, 8, 1, 2629632},
    {'E', 50, 12, 125000, 5, 1, 0, 8, 1, 2301952},
};
/* clang-format on */

static void every_published_value_comes_out(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct row *r = &rows[i];
        struct air_time_input in = {.bandwidth_hz = r->bandwidth_hz,
                                    .preamble_symbols = r->preamble_symbols,
                                    .spreading_factor = r->sf,
                                    .coding_rate = r->coding_rate,
                                    .crc = r->crc,
                                    .implicit_header = r->implicit_header,
                                    .low_data_rate = r->low_data_rate,
                                    .payload_len = r->payload_len};
        if (air_time_us(&in) != r->airtime_us) {
            print_error("row %zu of source %c\n", i, r->source);
        }
        assert_int_equal(air_time_us(&in), r->airtime_us);
    }
}

static void settings_outside_their_range_are_refused(void **state)
{
    (void)state;
    const struct air_time_input good = {.bandwidth_hz = 125000,
                                        .preamble_symbols = 8,
                                        .spreading_factor = 7,
                                        .coding_rate = 5,
                                        .crc = true,
                                        .payload_len = 10};
    assert_int_equal(air_time_us(&good), 41216);
    struct air_time_input in = good;
    in.spreading_factor = 6;
    assert_int_equal(air_time_us(&in), RP_E_INVALID);
    in.spreading_factor = 13;
    assert_int_equal(air_time_us(&in), RP_E_INVALID);
    in = good;
    in.coding_rate = 4;
    assert_int_equal(air_time_us(&in), RP_E_INVALID);
    in.coding_rate = 9;
    assert_int_equal(air_time_us(&in), RP_E_INVALID);
    in = good;
    in.bandwidth_hz = 0;
    assert_int_equal(air_time_us(&in), RP_E_INVALID);
    in = good;
    in.payload_len = 256;
    assert_int_equal(air_time_us(&in), RP_E_INVALID);
}

/* SX1276 data sheet, "Low Data Rate Optimization": on when a symbol is longer than 16 ms. */
static void optimisation_is_for_symbols_over_16_ms(void **state)
{
    (void)state;
    assert_true(air_time_low_data_rate(11, 125000)); /* 16.384 ms */
    assert_true(air_time_low_data_rate(12, 125000));
    assert_true(air_time_low_data_rate(12, 250000)); /* 16.384 ms */
    assert_false(air_time_low_data_rate(10, 125000));
    assert_false(air_time_low_data_rate(11, 250000));
    assert_false(air_time_low_data_rate(12, 500000));
    assert_int_equal(air_time_symbol_us(7, 125000), 1024);
    assert_int_equal(air_time_symbol_us(12, 125000), 32768);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_published_value_comes_out),
        cmocka_unit_test(settings_outside_their_range_are_refused),
        cmocka_unit_test(optimisation_is_for_symbols_over_16_ms),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
