#include "clinical/news2.h"

#include <stddef.h>

#include "ridgepost/error.h"

/* A value up to and including `upto` scores that; the last row of each table has no bound. */
struct step {
    int32_t upto;
    uint8_t score;
};
#define NO_BOUND INT32_MAX

/* Chart 1. Temperature in tenths of a degree Celsius. */
static const struct step resp_steps[] = {{8, 3}, {11, 1}, {20, 0}, {24, 2}, {NO_BOUND, 3}};
static const struct step spo2_1_steps[] = {{91, 3}, {93, 2}, {95, 1}, {NO_BOUND, 0}};
static const struct step spo2_2_air_steps[] = {{83, 3}, {85, 2}, {87, 1}, {NO_BOUND, 0}};
static const struct step spo2_2_oxygen_steps[] = {{83, 3}, {85, 2}, {87, 1},      {92, 0},
                                                  {94, 1}, {96, 2}, {NO_BOUND, 3}};
static const struct step systolic_steps[] = {{90, 3}, {100, 2}, {110, 1}, {219, 0}, {NO_BOUND, 3}};
static const struct step pulse_steps[] = {{40, 3},  {50, 1},  {90, 0},
                                          {110, 1}, {130, 2}, {NO_BOUND, 3}};
static const struct step temp_steps[] = {{350, 3}, {360, 1}, {380, 0}, {390, 1}, {NO_BOUND, 2}};
static const struct step acvpu_steps[] = {{0, 0}, {NO_BOUND, 3}};

static struct rp_reading step_score(const struct step *steps, struct rp_reading value)
{
    struct rp_reading score = {value.known, 0};
    if (value.known) {
        while (value.value > steps->upto) {
            steps++;
        }
        score.value = steps->score;
    }
    return score;
}

/* On scale 2 a value of 93 % or more scores 0 on air and more on oxygen: unknown when that is. */
static struct rp_reading spo2_score(const struct rp_news2_input *input)
{
    if (input->scale == RP_NEWS2_SCALE_1) {
        return step_score(spo2_1_steps, input->spo2_pct);
    }
    if (input->on_oxygen == RP_TRUTH_UNKNOWN && input->spo2_pct.value > 92) {
        return (struct rp_reading){false, 0};
    }
    return step_score(input->on_oxygen == RP_TRUTH_YES ? spo2_2_oxygen_steps : spo2_2_air_steps,
                      input->spo2_pct);
}

static enum rp_news2_risk risk_of(uint8_t score, bool three_in_one)
{
    if (score >= 7) {
        return RP_NEWS2_HIGH;
    }
    if (score >= 5) {
        return RP_NEWS2_MEDIUM;
    }
    if (three_in_one) {
        return RP_NEWS2_LOW_MEDIUM;
    }
    return score > 0 ? RP_NEWS2_LOW : RP_NEWS2_ZERO;
}

static struct rp_news2_total total_of(const struct rp_reading parts[RP_NEWS2_PART_COUNT],
                                      bool with_spo2)
{
    struct rp_news2_total total = {.complete = true};
    for (int i = 0; i < RP_NEWS2_PART_COUNT; i++) {
        if (i == RP_NEWS2_SPO2 && !with_spo2) {
            continue;
        }
        total.complete = total.complete && parts[i].known;
        total.score = (uint8_t)(total.score + (parts[i].known ? parts[i].value : 0));
        total.three_in_one = total.three_in_one || (parts[i].known && parts[i].value == 3);
    }
    if (total.complete) {
        total.risk = risk_of(total.score, total.three_in_one);
    }
    return total;
}

const char *rp_news2_part_word(enum rp_news2_part part)
{
    static const char *const words[] = {
#define X(name, word) [RP_NEWS2_##name] = word,
        RP_NEWS2_PARTS(X)
#undef X
    };
    return (size_t)part < RP_NEWS2_PART_COUNT ? words[part] : "?";
}

int rp_news2_score(const struct rp_news2_input *input, struct rp_news2 *out_news)
{
    if ((input->age_y.known && input->age_y.value < 16) || input->pregnant == RP_TRUTH_YES) {
        return RP_E_UNSUPPORTED;
    }
    if (input->acvpu.known && (input->acvpu.value < 0 || input->acvpu.value > 4)) {
        return RP_E_INVALID;
    }
    struct rp_news2 n = {0};
    n.parts[RP_NEWS2_RESP] = step_score(resp_steps, input->resp_rpm);
    n.parts[RP_NEWS2_SPO2] = spo2_score(input);
    n.parts[RP_NEWS2_OXYGEN].known = input->on_oxygen != RP_TRUTH_UNKNOWN;
    n.parts[RP_NEWS2_OXYGEN].value = input->on_oxygen == RP_TRUTH_YES ? 2 : 0;
    n.parts[RP_NEWS2_SYSTOLIC] = step_score(systolic_steps, input->systolic_mmhg);
    n.parts[RP_NEWS2_PULSE] = step_score(pulse_steps, input->pulse_bpm);
    n.parts[RP_NEWS2_CONSCIOUS] = step_score(acvpu_steps, input->acvpu);
    n.parts[RP_NEWS2_TEMP] = step_score(temp_steps, input->temp_dc);
    n.with_spo2 = total_of(n.parts, true);
    n.without_spo2 = total_of(n.parts, false);
    *out_news = n;
    return 0;
}
