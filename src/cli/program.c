#include "cli/program.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

void rp_program_words(const char *command, char *buf, size_t cap,
                      const char *words[RP_PROGRAM_WORDS])
{
    size_t count = 0;
    char *rest = NULL;
    snprintf(buf, cap, "%s", command);
    for (char *word = strtok_r(buf, " ", &rest); word != NULL && count + 1 < RP_PROGRAM_WORDS;
         word = strtok_r(NULL, " ", &rest)) {
        words[count++] = word;
    }
    words[count] = NULL;
}

static void become(const char *const *words, const int in[2], const int out[2], bool keeps)
{
    char *argv[RP_PROGRAM_WORDS];
    size_t count = 0;
    while (words[count] != NULL && count + 1 < RP_PROGRAM_WORDS) {
        argv[count] = strdup(words[count]);
        count++;
    }
    argv[count] = NULL;
    dup2(in[0], STDIN_FILENO);
    close(in[0]);
    close(in[1]);
    if (keeps) {
        dup2(out[1], STDOUT_FILENO);
        close(out[0]);
        close(out[1]);
    }
    signal(SIGPIPE, SIG_DFL);
    execvp(argv[0], argv);
    fprintf(stderr, "ridgepost: %s: %s\n", argv[0], strerror(errno));
    _exit(127);
}

static void write_all(int fd, const char *bytes, size_t len)
{
    while (len > 0) {
        ssize_t written = write(fd, bytes, len);
        if (written < 0 && errno != EINTR) {
            return; /* it takes no more: its exit status tells */
        }
        bytes += written > 0 ? written : 0;
        len -= written > 0 ? (size_t)written : 0;
    }
}

static char *read_all(int fd, size_t *out_len)
{
    size_t cap = 65536, len = 0;
    char *text = malloc(cap + 1);
    ssize_t got = 1;
    while (text != NULL && got != 0) {
        got = read(fd, text + len, cap - len);
        if (got < 0 && errno != EINTR) {
            break;
        }
        len += got > 0 ? (size_t)got : 0;
        if (len == cap) {
            char *larger = realloc(text, cap * 2 + 1);
            if (larger == NULL) {
                free(text);
                return NULL;
            }
            text = larger;
            cap *= 2;
        }
    }
    if (text != NULL) {
        text[len] = '\0';
        *out_len = len;
    }
    return text;
}

static int wait_end(pid_t pid)
{
    int status;
    while (waitpid(pid, &status, 0) < 0) {
        if (errno != EINTR) {
            return -1;
        }
    }
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

int rp_program_run(const char *const *words, const char *input, size_t len, char **out_text,
                   size_t *out_len)
{
    int in[2], out[2] = {-1, -1};
    bool keeps = out_text != NULL;
    if (pipe(in) < 0) {
        return -1;
    }
    if (keeps && pipe(out) < 0) {
        close(in[0]);
        close(in[1]);
        return -1;
    }
    fflush(stdout);
    signal(SIGPIPE, SIG_IGN); /* a program that reads no further */
    pid_t pid = fork();
    if (pid == 0) {
        become(words, in, out, keeps);
    }
    close(in[0]);
    if (pid > 0) {
        write_all(in[1], input, len); /* these programs read all before they answer */
    }
    close(in[1]);
    if (keeps) {
        close(out[1]);
        *out_text = pid > 0 ? read_all(out[0], out_len) : NULL;
        close(out[0]);
    }
    int status = pid > 0 ? wait_end(pid) : -1;
    if (keeps && *out_text == NULL) {
        return -1;
    }
    return status;
}
