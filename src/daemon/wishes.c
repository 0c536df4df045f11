#include "daemon/wishes.h"

/* A reset input is held, or a break lasts, for this time: far over the 100 ms that reset circuits
 * of boards take, and over one character at 300 bits per second. Common practice, no source. */
#define RESET_US 250000
/* The speed of configuration mode (E22, E32 and E220 user manuals). */
#define CONFIG_BAUD 9600

int rp_wishes_init(struct rp_wishes *wishes, const struct rp_settings *settings,
                   struct rp_problem *out_problem)
{
    *wishes = (struct rp_wishes){.settings = settings, .reset_end_us = RP_NEVER};
    return rp_pin_open(&wishes->pin, settings->mode_pin, out_problem);
}

void rp_wishes_deinit(struct rp_wishes *wishes)
{
    rp_pin_close(&wishes->pin);
}

/* Holds the module in reset, or lets it go. */
static void reset(struct rp_wishes *wishes, struct rp_line *line, bool held)
{
    const struct rp_settings *settings = wishes->settings;
    switch (settings->reset) {
    case RP_RESET_NONE:
        break;
    case RP_RESET_DTR:
        rp_line_signal(line, RP_LINE_DTR, settings->line.dtr == RP_LINE_OFF ? held : !held);
        break;
    case RP_RESET_RTS:
        rp_line_signal(line, RP_LINE_RTS, settings->line.rts == RP_LINE_OFF ? held : !held);
        break;
    case RP_RESET_BREAK:
        rp_line_signal(line, RP_LINE_BREAK, held);
        break;
    }
}

bool rp_wishes_fulfil(struct rp_wishes *wishes, enum rp_radio_wish wish, struct rp_line *line,
                      uint32_t baud, rp_time_us now_us)
{
    switch (wish) {
    case RP_RADIO_WISH_LINE_RESET:
        if (wishes->settings->reset != RP_RESET_NONE) {
            reset(wishes, line, true);
            wishes->reset_end_us = now_us + RESET_US;
        }
        break;
    case RP_RADIO_WISH_MODE_CONFIG:
        rp_pin_set(&wishes->pin, line, true);
        rp_line_set_baud(line, CONFIG_BAUD);
        break;
    case RP_RADIO_WISH_MODE_NORMAL:
        rp_pin_set(&wishes->pin, line, false);
        rp_line_set_baud(line, baud);
        break;
    case RP_RADIO_WISH_REOPEN:
        return true;
    case RP_RADIO_WISH_NONE:
        break;
    }
    return false;
}

void rp_wishes_tick(struct rp_wishes *wishes, struct rp_line *line, rp_time_us now_us)
{
    if (now_us >= wishes->reset_end_us) {
        wishes->reset_end_us = RP_NEVER;
        if (rp_line_fd(line) >= 0) {
            reset(wishes, line, false);
        }
    }
}

void rp_wishes_opened(struct rp_wishes *wishes, struct rp_line *line)
{
    wishes->reset_end_us = RP_NEVER;
    reset(wishes, line, false);
    rp_pin_set(&wishes->pin, line, false);
}
