/* The net file: secret and radio settings of a net, for its stations only (mode 0600). */
#ifndef RP_PORT_NETFILE_H
#define RP_PORT_NETFILE_H

#include "node/net.h"

/* Reads and checks a net file; refuses one that others may read. Problems name file, line, key,
 * bound and example. */
int rp_netfile_read(const char *path, struct rp_net *out_net, struct rp_problem *out_problem);
/* Writes a new net file, mode 0600; never overwrites one (RP_E_TAKEN). */
int rp_netfile_write(const char *path, const struct rp_net *net, struct rp_problem *out_problem);

#endif
