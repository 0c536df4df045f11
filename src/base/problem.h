/* What is wrong with an input, in words a person can act on: the field, the bound, an example. */
#ifndef RP_BASE_PROBLEM_H
#define RP_BASE_PROBLEM_H

#include "ridgepost/error.h"

struct rp_problem {
    int code;       /* an enum rp_error value; 0: no problem */
    char field[32]; /* the field at fault, in the words of the input; may be empty */
    char text[200]; /* one sentence with the bound and an example */
};

/* Fills *out_problem (may be NULL) and returns code, so that a caller can `return` it. */
int rp_problem_set(struct rp_problem *out_problem, int code, const char *field, const char *format,
                   ...) __attribute__((format(printf, 4, 5)));

#endif
