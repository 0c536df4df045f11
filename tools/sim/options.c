#include "sim/options.h"

#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"
#include "wire/frame.h"

/* --- values --- */

static int wrong(struct rp_problem *out_problem, const char *option, const char *text,
                 const char *bound, const char *example)
{
    return rp_problem_set(out_problem, RP_E_INVALID, option, "%s '%s' is not %s (example: %s %s)",
                          option, text, bound, option, example);
}

static bool read_whole(const char *text, uint64_t max, uint64_t *out_value)
{
    uint64_t value = 0;
    if (*text == '\0' || strlen(text) > 19) {
        return false;
    }
    for (; *text >= '0' && *text <= '9'; text++) {
        value = value * 10 + (uint64_t)(*text - '0');
    }
    *out_value = value;
    return *text == '\0' && value <= max;
}

/* A number with at most three decimals, in thousandths. */
static bool read_thousandths(const char *text, uint64_t max, uint64_t *out_value)
{
    uint64_t value = 0;
    unsigned decimals = 0, digits = 0;
    bool point = false;
    for (; *text != '\0'; text++) {
        if (*text == '.' && !point) {
            point = true;
            continue;
        }
        if (*text < '0' || *text > '9' || ++digits > 12 || (decimals += point) > 3) {
            return false;
        }
        value = value * 10 + (uint64_t)(*text - '0');
    }
    for (; decimals < 3; decimals++) {
        value *= 10;
    }
    *out_value = value;
    return digits > 0 && value <= max;
}

/* --- the table --- */

enum option_kind { KIND_FLAG, KIND_WHOLE, KIND_THOUSANDTHS, KIND_TEXT };

#define IN_RUN   1u
#define IN_STORM 2u
#define IN_TELL  4u
#define IN_ALL   7u

typedef int option_take(struct sim_options *options, uint64_t value, const char *text);

struct option {
    const char *name;
    unsigned commands;
    enum option_kind kind;
    uint64_t min, max;
    const char *bound, *example;
    option_take *take; /* negative: the value is refused as out of bound */
};

static int take_topology(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    o->topology_text = text;
    return 0;
}

static int take_loss(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->loss = (uint16_t)value;
    return 0;
}

static int take_sf(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.spreading_factor = (uint8_t)value;
    return 0;
}

static int take_bw(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.bandwidth_hz = (uint32_t)value * 1000;
    return value == 125 || value == 250 || value == 500 ? 0 : RP_E_INVALID;
}

static int take_hours(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.hours_us = (rp_time_us)value * (SIM_HOUR_US / 1000);
    return 0;
}

static int take_settle(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.settle_us = (rp_time_us)value * (SIM_HOUR_US / 1000);
    return 0;
}

static int take_interval(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.interval_us = (rp_time_us)value * (SIM_MINUTE_US / 1000);
    return 0;
}

static int take_bytes(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.record_bytes = (uint16_t)value;
    return 0;
}

static int take_cadence(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    static const char *const words[] = {
        [SIM_DECLARED] = "declared", [SIM_EVEN] = "even", [SIM_SPORADIC] = "sporadic"};
    for (enum sim_cadence cadence = SIM_DECLARED; cadence <= SIM_SPORADIC; cadence++) {
        if (strcmp(text, words[cadence]) == 0) {
            o->settings.cadence = cadence;
            return 0;
        }
    }
    return RP_E_INVALID;
}

static int take_urgent(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.urgent_permille = (uint16_t)value;
    return 0;
}

static int take_origins(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->origins = (unsigned)value;
    return 0;
}

static int take_duty(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.duty_permille = (uint16_t)(value / 100);
    o->has_duty = true;
    return value % 100 == 0 ? 0 : RP_E_INVALID;
}

static int take_cut(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    if (o->cut_count == SIM_CUTS_MAX) {
        return RP_E_INVALID;
    }
    o->cut_texts[o->cut_count++] = text;
    return 0;
}

static int take_frame(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.frame_len_max = (uint16_t)value;
    return 0;
}

static int take_latency(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->settings.latency_us_max = (rp_time_us)value * 1000;
    return 0;
}

static int take_capture(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    (void)text;
    o->settings.capture = true;
    return 0;
}

static int take_path_loss(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    o->settings.path_loss = strcmp(text, "free") == 0 ? SIM_PATH_FREE : SIM_PATH_LAND;
    return strcmp(text, "free") == 0 || strcmp(text, "land") == 0 ? 0 : RP_E_INVALID;
}

static int take_modem(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    o->settings.modem_acks = strcmp(text, "kiss-ack") == 0;
    return o->settings.modem_acks || strcmp(text, "kiss") == 0 ? 0 : RP_E_INVALID;
}

static int take_sensing(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    (void)text;
    o->settings.sensing = true;
    return 0;
}

static int take_seed(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->seed = value;
    return 0;
}

static int take_count(struct sim_options *o, uint64_t value, const char *text)
{
    (void)text;
    o->count = (uint32_t)value;
    return 0;
}

static int take_baselines(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    (void)text;
    o->baselines = true;
    return 0;
}

static int take_json(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    (void)text;
    o->json = true;
    return 0;
}

static int take_frames(struct sim_options *o, uint64_t value, const char *text)
{
    (void)value;
    (void)text;
    o->frames = true;
    return 0;
}

static const struct option table[] = {
    {"--topology", IN_RUN, KIND_TEXT, 0, 0, "a topology word or file", "chain:5", take_topology},
    {"--loss", IN_RUN, KIND_THOUSANDTHS, 0, 1000, "0 to 1 with at most three decimals", "0.3",
     take_loss},
    {"--sf", IN_RUN, KIND_WHOLE, 7, 12, "a spreading factor from 7 to 12", "9", take_sf},
    {"--bw", IN_RUN, KIND_WHOLE, 125, 500, "a bandwidth of 125, 250 or 500 kHz", "125", take_bw},
    {"--hours", IN_ALL, KIND_THOUSANDTHS, 100, 2000000, "0.1 to 2000 hours", "24", take_hours},
    {"--settle-hours", IN_RUN, KIND_THOUSANDTHS, 0, 400000, "0 to 400 hours", "12", take_settle},
    {"--interval-min", IN_RUN, KIND_THOUSANDTHS, 100, 10000000, "0.1 to 10000 minutes", "10",
     take_interval},
    {"--record-bytes", IN_RUN, KIND_WHOLE, 10, RP_FRAME_LEN_MAX, "10 to 222 bytes on air", "40",
     take_bytes},
    {"--cadence", IN_RUN, KIND_TEXT, 0, 0, "'declared', 'even' or 'sporadic'", "declared",
     take_cadence},
    {"--urgent", IN_RUN, KIND_THOUSANDTHS, 0, 1000, "a share of records from 0 to 1", "0.167",
     take_urgent},
    {"--origins", IN_RUN, KIND_WHOLE, 1, SIM_STATIONS_MAX, "1 to 200 reporting stations", "5",
     take_origins},
    {"--duty", IN_ALL, KIND_THOUSANDTHS, 100, 100000,
     "0.1 to 100 percent of the hour, in steps of 0.1", "1", take_duty},
    {"--cut", IN_RUN, KIND_TEXT, 0, 0, "A-B:from-to in hours, at most 8 times", "s2-s3:2-14",
     take_cut},
    {"--frame-max", IN_RUN, KIND_WHOLE, 60, RP_FRAME_LEN_MAX, "60 to 222 bytes", "120", take_frame},
    {"--latency-ms", IN_RUN, KIND_WHOLE, 0, 1000, "0 to 1000 milliseconds", "10", take_latency},
    {"--baselines", IN_RUN, KIND_FLAG, 0, 0, "", "", take_baselines},
    {"--capture", IN_RUN, KIND_FLAG, 0, 0, "", "", take_capture},
    {"--path-loss", IN_RUN, KIND_TEXT, 0, 0, "'land' or 'free'", "land", take_path_loss},
    {"--modem", IN_RUN, KIND_TEXT, 0, 0, "'kiss' or 'kiss-ack'", "kiss", take_modem},
    {"--sensing", IN_RUN, KIND_FLAG, 0, 0, "", "", take_sensing},
    {"--seed", IN_ALL, KIND_WHOLE, 0, UINT32_MAX, "a whole number below 4294967296", "1",
     take_seed},
    {"--count", IN_RUN | IN_STORM, KIND_WHOLE, 1, 1000000, "1 to 1000000 seeds", "20", take_count},
    {"--frames", IN_TELL, KIND_FLAG, 0, 0, "", "", take_frames},
    {"--json", IN_RUN | IN_STORM, KIND_FLAG, 0, 0, "", "", take_json},
};

static const struct option *find_option(const char *name)
{
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        if (strcmp(table[i].name, name) == 0) {
            return &table[i];
        }
    }
    return NULL;
}

static int apply(struct sim_options *options, const struct option *option, const char *text,
                 struct rp_problem *out_problem)
{
    uint64_t value = 0;
    bool well = true;
    if (option->kind == KIND_WHOLE) {
        well = read_whole(text, option->max, &value) && value >= option->min;
    } else if (option->kind == KIND_THOUSANDTHS) {
        well = read_thousandths(text, option->max, &value) && value >= option->min;
    }
    if (!well || option->take(options, value, text) < 0) {
        return wrong(out_problem, option->name, text, option->bound, option->example);
    }
    return 0;
}

static int read_command(int argc, char **argv, struct sim_options *options,
                        struct rp_problem *out_problem)
{
    static const char *const words[] = {[SIM_COMMAND_HELP] = "--help",
                                        [SIM_COMMAND_RUN] = "run",
                                        [SIM_COMMAND_STORM] = "storm",
                                        [SIM_COMMAND_TELL] = "tell"};
    for (unsigned i = 0; argc > 0 && i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(argv[0], words[i]) == 0) {
            options->command = (enum sim_command)i;
            return 0;
        }
    }
    return rp_problem_set(out_problem, RP_E_NOT_FOUND, "command",
                          "the first word must be run, storm, tell or --help%s%s "
                          "(example: ridgepost-sim run --topology chain:5)",
                          argc > 0 ? ", not " : "", argc > 0 ? argv[0] : "");
}

int sim_options_read(int argc, char **argv, struct sim_options *out_options,
                     struct rp_problem *out_problem)
{
    struct sim_options options = {.seed = 1, .count = 1};
    sim_settings_defaults(&options.settings);
    int code = read_command(argc, argv, &options, out_problem);
    if (code < 0) {
        return code;
    }
    static const unsigned masks[] = {0, IN_RUN, IN_STORM, IN_TELL};
    for (int i = 1; i < argc && options.command != SIM_COMMAND_HELP; i++) {
        if (strcmp(argv[i], "--help") == 0) {
            options.command = SIM_COMMAND_HELP;
            break;
        }
        const struct option *option = find_option(argv[i]);
        if (option == NULL || (option->commands & masks[options.command]) == 0) {
            return rp_problem_set(out_problem, RP_E_NOT_FOUND, argv[i],
                                  "%s has no option %s (ridgepost-sim --help lists them)", argv[0],
                                  argv[i]);
        }
        if (option->kind != KIND_FLAG && i + 1 == argc) {
            return rp_problem_set(out_problem, RP_E_INVALID, option->name,
                                  "%s needs a value: %s (example: %s %s)", option->name,
                                  option->bound, option->name, option->example);
        }
        const char *text = option->kind == KIND_FLAG ? "" : argv[++i];
        code = apply(&options, option, text, out_problem);
        if (code < 0) {
            return code;
        }
    }
    *out_options = options;
    return 0;
}
