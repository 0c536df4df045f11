#include "radio/radio.h"

#include <assert.h>
#include <string.h>

#include "radio/airtime.h"
#include "radio/drivers/dialogue.h"
#include "radio/drivers/uart_registers.h"
#include "radio/text.h"
#include "ridgepost/error.h"

enum {
    FREQ_MIN_HZ = 137000000, /* SX1276/77/78/79 data sheet rev 4: 137 to 1020 MHz */
    FREQ_MAX_HZ = 1020000000,
    POWER_MIN_DBM = -3,
    POWER_MAX_DBM = 22, /* include/ridgepost/radio.h */
    PREAMBLE_MIN = 6,   /* SX1276 data sheet rev 4, 4.1.1.6 */
    AIR_LEN_MAX = 255,  /* the length field of the LoRa header is one byte */
};

/* Speeds met in the field after a reset or another program's setting: the usual ones of the
 * families (57600, 115200, 9600) and what their references list between (REYAX guide 56312E33,
 * AT+IPR; E22 user manual, REG0). */
static const uint32_t bauds[] = {115200, 57600, 9600, 38400, 19200};
enum { BAUDS = sizeof bauds / sizeof bauds[0] };

/* A driver that armours by itself (its modem carries text only) says so by air_len. */
static bool armours_itself(const struct rp_radio *radio)
{
    return radio->driver->air_len != NULL;
}

bool rp_radio_armoured(const struct rp_radio *radio)
{
    return radio->profile.text_armour && !armours_itself(radio);
}

/* The limits every family shares; a family's own come after. */
static int check_common(struct rp_radio *radio)
{
    const struct rp_radio_profile *p = &radio->profile;
    if (p->freq_hz < FREQ_MIN_HZ || p->freq_hz > FREQ_MAX_HZ) {
        return rp_radio_refuse(radio,
                               "freq_hz %lu is outside 137000000 to 1020000000, for example "
                               "869525000",
                               (unsigned long)p->freq_hz);
    }
    if (p->spreading_factor < 7 || p->spreading_factor > 12) {
        return rp_radio_refuse(radio, "spreading_factor %u is outside 7 to 12, for example 9",
                               (unsigned)p->spreading_factor);
    }
    if (p->bandwidth_hz != 125000 && p->bandwidth_hz != 250000 && p->bandwidth_hz != 500000) {
        return rp_radio_refuse(radio,
                               "bandwidth_hz %lu is not 125000, 250000 or 500000, for example "
                               "125000",
                               (unsigned long)p->bandwidth_hz);
    }
    if (p->coding_rate < 5 || p->coding_rate > 8) {
        return rp_radio_refuse(radio, "coding_rate %u is outside 5 to 8, for example 5 for 4/5",
                               (unsigned)p->coding_rate);
    }
    if (p->power_dbm < POWER_MIN_DBM || p->power_dbm > POWER_MAX_DBM) {
        return rp_radio_refuse(radio, "power_dbm %d is outside -3 to 22, for example 14",
                               p->power_dbm);
    }
    if (armours_itself(radio) && !p->text_armour) {
        return rp_radio_refuse(radio,
                               "this modem carries text only: set text_armour = 1 in the net "
                               "file, at every station");
    }
    if (p->preamble_symbols < PREAMBLE_MIN) {
        return rp_radio_refuse(radio, "preamble_symbols %u is below 6, for example 8",
                               (unsigned)p->preamble_symbols);
    }
    return 0;
}

int rp_radio_init(struct rp_radio *radio, const char *driver_name,
                  const struct rp_radio_profile *profile, const char **out_why)
{
    memset(radio, 0, sizeof *radio);
    radio->profile = *profile;
    radio->deadline_us = RP_NEVER;
    radio->driver = rp_radio_driver_find(driver_name);
    int result = RP_E_NOT_FOUND;
    if (radio->driver == NULL) {
        rp_radio_refuse(radio, "there is no radio family \"%.40s\"; an example is \"%s\"",
                        driver_name, rp_radio_driver_name(0));
    } else {
        radio->baud = radio->driver->baud;
        radio->low_data_rate = radio->driver->low_data_rate;
        result = check_common(radio);
        if (result == 0 && radio->driver->check != NULL) {
            result = radio->driver->check(radio);
        }
    }
    if (result != 0 && out_why != NULL) {
        *out_why = radio->why;
    }
    return result;
}

static void forget_port(struct rp_radio *radio)
{
    if (radio->up && radio->driver->script != NULL) {
        radio->driver->script->down(radio);
    }
    if (radio->opened && radio->driver->closed != NULL) {
        radio->driver->closed(radio);
    }
    rp_radio_finish_unsent(radio, RP_E_GONE, true);
    rp_radio_out_clear(radio);
    radio->up = false;
    radio->said = (struct rp_settings_said){0};
    radio->wishes = 0;
    radio->deadline_us = RP_NEVER;
    radio->line.len = 0;
    radio->line.skipping = false;
    radio->dialogue.phase = RP_DIALOGUE_CLOSED;
}

void rp_radio_opened(struct rp_radio *radio, rp_time_us now_us)
{
    forget_port(radio);
    radio->opened = true;
    radio->driver->opened(radio, now_us);
}

void rp_radio_closed(struct rp_radio *radio, rp_time_us now_us)
{
    (void)now_us;
    forget_port(radio);
    radio->opened = false;
}

void rp_radio_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    if (radio->opened) {
        radio->driver->receive(radio, bytes, now_us);
    }
}

int rp_radio_send(struct rp_radio *radio, struct rp_view frame, rp_time_us now_us)
{
    if (!radio->up) {
        return RP_E_STATE;
    }
    if (frame.len == 0) {
        return RP_E_INVALID;
    }
    if (frame.len > rp_radio_frame_len_max(radio)) {
        return RP_E_TOO_LONG;
    }
    if (radio->tx.pending || !rp_radio_outcome_fits(radio)) {
        return RP_E_BUSY;
    }
    radio->tx.pending = true;
    radio->tx.on_wire = false;
    if (rp_radio_armoured(radio)) {
        radio->tx.len = (uint16_t)rp_base64_len(frame.len);
        rp_base64_encode(frame, (char *)radio->tx.frame);
    } else {
        radio->tx.len = (uint16_t)frame.len;
        memcpy(radio->tx.frame, frame.bytes, frame.len);
    }
    radio->driver->send(radio, now_us);
    return 0;
}

rp_time_us rp_radio_wake(const struct rp_radio *radio)
{
    return radio->deadline_us;
}

void rp_radio_tick(struct rp_radio *radio, rp_time_us now_us)
{
    if (now_us >= radio->deadline_us) {
        radio->deadline_us = RP_NEVER;
        radio->driver->tick(radio, now_us);
        assert(radio->deadline_us > now_us);
    }
}

void rp_radio_set_up(struct rp_radio *radio)
{
    radio->up = true;
    rp_radio_push_state(radio, RP_RADIO_READY);
}

void rp_radio_set_low_data_rate(struct rp_radio *radio, enum rp_low_data_rate rule)
{
    radio->low_data_rate = rule != RP_LOW_DATA_RATE_USUAL ? rule : radio->driver->low_data_rate;
}

bool rp_radio_ready(const struct rp_radio *radio)
{
    return radio->up && !radio->tx.pending;
}

uint16_t rp_radio_frame_len_max(const struct rp_radio *radio)
{
    uint16_t longest = radio->driver->frame_len_max;
    /* Six bits a character. */
    return rp_radio_armoured(radio) ? (uint16_t)(longest * 6 / 8) : longest;
}

uint32_t rp_radio_baud(const struct rp_radio *radio)
{
    return radio->baud;
}

void rp_radio_set_baud(struct rp_radio *radio, uint32_t baud)
{
    radio->baud = baud != 0 ? baud : radio->driver->baud;
}

bool rp_radio_uses_mode_pin(const struct rp_radio *radio)
{
    return radio->driver->uart != NULL && radio->driver->uart->registers > 0;
}

void rp_radio_set_mode_pin(struct rp_radio *radio, bool present)
{
    radio->has_mode_pin = present;
}

void rp_radio_wish(struct rp_radio *radio, enum rp_radio_wish wish)
{
    radio->wishes |= UINT32_C(1) << wish;
}

/* The next speed to try: by turns the one at which the module has answered before, and the next of
 * the list. A modem that does not speak in lines cannot be told to be wrong, and keeps its own. */
static void next_baud(struct rp_radio *radio)
{
    uint32_t before = radio->baud;
    if (radio->driver->script == NULL) {
        return;
    }
    if (radio->baud_known != 0 && before != radio->baud_known) {
        radio->baud = radio->baud_known;
        return;
    }
    while (radio->baud == before) {
        radio->baud = bauds[radio->baud_next];
        radio->baud_next = (uint8_t)((radio->baud_next + 1) % BAUDS);
    }
}

enum rp_radio_wish rp_radio_take_wish(struct rp_radio *radio)
{
    enum rp_radio_wish wish = RP_RADIO_WISH_LINE_RESET;
    while (wish <= RP_RADIO_WISH_MODE_NORMAL && (radio->wishes >> wish & 1) == 0) {
        wish++;
    }
    if (wish > RP_RADIO_WISH_MODE_NORMAL) {
        return RP_RADIO_WISH_NONE;
    }
    radio->wishes &= ~(UINT32_C(1) << wish);
    if (wish == RP_RADIO_WISH_LINE_RESET) {
        radio->counters.line_resets++;
        radio->dialogue.woken = true;
    } else if (wish == RP_RADIO_WISH_REOPEN) {
        radio->counters.reopens++;
        radio->dialogue.reopening = true;
        next_baud(radio);
    }
    return wish;
}

const struct rp_settings_said *rp_radio_settings_said(const struct rp_radio *radio)
{
    return &radio->said;
}

const char *rp_radio_ladder(const struct rp_radio *radio)
{
    static const char *const words[] = {
        [RP_DIALOGUE_CLOSED] = "closed",    [RP_DIALOGUE_RESYNC] = "resync",
        [RP_DIALOGUE_RESET] = "soft reset", [RP_DIALOGUE_STARTING] = "settings",
        [RP_DIALOGUE_UP] = "well",          [RP_DIALOGUE_BACKOFF] = "back-off",
    };
    if (!radio->opened) {
        return "closed";
    }
    if (radio->driver->script != NULL) {
        return words[radio->dialogue.phase];
    }
    if (radio->driver->uart != NULL && radio->state.uart.phase == RP_UART_BACKOFF) {
        return "back-off";
    }
    return radio->up ? "well" : "settings";
}

rp_time_us rp_radio_serial_us(const struct rp_radio *radio, size_t len)
{
    return (rp_time_us)len * 10 * 1000000 / radio->baud + 1;
}

uint32_t rp_radio_airtime_us(const struct rp_radio *radio, size_t len)
{
    /* More than a frame can hold is charged as the longest transmission there is. */
    size_t air_len = len < AIR_LEN_MAX ? len : AIR_LEN_MAX;
    if (armours_itself(radio)) {
        air_len = radio->driver->air_len(air_len);
    } else if (radio->profile.text_armour) {
        air_len = rp_base64_len(air_len);
    }
    air_len += radio->driver->airtime_extra_bytes;
    air_len = air_len < AIR_LEN_MAX ? air_len : AIR_LEN_MAX;
    int64_t airtime_us =
        radio->driver->airtime_us != NULL
            ? radio->driver->airtime_us(radio, air_len)
            : rp_airtime_ruled_us(&radio->profile, radio->low_data_rate, (unsigned)air_len);
    assert(airtime_us > 0 && airtime_us <= UINT32_MAX);
    return (uint32_t)airtime_us;
}
