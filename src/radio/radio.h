/* One radio: a modem family's driver bound to settings, buffers and counters. Sans-I/O. */
#ifndef RP_RADIO_RADIO_H
#define RP_RADIO_RADIO_H

#include "ridgepost/radio.h"

struct rp_radio; /* public so that its owner can place it; fields belong to src/radio */
#include "radio/radio_state.h"

/* Binds `driver_name` (a row of the driver table) to the profile. RP_E_NOT_FOUND (no such
 * family), RP_E_INVALID (a setting this family cannot do; *out_why, when not NULL, is a sentence
 * naming the setting, the bound and an example). Nothing is sent yet. */
int rp_radio_init(struct rp_radio *radio, const char *driver_name,
                  const struct rp_radio_profile *profile, const char **out_why);
/* The serial port was opened: start the modem up from an unknown state. */
void rp_radio_opened(struct rp_radio *radio, rp_time_us now_us);
/* The port closed or went away. A frame in flight is reported as RP_RADIO_UNSENT, maybe_aired. */
void rp_radio_closed(struct rp_radio *radio, rp_time_us now_us);
/* Bytes from the port, any split, any content. */
void rp_radio_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us);
/* Sends one frame of at least one byte. RP_E_STATE (not ready), RP_E_BUSY (one in flight, or four
 * outcomes not yet read as events), RP_E_TOO_LONG, RP_E_INVALID (empty). The outcome is one
 * RP_RADIO_SENT or RP_RADIO_UNSENT event. */
int rp_radio_send(struct rp_radio *radio, struct rp_view frame, rp_time_us now_us);
/* Moves up to cap bytes that are to be written to the port; returns how many. */
size_t rp_radio_take_output(struct rp_radio *radio, uint8_t *buf, size_t cap);
/* The next event, oldest first. */
bool rp_radio_next_event(struct rp_radio *radio, struct rp_radio_event *out_event);
/* When rp_radio_tick must be called if nothing else happens; RP_NEVER when nothing is awaited. */
rp_time_us rp_radio_wake(const struct rp_radio *radio);
void rp_radio_tick(struct rp_radio *radio, rp_time_us now_us);

bool rp_radio_ready(const struct rp_radio *radio); /* started, nothing in flight */
/* Longest frame, in bytes, that this family can carry with these settings. */
uint16_t rp_radio_frame_len_max(const struct rp_radio *radio);
/* Serial speed to open the port with, bits per second: the family's usual one or the one that was
 * set; after a wish to open the port again, perhaps the next one of a list. */
uint32_t rp_radio_baud(const struct rp_radio *radio);
/* The operator says what the speed is; 0: the family's usual one. Before rp_radio_opened. */
void rp_radio_set_baud(struct rp_radio *radio, uint32_t baud);
/* Whether this family has a configuration mode that it would use. */
bool rp_radio_uses_mode_pin(const struct rp_radio *radio);
/* Whether the owner can fulfil the wishes about the mode. Before rp_radio_opened. */
void rp_radio_set_mode_pin(struct rp_radio *radio, bool present);
/* What the radio would like the owner of the port to do, the most urgent first; a wish is told
 * once. An owner that cannot fulfil one goes on as if it had: nothing depends on it but speed of
 * recovery, except the modes, which are wished for only after rp_radio_set_mode_pin. */
enum rp_radio_wish rp_radio_take_wish(struct rp_radio *radio);
/* Where the recovery stands, a word for people: "well", "resync", "soft reset", "back-off", ... */
const char *rp_radio_ladder(const struct rp_radio *radio);
/* What the module has said of its settings when it was last started up: read back, not believed. A
 * setting that differs from the profile keeps the radio from being ready. Some families cannot be
 * asked: then nothing is known. */
const struct rp_settings_said *rp_radio_settings_said(const struct rp_radio *radio);
/* Exact time on air of a frame of len bytes as this family sends it (a module that adds bytes of
 * its own is charged for them), in microseconds. */
uint32_t rp_radio_airtime_us(const struct rp_radio *radio, size_t len);
/* The operator knows better than the driver's row when this modem's firmware optimises for low data
 * rates (USUAL: the row's rule). Set before the port is opened; counts in rp_radio_airtime_us. */
void rp_radio_set_low_data_rate(struct rp_radio *radio, enum rp_low_data_rate rule);
/* Names of the driver table's rows, NULL after the last. */
const char *rp_radio_driver_name(size_t index);
const char *rp_radio_driver_summary(size_t index);

#endif
