/* A few of every kind of write, each of which can be asked whether it is in the store. */
#ifndef RP_TEST_STORE_WORKLOAD_H
#define RP_TEST_STORE_WORKLOAD_H

#include "fixture.h"

#define WORKLOAD_COUNT 12

/* Does write i; returns what the store said. Later ones need the earlier ones. */
int workload_do(struct rp_store *store, int i);
/* Whether all, or nothing, of write i is in the store; fails the test on anything between. */
bool workload_done(struct rp_store *store, int i);
/* Removes the files of the closed log. */
void workload_remove_log(const struct fixture *f);

#endif
