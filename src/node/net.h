/* A net: the secret and the radio settings its stations share. */
#ifndef RP_NODE_NET_H
#define RP_NODE_NET_H

#include "base/problem.h"
#include "radio/law/law.h"
#include "ridgepost/radio.h"
#include "wire/record.h"
#include "wire/seal.h"

struct rp_net {
    char name[RP_NAME_LEN + 1];
    uint8_t secret[RP_SECRET_LEN];
    uint8_t epoch; /* of the key, 0..3 */
    struct rp_radio_profile profile;
    char band[RP_BAND_WORD_LEN + 1]; /* row of the band table; empty: not chosen, nothing is sent */
    uint16_t frame_len_max;     /* bytes on air, 60..222: what every radio of the net can carry */
    uint32_t duty_permille;     /* transmit time allowed in any sliding hour, 1..1000 of 1000 */
    uint8_t urgent_reserve_pct; /* share of it kept for urgent traffic, 0..90 */
};

/* The net with its settings at their defaults, no secret and no band: 869.525 MHz, SF9, 125 kHz,
 * 4/5, 14 dBm, 120-byte frames, 10 permille, 30 % reserve. The operator must choose the band. */
void rp_net_defaults(struct rp_net *net);
/* Checks every setting against its bounds; the problem names the setting, the bound, an example. */
int rp_net_check(const struct rp_net *net, struct rp_problem *out_problem);
/* Checks what a station of the net means to do against the net's band (radio/law/law.h); `use`
 * has everything but what the net says. Also refuses a net without a band, naming those that hold
 * its frequency. */
int rp_net_check_law(const struct rp_net *net, struct rp_law_use use,
                     struct rp_problem *out_problem);
/* The same for the net file alone: a half-wave antenna, frames as they are, and the
 * acknowledgement left to each station. */
int rp_net_check_plan(const struct rp_net *net, struct rp_problem *out_problem);
/* Time on air of a frame of `len` bytes with the net's settings, armour included, by a modem that
 * adds nothing; microseconds. */
uint32_t rp_net_airtime_us(const struct rp_net *net, size_t len);

/* The secret as digits to read over a voice channel: nine groups of six. Eight groups carry 16
 * bits each as five digits and an ISO/IEC 7064 MOD 11,10 check digit; the ninth, made the same
 * way, holds a hash of the secret, so that swapped groups are found too. */
#define RP_NET_DIGITS_LEN 62 /* 9 * 6 digits and 8 separators */
void rp_net_digits(const uint8_t secret[RP_SECRET_LEN], char out_text[RP_NET_DIGITS_LEN + 1]);
/* The ISO/IEC 7064 MOD 11,10 check digit, 0..9, of `count` decimal digits. */
unsigned rp_net_check_digit(const char *digits, unsigned count);
/* Reads them back, any separators; the problem says which group is wrong, or which two neighbours
 * are swapped. */
int rp_net_from_digits(const char *text, uint8_t out_secret[RP_SECRET_LEN],
                       struct rp_problem *out_problem);

#endif
