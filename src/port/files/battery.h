/* The charge of the battery this computer runs from, as the kernel's power supply class tells it
 * (Documentation/ABI/testing/sysfs-class-power: type, scope, capacity), or any file with a number.
 */
#ifndef RP_PORT_BATTERY_H
#define RP_PORT_BATTERY_H

#include <stddef.h>

#define RP_BATTERY_CLASS "/sys/class/power_supply"

/* The capacity file of the first supply, by name, that is of type Battery and not of scope Device
 * (a mouse's own). Writes its path to out_path. RP_E_NOT_FOUND; RP_E_TOO_LONG. */
int rp_battery_find(const char *class_dir, char *out_path, size_t cap);
/* Percent, 0..100, rounded down: the file holds a number, perhaps with a fraction or a "%".
 * RP_E_NOT_FOUND, RP_E_IO when it cannot be read; RP_E_FORMAT when it holds anything else. */
int rp_battery_read(const char *path);

#endif
