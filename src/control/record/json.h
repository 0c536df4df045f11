/* A record as JSON, every field under its name in wire/record.h. */
#ifndef RP_CONTROL_RECORD_JSON_H
#define RP_CONTROL_RECORD_JSON_H

#include <jansson.h>

#include "wire/record.h"

/* What the record says, an object to be owned by the caller, NULL when memory is out. Choices are
 * their numbers of the protocol; what was not said or asked is left out, except where "not asked",
 * "none known" and "no result" differ: those are words. */
json_t *rp_record_json(const struct rp_record *record);

#endif
