/* The serial port /dev/ttyUSB0 of the tests: a pseudo-terminal behind the shim, with a sysfs and a
 * /dev/serial of its own. Included after rp_test.h. */
#ifndef SERIAL_RIG_H
#define SERIAL_RIG_H

#include "port/line.h"
#include "port_support.h"

struct rig {
    struct folder folder;
    char sys[96], serial[96], by_id[96], slave[64];
    int master;
    int own; /* the slave, held open by us to look at its settings */
    struct rp_line line;
    struct rp_problem problem;
};

/* cmocka fixtures; *state is the rig. */
int rig_set_up(void **state);
int rig_tear_down(void **state);

#endif
