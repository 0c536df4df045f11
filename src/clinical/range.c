#include "clinical/range.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static const struct rp_range ranges[RP_RANGE_COUNT] = {
#define X(name, word_, unit_, dimension_, scale_, hard_min_, hard_max_, likely_min_, likely_max_,  \
          example_, note_)                                                                         \
    [RP_RANGE_##name] = {.word = word_,                                                            \
                         .unit = unit_,                                                            \
                         .dimension = RP_DIM_##dimension_,                                         \
                         .scale = scale_,                                                          \
                         .hard_min = hard_min_,                                                    \
                         .hard_max = hard_max_,                                                    \
                         .likely_min = likely_min_,                                                \
                         .likely_max = likely_max_,                                                \
                         .example = example_,                                                      \
                         .note = note_},
    RP_RANGES(X)
#undef X
};

const struct rp_range *rp_range_of(enum rp_range_id id)
{
    assert((unsigned)id < RP_RANGE_COUNT);
    return &ranges[id];
}

const struct rp_range *rp_range_find(const char *word)
{
    for (size_t i = 0; i < RP_RANGE_COUNT; i++) {
        if (strcmp(ranges[i].word, word) == 0) {
            return &ranges[i];
        }
    }
    return NULL;
}

void rp_range_show(const struct rp_range *range, int32_t value, char out_text[16])
{
    int64_t size = value < 0 ? -(int64_t)value : value;
    const char *sign = value < 0 ? "-" : "";
    if (range->scale == 1) {
        snprintf(out_text, 16, "%d", (int)value);
    } else if (range->scale == 10) {
        snprintf(out_text, 16, "%s%d.%d", sign, (int)(size / 10), (int)(size % 10));
    } else {
        snprintf(out_text, 16, "%s%d.%06d", sign, (int)(size / 1000000), (int)(size % 1000000));
    }
}

/* "0-100", "-450 to 8900". */
static void show_bounds(const struct rp_range *range, int32_t low, int32_t high, char out[40])
{
    char low_text[16], high_text[16];
    rp_range_show(range, low, low_text);
    rp_range_show(range, high, high_text);
    snprintf(out, 40, "%s%s%s", low_text, low < 0 ? " to " : "-", high_text);
}

/* "spo2 171 %" */
static void show_input(const struct rp_range *range, int32_t value, char out[60])
{
    char text[16];
    rp_range_show(range, value, text);
    snprintf(out, 60, "%s %s%s%s", range->word, text, range->unit[0] != '\0' ? " " : "",
             range->unit);
}

static int ask_again(const struct rp_range *range, int32_t value, int32_t low, int32_t high,
                     struct rp_problem *out_problem)
{
    char input[60], bounds[40];
    show_input(range, value, input);
    show_bounds(range, low, high, bounds);
    return rp_problem_set(out_problem, RP_E_CONFIRM, range->word,
                          "%s is unlikely: outside %s; check and enter again with --sure", input,
                          bounds);
}

int rp_range_check(const struct rp_range *range, int32_t value, bool sure,
                   struct rp_problem *out_problem)
{
    if (value < range->hard_min || value > range->hard_max) {
        char input[60], bounds[40];
        show_input(range, value, input);
        show_bounds(range, range->hard_min, range->hard_max, bounds);
        return rp_problem_set(out_problem, RP_E_INVALID, range->word,
                              "%s is outside %s (example: %s)", input, bounds, range->example);
    }
    if (!sure && (value < range->likely_min || value > range->likely_max)) {
        return ask_again(range, value, range->likely_min, range->likely_max, out_problem);
    }
    return 0;
}

int rp_range_check_near(const struct rp_range *range, int32_t value, int32_t near, int32_t within,
                        bool sure, struct rp_problem *out_problem)
{
    int code = rp_range_check(range, value, sure, out_problem);
    if (code != 0 || sure) {
        return code;
    }
    int64_t apart = (int64_t)value - near;
    if (apart <= within && apart >= -(int64_t)within) {
        return 0;
    }
    int64_t low = (int64_t)near - within, high = (int64_t)near + within;
    low = low < range->hard_min ? range->hard_min : low;
    high = high > range->hard_max ? range->hard_max : high;
    return ask_again(range, value, (int32_t)low, (int32_t)high, out_problem);
}

int rp_range_check_some(const struct rp_range *range, int32_t value, const char *example,
                        struct rp_problem *out_problem)
{
    struct rp_range some = *range;
    some.hard_min = some.hard_min > 0 ? some.hard_min : 1;
    some.example = example;
    return rp_range_check(&some, value, true, out_problem);
}

int rp_range_check_blood(int32_t systolic_mmhg, int32_t diastolic_mmhg,
                         struct rp_problem *out_problem)
{
    if (systolic_mmhg > diastolic_mmhg) {
        return 0;
    }
    return rp_problem_set(out_problem, RP_E_INVALID, "diastolic",
                          "diastolic %d mmHg is not below systolic %d mmHg (example: bp 118/74)",
                          (int)diastolic_mmhg, (int)systolic_mmhg);
}

int rp_range_parse(const struct rp_range *range, const char *text, bool sure, int32_t *out_value,
                   struct rp_problem *out_problem)
{
    if (range->scale == 1000000) {
        return rp_problem_set(out_problem, RP_E_INVALID, range->word,
                              "%s is typed with its partner, as a position (example: %s)",
                              range->word, range->example);
    }
    int32_t value;
    int code = rp_quantity_parse(range->dimension, range->word, text, &value, out_problem);
    if (code == 0) {
        code = rp_range_check(range, value, sure, out_problem);
    }
    if (code == 0) {
        *out_value = value;
    }
    return code;
}
