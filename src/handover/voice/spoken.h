/* What is said aloud. Both as rp_form_render. */
#ifndef RP_HANDOVER_VOICE_SPOKEN_H
#define RP_HANDOVER_VOICE_SPOKEN_H

#include "handover/model.h"

/* Handover to a crew, ATMIST-AMBO, at most RP_SPOKEN_WORDS_MAX words: 45 s at 150 words a minute
 * (clinical references 4.1). Allergies, the number of drugs and of silences are said always; what
 * does not fit is named: "On the sheet: more drugs, own medicines". */
#define RP_SPOKEN_WORDS_MAX 120
int rp_spoken_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                     size_t cap);
/* First call-out, ETHANE (clinical references 4.1): every letter; details while they fit into
 * RP_ETHANE_WORDS_MAX words, 22 s at 150 words a minute, and the others named. */
#define RP_ETHANE_WORDS_MAX 55
int rp_ethane_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                     size_t cap);

#endif
