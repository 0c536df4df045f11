#ifndef AIR_HELP_H
#define AIR_HELP_H

/* What --help prints: the configuration, then the commands. */
extern const char *const air_help, *const air_help_commands;

#endif
