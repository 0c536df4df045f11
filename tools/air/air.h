/* The shared air: who transmits, who hears, and what spoils a frame. Pure: every function is given
 * the time; nothing here knows a modem or a port.
 *
 * Model, and where it is simple on purpose:
 * - A frame occupies the air for its exact time on air. A transmitting station hears nothing.
 * - A receiver gets a frame only when it listens, with the same frequency, spreading factor,
 *   bandwidth, inversion and (unless switched off) sync word, from the frame's lock point to its
 *   end without a break. The lock point is where the last five preamble symbols begin (N - 5
 *   symbols after the start): what happens before it is harmless (LoRaSim, Bor et al. 2016).
 * - Two frames that both reach a receiver and overlap after the lock point of one spoil that one,
 *   when they share the bandwidth and their centres are close (see channel_shared), unless it is
 *   stronger by what the capture table asks. With a fixed capture_db of 0 equal spreading factors
 *   always spoil each other and different ones never do. Each interferer counts alone: the sum of
 *   several is not formed.
 * - A directed link loses each frame with its own fixed chance, from its own seeded generator.
 * - A link with a path loss makes the strength of each frame: power, less the loss, less one draw
 * of shadowing for the link, plus a draw of fading for the frame. What arrives below the receiver's
 *   sensitivity is too weak. Without one, the strength is fixed and nothing is too weak.
 * - Oscillators may be off: a frame whose centre is more than a quarter of the bandwidth from where
 *   the receiver listens is not heard (reports of users put the limit at 20 to 25 %).
 * - Stations without a link neither hear nor disturb each other. */
#ifndef AIR_AIR_H
#define AIR_AIR_H

#include <stdbool.h>
#include <stdint.h>

#include "air/propagation.h"
#include "base/rng.h"
#include "ridgepost/error.h"
#include "ridgepost/view.h"

/* One bit per station in a 32-bit set. */
#define AIR_STATIONS_MAX 32
/* LoRa's payload length field is 8 bits (SX1276 data sheet 4.1.1.6). */
#define AIR_PAYLOAD_MAX 255
/* A loss of one, in parts per million. */
#define AIR_LOSS_ONE 1000000

/* How a station sends, and what it listens for. */
struct air_settings {
    uint32_t freq_hz;
    uint32_t bandwidth_hz;     /* 125000, 250000, 500000 */
    uint16_t preamble_symbols; /* sending only */
    uint8_t spreading_factor;  /* 7..12 */
    uint8_t coding_rate;       /* 5..8, sending only: the header tells the receiver */
    uint8_t sync_word;
    bool crc; /* sending only: the header tells the receiver */
    bool inverted_iq;
    int8_t power_dbm; /* sending only */
};

/* A frame as a modem hands it over. */
struct air_frame {
    uint16_t len;       /* of bytes */
    uint16_t extra_len; /* bytes the module adds on air and takes off again */
    bool addressed;     /* from, to and pin are meaningful: an addressed module sent it */
    uint16_t from, to;  /* module addresses; to 0 is everybody */
    char pin[9];        /* module password, "" when none; NUL-terminated */
    uint8_t bytes[AIR_PAYLOAD_MAX];
};

/* What became of one frame at one receiver. */
#define AIR_FATES(X)                                                                               \
    X(AIR_UNHEARABLE, "unhearable") /* no link */                                                  \
    X(AIR_OK, "ok")                                                                                \
    X(AIR_LOST, "lost")             /* the link's random loss */                                   \
    X(AIR_COLLISION, "collision")   /* spoiled by another frame */                                 \
    X(AIR_HALFDUPLEX, "halfduplex") /* the receiver was transmitting */                            \
    X(AIR_DEAF, "deaf")             /* the receiver was not listening all the time */              \
    X(AIR_UNTUNED, "untuned")       /* the receiver listened for something else */                 \
    X(AIR_WEAK, "weak")             /* below the receiver's sensitivity */                         \
    X(AIR_CUT, "cut")               /* the transmitter stopped in the middle */

enum air_fate {
#define AIR_FATE_ENUM(name, word) name,
    AIR_FATES(AIR_FATE_ENUM)
#undef AIR_FATE_ENUM
        AIR_FATE_COUNT
};

struct air_link {
    bool audible;
    uint32_t loss_ppm; /* 0..AIR_LOSS_ONE */
    int16_t rssi_dbm;  /* strength at the receiver; also decides capture */
    int16_t snr_db;
    bool has_path;            /* strength and ratio come from: */
    int16_t loss_db;          /* path loss with shadowing */
    uint16_t fading_tenth_db; /* standard deviation of each frame's own draw */
    struct rp_rng rng;
};

struct air_sending {
    bool on_air;
    rp_time_us start_us, lock_us, end_us; /* end_us stays valid after the frame left the air */
    struct air_settings settings;
    struct air_frame frame;
    uint32_t audible, spoiled, lost; /* sets of receivers, decided while on air */
    int16_t rssi_dbm[AIR_STATIONS_MAX], snr_db[AIR_STATIONS_MAX]; /* at each receiver */
};

struct air_ear {
    bool listening;
    rp_time_us since_us; /* listening with these settings without a break since then */
    struct air_settings settings;
};

struct air_channel {
    unsigned stations; /* 1..AIR_STATIONS_MAX */
    bool sync_ignored; /* hear every sync word */
    enum air_capture capture;
    int capture_db;                      /* AIR_CAPTURE_FIXED; 0: no capture */
    int32_t offset_hz[AIR_STATIONS_MAX]; /* of each station's oscillator */
    struct air_link links[AIR_STATIONS_MAX][AIR_STATIONS_MAX]; /* [from][to] */
    struct air_sending sendings[AIR_STATIONS_MAX];
    struct air_ear ears[AIR_STATIONS_MAX];
};

/* One frame that left the air. */
struct air_report {
    unsigned from;
    rp_time_us end_us;
    int64_t airtime_us;
    const struct air_frame *frame;    /* valid until `from` sends again */
    const int16_t *rssi_dbm, *snr_db; /* at each receiver; valid as long */
    enum air_fate fates[AIR_STATIONS_MAX];
};

/* Nobody hears anybody yet; links get their generators from the seed. */
void air_channel_init(struct air_channel *air, unsigned stations, uint64_t seed);
/* Makes `to` hear `from` with that loss in parts per million, or not at all. */
void air_channel_set_link(struct air_channel *air, unsigned from, unsigned to, bool audible,
                          uint32_t loss_ppm);
/* The station listens with these settings from now on; NULL: it does not listen. Telling the same
 * again is no break. */
void air_channel_listen(struct air_channel *air, unsigned station,
                        const struct air_settings *settings, rp_time_us now_us);
/* Puts a frame on the air. Returns its time on air in microseconds, RP_E_BUSY when the station is
 * transmitting, RP_E_INVALID for settings or a length that cannot be sent. */
int64_t air_channel_send(struct air_channel *air, unsigned station,
                         const struct air_settings *settings, const struct air_frame *frame,
                         rp_time_us now_us);
/* The transmitter stops in the middle: nobody gets the frame. What it spoiled stays spoiled, also
 * what it would only have reached later. False when it was not transmitting. */
bool air_channel_abort(struct air_channel *air, unsigned station, rp_time_us now_us,
                       struct air_report *out_report);
/* When the next frame leaves the air; RP_NEVER. */
rp_time_us air_channel_wake(const struct air_channel *air);
/* Takes the earliest frame that has left the air by now. False when there is none. */
bool air_channel_finish(struct air_channel *air, rp_time_us now_us, struct air_report *out_report);
/* Whether the station could sense a transmission on the channel of these settings. */
bool air_channel_carrier(const struct air_channel *air, unsigned station,
                         const struct air_settings *settings);
/* When the frame the station is locked to ends; RP_NEVER when it is locked to none. */
rp_time_us air_channel_locked_until(const struct air_channel *air, unsigned station,
                                    rp_time_us now_us);
const char *air_fate_name(enum air_fate fate);

#endif
