/* The forms of a handover: one row each. A new form is a renderer and a row here. */
#ifndef RP_HANDOVER_FORMS_H
#define RP_HANDOVER_FORMS_H

#include <stdbool.h>
#include <stddef.h>

#include "handover/model.h"
#include "handover/texts.h"

/* Writes the form, NUL-terminated, to buf; returns its length without NUL, or RP_E_TOO_LONG. Pure;
 * may need RP_FORM_LEN_MAX bytes of buf (the FHIR document; the others RP_SHEET_TEXT_LEN_MAX) and
 * 32 kB of stack. */
#define RP_FORM_LEN_MAX 2097152
typedef int rp_form_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts,
                           char *buf, size_t cap);

/* What becomes of the care facts in a form: allergies, drugs given, silences in reports. */
enum rp_form_care {
    RP_CARE_WHOLE,    /* all of them stand there */
    RP_CARE_COUNTED,  /* all allergies; drugs and silences at least by their number */
    RP_CARE_ELSEWHERE /* none, and the form says on which sheet they are */
};

struct rp_form {
    const char *word;    /* what a person types: "roll42" */
    const char *type;    /* media type */
    const char *suffix;  /* of a file that holds it: "txt" */
    const char *purpose; /* one line for --help */
    bool is_sheet;       /* for a person: printed, numbered and superseded; else data */
    enum rp_form_care care;
    rp_form_render *render;
};

/* By its word, or NULL. */
const struct rp_form *rp_form_find(const char *word);
/* All of them, for help texts and tests; NULL after the last. The first is the usual one. */
const struct rp_form *rp_form_at(size_t index);

/* Makes one form of a sheet. RP_E_TOO_LONG. */
int rp_form_make(const struct rp_form *form, const struct rp_sheet_input *input,
                 const struct rp_texts *texts, char *buf, size_t cap);

#endif
