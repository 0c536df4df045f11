/* The serial back-end on the genuine libserialport, see modem_shim.h. Settings are judged by what
 * tcgetattr(3) says of the terminal, not by what the back-end believes. */
#include "rp_test.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "modem_shim.h"
#include "port_support.h"
#include "serial_rig.h"

static void open_ok(struct rig *rig, uint32_t baud, const struct rp_line_options *options)
{
    int rc = rp_line_open(&rig->line, MODEM_NAME, baud, options, &rig->problem);
    if (rc != 0) {
        fail_msg("%s", rig->problem.text);
    }
}

static struct termios settings_of(int fd)
{
    struct termios t;
    assert_int_equal(tcgetattr(fd, &t), 0);
    return t;
}

static void assert_raw_8n1(const struct termios *t, speed_t speed)
{
    assert_int_equal(cfgetispeed(t), speed);
    assert_int_equal(cfgetospeed(t), speed);
    assert_int_equal(t->c_cflag & CSIZE, CS8);
    assert_int_equal(t->c_cflag & (PARENB | CSTOPB | CRTSCTS | HUPCL), 0);
    assert_int_equal(t->c_cflag & (CLOCAL | CREAD), CLOCAL | CREAD);
    assert_int_equal(t->c_iflag & (IXON | IXOFF | IXANY | ICRNL | INLCR | IGNCR | ISTRIP | INPCK |
                                   BRKINT | PARMRK | IGNBRK),
                     0);
    assert_int_equal(t->c_oflag & OPOST, 0);
    assert_int_equal(t->c_lflag & (ECHO | ICANON | ISIG | IEXTEN), 0);
}

static void every_setting_is_made(void **state)
{
    struct rig *rig = *state;
    static const struct {
        uint32_t baud;
        speed_t speed;
    } rates[] = {
        {1200, B1200}, {9600, B9600}, {57600, B57600}, {115200, B115200}, {921600, B921600}};
    for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
        open_ok(rig, rates[i].baud, NULL);
        struct termios t = settings_of(rig->own);
        assert_raw_8n1(&t, rates[i].speed);
        rp_line_close(&rig->line);
    }
    assert_true(modem_shim.opened >= 5);
}

/* What another program left behind must not stay. */
static void settings_of_another_program_are_undone(void **state)
{
    struct rig *rig = *state;
    struct termios t = settings_of(rig->own);
    t.c_cflag |= CRTSCTS | HUPCL | CSTOPB;
    t.c_cflag &= ~(tcflag_t)CLOCAL;
    t.c_iflag |= IXON | IXOFF | IXANY | ISTRIP | INLCR | INPCK | PARMRK;
    t.c_lflag |= ECHO | ICANON | ISIG;
    t.c_oflag |= OPOST;
    cfsetspeed(&t, B2400);
    assert_int_equal(tcsetattr(rig->own, TCSANOW, &t), 0);
    assert_int_equal(settings_of(rig->own).c_cflag & CRTSCTS, CRTSCTS);
    open_ok(rig, 57600, NULL);
    t = settings_of(rig->own);
    assert_raw_8n1(&t, B57600);
}

static void all_byte_values_pass_both_ways(void **state)
{
    struct rig *rig = *state;
    uint8_t all[256], got[256];
    for (int i = 0; i < 256; i++) {
        all[i] = (uint8_t)i;
    }
    open_ok(rig, 57600, NULL);
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_BUSY);
    assert_int_equal(rp_line_write(&rig->line, all, sizeof all), 256);
    read_exactly(rig->master, got, 256);
    assert_memory_equal(got, all, 256);
    memset(got, 0, sizeof got);
    assert_int_equal(write(rig->master, all, sizeof all), 256);
    for (int done = 0; done < 256;) {
        assert_true(becomes_ready(rp_line_fd(&rig->line), POLLIN));
        int rc = rp_line_read(&rig->line, got + done, sizeof got - (size_t)done);
        assert_true(rc > 0);
        done += rc;
    }
    assert_memory_equal(got, all, 256);
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_BUSY);
    assert_int_equal(rp_line_ready(&rig->line), 0);
    assert_true(modem_shim.mode_calls > 0);
}

static void a_link_is_followed_at_every_open(void **state)
{
    struct rig *rig = *state;
    char text[256], wanted[256];
    assert_int_equal(rp_line_open(&rig->line, rig->by_id, 9600, NULL, &rig->problem), 0);
    rp_line_describe(&rig->line, text, sizeof text);
    snprintf(wanted, sizeof wanted, "%s (/dev/ttyUSB0), 9600 baud", rig->by_id);
    assert_string_equal(text, wanted);
    rp_line_close(&rig->line);
    rp_line_describe(&rig->line, text, sizeof text);
    assert_string_equal(text, "closed");
    /* Unplugged: udev removes the link. */
    assert_int_equal(unlink(rig->by_id), 0);
    assert_int_equal(rp_line_open(&rig->line, rig->by_id, 9600, NULL, &rig->problem),
                     RP_E_NOT_FOUND);
    assert_non_null(strstr(rig->problem.text, "plugged in"));
    assert_int_equal(symlink(MODEM_NAME, rig->by_id), 0);
    assert_int_equal(rp_line_open(&rig->line, rig->by_id, 9600, NULL, &rig->problem), 0);
}

static void a_second_open_finds_it_taken_and_changes_nothing(void **state)
{
    struct rig *rig = *state;
    open_ok(rig, 57600, NULL);
    struct rp_line second = {0};
    int before = descriptor_count();
    assert_int_equal(rp_line_open(&second, MODEM_NAME, 9600, NULL, &rig->problem), RP_E_TAKEN);
    assert_int_equal(descriptor_count(), before);
    assert_non_null(strstr(rig->problem.text, MODEM_NAME));
    assert_non_null(strstr(rig->problem.text, "in use by another program"));
    struct termios t = settings_of(rig->own);
    assert_raw_8n1(&t, B57600);
    rp_line_close(&rig->line);
    assert_int_equal(rp_line_open(&second, MODEM_NAME, 9600, NULL, &rig->problem), 0);
    rp_line_close(&second);
}

static void a_foreign_flock_or_exclusive_use_is_respected(void **state)
{
    struct rig *rig = *state;
    assert_int_equal(flock(rig->own, LOCK_EX | LOCK_NB), 0);
    assert_int_equal(rp_line_open(&rig->line, MODEM_NAME, 9600, NULL, &rig->problem), RP_E_TAKEN);
    assert_int_equal(flock(rig->own, LOCK_UN), 0);
    assert_int_equal(ioctl(rig->own, TIOCEXCL), 0);
    assert_int_equal(rp_line_open(&rig->line, MODEM_NAME, 9600, NULL, &rig->problem), RP_E_TAKEN);
    assert_int_equal(ioctl(rig->own, TIOCNXCL), 0);
    open_ok(rig, 9600, NULL);
    int exclusive = 0;
    assert_int_equal(ioctl(rig->own, TIOCGEXCL, &exclusive), 0);
    assert_int_equal(exclusive, 1);
    assert_int_equal(flock(rig->own, LOCK_EX | LOCK_NB), -1);
    rp_line_close(&rig->line);
    assert_int_equal(ioctl(rig->own, TIOCGEXCL, &exclusive), 0);
    assert_int_equal(exclusive, 0);
}

static void children_do_not_inherit_it_and_none_leaks(void **state)
{
    struct rig *rig = *state;
    int before = descriptor_count();
    open_ok(rig, 9600, NULL);
    assert_int_equal(fcntl(rp_line_fd(&rig->line), F_GETFD) & FD_CLOEXEC, FD_CLOEXEC);
    assert_int_equal(fcntl(rig->line.lock_fd, F_GETFD) & FD_CLOEXEC, FD_CLOEXEC);
    assert_int_equal(fcntl(rp_line_fd(&rig->line), F_GETFL) & O_NONBLOCK, O_NONBLOCK);
    rp_line_close(&rig->line);
    rp_line_close(&rig->line);
    assert_int_equal(descriptor_count(), before);
}

static void control_lines_follow_the_options(void **state)
{
    struct rig *rig = *state;
    static const struct {
        struct rp_line_options options;
        int before, after;
    } cases[] = {
        {{RP_LINE_ON, RP_LINE_OFF}, TIOCM_RTS, TIOCM_DTR},
        {{RP_LINE_OFF, RP_LINE_ON}, TIOCM_DTR, TIOCM_RTS},
        {{RP_LINE_OFF, RP_LINE_OFF}, TIOCM_DTR | TIOCM_RTS, 0},
        {{RP_LINE_KEEP, RP_LINE_KEEP}, TIOCM_DTR, TIOCM_DTR},
        {{RP_LINE_KEEP, RP_LINE_KEEP}, 0, 0},
        {{RP_LINE_KEEP, RP_LINE_ON}, 0, TIOCM_RTS},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        modem_shim.lines = cases[i].before;
        open_ok(rig, 9600, &cases[i].options);
        assert_int_equal(modem_shim.lines, cases[i].after);
        rp_line_close(&rig->line);
        assert_int_equal(modem_shim.lines, cases[i].after);
    }
}

static void a_hang_up_is_seen_by_reading_and_survived(void **state)
{
    struct rig *rig = *state;
    uint8_t got[16];
    open_ok(rig, 9600, NULL);
    close(rig->own);
    rig->own = -1;
    close(rig->master); /* hangs the slave up, with the codes of an adapter pulled out */
    rig->master = -1;
    assert_true(becomes_ready(rp_line_fd(&rig->line), POLLIN));
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_GONE);
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_GONE);
    assert_int_equal(rp_line_write(&rig->line, got, 1), RP_E_GONE);
    assert_int_equal(rp_line_ready(&rig->line), RP_E_GONE);
    assert_string_equal(rp_line_fault(&rig->line)->text, "/dev/ttyUSB0: unplugged or hung up");
    modem_shim.device = NULL;
    rp_line_close(&rig->line);
    assert_int_equal(rp_line_open(&rig->line, MODEM_NAME, 9600, NULL, &rig->problem),
                     RP_E_NOT_FOUND);
    rig->master = pty_pair(rig->slave, sizeof rig->slave);
    modem_shim.device = rig->slave;
    open_ok(rig, 9600, NULL);
    assert_int_equal(rp_line_fault(&rig->line)->code, 0);
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"x", 1), 1);
}

static void a_hang_up_is_seen_by_writing(void **state)
{
    struct rig *rig = *state;
    open_ok(rig, 9600, NULL);
    close(rig->own);
    rig->own = -1;
    close(rig->master);
    rig->master = -1;
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"x", 1), RP_E_GONE);
}

static void input_errors_are_told_apart(void **state)
{
    struct rig *rig = *state;
    uint8_t got[4];
    open_ok(rig, 9600, NULL);
    assert_int_equal(write(rig->master, "ab", 2), 2);
    assert_true(becomes_ready(rp_line_fd(&rig->line), POLLIN));
    modem_shim.read_error = EAGAIN;
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_BUSY);
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), 2);
    assert_int_equal(write(rig->master, "cd", 2), 2);
    assert_true(becomes_ready(rp_line_fd(&rig->line), POLLIN));
    modem_shim.read_error = EIO;
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_GONE);
    assert_int_equal(rp_line_fault(&rig->line)->code, RP_E_GONE);
}

static void output_errors_are_told_apart(void **state)
{
    struct rig *rig = *state;
    open_ok(rig, 9600, NULL);
    modem_shim.write_error = EAGAIN;
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"abcdef", 6), RP_E_BUSY);
    modem_shim.write_error = EINTR;
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"abcdef", 6), RP_E_BUSY);
    modem_shim.write_cap = 4;
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"abcdef", 6), 4);
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"ef", 2), 2);
    char got[8] = "";
    read_exactly(rig->master, got, 6);
    assert_string_equal(got, "abcdef");
    modem_shim.write_error = EIO;
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"x", 1), RP_E_GONE);
}

static void a_full_queue_is_busy(void **state)
{
    struct rig *rig = *state;
    static const uint8_t block[1024];
    open_ok(rig, 9600, NULL);
    int rc = 1;
    for (int i = 0; i < 1000 && rc > 0; i++) {
        rc = rp_line_write(&rig->line, block, sizeof block);
    }
    assert_int_equal(rc, RP_E_BUSY);
    assert_int_equal(rp_line_ready(&rig->line), 0);
}

/* select(2), which the library's blocking calls use, ends at descriptor 1023. */
static void a_descriptor_above_1023_works(void **state)
{
    struct rig *rig = *state;
    struct rlimit limit;
    static int taken[1100];
    size_t count = 0;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &limit), 0);
    if (limit.rlim_max < 1200) {
        skip(); /* this computer does not allow so many */
    }
    limit.rlim_cur = limit.rlim_max < 4096 ? limit.rlim_max : 4096;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &limit), 0);
    do {
        taken[count] = dup(rig->own);
        assert_true(taken[count] >= 0);
    } while (taken[count++] < 1023);
    open_ok(rig, 9600, NULL);
    assert_true(rp_line_fd(&rig->line) > 1023);
    assert_int_equal(rp_line_write(&rig->line, (const uint8_t *)"ab", 2), 2);
    char got[4] = "";
    read_exactly(rig->master, got, 2);
    assert_string_equal(got, "ab");
    assert_int_equal(write(rig->master, "cd", 2), 2);
    assert_true(becomes_ready(rp_line_fd(&rig->line), POLLIN));
    assert_int_equal(rp_line_read(&rig->line, (uint8_t *)got, sizeof got), 2);
    rp_line_close(&rig->line);
    while (count > 0) {
        close(taken[--count]);
    }
}

/* Once the port is gone, nothing is read or written any more: no call can spin. */
static void a_lost_port_costs_no_more_calls(void **state)
{
    struct rig *rig = *state;
    uint8_t got[16];
    open_ok(rig, 9600, NULL);
    close(rig->own);
    close(rig->master);
    rig->own = rig->master = -1;
    assert_true(becomes_ready(rp_line_fd(&rig->line), POLLIN));
    assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_GONE);
    int calls = modem_shim.mode_calls;
    for (int i = 0; i < 1000; i++) {
        assert_int_equal(rp_line_read(&rig->line, got, sizeof got), RP_E_GONE);
        assert_int_equal(rp_line_write(&rig->line, got, 1), RP_E_GONE);
    }
    assert_int_equal(modem_shim.mode_calls, calls);
}

static void opening_fails_with_a_sentence(void **state)
{
    struct rig *rig = *state;
    static const struct {
        int error, code;
        const char *words;
    } cases[] = {
        {EACCES, RP_E_PERMISSION, "must be in the group dialout"},
        {EBUSY, RP_E_TAKEN, "in use by another program"},
        {ENXIO, RP_E_GONE, "unplugged"},
        {EIO, RP_E_GONE, "unplugged"},
        {ENOENT, RP_E_NOT_FOUND, "is the radio plugged in"},
        {EMFILE, RP_E_IO, "Too many open files"},
    };
    int before = descriptor_count();
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        modem_shim.open_error = cases[i].error;
        assert_int_equal(rp_line_open(&rig->line, MODEM_NAME, 9600, NULL, &rig->problem),
                         cases[i].code);
        assert_non_null(strstr(rig->problem.text, cases[i].words));
        assert_non_null(strstr(rig->problem.text, MODEM_NAME));
        assert_int_equal(rp_line_fd(&rig->line), -1);
    }
    modem_shim.open_error = 0;
    assert_int_equal(descriptor_count(), before);
}

static void settings_that_do_not_take_are_refused(void **state)
{
    struct rig *rig = *state;
    int before = descriptor_count();
    modem_shim.settings_fail = 1;
    assert_int_equal(rp_line_open(&rig->line, MODEM_NAME, 9600, NULL, &rig->problem), RP_E_INVALID);
    assert_non_null(strstr(rig->problem.text, "refuses"));
    assert_int_equal(descriptor_count(), before);
    modem_shim.settings_fail = 0;
    assert_int_equal(rp_line_open(&rig->line, MODEM_NAME, 12345, NULL, &rig->problem),
                     RP_E_INVALID);
    assert_non_null(strstr(rig->problem.text, "57600"));
    assert_int_equal(rp_line_open(&rig->line, "/dev/null", 9600, NULL, &rig->problem),
                     RP_E_INVALID);
    assert_string_equal(rig->problem.text, "/dev/null is not a serial port");
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, rig_set_up, rig_tear_down)
    const struct CMUnitTest tests[] = {
        TEST(every_setting_is_made),
        TEST(settings_of_another_program_are_undone),
        TEST(all_byte_values_pass_both_ways),
        TEST(a_link_is_followed_at_every_open),
        TEST(a_second_open_finds_it_taken_and_changes_nothing),
        TEST(a_foreign_flock_or_exclusive_use_is_respected),
        TEST(children_do_not_inherit_it_and_none_leaks),
        TEST(control_lines_follow_the_options),
        TEST(a_hang_up_is_seen_by_reading_and_survived),
        TEST(a_hang_up_is_seen_by_writing),
        TEST(input_errors_are_told_apart),
        TEST(output_errors_are_told_apart),
        TEST(a_full_queue_is_busy),
        TEST(a_descriptor_above_1023_works),
        TEST(a_lost_port_costs_no_more_calls),
        TEST(opening_fails_with_a_sentence),
        TEST(settings_that_do_not_take_are_refused),
    };
    return cmocka_run_group_tests_name("port_serial", tests, NULL, NULL);
}
