/* The SQLite log of a station: append-only segments and records, and the few values that must
 * survive a power cut. The only room that sees SQLite. A store is used by one thread.
 *
 * Files: PATH, PATH-wal and PATH-shm (SQLite's) and PATH-lock (held while the store is open, left
 * in place). Other programs may read the log meanwhile, for example `sqlite3 -readonly PATH`. */
#ifndef RP_STORE_STORE_H
#define RP_STORE_STORE_H

#include "base/problem.h"
#include "node/station_store.h"

struct rp_store;

#define RP_STORE_PATH_LEN_MAX  500  /* bytes without NUL; SQLite's own bound is 512 */
#define RP_STORE_KEY_LEN_MAX   64   /* of a named value, bytes without NUL; at least 1 */
#define RP_STORE_VALUE_LEN_MAX 4096 /* of its value, bytes */

/* Opens or creates the database at path (WAL, synchronous=FULL, foreign keys on, file mode 0600),
 * migrates an older schema, refuses a newer one (RP_E_VERSION). An empty file is a new log.
 * RP_E_NOT_FOUND (no such folder), RP_E_PERMISSION, RP_E_TAKEN (another process holds it),
 * RP_E_CORRUPT (also: no database at all), RP_E_FORMAT (another program's database),
 * RP_E_INVALID (a folder, an empty path), RP_E_TOO_LONG, RP_E_UNSUPPORTED (file system without
 * WAL), RP_E_NO_SPACE, RP_E_MEMORY, RP_E_IO; the problem names the path. */
int rp_store_open(const char *path, struct rp_store **out_store, struct rp_problem *out_problem);
/* NULL: nothing. Not during a visit. */
void rp_store_close(struct rp_store *store);
/* The operations, with the store as their ctx. Beside the errors said in station_store.h each may
 * return RP_E_INVALID (a key, length, flag or time out of its bounds), RP_E_TOO_LONG (a key, a
 * value, or a buffer too small), RP_E_STATE (a write, or the same visit again, from within a
 * visit), RP_E_NO_SPACE, RP_E_CORRUPT, RP_E_BUSY, RP_E_PERMISSION, RP_E_MEMORY, RP_E_IO. A write
 * that fails leaves nothing behind, and the store can be used on: it works again when there is
 * space again. Marks of delivery need a time above 0. */
const struct rp_store_ops *rp_store_ops(void);
/* What the last operation that met a fault of disk or memory would tell a person: the path, what
 * is wrong, what to do. Code 0 when there was none since opening. */
void rp_store_last_problem(const struct rp_store *store, struct rp_problem *out_problem);
/* Full integrity check: SQLite's own, then that every record's segments are present and
 * consecutive. RP_E_CORRUPT with a sentence saying what. Reads the whole log. */
int rp_store_check(struct rp_store *store, struct rp_problem *out_problem);

#endif
