/* Drivers against emulated modems, in made-up time: each station has a radio (src/radio) and a
 * modem (tools/air) joined by an emulated serial line, and all share one air. The rig owns the
 * ports as the daemon does: it opens them again after a loss, and fulfils the radios' wishes. */
#ifndef RP_TEST_RADIO_RIG_H
#define RP_TEST_RADIO_RIG_H

#include "air/world.h"
#include "radio/radio.h"

#define RIG_STATIONS 2

struct rig_station {
    struct rp_radio radio;
    bool open;            /* its port */
    bool reset_wired;     /* the wish for a line reset restarts the module */
    bool mode_wired;      /* the wishes for the mode reach the module's pin */
    rp_time_us reopen_us; /* RP_NEVER */
    unsigned ready, frames, wrong, sent, unsent, maybe, restarted, faults;
    char fault[96];   /* the last one */
    int16_t rssi_dbm; /* of the last frame that had one */
    bool has_rssi;
};

struct rig {
    struct air_config config;
    struct air_world world;
    struct rig_station stations[RIG_STATIONS];
    uint8_t frame[RP_FRAME_LEN_MAX]; /* what is sent; other frames that arrive are "wrong" */
    size_t frame_len;
    rp_time_us now_us;
};

/* One family: its driver, and how the emulator calls its modem and sets it up. */
struct rig_family {
    const char *driver, *modem; /* "hextext", "hextext baud=57600" */
    bool answers;               /* it speaks in lines, so a silent or wrong one can be told */
    bool checked;               /* damage on the serial line is found by the driver */
};

/* Two stations of the family, 868.125 MHz, SF7, 125 kHz; seeded. Ports are closed. */
void rig_init(struct rig *rig, const struct rig_family *family, uint64_t seed);
/* Opens the ports and lets both start; the test fails when one does not. */
void rig_start(struct rig *rig, const struct rig_family *family, uint64_t seed);
void rig_open(struct rig *rig, unsigned station);
/* A command of the emulator; the test fails when it is refused. */
void rig_tell(struct rig *rig, const char *command);
void rig_run_ms(struct rig *rig, int64_t ms);
/* Whether station 1 gets the frame that station 0 sends, as often as it takes, within the time. */
bool rig_deliver(struct rig *rig, int64_t limit_ms);
/* Hands the frame over once when station 0 is ready, waiting at most that long. */
bool rig_send(struct rig *rig, int64_t limit_ms);

#endif
