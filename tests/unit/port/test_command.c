/* The alarm command and the page program: told by environment or fed, no shell, one at a time,
 * killed with its children. */
#include "rp_test.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "port/clock.h"
#include "port/loop.h"
#include "port/process/command.h"

#define SECOND_US ((rp_time_us)1000000)

struct bench {
    char dir[32], script[64], out[64];
    struct rp_loop *loop;
    struct rp_command *command;
    enum rp_command_end end;
};

static void on_end(void *ctx, enum rp_command_end end)
{
    struct bench *bench = ctx;
    bench->end = end;
    rp_loop_stop(bench->loop);
}

static void on_deadline(void *ctx)
{
    struct bench *bench = ctx;
    rp_command_tick(bench->command);
    rp_loop_set_deadline(bench->loop, rp_command_wake(bench->command));
}

static struct bench *bench_new(const char *body, rp_time_us timeout_us)
{
    static struct bench bench;
    memset(&bench, 0, sizeof bench);
    strcpy(bench.dir, "/tmp/rp_command_XXXXXX");
    assert_non_null(mkdtemp(bench.dir));
    snprintf(bench.script, sizeof bench.script, "%s/run", bench.dir);
    snprintf(bench.out, sizeof bench.out, "%s/out", bench.dir);
    FILE *file = fopen(bench.script, "w");
    assert_non_null(file);
    fprintf(file, "#!/bin/sh\nout=%s\n%s\n", bench.out, body);
    fclose(file);
    assert_int_equal(chmod(bench.script, 0700), 0);
    assert_int_equal(rp_loop_new(&bench.loop), 0);
    rp_loop_on_deadline(bench.loop, on_deadline, &bench);
    assert_int_equal(
        rp_command_new(bench.loop, bench.script, timeout_us, on_end, &bench, &bench.command), 0);
    return &bench;
}

static void bench_end(struct bench *bench)
{
    rp_command_free(bench->command);
    rp_loop_free(bench->loop);
    unlink(bench->out);
    unlink(bench->script);
    rmdir(bench->dir);
}

static const char *written(const struct bench *bench)
{
    static char text[4096];
    FILE *file = fopen(bench->out, "r");
    size_t len = file != NULL ? fread(text, 1, sizeof text - 1, file) : 0;
    if (file != NULL) {
        fclose(file);
    }
    text[len] = '\0';
    return text;
}

static void what_it_is_told_is_in_its_environment(void **state)
{
    (void)state;
    struct bench *bench = bench_new("{ echo \"$#\"; echo \"$REASON\"; echo \"$HOME$USER\"; "
                                    "trap; readlink /proc/self/fd/0; } >$out",
                                    10 * SECOND_US);
    const struct rp_command_var vars[] = {{"REASON", "$(reboot); `id` \"' 62 %"}};
    assert_int_equal(rp_command_run(bench->command, vars, 1), 0);
    assert_true(rp_command_running(bench->command));
    assert_int_equal(rp_command_run(bench->command, vars, 1), RP_E_BUSY);
    assert_true(rp_command_wake(bench->command) != RP_NEVER);
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_WELL);
    assert_false(rp_command_running(bench->command));
    assert_int_equal(rp_command_wake(bench->command), RP_NEVER);
    assert_string_equal(written(bench), "0\n$(reboot); `id` \"' 62 %\n\n/dev/null\n");
    bench_end(bench);
}

static void it_is_killed_with_its_children(void **state)
{
    (void)state;
    struct bench *bench = bench_new("sleep 600 & echo $! >$out; wait", SECOND_US / 5);
    assert_int_equal(rp_command_run(bench->command, NULL, 0), 0);
    rp_loop_set_deadline(bench->loop, rp_command_wake(bench->command));
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_TOO_LONG);
    long child = strtol(written(bench), NULL, 10);
    /* A killed process whose parent is gone is reaped by the system, in its own time. */
    if (child > 0) {
        char path[40], line[200] = "";
        snprintf(path, sizeof path, "/proc/%ld/stat", child);
        FILE *file = fopen(path, "r");
        if (file != NULL) {
            assert_non_null(fgets(line, sizeof line, file));
            fclose(file);
            assert_null(strstr(line, ") S"));
        }
    }
    assert_int_equal(rp_command_run(bench->command, NULL, 0), 0); /* it can run again */
    bench_end(bench);                                             /* and is killed at the end */
}

static void failures_are_told(void **state)
{
    (void)state;
    struct rp_command *command;
    struct bench *bench = bench_new("exit 3", SECOND_US);
    struct rp_command_var many[RP_COMMAND_VARS_MAX + 1];
    for (size_t i = 0; i <= RP_COMMAND_VARS_MAX; i++) {
        many[i] = (struct rp_command_var){"A", "b"};
    }
    assert_int_equal(rp_command_run(bench->command, many, RP_COMMAND_VARS_MAX + 1), RP_E_INVALID);
    assert_int_equal(rp_command_run(bench->command, many, RP_COMMAND_VARS_MAX), 0);
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_BADLY);
    unlink(bench->script);
    assert_int_equal(rp_command_run(bench->command, NULL, 0), RP_E_IO);
    assert_false(rp_command_running(bench->command));
    rp_command_tick(bench->command); /* nothing runs: nothing to do */
    assert_int_equal(rp_command_new(bench->loop, "run", 1, on_end, NULL, &command), RP_E_INVALID);
    assert_int_equal(rp_command_new(bench->loop, "/run", 0, on_end, NULL, &command), RP_E_INVALID);
    rp_command_free(NULL);
    bench_end(bench);
}

static bool output_is(const struct bench *bench, const char *bytes, size_t len)
{
    struct rp_view output = rp_command_output(bench->command);
    return output.len == len && memcmp(output.bytes, bytes, len) == 0;
}

/* More than a pipe holds at once (pipe(7): 65,536 bytes), both ways. */
static void what_it_is_fed_comes_back(void **state)
{
    (void)state;
    enum { LEN = 200000 };
    static char bytes[LEN];
    for (size_t i = 0; i < LEN; i++) {
        bytes[i] = (char)(i * 7 + i / 251);
    }
    struct rp_view input = {(const uint8_t *)bytes, LEN};
    struct bench *bench = bench_new("[ \"$#$1\" = 1pdf ] || exit 9; cat", 10 * SECOND_US);
    for (int run = 0; run < 2; run++) {
        assert_int_equal(rp_command_feed(bench->command, "pdf", input, LEN), 0);
        assert_int_equal(rp_command_feed(bench->command, "pdf", input, LEN), RP_E_BUSY);
        rp_loop_run(bench->loop);
        assert_int_equal(bench->end, RP_COMMAND_WELL);
        assert_true(output_is(bench, bytes, LEN));
    }
    assert_int_equal(rp_command_feed(bench->command, "pdf", input, LEN - 1), 0);
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_TOO_MUCH);
    /* What ran before says nothing of a run that is only told. */
    assert_int_equal(rp_command_run(bench->command, NULL, 0), 0);
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_BADLY);
    assert_int_equal(rp_command_output(bench->command).len, 0);
    bench_end(bench);
}

static void one_that_reads_nothing_holds_nobody_up(void **state)
{
    (void)state;
    static const uint8_t zeros[200000];
    struct rp_view input = {zeros, sizeof zeros};
    struct bench *bench = bench_new("echo made", 10 * SECOND_US);
    assert_int_equal(rp_command_feed(bench->command, "png", input, 100), 0);
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_WELL);
    assert_true(output_is(bench, "made\n", 5));
    bench_end(bench);
}

static void one_that_writes_for_ever_is_killed(void **state)
{
    (void)state;
    struct rp_view none = {NULL, 0};
    struct bench *bench = bench_new("while :; do echo more; done & wait", 10 * SECOND_US);
    assert_int_equal(rp_command_feed(bench->command, "png", none, 70000), 0);
    rp_loop_run(bench->loop);
    assert_int_equal(bench->end, RP_COMMAND_TOO_MUCH);
    assert_int_equal(rp_command_feed(bench->command, "png", none, 70000), 0);
    bench_end(bench); /* killed while it writes */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_it_is_told_is_in_its_environment),
        cmocka_unit_test(it_is_killed_with_its_children),
        cmocka_unit_test(failures_are_told),
        cmocka_unit_test(what_it_is_fed_comes_back),
        cmocka_unit_test(one_that_reads_nothing_holds_nobody_up),
        cmocka_unit_test(one_that_writes_for_ever_is_killed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
