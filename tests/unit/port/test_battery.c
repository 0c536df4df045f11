/* The battery's charge, from files shaped as the kernel's power supply class shapes them
 * (Documentation/ABI/testing/sysfs-class-power). */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "port/files/battery.h"
#include "port_support.h"
#include "ridgepost/error.h"

static void put(const struct folder *folder, const char *supply, const char *file, const char *text)
{
    char path[200];
    snprintf(path, sizeof path, "%s/%s", folder->path, supply);
    mkdir(path, 0700);
    snprintf(path, sizeof path, "%s/%s/%s", folder->path, supply, file);
    file_write(path, text, 0600);
}

static void take_away(const struct folder *folder, const char *supply)
{
    static const char *const files[] = {"type", "scope", "capacity"};
    char path[200];
    for (size_t i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s/%s/%s", folder->path, supply, files[i]);
        unlink(path);
    }
    snprintf(path, sizeof path, "%s/%s", folder->path, supply);
    rmdir(path);
}

static void the_systems_battery_is_found(void **state)
{
    (void)state;
    struct folder folder;
    char path[200], expected[200];
    folder_make(&folder);
    assert_int_equal(rp_battery_find("/nowhere", path, sizeof path), RP_E_NOT_FOUND);
    put(&folder, "AC0", "type", "Mains\n");
    put(&folder, "hid-mouse", "type", "Battery\n");
    put(&folder, "hid-mouse", "scope", "Device\n");
    put(&folder, "hid-mouse", "capacity", "3\n");
    assert_int_equal(rp_battery_find(folder.path, path, sizeof path), RP_E_NOT_FOUND);
    put(&folder, "BAT1", "type", "Battery\n");
    put(&folder, "BAT1", "capacity", "44\n");
    put(&folder, "BAT0", "type", "Battery\n");
    put(&folder, "BAT0", "scope", "System\n");
    put(&folder, "BAT0", "capacity", "57\n");
    assert_int_equal(rp_battery_find(folder.path, path, sizeof path), RP_OK);
    snprintf(expected, sizeof expected, "%s/BAT0/capacity", folder.path);
    assert_string_equal(path, expected);
    assert_int_equal(rp_battery_read(path), 57);
    assert_int_equal(rp_battery_find(folder.path, path, strlen(expected)), RP_E_TOO_LONG);
    take_away(&folder, "AC0");
    take_away(&folder, "hid-mouse");
    take_away(&folder, "BAT0");
    take_away(&folder, "BAT1");
    folder_remove(&folder);
}

static void a_charge_is_a_number_of_percent(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int pct;
    } rows[] = {{"0\n", 0},
                {"100", 100},
                {"87.9 %\n", 87},
                {"42%", 42},
                {"101\n", RP_E_FORMAT},
                {"-1\n", RP_E_FORMAT},
                {"", RP_E_FORMAT},
                {"full\n", RP_E_FORMAT},
                {"12 V\n", RP_E_FORMAT},
                {"5.", 5},
                {"1e1", RP_E_FORMAT},
                {"99999999999999999999", RP_E_FORMAT}};
    struct folder folder;
    folder_make(&folder);
    const char *path = folder_file(&folder, "charge");
    assert_int_equal(rp_battery_read(path), RP_E_NOT_FOUND);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        file_write(path, rows[i].text, 0600);
        if (rp_battery_read(path) != rows[i].pct) {
            fail_msg("\"%s\" is %d", rows[i].text, rp_battery_read(path));
        }
    }
    assert_int_equal(rp_battery_read(folder.path), RP_E_IO); /* a folder is no file */
    folder_remove(&folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_systems_battery_is_found),
        cmocka_unit_test(a_charge_is_a_number_of_percent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
