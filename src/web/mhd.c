#include "web/mhd.h"

#include <dlfcn.h>
#include <stdbool.h>
#include <string.h>

#include "ridgepost/error.h"

/* The name of the interface that microhttpd.h describes, as the linker would record it. */
#define LIBRARY "libmicrohttpd.so.12"

static bool find(void *library, const char *name, void *out_function, size_t size)
{
    void *found = dlsym(library, name);
    /* POSIX says that this works; ISO C has no cast for it. */
    memcpy(out_function, &found, size);
    return found != NULL;
}

int rp_mhd_load(struct rp_mhd *mhd, struct rp_problem *out_problem)
{
    bool whole = true;
    mhd->library = dlopen(LIBRARY, RTLD_NOW | RTLD_LOCAL);
    if (mhd->library == NULL) {
        return rp_problem_set(out_problem, RP_E_UNSUPPORTED, "listen",
                              "the pages need " LIBRARY ", which is not installed (example: "
                              "apt-get install libmicrohttpd12)");
    }
#define X(name) whole = find(mhd->library, "MHD_" #name, &mhd->name, sizeof mhd->name) && whole;
    RP_MHD_CALLS(X)
#undef X
    if (!whole) {
        rp_mhd_unload(mhd);
        return rp_problem_set(out_problem, RP_E_UNSUPPORTED, "listen",
                              LIBRARY " lacks a function the pages need: install Debian's "
                                      "(example: apt-get install --reinstall libmicrohttpd12)");
    }
    return RP_OK;
}

void rp_mhd_unload(struct rp_mhd *mhd)
{
    if (mhd->library != NULL) {
        dlclose(mhd->library);
        mhd->library = NULL;
    }
}
