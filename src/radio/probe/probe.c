#include "radio/probe/probe.h"

#include <string.h>

#include "radio/driver.h"
#include "radio/drivers/uart_registers.h"
#include "radio/probe/questions.h"
#include "radio/text.h"
#include "ridgepost/error.h"

/* Common practice, no source, unless another is named. */
enum {
    MODE_MS = 100,   /* as drivers/uart.c */
    BLOCK_MS = 500,  /* as drivers/uart.c */
    ASKING_MS = 300, /* of listening before anything is asked: a board may start with a banner */
    QUIET_MS = 300,  /* longer than the 200 ms within which RN2483 commands were seen to merge */
    ANSWER_MS = 400,
    CONFIG_BAUD = 9600, /* E22 and E32 user manuals */
    SURE_LEN = 8,       /* a shorter frame may be chance; ours */
};

/* The usual speeds of the families first, then what their references list between (REYAX guide
 * 56312E33, AT+IPR; E22 user manual, REG0). */
static const uint32_t speeds[] = {115200, 57600, 9600, 38400, 19200};
enum { SPEEDS = sizeof speeds / sizeof speeds[0] };

/* A family that speaks in lines. */
struct rp_probe_dialect {
    const char *driver;
    const char *hello;          /* every modem of the family answers it */
    const char *version;        /* asks for what it says of itself; NULL: the hello does */
    const char *version_prefix; /* of the answer; it is no part of the name when it ends in "=" */
    const struct rp_question *questions;
    bool (*knows)(struct rp_view line); /* whether only this family says so */
};

/* "+READY" and "+RCV=" come by themselves, the rest are answers. */
static bool is_at(struct rp_view line)
{
    return rp_text_is(line, "+OK") || rp_text_starts(line, "+ERR=") || rp_text_is(line, "+READY") ||
           rp_text_starts(line, "+RCV=");
}

static bool is_hextext(struct rp_view line)
{
    return rp_text_starts(line, "RN2483") || rp_text_starts(line, "RN2903") ||
           rp_text_is(line, "invalid_param") || rp_text_starts(line, "radio_rx ");
}

static const struct rp_probe_dialect dialects[] = {
    {.driver = "at",
     .hello = "AT\r\n",
     .version = "AT+VER?\r\n", /* from memory, and so is the form of the answer */
     .version_prefix = "+VER=",
     .questions = rp_at_questions,
     .knows = is_at},
    {.driver = "hextext",
     .hello = "sys get ver\r\n",
     .version_prefix = "RN",
     .questions = rp_hextext_questions,
     .knows = is_hextext},
};
enum { DIALECTS = sizeof dialects / sizeof dialects[0] };

/* Transparent modules whose register block is known, as they are asked for it. An E220 answers like
 * an E22, or not at all: its block was not read. */
static const char *const kinds[] = {"uart-e22", "uart-e32"};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

static const struct rp_uart_kind *kind_of(unsigned index)
{
    return rp_radio_driver_find(kinds[index])->uart;
}

static rp_time_us after(rp_time_us now_us, int64_t ms)
{
    return now_us + ms * 1000;
}

static void put(struct rp_probe *probe, const void *bytes, size_t len)
{
    if (len <= sizeof probe->out - probe->out_len) {
        memcpy(probe->out + probe->out_len, bytes, len);
        probe->out_len += len;
    }
}

static void say(struct rp_probe *probe, const char *text)
{
    put(probe, text, strlen(text));
}

static void begin_try(struct rp_probe *probe, enum rp_probe_what what, const char *driver)
{
    if (probe->tried < RP_PROBE_TRIES_CAP) {
        probe->tries[probe->tried++] =
            (struct rp_probe_try){.what = what, .driver = driver, .baud = rp_probe_baud(probe)};
    }
}

static void over(struct rp_probe *probe)
{
    bool configuring = probe->phase == RP_PROBE_ENTER || probe->phase == RP_PROBE_BLOCK;
    if (configuring) {
        probe->wishes |= 1u << RP_RADIO_WISH_MODE_NORMAL;
    }
    probe->phase = RP_PROBE_OVER;
    probe->deadline_us = RP_NEVER;
    probe->out_len = 0;
}

/* --- listening --- */

/* Radios that are never ticked write nothing. */
static void open_listeners(struct rp_probe *probe, rp_time_us now_us)
{
    static const struct rp_radio_profile any = {.freq_hz = 868125000,
                                                .bandwidth_hz = 125000,
                                                .spreading_factor = 9,
                                                .coding_rate = 5,
                                                .sync_word = 0x12,
                                                .power_dbm = 14,
                                                .preamble_symbols = 12};
    rp_radio_init(&probe->kiss, "kiss", &any, NULL);
    rp_radio_init(&probe->uart, "uart-e22", &any, NULL);
    rp_radio_opened(&probe->kiss, now_us);
    rp_radio_opened(&probe->uart, now_us);
}

static void listen(struct rp_probe *probe, rp_time_us now_us)
{
    uint32_t listen_ms =
        probe->options.listen_ms != 0 ? probe->options.listen_ms : RP_PROBE_LISTEN_MS;
    probe->phase = RP_PROBE_LISTEN;
    probe->line_len = 0;
    open_listeners(probe, now_us);
    begin_try(probe, RP_PROBE_LISTENED, NULL);
    probe->deadline_us = after(now_us, probe->options.may_ask ? ASKING_MS : listen_ms);
}

/* At a wrong speed a good frame comes by chance, but seldom more often than a bad one. */
static bool gives_frames(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    struct rp_radio_event event;
    bool sure = false;
    rp_radio_receive(radio, bytes, now_us);
    while (rp_radio_next_event(radio, &event)) {
        sure = sure || (event.kind == RP_RADIO_FRAME && event.frame_len >= SURE_LEN);
    }
    const struct rp_radio_counters *counters = &radio->counters;
    return sure && counters->rx_frames > counters->rx_bad + counters->rx_ignored;
}

static void found_by_frame(struct rp_probe *probe, const char *driver)
{
    probe->found.driver = driver;
    probe->found.baud = rp_probe_baud(probe);
    probe->found.by_frame = true;
    over(probe);
}

static void hear(struct rp_probe *probe, struct rp_view bytes, rp_time_us now_us)
{
    if (gives_frames(&probe->kiss, bytes, now_us)) {
        found_by_frame(probe, "kiss");
    } else if (gives_frames(&probe->uart, bytes, now_us)) {
        found_by_frame(probe, "uart-e22");
    }
}

/* --- asking --- */

static void ask(struct rp_probe *probe, const char *command, rp_time_us now_us)
{
    probe->line_len = 0;
    say(probe, command);
    probe->deadline_us = after(now_us, ANSWER_MS);
}

static void greet(struct rp_probe *probe, unsigned step, rp_time_us now_us)
{
    probe->phase = RP_PROBE_HELLO;
    probe->step = step;
    ask(probe, dialects[step].hello, now_us);
}

/* Step 0 asks what it is, the others for its settings. */
static void ask_detail(struct rp_probe *probe, unsigned step, rp_time_us now_us)
{
    const struct rp_probe_dialect *dialect = probe->dialect;
    const char *version = dialect->version != NULL ? dialect->version : dialect->hello;
    const char *command = step == 0 ? version : dialect->questions[step - 1].command;
    probe->phase = RP_PROBE_DETAIL;
    probe->step = step;
    if (command == NULL) {
        over(probe);
    } else {
        ask(probe, command, now_us);
    }
}

static void found_dialect(struct rp_probe *probe, const struct rp_probe_dialect *dialect,
                          bool by_itself, rp_time_us now_us)
{
    probe->dialect = dialect;
    probe->found.driver = dialect->driver;
    probe->found.baud = rp_probe_baud(probe);
    probe->found.by_frame = by_itself;
    if (by_itself && !probe->options.may_ask) {
        over(probe);
    } else {
        ask_detail(probe, 0, now_us);
    }
}

/* Only what a terminal can show. */
static void keep_module(struct rp_probe *probe, struct rp_view line)
{
    char *module = probe->found.module;
    size_t len = 0;
    if (strchr(probe->dialect->version_prefix, '=') != NULL) {
        rp_text_take(&line, probe->dialect->version_prefix);
    }
    for (size_t i = 0; i < line.len && len < RP_PROBE_MODULE_LEN; i++) {
        if (line.bytes[i] >= ' ' && line.bytes[i] <= '~') {
            module[len++] = (char)line.bytes[i];
        }
    }
    module[len] = '\0';
}

/* The rows of one family differ in what they can be set to, not in how they speak. */
static void choose_row(struct rp_probe *probe)
{
    /* That the older modules call themselves so is from memory. */
    bool old = strstr(probe->found.module, "RYLR89") != NULL ||
               strstr(probe->found.module, "RYLR40") != NULL;
    if (old && strcmp(probe->found.driver, "at") == 0) {
        probe->found.driver = "at-old";
    }
}

static void take_detail(struct rp_probe *probe, struct rp_view line, rp_time_us now_us)
{
    bool refused = rp_text_starts(line, "+ERR=") || rp_text_is(line, "invalid_param");
    bool version = probe->step == 0;
    if (version && !refused) {
        if (!rp_text_starts(line, probe->dialect->version_prefix)) {
            return; /* a late answer, or a frame */
        }
        keep_module(probe, line);
        choose_row(probe);
    } else if (!version && !refused &&
               !probe->dialect->questions[probe->step - 1].take(line, &probe->found.said)) {
        return;
    }
    ask_detail(probe, probe->step + 1, now_us);
}

static void take_line(struct rp_probe *probe, struct rp_view line, rp_time_us now_us)
{
    if (probe->phase == RP_PROBE_DETAIL) {
        take_detail(probe, line, now_us);
        return;
    }
    for (size_t i = 0; i < DIALECTS; i++) {
        if (dialects[i].knows(line)) {
            found_dialect(probe, &dialects[i], probe->phase == RP_PROBE_LISTEN, now_us);
            return;
        }
    }
}

static void take_text(struct rp_probe *probe, struct rp_view bytes, rp_time_us now_us)
{
    for (size_t i = 0; i < bytes.len && probe->phase != RP_PROBE_OVER; i++) {
        uint8_t byte = bytes.bytes[i];
        bool ends = byte == '\n' || byte == '\r';
        if (ends && probe->line_len > 0) {
            struct rp_view line = {probe->line, probe->line_len};
            probe->line_len = 0;
            take_line(probe, line, now_us);
        } else if (!ends && probe->line_len < sizeof probe->line) {
            probe->line[probe->line_len++] = byte;
        }
    }
}

/* --- registers --- */

static void ask_block(struct rp_probe *probe, unsigned step, rp_time_us now_us)
{
    probe->phase = RP_PROBE_BLOCK;
    probe->step = step;
    probe->reply_len = 0;
    begin_try(probe, RP_PROBE_REGISTERS, kinds[step]);
    put(probe, kind_of(step)->read, sizeof kind_of(step)->read);
    probe->deadline_us = after(now_us, BLOCK_MS);
}

static void take_block(struct rp_probe *probe, const uint8_t *block)
{
    struct rp_probe_found *found = &probe->found;
    struct rp_uart_said said;
    rp_uart_read_block(kind_of(probe->step), block, &said);
    found->driver = kinds[probe->step];
    found->baud = said.baud;
    found->has_registers = true;
    found->channel = said.channel;
    found->air_bps = said.air_bps;
    found->has_network = said.has_network;
    found->network = said.network;
    found->fixed = said.fixed;
    memcpy(found->channel_hz, said.freq_hz, sizeof found->channel_hz);
    over(probe);
}

static void take_registers(struct rp_probe *probe, struct rp_view bytes)
{
    for (size_t i = 0; i < bytes.len && probe->phase == RP_PROBE_BLOCK; i++) {
        if (probe->reply_len == sizeof probe->reply) {
            memmove(probe->reply, probe->reply + 1, sizeof probe->reply - 1);
            probe->reply_len--;
        }
        probe->reply[probe->reply_len++] = bytes.bytes[i];
        int at = rp_uart_find_block(kind_of(probe->step),
                                    (struct rp_view){probe->reply, probe->reply_len});
        if (at >= 0) {
            take_block(probe, probe->reply + at);
        }
    }
}

/* --- the whole --- */

void rp_probe_start(struct rp_probe *probe, const struct rp_probe_options *options,
                    rp_time_us now_us)
{
    memset(probe, 0, sizeof *probe);
    probe->options = *options;
    if (options->has_mode_pin) {
        probe->phase = RP_PROBE_ENTER;
        probe->wishes = 1u << RP_RADIO_WISH_MODE_CONFIG;
        probe->deadline_us = after(now_us, MODE_MS);
    } else {
        listen(probe, now_us);
    }
}

static void next_speed(struct rp_probe *probe, rp_time_us now_us)
{
    probe->speed++;
    if (probe->options.baud != 0 || probe->speed == SPEEDS) {
        over(probe);
    } else {
        listen(probe, now_us);
    }
}

static void listened(struct rp_probe *probe, rp_time_us now_us)
{
    if (!probe->options.may_ask) {
        next_speed(probe, now_us);
        return;
    }
    begin_try(probe, RP_PROBE_ASKED, NULL);
    probe->phase = RP_PROBE_QUIET;
    say(probe, "\r\n");
    probe->deadline_us = after(now_us, QUIET_MS);
}

void rp_probe_tick(struct rp_probe *probe, rp_time_us now_us)
{
    switch (probe->phase) {
    case RP_PROBE_ENTER:
        ask_block(probe, 0, now_us);
        break;
    case RP_PROBE_BLOCK:
        if (probe->step + 1 < KINDS) {
            ask_block(probe, probe->step + 1, now_us);
        } else {
            over(probe);
        }
        break;
    case RP_PROBE_LISTEN:
        listened(probe, now_us);
        break;
    case RP_PROBE_QUIET:
        greet(probe, 0, now_us);
        break;
    case RP_PROBE_HELLO:
        if (probe->step + 1 < DIALECTS) {
            greet(probe, probe->step + 1, now_us);
        } else {
            next_speed(probe, now_us);
        }
        break;
    case RP_PROBE_DETAIL: /* this question is not answered */
        ask_detail(probe, probe->step + 1, now_us);
        break;
    case RP_PROBE_OVER:
        break;
    }
}

void rp_probe_receive(struct rp_probe *probe, struct rp_view bytes, rp_time_us now_us)
{
    if (probe->tried > 0 && probe->phase != RP_PROBE_OVER) {
        probe->tries[probe->tried - 1].bytes += (uint32_t)bytes.len;
    }
    switch (probe->phase) {
    case RP_PROBE_BLOCK:
        take_registers(probe, bytes);
        break;
    case RP_PROBE_LISTEN:
        hear(probe, bytes, now_us);
        take_text(probe, bytes, now_us);
        break;
    case RP_PROBE_HELLO:
    case RP_PROBE_DETAIL:
        take_text(probe, bytes, now_us);
        break;
    case RP_PROBE_ENTER:
    case RP_PROBE_QUIET:
    case RP_PROBE_OVER:
        break;
    }
}

size_t rp_probe_take_output(struct rp_probe *probe, uint8_t *buf, size_t cap)
{
    size_t len = probe->out_len < cap ? probe->out_len : cap;
    memcpy(buf, probe->out, len);
    probe->out_len -= len;
    memmove(probe->out, probe->out + len, probe->out_len);
    return len;
}

uint32_t rp_probe_baud(const struct rp_probe *probe)
{
    if (probe->options.has_mode_pin) {
        return CONFIG_BAUD;
    }
    return probe->options.baud != 0 ? probe->options.baud : speeds[probe->speed % SPEEDS];
}

enum rp_radio_wish rp_probe_take_wish(struct rp_probe *probe)
{
    static const enum rp_radio_wish order[] = {RP_RADIO_WISH_MODE_CONFIG,
                                               RP_RADIO_WISH_MODE_NORMAL};
    for (size_t i = 0; i < 2; i++) {
        if ((probe->wishes >> order[i] & 1) != 0) {
            probe->wishes &= ~(1u << order[i]);
            return order[i];
        }
    }
    return RP_RADIO_WISH_NONE;
}

rp_time_us rp_probe_wake(const struct rp_probe *probe)
{
    return probe->deadline_us;
}

const struct rp_probe_found *rp_probe_found(const struct rp_probe *probe)
{
    return &probe->found;
}

const struct rp_probe_try *rp_probe_tried(const struct rp_probe *probe, size_t index)
{
    return index < probe->tried ? &probe->tries[index] : NULL;
}
