/* Finds out what modem is on a port: its family, its speed and its settings, without a frame sent.
 * Sans-I/O, as a radio is: bytes and a time in, bytes, wishes and a deadline out.
 *
 * What is written to a transparent module goes on air. So nothing is written before the owner has
 * said that the module is none (may_ask), or that its mode pin is in reach (has_mode_pin), in which
 * case it is only asked in configuration mode, where it sends nothing. Otherwise the probe listens.
 * The questions change no setting. To a KISS modem they are noise before its first FEND: a frame of
 * a type (0D) that no command has. */
#ifndef RP_RADIO_PROBE_H
#define RP_RADIO_PROBE_H

#include "radio/plan/settings.h"
#include "radio/radio.h"

enum {
    RP_PROBE_TRIES_CAP = 24,
    RP_PROBE_MODULE_LEN = 63,  /* bytes kept of what a module says of itself */
    RP_PROBE_LISTEN_MS = 2000, /* at each speed, when nothing may be asked; ours */
};

struct rp_probe_options {
    bool may_ask;
    bool has_mode_pin;
    uint32_t baud;      /* the only speed to try, bits per second; 0: the usual ones by turns */
    uint32_t listen_ms; /* at each speed; 0: RP_PROBE_LISTEN_MS */
};

enum rp_probe_what { RP_PROBE_LISTENED, RP_PROBE_ASKED, RP_PROBE_REGISTERS };

/* One thing that was tried. */
struct rp_probe_try {
    enum rp_probe_what what;
    const char *driver; /* registers: of which row; else NULL */
    uint32_t baud;
    uint32_t bytes; /* that came; whatever they were */
};

struct rp_probe_found {
    const char *driver; /* a row of the driver table; NULL: nothing was found */
    uint32_t baud;
    bool by_frame;                        /* known by a frame that it gave, not by an answer */
    char module[RP_PROBE_MODULE_LEN + 1]; /* what it says of itself; may be empty */
    struct rp_settings_said said;         /* what it says of its settings */
    bool has_registers;                   /* transparent: */
    uint32_t air_bps, channel_hz[2]; /* channel_hz: in each band the kind is made for; 0: none */
    uint8_t channel;
    bool has_network, fixed;
    uint8_t network;
};

struct rp_probe; /* public so that its owner can place it; fields belong to src/radio */
#include "radio/probe/probe_state.h"

/* `options` is copied. The port is open, at rp_probe_baud. */
void rp_probe_start(struct rp_probe *probe, const struct rp_probe_options *options,
                    rp_time_us now_us);
void rp_probe_receive(struct rp_probe *probe, struct rp_view bytes, rp_time_us now_us);
/* Moves up to cap bytes that are to be written to the port; returns how many. */
size_t rp_probe_take_output(struct rp_probe *probe, uint8_t *buf, size_t cap);
/* Speed at which the port is to be now. Follow it before writing. */
uint32_t rp_probe_baud(const struct rp_probe *probe);
/* MODE_CONFIG or MODE_NORMAL, once each; NONE. Only with has_mode_pin. */
enum rp_radio_wish rp_probe_take_wish(struct rp_probe *probe);
/* When rp_probe_tick must be called; RP_NEVER when the probe is over. */
rp_time_us rp_probe_wake(const struct rp_probe *probe);
void rp_probe_tick(struct rp_probe *probe, rp_time_us now_us);
/* What was found; its driver is NULL while nothing is. */
const struct rp_probe_found *rp_probe_found(const struct rp_probe *probe);
/* The index-th thing tried, NULL after the last. */
const struct rp_probe_try *rp_probe_tried(const struct rp_probe *probe, size_t index);

#endif
