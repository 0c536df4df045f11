/* The configuration of the emulator: one word and its values a line, '#' starts a comment. Each
 * word is explained in help.c, which `ridgepost-air --help` prints. */
#ifndef AIR_CONFIG_H
#define AIR_CONFIG_H

#include "air/modem/modem.h"
#include "base/problem.h"

#define AIR_NAME_CAP 16
/* As a Unix socket path, the shortest of the path limits (Linux unix(7): 108 bytes). */
#define AIR_PATH_CAP   108
#define AIR_WORDS_MAX  16
#define AIR_CONFIG_CAP 1024 /* longest line */

struct air_config_modem {
    char name[AIR_NAME_CAP];
    char path[AIR_PATH_CAP];
    enum air_family family;
    struct air_options options;
};

/* One directed link. */
struct air_config_link {
    bool audible, has_signal, has_path;
    int16_t loss_db;         /* of the path, when has_path */
    uint16_t sigma_tenth_db; /* spread of its shadowing */
    uint32_t loss_ppm;
    int16_t rssi_dbm, snr_db;
};

struct air_config {
    unsigned count;
    struct air_config_modem modems[AIR_STATIONS_MAX];
    struct air_config_link links[AIR_STATIONS_MAX][AIR_STATIONS_MAX]; /* [from][to] */
    struct air_settings air;
    int64_t latency_min_us, latency_max_us;
    uint64_t seed;
    bool sync_ignored, mixed, split;
    enum air_capture capture;
    int capture_db;
    uint16_t fading_tenth_db;   /* of each frame on links with a path */
    char control[AIR_PATH_CAP]; /* "" for none */
};

/* Words of one line; borrowed from the line, which is cut up. */
struct air_words {
    unsigned count;
    char *word[AIR_WORDS_MAX];
};

void air_config_init(struct air_config *config);
/* Splits at blanks and stops at '#'. RP_E_TOO_LONG when there are more words than fit. */
int air_words_split(char *line, struct air_words *out_words);
/* Applies one line, which is cut up. 0, or an error with *out_problem filled. */
int air_config_line(struct air_config *config, char *line, struct rp_problem *out_problem);
/* The modem of that name, or RP_E_NOT_FOUND. */
int air_config_find(const struct air_config *config, const char *name);
/* `link`, `signal` and `latency` alone, which are also commands at run time. RP_E_UNSUPPORTED when
 * the line is none of them. */
int air_config_change(struct air_config *config, const struct air_words *words,
                      struct rp_problem *out_problem);

#endif
