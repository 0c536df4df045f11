/* Plays a written session of a modem against its driver and checks every byte and event.
 *
 * A session file is lines of text:
 *   # anything                    a comment; the first lines say where the session comes from
 *   driver NAME key=value ...     the family and the profile; keys as in struct rp_radio_profile
 *   open, close                   the port
 *   wait MS                       time passes; deadlines that fall due are met
 *   < TEXT                        bytes from the modem
 *   > TEXT                        bytes the driver must have written; all of them
 *   send HEX                      a frame to send; it must be accepted
 *   ! EVENT                       the next event: READY, RESTARTED, SENT, UNSENT CODE maybe|no,
 *                                 FAULT CODE, FRAME HEX [rssi N] [snr N]
 *   pin                           before open: the module's mode pin can be reached
 *   wish NAME                     the next wish: LINE_RESET, REOPEN, MODE_CONFIG, MODE_NORMAL, NONE
 *   counter NAME N                one of: rx_bad rx_ignored restarts timeouts resets
 * In TEXT, \r \n \\ and \xHH stand for bytes. At the end nothing may be left over: no event, no
 * output. With the option --bytes the modem's bytes are given one at a time. */
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "base/error.h"
#include "radio/radio.h"
#include "radio/text.h"

struct session {
    const char *path;
    int line_number;
    bool byte_by_byte, bound;
    rp_time_us now_us;
    struct rp_radio radio;
};

static void fail(const struct session *s, const char *format, ...)
    __attribute__((format(printf, 2, 3), noreturn));

static void fail(const struct session *s, const char *format, ...)
{
    va_list args;
    fprintf(stderr, "%s:%d: ", s->path, s->line_number);
    va_start(args, format);
    vfprintf(stderr, format, args);
    va_end(args);
    fputc('\n', stderr);
    exit(1);
}

static size_t unescape(const struct session *s, const char *text, uint8_t *out, size_t cap)
{
    size_t len = 0;
    for (; *text != '\0'; text++) {
        unsigned value = (unsigned char)*text;
        if (*text == '\\') {
            text++;
            if (*text == 'x' && sscanf(text + 1, "%2x", &value) == 1 && text[1] && text[2]) {
                text += 2;
            } else if (*text == 'r' || *text == 'n' || *text == '\\') {
                value = *text == 'r' ? '\r' : *text == 'n' ? '\n' : '\\';
            } else {
                fail(s, "unknown escape");
            }
        }
        if (len == cap) {
            fail(s, "text too long");
        }
        out[len++] = (uint8_t)value;
    }
    return len;
}

static void set_key(const struct session *s, struct rp_radio_profile *p, const char *pair)
{
    char key[32];
    long value;
    if (sscanf(pair, "%31[a-z_]=%ld", key, &value) != 2) {
        fail(s, "malformed setting %s", pair);
    }
    if (strcmp(key, "freq_hz") == 0) {
        p->freq_hz = (uint32_t)value;
    } else if (strcmp(key, "bandwidth_hz") == 0) {
        p->bandwidth_hz = (uint32_t)value;
    } else if (strcmp(key, "spreading_factor") == 0) {
        p->spreading_factor = (uint8_t)value;
    } else if (strcmp(key, "coding_rate") == 0) {
        p->coding_rate = (uint8_t)value;
    } else if (strcmp(key, "sync_word") == 0) {
        p->sync_word = (uint8_t)value;
    } else if (strcmp(key, "power_dbm") == 0) {
        p->power_dbm = (int8_t)value;
    } else if (strcmp(key, "preamble_symbols") == 0) {
        p->preamble_symbols = (uint16_t)value;
    } else if (strcmp(key, "text_armour") == 0) {
        p->text_armour = value != 0;
    } else {
        fail(s, "unknown setting %s", key);
    }
}

static void do_driver(struct session *s, char *rest)
{
    struct rp_radio_profile profile = {0};
    char *name = strtok(rest, " ");
    for (char *pair; (pair = strtok(NULL, " ")) != NULL;) {
        set_key(s, &profile, pair);
    }
    const char *why = "";
    if (name == NULL || rp_radio_init(&s->radio, name, &profile, &why) != 0) {
        fail(s, "driver refused: %s", why);
    }
    s->bound = true;
}

static void do_wait(struct session *s, const char *rest)
{
    rp_time_us end_us = s->now_us + atol(rest) * 1000L;
    while (rp_radio_wake(&s->radio) <= end_us) {
        s->now_us = rp_radio_wake(&s->radio);
        rp_radio_tick(&s->radio, s->now_us);
    }
    s->now_us = end_us;
}

static void do_from_modem(struct session *s, const char *rest)
{
    uint8_t bytes[2048];
    size_t len = unescape(s, rest, bytes, sizeof bytes);
    size_t portion = s->byte_by_byte ? 1 : len;
    for (size_t at = 0; at < len; at += portion) {
        rp_radio_receive(&s->radio, rp_view_of(bytes + at, portion), s->now_us);
    }
}

static void do_written(struct session *s, const char *rest)
{
    uint8_t wanted[2048], got[2048];
    size_t wanted_len = unescape(s, rest, wanted, sizeof wanted);
    size_t len = rp_radio_take_output(&s->radio, got, sizeof got);
    if (len != wanted_len || memcmp(got, wanted, len) != 0) {
        fail(s, "the driver wrote %zu bytes: %.*s", len, (int)len, (const char *)got);
    }
}

static size_t frame_of(const struct session *s, const char *hex, uint8_t *out)
{
    int len = rp_hex_decode(rp_view_of(hex, strlen(hex)), out, RP_FRAME_LEN_MAX);
    if (len <= 0) {
        fail(s, "malformed frame %s", hex);
    }
    return (size_t)len;
}

static void do_send(struct session *s, const char *rest)
{
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t len = frame_of(s, rest, frame);
    int result = rp_radio_send(&s->radio, rp_view_of(frame, len), s->now_us);
    if (result != 0) {
        fail(s, "send gives %s", rp_error_name(result));
    }
}

static void describe(const struct rp_radio_event *event, char *out, size_t cap)
{
    char hex[2 * RP_FRAME_LEN_MAX + 1] = "";
    char signal[64] = "";
    switch (event->kind) {
    case RP_RADIO_READY:
        snprintf(out, cap, "READY");
        break;
    case RP_RADIO_SENT:
        snprintf(out, cap, "SENT");
        break;
    case RP_RADIO_RESTARTED:
        snprintf(out, cap, "RESTARTED");
        break;
    case RP_RADIO_UNSENT:
        snprintf(out, cap, "UNSENT %s %s", rp_error_name(event->code),
                 event->maybe_aired ? "maybe" : "no");
        break;
    case RP_RADIO_FAULT:
        snprintf(out, cap, "FAULT %s", rp_error_name(event->code));
        break;
    case RP_RADIO_FRAME:
        rp_hex_encode(rp_view_of(event->frame, event->frame_len), hex);
        hex[2 * event->frame_len] = '\0';
        if (event->has_rssi) {
            snprintf(signal, sizeof signal, " rssi %d", event->rssi_dbm);
        }
        if (event->has_snr) {
            size_t len = strlen(signal);
            snprintf(signal + len, sizeof signal - len, " snr %d", event->snr_db);
        }
        snprintf(out, cap, "FRAME %s%s", hex, signal);
        break;
    }
}

static void do_event(struct session *s, const char *rest)
{
    struct rp_radio_event event;
    char text[2 * RP_FRAME_LEN_MAX + 128] = "nothing";
    if (rp_radio_next_event(&s->radio, &event)) {
        describe(&event, text, sizeof text);
    }
    if (strcmp(text, rest) != 0) {
        fail(s, "expected the event \"%s\", got \"%s\"", rest, text);
    }
}

static void do_counter(struct session *s, const char *rest)
{
    const struct rp_radio_counters *c = &s->radio.counters;
    const struct {
        const char *name;
        uint32_t value;
    } rows[] = {{"rx_bad", c->rx_bad},
                {"rx_ignored", c->rx_ignored},
                {"restarts", c->restarts},
                {"timeouts", c->timeouts},
                {"resets", c->resets}};
    char name[32];
    unsigned value;
    if (sscanf(rest, "%31[a-z_] %u", name, &value) == 2) {
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
            if (strcmp(rows[i].name, name) == 0 && rows[i].value == value) {
                return;
            }
        }
    }
    fail(s, "the counter differs or is not known: %s", rest);
}

static void do_wish(struct session *s, const char *rest)
{
    static const char *const names[] = {[RP_RADIO_WISH_NONE] = "NONE",
                                        [RP_RADIO_WISH_LINE_RESET] = "LINE_RESET",
                                        [RP_RADIO_WISH_REOPEN] = "REOPEN",
                                        [RP_RADIO_WISH_MODE_CONFIG] = "MODE_CONFIG",
                                        [RP_RADIO_WISH_MODE_NORMAL] = "MODE_NORMAL"};
    const char *got = names[rp_radio_take_wish(&s->radio)];
    if (strcmp(got, rest) != 0) {
        fail(s, "expected the wish %s, got %s", rest, got);
    }
}

static void play_line(struct session *s, char *line)
{
    line[strcspn(line, "\n")] = '\0';
    if (line[0] == '#' || line[0] == '\0') {
        return;
    }
    char *space = strchr(line, ' ');
    char *rest = space != NULL ? space + 1 : line + strlen(line);
    size_t word = space != NULL ? (size_t)(space - line) : strlen(line);
    line[word] = '\0';
    if (strcmp(line, "driver") == 0) {
        do_driver(s, rest);
    } else if (!s->bound) {
        fail(s, "the session must begin with a driver line");
    } else if (strcmp(line, "open") == 0) {
        rp_radio_opened(&s->radio, s->now_us);
    } else if (strcmp(line, "close") == 0) {
        rp_radio_closed(&s->radio, s->now_us);
    } else if (strcmp(line, "wait") == 0) {
        do_wait(s, rest);
    } else if (strcmp(line, "<") == 0) {
        do_from_modem(s, rest);
    } else if (strcmp(line, ">") == 0) {
        do_written(s, rest);
    } else if (strcmp(line, "send") == 0) {
        do_send(s, rest);
    } else if (strcmp(line, "!") == 0) {
        do_event(s, rest);
    } else if (strcmp(line, "pin") == 0) {
        rp_radio_set_mode_pin(&s->radio, true);
    } else if (strcmp(line, "wish") == 0) {
        do_wish(s, rest);
    } else if (strcmp(line, "counter") == 0) {
        do_counter(s, rest);
    } else {
        fail(s, "unknown line \"%s\"", line);
    }
}

static int play(const char *path, bool byte_by_byte)
{
    static struct session session;
    session = (struct session){.path = path, .byte_by_byte = byte_by_byte, .now_us = 1000000};
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        fprintf(stderr, "%s: cannot be read\n", path);
        return 1;
    }
    char line[4096];
    while (fgets(line, sizeof line, file) != NULL) {
        session.line_number++;
        play_line(&session, line);
    }
    fclose(file);
    if (!session.bound) {
        fail(&session, "the file holds no session");
    }
    char nothing[] = "nothing", empty[] = "";
    do_event(&session, nothing);
    do_written(&session, empty);
    return 0;
}

int main(int argc, char **argv)
{
    bool byte_by_byte = argc == 3 && strcmp(argv[1], "--bytes") == 0;
    if (argc != 2 && !byte_by_byte) {
        fprintf(stderr, "usage: %s [--bytes] SESSION.txt\n", argv[0]);
        return 1;
    }
    return play(argv[argc - 1], byte_by_byte);
}
