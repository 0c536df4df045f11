/* What tells the kinds of transparent modules apart, and their register blocks. Private to
 * src/radio. */
#ifndef RP_RADIO_UART_REGISTERS_H
#define RP_RADIO_UART_REGISTERS_H

#include "radio/radio.h"

/* Channel numbers count from a base in steps of 1 MHz. */
struct rp_uart_band {
    uint32_t base_hz;
    uint8_t channels;
};

struct rp_uart_kind {
    const char *name;
    uint8_t sub_packet; /* most bytes the module sends as one packet */
    uint8_t read[3];    /* the command that asks for the register block */
    uint8_t head[3];    /* what stands before the block in the answer */
    uint8_t head_len;
    uint8_t write[3];  /* what stands before the block in a command that sets it until power-off */
    uint8_t registers; /* bytes of the block; 0: its layout is not known to us */
    uint8_t rate_at;   /* index of the register of serial speed and air rate */
    uint8_t rate_baud_shift;
    uint8_t channel_at;
    struct rp_uart_band bands[2];
};

/* The channel of a frequency, 0.., or RP_E_INVALID when the module has none there. */
int rp_uart_channel(const struct rp_uart_kind *kind, uint32_t freq_hz);
/* The air rate the module must be set to for this profile, bits per second. */
uint32_t rp_uart_air_rate_bps(const struct rp_radio_profile *profile);
/* Looks for a register block anywhere in the bytes: the first byte after power-up may be rubbish.
 * Returns its offset behind the head, or RP_E_NOT_FOUND. */
int rp_uart_find_block(const struct rp_uart_kind *kind, struct rp_view bytes);
/* Changes what the profile decides, and leaves the rest (power, keys, wake-up) as it is. Returns
 * whether anything differed. baud: the serial speed in normal mode. */
bool rp_uart_fit_block(const struct rp_uart_kind *kind, const struct rp_radio_profile *profile,
                       uint32_t baud, uint8_t *block);

/* What a register block says. */
struct rp_uart_said {
    uint32_t baud;    /* in normal mode, bits per second */
    uint32_t air_bps; /* 0: a code we do not know */
    uint8_t channel;
    uint32_t freq_hz[2]; /* of the channel, in each band the kind is made for; 0: none */
    bool has_network;
    uint8_t network;
    bool fixed; /* the first bytes of each packet are taken for an address: of no use here */
};
void rp_uart_read_block(const struct rp_uart_kind *kind, const uint8_t *block,
                        struct rp_uart_said *out_said);

#endif
