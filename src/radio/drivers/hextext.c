/* Modules that take and give frames as hexadecimal text (row "hextext"): RN2483 and RN2903.
 *
 * Sources: Microchip RN2483 LoRa Technology Module Command Reference User's Guide, DS40001784G
 * (sections 2.4 mac, 2.5 radio), and its sister DS40001811 for the RN2903. Behaviour of real
 * firmware beyond them (two spaces after radio_rx, receiving ends after each frame, a stop is
 * needed before sending) as open-source drivers of the module have it.
 *
 * The module hears nothing between a frame and the next "radio rx 0", so that command always comes
 * first; signal values are asked for after it, and a frame never waits longer for them than two
 * SIGNAL_WAIT_MS. Firmware 1.0.5 or newer is needed for "radio rxstop" and "radio get rssi". */
#include <stdio.h>
#include <string.h>

#include "radio/drivers/dialogue.h"
#include "radio/text.h"
#include "ridgepost/error.h"

enum {
    TX_MARGIN_MS = 1000,  /* over the airtime, for "radio_tx_ok" */
    SIGNAL_WAIT_MS = 100, /* for each of two values; an answer takes about 10 ms at 57600 */
    ARM_TRIES_MAX = 3,
    LINE_IDLE_MS = 500, /* inside a line, more than a gap: bytes were lost or are noise */
    DOUBT_MS = 1000,    /* from rubbish that may have been a frame to the probe; ours */
};

enum hextext_step {
    STEP_VERSION,
    STEP_PAUSE,
    STEP_STOP,
    STEP_MOD,
    STEP_FREQ,
    STEP_POWER,
    STEP_SPREADING,
    STEP_BANDWIDTH,
    STEP_CODING,
    STEP_CRC,
    STEP_IQ,
    STEP_PREAMBLE,
    STEP_SYNC,
    STEP_WATCHDOG,
    STEP_READ, /* the first of the questions that read the settings back */
    STEP_LISTEN = STEP_READ + RP_HEXTEXT_QUESTIONS,
};

/* DS40001784G 2.5.5 (RN2483) and DS40001811 (RN2903): frequency and power ranges. */
static int hextext_check(struct rp_radio *radio)
{
    static const struct {
        uint32_t freq_min_hz, freq_max_hz;
        int8_t power_min_dbm, power_max_dbm;
    } bands[] = {
        {433050000, 434790000, -3, 15},
        {863000000, 870000000, -3, 15},
        {902000000, 928000000, 2, 20},
    };
    const struct rp_radio_profile *p = &radio->profile;
    for (size_t i = 0; i < sizeof bands / sizeof bands[0]; i++) {
        if (p->freq_hz < bands[i].freq_min_hz || p->freq_hz > bands[i].freq_max_hz) {
            continue;
        }
        if (p->power_dbm < bands[i].power_min_dbm || p->power_dbm > bands[i].power_max_dbm) {
            return rp_radio_refuse(radio, "power_dbm %d is outside %d to %d, for example 14",
                                   p->power_dbm, bands[i].power_min_dbm, bands[i].power_max_dbm);
        }
        return 0;
    }
    return rp_radio_refuse(radio,
                           "freq_hz %lu is outside 433050000 to 434790000, 863000000 to 870000000 "
                           "and 902000000 to 928000000, for example 869525000",
                           (unsigned long)p->freq_hz);
}

/* Steps whose command does not depend on the profile. */
static const char *const fixed_commands[] = {
    [STEP_VERSION] = "sys get ver",      [STEP_PAUSE] = "mac pause",
    [STEP_STOP] = "radio rxstop",        [STEP_MOD] = "radio set mod lora",
    [STEP_CRC] = "radio set crc on",     [STEP_IQ] = "radio set iqi off",
    [STEP_WATCHDOG] = "radio set wdt 0", /* 0: off; it would end receiving without a frame */
    [STEP_LISTEN] = "radio rx 0",        /* 0: until a frame comes */
};

static bool hextext_command(const struct rp_radio *radio, unsigned step, char *out, size_t cap)
{
    const struct rp_radio_profile *p = &radio->profile;
    switch ((enum hextext_step)step) {
    case STEP_FREQ:
        snprintf(out, cap, "radio set freq %lu\r\n", (unsigned long)p->freq_hz);
        return true;
    case STEP_POWER:
        snprintf(out, cap, "radio set pwr %d\r\n", p->power_dbm);
        return true;
    case STEP_SPREADING:
        snprintf(out, cap, "radio set sf sf%d\r\n", p->spreading_factor);
        return true;
    case STEP_BANDWIDTH:
        snprintf(out, cap, "radio set bw %lu\r\n", (unsigned long)p->bandwidth_hz / 1000);
        return true;
    case STEP_CODING:
        snprintf(out, cap, "radio set cr 4/%d\r\n", p->coding_rate);
        return true;
    case STEP_PREAMBLE:
        snprintf(out, cap, "radio set prlen %d\r\n", p->preamble_symbols);
        return true;
    case STEP_SYNC:
        snprintf(out, cap, "radio set sync %02x\r\n", p->sync_word);
        return true;
    default:
        break;
    }
    if (step > STEP_LISTEN) {
        return false;
    }
    if (step >= STEP_READ && step < STEP_LISTEN) {
        snprintf(out, cap, "%s", rp_hextext_questions[step - STEP_READ].command);
        return true;
    }
    snprintf(out, cap, "%s\r\n", fixed_commands[step]);
    return true;
}

static bool is_banner(struct rp_view line)
{
    return rp_text_contains(line, "RN2483") || rp_text_contains(line, "RN2903");
}

/* "mac pause" answers with a number of milliseconds, or 0 when it cannot pause (the 0: from
 * memory). The usual number has ten digits. */
static enum rp_reply pause_reply(struct rp_radio *radio, struct rp_view line)
{
    for (size_t i = 0; i < line.len; i++) {
        if (line.bytes[i] < '0' || line.bytes[i] > '9') {
            return RP_REPLY_IGNORED;
        }
    }
    if (rp_text_is(line, "0")) {
        rp_dialogue_cause(radio, RP_E_BUSY,
                          "the module's own network stack cannot be paused: power it off and on");
        return RP_REPLY_REFUSED;
    }
    return RP_REPLY_OK;
}

static enum rp_reply hextext_reply(struct rp_radio *radio, unsigned step, struct rp_view line)
{
    bool ok = rp_text_is(line, "ok");
    bool refused = rp_text_is(line, "invalid_param") || rp_text_is(line, "busy");
    if (step >= STEP_READ && step < STEP_LISTEN) {
        const struct rp_question *question = &rp_hextext_questions[step - STEP_READ];
        return rp_dialogue_read_back(radio, question, line, refused);
    }
    if (step == STEP_VERSION && is_banner(line)) {
        return RP_REPLY_OK;
    }
    if (step == STEP_PAUSE && !refused) {
        return pause_reply(radio, line);
    }
    if (step == STEP_STOP && (ok || refused)) {
        return RP_REPLY_OK; /* refused when nothing was being received */
    }
    if (ok && step != STEP_VERSION) {
        return RP_REPLY_OK;
    }
    if (!refused) {
        return RP_REPLY_IGNORED;
    }
    char command[64] = "";
    hextext_command(radio, step, command, sizeof command);
    command[strcspn(command, "\r")] = '\0';
    rp_dialogue_cause(radio, rp_text_is(line, "busy") ? RP_E_BUSY : RP_E_INVALID,
                      "the module answers \"%.13s\" to \"%.30s\"",
                      rp_text_is(line, "busy") ? "busy" : "invalid_param", command);
    return RP_REPLY_REFUSED;
}

static bool hextext_is_restart(const struct rp_radio *radio, struct rp_view line)
{
    bool asked =
        radio->dialogue.phase == RP_DIALOGUE_STARTING && radio->dialogue.step == STEP_VERSION;
    return !asked && is_banner(line);
}

/* "radio_rx", one or more spaces, hexadecimal digits. */
static bool read_frame(struct rp_radio *radio, struct rp_view line, struct rp_radio_event *out)
{
    rp_text_take(&line, "radio_rx");
    while (rp_text_take(&line, " ")) {
    }
    struct rp_radio_event event = {.kind = RP_RADIO_FRAME};
    int len = rp_hex_decode(line, event.frame, sizeof event.frame);
    if (len <= 0) {
        radio->counters.rx_bad++;
        return false;
    }
    event.frame_len = (uint16_t)len;
    *out = event;
    return true;
}

static bool hextext_unsolicited(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    (void)now_us;
    if (radio->up || !rp_text_starts(line, "radio_rx ")) {
        return false;
    }
    struct rp_radio_event event;
    if (read_frame(radio, line, &event)) {
        rp_radio_push_frame(radio, &event);
    }
    return true;
}

/* Gives on the frame that waits for its signal values, with those that have come. */
static void release_held(struct rp_radio *radio)
{
    struct rp_hextext_state *hextext = &radio->state.hextext;
    if (hextext->held) {
        hextext->held = false;
        rp_radio_push_frame(radio, &hextext->held_event);
    }
}

static void command(struct rp_radio *radio, const char *text, enum rp_hextext_phase phase,
                    rp_time_us deadline_us)
{
    rp_radio_out_text(radio, text);
    radio->state.hextext.phase = phase;
    radio->deadline_us = deadline_us;
}

static void arm(struct rp_radio *radio, rp_time_us now_us)
{
    command(radio, "radio rx 0\r\n", RP_HEXTEXT_ARM, now_us + rp_radio_ms(RP_COMMAND_WAIT_MS));
}

static void stop(struct rp_radio *radio, rp_time_us now_us)
{
    command(radio, "radio rxstop\r\n", RP_HEXTEXT_STOP, now_us + rp_radio_ms(RP_COMMAND_WAIT_MS));
}

/* The module receives and nothing is asked of it: the place from which a frame is sent. */
static void listen(struct rp_radio *radio, rp_time_us now_us)
{
    release_held(radio);
    if (radio->tx.pending) {
        stop(radio, now_us);
    } else if (!rp_dialogue_refresh(radio, now_us)) {
        radio->state.hextext.phase = RP_HEXTEXT_LISTEN;
        radio->deadline_us = now_us + rp_radio_ms(1000 * (int64_t)RP_PROBE_WAIT_S);
    }
}

static void armed(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_hextext_state *hextext = &radio->state.hextext;
    hextext->arm_tries = 0;
    if (hextext->held && !hextext->signal_off) {
        command(radio, "radio get snr\r\n", RP_HEXTEXT_SNR, now_us + rp_radio_ms(SIGNAL_WAIT_MS));
    } else {
        listen(radio, now_us);
    }
}

static void hextext_up(struct rp_radio *radio, rp_time_us now_us)
{
    radio->state.hextext.signal_off = false;
    armed(radio, now_us);
}

static void take_radio_rx(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    struct rp_hextext_state *hextext = &radio->state.hextext;
    struct rp_radio_event event;
    release_held(radio);
    if (read_frame(radio, line, &event)) {
        rp_dialogue_heard(radio, now_us);
        hextext->held_event = event;
        hextext->held = true;
    }
    switch (hextext->phase) {
    case RP_HEXTEXT_LISTEN:
    case RP_HEXTEXT_SNR:
    case RP_HEXTEXT_RSSI:
    case RP_HEXTEXT_ARM: /* its "ok" was lost */
        arm(radio, now_us);
        break;
    case RP_HEXTEXT_STOP: /* the frame was on its way when the stop was written */
    case RP_HEXTEXT_TX:
    case RP_HEXTEXT_TX_DONE:
        release_held(radio);
        break;
    }
}

static void arm_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    struct rp_hextext_state *hextext = &radio->state.hextext;
    if (rp_text_is(line, "ok")) {
        armed(radio, now_us);
    } else if (rp_text_is(line, "busy") || rp_text_is(line, "invalid_param")) {
        hextext->arm_tries++;
        if (hextext->arm_tries < ARM_TRIES_MAX) {
            stop(radio, now_us); /* and from there to "radio rx 0" again, or to the frame */
            return;
        }
        hextext->arm_tries = 0;
        rp_dialogue_cause(radio, RP_E_BUSY,
                          "the module refuses to receive: power it off and on if this stays");
        rp_dialogue_fail(radio, now_us);
    } else {
        radio->counters.rx_ignored++;
    }
}

static void signal_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    struct rp_hextext_state *hextext = &radio->state.hextext;
    bool snr = hextext->phase == RP_HEXTEXT_SNR;
    struct rp_radio_event *event = &hextext->held_event;
    int32_t value;
    bool good = rp_text_take_number(&line, snr ? -128 : -300, snr ? 127 : 100, &value);
    if (!good || line.len != 0) {
        hextext->signal_off = true;
        listen(radio, now_us);
    } else if (snr) {
        event->has_snr = true;
        event->snr_db = (int16_t)value;
        command(radio, "radio get rssi\r\n", RP_HEXTEXT_RSSI, now_us + rp_radio_ms(SIGNAL_WAIT_MS));
    } else {
        event->has_rssi = true;
        event->rssi_dbm = (int16_t)value;
        listen(radio, now_us);
    }
}

static void start_tx(struct rp_radio *radio, rp_time_us now_us)
{
    char text[9 + 2 * RP_FRAME_LEN_MAX + 3] = "radio tx ";
    rp_hex_encode((struct rp_view){radio->tx.frame, radio->tx.len}, text + 9);
    size_t len = 9 + 2 * (size_t)radio->tx.len;
    memcpy(text + len, "\r\n", 3);
    radio->tx.on_wire = true;
    command(radio, text, RP_HEXTEXT_TX,
            now_us + rp_radio_serial_us(radio, len + 2) + rp_radio_ms(RP_COMMAND_WAIT_MS));
}

static void stop_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    if (!rp_text_is(line, "ok") && !rp_text_is(line, "invalid_param") &&
        !rp_text_is(line, "busy")) {
        radio->counters.rx_ignored++;
    } else if (radio->tx.pending) {
        start_tx(radio, now_us);
    } else {
        if (radio->state.hextext.arm_tries == 0) {
            rp_dialogue_success(radio); /* this was a probe, and it was answered */
        }
        arm(radio, now_us);
    }
}

static void tx_ended(struct rp_radio *radio, rp_time_us now_us)
{
    rp_dialogue_success(radio);
    rp_radio_finish_sent(radio);
    arm(radio, now_us);
}

static void tx_refused(struct rp_radio *radio, int code, bool maybe_aired, const char *answer,
                       rp_time_us now_us)
{
    rp_radio_finish_unsent(radio, code, maybe_aired);
    rp_dialogue_cause(radio, code,
                      "the module answers \"%s\" to \"radio tx\"; it needs firmware 1.0.5 or newer",
                      answer);
    if (!rp_dialogue_refused(radio, now_us)) {
        arm(radio, now_us);
    }
}

static void tx_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    struct rp_hextext_state *hextext = &radio->state.hextext;
    bool done = hextext->phase == RP_HEXTEXT_TX_DONE;
    if (rp_text_is(line, "radio_tx_ok")) { /* also when the "ok" before it was lost */
        tx_ended(radio, now_us);
    } else if (!done && rp_text_is(line, "ok")) {
        hextext->phase = RP_HEXTEXT_TX_DONE;
        radio->deadline_us =
            now_us + rp_radio_airtime_us(radio, radio->tx.len) + rp_radio_ms(TX_MARGIN_MS);
    } else if (!done && rp_text_is(line, "busy")) {
        tx_refused(radio, RP_E_BUSY, false, "busy", now_us);
    } else if (!done && rp_text_is(line, "invalid_param")) {
        tx_refused(radio, RP_E_IO, false, "invalid_param", now_us);
    } else if (done && rp_text_is(line, "radio_err")) {
        tx_refused(radio, RP_E_IO, true, "radio_err", now_us);
    } else {
        radio->counters.rx_ignored++;
    }
}

/* Rubbish while the module receives may have been the line that ends receiving: then it is deaf. */
static void doubt(struct rp_radio *radio, rp_time_us now_us)
{
    rp_time_us probe_us = now_us + rp_radio_ms(DOUBT_MS);
    if (radio->up && radio->state.hextext.phase == RP_HEXTEXT_LISTEN &&
        probe_us < radio->deadline_us) {
        radio->deadline_us = probe_us;
    }
}

static void hextext_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    if (rp_text_starts(line, "radio_rx ")) {
        take_radio_rx(radio, line, now_us);
        return;
    }
    switch (radio->state.hextext.phase) {
    case RP_HEXTEXT_LISTEN:
        if (rp_text_is(line, "radio_err")) { /* receiving has ended without a good frame */
            arm(radio, now_us);
        } else {
            radio->counters.rx_ignored++;
            doubt(radio, now_us);
        }
        break;
    case RP_HEXTEXT_ARM:
        arm_line(radio, line, now_us);
        break;
    case RP_HEXTEXT_SNR:
    case RP_HEXTEXT_RSSI:
        if (rp_text_is(line, "radio_err")) {
            arm(radio, now_us);
        } else {
            signal_line(radio, line, now_us);
        }
        break;
    case RP_HEXTEXT_STOP:
        stop_line(radio, line, now_us);
        break;
    case RP_HEXTEXT_TX:
    case RP_HEXTEXT_TX_DONE:
        tx_line(radio, line, now_us);
        break;
    }
}

static void hextext_send(struct rp_radio *radio, rp_time_us now_us)
{
    if (radio->state.hextext.phase == RP_HEXTEXT_LISTEN) {
        stop(radio, now_us);
    }
}

static void hextext_up_tick(struct rp_radio *radio, rp_time_us now_us)
{
    switch (radio->state.hextext.phase) {
    case RP_HEXTEXT_LISTEN: /* a probe that also ends a receiver that has hung */
        stop(radio, now_us);
        break;
    case RP_HEXTEXT_SNR:
    case RP_HEXTEXT_RSSI:
        radio->counters.timeouts++;
        radio->state.hextext.signal_off = true;
        listen(radio, now_us);
        break;
    case RP_HEXTEXT_ARM:
        rp_dialogue_timeout(radio, "radio rx 0", now_us);
        break;
    case RP_HEXTEXT_STOP:
        rp_dialogue_timeout(radio, "radio rxstop", now_us);
        break;
    case RP_HEXTEXT_TX:
    case RP_HEXTEXT_TX_DONE:
        rp_dialogue_timeout(radio, "radio tx", now_us);
        break;
    }
}

/* The line from "radio_rx " on, when that stands behind noise. */
static struct rp_view from_frame(struct rp_view line)
{
    for (size_t at = 1; at < line.len; at++) {
        struct rp_view tail = {line.bytes + at, line.len - at};
        if (rp_text_starts(tail, "radio_rx ")) {
            return tail;
        }
    }
    return line;
}

static void hextext_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    struct rp_radio_line *line = &radio->line;
    if (now_us - line->last_byte_us > rp_radio_ms(LINE_IDLE_MS) && line->len > 0) {
        radio->counters.rx_ignored++;
        rp_line_done(radio);
    }
    line->last_byte_us = now_us;
    for (size_t i = 0; i < bytes.len; i++) {
        if (rp_line_push(radio, bytes.bytes[i], false)) {
            rp_dialogue_line(radio, from_frame(rp_line_view(radio)), now_us);
            rp_line_done(radio);
        }
    }
    if (line->len > 0 || line->skipping) {
        doubt(radio, now_us);
    }
}

static const struct rp_dialogue_script hextext_script = {
    .reset = "sys reset\r\n",
    .wake = "U", /* 0x55: after a break the module waits for it, and takes its speed from it */
    .command = hextext_command,
    .reply = hextext_reply,
    .questions_at = STEP_READ,
    .questions = RP_HEXTEXT_QUESTIONS,
    .is_restart = hextext_is_restart,
    .unsolicited = hextext_unsolicited,
    .up = hextext_up,
    .down = release_held,
    .line = hextext_line,
    .tick = hextext_up_tick,
};

const struct rp_radio_driver rp_radio_hextext = {
    .name = "hextext",
    .summary = "hexadecimal-text modules RN2483 and RN2903",
    .baud = 57600,
    .frame_len_max = RP_FRAME_LEN_MAX,
    .reports_signal = true,
    .sent_proof = RP_SENT_BY_REPLY,
    .check = hextext_check,
    .opened = rp_dialogue_opened,
    .receive = hextext_receive,
    .send = hextext_send,
    .tick = rp_dialogue_tick,
    .script = &hextext_script,
};
