#ifndef AIR_HELP_H
#define AIR_HELP_H

extern const char *const air_help; /* what --help prints */

#endif
