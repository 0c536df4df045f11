#include "base/error.h"

#include <stddef.h>

static const struct {
    int code;
    const char *name, *sentence;
} errors[] = {
#define RP_ERROR_ROW(name, code, sentence) {name, #name, sentence},
    RP_ERRORS(RP_ERROR_ROW)
#undef RP_ERROR_ROW
};

const char *rp_error_name(int code)
{
    if (code >= 0) {
        return "RP_OK";
    }
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        if (errors[i].code == code) {
            return errors[i].name;
        }
    }
    return "?";
}

const char *rp_error_sentence(int code)
{
    if (code >= 0) {
        return "no error";
    }
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        if (errors[i].code == code) {
            return errors[i].sentence;
        }
    }
    return "unknown error";
}
