#ifndef SIM_HELP_H
#define SIM_HELP_H

extern const char sim_help_text[];

#endif
