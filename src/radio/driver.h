/* What a modem family implements, and what the room gives it. Private to src/radio.
 *
 * A driver sets radio->deadline_us to a time after `now_us` (or RP_NEVER) in every hook that starts
 * a wait; `tick` is called once when that time has come. */
#ifndef RP_RADIO_DRIVER_H
#define RP_RADIO_DRIVER_H

#include "radio/radio.h"

struct rp_dialogue_script;
struct rp_uart_kind;

struct rp_radio_driver {
    const char *name, *summary;
    uint32_t baud;          /* speed to try first, bits per second */
    uint16_t frame_len_max; /* bytes */
    bool reports_signal;
    enum rp_sent_proof sent_proof;
    /* Bytes the module adds on air to every frame. */
    uint16_t airtime_extra_bytes;
    /* Bytes on air for a frame of len bytes, without the extra ones; NULL: the same number. */
    size_t (*air_len)(size_t len);
    /* Time on air for that many bytes of a frame, instead of the LoRa formula: for modules whose
     * modulation is not published. NULL: the formula, over the profile. */
    int64_t (*airtime_us)(const struct rp_radio *radio, size_t air_len);
    /* When its firmware optimises for low data rates, where its reference says so; else USUAL. */
    enum rp_low_data_rate low_data_rate;
    /* Family limits, after the common ones have passed. Returns 0 or RP_E_INVALID with a sentence
     * in radio->why. */
    int (*check)(struct rp_radio *radio);
    void (*opened)(struct rp_radio *radio, rp_time_us now_us);
    void (*closed)(struct rp_radio *radio); /* gives on a frame it holds; NULL: nothing to do */
    void (*receive)(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us);
    /* radio->tx holds a new frame. A driver that cannot start at once starts later by itself. */
    void (*send)(struct rp_radio *radio, rp_time_us now_us);
    void (*tick)(struct rp_radio *radio, rp_time_us now_us);
    const struct rp_dialogue_script *script; /* families that speak in lines; see dialogue.h */
    const struct rp_uart_kind *uart;         /* transparent modules; see uart_registers.h */
};

/* NULL when there is no such row in the table of drivers.c. */
const struct rp_radio_driver *rp_radio_driver_find(const char *name);

/* The rows, each in the source of its family. */
extern const struct rp_radio_driver rp_radio_kiss, rp_radio_kiss_crc, rp_radio_kiss_ack,
    rp_radio_at, rp_radio_at_old, rp_radio_hextext, rp_radio_uart_e22, rp_radio_uart_e32,
    rp_radio_uart_e220;

static inline rp_time_us rp_radio_ms(int64_t ms)
{
    return ms * 1000;
}

/* Fills radio->why and returns RP_E_INVALID. */
int rp_radio_refuse(struct rp_radio *radio, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Output, queue.c. All or nothing: false, and counted, when it does not fit. */
bool rp_radio_out_bytes(struct rp_radio *radio, const void *bytes, size_t len);
bool rp_radio_out_text(struct rp_radio *radio, const char *text);
void rp_radio_out_clear(struct rp_radio *radio);
/* Time that len bytes need on the serial line: 10 bit times each (8N1). */
rp_time_us rp_radio_serial_us(const struct rp_radio *radio, size_t len);

/* Events, queue.c. */
void rp_radio_push_state(struct rp_radio *radio, enum rp_radio_event_kind kind);
void rp_radio_push_fault(struct rp_radio *radio, int code, const char *text);
/* Counts the frame. The event must have kind RP_RADIO_FRAME and 1..RP_FRAME_LEN_MAX bytes. */
void rp_radio_push_frame(struct rp_radio *radio, const struct rp_radio_event *event);
/* A FRAME event without signal values; a frame that is empty or too long is counted as bad. */
void rp_radio_push_bytes(struct rp_radio *radio, struct rp_view frame);
/* End the frame in flight; nothing happens when there is none. */
void rp_radio_finish_sent(struct rp_radio *radio);
void rp_radio_finish_unsent(struct rp_radio *radio, int code, bool maybe_aired);
/* Whether the shared layer puts frames into base64 text and takes them out again. */
bool rp_radio_armoured(const struct rp_radio *radio);
bool rp_radio_outcome_fits(const struct rp_radio *radio);

/* Asks the owner of the port for something; see rp_radio_take_wish. */
void rp_radio_wish(struct rp_radio *radio, enum rp_radio_wish wish);

/* Settings applied: raises RP_RADIO_READY. */
void rp_radio_set_up(struct rp_radio *radio);

#endif
