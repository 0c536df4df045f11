/* Where the other programs of this package are. */
#ifndef RP_PORT_FIND_H
#define RP_PORT_FIND_H

#include <stdbool.h>

#define RP_PROGRAM_PATH_MAX 4096 /* longest path with its NUL, bytes */

/* Draws pages and codes from the form "rows"; installed apart, for its libraries are large. */
#define RP_PAGE_PROGRAM "ridgepost-page"

/* Finds a program beside this one (`self`: argv[0], or NULL) or on PATH; false: it is nowhere. */
bool rp_program_find(const char *self, const char *name, char out_path[RP_PROGRAM_PATH_MAX]);

#endif
