#include "clinical/score/cold.h"

#include "ridgepost/error.h"

static int32_t stage_of_core(int32_t core_dc)
{
    static const int32_t below_dc[] = {350, 320, 280, 240};
    int32_t stage = 0;
    /* The first stage begins at 35 C itself, the others below their bound. */
    for (int i = 0; i < 4; i++) {
        stage += core_dc < below_dc[i] || (i == 0 && core_dc == below_dc[i]);
    }
    return stage;
}

static struct rp_reading stage_of_response(const struct rp_cold_input *input)
{
    static const int32_t stages[] = {1, 2, 2, 3, 3};
    if (input->signs_of_life == RP_TRUTH_NO) {
        return (struct rp_reading){true, 4};
    }
    if (!input->acvpu.known) {
        return (struct rp_reading){false, 0};
    }
    int32_t stage = stages[input->acvpu.value];
    /* Without a check for signs of life stage 3 and 4 cannot be told apart. */
    bool open = stage == 3 && input->signs_of_life == RP_TRUTH_UNKNOWN && input->acvpu.value == 4;
    return (struct rp_reading){!open, open ? 0 : stage};
}

int rp_cold_stage(const struct rp_cold_input *input, struct rp_cold *out_cold)
{
    if (input->acvpu.known && (input->acvpu.value < 0 || input->acvpu.value > 4)) {
        return RP_E_INVALID;
    }
    struct rp_cold cold = {.by_response = stage_of_response(input)};
    if (input->core_dc.known) {
        cold.by_core = (struct rp_reading){true, stage_of_core(input->core_dc.value)};
    }
    cold.falsified = input->brain_suspected && input->acvpu.known && input->acvpu.value > 0;
    cold.disagree = cold.by_core.known && cold.by_response.known &&
                    cold.by_core.value != cold.by_response.value;
    *out_cold = cold;
    return 0;
}
