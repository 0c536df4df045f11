#include "handover/texts.h"

#include <string.h>

static const char *const keys[RP_TX_COUNT] = {
#define X(key) [RP_TX_##key] = #key,
#include "handover/lang/keys.def"
#undef X
#define X(name, number, word) [RP_TX_COND_##name] = "COND_" #name,
    RP_CONDITIONS(X)
#undef X
#define X(name, number, word) [RP_TX_PHASE_##name] = "PHASE_" #name,
        RP_PHASES(X)
#undef X
#define X(name, number, word) [RP_TX_EVAC_##name] = "EVAC_" #name,
            RP_EVAC_STATES(X)
#undef X
#define X(name, number, word) [RP_TX_MODE_##name] = "MODE_" #name,
                RP_MODES(X)
#undef X
#define X(name, number, word) [RP_TX_ACVPU_##name] = "ACVPU_" #name,
                    RP_ACVPU(X)
#undef X
#define X(name, number, word) [RP_TX_ANS_##name] = "ANS_" #name,
                        RP_ANSWERS(X)
#undef X
#define X(name, number, word) [RP_TX_AIRWAY_##name] = "AIRWAY_" #name,
                            RP_AIRWAYS(X)
#undef X
#define X(name, sentence) [RP_TX_CONTRA_##name] = "CONTRA_" #name,
                                RP_CONTRADICTIONS(X)
#undef X
#define X(name, word) [RP_TX_CRIT_##name] = "CRIT_" #name,
                                    RP_CRITERIA(X)
#undef X
};

const struct rp_texts *rp_texts_find(const char *code)
{
    for (size_t i = 0; i < rp_texts_count; i++) {
        if (strcmp(rp_texts_all[i]->words[RP_TX_LANGUAGE_CODE], code) == 0) {
            return rp_texts_all[i];
        }
    }
    return NULL;
}

const char *rp_text_key(enum rp_text_id id)
{
    return keys[id < RP_TX_COUNT ? id : RP_TX_ODD];
}

enum rp_text_id rp_text_pick(enum rp_text_id first, enum rp_text_id last, int value)
{
    if (value < 0 || value > (int)last - (int)first) {
        return RP_TX_ODD;
    }
    return (enum rp_text_id)((int)first + value);
}
