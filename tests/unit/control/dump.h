/* A record as one line of text: every field that says something, in the order of wire/record.h. */
#ifndef DUMP_H
#define DUMP_H

#include "wire/record.h"

#define DUMP_LEN 900

/* now_s: net times are written as "now-3600". */
void dump_record(const struct rp_record *record, uint32_t now_s, char out_text[DUMP_LEN]);

#endif
