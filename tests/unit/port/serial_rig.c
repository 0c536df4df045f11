#include "rp_test.h"

#include "serial_rig.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "modem_shim.h"

/* The shape of a USB serial adapter in sysfs; libserialport refuses paths with "virtual" in them
 * and wants "usb". */
static void make_sysfs(struct rig *rig)
{
    static const char *const folders[] = {
        "sys",
        "sys/usb1",
        "sys/usb1/1-1",
        "sys/usb1/1-1/1-1:1.0",
        "sys/usb1/1-1/1-1:1.0/ttyUSB0",
        "sys/usb1/1-1/1-1:1.0/ttyUSB0/tty",
        "sys/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0",
        "serial",
        "serial/by-id",
        "serial/by-path",
    };
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++) {
        assert_int_equal(mkdir(folder_file(&rig->folder, folders[i]), 0700), 0);
    }
    assert_int_equal(
        symlink("../../../ttyUSB0", folder_file(&rig->folder, "sys/usb1/1-1/1-1:1.0/ttyUSB0/tty/"
                                                              "ttyUSB0/device")),
        0);
    assert_int_equal(
        symlink("usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0", folder_file(&rig->folder, "sys/ttyUSB0")),
        0);
    static const char *const attributes[][2] = {
        {"busnum", "1\n"},       {"devnum", "4\n"},     {"idVendor", "10c4\n"},
        {"idProduct", "ea60\n"}, {"product", "UART\n"}, {"manufacturer", "Nobody\n"},
        {"serial", "0007\n"},
    };
    for (size_t i = 0; i < sizeof attributes / sizeof attributes[0]; i++) {
        char name[64];
        snprintf(name, sizeof name, "sys/usb1/1-1/%s", attributes[i][0]);
        file_write(folder_file(&rig->folder, name), attributes[i][1], 0600);
    }
    strcpy(rig->sys, folder_file(&rig->folder, "sys"));
    strcpy(rig->serial, folder_file(&rig->folder, "serial"));
    strcpy(rig->by_id, folder_file(&rig->folder, "serial/by-id/usb-Nobody_UART_0007-if00-port0"));
    assert_int_equal(symlink(MODEM_NAME, rig->by_id), 0);
}

int rig_set_up(void **state)
{
    static struct rig rig;
    memset(&rig, 0, sizeof rig);
    modem_shim = (struct modem_shim){0};
    folder_make(&rig.folder);
    make_sysfs(&rig);
    rig.master = pty_pair(rig.slave, sizeof rig.slave);
    rig.own = open(rig.slave, O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(rig.own >= 0);
    modem_shim.sys = rig.sys;
    modem_shim.serial = rig.serial;
    modem_shim.device = rig.slave;
    *state = &rig;
    return 0;
}

int rig_tear_down(void **state)
{
    struct rig *rig = *state;
    rp_line_close(&rig->line);
    modem_shim = (struct modem_shim){0};
    if (rig->master >= 0) {
        close(rig->master);
    }
    if (rig->own >= 0) {
        close(rig->own);
    }
    folder_remove(&rig->folder);
    return 0;
}
