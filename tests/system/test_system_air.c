/* The air emulator as a process: dialogues through its pseudo-terminals, the control socket, a
 * port that is pulled out, and the end. Every wait is for a byte or an event and has a limit. */
#include "rp_test.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define WAIT_MS 10000 /* far above anything the test waits for */

static const char *program;
static char folder[] = "/tmp/ridgepost-air-test-XXXXXX";
static pid_t emulator;
static int emulator_out;

static const char *in_folder(const char *name)
{
    static char paths[4][256];
    static unsigned next;
    char *path = paths[next++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

/* Starts the program with its output in a pipe. */
static pid_t start(char *const *argv, int *out_fd)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        dup2(ends[1], STDOUT_FILENO);
        close(ends[0]);
        close(ends[1]);
        execv(argv[0], argv);
        _exit(127);
    }
    close(ends[1]);
    *out_fd = ends[0];
    return pid;
}

/* Reads until `text` has come; the test fails when it does not. Answers what came. */
static const char *read_until(int fd, const char *text)
{
    static char got[8192];
    size_t len = 0;
    got[0] = '\0';
    while (strstr(got, text) == NULL) {
        struct pollfd slot = {.fd = fd, .events = POLLIN};
        ssize_t count = -1;
        if (len < sizeof got - 1 && poll(&slot, 1, WAIT_MS) == 1) {
            count = read(fd, got + len, sizeof got - 1 - len);
        }
        if (count <= 0) {
            fail_msg("waited for \"%s\", got \"%s\"", text, got);
        }
        len += (size_t)count;
        got[len] = '\0';
    }
    return got;
}

static void write_text(int fd, const char *text)
{
    assert_int_equal(write(fd, text, strlen(text)), strlen(text));
}

static int open_port(const char *name)
{
    int fd = open(in_folder(name), O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(fd >= 0);
    return fd;
}

/* Asks again until the modem answers: it may still be booting, and is deaf then. */
static void wake(int fd, const char *question, const char *answer)
{
    char got[4096] = "";
    size_t len = 0;
    for (int i = 0; i < 50 && strstr(got, answer) == NULL; i++) {
        struct pollfd slot = {.fd = fd, .events = POLLIN};
        write_text(fd, question);
        while (strstr(got, answer) == NULL && len < sizeof got - 1 && poll(&slot, 1, 200) == 1) {
            ssize_t count = read(fd, got + len, sizeof got - 1 - len);
            assert_true(count > 0);
            len += (size_t)count;
            got[len] = '\0';
        }
    }
    assert_non_null(strstr(got, answer));
}

/* `ridgepost-air --tell`, with one word of command and its arguments in one string. */
static void tell(const char *command, const char *answer)
{
    char socket_path[256], words[256];
    snprintf(socket_path, sizeof socket_path, "%s", in_folder("control"));
    snprintf(words, sizeof words, "%s", command);
    char *argv[] = {(char *)(uintptr_t)program, "--tell", socket_path, words, NULL};
    int fd, status;
    pid_t pid = start(argv, &fd);
    const char *got = read_until(fd, answer);
    close(fd);
    assert_true(waitpid(pid, &status, 0) == pid);
    assert_int_equal(WEXITSTATUS(status), strncmp(got, "error", 5) == 0 ? 1 : 0);
}

static int set_up(void **state)
{
    (void)state;
    if (mkdtemp(folder) == NULL) {
        return -1;
    }
    FILE *config = fopen(in_folder("config"), "w");
    if (config == NULL) {
        return -1;
    }
    fprintf(config,
            "modem ridge at %s/ridge\n"
            "modem lake at %s/lake\n"
            "modem cache hextext %s/cache\n"
            "modem tarn hextext %s/tarn\n"
            "link ridge lake 0\nlink cache tarn 0\n"
            "latency 1 3\nsplit on\nseed 4\ncontrol %s/control\n",
            folder, folder, folder, folder, folder);
    fclose(config);
    char config_path[256], log_path[256];
    snprintf(config_path, sizeof config_path, "%s", in_folder("config"));
    snprintf(log_path, sizeof log_path, "%s", in_folder("log"));
    char *argv[] = {
        (char *)(uintptr_t)program, config_path, "--log", log_path, "--seed", "9", NULL};
    emulator = start(argv, &emulator_out);
    read_until(emulator_out, "ready, seed 9\n");
    return 0;
}

static void at_modules_talk(void **state)
{
    (void)state;
    int ridge = open_port("ridge"), lake = open_port("lake");
    wake(ridge, "AT\r\n", "+OK\r\n");
    wake(lake, "AT\r\n", "+OK\r\n");
    tell("restart ridge", "ok\n");
    read_until(ridge, "+READY\r\n");
    write_text(ridge, "AT+PARAMETER=7,9,1,12\r\n");
    read_until(ridge, "+OK\r\n");
    write_text(lake, "AT+PARAMETER=7,9,1,12\r\n");
    read_until(lake, "+OK\r\n");
    write_text(ridge, "AT+ADDRESS=7\r\n");
    read_until(ridge, "+OK\r\n");
    write_text(ridge, "AT+SEND=0,11,hello, lake\r\n");
    read_until(ridge, "+OK\r\n");
    read_until(lake, "+RCV=7,11,hello, lake,-95,6\r\n");
    close(ridge);
    close(lake);
}

static void hextext_modules_talk(void **state)
{
    (void)state;
    int cache = open_port("cache"), tarn = open_port("tarn");
    int both[2] = {cache, tarn};
    for (int i = 0; i < 2; i++) {
        wake(both[i], "sys get ver\r\n", "00:00:00\r\n");
        write_text(both[i], "mac pause\r\n");
        read_until(both[i], "4294967245\r\n");
        write_text(both[i], "radio set sf sf7\r\n");
        read_until(both[i], "ok\r\n");
    }
    write_text(tarn, "radio rx 0\r\n");
    read_until(tarn, "ok\r\n");
    write_text(cache, "radio tx 00FFc0db0D0A\r\n");
    read_until(cache, "ok\r\nradio_tx_ok\r\n");
    read_until(tarn, "radio_rx  00FFC0DB0D0A\r\n");
    close(cache);
    close(tarn);
}

static void a_pulled_port_hangs_up_and_comes_back(void **state)
{
    (void)state;
    int ridge = open_port("ridge");
    tell("unplug ridge", "ok\n");
    struct pollfd slot = {.fd = ridge, .events = POLLIN};
    assert_int_equal(poll(&slot, 1, WAIT_MS), 1);
    assert_true((slot.revents & POLLHUP) != 0);
    assert_int_equal(access(in_folder("ridge"), F_OK), -1);
    tell("unplug ridge", "error: ");
    close(ridge);
    tell("plug ridge", "ok\n");
    ridge = open_port("ridge");
    wake(ridge, "AT+ADDRESS?\r\n", "+ADDRESS=7\r\n"); /* flash */
    close(ridge);
}

static void what_a_closed_port_was_sent_is_gone(void **state)
{
    (void)state;
    int lake = open_port("lake");
    write_text(lake, "AT\r\n");
    read_until(lake, "+OK\r\n");
    close(lake);
    tell("rubbish lake 500", "ok\n");
    lake = open_port("lake");
    write_text(lake, "AT\r\n");
    assert_string_equal(read_until(lake, "+OK\r\n"), "+OK\r\n");
    close(lake);
}

static void counters_are_printed_on_a_signal(void **state)
{
    (void)state;
    kill(emulator, SIGUSR1);
    read_until(emulator_out, "tarn family=hextext frames=0 airtime_us=0 ok=1 lost=0 ");
}

/* SF7, 500 kHz, 4/5, preamble 12, 11 + 8 bytes: The Things Stack gives 51.456 ms for 19 bytes at
 * 125 kHz and preamble 8; 4 symbols of 1.024 ms more, and a quarter of it all: 13.888 ms. */
static void the_end_is_clean_and_counted(void **state)
{
    (void)state;
    int status;
    kill(emulator, SIGTERM);
    read_until(emulator_out, "ridge family=at frames=1 airtime_us=13888 ok=0");
    assert_true(waitpid(emulator, &status, 0) == emulator);
    emulator = 0;
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    static const char *const gone[] = {"ridge", "lake", "cache", "tarn", "control"};
    for (int i = 0; i < 5; i++) {
        assert_int_equal(access(in_folder(gone[i]), F_OK), -1);
    }
    int log = open(in_folder("log"), O_RDONLY);
    assert_true(log >= 0);
    const char *text = read_until(log, "summary tarn ");
    assert_non_null(strstr(text, " tx begin ridge len=11 airtime_us=13888 "));
    assert_non_null(strstr(text, " rx lake ok from=ridge len=11\n"));
    assert_non_null(strstr(text, " rx tarn ok from=cache len=6\n"));
    close(log);
}

/* The whole file or pipe, without the lines of summary that a signal asked for. */
static char *read_all(int fd)
{
    static char texts[2][200000];
    static unsigned next;
    char *text = texts[next++ % 2];
    size_t len = 0;
    ssize_t count;
    while ((count = read(fd, text + len, sizeof texts[0] - 1 - len)) > 0) {
        len += (size_t)count;
    }
    text[len] = '\0';
    for (char *found; (found = strstr(text, " summary ")) != NULL;) {
        while (found > text && found[-1] != '\n') {
            found--;
        }
        char *end = strchr(found, '\n') + 1;
        memmove(found, end, strlen(end) + 1);
    }
    close(fd);
    return text;
}

static void the_log_is_made_again_by_playing_it(void **state)
{
    (void)state;
    char config_path[256], log_path[256];
    snprintf(config_path, sizeof config_path, "%s", in_folder("config"));
    snprintf(log_path, sizeof log_path, "%s", in_folder("log"));
    for (int seed = 9; seed <= 10; seed++) {
        char number[8];
        snprintf(number, sizeof number, "%d", seed);
        char *argv[] = {
            (char *)(uintptr_t)program, config_path, "--replay", log_path, "--seed", number, NULL};
        int fd, status;
        pid_t pid = start(argv, &fd);
        char *again = read_all(fd);
        char *log = read_all(open(log_path, O_RDONLY));
        assert_true(strlen(log) > 2000);
        assert_true(waitpid(pid, &status, 0) == pid);
        assert_int_equal(WEXITSTATUS(status), 0);
        /* With another seed the serial delays are others. */
        assert_int_equal(strcmp(again, log) == 0, seed == 9);
    }
}

static int tear_down(void **state)
{
    (void)state;
    if (emulator > 0) { /* a test failed before the end */
        kill(emulator, SIGKILL);
        waitpid(emulator, NULL, 0);
    }
    close(emulator_out);
    unlink(in_folder("config"));
    unlink(in_folder("log"));
    return rmdir(folder);
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: %s PATH_OF_RIDGEPOST_AIR\n", argv[0]);
        return 2;
    }
    program = argv[1];
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(at_modules_talk),
        cmocka_unit_test(hextext_modules_talk),
        cmocka_unit_test(a_pulled_port_hangs_up_and_comes_back),
        cmocka_unit_test(what_a_closed_port_was_sent_is_gone),
        cmocka_unit_test(counters_are_printed_on_a_signal),
        cmocka_unit_test(the_end_is_clean_and_counted),
        cmocka_unit_test(the_log_is_made_again_by_playing_it),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
