/* From what SQLite and the system report to an rp_error and a sentence. Internal to src/store. */
#ifndef RP_STORE_FAULT_H
#define RP_STORE_FAULT_H

#include "base/problem.h"

struct rp_store;
struct sqlite3;

/* The code for a system error number. */
int rp_store_code_of_errno(int number);
/* The code for an (extended) SQLite result that is an error, with the system error number behind
 * it, 0 when none is known. */
int rp_store_code_of_sqlite(int result, int number);
/* Fills the problem (may be NULL) with the sentence for `code`: the path, what is wrong, what to
 * do; and the text of the system error when number is not 0. Returns code. */
int rp_store_explain(struct rp_problem *out_problem, const char *path, int code, int number);
/* The same for the error `result` that the connection just reported; the caller has set errno to
 * 0 before the call that failed. */
int rp_store_explain_sqlite(struct rp_problem *out_problem, const char *path, struct sqlite3 *db,
                            int result);
/* Keeps the problem as the last one of the store; returns its code. */
int rp_store_fail(struct rp_store *store, int result);

#endif
