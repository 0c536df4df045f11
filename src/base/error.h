/* Names and sentences of the error list. */
#ifndef RP_BASE_ERROR_H
#define RP_BASE_ERROR_H

#include "ridgepost/error.h"

const char *rp_error_name(int code);     /* "RP_E_INVALID"; "RP_OK" for 0 or more; "?" unknown */
const char *rp_error_sentence(int code); /* a sentence for a person, without full stop */

#endif
