/* The hash of the settings. CRC-16/IBM-3740: catalogue of parametrised CRC algorithms (reveng),
 * check value 0x29b1 over the nine digits "123456789". */
#include "rp_test.h"

#include "radio/plan/settings.h"

static const struct rp_radio_profile base = {.freq_hz = 869525000,
                                             .bandwidth_hz = 125000,
                                             .spreading_factor = 9,
                                             .coding_rate = 5,
                                             .sync_word = 0x12,
                                             .power_dbm = 14,
                                             .preamble_symbols = 8};

/* The polynomial division written another way, over bytes written out by hand. */
static uint16_t by_bits(const uint8_t *bytes, size_t len)
{
    uint32_t crc = 0xffff;
    for (size_t i = 0; i < 8 * len; i++) {
        unsigned bit = bytes[i / 8] >> (7 - i % 8) & 1u;
        unsigned top = crc >> 15 & 1u;
        crc = (crc << 1 & 0xffff) ^ (top != bit ? 0x1021u : 0);
    }
    return (uint16_t)crc;
}

static void the_hash_is_the_crc_of_the_settings(void **state)
{
    (void)state;
    assert_int_equal(by_bits((const uint8_t *)"123456789", 9), 0x29b1);
    /* 869525000 is 0x33d3e608, 125000 is 0x0001e848. */
    static const uint8_t bytes[] = {0x33, 0xd3, 0xe6, 0x08, 0x00, 0x01, 0xe8, 0x48,
                                    9,    5,    0x12, 14,   0,    8,    0};
    assert_int_equal(rp_settings_hash(&base), by_bits(bytes, sizeof bytes));
    struct rp_radio_profile other = base;
    other.power_dbm = -3;
    other.text_armour = true;
    static const uint8_t other_bytes[] = {0x33, 0xd3, 0xe6, 0x08, 0x00, 0x01, 0xe8, 0x48,
                                          9,    5,    0x12, 0xfd, 0,    8,    1};
    assert_int_equal(rp_settings_hash(&other), by_bits(other_bytes, sizeof other_bytes));
}

static void each_setting_changes_the_hash_and_is_named(void **state)
{
    (void)state;
    struct rp_radio_profile others[8] = {base, base, base, base, base, base, base, base};
    static const char *const names[8] = {"frequency_hz",     "bandwidth_hz", "spreading_factor",
                                         "coding_rate",      "sync_word",    "power_dbm",
                                         "preamble_symbols", "text_armour"};
    others[0].freq_hz++;
    others[1].bandwidth_hz = 250000;
    others[2].spreading_factor = 10;
    others[3].coding_rate = 8;
    others[4].sync_word = 0x34;
    others[5].power_dbm = 13;
    others[6].preamble_symbols = 12;
    others[7].text_armour = true;
    struct rp_settings_said all = {.known = UINT32_MAX, .profile = base};
    assert_int_equal(rp_settings_said_difference(&all, &base), RP_SETTING_COUNT);
    for (size_t i = 0; i < 8; i++) {
        assert_string_equal(rp_setting_name(rp_settings_said_difference(&all, &others[i])),
                            names[i]);
        for (size_t j = 0; j < i; j++) {
            assert_int_not_equal(rp_settings_hash(&others[i]), rp_settings_hash(&others[j]));
        }
        assert_int_not_equal(rp_settings_hash(&others[i]), rp_settings_hash(&base));
    }
}

/* What a modem says counts only where it has said it. */
static void only_what_was_said_is_compared(void **state)
{
    (void)state;
    struct rp_radio_profile others[RP_SETTING_COUNT];
    for (unsigned i = 0; i < RP_SETTING_COUNT; i++) {
        others[i] = base;
    }
    others[RP_SETTING_FREQUENCY].freq_hz = 868100000;
    others[RP_SETTING_BANDWIDTH].bandwidth_hz = 500000;
    others[RP_SETTING_SPREADING].spreading_factor = 12;
    others[RP_SETTING_CODING].coding_rate = 6;
    others[RP_SETTING_SYNC].sync_word = 0x34;
    others[RP_SETTING_POWER].power_dbm = -3;
    others[RP_SETTING_PREAMBLE].preamble_symbols = 65535;
    others[RP_SETTING_ARMOUR].text_armour = true;
    static const int32_t values[] = {868100000, 500000, 12, 6, 0x34, -3, 65535, 1};
    for (unsigned i = 0; i < RP_SETTING_COUNT; i++) {
        struct rp_settings_said said = {.known = 1u << i, .profile = others[i]};
        assert_int_equal(rp_settings_said_difference(&said, &base), i);
        assert_int_equal(rp_setting_value(&others[i], (enum rp_setting)i), values[i]);
        said.known = ~said.known;
        assert_int_equal(rp_settings_said_difference(&said, &base), RP_SETTING_COUNT);
        said.known = 0;
        assert_int_equal(rp_settings_said_difference(&said, &base), RP_SETTING_COUNT);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_hash_is_the_crc_of_the_settings),
        cmocka_unit_test(each_setting_changes_the_hash_and_is_named),
        cmocka_unit_test(only_what_was_said_is_compared),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
