/* Records for the tests of the wire room: random ones, and one worked example of each kind. The
 * bounds here are written out a second time, from src/wire/record.h. */
#ifndef SUPPORT_RECORD_H
#define SUPPORT_RECORD_H

#include "base/rng.h"
#include "wire/record.h"

/* Ridge Camp (station 7), Moraine Cache (4), Lake Camp (2), each with a generation. */
#define RIDGE   0x0e2a
#define MORAINE 0x0807
#define LAKE    0x052c

/* A valid record of that kind; each member is present with fill_pct in 100. */
void record_random(struct rp_rng *rng, enum rp_record_kind kind, unsigned fill_pct,
                   struct rp_record *out_record);
/* What must come out when `record` was encoded and then found in the log of `origin`: own
 * references filled in, ages, counters and flows as PROTOCOL.md rounds them. */
void record_expected(const struct rp_record *record, uint16_t origin, struct rp_record *out_record);

#define EXAMPLE_COUNT 23
struct example {
    const char *name;
    uint16_t origin;
    uint32_t seq;
    struct rp_record record;
};
extern const struct example examples[EXAMPLE_COUNT];

#endif
