/* The pages' files, embedded at build (src/web/embed.cmake). */
#ifndef RP_WEB_ASSETS_H
#define RP_WEB_ASSETS_H

#include "ridgepost/view.h"

struct rp_web_asset {
    const char *name; /* "bedside.html" */
    const char *type; /* media type */
    const char *etag; /* quoted: of the content's SHA-256 */
    struct rp_view bytes;
};

/* NULL when there is no such file. */
const struct rp_web_asset *rp_web_asset_find(const char *name);
/* All of them, for tests: NULL after the last. */
const struct rp_web_asset *rp_web_asset_at(size_t index);

#endif
