#include "base/problem.h"

#include <stdarg.h>
#include <stdio.h>

int rp_problem_set(struct rp_problem *out_problem, int code, const char *field, const char *format,
                   ...)
{
    if (out_problem == NULL) {
        return code;
    }
    out_problem->code = code;
    snprintf(out_problem->field, sizeof out_problem->field, "%s", field);
    va_list args;
    va_start(args, format);
    vsnprintf(out_problem->text, sizeof out_problem->text, format, args);
    va_end(args);
    return code;
}
