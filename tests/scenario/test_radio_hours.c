/* An hour of made-up time for each driver and seed, with a fault of the emulated modem, its serial
 * line or its supply every ten seconds on average and a frame every two. Whatever comes together:
 * every frame accepted has exactly one outcome, and at the end the link carries frames. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "radio_rig.h"

static const struct rig_family families[] = {
    {.driver = "kiss", .modem = "kiss txdelay=10"},
    {.driver = "kiss-crc", .modem = "kiss txdelay=10 smack=on", .checked = true},
    {.driver = "kiss-ack", .modem = "kiss-ack txdelay=10"},
    {.driver = "at", .modem = "at", .answers = true, .checked = true},
    {.driver = "at", .modem = "at ok=late rxerr=on", .answers = true, .checked = true},
    {.driver = "at-old", .modem = "at chip=rylr896", .answers = true, .checked = true},
    {.driver = "hextext", .modem = "hextext baud=57600 rxerr=on", .answers = true},
    {.driver = "uart-e22", .modem = "uart rssi=on", .checked = true},
    {.driver = "uart-e32", .modem = "uart chip=e32", .checked = true},
};
enum { FAMILIES = sizeof families / sizeof families[0], SECONDS = 3600 };

/* Where a fault has to be undone, the second command does that, some seconds later. */
static const struct {
    const char *command, *undo;
} faults[] = {
    {"restart %s", NULL},          {"unplug %s", "plug %s"},
    {"rubbish %s 3000", NULL},     {"hang %s on", "restart %s"},
    {"stuck %s on", "restart %s"}, {"mute %s on", "mute %s off"},
    {"noend %s 2", NULL},          {"brownout %s 2", NULL},
    {"drop %s 3000", "drop %s 0"}, {"add %s 3000", "add %s 0"},
    {"echo %s on", "echo %s off"}, {"cooked %s on", "cooked %s off"},
    {"fail %s 3", NULL},           {"offset %s 40000", "offset %s 0"},
    {"first %s 252", NULL},
};
enum { FAULTS = sizeof faults / sizeof faults[0] };

static struct rig rig;
static struct {
    bool pending;
    int fault, due_s;
} undo[RIG_STATIONS];
static unsigned accepted;
static uint64_t seeds = 3;

static void tell(const char *format, unsigned station)
{
    char command[64];
    static const char *const names[RIG_STATIONS] = {"high", "base"};
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
    snprintf(command, sizeof command, format, names[station]);
#pragma GCC diagnostic pop
    rig_tell(&rig, command);
}

static void undo_now(unsigned station)
{
    if (undo[station].pending) {
        undo[station].pending = false;
        tell(faults[undo[station].fault].undo, station);
    }
}

static void break_something(struct rp_rng *rng, int second)
{
    unsigned station = (unsigned)rp_rng_below(rng, RIG_STATIONS);
    int fault = (int)rp_rng_below(rng, FAULTS);
    if (undo[station].pending) {
        return;
    }
    tell(faults[fault].command, station);
    undo[station].pending = faults[fault].undo != NULL;
    undo[station].fault = fault;
    undo[station].due_s = second + 2 + (int)rp_rng_below(rng, 8);
}

static void one_second(struct rp_rng *rng, int second)
{
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        if (undo[i].pending && second >= undo[i].due_s) {
            undo_now(i);
        }
        if (rp_rng_below(rng, 4) == 0 && rig.stations[i].open &&
            rp_radio_send(&rig.stations[i].radio, (struct rp_view){rig.frame, rig.frame_len},
                          rig.now_us) == 0) {
            accepted++;
        }
    }
    if (rp_rng_below(rng, 10) == 0) {
        break_something(rng, second);
    }
    rig_run_ms(&rig, 1000);
}

static unsigned outcomes(void)
{
    unsigned count = 0;
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        count += rig.stations[i].sent + rig.stations[i].unsent;
    }
    return count;
}

static void an_hour(const struct rig_family *family, uint64_t seed)
{
    struct rp_rng rng = rp_rng_seeded(seed);
    rig_start(&rig, family, seed);
    memset(undo, 0, sizeof undo);
    accepted = 0;
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        rig.stations[i].reset_wired = seed % 2 == 0;
    }
    for (int second = 0; second < SECONDS; second++) {
        one_second(&rng, second);
    }
    for (unsigned i = 0; i < RIG_STATIONS; i++) {
        undo_now(i);
    }
    rig_run_ms(&rig, 100000);
    if (accepted != outcomes()) {
        fail_msg("%s, seed %lu: %u frames, %u outcomes", family->driver, (unsigned long)seed,
                 accepted, outcomes());
    }
    /* A setting that a lost byte has changed is mended after a quarter of an hour of silence. */
    if (!rig_deliver(&rig, 2000000)) {
        fail_msg("%s, seed %lu: does not carry frames any more: %s, %s", family->driver,
                 (unsigned long)seed, rp_radio_ladder(&rig.stations[0].radio),
                 rp_radio_ladder(&rig.stations[1].radio));
    }
    print_message("%s seed %lu: %u frames, %u perhaps aired, %u heard, %u wrong, %u line resets\n",
                  family->driver, (unsigned long)seed, accepted,
                  rig.stations[0].maybe + rig.stations[1].maybe,
                  rig.stations[0].frames + rig.stations[1].frames,
                  rig.stations[0].wrong + rig.stations[1].wrong,
                  rig.stations[0].radio.counters.line_resets);
    assert_true(rig.stations[1].frames > accepted / 8);
}

static void every_driver_outlives_hours_of_faults(void **state)
{
    (void)state;
    for (size_t i = 0; i < FAMILIES; i++) {
        for (uint64_t seed = 1; seed <= seeds; seed++) {
            an_hour(&families[i], seed);
        }
    }
}

/* The first argument is the number of seeds, 3 when left out. */
int main(int argc, char **argv)
{
    seeds = argc > 1 ? strtoull(argv[1], NULL, 10) : seeds;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_driver_outlives_hours_of_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
