/* The tables, and how an older database is brought up to them. Internal to src/store. */
#ifndef RP_STORE_SCHEMA_H
#define RP_STORE_SCHEMA_H

#include <stdint.h>

#include "base/problem.h"

struct sqlite3;

/* A history of schemas: step i brings version i to version i + 1 (0: an empty file). Steps that
 * have shipped are never changed; a new version is a new step. */
struct rp_store_schema {
    int32_t application_id; /* tells our files from those of other programs */
    const char *const *steps;
    int version; /* how many steps: the newest version */
};

/* The schema of the log. */
extern const struct rp_store_schema rp_store_log_schema;

/* Changes nothing; returns the version found, at most schema->version. RP_E_VERSION when it is
 * newer, RP_E_FORMAT when it is another program's database, RP_E_CORRUPT, RP_E_BUSY, RP_E_IO. */
int rp_store_schema_version(struct sqlite3 *db, const char *path,
                            const struct rp_store_schema *schema, struct rp_problem *out_problem);
/* Takes the steps from version `from` on, each in a transaction of its own: after a failure the
 * database is whole, at the version of the last step that passed. */
int rp_store_schema_migrate(struct sqlite3 *db, const char *path,
                            const struct rp_store_schema *schema, int from,
                            struct rp_problem *out_problem);

#endif
