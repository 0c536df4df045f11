/* Between the two halves of the hex-text module: its states and its table of settings. */
#ifndef AIR_MODEM_HEX_H
#define AIR_MODEM_HEX_H

#include "air/modem/modem.h"

/* Values the module has after every reset. */
void hex_defaults(struct air_modem *modem);
/* `radio set NAME VALUE` and `radio get NAME`: the line after "radio set " or "radio get ". Each
 * writes its answer. */
void hex_radio_set(struct air_modem *modem, char *args);
void hex_radio_get(struct air_modem *modem, const char *name);

#endif
