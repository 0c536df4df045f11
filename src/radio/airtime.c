#include "radio/airtime.h"

#include "ridgepost/error.h"

enum {
    SPREADING_MIN = 7, /* SF5 and SF6 follow another rule in SX126x than in SX127x: refused */
    SPREADING_MAX = 12,
    BANDWIDTH_MIN_HZ = 7800, /* SX1276 data sheet rev 4, table 13 */
    BANDWIDTH_MAX_HZ = 500000,
    CODING_MIN = 5,
    CODING_MAX = 8,
    PREAMBLE_MIN = 6, /* SX1276 data sheet rev 4, 4.1.1.6: 6 to 65535 symbols */
    PAYLOAD_MAX = 255,
};

static bool in_range(const struct rp_airtime *s, unsigned payload_len)
{
    return s->spreading_factor >= SPREADING_MIN && s->spreading_factor <= SPREADING_MAX &&
           s->bandwidth_hz >= BANDWIDTH_MIN_HZ && s->bandwidth_hz <= BANDWIDTH_MAX_HZ &&
           s->coding_rate >= CODING_MIN && s->coding_rate <= CODING_MAX &&
           s->preamble_symbols >= PREAMBLE_MIN && payload_len <= PAYLOAD_MAX;
}

/* Symbols after the preamble: 8, and whole code blocks of 4 (SF - 2 DE) bits. */
static int64_t payload_symbols(const struct rp_airtime *s, unsigned payload_len)
{
    int64_t bits = 8 * (int64_t)payload_len - 4 * s->spreading_factor + 28 + (s->crc ? 16 : 0) -
                   (s->implicit_header ? 20 : 0);
    int64_t block_bits = 4 * (s->spreading_factor - (s->low_data_rate ? 2 : 0));
    int64_t blocks = bits > 0 ? (bits + block_bits - 1) / block_bits : 0;
    return 8 + blocks * s->coding_rate;
}

int64_t rp_airtime_us(const struct rp_airtime *settings, unsigned payload_len)
{
    if (!in_range(settings, payload_len)) {
        return RP_E_INVALID;
    }
    /* Counted in quarter symbols, because the preamble has 4.25 symbols more than programmed. */
    int64_t quarters =
        4 * (int64_t)settings->preamble_symbols + 17 + 4 * payload_symbols(settings, payload_len);
    int64_t numerator = quarters * (INT64_C(1) << (settings->spreading_factor - 2)) * 1000000;
    return (numerator + settings->bandwidth_hz - 1) / settings->bandwidth_hz;
}

int64_t rp_airtime_profile_us(const struct rp_radio_profile *profile, unsigned payload_len)
{
    return rp_airtime_ruled_us(profile, RP_LOW_DATA_RATE_SYMBOL, payload_len);
}

bool rp_airtime_low_data_rate_by(enum rp_low_data_rate rule, uint8_t spreading_factor,
                                 uint32_t bandwidth_hz)
{
    return rp_airtime_low_data_rate(spreading_factor, bandwidth_hz) &&
           (rule != RP_LOW_DATA_RATE_125 || bandwidth_hz <= 125000);
}

int64_t rp_airtime_ruled_us(const struct rp_radio_profile *profile, enum rp_low_data_rate rule,
                            unsigned payload_len)
{
    struct rp_airtime settings = {
        .spreading_factor = profile->spreading_factor,
        .bandwidth_hz = profile->bandwidth_hz,
        .coding_rate = profile->coding_rate,
        .crc = true,
        .preamble_symbols = profile->preamble_symbols,
        .low_data_rate =
            rp_airtime_low_data_rate_by(rule, profile->spreading_factor, profile->bandwidth_hz),
    };
    return rp_airtime_us(&settings, payload_len);
}

bool rp_airtime_low_data_rate(uint8_t spreading_factor, uint32_t bandwidth_hz)
{
    /* rp_airtime_us refuses such a factor; here only the shift is kept within its type. */
    if (spreading_factor > SPREADING_MAX) {
        return true;
    }
    /* 2^SF / bandwidth > 16 ms, without a division. */
    return (UINT64_C(1) << spreading_factor) * 1000 > UINT64_C(16) * bandwidth_hz;
}
