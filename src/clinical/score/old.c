#include "clinical/score/old.h"

#include "ridgepost/error.h"

int rp_lls_old_read(const struct rp_lls_old *items, struct rp_lls_old_result *out_result)
{
    struct rp_lls_old_result r = {.complete = true};
    for (int i = 0; i < RP_LLS_OLD_ITEMS; i++) {
        const struct rp_reading *item = &items->items[i];
        if (!item->known) {
            r.complete = false;
            continue;
        }
        if (item->value < 0 || item->value > 3) {
            return RP_E_INVALID;
        }
        r.total = (uint8_t)(r.total + item->value);
    }
    if (r.complete) {
        r.grade = r.total >= 5 ? RP_LLS_OLD_MORE : r.total >= 3 ? RP_LLS_OLD_MILD : RP_LLS_OLD_NONE;
    }
    *out_result = r;
    return 0;
}

const char *rp_functional_word(int32_t score)
{
    static const char *const words[] = {
        "no symptoms",
        "symptoms, no change of activity",
        "stopped ascending or went down under own power",
        "had to be evacuated lower",
    };
    return score < 0 || score > RP_FUNCTIONAL_MAX ? "" : words[score];
}
