/* The handover as a page or a code, to a file, a printer or the terminal; and printed again when
 * something important changed. */
#ifndef RP_CLI_SHEET_H
#define RP_CLI_SHEET_H

#include "cli/options.h"

/* Whether the words ask for more than the daemon's text. */
bool rp_cli_sheet_wanted(const struct rp_options *options);
/* Returns the exit status. --watch returns only when it cannot go on. */
int rp_cli_sheet(const struct rp_options *options);

/* `ridgepost paper NAME`: a blank form, without a daemon. Returns the exit status. */
int rp_cli_paper(const struct rp_options *options);

#endif
