#include "handover/texts.h"

const struct rp_texts rp_texts_english = {
    .words = {
#define RP_TEXT_WORD(key, english) [RP_TX_##key] = english,
        RP_SHEET_WORDS(RP_TEXT_WORD) RP_FORM_WORDS(RP_TEXT_WORD)
#undef RP_TEXT_WORD
#define X(name, number, word) [RP_TX_COND_##name] = word,
            RP_CONDITIONS(X)
#undef X
#define X(name, number, word) [RP_TX_PHASE_##name] = word,
                RP_PHASES(X)
#undef X
#define X(name, number, word) [RP_TX_EVAC_##name] = word,
                    RP_EVAC_STATES(X)
#undef X
#define X(name, number, word) [RP_TX_MODE_##name] = word,
                        RP_MODES(X)
#undef X
#define X(name, number, word) [RP_TX_ACVPU_##name] = word,
                            RP_ACVPU(X)
#undef X
#define X(name, number, word) [RP_TX_ANS_##name] = word,
                                RP_ANSWERS(X)
#undef X
#define X(name, number, word) [RP_TX_AIRWAY_##name] = word,
                                    RP_AIRWAYS(X)
#undef X
#define X(name, sentence) [RP_TX_CONTRA_##name] = sentence,
                                        RP_CONTRADICTIONS(X)
#undef X
#define X(name, word) [RP_TX_CRIT_##name] = word,
                                            RP_CRITERIA(X)
#undef X
    }};

static const char *const keys[RP_TX_COUNT] = {
#define RP_TEXT_KEY(key, english) [RP_TX_##key] = #key,
    RP_SHEET_WORDS(RP_TEXT_KEY) RP_FORM_WORDS(RP_TEXT_KEY)
#undef RP_TEXT_KEY
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
