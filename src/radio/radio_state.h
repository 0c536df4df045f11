/* The inside of struct rp_radio. Public so that its owner can place it; only src/radio reads or
 * writes the fields, except the counters, which anybody may read. */
#ifndef RP_RADIO_RADIO_STATE_H
#define RP_RADIO_RADIO_STATE_H

#include "radio/plan/settings.h"
#include "ridgepost/radio.h"

enum {
    /* Bytes waiting for the port. The longest command is a hex-text transmission: 9 + 2 * 222 + 2
     * bytes, or a KISS frame with every byte escaped: 2 * (3 + 222) + 2. Two of them fit. */
    RP_RADIO_OUT_CAP = 1200,
    /* Longest line kept. The longest valid one is "radio_rx  " and 255 bytes in hex: 520. */
    RP_RADIO_LINE_CAP = 560,
    /* Type byte, acknowledgement id, the longest frame, and two bytes of link CRC, with room to
     * tell a frame that is too long from one that is not. */
    RP_RADIO_KISS_CAP = 320,
    /* The longest sub-packet of a transparent module: 240 bytes (E22 user manual). */
    RP_RADIO_UART_CAP = 240,
    RP_RADIO_REGISTERS_CAP = 16, /* the longest register block and what may stand before it */
    /* Shares of the event queue; each class has its own rule for "full", see queue.c. */
    RP_RADIO_FRAME_EVENTS_MAX = 16,
    RP_RADIO_OUTCOME_EVENTS_MAX = 4,
    RP_RADIO_STATE_EVENTS_MAX = 4,
    RP_RADIO_EVENTS_CAP =
        RP_RADIO_FRAME_EVENTS_MAX + RP_RADIO_OUTCOME_EVENTS_MAX + RP_RADIO_STATE_EVENTS_MAX,
};

struct rp_radio_driver;

/* All count since rp_radio_init. */
struct rp_radio_counters {
    uint32_t rx_frames;     /* frames given on as events */
    uint32_t rx_bad;        /* frames that arrived damaged or longer than a frame may be */
    uint32_t rx_dropped;    /* good frames dropped because the event queue was full */
    uint32_t rx_ignored;    /* lines or KISS frames that are none of ours: chatter, other ports */
    uint32_t lines_skipped; /* lines longer than any valid one */
    uint32_t tx_sent;       /* frames reported as RP_RADIO_SENT */
    uint32_t tx_refused;    /* frames surely not on air: the module said no */
    uint32_t tx_unknown;    /* frames that may or may not have been on air */
    uint32_t restarts;      /* the module said that it had started */
    uint32_t timeouts;      /* commands without an answer in time */
    uint32_t resets;        /* soft resets asked for by the recovery ladder */
    uint32_t refreshes;     /* settings applied again because nothing was heard for long */
    uint32_t line_resets;   /* resets by the port's control lines or a break, done by its owner */
    uint32_t reopens;       /* times the port was closed and opened because the radio wished it */
    uint32_t faults;        /* RP_RADIO_FAULT events raised */
    uint32_t ack_fallbacks; /* kiss-ack went back to plain KISS: the modem acknowledges nothing */
    uint32_t out_dropped;   /* commands that found no room for output: the port does not drain */
    uint32_t state_dropped; /* state events overtaken by newer ones before they were read */
};

/* The one frame in flight. */
struct rp_radio_tx {
    bool pending; /* accepted, no outcome yet */
    bool on_wire; /* its command has been queued for the port: it may reach the air */
    uint16_t len;
    uint8_t frame[RP_FRAME_LEN_MAX];
};

struct rp_radio_output {
    size_t len;
    uint8_t bytes[RP_RADIO_OUT_CAP];
};

struct rp_radio_events {
    uint8_t first, count; /* a ring */
    uint8_t frames, outcomes, states;
    struct rp_radio_event slots[RP_RADIO_EVENTS_CAP];
};

struct rp_radio_line {
    size_t len;
    bool skipping; /* the line is too long: its rest is thrown away */
    rp_time_us last_byte_us;
    uint8_t bytes[RP_RADIO_LINE_CAP];
};

/* Where a modem that speaks in lines stands between port open and ready; see dialogue.h. */
enum rp_dialogue_phase {
    RP_DIALOGUE_CLOSED,
    RP_DIALOGUE_RESYNC,   /* an empty line is sent, answers are thrown away until it is quiet */
    RP_DIALOGUE_RESET,    /* a soft reset is sent, the module starts */
    RP_DIALOGUE_STARTING, /* settings, one command at a time */
    RP_DIALOGUE_UP,
    RP_DIALOGUE_BACKOFF, /* reported as a fault; tried again later */
};

struct rp_dialogue {
    enum rp_dialogue_phase phase;
    uint8_t step;            /* of the start-up script */
    uint8_t attempt;         /* rung of the recovery ladder */
    uint8_t tries;           /* of the step, because a byte of it may have been lost */
    uint8_t restarts_in_row; /* restarts with less than a minute between them */
    rp_time_us restart_us;   /* the last one */
    uint8_t refusals_in_row; /* refused transmissions without a frame sent between them */
    bool reopening;          /* the next opening was our wish: the back-off goes on growing */
    bool woken;              /* the line was reset: some modules wait for a character now */
    uint32_t backoff_s;      /* the next back-off */
    rp_time_us heard_us;     /* when the module last gave a frame, or its settings were applied */
    int cause_code;          /* of the last failure, for the fault event */
    char cause[96];
};

enum rp_kiss_phase { RP_KISS_CLOSED, RP_KISS_BOOT, RP_KISS_IDLE, RP_KISS_AIR, RP_KISS_ACK };

struct rp_kiss_state {
    enum rp_kiss_phase phase;
    bool escaped, overflow;
    bool checked;       /* frames are sent with the SMACK check */
    bool ack_wanted;    /* row kiss-ack, and the modem has not shown that it cannot */
    bool ack_proven;    /* it has acknowledged at least once */
    uint8_t ack_misses; /* in a row */
    uint8_t extensions; /* of the airtime wait, because the port has not drained */
    uint16_t ack_id;
    size_t len;
    uint8_t bytes[RP_RADIO_KISS_CAP];
};

enum rp_at_phase { RP_AT_IDLE, RP_AT_PROBE, RP_AT_SEND, RP_AT_AIR, RP_AT_HOLD };

struct rp_at_state {
    enum rp_at_phase phase;
    rp_time_us air_end_us; /* when the frame in flight has left the antenna at the latest */
};

enum rp_hextext_phase {
    RP_HEXTEXT_ARM,     /* "radio rx 0" sent */
    RP_HEXTEXT_LISTEN,  /* the module receives */
    RP_HEXTEXT_SNR,     /* "radio get snr" sent */
    RP_HEXTEXT_RSSI,    /* "radio get rssi" sent */
    RP_HEXTEXT_STOP,    /* "radio rxstop" sent */
    RP_HEXTEXT_TX,      /* "radio tx" sent, first answer awaited */
    RP_HEXTEXT_TX_DONE, /* second answer awaited */
};

struct rp_hextext_state {
    enum rp_hextext_phase phase;
    bool signal_off;   /* this firmware cannot tell signal values: no longer asked for */
    bool held;         /* a frame waits for its signal values */
    uint8_t arm_tries; /* "radio rx 0" refused in a row */
    struct rp_radio_event held_event;
};

enum rp_uart_phase {
    RP_UART_CLOSED,
    RP_UART_BOOT,   /* the module starts */
    RP_UART_ENTER,  /* the mode pin asks for configuration mode */
    RP_UART_READ,   /* the register block is asked for */
    RP_UART_WRITE,  /* written, the answer awaited */
    RP_UART_VERIFY, /* read once more */
    RP_UART_LEAVE,  /* the mode pin asks for normal mode */
    RP_UART_IDLE,
    RP_UART_PIECE, /* a sub-packet is on its way through the module and the air */
    RP_UART_BACKOFF,
};

struct rp_uart_state {
    enum rp_uart_phase phase;
    /* Sending, in pieces of one sub-packet. */
    uint8_t tx_id, tx_piece, tx_pieces, extensions;
    rp_time_us tx_due_us; /* the phase's deadline */
    /* Receiving: bytes not yet cut into pieces. */
    uint16_t len;
    uint8_t bytes[RP_RADIO_UART_CAP];
    rp_time_us last_byte_us;
    /* The frame whose pieces are arriving. */
    bool rx_open;
    uint8_t rx_id, rx_next, rx_pieces;
    uint16_t rx_len;
    /* The byte of signal strength that some modules append. */
    bool tail_awaited;         /* a piece has just ended */
    uint8_t tails, tails_miss; /* seen; and missing in a row */
    rp_time_us tail_end_us;
    bool held; /* a frame waits for it; its bytes are in `frame` */
    struct rp_radio_event frame;
    /* Configuration mode. */
    uint8_t attempt;
    uint32_t backoff_s;
    size_t reply_len;
    uint8_t reply[RP_RADIO_REGISTERS_CAP];
};

struct rp_radio {
    const struct rp_radio_driver *driver;
    struct rp_radio_profile profile;
    enum rp_low_data_rate low_data_rate;
    bool opened;            /* the port is */
    bool up;                /* settings applied */
    uint32_t baud_known;    /* the speed at which the module has answered last; 0: never */
    bool has_mode_pin;      /* the owner can switch a module into configuration mode */
    uint8_t baud_next;      /* of the list of speeds to try */
    uint32_t baud;          /* speed of the serial line, bits per second */
    uint32_t wishes;        /* bits of enum rp_radio_wish */
    rp_time_us deadline_us; /* the driver's next one */
    struct rp_radio_tx tx;
    struct rp_radio_output out;
    struct rp_radio_events events;
    struct rp_radio_line line;
    struct rp_dialogue dialogue;
    union {
        struct rp_kiss_state kiss;
        struct rp_at_state at;
        struct rp_hextext_state hextext;
        struct rp_uart_state uart;
    } state;
    struct rp_settings_said said; /* by the module, since its last start-up */
    struct rp_radio_counters counters;
    char why[192]; /* what rp_radio_init did not like */
};

#endif
