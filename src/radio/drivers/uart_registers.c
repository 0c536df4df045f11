/* Register blocks: the register tables of E22-400T22S user manual v1.5, E22-T22S user manual (2024)
 * and E32-433T20DT user manual v1.6. What is marked "from memory" was not read there. */
#include "radio/drivers/uart_registers.h"

#include <string.h>

#include "ridgepost/error.h"

enum {
    SUB_PACKET_LONGEST = 0, /* REG1 bits 7-6: 00 is 240 bytes */
    SUB_PACKET_MASK = 0xc0,
    /* REG1 bits 5 and 4: noise reading and software mode switch. Either makes C0 C1 C2 C3 at the
     * start of a packet a command. */
    IN_BAND_MASK = 0x30,
    OPTION_RSSI = 0x80,      /* REG3 bit 7: a byte of signal strength after each packet */
    OPTION_FIXED = 0x40,     /* REG3 bit 6: the first three bytes are an address: eats ours */
    OPTION_REPEATER = 0x20,  /* REG3 bit 5 */
    E32_OPTION_FIXED = 0x80, /* E32 OPTION bit 7 */
};

/* Codes of the serial speeds, from memory (E22 REG0 bits 7-5, E32 SPED bits 5-3). */
static const uint32_t bauds[] = {1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};
/* Codes of the air rates (E22 REG0 bits 2-0, E32 SPED bits 2-0). New E22 units send at 2.4 kbit/s
 * for the first three codes, old ones do not: the first two are never used. */
static const uint32_t rates_bps[] = {300, 1200, 2400, 4800, 9600, 19200};
enum { RATE_LOWEST = 2, RATES = sizeof rates_bps / sizeof rates_bps[0] };

int rp_uart_channel(const struct rp_uart_kind *kind, uint32_t freq_hz)
{
    for (size_t i = 0; i < 2; i++) {
        const struct rp_uart_band *band = &kind->bands[i];
        if (band->channels > 0 && freq_hz >= band->base_hz &&
            (freq_hz - band->base_hz) % 1000000 == 0 &&
            (freq_hz - band->base_hz) / 1000000 < band->channels) {
            return (int)((freq_hz - band->base_hz) / 1000000);
        }
    }
    return RP_E_INVALID;
}

/* The rate at or below the profile's own bit rate, SF * BW / 2^SF * 4/CR. */
static unsigned rate_code(const struct rp_radio_profile *p)
{
    uint64_t bps =
        (uint64_t)p->spreading_factor * p->bandwidth_hz * 4 / p->coding_rate >> p->spreading_factor;
    unsigned code = RATES - 1;
    while (code > RATE_LOWEST && rates_bps[code] > bps) {
        code--;
    }
    return code;
}

uint32_t rp_uart_air_rate_bps(const struct rp_radio_profile *profile)
{
    return rates_bps[rate_code(profile)];
}

int rp_uart_find_block(const struct rp_uart_kind *kind, struct rp_view bytes)
{
    size_t needed = (size_t)kind->head_len + kind->registers;
    for (size_t at = 0; at + needed <= bytes.len; at++) {
        if (memcmp(bytes.bytes + at, kind->head, kind->head_len) == 0) {
            return (int)(at + kind->head_len);
        }
    }
    return RP_E_NOT_FOUND;
}

static unsigned baud_code(uint32_t baud)
{
    unsigned code = 3; /* 9600, the module's own */
    for (unsigned i = 0; i < sizeof bauds / sizeof bauds[0]; i++) {
        code = bauds[i] == baud ? i : code;
    }
    return code;
}

static void fit_e22(const struct rp_radio_profile *profile, uint8_t *block)
{
    block[2] = profile->sync_word; /* network id: the same at every station */
    block[4] = (uint8_t)((block[4] & ~(SUB_PACKET_MASK | IN_BAND_MASK)) | SUB_PACKET_LONGEST);
    block[6] = (uint8_t)((block[6] & ~(OPTION_FIXED | OPTION_REPEATER)) | OPTION_RSSI);
}

bool rp_uart_fit_block(const struct rp_uart_kind *kind, const struct rp_radio_profile *profile,
                       uint32_t baud, uint8_t *block)
{
    uint8_t before[RP_RADIO_REGISTERS_CAP];
    memcpy(before, block, kind->registers);
    block[0] = block[1] = 0; /* only modules of one address hear each other (from memory) */
    block[kind->rate_at] =
        (uint8_t)(baud_code(baud) << kind->rate_baud_shift | rate_code(profile)); /* parity: none */
    block[kind->channel_at] = (uint8_t)rp_uart_channel(kind, profile->freq_hz);
    if (kind->registers == 7) {
        fit_e22(profile, block);
    } else {
        block[4] &= (uint8_t)~E32_OPTION_FIXED;
    }
    return memcmp(before, block, kind->registers) != 0;
}

void rp_uart_read_block(const struct rp_uart_kind *kind, const uint8_t *block,
                        struct rp_uart_said *out_said)
{
    bool has_network = kind->registers == 7; /* the E22's block; see fit_e22 */
    unsigned rate = block[kind->rate_at] & 7u;
    struct rp_uart_said said = {
        .baud = bauds[block[kind->rate_at] >> kind->rate_baud_shift & 7],
        .air_bps = rate < RATES ? rates_bps[rate] : 0,
        .channel = block[kind->channel_at],
        .has_network = has_network,
        .network = has_network ? block[2] : 0,
        .fixed = has_network ? (block[6] & OPTION_FIXED) != 0 : (block[4] & E32_OPTION_FIXED) != 0,
    };
    for (size_t i = 0; i < 2; i++) {
        const struct rp_uart_band *band = &kind->bands[i];
        if (block[kind->channel_at] < band->channels) {
            said.freq_hz[i] = band->base_hz + 1000000u * block[kind->channel_at];
        }
    }
    *out_said = said;
}
