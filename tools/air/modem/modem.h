/* One emulated serial modem: a pure state machine between its serial port and the air.
 *
 * Serial bytes, frames and a time go in; serial bytes, one frame to send, what it listens for and a
 * deadline come out. The owner (world.c) carries these between the port and the channel. Written
 * from the published command references; no code is shared with the drivers these modems test. */
#ifndef AIR_MODEM_H
#define AIR_MODEM_H

#include <stdbool.h>
#include <stdint.h>

#include "air/air.h"

/* Serial bytes waiting to be taken by the owner. The longest single answer is a radio_rx line of
 * 255 bytes in hex, 523 characters. When full, further bytes are lost, as on a UART. */
#define AIR_OUT_CAP 4096
/* Longest command line: "radio tx " and 255 bytes in hex is 519 characters. */
#define AIR_LINE_CAP 600
/* Frames a KISS modem keeps while the channel is busy; a further one is dropped. */
#define AIR_KISS_QUEUE 8

enum air_family { AIR_KISS, AIR_KISS_ACK, AIR_AT, AIR_HEXTEXT, AIR_UART, AIR_FAMILY_COUNT };

/* Which transparent module. */
enum air_chip { AIR_CHIP_E22, AIR_CHIP_E32, AIR_CHIP_E220, AIR_CHIP_COUNT };

/* What a modem line of the configuration can set. */
struct air_options {
    uint32_t baud;       /* serial speed that paces bytes; 0: no pacing */
    bool baud_check;     /* a host at another speed reads and writes rubbish */
    bool report_garbled; /* rxerr: tell the host of a frame that was spoiled */
    bool csma;           /* KISS: wait for a clear channel, then P and SlotTime */
    uint8_t ack_type;    /* KISS: type byte of the answer to ACKMODE; 0: none, command ignored */
    uint8_t tx_delay;    /* KISS: TXDELAY at start, units of 10 ms */
    bool late_ok;        /* AT: +OK of a SEND only when the frame has left */
    bool rylr896;        /* AT: the older module */
    bool rn2903;         /* hex-text: the 902-928 MHz module */
    bool smack;          /* KISS: knows SMACK, and uses it from the first such frame on */
    bool rssi_byte;      /* transparent: a byte of signal strength after each packet */
    enum air_chip chip;  /* transparent */
};

enum air_line_event { AIR_LINE_NONE, AIR_LINE_WHOLE, AIR_LINE_NO_CR, AIR_LINE_TOO_LONG };

/* Assembles command lines; len is 0 again after each event was handled. */
struct air_line {
    char text[AIR_LINE_CAP + 1]; /* without the line end, NUL-terminated at an event */
    uint16_t len;
    bool over, ended;
};

struct air_kiss_entry {
    uint16_t len;
    bool wants_ack;
    uint8_t id[2];
    uint8_t bytes[AIR_PAYLOAD_MAX];
};

enum air_kiss_state { AIR_KISS_IDLE, AIR_KISS_WAITING, AIR_KISS_KEYED, AIR_KISS_SENDING };

struct air_kiss {
    enum air_kiss_state state;
    bool in_frame, escaped, overlong;
    bool checked;                       /* frames to the host carry the SMACK check */
    uint16_t len;                       /* of frame */
    uint8_t frame[AIR_PAYLOAD_MAX + 4]; /* type byte, perhaps two of id, payload */
    uint8_t tx_delay, persistence, slot_time, tx_tail;
    bool full_duplex;
    unsigned first, count; /* of queue */
    struct air_kiss_entry queue[AIR_KISS_QUEUE];
};

/* What survives a restart of an AT module. */
struct air_at_flash {
    uint32_t band_hz, baud;
    uint16_t address;
    uint8_t network;
    char pin[9];
};

struct air_at {
    struct air_line line;
    struct air_at_flash flash;
    uint16_t address;
    char pin[9];
    uint8_t parameter[4]; /* SF, bandwidth code, coding rate, preamble */
    uint8_t mode, power_dbm, network;
    uint32_t cycle_ms[2]; /* MODE 2: listening, sleeping */
    bool booting, cycle_asleep, ok_owed;
    uint16_t last_to;
    uint16_t last_len;
    char last_data[241];
};

enum air_hex_state { AIR_HEX_BOOTING, AIR_HEX_IDLE, AIR_HEX_RECEIVING, AIR_HEX_SENDING };

struct air_hex {
    struct air_line line;
    enum air_hex_state state;
    bool mac_paused;
    int8_t power_dbm, snr_db;
    int16_t rssi_dbm;
    uint32_t watchdog_ms;
    rp_time_us window_end_us;   /* of `radio rx N`; RP_NEVER */
    rp_time_us watchdog_end_us; /* RP_NEVER when off */
};

/* Most the buffer of a transparent module holds: the E22's 1000 bytes. */
#define AIR_UART_BUFFER 1000

struct air_uart {
    bool booting, configuring, fresh;
    bool deaf; /* a packet that began CF CF was heard */
    uint16_t len;
    uint8_t block[7], stored[7]; /* registers now; and kept without power */
    uint8_t bytes[AIR_UART_BUFFER];
};

struct air_modem_ops;

struct air_modem {
    const struct air_modem_ops *ops;
    struct air_options options;
    struct air_settings start; /* what the air line of the configuration says */
    struct rp_rng rng;
    /* What the owner reads. */
    struct air_settings settings; /* of the next frame */
    struct air_settings hearing;  /* what it listens for, when it does */
    bool listening;
    bool frame_ready;       /* `frame` is to be sent now */
    bool abort;             /* stop the frame on air */
    bool transmitting;      /* from frame_ready to air_modem_sent */
    struct air_frame frame; /* what is sent or to be sent */
    uint32_t baud;          /* serial speed now; 0: no pacing */
    rp_time_us wake_us;     /* when air_modem_tick must be called; RP_NEVER */
    unsigned out_len, out_lost;
    uint8_t out[AIR_OUT_CAP];
    const char *note; /* the last thing worth a line in the log, a literal; NULL */
    /* To break things. */
    bool stuck; /* see air_modem_set_stuck: answers busy for ever, until the power is cycled */
    unsigned fail_sends; /* that many sends fail in the module */
    union {
        struct air_kiss kiss;
        struct air_at at;
        struct air_hex hex;
        struct air_uart uart;
    } as;
};

/* A word of the configuration to a family; AIR_FAMILY_COUNT when unknown. */
enum air_family air_family_named(const char *name);
const char *air_family_name(enum air_family family);
struct air_options air_options_default(enum air_family family);

/* `start` is used by families that cannot be told radio settings, and for what a family has no
 * command for. The modem is off until air_modem_power. */
void air_modem_init(struct air_modem *modem, enum air_family family,
                    const struct air_options *options, const struct air_settings *start,
                    uint64_t seed);
/* Power on, or a brown-out: what is not in flash is lost, the banner follows. */
void air_modem_power(struct air_modem *modem, rp_time_us now_us);
void air_modem_host_byte(struct air_modem *modem, uint8_t byte, rp_time_us now_us);
/* A frame arrived whole. */
void air_modem_heard(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                     int16_t snr_db, rp_time_us now_us);
/* A frame arrived spoiled. */
void air_modem_garbled(struct air_modem *modem, rp_time_us now_us);
/* The frame handed over with frame_ready has left the air. */
void air_modem_sent(struct air_modem *modem, rp_time_us now_us);
/* The deadline came. carrier: another transmission can be sensed on the channel. locked_until_us:
 * when the frame being received ends, RP_NEVER when none is. */
void air_modem_tick(struct air_modem *modem, rp_time_us now_us, bool carrier,
                    rp_time_us locked_until_us);
/* The mode pin of a transparent module; others have none: false. */
bool air_modem_set_mode(struct air_modem *modem, bool configuring);
/* Makes the modem answer busy for ever, or ends that. */
void air_modem_set_stuck(struct air_modem *modem, bool stuck, rp_time_us now_us);

/* For the families: */
struct air_modem_ops {
    const char *name;
    struct air_options defaults;
    bool wakes_unstuck; /* has work to go on with when it is no longer stuck */
    void (*power)(struct air_modem *modem, rp_time_us now_us);
    void (*host_byte)(struct air_modem *modem, uint8_t byte, rp_time_us now_us);
    void (*heard)(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                  int16_t snr_db, rp_time_us now_us);
    void (*garbled)(struct air_modem *modem, rp_time_us now_us);
    void (*sent)(struct air_modem *modem, rp_time_us now_us);
    void (*tick)(struct air_modem *modem, rp_time_us now_us, bool carrier,
                 rp_time_us locked_until_us);
    void (*mode)(struct air_modem *modem, bool configuring); /* NULL: no mode pin */
};

extern const struct air_modem_ops air_kiss_ops, air_kiss_ack_ops, air_at_ops, air_hex_ops,
    air_uart_ops;

void air_out_bytes(struct air_modem *modem, const void *bytes, size_t len);
void air_out_format(struct air_modem *modem, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
enum air_line_event air_line_feed(struct air_line *line, uint8_t byte);
/* Decimal digits only, the whole text, 1..10 of them, at most `max`. False otherwise. */
bool air_parse_decimal(const char *text, uint32_t max, uint32_t *out_value);
int air_hex_digit(char c); /* 0..15; -1 */
/* Starts the sending of modem->frame (its fields are set by the caller). */
void air_modem_start_sending(struct air_modem *modem);

#endif
