/* The radio interface: what the rest of Ridgepost knows of a serial LoRa modem.
 *
 * A radio is sans-I/O: serial bytes and a time in, serial bytes, events and a deadline out. It owns
 * no descriptor, no heap and no clock. One modem family is one row of the driver table in
 * src/radio/; the functions over `struct rp_radio` are in src/radio/radio.h. */
#ifndef RIDGEPOST_RADIO_H
#define RIDGEPOST_RADIO_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

/* The net-wide radio settings: the same at every station, or nothing is heard. */
struct rp_radio_profile {
    uint32_t freq_hz;          /* centre frequency, e.g. 869525000 */
    uint32_t bandwidth_hz;     /* 125000, 250000 or 500000 */
    uint8_t spreading_factor;  /* 7..12; 5 and 6 are refused (chip families disagree on them) */
    uint8_t coding_rate;       /* denominator of 4/n: 5..8 */
    uint8_t sync_word;         /* 0x00..0xff, 0x12 is the usual private-network value */
    int8_t power_dbm;          /* requested transmit power at the module, -3..22 */
    uint16_t preamble_symbols; /* 6..65535, usually 8 */
    bool text_armour;          /* frames travel as base64 text: needed by every station as soon as
                                * one of them has a modem that carries text only (AT) */
};

/* When a modem's firmware switches the low-data-rate optimisation on. Both ends must do the same or
 * nothing is heard; the rules differ only for SF12 at 250 kHz (a symbol of 16.384 ms). */
enum rp_low_data_rate {
    RP_LOW_DATA_RATE_USUAL,  /* as the modem family is known to do; for the rest as SYMBOL */
    RP_LOW_DATA_RATE_SYMBOL, /* a symbol lasts more than 16 ms, as the chips' data sheets say */
    RP_LOW_DATA_RATE_125,    /* SF11 and SF12 at 125 kHz only, as some firmware does */
};

/* How a driver knows that a frame has left the antenna. */
enum rp_sent_proof {
    RP_SENT_BY_REPLY, /* the modem says so */
    RP_SENT_BY_TIMER, /* only time on air plus a margin */
};

/* What a radio asks of whoever owns its port. Each is a rung of the recovery ladder or a step of
 * starting up that no byte can do. */
enum rp_radio_wish {
    RP_RADIO_WISH_NONE,
    RP_RADIO_WISH_LINE_RESET,  /* reset the module by its control line, or a break */
    RP_RADIO_WISH_REOPEN,      /* close the port, open it again at rp_radio_baud */
    RP_RADIO_WISH_MODE_CONFIG, /* mode pin to "configuration", line to 9600 bits per second */
    RP_RADIO_WISH_MODE_NORMAL, /* mode pin to "normal", line back to rp_radio_baud */
};

enum rp_radio_event_kind {
    RP_RADIO_READY,     /* settings applied, frames may be sent */
    RP_RADIO_FRAME,     /* a frame arrived: frame, frame_len, and signal where reported */
    RP_RADIO_SENT,      /* the frame handed to rp_radio_send has been on air */
    RP_RADIO_UNSENT,    /* it was not sent, or nobody knows: see maybe_aired */
    RP_RADIO_RESTARTED, /* the module restarted by itself; settings are being applied again */
    RP_RADIO_FAULT,     /* the module is not answering or refuses a setting: code and text */
};

struct rp_radio_event {
    enum rp_radio_event_kind kind;
    int code;         /* RP_RADIO_UNSENT and RP_RADIO_FAULT: an enum rp_error value */
    bool maybe_aired; /* RP_RADIO_UNSENT: true when its airtime must be counted as used */
    bool has_rssi, has_snr;
    int16_t rssi_dbm; /* received strength, valid when has_rssi */
    int16_t snr_db;   /* signal to noise ratio, valid when has_snr */
    uint16_t frame_len;
    uint8_t frame[RP_FRAME_LEN_MAX];
    char text[96]; /* RP_RADIO_FAULT: one sentence for a person, NUL-terminated */
};

#endif
