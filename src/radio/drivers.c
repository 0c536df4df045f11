/* The driver table. A new family is one source with one row, and one line here. */
#include <string.h>

#include "radio/driver.h"

static const struct rp_radio_driver *const table[] = {
    &rp_radio_kiss,     &rp_radio_kiss_crc, &rp_radio_kiss_ack,
    &rp_radio_at,       &rp_radio_at_old,   &rp_radio_hextext,
    &rp_radio_uart_e22, &rp_radio_uart_e32, &rp_radio_uart_e220,
};

enum { ROWS = sizeof table / sizeof table[0] };

const struct rp_radio_driver *rp_radio_driver_find(const char *name)
{
    for (size_t i = 0; i < ROWS; i++) {
        if (strcmp(table[i]->name, name) == 0) {
            return table[i];
        }
    }
    return NULL;
}

const char *rp_radio_driver_name(size_t index)
{
    return index < ROWS ? table[index]->name : NULL;
}

const char *rp_radio_driver_summary(size_t index)
{
    return index < ROWS ? table[index]->summary : NULL;
}
