/* Modules with AT commands: rows "at" (RYLR998, RYLR498) and "at-old" (RYLR896, RYLR406).
 *
 * Sources: REYAX RYLR998/RYLR498 AT command guide 56312E33 (2025); RYLR896/RYLR406 guide 56322E33
 * (2022). Marked "from memory" where neither was read for the point.
 *
 * The data of AT+SEND is documented as ASCII, so frames travel as base64 (RFC 4648 section 4,
 * without padding): 240 characters hold 180 bytes. The module puts 8 bytes of its own before them
 * on air; airtime is charged for the characters and these 8, with the preamble that the profile
 * names, since AT+PARAMETER sets it. Every station of a net needs this family: its frames do not
 * mean anything to a modem that sends bytes as they are.
 *
 * The network id takes the profile's sync_word: 0x12 is network 18, the one that is not tied to a
 * preamble of 12. Frames are broadcast (address 0), and the module's own address is 0. Address and
 * network id are kept in flash, so they are read first and written only when they differ. */
#include <stdio.h>
#include <string.h>

#include "radio/drivers/at_errors.h"
#include "radio/drivers/dialogue.h"
#include "radio/text.h"
#include "ridgepost/error.h"

enum {
    DATA_MAX = 240,     /* guide 56312E33, AT+SEND */
    FRAME_MAX = 180,    /* 240 characters of base64 */
    EXTRA_BYTES = 8,    /* guide 56312E33, item 5 of the notes */
    AIR_MARGIN_MS = 50, /* the module's own handling; common practice, no source */
    HOLD_MS = 250,      /* after "last transmission not finished"; common practice */
    DATA_IDLE_MS = 500, /* inside +RCV data, more than a gap: bytes were lost */
    SEND_HEAD_CAP = 24, /* "AT+SEND=0,240," */
    NETWORK_FREE = 18,  /* the network id that allows other preambles than 12 */
    PREAMBLE_FIXED = 12,
};

enum at_step {
    STEP_HELLO,
    STEP_MODE,
    STEP_BAND,
    STEP_ADDRESS_ASK,
    STEP_ADDRESS,
    STEP_NETWORK_ASK,
    STEP_NETWORK,
    STEP_PARAMETER, /* after the network id, which decides which preambles are allowed */
    STEP_POWER,
    STEP_READ, /* the first of the questions that read the settings back */
    STEP_END = STEP_READ + RP_AT_QUESTIONS,
};

static size_t at_air_len(size_t len)
{
    return rp_base64_len(len);
}

/* Guide 56312E33: network 3 to 15 or 18; preamble 12, or 4 to 24 with network 18; SF 7 to 9 at 125,
 * to 10 at 250, to 11 at 500 kHz; power 0 to 22 dBm. */
static int at_check(struct rp_radio *radio)
{
    const struct rp_radio_profile *p = &radio->profile;
    unsigned sf_max = p->bandwidth_hz == 125000 ? 9 : p->bandwidth_hz == 250000 ? 10 : 11;
    if (p->spreading_factor > sf_max) {
        return rp_radio_refuse(radio,
                               "spreading_factor %u is above %u, the most this family does at "
                               "bandwidth_hz %lu, for example 9 at 125000",
                               (unsigned)p->spreading_factor, sf_max,
                               (unsigned long)p->bandwidth_hz);
    }
    if ((p->sync_word < 3 || p->sync_word > 15) && p->sync_word != NETWORK_FREE) {
        return rp_radio_refuse(radio,
                               "sync_word 0x%02x is not 0x03 to 0x0f or 0x12; this family uses it "
                               "as network id, for example 0x12",
                               (unsigned)p->sync_word);
    }
    if (p->sync_word == NETWORK_FREE ? p->preamble_symbols > 24
                                     : p->preamble_symbols != PREAMBLE_FIXED) {
        return rp_radio_refuse(radio,
                               "preamble_symbols %u is not 12, or 6 to 24 with sync_word 0x12, "
                               "for example 12",
                               (unsigned)p->preamble_symbols);
    }
    if (p->power_dbm < 0) {
        return rp_radio_refuse(radio, "power_dbm %d is outside 0 to 22, for example 14",
                               p->power_dbm);
    }
    return 0;
}

/* Network 0 to 16, power 0 to 15 dBm, preamble 4 to 7: from memory. The guide's own examples,
 * "10,7,1,7" and "12,4,1,7", are allowed by it. */
static int at_old_check(struct rp_radio *radio)
{
    const struct rp_radio_profile *p = &radio->profile;
    if (p->sync_word > 16) {
        return rp_radio_refuse(radio,
                               "sync_word 0x%02x is not 0x00 to 0x10; this family uses it as "
                               "network id, for example 0x06",
                               (unsigned)p->sync_word);
    }
    if (p->preamble_symbols > 7) {
        return rp_radio_refuse(radio, "preamble_symbols %u is not 6 or 7, for example 7",
                               (unsigned)p->preamble_symbols);
    }
    if (p->power_dbm < 0 || p->power_dbm > 15) {
        return rp_radio_refuse(radio, "power_dbm %d is outside 0 to 15, for example 14",
                               p->power_dbm);
    }
    return 0;
}

/* AT+PARAMETER=<spreading factor>,<bandwidth>,<coding rate>,<preamble>; 7, 8 and 9 stand for 125,
 * 250 and 500 kHz, 1 to 4 for 4/5 to 4/8. */
static void parameter_command(const struct rp_radio_profile *p, char *out, size_t cap)
{
    int bandwidth = p->bandwidth_hz == 125000 ? 7 : p->bandwidth_hz == 250000 ? 8 : 9;
    snprintf(out, cap, "AT+PARAMETER=%d,%d,%d,%d\r\n", p->spreading_factor, bandwidth,
             p->coding_rate - 4, p->preamble_symbols);
}

static bool at_command(const struct rp_radio *radio, unsigned step, char *out, size_t cap)
{
    const struct rp_radio_profile *p = &radio->profile;
    if (step >= STEP_READ && step < STEP_END) {
        snprintf(out, cap, "%s", rp_at_questions[step - STEP_READ].command);
        return true;
    }
    switch ((enum at_step)step) {
    case STEP_HELLO:
        snprintf(out, cap, "AT\r\n");
        return true;
    case STEP_MODE: /* transceiver, not asleep */
        snprintf(out, cap, "AT+MODE=0\r\n");
        return true;
    case STEP_BAND:
        snprintf(out, cap, "AT+BAND=%lu\r\n", (unsigned long)p->freq_hz);
        return true;
    case STEP_ADDRESS_ASK: /* the form of the question: from memory */
        snprintf(out, cap, "AT+ADDRESS?\r\n");
        return true;
    case STEP_ADDRESS:
        snprintf(out, cap, "AT+ADDRESS=0\r\n");
        return true;
    case STEP_NETWORK_ASK:
        snprintf(out, cap, "AT+NETWORKID?\r\n");
        return true;
    case STEP_NETWORK:
        snprintf(out, cap, "AT+NETWORKID=%d\r\n", p->sync_word);
        return true;
    case STEP_PARAMETER:
        parameter_command(p, out, cap);
        return true;
    case STEP_POWER:
        snprintf(out, cap, "AT+CRFOP=%d\r\n", p->power_dbm);
        return true;
    case STEP_READ:
    case STEP_END:
        break;
    }
    return false;
}

/* "+ERR=n", whole line. */
static const struct rp_at_error *error_in(struct rp_view line)
{
    int32_t number;
    if (!rp_text_take(&line, "+ERR=") || !rp_text_take_number(&line, 0, 9999, &number) ||
        line.len != 0) {
        return NULL;
    }
    return rp_at_error_find(number);
}

/* The answer to a question about a stored setting. Any other value, and a refusal of the question,
 * mean that it has to be set. */
static enum rp_reply asked_reply(struct rp_view line, const char *name, int32_t wanted)
{
    int32_t value;
    if (error_in(line) != NULL) {
        return RP_REPLY_OK;
    }
    if (!rp_text_take(&line, name) || !rp_text_take_number(&line, 0, 65535, &value) ||
        line.len != 0) {
        return RP_REPLY_IGNORED;
    }
    return value == wanted ? RP_REPLY_SKIP : RP_REPLY_OK;
}

static enum rp_reply at_reply(struct rp_radio *radio, unsigned step, struct rp_view line)
{
    if (step == STEP_ADDRESS_ASK) {
        return asked_reply(line, "+ADDRESS=", 0);
    }
    if (step == STEP_NETWORK_ASK) {
        return asked_reply(line, "+NETWORKID=", radio->profile.sync_word);
    }
    const struct rp_at_error *error = error_in(line);
    if (step >= STEP_READ) {
        const struct rp_question *question = &rp_at_questions[step - STEP_READ];
        return rp_dialogue_read_back(radio, question, line, error != NULL);
    }
    if (rp_text_is(line, "+OK")) {
        return RP_REPLY_OK;
    }
    if (error == NULL) {
        return RP_REPLY_IGNORED;
    }
    rp_dialogue_cause(radio, error->code, "%s", error->sentence);
    return RP_REPLY_REFUSED;
}

static bool at_is_restart(const struct rp_radio *radio, struct rp_view line)
{
    (void)radio;
    /* Bytes of a brown-out may stand before it, but nothing after it. */
    struct rp_view tail = line;
    if (tail.len > 6) {
        tail = (struct rp_view){line.bytes + (line.len - 6), 6};
    }
    return rp_text_is(tail, "+READY") && !rp_text_starts(line, "+RCV=");
}

/* "+RCV=<address>,<length>," off the front; the length is at most DATA_MAX. */
static bool take_rcv_head(struct rp_view *line, int32_t *out_len)
{
    int32_t address, len;
    struct rp_view rest = *line;
    if (!rp_text_take(&rest, "+RCV=") || !rp_text_take_number(&rest, 0, 65535, &address) ||
        !rp_text_take(&rest, ",") || !rp_text_take_number(&rest, 0, DATA_MAX, &len) ||
        !rp_text_take(&rest, ",")) {
        return false;
    }
    *line = rest;
    *out_len = len;
    return true;
}

/* Whether the next byte belongs to the counted data of a +RCV line, where a line end is content. */
static bool inside_data(const struct rp_radio *radio)
{
    struct rp_view rest = rp_line_view(radio);
    int32_t len;
    return take_rcv_head(&rest, &len) && rest.len < (size_t)len;
}

static void take_rcv(struct rp_radio *radio, struct rp_view line)
{
    int32_t len, rssi_dbm, snr_db;
    if (!take_rcv_head(&line, &len) || line.len < (size_t)len) {
        radio->counters.rx_bad++;
        return;
    }
    struct rp_view data = {line.bytes, (size_t)len};
    struct rp_view tail = {line.bytes + len, line.len - (size_t)len};
    struct rp_radio_event event = {.kind = RP_RADIO_FRAME};
    int frame_len = rp_base64_decode(data, event.frame, sizeof event.frame);
    bool whole = rp_text_take(&tail, ",") && rp_text_take_number(&tail, -300, 100, &rssi_dbm) &&
                 rp_text_take(&tail, ",") && rp_text_take_number(&tail, -128, 127, &snr_db) &&
                 tail.len == 0;
    if (frame_len <= 0 || !whole) {
        radio->counters.rx_bad++;
        return;
    }
    event.frame_len = (uint16_t)frame_len;
    event.has_rssi = event.has_snr = true;
    event.rssi_dbm = (int16_t)rssi_dbm;
    event.snr_db = (int16_t)snr_db;
    rp_radio_push_frame(radio, &event);
}

static void go_idle(struct rp_radio *radio, rp_time_us now_us)
{
    radio->state.at.phase = RP_AT_IDLE;
    radio->deadline_us = now_us + rp_radio_ms(1000 * (int64_t)RP_PROBE_WAIT_S);
}

static bool at_unsolicited(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    if (rp_text_starts(line, "+RCV=")) {
        take_rcv(radio, line);
        rp_dialogue_heard(radio, now_us);
        if (radio->up && radio->state.at.phase == RP_AT_IDLE) {
            go_idle(radio, now_us); /* it lives: the next probe can wait */
        }
        return true;
    }
    const struct rp_at_error *error = error_in(line);
    if (error != NULL && error->receive_side) {
        radio->counters.rx_bad++;
        return true;
    }
    return false;
}

static void at_down(struct rp_radio *radio)
{
    radio->state.at.phase = RP_AT_IDLE;
}

static void start_send(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_at_state *at = &radio->state.at;
    char command[SEND_HEAD_CAP + DATA_MAX + 2];
    size_t data_len = rp_base64_len(radio->tx.len);
    int head = snprintf(command, SEND_HEAD_CAP, "AT+SEND=0,%u,", (unsigned)data_len);
    rp_base64_encode((struct rp_view){radio->tx.frame, radio->tx.len}, command + head);
    size_t len = (size_t)head + data_len;
    command[len++] = '\r';
    command[len++] = '\n';
    if (!rp_radio_out_bytes(radio, command, len)) {
        rp_radio_finish_unsent(radio, RP_E_BUSY, false);
        go_idle(radio, now_us);
        return;
    }
    radio->tx.on_wire = true;
    at->phase = RP_AT_SEND;
    at->air_end_us = now_us + rp_radio_serial_us(radio, len) +
                     rp_radio_airtime_us(radio, radio->tx.len) + rp_radio_ms(AIR_MARGIN_MS);
    radio->deadline_us = at->air_end_us + rp_radio_ms(RP_COMMAND_WAIT_MS);
}

static void at_send(struct rp_radio *radio, rp_time_us now_us)
{
    if (radio->state.at.phase == RP_AT_IDLE) {
        start_send(radio, now_us);
    }
}

static void sent(struct rp_radio *radio, rp_time_us now_us)
{
    rp_dialogue_success(radio);
    go_idle(radio, now_us);
    rp_radio_finish_sent(radio);
    rp_dialogue_refresh(radio, now_us);
}

/* +OK does not prove that the frame has left (error 17 exists), so its airtime is waited for too.
 */
static void send_accepted(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_at_state *at = &radio->state.at;
    if (now_us >= at->air_end_us) {
        sent(radio, now_us);
    } else {
        at->phase = RP_AT_AIR;
        radio->deadline_us = at->air_end_us;
    }
}

static void send_refused(struct rp_radio *radio, const struct rp_at_error *error, rp_time_us now_us)
{
    rp_dialogue_cause(radio, error->code, "%s", error->sentence);
    if (error->hold) {
        radio->state.at.phase = RP_AT_HOLD;
        radio->deadline_us = now_us + rp_radio_ms(HOLD_MS);
        return;
    }
    rp_radio_finish_unsent(radio, error->code, error->maybe_aired);
    if (!rp_dialogue_refused(radio, now_us)) {
        go_idle(radio, now_us);
    }
}

static void probe_answered(struct rp_radio *radio, rp_time_us now_us)
{
    rp_dialogue_success(radio);
    go_idle(radio, now_us);
    if (radio->tx.pending) {
        start_send(radio, now_us);
    } else {
        rp_dialogue_refresh(radio, now_us);
    }
}

static void at_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    enum rp_at_phase phase = radio->state.at.phase;
    const struct rp_at_error *error = error_in(line);
    bool ok = rp_text_is(line, "+OK");
    if (phase == RP_AT_PROBE && (ok || error != NULL)) {
        probe_answered(radio, now_us);
    } else if (phase == RP_AT_SEND && ok) {
        send_accepted(radio, now_us);
    } else if (phase == RP_AT_SEND && error != NULL) {
        send_refused(radio, error, now_us);
    } else {
        radio->counters.rx_ignored++;
    }
}

static void at_up_tick(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_at_state *at = &radio->state.at;
    switch (at->phase) {
    case RP_AT_IDLE:
        rp_radio_out_text(radio, "AT\r\n");
        at->phase = RP_AT_PROBE;
        radio->deadline_us = now_us + rp_radio_ms(RP_COMMAND_WAIT_MS);
        break;
    case RP_AT_PROBE:
        rp_dialogue_timeout(radio, "AT", now_us);
        break;
    case RP_AT_SEND:
        rp_dialogue_timeout(radio, "AT+SEND", now_us);
        break;
    case RP_AT_AIR:
        sent(radio, now_us);
        break;
    case RP_AT_HOLD:
        rp_radio_finish_unsent(radio, RP_E_BUSY, false);
        if (!rp_dialogue_refused(radio, now_us)) {
            go_idle(radio, now_us);
        }
        break;
    }
}

static void at_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    struct rp_radio_line *line = &radio->line;
    if (now_us - line->last_byte_us > rp_radio_ms(DATA_IDLE_MS) && inside_data(radio)) {
        radio->counters.rx_bad++;
        rp_line_done(radio);
    }
    line->last_byte_us = now_us;
    for (size_t i = 0; i < bytes.len; i++) {
        uint8_t byte = bytes.bytes[i];
        /* Every line of the module begins with a plus sign: noise before it is passed over. */
        if (line->len == 0 && !line->skipping && byte != '+') {
            continue;
        }
        if (rp_line_push(radio, byte, inside_data(radio))) {
            rp_dialogue_line(radio, rp_line_view(radio), now_us);
            rp_line_done(radio);
        }
    }
}

static const struct rp_dialogue_script at_script = {
    .reset = "AT+RESET\r\n",
    .command = at_command,
    .reply = at_reply,
    .questions_at = STEP_READ,
    .questions = RP_AT_QUESTIONS,
    .is_restart = at_is_restart,
    .unsolicited = at_unsolicited,
    .up = go_idle,
    .down = at_down,
    .line = at_line,
    .tick = at_up_tick,
};

const struct rp_radio_driver rp_radio_at = {
    .name = "at",
    .summary = "AT-command modules RYLR998 and RYLR498; frames travel as base64",
    .baud = 115200,
    .frame_len_max = FRAME_MAX,
    .reports_signal = true,
    .sent_proof = RP_SENT_BY_TIMER,
    .airtime_extra_bytes = EXTRA_BYTES,
    .air_len = at_air_len,
    .check = at_check,
    .opened = rp_dialogue_opened,
    .receive = at_receive,
    .send = at_send,
    .tick = rp_dialogue_tick,
    .script = &at_script,
};

const struct rp_radio_driver rp_radio_at_old = {
    .name = "at-old",
    .summary = "AT-command modules RYLR896 and RYLR406; frames travel as base64",
    .baud = 115200,
    .frame_len_max = FRAME_MAX,
    .reports_signal = true,
    .sent_proof = RP_SENT_BY_TIMER,
    .airtime_extra_bytes = EXTRA_BYTES,
    .air_len = at_air_len,
    .check = at_old_check,
    .opened = rp_dialogue_opened,
    .receive = at_receive,
    .send = at_send,
    .tick = rp_dialogue_tick,
    .script = &at_script,
};
