/* The list of ports, through the genuine libserialport (see modem_shim.h), and who holds one: the
 * holders are real processes with real locks, seen in the real /proc. */
#include "rp_test.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "modem_shim.h"
#include "port/ports/ports.h"
#include "serial_rig.h"

struct listed {
    struct rp_port_info ports[8];
    size_t count;
};

static void keep(void *ctx, const struct rp_port_info *port)
{
    struct listed *listed = ctx;
    assert_true(listed->count < 8);
    listed->ports[listed->count++] = *port;
}

static struct rp_port_info only_port(void)
{
    struct listed listed = {0};
    struct rp_problem problem = {0};
    assert_int_equal(rp_ports_list(keep, &listed, &problem), 0);
    assert_int_equal(listed.count, 1);
    return listed.ports[0];
}

static void an_adapter_is_listed_with_its_numbers_and_its_stable_name(void **state)
{
    (void)state;
    int before = descriptor_count();
    struct rp_port_info port = only_port();
    assert_string_equal(port.device, MODEM_NAME);
    assert_string_equal(port.stable, "/dev/serial/by-id/usb-Nobody_UART_0007-if00-port0");
    assert_true(port.has_usb);
    assert_int_equal(port.vendor, 0x10c4);
    assert_int_equal(port.product, 0xea60);
    assert_string_equal(port.serial, "0007");
    assert_string_equal(port.maker, "Nobody");
    assert_string_equal(port.model, "UART");
    assert_true(port.allowed);
    assert_false(rp_port_shares_name(&port));
    assert_int_equal(descriptor_count(), before);
}

/* Opening would raise DTR and RTS, which resets some boards. */
static void listing_opens_no_adapter(void **state)
{
    (void)state;
    only_port();
    assert_int_equal(modem_shim.opened, 0);
    assert_int_equal(modem_shim.lines_set, 0);
}

/* Adapters without a serial number share one name by id: the last one plugged in has it. */
static void an_adapter_without_serial_number_is_named_by_its_socket(void **state)
{
    struct rig *rig = *state;
    assert_int_equal(unlink(folder_file(&rig->folder, "sys/usb1/1-1/serial")), 0);
    const char *link =
        folder_file(&rig->folder, "serial/by-path/pci-0000:00:01.2-usb-0:1:1.0-port0");
    assert_int_equal(symlink(MODEM_NAME, link), 0);
    struct rp_port_info port = only_port();
    assert_string_equal(port.serial, "");
    assert_true(rp_port_shares_name(&port));
    assert_string_equal(port.stable, "/dev/serial/by-path/pci-0000:00:01.2-usb-0:1:1.0-port0");
    assert_int_equal(unlink(link), 0);
    port = only_port(); /* better than none */
    assert_string_equal(port.stable, "/dev/serial/by-id/usb-Nobody_UART_0007-if00-port0");
    assert_int_equal(unlink(rig->by_id), 0);
    port = only_port();
    assert_string_equal(port.stable, "");
}

static void no_adapter_is_an_empty_list(void **state)
{
    struct rig *rig = *state;
    struct listed listed = {0};
    struct rp_problem problem = {0};
    assert_int_equal(unlink(folder_file(&rig->folder, "sys/ttyUSB0")), 0);
    assert_int_equal(rp_ports_list(keep, &listed, &problem), 0);
    assert_int_equal(listed.count, 0);
}

/* Another process that opens the port, takes the lock or not, and stays. */
static pid_t hold(const struct rig *rig, bool lock)
{
    int told[2];
    char ready = 0;
    assert_int_equal(pipe(told), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        int fd = open(rig->slave, O_RDWR | O_NOCTTY);
        prctl(PR_SET_NAME, "holder");
        prctl(PR_SET_PDEATHSIG, SIGKILL); /* also when a check fails */
        if (fd < 0 || (lock && flock(fd, LOCK_EX | LOCK_NB) != 0)) {
            _exit(1);
        }
        if (write(told[1], "x", 1) != 1) {
            _exit(1);
        }
        for (;;) {
            pause();
        }
    }
    close(told[1]);
    assert_int_equal(read(told[0], &ready, 1), 1);
    close(told[0]);
    return child;
}

static void let_go(pid_t child)
{
    kill(child, SIGKILL);
    assert_int_equal(waitpid(child, NULL, 0), child);
}

static void nobody_but_us_is_no_holder(void **state)
{
    struct rig *rig = *state;
    assert_int_equal(flock(rig->own, LOCK_EX | LOCK_NB), 0);
    struct rp_port_info port = only_port();
    assert_int_equal(port.holder.pid, 0);
    assert_false(port.holder.locked);
}

static void a_holder_is_named(void **state)
{
    struct rig *rig = *state;
    for (int lock = 0; lock < 2; lock++) {
        pid_t child = hold(rig, lock == 1);
        struct rp_port_info port = only_port();
        assert_int_equal(port.holder.pid, child);
        assert_int_equal(port.holder.locked, lock == 1);
        assert_string_equal(port.holder.name, "holder");
        let_go(child);
        port = only_port();
        assert_int_equal(port.holder.pid, 0);
    }
}

static void a_taken_port_names_its_holder(void **state)
{
    struct rig *rig = *state;
    char wanted[64];
    pid_t child = hold(rig, true);
    snprintf(wanted, sizeof wanted, "close that one first (holder, process %d)", (int)child);
    assert_int_equal(rp_line_open(&rig->line, rig->by_id, 9600, NULL, &rig->problem), RP_E_TAKEN);
    assert_non_null(strstr(rig->problem.text, wanted));
    let_go(child);
    assert_int_equal(rp_line_open(&rig->line, rig->by_id, 9600, NULL, &rig->problem), 0);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, rig_set_up, rig_tear_down)
    const struct CMUnitTest tests[] = {
        TEST(an_adapter_is_listed_with_its_numbers_and_its_stable_name),
        TEST(listing_opens_no_adapter),
        TEST(an_adapter_without_serial_number_is_named_by_its_socket),
        TEST(no_adapter_is_an_empty_list),
        TEST(nobody_but_us_is_no_holder),
        TEST(a_holder_is_named),
        TEST(a_taken_port_names_its_holder),
    };
    return cmocka_run_group_tests_name("port_ports", tests, NULL, NULL);
}
