#include "radio/drivers/dialogue.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "radio/text.h"
#include "ridgepost/error.h"

/* Common practice, no source, unless another is named. */
enum {
    RESYNC_MS = 300,   /* longer than the 200 ms within which RN2483 commands were seen to merge */
    RESET_MS = 2000,   /* longest start of a module */
    SETTLE_MS = 200,   /* after the module has said that it started */
    REVIVED_MS = 2000, /* a module that starts during a back-off is not kept waiting longer */
    ATTEMPT_RESET = 2, /* rungs of the ladder */
    ATTEMPT_FAULT = 3,
    RESTARTS_MAX = 4, /* in a row, and what makes them one: a brown-out at each sending may only */
    STORM_S = 60,     /* show after the frame was taken for sent */
    TRIES_MAX = 2,    /* of a step, once the module has answered another one */
    REFUSALS_MAX = 3, /* in a row */
    HEARD_S = 900,    /* a net is rarely silent for so long; ours */
    BACKOFF_FIRST_S = 5,
    BACKOFF_LAST_S = 60,
    COMMAND_CAP = 64,
};

bool rp_line_push(struct rp_radio *radio, uint8_t byte, bool in_data)
{
    struct rp_radio_line *line = &radio->line;
    if (byte == '\n' && !in_data) {
        bool whole = !line->skipping;
        if (line->skipping) {
            rp_line_done(radio);
        } else if (line->len > 0 && line->bytes[line->len - 1] == '\r') {
            line->len--;
        }
        return whole && line->len > 0;
    }
    if (line->skipping) {
        return false;
    }
    if (line->len == sizeof line->bytes) {
        radio->counters.lines_skipped++;
        line->skipping = true;
        return false;
    }
    line->bytes[line->len++] = byte;
    return false;
}

struct rp_view rp_line_view(const struct rp_radio *radio)
{
    return (struct rp_view){radio->line.bytes, radio->line.len};
}

void rp_line_done(struct rp_radio *radio)
{
    radio->line.len = 0;
    radio->line.skipping = false;
}

static const struct rp_dialogue_script *script_of(const struct rp_radio *radio)
{
    return radio->driver->script;
}

static void enter(struct rp_radio *radio, enum rp_dialogue_phase phase, rp_time_us deadline_us)
{
    if (radio->up) {
        radio->up = false;
        script_of(radio)->down(radio);
    }
    radio->dialogue.phase = phase;
    radio->deadline_us = deadline_us;
}

/* The empty line ends a command that was cut off, by a restart of the host or of the module. */
static void enter_resync(struct rp_radio *radio, rp_time_us now_us)
{
    rp_radio_out_clear(radio);
    if (radio->dialogue.woken && script_of(radio)->wake != NULL) {
        rp_radio_out_text(radio, script_of(radio)->wake);
    }
    radio->dialogue.woken = false;
    radio->dialogue.tries = 0;
    radio->said = (struct rp_settings_said){0};
    rp_radio_out_text(radio, "\r\n");
    enter(radio, RP_DIALOGUE_RESYNC, now_us + rp_radio_ms(RESYNC_MS));
}

static void enter_backoff(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_dialogue *dialogue = &radio->dialogue;
    dialogue->attempt = 0;
    dialogue->restarts_in_row = 0;
    dialogue->refusals_in_row = 0;
    rp_radio_out_clear(radio);
    enter(radio, RP_DIALOGUE_BACKOFF, now_us + rp_radio_ms(1000 * (int64_t)dialogue->backoff_s));
    dialogue->backoff_s =
        dialogue->backoff_s * 2 < BACKOFF_LAST_S ? dialogue->backoff_s * 2 : BACKOFF_LAST_S;
    rp_radio_push_fault(radio, dialogue->cause_code, dialogue->cause);
    rp_radio_wish(radio, RP_RADIO_WISH_LINE_RESET);
}

static void enter_step(struct rp_radio *radio, unsigned step, rp_time_us now_us)
{
    char command[COMMAND_CAP];
    if (!script_of(radio)->command(radio, step, command, sizeof command)) {
        radio->dialogue.phase = RP_DIALOGUE_UP;
        radio->baud_known = radio->baud;
        radio->dialogue.heard_us = now_us;
        rp_radio_set_up(radio);
        script_of(radio)->up(radio, now_us);
        return;
    }
    radio->dialogue.step = (uint8_t)step;
    radio->dialogue.tries++;
    rp_radio_out_text(radio, command);
    enter(radio, RP_DIALOGUE_STARTING, now_us + rp_radio_ms(RP_COMMAND_WAIT_MS));
}

void rp_dialogue_opened(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_dialogue *dialogue = &radio->dialogue;
    bool same_trouble = dialogue->reopening && dialogue->backoff_s != 0;
    *dialogue = (struct rp_dialogue){
        .backoff_s = same_trouble ? dialogue->backoff_s : BACKOFF_FIRST_S,
        .woken = dialogue->woken,
    };
    enter_resync(radio, now_us);
}

void rp_dialogue_cause(struct rp_radio *radio, int code, const char *format, ...)
{
    struct rp_dialogue *dialogue = &radio->dialogue;
    dialogue->cause_code = code;
    va_list args;
    va_start(args, format);
    vsnprintf(dialogue->cause, sizeof dialogue->cause, format, args);
    va_end(args);
}

enum rp_reply rp_dialogue_read_back(struct rp_radio *radio, const struct rp_question *question,
                                    struct rp_view line, bool refused)
{
    struct rp_settings_said said = radio->said;
    if (refused) {
        return RP_REPLY_OK;
    }
    if (!question->take(line, &said)) {
        radio->counters.rx_ignored++;
        return RP_REPLY_OK;
    }
    enum rp_setting differs = rp_settings_said_difference(&said, &radio->profile);
    if (differs == RP_SETTING_COUNT) {
        radio->said = said;
        return RP_REPLY_OK;
    }
    rp_dialogue_cause(radio, RP_E_INVALID, "the module says %s %ld where the net has %ld",
                      rp_setting_name(differs), (long)rp_setting_value(&said.profile, differs),
                      (long)rp_setting_value(&radio->profile, differs));
    return RP_REPLY_REFUSED;
}

void rp_dialogue_fail(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_dialogue *dialogue = &radio->dialogue;
    rp_radio_finish_unsent(radio, dialogue->cause_code, radio->tx.on_wire);
    dialogue->attempt++;
    if (dialogue->attempt >= ATTEMPT_FAULT) {
        enter_backoff(radio, now_us);
    } else {
        enter_resync(radio, now_us);
    }
}

void rp_dialogue_timeout(struct rp_radio *radio, const char *command, rp_time_us now_us)
{
    radio->counters.timeouts++;
    rp_dialogue_cause(radio, RP_E_TIMEOUT,
                      "no answer to \"%.30s\": check power, cable and the speed (%lu)", command,
                      (unsigned long)radio->baud);
    rp_dialogue_fail(radio, now_us);
}

void rp_dialogue_success(struct rp_radio *radio)
{
    struct rp_dialogue *dialogue = &radio->dialogue;
    dialogue->attempt = 0;
    dialogue->refusals_in_row = 0;
    dialogue->backoff_s = BACKOFF_FIRST_S;
    radio->baud_known = radio->baud;
}

void rp_dialogue_heard(struct rp_radio *radio, rp_time_us now_us)
{
    radio->dialogue.heard_us = now_us;
}

bool rp_dialogue_refresh(struct rp_radio *radio, rp_time_us now_us)
{
    if (radio->tx.pending ||
        now_us - radio->dialogue.heard_us < rp_radio_ms(1000 * (int64_t)HEARD_S)) {
        return false;
    }
    radio->counters.refreshes++;
    enter_resync(radio, now_us);
    return true;
}

bool rp_dialogue_refused(struct rp_radio *radio, rp_time_us now_us)
{
    radio->dialogue.refusals_in_row++;
    if (radio->dialogue.refusals_in_row < REFUSALS_MAX) {
        return false;
    }
    radio->dialogue.refusals_in_row = 0;
    rp_dialogue_fail(radio, now_us);
    return true;
}

static void shorten(struct rp_radio *radio, rp_time_us deadline_us)
{
    if (deadline_us < radio->deadline_us) {
        radio->deadline_us = deadline_us;
    }
}

static void restarted(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_dialogue *dialogue = &radio->dialogue;
    if (dialogue->phase == RP_DIALOGUE_RESET) { /* asked for */
        shorten(radio, now_us + rp_radio_ms(SETTLE_MS));
        return;
    }
    radio->counters.restarts++;
    if (dialogue->phase == RP_DIALOGUE_BACKOFF) {
        shorten(radio, now_us + rp_radio_ms(REVIVED_MS));
        return;
    }
    rp_radio_finish_unsent(radio, RP_E_IO, radio->tx.on_wire);
    if (radio->up) {
        rp_radio_push_state(radio, RP_RADIO_RESTARTED);
    }
    bool storm = now_us - dialogue->restart_us < rp_radio_ms(1000 * STORM_S);
    dialogue->restarts_in_row = storm ? (uint8_t)(dialogue->restarts_in_row + 1) : 1;
    dialogue->restart_us = now_us;
    if (dialogue->restarts_in_row >= RESTARTS_MAX) {
        rp_dialogue_cause(radio, RP_E_IO,
                          "the module restarts again and again: check its supply and battery, "
                          "lower power_dbm");
        enter_backoff(radio, now_us);
    } else {
        enter_resync(radio, now_us);
    }
}

/* A byte of the command or of its answer may have been lost: ask once more, but not a module that
 * has not answered anything yet. */
static bool try_again(struct rp_radio *radio, rp_time_us now_us)
{
    const struct rp_dialogue *dialogue = &radio->dialogue;
    if (dialogue->step == 0 || dialogue->tries >= TRIES_MAX) {
        return false;
    }
    enter_step(radio, dialogue->step, now_us);
    return true;
}

static void step_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    unsigned step = radio->dialogue.step;
    switch (script_of(radio)->reply(radio, step, line)) {
    case RP_REPLY_OK:
        radio->dialogue.tries = 0;
        enter_step(radio, step + 1, now_us);
        break;
    case RP_REPLY_SKIP:
        radio->dialogue.tries = 0;
        enter_step(radio, step + 2, now_us);
        break;
    case RP_REPLY_REFUSED:
        if (!try_again(radio, now_us)) {
            rp_dialogue_fail(radio, now_us);
        }
        break;
    case RP_REPLY_IGNORED:
        radio->counters.rx_ignored++;
        break;
    }
}

void rp_dialogue_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us)
{
    const struct rp_dialogue_script *script = script_of(radio);
    if (script->is_restart(radio, line)) {
        restarted(radio, now_us);
    } else if (script->unsolicited(radio, line, now_us)) {
        return;
    } else if (radio->dialogue.phase == RP_DIALOGUE_STARTING) {
        step_line(radio, line, now_us);
    } else if (radio->dialogue.phase == RP_DIALOGUE_UP) {
        script->line(radio, line, now_us);
    } else {
        radio->counters.rx_ignored++;
    }
}

static void resync_over(struct rp_radio *radio, rp_time_us now_us)
{
    if (radio->dialogue.attempt == ATTEMPT_RESET) {
        radio->counters.resets++;
        rp_radio_out_text(radio, script_of(radio)->reset);
        enter(radio, RP_DIALOGUE_RESET, now_us + rp_radio_ms(RESET_MS));
    } else {
        enter_step(radio, 0, now_us);
    }
}

static void step_over(struct rp_radio *radio, rp_time_us now_us)
{
    char command[COMMAND_CAP] = "";
    script_of(radio)->command(radio, radio->dialogue.step, command, sizeof command);
    command[strcspn(command, "\r")] = '\0';
    const struct rp_dialogue_script *script = script_of(radio);
    unsigned step = radio->dialogue.step;
    if (try_again(radio, now_us)) {
        radio->counters.timeouts++;
    } else if (step >= script->questions_at && step < script->questions_at + script->questions) {
        /* A firmware that does not know the question need not say so; a module that is dead is
         * found out by the next command. */
        radio->counters.timeouts++;
        radio->dialogue.tries = 0;
        enter_step(radio, step + 1, now_us);
    } else {
        rp_dialogue_timeout(radio, command, now_us);
    }
}

void rp_dialogue_tick(struct rp_radio *radio, rp_time_us now_us)
{
    switch (radio->dialogue.phase) {
    case RP_DIALOGUE_RESYNC:
        resync_over(radio, now_us);
        break;
    case RP_DIALOGUE_RESET:
        enter_step(radio, 0, now_us);
        break;
    case RP_DIALOGUE_STARTING:
        step_over(radio, now_us);
        break;
    case RP_DIALOGUE_UP:
        script_of(radio)->tick(radio, now_us);
        break;
    case RP_DIALOGUE_BACKOFF: /* an owner that opens the port again begins anew; others go on */
        rp_radio_wish(radio, RP_RADIO_WISH_REOPEN);
        enter_resync(radio, now_us);
        break;
    case RP_DIALOGUE_CLOSED:
        break;
    }
}
