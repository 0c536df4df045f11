/* Words as they are said on the radio. Numbers: each digit by itself, whole hundreds and thousands
 * of heights and times of four digits (ICAO Annex 10 volume II, 5.2.1.4, from memory); letters: the
 * spelling alphabet of the same annex and of ITU Radio Regulations appendix 14 (from memory). */
#ifndef RP_HANDOVER_VOICE_VOICE_H
#define RP_HANDOVER_VOICE_VOICE_H

#include "handover/format.h"

struct rp_voice {
    struct rp_textbuf *out; /* borrowed */
    const struct rp_texts *texts;
};

/* Each puts a space before what it says, except at the start of the text. */
void rp_voice_word(struct rp_voice *voice, enum rp_text_id word);
void rp_voice_entered(struct rp_voice *voice, const char *text);
/* What stands before and after the hole of a text: "{} old". */
void rp_voice_before(struct rp_voice *voice, enum rp_text_id around);
void rp_voice_after(struct rp_voice *voice, enum rp_text_id around);
void rp_voice_stop(struct rp_voice *voice, const char *mark); /* "." right behind the last word */
/* 79: "seven niner"; tenths with decimals 1: 36.4 "three six decimal four". */
void rp_voice_number(struct rp_voice *voice, int64_t number, unsigned decimals);
/* The suspected illnesses of RP_LABEL_ bits, but for another one's name; false: there are none, and
 * nothing was said. */
bool rp_voice_illness(struct rp_voice *voice, uint8_t label);
/* 5480: "five four eight zero"; 5500: "five thousand five hundred". */
void rp_voice_height(struct rp_voice *voice, int64_t metres);
/* "one two five zero Zulu"; "day two four" before it when that is not today. */
void rp_voice_time(struct rp_voice *voice, uint32_t now_s, uint32_t time_s);
/* Letters and digits one by one: "Tango Alfa Romeo November"; letters with marks as those of
 * machine-readable passports (ICAO Doc 9303 part 3 section 6, from memory: A with two dots is AE);
 * other characters are left out. */
void rp_voice_spell(struct rp_voice *voice, const char *text);
/* Whether spelling leaves out no letter: false for a name in another script. */
bool rp_voice_spells(const char *text);
/* How many words stand between spaces. */
unsigned rp_voice_count(const char *text, size_t len);

#endif
