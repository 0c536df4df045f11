/* One request to the daemon, as the options and words say. */
#ifndef RP_CLI_ASK_H
#define RP_CLI_ASK_H

#include <jansson.h>

#include "cli/options.h"
#include "ridgepost/view.h"

/* Sends the words; on_reply(ctx, line) gets the answer, and what it returns is returned. When there
 * was none, that is said on standard error and the exit status returned (sysexits.h). */
int rp_ask(const struct rp_options *options, int (*on_reply)(void *ctx, struct rp_view line),
           void *ctx);
/* The same for an answer as data: *out_reply is the caller's, NULL when the status is not EX_OK;
 * what is wrong was said then. */
int rp_ask_data(const struct rp_options *options, json_t **out_reply);
/* Says on standard error what is wrong by an answer's "error"; returns the exit status. */
int rp_ask_refused(const json_t *reply);
/* That exit status alone. */
int rp_ask_status(const json_t *reply);
/* The answer's object, or NULL after saying why not. */
json_t *rp_ask_read(struct rp_view line);
/* A text member of an object that the daemon sent, "" when it has none. */
const char *rp_ask_text(const json_t *object, const char *key);

#endif
