/* Every fixed text of the forms has a key; the texts themselves stand in lang/, one file for each
 * language, which are embedded at build.
 *
 * Words that belong to the records (conditions, phases, modes ...) have keys from the lists of
 * src/wire/record.h. Runs of keys that are picked by a number (rp_text_pick) keep the order of
 * their enums there. A key is also what the sheet's check covers, so that a translated sheet has
 * the same check. */
#ifndef RP_HANDOVER_TEXTS_H
#define RP_HANDOVER_TEXTS_H

#include <stddef.h>

#include "incident/assess/assess.h"
#include "wire/record.h"

enum rp_text_id {
#define X(key) RP_TX_##key,
#include "handover/lang/keys.def"
#undef X
#define X(name, number, word) RP_TX_COND_##name,
    RP_CONDITIONS(X)
#undef X
#define X(name, number, word) RP_TX_PHASE_##name,
        RP_PHASES(X)
#undef X
#define X(name, number, word) RP_TX_EVAC_##name,
            RP_EVAC_STATES(X)
#undef X
#define X(name, number, word) RP_TX_MODE_##name,
                RP_MODES(X)
#undef X
#define X(name, number, word) RP_TX_ACVPU_##name,
                    RP_ACVPU(X)
#undef X
#define X(name, number, word) RP_TX_ANS_##name,
                        RP_ANSWERS(X)
#undef X
#define X(name, number, word) RP_TX_AIRWAY_##name,
                            RP_AIRWAYS(X)
#undef X
#define X(name, sentence) RP_TX_CONTRA_##name,
                                RP_CONTRADICTIONS(X)
#undef X
#define X(name, word) RP_TX_CRIT_##name,
                                    RP_CRITERIA(X)
#undef X
                                        RP_TX_COUNT
};

/* Where a text takes a value: "{} ago". */
#define RP_TEXT_HOLE "{}"

/* One language. */
struct rp_texts {
    const char *words[RP_TX_COUNT]; /* UTF-8; U+00A0 where no line may end */
};
extern const struct rp_texts rp_texts_english;
/* All languages, English first; made from lang/ at build. */
extern const struct rp_texts *const rp_texts_all[];
extern const size_t rp_texts_count;

/* By its code, "fr"; NULL: there is no such language. */
const struct rp_texts *rp_texts_find(const char *code);
/* The stable key of a text, "MODE_AIR": what the check of a sheet covers in place of the words. */
const char *rp_text_key(enum rp_text_id id);
/* The text of choice `value` in the run first..last of ids; RP_TX_ODD outside of it. */
enum rp_text_id rp_text_pick(enum rp_text_id first, enum rp_text_id last, int value);

#endif
