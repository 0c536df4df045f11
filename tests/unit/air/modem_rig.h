/* A modem on a bench: no air, no world, only what goes in and comes out. */
#ifndef MODEM_RIG_H
#define MODEM_RIG_H

#include "air/modem/modem.h"

/* Settings of the bench: 869.525 MHz, 125 kHz, SF7, 4/5, preamble 8, sync 0x12. */
extern const struct air_settings rig_start;

/* A modem of the family that has booted; its banner is thrown away. */
void rig_boot(struct air_modem *modem, enum air_family family, const struct air_options *options);
/* Bytes from the host. */
void rig_write(struct air_modem *modem, const void *bytes, size_t len, rp_time_us now_us);
/* A text line from the host (CR LF is added); the test fails unless exactly `answer` comes. */
void rig_ask(struct air_modem *modem, const char *line, const char *answer, rp_time_us now_us);
/* The test fails unless exactly these bytes wait for the host; takes them. */
void rig_expect(struct air_modem *modem, const void *bytes, size_t len);
/* The test fails unless a frame with these bytes is to be sent now; it is then on air. */
void rig_expect_sending(struct air_modem *modem, const void *bytes, size_t len);

#endif
