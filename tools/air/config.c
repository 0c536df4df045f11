#include "air/config.h"

#include <stdlib.h>
#include <string.h>

#define LATENCY_MAX_MS 60000

void air_config_init(struct air_config *config)
{
    memset(config, 0, sizeof *config);
    config->seed = 1;
    config->air = (struct air_settings){.freq_hz = 869525000,
                                        .bandwidth_hz = 125000,
                                        .preamble_symbols = 8,
                                        .spreading_factor = 7,
                                        .coding_rate = 5,
                                        .sync_word = 0x12,
                                        .crc = true,
                                        .power_dbm = 14};
}

int air_words_split(char *line, struct air_words *out_words)
{
    struct air_words words = {.count = 0};
    char *hash = strchr(line, '#');
    if (hash != NULL) {
        *hash = '\0';
    }
    char *rest = line;
    for (char *word; (word = strtok_r(rest, " \t\r\n", &rest)) != NULL;) {
        if (words.count == AIR_WORDS_MAX) {
            return RP_E_TOO_LONG;
        }
        words.word[words.count++] = word;
    }
    *out_words = words;
    return 0;
}

int air_config_find(const struct air_config *config, const char *name)
{
    for (unsigned i = 0; i < config->count; i++) {
        if (strcmp(config->modems[i].name, name) == 0) {
            return (int)i;
        }
    }
    return RP_E_NOT_FOUND;
}

static bool parse_switch(const char *text, bool *out_on)
{
    if (strcmp(text, "on") != 0 && strcmp(text, "off") != 0) {
        return false;
    }
    *out_on = strcmp(text, "on") == 0;
    return true;
}

static bool parse_signed(const char *text, int low, int high, int *out_value)
{
    uint32_t size;
    bool negative = text[0] == '-';
    if (!air_parse_decimal(text + (negative ? 1 : 0), 100000, &size)) {
        return false;
    }
    int value = negative ? -(int)size : (int)size;
    if (value < low || value > high) {
        return false;
    }
    *out_value = value;
    return true;
}

static bool parse_ack(const char *text, uint8_t *out_type)
{
    static const struct {
        const char *word;
        uint8_t type;
    } types[] = {{"off", 0}, {"0c", 0x0c}, {"0e", 0x0e}};
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++) {
        if (strcmp(types[i].word, text) == 0) {
            *out_type = types[i].type;
            return true;
        }
    }
    return false;
}

static bool parse_choice(const char *text, const char *no, const char *yes, bool *out_yes)
{
    if (strcmp(text, no) != 0 && strcmp(text, yes) != 0) {
        return false;
    }
    *out_yes = strcmp(text, yes) == 0;
    return true;
}

static bool parse_chip(const char *text, struct air_options *o)
{
    static const char *const words[] = {"e22", "e32", "e220"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(words[i], text) == 0) {
            o->chip = (enum air_chip)i;
            return true;
        }
    }
    return parse_choice(text, "rn2483", "rn2903", &o->rn2903) ||
           parse_choice(text, "rylr998", "rylr896", &o->rylr896);
}

static bool set_option(struct air_options *o, const char *name, const char *value)
{
    uint32_t number;
    if (strcmp(name, "baud") == 0) {
        return air_parse_decimal(value, 4000000, &o->baud);
    }
    if (strcmp(name, "txdelay") == 0) {
        bool valid = air_parse_decimal(value, 2550, &number);
        o->tx_delay = valid ? (uint8_t)(number / 10) : o->tx_delay;
        return valid;
    }
    if (strcmp(name, "ack") == 0) {
        return parse_ack(value, &o->ack_type);
    }
    if (strcmp(name, "ok") == 0) {
        return parse_choice(value, "early", "late", &o->late_ok);
    }
    if (strcmp(name, "chip") == 0) {
        return parse_chip(value, o);
    }
    const struct {
        const char *name;
        bool *at;
    } switches[] = {{"baudcheck", &o->baud_check},
                    {"rxerr", &o->report_garbled},
                    {"csma", &o->csma},
                    {"smack", &o->smack},
                    {"rssi", &o->rssi_byte}};
    for (size_t i = 0; i < sizeof switches / sizeof switches[0]; i++) {
        if (strcmp(name, switches[i].name) == 0) {
            return parse_switch(value, switches[i].at);
        }
    }
    return false;
}

static int add_modem(struct air_config *config, const struct air_words *w,
                     struct rp_problem *out_problem)
{
    if (w->count < 4) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "modem", "needs NAME FAMILY LINKPATH");
    }
    if (config->count == AIR_STATIONS_MAX) {
        return rp_problem_set(out_problem, RP_E_FULL, "modem", "at most %d modems",
                              AIR_STATIONS_MAX);
    }
    struct air_config_modem modem = {.family = air_family_named(w->word[2])};
    if (modem.family == AIR_FAMILY_COUNT) {
        return rp_problem_set(out_problem, RP_E_INVALID, "modem",
                              "%.20s is no family: kiss, kiss-ack, at, hextext, uart", w->word[2]);
    }
    if (strlen(w->word[1]) >= AIR_NAME_CAP || strlen(w->word[3]) >= AIR_PATH_CAP ||
        air_config_find(config, w->word[1]) >= 0) {
        return rp_problem_set(out_problem, RP_E_INVALID, "modem",
                              "a name of at most 15 characters, once; a path of at most 107");
    }
    strcpy(modem.name, w->word[1]);
    strcpy(modem.path, w->word[3]);
    modem.options = air_options_default(modem.family);
    for (unsigned i = 4; i < w->count; i++) {
        char *equals = strchr(w->word[i], '=');
        if (equals != NULL) {
            *equals = '\0';
        }
        if (equals == NULL || !set_option(&modem.options, w->word[i], equals + 1)) {
            return rp_problem_set(out_problem, RP_E_INVALID, "modem",
                                  "option %.20s is unknown or its value is not possible",
                                  w->word[i]);
        }
    }
    config->modems[config->count++] = modem;
    return 0;
}

/* A loss of 0 to 1, or "none" for no link. */
static bool parse_loss(const char *text, struct air_config_link *link)
{
    if (strcmp(text, "none") == 0) {
        link->audible = false;
        return true;
    }
    char *end;
    double loss = strtod(text, &end);
    if (end == text || *end != '\0' || !(loss >= 0.0 && loss <= 1.0)) {
        return false;
    }
    link->audible = true;
    link->loss_ppm = (uint32_t)(loss * AIR_LOSS_ONE + 0.5);
    return true;
}

static int find_pair(const struct air_config *config, const struct air_words *w, int *out_a,
                     int *out_b, struct rp_problem *out_problem)
{
    int a = air_config_find(config, w->word[1]);
    int b = air_config_find(config, w->word[2]);
    if (a < 0 || b < 0 || a == b) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, w->word[0],
                              "needs two different modems named in lines before");
    }
    *out_a = a;
    *out_b = b;
    return 0;
}

static int set_link(struct air_config *config, const struct air_words *w,
                    struct rp_problem *out_problem)
{
    int a = 0, b = 0;
    if (w->count != 4 && w->count != 5) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "link", "needs A B LOSS [LOSS_BACK]");
    }
    int err = find_pair(config, w, &a, &b, out_problem);
    if (err != 0) {
        return err;
    }
    struct air_config_link there = config->links[a][b], back = config->links[b][a];
    if (!parse_loss(w->word[3], &there) || !parse_loss(w->word[w->count - 1], &back)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "link",
                              "a loss is 0 to 1, for example 0.3, or none");
    }
    config->links[a][b] = there;
    config->links[b][a] = back;
    return 0;
}

static int set_signal(struct air_config *config, const struct air_words *w,
                      struct rp_problem *out_problem)
{
    int a = 0, b = 0, rssi_dbm = 0, snr_db = 0;
    if (w->count != 5) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "signal", "needs A B RSSI SNR");
    }
    int err = find_pair(config, w, &a, &b, out_problem);
    if (err != 0) {
        return err;
    }
    if (!parse_signed(w->word[3], -200, 0, &rssi_dbm) ||
        !parse_signed(w->word[4], -40, 40, &snr_db)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "signal",
                              "RSSI -200 to 0 dBm and SNR -40 to 40 dB, for example -97 6");
    }
    struct air_config_link *link = &config->links[a][b];
    link->has_signal = true;
    link->rssi_dbm = (int16_t)rssi_dbm;
    link->snr_db = (int16_t)snr_db;
    return 0;
}

/* A number of dB or km, the whole word. */
static bool parse_real(const char *text, double low, double high, double *out_value)
{
    char *end;
    double value = strtod(text, &end);
    if (end == text || *end != '\0' || !(value >= low && value <= high)) {
        return false;
    }
    *out_value = value;
    return true;
}

/* The words after "path A B": DB [SIGMA_DB], or KM MODEL [MORE_DB]. */
static bool parse_path(const struct air_words *w, double freq_hz, double *out_loss_db,
                       double *out_sigma_db)
{
    double more_db = 0.0;
    bool model = w->count >= 5 && w->word[4][0] >= 'a';
    if (!parse_real(w->word[3], 0.0, 1000.0, out_loss_db)) {
        return false;
    }
    if (!model) {
        return w->count == 4 || (w->count == 5 && parse_real(w->word[4], 0.0, 20.0, out_sigma_db));
    }
    if (w->count == 6 && !parse_real(w->word[5], 0.0, 100.0, &more_db)) {
        return false;
    }
    bool known = air_path_loss_db(w->word[4], *out_loss_db, freq_hz, out_loss_db, out_sigma_db);
    *out_loss_db += more_db;
    return known;
}

/* The same both ways. */
static int set_path(struct air_config *config, const struct air_words *w,
                    struct rp_problem *out_problem)
{
    int a = 0, b = 0;
    if (w->count < 4 || w->count > 6) {
        return rp_problem_set(out_problem, RP_E_FORMAT, "path",
                              "needs A B DB [SIGMA_DB], or A B KM free|bor|oulu [MORE_DB]");
    }
    int err = find_pair(config, w, &a, &b, out_problem);
    if (err != 0) {
        return err;
    }
    double loss_db = 0.0, sigma_db = 0.0;
    if (!parse_path(w, config->air.freq_hz, &loss_db, &sigma_db) || loss_db < 0.0 ||
        loss_db > 300.0) {
        return rp_problem_set(out_problem, RP_E_INVALID, "path",
                              "a loss of 0 to 300 dB with a spread of 0 to 20, or a distance of "
                              "0.001 to 1000 km with free, bor or oulu");
    }
    struct air_config_link *links[] = {&config->links[a][b], &config->links[b][a]};
    for (int i = 0; i < 2; i++) {
        links[i]->audible = links[i]->has_path = true;
        links[i]->loss_db = (int16_t)(loss_db + 0.5);
        links[i]->sigma_tenth_db = (uint16_t)(sigma_db * 10.0 + 0.5);
    }
    return 0;
}

static int set_latency(struct air_config *config, const struct air_words *w,
                       struct rp_problem *out_problem)
{
    uint32_t low, high;
    if (w->count != 3 || !air_parse_decimal(w->word[1], LATENCY_MAX_MS, &low) ||
        !air_parse_decimal(w->word[2], LATENCY_MAX_MS, &high) || low > high) {
        return rp_problem_set(out_problem, RP_E_INVALID, "latency",
                              "needs MIN MAX in ms, at most %d, for example 2 20", LATENCY_MAX_MS);
    }
    config->latency_min_us = (int64_t)low * 1000;
    config->latency_max_us = (int64_t)high * 1000;
    return 0;
}

int air_config_change(struct air_config *config, const struct air_words *w,
                      struct rp_problem *out_problem)
{
    static const struct {
        const char *word;
        int (*apply)(struct air_config *config, const struct air_words *w,
                     struct rp_problem *out_problem);
    } lines[] = {
        {"link", set_link}, {"signal", set_signal}, {"latency", set_latency}, {"path", set_path}};
    for (size_t i = 0; w->count > 0 && i < sizeof lines / sizeof lines[0]; i++) {
        if (strcmp(w->word[0], lines[i].word) == 0) {
            return lines[i].apply(config, w, out_problem);
        }
    }
    return RP_E_UNSUPPORTED;
}

static bool parse_sync(const char *text, uint8_t *out_word)
{
    int high = air_hex_digit(text[0]);
    int low = high < 0 ? -1 : air_hex_digit(text[1]);
    if (low < 0 || text[2] != '\0') {
        return false;
    }
    *out_word = (uint8_t)(high * 16 + low);
    return true;
}

static bool set_air_field(struct air_settings *air, const char *name, const char *value)
{
    if (strcmp(name, "sync") == 0) {
        return parse_sync(value, &air->sync_word);
    }
    if (strcmp(name, "power") == 0) {
        int power_dbm = 0;
        bool valid = parse_signed(value, -3, 30, &power_dbm);
        air->power_dbm = (int8_t)power_dbm;
        return valid;
    }
    uint32_t v;
    if (!air_parse_decimal(value, UINT32_MAX, &v)) {
        return false;
    }
    if (strcmp(name, "sf") == 0 && v >= 7 && v <= 12) {
        air->spreading_factor = (uint8_t)v;
    } else if (strcmp(name, "bw") == 0 && (v == 125000 || v == 250000 || v == 500000)) {
        air->bandwidth_hz = v;
    } else if (strcmp(name, "cr") == 0 && v >= 5 && v <= 8) {
        air->coding_rate = (uint8_t)v;
    } else if (strcmp(name, "preamble") == 0 && v >= 6 && v <= 65535) {
        air->preamble_symbols = (uint16_t)v;
    } else if (strcmp(name, "freq") == 0 && v > 0) {
        air->freq_hz = v;
    } else {
        return false;
    }
    return true;
}

static int set_air(struct air_config *config, const struct air_words *w,
                   struct rp_problem *out_problem)
{
    struct air_settings air = config->air;
    bool valid = w->count % 2 == 1;
    for (unsigned i = 1; valid && i + 1 < w->count; i += 2) {
        valid = set_air_field(&air, w->word[i], w->word[i + 1]);
    }
    if (!valid) {
        return rp_problem_set(out_problem, RP_E_INVALID, "air",
                              "pairs of sf 7-12, bw 125000, 250000 or 500000, cr 5-8, "
                              "preamble 6-65535, freq HZ, sync HEX");
    }
    config->air = air;
    return 0;
}

static bool parse_capture(struct air_config *config, const char *text)
{
    static const struct {
        const char *word;
        enum air_capture capture;
    } words[] = {
        {"bor", AIR_CAPTURE_BOR}, {"goursaud", AIR_CAPTURE_GOURSAUD}, {"croce", AIR_CAPTURE_CROCE}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(words[i].word, text) == 0) {
            config->capture = words[i].capture;
            return true;
        }
    }
    config->capture = AIR_CAPTURE_FIXED;
    return parse_signed(text, 0, 60, &config->capture_db);
}

static int set_single(struct air_config *config, const char *name, const char *value,
                      struct rp_problem *out_problem)
{
    bool valid = false, on;
    uint32_t number;
    if (strcmp(name, "sync") == 0) {
        valid = parse_switch(value, &on);
        config->sync_ignored = valid ? !on : config->sync_ignored;
    } else if (strcmp(name, "mixed") == 0) {
        valid = parse_switch(value, &config->mixed);
    } else if (strcmp(name, "split") == 0) {
        valid = parse_switch(value, &config->split);
    } else if (strcmp(name, "capture") == 0) {
        valid = parse_capture(config, value);
    } else if (strcmp(name, "fading") == 0) {
        int sigma_db = 0;
        valid = parse_signed(value, 0, 20, &sigma_db);
        config->fading_tenth_db = valid ? (uint16_t)(10 * sigma_db) : config->fading_tenth_db;
    } else if (strcmp(name, "seed") == 0) {
        valid = air_parse_decimal(value, UINT32_MAX, &number);
        config->seed = valid ? number : config->seed;
    } else if (strcmp(name, "control") == 0) {
        valid = strlen(value) < AIR_PATH_CAP;
        strcpy(config->control, valid ? value : "");
    } else {
        return rp_problem_set(out_problem, RP_E_FORMAT, name, "is no word of the configuration");
    }
    return valid ? 0 : rp_problem_set(out_problem, RP_E_INVALID, name, "value is not possible");
}

int air_config_line(struct air_config *config, char *line, struct rp_problem *out_problem)
{
    struct air_words w;
    int err = air_words_split(line, &w);
    if (err != 0) {
        return rp_problem_set(out_problem, err, "line", "at most %d words", AIR_WORDS_MAX);
    }
    if (w.count == 0) {
        return 0;
    }
    if (strcmp(w.word[0], "modem") == 0) {
        return add_modem(config, &w, out_problem);
    }
    if (strcmp(w.word[0], "air") == 0) {
        return set_air(config, &w, out_problem);
    }
    err = air_config_change(config, &w, out_problem);
    if (err != RP_E_UNSUPPORTED) {
        return err;
    }
    if (w.count != 2) {
        return rp_problem_set(out_problem, RP_E_FORMAT, w.word[0],
                              "needs one value, or is no word");
    }
    return set_single(config, w.word[0], w.word[1], out_problem);
}
