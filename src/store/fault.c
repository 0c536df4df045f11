#include "store/fault.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include <sqlite3.h>

#include "store/statements.h"

/* SQLite: "Result and Error Codes", https://www.sqlite.org/rescode.html. */
static const struct {
    int result, code;
} results[] = {
    {SQLITE_CONSTRAINT_PRIMARYKEY, RP_E_DUPLICATE},
    {SQLITE_CONSTRAINT_TRIGGER, RP_E_DUPLICATE},
    {SQLITE_IOERR_NOMEM, RP_E_MEMORY},
    {SQLITE_IOERR_CORRUPTFS, RP_E_CORRUPT},
    {SQLITE_READONLY, RP_E_PERMISSION},
    {SQLITE_PERM, RP_E_PERMISSION},
    {SQLITE_AUTH, RP_E_PERMISSION},
    {SQLITE_BUSY, RP_E_BUSY},
    {SQLITE_LOCKED, RP_E_BUSY},
    {SQLITE_NOMEM, RP_E_MEMORY},
    {SQLITE_CORRUPT, RP_E_CORRUPT},
    {SQLITE_NOTADB, RP_E_CORRUPT},
    {SQLITE_FULL, RP_E_NO_SPACE},
    {SQLITE_CONSTRAINT, RP_E_INVALID},
    {SQLITE_TOOBIG, RP_E_TOO_LONG},
};

int rp_store_code_of_errno(int number)
{
    switch (number) {
    case EACCES:
    case EPERM:
    case EROFS:
        return RP_E_PERMISSION;
    case ENOENT:
    case ENOTDIR:
        return RP_E_NOT_FOUND;
    case ENOSPC:
    case EDQUOT:
        return RP_E_NO_SPACE;
    case ENOMEM:
        return RP_E_MEMORY;
    default:
        return RP_E_IO;
    }
}

int rp_store_code_of_sqlite(int result, int number)
{
    for (size_t i = 0; i < sizeof results / sizeof results[0]; i++) {
        if (results[i].result == result || results[i].result == (result & 0xff)) {
            return results[i].code;
        }
    }
    /* These two say little; the system says why. Behind an I/O error the number may be left over
     * from an earlier call, so only the likely ones count. */
    int code = number == 0 ? RP_E_IO : rp_store_code_of_errno(number);
    if ((result & 0xff) == SQLITE_CANTOPEN) {
        return code;
    }
    return code == RP_E_NO_SPACE || code == RP_E_PERMISSION ? code : RP_E_IO;
}

/* What a person reads after the path: what is wrong, and an example of what to do. */
static const char *sentence_of(int code)
{
    switch (code) {
    case RP_E_TAKEN:
        return "is in use by another program: stop that one first, or give another file";
    case RP_E_BUSY:
        return "is held by another program just now: close it, for example the sqlite3 tool";
    case RP_E_PERMISSION:
        return "cannot be written: let the station's user write the file and its folder, for "
               "example with chown";
    case RP_E_NOT_FOUND:
        return "is in a folder that does not exist: make it first, for example with mkdir -p";
    case RP_E_NO_SPACE:
        return "is on a full disk: free some space, for example delete old files there";
    case RP_E_CORRUPT:
        return "is damaged or not a log: move it away, keep it, and start a fresh one";
    case RP_E_MEMORY:
        return "cannot be used: out of memory; stop another program, for example";
    case RP_E_DUPLICATE:
        return "holds this already";
    case RP_E_INVALID:
        return "does not take a value outside its bounds";
    default:
        return "cannot be read or written: check the disk or card, for example with dmesg";
    }
}

static int explain(struct rp_problem *out_problem, const char *path, int code, const char *detail)
{
    /* Long paths lose their head: the file name at the end tells more. */
    enum { path_len_max = 70 };
    size_t len = strlen(path);
    const char *shown = len > path_len_max ? path + len - path_len_max : path;
    return rp_problem_set(out_problem, code, "path", "%s%s %s%s%.40s%s", shown == path ? "" : "...",
                          shown, sentence_of(code), detail == NULL ? "" : " (",
                          detail == NULL ? "" : detail, detail == NULL ? "" : ")");
}

int rp_store_explain(struct rp_problem *out_problem, const char *path, int code, int number)
{
    char detail[64];
    if (number == 0 || strerror_r(number, detail, sizeof detail) != 0) {
        return explain(out_problem, path, code, NULL);
    }
    return explain(out_problem, path, code, detail);
}

int rp_store_explain_sqlite(struct rp_problem *out_problem, const char *path, struct sqlite3 *db,
                            int result)
{
    /* SQLite keeps the system's error number of most calls but not of a COMMIT; errno was set to
     * 0 before the call. A number says nothing about an error that is not the system's. */
    int number = errno;
    int kind = result & 0xff;
    if (kind != SQLITE_IOERR && kind != SQLITE_CANTOPEN) {
        number = 0;
    } else if (number == 0 && db != NULL) {
        number = sqlite3_system_errno(db);
    }
    const char *detail = number == 0 ? sqlite3_errstr(result) : NULL;
    int code = rp_store_code_of_sqlite(result, number);
    return detail != NULL ? explain(out_problem, path, code, detail)
                          : rp_store_explain(out_problem, path, code, number);
}

int rp_store_fail(struct rp_store *store, int result)
{
    return rp_store_explain_sqlite(&store->last, store->path, store->db, result);
}
