/* What the settings of modems that speak in lines are asked by: the drivers read back with it what
 * they have set, and the probe finds out what another has. Private to src/radio. */
#ifndef RP_RADIO_QUESTIONS_H
#define RP_RADIO_QUESTIONS_H

#include "radio/plan/settings.h"
#include "ridgepost/view.h"

struct rp_question {
    const char *command; /* with its line end; NULL ends a list */
    /* Adds what an answer says; false: the line is no answer to this question. */
    bool (*take)(struct rp_view line, struct rp_settings_said *said);
};

/* REYAX AT command guides 56312E33 (2025) and 56322E33 (2022). That each setting is asked by a
 * question mark, and answered by its name and value, is from memory. */
extern const struct rp_question rp_at_questions[];
enum { RP_AT_QUESTIONS = 4 };

/* Microchip DS40001784G 2.5 (radio get). */
extern const struct rp_question rp_hextext_questions[];
enum { RP_HEXTEXT_QUESTIONS = 7 };

#endif
