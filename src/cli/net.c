#include "cli/net.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>

#include "port/clock.h"
#include "port/files/netfile.h"
#include "radio/plan/settings.h"

static const char usage[] =
    "usage: ridgepost net make FILE name NAME [SETTING VALUE]...   a new net, with a new secret\n"
    "       ridgepost net join FILE name NAME digits \"DIGITS\" [SETTING VALUE]...\n"
    "       ridgepost net show FILE        settings\n"
    "       ridgepost net digits FILE      the secret as digits, to read over a safe voice path\n"
    "       ridgepost net bands            the bands, their limits and where these are from\n"
    "settings: band frequency_hz bandwidth_hz spreading_factor coding_rate sync_word power_dbm\n"
    "          preamble_symbols frame_len_max duty_permille urgent_reserve_pct epoch text_armour\n"
    "text_armour 1: needed by all as soon as one station has an AT modem, which carries text only\n"
    "Every station of a net needs the same file, or the same words after join.\n"
    "Radio use follows local law: the band is the law the settings are checked against. This is "
    "an\n"
    "engineering summary and no legal advice.\n";

static int fail(const struct rp_problem *problem)
{
    fprintf(stderr, "ridgepost: %s\n", problem->text);
    return EX_DATAERR;
}

/* Where each setting goes. Bounds are checked by rp_net_check. */
static int set_number(struct rp_net *net, const char *word, long value)
{
    struct rp_radio_profile *p = &net->profile;
    if (value < INT32_MIN || value > INT32_MAX) {
        return -1;
    }
    if (strcmp(word, "frequency_hz") == 0) {
        p->freq_hz = (uint32_t)value;
    } else if (strcmp(word, "bandwidth_hz") == 0) {
        p->bandwidth_hz = (uint32_t)value;
    } else if (strcmp(word, "duty_permille") == 0) {
        net->duty_permille = (uint32_t)value;
    } else if (value > UINT16_MAX || value < INT8_MIN) {
        return -1;
    } else if (strcmp(word, "preamble_symbols") == 0) {
        p->preamble_symbols = (uint16_t)value;
    } else if (strcmp(word, "frame_len_max") == 0) {
        net->frame_len_max = (uint16_t)value;
    } else if (value > UINT8_MAX) {
        return -1;
    } else if (strcmp(word, "power_dbm") == 0) {
        p->power_dbm = (int8_t)(value > INT8_MAX ? INT8_MAX : value);
    } else if (strcmp(word, "spreading_factor") == 0) {
        p->spreading_factor = (uint8_t)value;
    } else if (strcmp(word, "coding_rate") == 0) {
        p->coding_rate = (uint8_t)value;
    } else if (strcmp(word, "sync_word") == 0) {
        p->sync_word = (uint8_t)value;
    } else if (strcmp(word, "urgent_reserve_pct") == 0) {
        net->urgent_reserve_pct = (uint8_t)value;
    } else if (strcmp(word, "text_armour") == 0 && (value == 0 || value == 1)) {
        p->text_armour = value == 1;
    } else if (strcmp(word, "epoch") == 0) {
        net->epoch = (uint8_t)value;
    } else {
        return -1;
    }
    return 0;
}

static int read_settings(const struct rp_options *options, struct rp_net *net,
                         const char **out_digits, struct rp_problem *problem)
{
    for (size_t i = 3; i < options->count; i += 2) {
        const char *word = options->words[i];
        if (i + 1 == options->count) {
            return rp_problem_set(problem, RP_E_FORMAT, word, "%s: a value is missing after it",
                                  word);
        }
        const char *text = options->words[i + 1];
        char *end;
        long value = strtol(text, &end, 0);
        bool number = *text != '\0' && *end == '\0';
        if (strcmp(word, "name") == 0 && strlen(text) <= RP_NAME_LEN) {
            strcpy(net->name, text);
        } else if (strcmp(word, "band") == 0 && strlen(text) <= RP_BAND_WORD_LEN) {
            strcpy(net->band, text);
        } else if (strcmp(word, "digits") == 0) {
            *out_digits = text;
        } else if (!number || set_number(net, word, value) < 0) {
            return rp_problem_set(problem, RP_E_INVALID, word,
                                  "\"%.40s %.20s\" is no setting of a net; ridgepost net --help "
                                  "lists them",
                                  word, text);
        }
    }
    return net->name[0] != '\0'
               ? RP_OK
               : rp_problem_set(problem, RP_E_INVALID, "name",
                                "the net needs a name of at most %d bytes (example: name "
                                "\"Karu Ri\")",
                                RP_NAME_LEN);
}

static int make(const struct rp_options *options, bool join)
{
    struct rp_net net;
    struct rp_problem problem = {0};
    const char *digits = NULL;
    rp_net_defaults(&net);
    int code = read_settings(options, &net, &digits, &problem);
    if (code == RP_OK && join != (digits != NULL)) {
        code = rp_problem_set(&problem, RP_E_INVALID, "digits",
                              join ? "join needs the digits of the net (example: digits "
                                     "\"012345-...\")"
                                   : "make draws a new secret; to use digits say net join");
    }
    if (code == RP_OK) {
        code = join ? rp_net_from_digits(digits, net.secret, &problem)
                    : rp_random_bytes(net.secret, sizeof net.secret);
    }
    if (code == RP_OK) {
        code = rp_net_check(&net, &problem);
    }
    if (code == RP_OK) {
        code = rp_net_check_plan(&net, &problem);
    }
    if (code == RP_OK) {
        code = rp_netfile_write(options->words[2], &net, &problem);
    }
    if (code < 0) {
        return fail(&problem);
    }
    printf("net \"%s\" is in %s; keep it secret, give every station the same file\n", net.name,
           options->words[2]);
    if (strcmp(net.band, "none") == 0) {
        puts("band none checks nothing: ask your regulator, then each station says so in [radio]:\n"
             "no_limit_acknowledged = yes");
    }
    return EX_OK;
}

/* "0.1 % of any hour, one transmission 720 ms", and the like. */
static void print_limits(const struct rp_band *band)
{
    printf("  %u.%06u-%u.%06u MHz, %d dBm %s", (unsigned)(band->low_hz / 1000000),
           (unsigned)(band->low_hz % 1000000), (unsigned)(band->high_hz / 1000000),
           (unsigned)(band->high_hz % 1000000), band->power_cdbm_max / 100,
           band->power_is_erp ? "ERP" : "conducted");
    if (band->bandwidth_min_hz > 0) {
        printf(", at least %u kHz wide", (unsigned)(band->bandwidth_min_hz / 1000));
    }
    if (band->duty_permille_max < 1000) {
        printf(", %u.%u %% of any hour", band->duty_permille_max / 10u,
               band->duty_permille_max % 10u);
    }
    if (band->transmission_ms_max > 0) {
        printf(", one transmission %u ms (%s)", (unsigned)band->transmission_ms_max,
               band->transmission_law);
    }
    if (band->dwell_ms_max > 0) {
        printf(", dwell %u ms", (unsigned)band->dwell_ms_max);
    }
    printf("%s\n", band->must_hop ? ", hopping: refused, this program does not hop" : "");
    printf("  %s (%s) %s\n", band->law, band->date, band->clause);
}

static int bands(void)
{
    const struct rp_band *band;
    for (size_t i = 0; (band = rp_band_at(i)) != NULL; i++) {
        printf("%-12s %s\n", band->word, band->title);
        if (!band->no_limit) {
            print_limits(band);
        }
        if (band->unsure[0] != '\0') {
            printf("  %s\n", band->unsure);
        }
    }
    puts("An engineering summary, no legal advice: what holds where you stand is yours to ask.");
    return EX_OK;
}

static int show(const struct rp_options *options, bool digits)
{
    struct rp_net net;
    struct rp_problem problem = {0};
    if (rp_netfile_read(options->words[2], &net, &problem) < 0) {
        return fail(&problem);
    }
    if (digits) {
        char text[RP_NET_DIGITS_LEN + 1];
        rp_net_digits(net.secret, text);
        puts(text);
        return EX_OK;
    }
    const struct rp_radio_profile *p = &net.profile;
    printf(
        "net %s, settings %04x\n%u.%06u MHz, SF%u, %u kHz, 4/%u, sync 0x%02x, %d dBm, preamble %u\n"
        "band %s, frames up to %u bytes, duty %u of 1000, %u %% kept for urgent traffic\n",
        net.name, rp_settings_hash(p), (unsigned)(p->freq_hz / 1000000),
        (unsigned)(p->freq_hz % 1000000), p->spreading_factor, (unsigned)(p->bandwidth_hz / 1000),
        p->coding_rate, p->sync_word, p->power_dbm, p->preamble_symbols,
        net.band[0] != '\0' ? net.band : "not chosen", net.frame_len_max,
        (unsigned)net.duty_permille, net.urgent_reserve_pct);
    return EX_OK;
}

int rp_cli_net(const struct rp_options *options)
{
    const char *verb = options->count > 2 ? options->words[1] : "";
    if (options->help) {
        fputs(usage, stdout);
        return EX_OK;
    }
    if (options->count == 2 && strcmp(options->words[1], "bands") == 0) {
        return bands();
    }
    if (strcmp(verb, "make") == 0 || strcmp(verb, "join") == 0) {
        return make(options, verb[0] == 'j');
    }
    if (strcmp(verb, "show") == 0 || strcmp(verb, "digits") == 0) {
        return show(options, verb[0] == 'd');
    }
    fputs(usage, stderr);
    return EX_USAGE;
}
