/* The table of bands. Every number was found in the document of its row or in a text that quotes
 * it; "from memory" is said where it was not. */
#include "radio/law/law.h"

#include <stdio.h>
#include <string.h>

/* Duty cycles and edges of K to Q: table B.1 of the standard, as quoted (clause 4.3.3) by a public
 * network's duty-cycle page and by the chip maker's LoRaWAN node source (LoRaMac-node, pull request
 * 750, VerifyRfFreq). Powers of M, N, P: Spanish frequency table CNAF, note UN-39, which follows
 * the same recommendation. 25 mW is 14 dBm ERP (16.15 dBm EIRP, LoRaMac-node), 500 mW is 27 dBm.
 * The longest single transmission is the advice of ERC/REC 70-03 as listed by EFIS: 0.72 s at
 * 0.1 %, 3.6 s at 1 %, 36 s at 10 %. The gaps between the bands are not for general use. */
#define ADVICE "ERC/REC 70-03, advice"
#define EU_LAW "ETSI EN 300 220-2 V3.2.1"
#define EU_ROW(word_, letter_, low_, high_, example_, power_, duty_, longest_, unsure_)            \
    {                                                                                              \
        .word = word_, .title = "Europe " #low_ "-" #high_ " kHz, band " letter_, .law = EU_LAW,   \
        .date = "2018-06", .clause = "table B.1", .unsure = unsure_, .low_hz = low_##000u,         \
        .high_hz = high_##000u, .example_hz = example_, .power_is_erp = true,                      \
        .power_cdbm_max = power_, .duty_permille_max = duty_, .transmission_ms_max = longest_,     \
        .transmission_law = ADVICE                                                                 \
    }
#define POWER_UNSURE "quoted by other texts, power from memory, not read in the standard: check"
#define QUOTED                                                                                     \
    "quoted by other texts, power by Spain's table CNAF UN-39, not read in the standard: check"

static const struct rp_band bands[] = {
    EU_ROW("eu-k", "K", 863000, 865000, 864000000, 1400, 1, 720, POWER_UNSURE),
    EU_ROW("eu-l", "L", 865000, 868000, 866500000, 1400, 10, 3600, POWER_UNSURE),
    EU_ROW("eu-m", "M", 868000, 868600, 868300000, 1400, 10, 3600, QUOTED),
    EU_ROW("eu-n", "N", 868700, 869200, 868950000, 1400, 1, 720, QUOTED),
    EU_ROW("eu-p", "P", 869400, 869650, 869525000, 2700, 100, 36000, QUOTED),
    EU_ROW("eu-q", "Q", 869700, 870000, 869850000, 1400, 10, 3600, POWER_UNSURE),
    /* 10 mW ERP at 10 % is the text of a national table; that it is of this band is from memory.
     * LoRaMac-node's EU433 agrees on the power (12.15 dBm EIRP) and keeps to 1 %. */
    {.word = "eu-433",
     .title = "Europe 433050-434790 kHz",
     .law = "ECC/DEC/(04)02",
     .date = "2004",
     .clause = "10 mW, 10 %",
     .unsure = "power and duty cycle were read in a national table, not in the decision: check",
     .low_hz = 433050000,
     .high_hz = 434790000,
     .example_hz = 433575000,
     .power_is_erp = true,
     .power_cdbm_max = 1000,
     .duty_permille_max = 100,
     .transmission_ms_max = 36000,
     .transmission_law = ADVICE},
    /* Texts of 2005, 2015 and 2021 agree. The power of 1 W was read in a summary of (b); the
     * reduction above 6 dBi is from memory. The density of 8 dBm in 3 kHz is never reached by what
     * a modem here can send: 22 dBm spread over 500 kHz is below 0 dBm. */
    {.word = "fcc-digital",
     .title = "USA 902-928 MHz, digital modulation",
     .law = "47 CFR 15.247",
     .date = "2021",
     .clause = "digital modulation, (b)",
     .unsure = "1 W was read in a summary, what is taken off above 6 dBi is from memory: check",
     .low_hz = 902000000,
     .high_hz = 928000000,
     .example_hz = 915000000,
     .bandwidth_min_hz = 500000,
     .power_cdbm_max = 3000,
     .gain_free_cdbi = 600,
     .duty_permille_max = 1000},
    {.word = "fcc-hybrid",
     .title = "USA 902-928 MHz, hybrid (hopping)",
     .law = "47 CFR 15.247",
     .date = "2021",
     .clause = "(f)",
     .unsure = "1 W was read in a summary, what is taken off above 6 dBi is from memory: check",
     .low_hz = 902000000,
     .high_hz = 928000000,
     .example_hz = 915000000,
     .power_cdbm_max = 3000,
     .gain_free_cdbi = 600,
     .duty_permille_max = 1000,
     .dwell_ms_max = 400,
     .must_hop = true},
    {.word = "none",
     .title = "no limit set: ask your regulator",
     .law = "",
     .date = "",
     .clause = "",
     .unsure = "nothing is checked: frequency, power and transmit time are the operator's to know",
     .power_cdbm_max = INT16_MAX,
     .duty_permille_max = 1000,
     .no_limit = true},
};

const struct rp_band *rp_band_at(size_t index)
{
    return index < sizeof bands / sizeof bands[0] ? &bands[index] : NULL;
}

const struct rp_band *rp_band_find(const char *word)
{
    for (size_t i = 0; i < sizeof bands / sizeof bands[0]; i++) {
        if (strcmp(bands[i].word, word) == 0) {
            return &bands[i];
        }
    }
    return NULL;
}

void rp_band_words(char *buf, size_t cap)
{
    size_t len = 0;
    buf[0] = '\0';
    for (size_t i = 0; i < sizeof bands / sizeof bands[0]; i++) {
        int put = snprintf(buf + len, cap - len, "%s%s", i > 0 ? ", " : "", bands[i].word);
        len = (size_t)put < cap - len ? len + (size_t)put : cap - 1;
    }
}
