/* A script of sentences to be said, of which those are left out that no longer fit a number of
 * words. Internal to the voice forms. */
#ifndef RP_HANDOVER_VOICE_SCRIPT_H
#define RP_HANDOVER_VOICE_SCRIPT_H

#include "handover/model.h"
#include "handover/voice/voice.h"

#define RP_SCRIPT_PARTS_MAX 48
#define RP_SCRIPT_TEXT_MAX  8000
#define RP_SCRIPT_MUST      0   /* rank of what is said in any case */
#define RP_SCRIPT_FIRST     1   /* rank whose parts must not be left out without a word */
#define RP_SCRIPT_IF_CUT    255 /* rank of that word */

struct rp_script_part {
    char letter;
    bool read_back;
    uint8_t rank; /* the lower, the sooner it is taken */
    bool taken;
    size_t start, len;
    unsigned words;
};

struct rp_script {
    const struct rp_sheet_facts *facts;
    const struct rp_episode *ep;
    struct rp_voice voice;
    struct rp_textbuf text; /* of all parts, one behind the other */
    char pool[RP_SCRIPT_TEXT_MAX];
    bool elsewhere; /* the foot says where the care facts are */
    bool cut;       /* something of RP_SCRIPT_FIRST was not even made a part */
    size_t count;
    struct rp_script_part parts[RP_SCRIPT_PARTS_MAX];
};

void rp_script_begin(struct rp_script *script, const struct rp_sheet_facts *facts,
                     const struct rp_texts *texts);
/* Starts a sentence; what the voice says up to the next belongs to it. letter: in the margin. */
void rp_script_part(struct rp_script *script, char letter, uint8_t rank, bool read_back);
/* Takes the parts by rank while they fit into `budget` words; those of RP_SCRIPT_MUST always.
 * Writes title, the said lines, and how many words they are. RP_E_TOO_LONG. */
int rp_script_end(struct rp_script *script, enum rp_text_id title, unsigned budget, char *buf,
                  size_t cap);

#endif
