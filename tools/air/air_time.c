#include "air/air_time.h"

#include "ridgepost/error.h"

static bool in_range(const struct air_time_input *in)
{
    return in->bandwidth_hz >= 7800 && in->bandwidth_hz <= 500000 && in->spreading_factor >= 7 &&
           in->spreading_factor <= 12 && in->coding_rate >= 5 && in->coding_rate <= 8 &&
           in->payload_len <= 255;
}

/* Symbols after the preamble: 8, and as many code blocks as the bits left over need. Semtech
 * SX1276/77/78/79 data sheet rev 4 (2015) 4.1.1.7. */
static int64_t body_symbols(const struct air_time_input *in)
{
    int64_t sf = in->spreading_factor;
    int64_t bits = 8 * (int64_t)in->payload_len - 4 * sf + 28;
    bits += in->crc ? 16 : 0;
    bits -= in->implicit_header ? 20 : 0;
    int64_t bits_per_block = 4 * (in->low_data_rate ? sf - 2 : sf);
    int64_t blocks = 0;
    if (bits > 0) {
        blocks = (bits + bits_per_block - 1) / bits_per_block;
    }
    return 8 + blocks * in->coding_rate;
}

int64_t air_time_us(const struct air_time_input *in)
{
    if (!in_range(in)) {
        return RP_E_INVALID;
    }
    /* The preamble is N + 4.25 symbols, so everything is counted in quarters of a symbol. A
     * quarter is 2^SF / 4 chips, and a chip lasts 1 / bandwidth. */
    int64_t quarters = 4 * (int64_t)in->preamble_symbols + 17 + 4 * body_symbols(in);
    int64_t chips = quarters * (INT64_C(1) << in->spreading_factor) / 4;
    return (chips * 1000000 + in->bandwidth_hz - 1) / in->bandwidth_hz;
}

int64_t air_time_symbol_us(uint8_t spreading_factor, uint32_t bandwidth_hz)
{
    int64_t chips = INT64_C(1) << spreading_factor;
    return (chips * 1000000 + bandwidth_hz - 1) / bandwidth_hz;
}

bool air_time_low_data_rate(uint8_t spreading_factor, uint32_t bandwidth_hz)
{
    /* 2^SF / BW > 16 ms, without a division. */
    return (INT64_C(1) << spreading_factor) * 1000 > 16 * (int64_t)bandwidth_hz;
}
