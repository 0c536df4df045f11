/* Strength, sensitivity and capture against the published tables named beside each. */
#include "rp_test.h"

#include <string.h>

#include "air/air.h"

/* SX1272/73 data sheet rev 2 (2014), table of RFS_L125, RFS_L250, RFS_L500. */
static void sensitivity_is_the_data_sheets(void **state)
{
    (void)state;
    assert_int_equal(air_sensitivity_dbm(7, 125000), -124);
    assert_int_equal(air_sensitivity_dbm(12, 125000), -137);
    assert_int_equal(air_sensitivity_dbm(9, 250000), -128);
    assert_int_equal(air_sensitivity_dbm(10, 500000), -125);
    /* -174 dBm/Hz + 10 log10(BW) + 6 dB: -117.0, -114.0, -111.0. */
    assert_int_equal(air_noise_dbm(125000), -117);
    assert_int_equal(air_noise_dbm(250000), -114);
    assert_int_equal(air_noise_dbm(500000), -111);
}

/* ITU-R P.525 at 868 MHz: 91.2, 105.2, 111.2, 117.2 and 125.2 dB at 1, 5, 10, 20 and 50 km. Bor et
 * al. (MSWiM 2016): 127.41 dB at 40 m, 20.8 dB a decade. Petajajarvi et al. (2015): 128.95 dB at
 * 1 km, 23.2 dB a decade, sigma 7.8 dB. */
static void path_loss_is_the_models(void **state)
{
    (void)state;
    static const struct {
        const char *model;
        double km, loss_db, sigma_db;
    } rows[] = {
        {"free", 1, 91.2, 0},       {"free", 5, 105.2, 0},    {"free", 10, 111.2, 0},
        {"free", 20, 117.2, 0},     {"free", 50, 125.2, 0},   {"bor", 0.04, 127.41, 3.57},
        {"bor", 0.4, 148.21, 3.57}, {"oulu", 1, 128.95, 7.8}, {"oulu", 10, 152.15, 7.8},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double loss_db, sigma_db;
        assert_true(air_path_loss_db(rows[i].model, rows[i].km, 868e6, &loss_db, &sigma_db));
        assert_true(loss_db > rows[i].loss_db - 0.06 && loss_db < rows[i].loss_db + 0.06);
        assert_true(sigma_db > rows[i].sigma_db - 0.01 && sigma_db < rows[i].sigma_db + 0.01);
    }
    double loss_db, sigma_db;
    assert_false(air_path_loss_db("none", 1, 868e6, &loss_db, &sigma_db));
    assert_false(air_path_loss_db("free", 0, 868e6, &loss_db, &sigma_db));
}

/* Goursaud and Gorce (2015) as the ns-3 lorawan module has them; Croce et al. (2018) as FLoRa has
 * them; Bor et al. (2016): 6 dB. */
static void capture_follows_the_tables(void **state)
{
    (void)state;
    static const struct {
        enum air_capture capture;
        uint8_t wanted, other;
        bool disturbs;
        int above_db;
    } rows[] = {
        {AIR_CAPTURE_GOURSAUD, 7, 7, true, 6},    {AIR_CAPTURE_GOURSAUD, 7, 12, true, -20},
        {AIR_CAPTURE_GOURSAUD, 12, 7, true, -36}, {AIR_CAPTURE_GOURSAUD, 10, 11, true, -26},
        {AIR_CAPTURE_CROCE, 9, 9, true, 1},       {AIR_CAPTURE_CROCE, 7, 8, true, -8},
        {AIR_CAPTURE_CROCE, 12, 11, true, -23},   {AIR_CAPTURE_BOR, 8, 8, true, 6},
        {AIR_CAPTURE_BOR, 8, 9, false, 0},        {AIR_CAPTURE_FIXED, 8, 9, false, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int above_db;
        assert_int_equal(
            air_capture_needs(rows[i].capture, 3, rows[i].wanted, rows[i].other, &above_db),
            rows[i].disturbs);
        assert_true(!rows[i].disturbs || above_db == rows[i].above_db);
    }
}

/* Of a normal distribution 68.3 % lie within one sigma and 95.4 % within two. */
static void draws_are_normal(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(3);
    int one = 0, two = 0;
    long sum = 0;
    for (int i = 0; i < 20000; i++) {
        int db = air_draw_db(&rng, 100); /* 10 dB */
        one += db >= -10 && db <= 10;
        two += db >= -20 && db <= 20;
        sum += db;
    }
    assert_in_range(one, 13660, 14360); /* 68.3 % and up to 70.7 %: whole dB are rounded */
    assert_in_range(two, 19000, 19300);
    assert_true(sum > -6000 && sum < 6000);
    assert_int_equal(air_draw_db(&rng, 0), 0);
}

static struct air_channel air;
static struct air_settings settings = {.freq_hz = 868125000,
                                       .bandwidth_hz = 125000,
                                       .preamble_symbols = 8,
                                       .spreading_factor = 7,
                                       .coding_rate = 5,
                                       .sync_word = 0x12,
                                       .crc = true,
                                       .power_dbm = 14};
static const struct air_frame frame = {.len = 3, .bytes = {1, 2, 3}};

static struct air_report send_over(int loss_db, uint8_t spreading_factor, int32_t offset_hz)
{
    struct air_report report;
    air_channel_init(&air, 2, 1);
    air_channel_set_link(&air, 0, 1, true, 0);
    air.links[0][1].has_path = true;
    air.links[0][1].loss_db = (int16_t)loss_db;
    air.offset_hz[0] = offset_hz;
    settings.spreading_factor = spreading_factor;
    air_channel_listen(&air, 1, &settings, 0);
    air_channel_send(&air, 0, &settings, &frame, 1000);
    assert_true(air_channel_finish(&air, 10000000, &report));
    return report;
}

/* 14 dBm less 138 dB is -124 dBm: just heard at SF7, 125 kHz. */
static void a_frame_is_heard_down_to_the_sensitivity(void **state)
{
    (void)state;
    struct air_report report = send_over(138, 7, 0);
    assert_int_equal(report.fates[1], AIR_OK);
    assert_int_equal(report.rssi_dbm[1], -124);
    assert_int_equal(report.snr_db[1], -7);
    assert_int_equal(send_over(139, 7, 0).fates[1], AIR_WEAK);
    assert_int_equal(send_over(139, 8, 0).fates[1], AIR_OK);
    assert_int_equal(send_over(151, 12, 0).fates[1], AIR_OK);
    assert_int_equal(send_over(152, 12, 0).fates[1], AIR_WEAK);
}

/* A quarter of 125 kHz is 31.25 kHz. */
static void a_frame_off_its_centre_is_not_heard(void **state)
{
    (void)state;
    assert_int_equal(send_over(100, 7, 31250).fates[1], AIR_OK);
    assert_int_equal(send_over(100, 7, -31250).fates[1], AIR_OK);
    assert_int_equal(send_over(100, 7, 31251).fates[1], AIR_UNTUNED);
}

/* Two spreading factors at once. By Goursaud SF8 needs to be no more than 24 dB below an SF7. */
static void spreading_factors_disturb_each_other_by_the_table(void **state)
{
    (void)state;
    for (int below_db = 24; below_db <= 25; below_db++) {
        struct air_report report;
        struct air_settings slow = settings, fast = settings;
        slow.spreading_factor = 8;
        fast.spreading_factor = 7;
        air_channel_init(&air, 3, 1);
        air.capture = AIR_CAPTURE_GOURSAUD;
        air_channel_set_link(&air, 0, 2, true, 0);
        air_channel_set_link(&air, 1, 2, true, 0);
        air.links[0][2].rssi_dbm = (int16_t)(-60 - below_db);
        air.links[1][2].rssi_dbm = -60;
        air_channel_listen(&air, 2, &slow, 0);
        air_channel_send(&air, 0, &slow, &frame, 1000);
        air_channel_send(&air, 1, &fast, &frame, 30000);
        enum air_fate fate = AIR_UNHEARABLE;
        while (air_channel_finish(&air, 10000000, &report)) {
            fate = report.from == 0 ? report.fates[2] : fate;
        }
        assert_int_equal(fate, below_db == 24 ? AIR_OK : AIR_COLLISION);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sensitivity_is_the_data_sheets),
        cmocka_unit_test(path_loss_is_the_models),
        cmocka_unit_test(capture_follows_the_tables),
        cmocka_unit_test(draws_are_normal),
        cmocka_unit_test(a_frame_is_heard_down_to_the_sensitivity),
        cmocka_unit_test(a_frame_off_its_centre_is_not_heard),
        cmocka_unit_test(spreading_factors_disturb_each_other_by_the_table),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
