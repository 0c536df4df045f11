/* The words a person types for the choices of a record: one table each, used for reading, for
 * showing and for the list in an error text. */
#ifndef RP_CONTROL_WORDS_H
#define RP_CONTROL_WORDS_H

#include <stddef.h>
#include <stdint.h>

struct rp_word {
    const char *word; /* NULL ends a table */
    uint8_t value;
};

extern const struct rp_word rp_words_condition[], rp_words_mode[], rp_words_acvpu[],
    rp_words_airway[], rp_words_site[], rp_words_label[], rp_words_sex[],
    rp_words_altitude_source[], rp_words_route[], rp_words_oxygen_action[],
    rp_words_oxygen_device[], rp_words_hold[], rp_words_next[], rp_words_why_not[],
    rp_words_urgency[], rp_words_mobility[], rp_words_surface[], rp_words_needs[],
    rp_words_answer[], rp_words_outcome[], rp_words_criteria[], rp_words_finding[],
    rp_words_phase_event[], rp_words_via[], rp_words_role[], rp_words_delivery[],
    rp_words_alarm[];

/* The value of a word, or -1. */
int rp_word_find(const struct rp_word *table, const char *word);
/* The first word of a value, or "". */
const char *rp_word_of(const struct rp_word *table, int value);
/* "at pressure" for RP_PHASE_AT_PRESSURE, "?" for what is none. The same for the others. */
const char *rp_phase_word(int phase);
const char *rp_condition_word(int condition);
const char *rp_mode_word(int mode);
const char *rp_acvpu_word(int acvpu);
const char *rp_airway_word(int airway);
const char *rp_evac_word(int evac_state);
const char *rp_answer_word(int answer);
/* "air, oxygen, chamber": as much as fits in cap bytes. */
void rp_words_list(const struct rp_word *table, char *buf, size_t cap);

#endif
