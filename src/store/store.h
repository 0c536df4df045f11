/* The SQLite log of a station: append-only segments and records, and the few values that must
 * survive a power cut. The only room that sees SQLite. */
#ifndef RP_STORE_STORE_H
#define RP_STORE_STORE_H

#include "base/problem.h"
#include "node/station_store.h"

struct rp_store;

/* Opens or creates the database at path (WAL, synchronous=FULL, foreign keys on, file mode 0600),
 * migrates an older schema, refuses a newer one (RP_E_VERSION). RP_E_PERMISSION, RP_E_TAKEN
 * (another process holds it), RP_E_CORRUPT, RP_E_NO_SPACE, RP_E_IO; the problem names the path. */
int rp_store_open(const char *path, struct rp_store **out_store, struct rp_problem *out_problem);
void rp_store_close(struct rp_store *store);
/* The operations, with the store as their ctx. */
const struct rp_store_ops *rp_store_ops(void);
/* Full integrity check: SQLite's own, then that every record's segments are present and
 * consecutive. RP_E_CORRUPT with a sentence saying what. */
int rp_store_check(struct rp_store *store, struct rp_problem *out_problem);

#endif
