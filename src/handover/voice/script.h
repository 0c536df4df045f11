/* A script of sentences to be said, of which those are left out that no longer fit a number of
 * words; what is left out is named in one sentence. Internal to the voice forms. */
#ifndef RP_HANDOVER_VOICE_SCRIPT_H
#define RP_HANDOVER_VOICE_SCRIPT_H

#include "handover/model.h"
#include "handover/voice/voice.h"

#define RP_SCRIPT_PARTS_MAX 48
#define RP_SCRIPT_TEXT_MAX  8000
#define RP_SCRIPT_MUST      0   /* rank of what is said in any case */
#define RP_SCRIPT_FIRST     1   /* rank of what is left out last */
#define RP_SCRIPT_LAST      20  /* rank of what is left out first */
#define RP_SCRIPT_NEVER     253 /* rank of what is only named */
#define RP_SCRIPT_INSTEAD   254 /* rank of what is said when the part before it is left out */
#define RP_SCRIPT_POINTER   255 /* rank of the sentence that names what was left out */

#define RP_SCRIPT_SAME_LINE '+' /* in place of a letter: goes on in the line of the last part */

struct rp_script_part {
    char letter;
    bool read_back;
    uint8_t rank; /* the lower, the sooner it is taken */
    bool taken;
    size_t start, len;
    unsigned words;
    enum rp_text_id topic; /* what names it when it is left out; RP_TX_NONE: nothing need */
};

struct rp_script {
    const struct rp_sheet_facts *facts;
    const struct rp_episode *ep;
    struct rp_voice voice;
    struct rp_textbuf text; /* of all parts, one behind the other */
    char pool[RP_SCRIPT_TEXT_MAX];
    char pointer[600]; /* the sentence that names what was left out */
    bool elsewhere;    /* the foot says where the care facts are */
    size_t count;
    struct rp_script_part parts[RP_SCRIPT_PARTS_MAX];
};

void rp_script_begin(struct rp_script *script, const struct rp_sheet_facts *facts,
                     const struct rp_texts *texts);
/* Starts a sentence; what the voice says up to the next belongs to it. letter: in the margin, or
 * RP_SCRIPT_SAME_LINE. */
void rp_script_part(struct rp_script *script, char letter, uint8_t rank, bool read_back);
/* What the part begun last is called where it is left out. */
void rp_script_topic(struct rp_script *script, enum rp_text_id topic);
/* Names what this script does not say at all. */
void rp_script_left(struct rp_script *script, enum rp_text_id topic);
/* Takes the parts by rank while they fit into `budget` words, together with the sentence that names
 * the topics of the others; those of RP_SCRIPT_MUST always.
 * Writes title, the said lines, and how many words they are. RP_E_TOO_LONG. */
int rp_script_end(struct rp_script *script, enum rp_text_id title, unsigned budget, char *buf,
                  size_t cap);

#endif
