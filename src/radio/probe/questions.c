#include "radio/probe/questions.h"

#include "radio/text.h"
#include "ridgepost/error.h"

static void note(struct rp_settings_said *said, enum rp_setting setting)
{
    said->known |= 1u << setting;
}

/* A number and nothing else. */
static bool whole_number(struct rp_view line, int32_t min, int32_t max, int32_t *out_number)
{
    return rp_text_take_number(&line, min, max, out_number) && line.len == 0;
}

/* --- AT --- */

static bool at_band(struct rp_view line, struct rp_settings_said *said)
{
    int32_t hz;
    if (!rp_text_take(&line, "+BAND=") || !whole_number(line, 1, 999999999, &hz)) {
        return false;
    }
    said->profile.freq_hz = (uint32_t)hz;
    note(said, RP_SETTING_FREQUENCY);
    return true;
}

/* 7, 8 and 9: the guide; the narrower ones, which no net here uses: from memory. */
static const uint32_t bandwidths_hz[] = {7800,  10400, 15600,  20800,  31250,
                                         41700, 62500, 125000, 250000, 500000};

static bool at_parameter(struct rp_view line, struct rp_settings_said *said)
{
    int32_t spreading, bandwidth, coding, preamble;
    if (!rp_text_take(&line, "+PARAMETER=") || !rp_text_take_number(&line, 5, 12, &spreading) ||
        !rp_text_take(&line, ",") || !rp_text_take_number(&line, 0, 9, &bandwidth) ||
        !rp_text_take(&line, ",") || !rp_text_take_number(&line, 1, 4, &coding) ||
        !rp_text_take(&line, ",") || !whole_number(line, 0, 65535, &preamble)) {
        return false;
    }
    said->profile.spreading_factor = (uint8_t)spreading;
    said->profile.bandwidth_hz = bandwidths_hz[bandwidth];
    said->profile.coding_rate = (uint8_t)(coding + 4);
    said->profile.preamble_symbols = (uint16_t)preamble;
    note(said, RP_SETTING_SPREADING);
    note(said, RP_SETTING_BANDWIDTH);
    note(said, RP_SETTING_CODING);
    note(said, RP_SETTING_PREAMBLE);
    return true;
}

/* The network id is the sync word of the same number; see drivers/at.c. */
static bool at_network(struct rp_view line, struct rp_settings_said *said)
{
    int32_t id;
    if (!rp_text_take(&line, "+NETWORKID=") || !whole_number(line, 0, 255, &id)) {
        return false;
    }
    said->profile.sync_word = (uint8_t)id;
    note(said, RP_SETTING_SYNC);
    return true;
}

static bool at_power(struct rp_view line, struct rp_settings_said *said)
{
    int32_t power_dbm;
    if (!rp_text_take(&line, "+CRFOP=") || !whole_number(line, 0, 30, &power_dbm)) {
        return false;
    }
    said->profile.power_dbm = (int8_t)power_dbm;
    note(said, RP_SETTING_POWER);
    return true;
}

const struct rp_question rp_at_questions[] = {
    {"AT+BAND?\r\n", at_band},
    {"AT+PARAMETER?\r\n", at_parameter},
    {"AT+NETWORKID?\r\n", at_network},
    {"AT+CRFOP?\r\n", at_power},
    {NULL, NULL},
};

/* --- hexadecimal text --- */

static bool hextext_freq(struct rp_view line, struct rp_settings_said *said)
{
    int32_t hz;
    if (!whole_number(line, 100000000, 999999999, &hz)) {
        return false;
    }
    said->profile.freq_hz = (uint32_t)hz;
    note(said, RP_SETTING_FREQUENCY);
    return true;
}

static bool hextext_power(struct rp_view line, struct rp_settings_said *said)
{
    int32_t power_dbm;
    if (!whole_number(line, -3, 30, &power_dbm)) {
        return false;
    }
    said->profile.power_dbm = (int8_t)power_dbm;
    note(said, RP_SETTING_POWER);
    return true;
}

static bool hextext_spreading(struct rp_view line, struct rp_settings_said *said)
{
    int32_t spreading;
    if (!rp_text_take(&line, "sf") || !whole_number(line, 5, 12, &spreading)) {
        return false;
    }
    said->profile.spreading_factor = (uint8_t)spreading;
    note(said, RP_SETTING_SPREADING);
    return true;
}

static bool hextext_bandwidth(struct rp_view line, struct rp_settings_said *said)
{
    int32_t khz;
    if (!whole_number(line, 1, 500, &khz)) {
        return false;
    }
    said->profile.bandwidth_hz = (uint32_t)khz * 1000;
    note(said, RP_SETTING_BANDWIDTH);
    return true;
}

static bool hextext_coding(struct rp_view line, struct rp_settings_said *said)
{
    int32_t coding;
    if (!rp_text_take(&line, "4/") || !whole_number(line, 5, 8, &coding)) {
        return false;
    }
    said->profile.coding_rate = (uint8_t)coding;
    note(said, RP_SETTING_CODING);
    return true;
}

static bool hextext_preamble(struct rp_view line, struct rp_settings_said *said)
{
    int32_t symbols;
    if (!whole_number(line, 0, 65535, &symbols)) {
        return false;
    }
    said->profile.preamble_symbols = (uint16_t)symbols;
    note(said, RP_SETTING_PREAMBLE);
    return true;
}

static bool hextext_sync(struct rp_view line, struct rp_settings_said *said)
{
    uint8_t word;
    if (line.len != 2 || rp_hex_decode(line, &word, 1) != 1) {
        return false;
    }
    said->profile.sync_word = word;
    note(said, RP_SETTING_SYNC);
    return true;
}

const struct rp_question rp_hextext_questions[] = {
    {"radio get freq\r\n", hextext_freq},    {"radio get pwr\r\n", hextext_power},
    {"radio get sf\r\n", hextext_spreading}, {"radio get bw\r\n", hextext_bandwidth},
    {"radio get cr\r\n", hextext_coding},    {"radio get prlen\r\n", hextext_preamble},
    {"radio get sync\r\n", hextext_sync},    {NULL, NULL},
};
