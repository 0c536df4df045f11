/* Between the two halves of the AT module: its line handling and its table of settings. */
#ifndef AIR_MODEM_AT_H
#define AIR_MODEM_AT_H

#include "air/modem/modem.h"

/* Error codes of the RYLR998/498 command guide (2025), "Error result codes". */
enum at_result {
    AT_ANSWERED = -1, /* the handler wrote the answer itself */
    AT_OK = 0,
    AT_ERR_NO_LINE_END = 1,
    AT_ERR_NO_AT = 2,
    AT_ERR_UNKNOWN = 4,
    AT_ERR_LENGTH = 5,
    AT_ERR_TX_TIME = 10,
    AT_ERR_CRC = 12,
    AT_ERR_TOO_LONG = 13,
    AT_ERR_BUSY = 17,
    AT_ERR_PREAMBLE = 18,
    AT_ERR_CYCLE = 20,
    /* The guide names no code for a value out of range; 4 is from memory of such modules. */
    AT_ERR_VALUE = AT_ERR_UNKNOWN,
};

/* One setting: "AT+NAME=..." calls set, "AT+NAME?" calls query. NULL: not possible. */
struct at_setting {
    const char *name;
    enum at_result (*set)(struct air_modem *modem, char *args, rp_time_us now_us);
    void (*query)(struct air_modem *modem);
};

const struct at_setting *at_setting_find(const char *name);
/* Values the module has when new. */
void at_factory(struct air_modem *modem);
/* Working values after power on: flash where it is kept, defaults elsewhere. */
void at_load(struct air_modem *modem);
/* Carries the working values over to what is sent and listened for. */
void at_apply(struct air_modem *modem);

#endif
