/* Clients that misbehave, while one client goes on recording. The daemon has an episode 7-1. Prints
 * how many notes were recorded; the script compares that with the log.
 * usage: control_abuse SOCKET SEED */
#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "control_io.h"

#define CROWD       200
#define CLIENTS_MAX 16    /* RP_LISTENER_CLIENTS_MAX, as port/listener.h promises */
#define LINE_MAX_B  65536 /* RP_LINE_LEN_MAX of port/lines.h, bytes */

static const char *path;
static struct io recorder, others[CROWD];
static unsigned notes;
static uint32_t random_state;

/* xorshift32 (Marsaglia 2003): any generator would do, this one needs no library. */
static uint32_t draw(void)
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 17;
    random_state ^= random_state << 5;
    return random_state;
}

static void record(const char *during)
{
    char name[24];
    for (int i = 0; i < 5; i++) {
        if (!io_note(&recorder, "7-1", during, name)) {
            io_fail("%s: the recording client was cut off", during);
        }
        notes++;
    }
}

static void want(const char *answer, const char *words, const char *during)
{
    if (answer == NULL || strstr(answer, words) == NULL) {
        io_fail("%s: no \"%s\" in: %.300s", during, words, answer != NULL ? answer : "(closed)");
    }
}

/* Asks until a place is free: the daemon learns of each closed connection in its own time. */
static void a_place_becomes_free(void)
{
    static const char board[] = "{\"command\":\"board\"}\n";
    for (int tries = 0; tries < 1000; tries++) {
        struct io *io = &others[0];
        io_open(io, path);
        const char *answer = io_send(io, board, sizeof board - 1) ? io_line(io) : NULL;
        io_close(io);
        if (answer != NULL && strstr(answer, "\"ok\":true") != NULL) {
            return;
        }
    }
    io_fail("after the crowd: no place becomes free");
}

/* 200 connections that say nothing: with the recorder 16 stay, the rest are told why not. They are
 * taken in the order in which they connected. */
static void crowd(void)
{
    for (unsigned i = 0; i < CROWD; i++) {
        io_open(&others[i], path);
    }
    record("a crowd");
    for (unsigned i = 0; i < CROWD; i++) {
        if (i + 1 >= CLIENTS_MAX) {
            want(io_line(&others[i]), "too many programs", "a crowd");
            if (io_line(&others[i]) != NULL) {
                io_fail("a crowd: a refused connection goes on");
            }
            continue;
        }
        io_take_in(&others[i], 0);
        if (others[i].len > 0 || others[i].ended) {
            io_fail("a crowd: connection %u of %d was refused", i + 2, CLIENTS_MAX);
        }
    }
    for (unsigned i = 0; i < CROWD; i++) {
        io_close(&others[i]);
    }
    record("after the crowd");
    a_place_becomes_free();
}

/* Asks without end and never reads: the daemon must stop taking its requests. */
static void deaf(void)
{
    static const char request[] = "{\"command\":\"log\"}\n";
    size_t taken = 0;
    io_open(&others[0], path);
    for (int quiet = 0; quiet < 4;) { /* four rounds of the recorder without a byte taken */
        ssize_t put = send(others[0].fd, request, sizeof request - 1, MSG_DONTWAIT | MSG_NOSIGNAL);
        if (put > 0) {
            taken += (size_t)put;
            quiet = 0;
        } else if (errno == EAGAIN) {
            record("a deaf client");
            quiet++;
        } else {
            break; /* dropped, which is fine too */
        }
        if (taken > 16u * 1024 * 1024) {
            io_fail("a deaf client: the daemon takes requests without end");
        }
    }
    io_close(&others[0]);
    record("after the deaf client");
}

static void half_a_line(void)
{
    static const char first[] = "{\"command\":\"no",
                      rest[] = "te\",\"args\":[\"7-1\",\"in halves\"]}\n";
    io_open(&others[0], path);
    io_send(&others[0], first, sizeof first - 1);
    record("half a line");
    io_send(&others[0], rest, sizeof rest - 1);
    want(io_line(&others[0]), "\"ok\":true", "half a line");
    notes++;
    io_send(&others[0], first, sizeof first - 1);
    io_close(&others[0]); /* and gone in the middle */
    record("after half a line");
}

static void endless_line(void)
{
    static char text[1024 * 1024];
    memset(text, 'x', sizeof text);
    io_open(&others[0], path);
    io_send(&others[0], text, sizeof text); /* may be cut off in the middle */
    record("a line of 1 MB");
    io_close(&others[0]);
    io_open(&others[0], path);
    io_send(&others[0], text, LINE_MAX_B + 1);
    want(io_line(&others[0]), "RP_E_TOO_LONG", "a line too long by a byte");
    if (io_line(&others[0]) != NULL) {
        io_fail("a line too long by a byte: the connection goes on");
    }
    io_close(&others[0]);
}

/* JSON as deep as a line is long (RFC 8259 section 9 lets a reader set a limit). */
static void deep(void)
{
    static char text[LINE_MAX_B];
    memset(text, '[', sizeof text);
    text[sizeof text - 1] = '\n';
    io_open(&others[0], path);
    io_send(&others[0], text, sizeof text);
    want(io_line(&others[0]), "RP_E_FORMAT", "deep JSON");
    io_close(&others[0]);
}

static void rubbish(void)
{
    static unsigned char bytes[512];
    io_open(&others[0], path);
    for (int round = 0; round < 200; round++) {
        unsigned lines = 1;
        for (size_t i = 0; i < sizeof bytes - 1; i++) {
            bytes[i] = i == 0 ? '{' : (unsigned char)draw();
            lines += bytes[i] == '\n';
        }
        bytes[sizeof bytes - 1] = '\n';
        io_send(&others[0], bytes, sizeof bytes);
        for (; lines > 0; lines--) {
            want(io_line(&others[0]), "\"ok\":false", "rubbish");
        }
    }
    record("rubbish");
    io_close(&others[0]);
}

/* A thousand requests in one piece are all answered, in order. */
static void many_at_once(void)
{
    static char text[64 * 1000];
    size_t len = 0;
    for (int i = 0; i < 1000; i++) {
        len += (size_t)snprintf(text + len, sizeof text - len, "{\"command\":\"none %d\"}\n", i);
    }
    io_open(&others[0], path);
    io_send(&others[0], text, len);
    for (int i = 0; i < 1000; i++) {
        char words[40];
        snprintf(words, sizeof words, "none %d\\\" is no command", i);
        want(io_line(&others[0]), words, "many at once");
    }
    io_close(&others[0]);
    record("after many at once");
}

/* Says a note and goes before the answer comes: it is recorded, and the daemon lives. */
static void gone_early(void)
{
    static const char note[] = "{\"command\":\"note\",\"args\":[\"7-1\",\"said and gone\"]}\n";
    for (int i = 0; i < 20; i++) {
        io_open(&others[0], path);
        io_send(&others[0], note, sizeof note - 1);
        shutdown(others[0].fd, SHUT_RD);
        io_close(&others[0]);
        notes++;
        record("gone early"); /* one place at a time: no crowd here */
    }
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        return 64;
    }
    path = argv[1];
    random_state = (uint32_t)strtoul(argv[2], NULL, 10) | 1;
    io_open(&recorder, path);
    record("all is well");
    crowd();
    deaf();
    half_a_line();
    endless_line();
    deep();
    rubbish();
    many_at_once();
    gone_early();
    printf("%u\n", notes);
    return 0;
}
