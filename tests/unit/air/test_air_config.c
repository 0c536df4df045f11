/* The emulator's own configuration: what it takes and what it refuses. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "air/config.h"

static struct air_config config;
static struct rp_problem problem;

static int line(const char *text)
{
    char copy[AIR_CONFIG_CAP];
    snprintf(copy, sizeof copy, "%s", text);
    problem = (struct rp_problem){.code = 0};
    return air_config_line(&config, copy, &problem);
}

static void every_word_is_taken(void **state)
{
    (void)state;
    air_config_init(&config);
    assert_int_equal(line(""), 0);
    assert_int_equal(line("   # only a comment"), 0);
    assert_int_equal(line("modem high kiss-ack /run/h txdelay=20 ack=0e csma=off # why"), 0);
    assert_int_equal(line("modem base at b baud=9600 ok=late rxerr=on baudcheck=on"), 0);
    assert_int_equal(line("modem cache hextext c chip=rn2903\r\n"), 0);
    assert_int_equal(line("link high cache 0.25 1"), 0);
    assert_int_equal(line("link cache base 0.000001"), 0);
    assert_int_equal(line("link high base none"), 0);
    assert_int_equal(line("signal high cache -110 -9"), 0);
    assert_int_equal(line("air sf 9 bw 250000 cr 8 preamble 12 freq 433500000 sync 2b"), 0);
    assert_int_equal(line("latency 2 20"), 0);
    assert_int_equal(line("seed 77"), 0);
    assert_int_equal(line("control /run/air/control"), 0);
    assert_int_equal(line("capture 6"), 0);
    assert_int_equal(line("sync off"), 0);
    assert_int_equal(line("mixed on"), 0);
    assert_int_equal(line("split on"), 0);

    assert_int_equal(line("capture croce"), 0);
    assert_int_equal(line("fading 3"), 0);
    assert_int_equal(line("modem far uart u chip=e32 rssi=on"), 0);
    assert_int_equal(line("path high far 121.4 3.6"), 0);
    assert_int_equal(line("path base far 5 free 11.8"), 0);

    assert_int_equal(config.capture, AIR_CAPTURE_CROCE);
    assert_int_equal(config.fading_tenth_db, 30);
    assert_int_equal(config.modems[3].options.chip, AIR_CHIP_E32);
    assert_int_equal(config.links[0][3].loss_db, 121);
    assert_int_equal(config.links[3][0].sigma_tenth_db, 36);
    /* ITU-R P.525 at 433.5 MHz and 5 km: 105.2 dB at 868 MHz less 6 dB; and 11.8 of a ridge. */
    assert_int_equal(config.links[1][3].loss_db, 111);
    assert_int_equal(config.count, 4);
    assert_int_equal(config.modems[0].family, AIR_KISS_ACK);
    assert_string_equal(config.modems[0].path, "/run/h");
    assert_int_equal(config.modems[0].options.tx_delay, 2);
    assert_int_equal(config.modems[0].options.ack_type, 0x0e);
    assert_false(config.modems[0].options.csma);
    assert_int_equal(config.modems[1].options.baud, 9600);
    assert_true(config.modems[1].options.late_ok);
    assert_true(config.modems[1].options.report_garbled);
    assert_true(config.modems[1].options.baud_check);
    assert_true(config.modems[2].options.rn2903);
    assert_int_equal(config.links[0][2].loss_ppm, 250000);
    assert_int_equal(config.links[2][0].loss_ppm, 1000000);
    assert_int_equal(config.links[1][2].loss_ppm, 1);
    assert_false(config.links[0][1].audible);
    assert_int_equal(config.links[0][2].rssi_dbm, -110);
    assert_false(config.links[2][0].has_signal);
    assert_int_equal(config.air.spreading_factor, 9);
    assert_int_equal(config.air.sync_word, 0x2b);
    assert_int_equal(config.latency_max_us, 20000);
    assert_int_equal(config.seed, 77);
    assert_int_equal(config.capture_db, 6);
    assert_true(config.sync_ignored);
    assert_true(config.mixed);
    assert_true(config.split);
    assert_string_equal(config.control, "/run/air/control");
}

static void bad_lines_are_refused_and_change_nothing(void **state)
{
    (void)state;
    air_config_init(&config);
    assert_int_equal(line("modem a at a"), 0);
    assert_int_equal(line("modem b at b"), 0);
    assert_int_equal(line("link a b 0.5"), 0);
    struct air_config before = config;
    static const char *const refused[] = {
        "modem",
        "modem c at",
        "modem c morse c",
        "modem a at again",
        "modem sixteen-letters- at c",
        "modem c at c baud",
        "modem c at c baud=fast",
        "modem c at c speed=9600",
        "modem c kiss c txdelay=2560",
        "modem c kiss c ack=0d",
        "link a",
        "link a b",
        "link a b -0.1",
        "link a b 1.01",
        "link a b nan",
        "link a b 0.5x",
        "link a a 0",
        "link a c 0",
        "link a b 0 0 0",
        "signal a b -90",
        "signal a b 1 0",
        "air sf 6",
        "air sf 13",
        "air sf",
        "air bw 62500",
        "air cr 9",
        "air preamble 5",
        "air sync 1",
        "air sync 123",
        "latency 5",
        "latency 20 2",
        "latency 0 60001",
        "seed -1",
        "seed 4294967296",
        "capture -1",
        "capture bores",
        "fading x",
        "path a b",
        "path a b x",
        "path a b 301",
        "path a b 110 21",
        "path a b 5 mars",
        "path a b 0 free",
        "path a b 5 free x",
        "path a b 5 110 3",
        "modem c uart c chip=e99",
        "sync maybe",
        "wind 30",
        "wind",
        "x x x x x x x x x x x x x x x x x",
    };
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        if (line(refused[i]) >= 0) {
            fail_msg("taken: %s", refused[i]);
        }
        assert_int_not_equal(problem.code, 0);
        assert_true(problem.text[0] != '\0');
        assert_memory_equal(&config, &before, sizeof config);
    }
}

static void there_are_at_most_32_modems(void **state)
{
    (void)state;
    air_config_init(&config);
    for (int i = 0; i < AIR_STATIONS_MAX; i++) {
        char text[64];
        snprintf(text, sizeof text, "modem m%d kiss p%d", i, i);
        assert_int_equal(line(text), 0);
    }
    assert_int_equal(line("modem more kiss p"), RP_E_FULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_word_is_taken),
        cmocka_unit_test(bad_lines_are_refused_and_change_nothing),
        cmocka_unit_test(there_are_at_most_32_modems),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
