/* The life of a modem that speaks in lines: start-up from an unknown state, one command and one
 * answer at a time, restarts, and the recovery ladder. Private to src/radio.
 *
 * The ladder, one rung for each failure without a success between them: (1) an empty line, quiet,
 * all settings again; (2) the same with a soft reset; (3) RP_RADIO_FAULT with the last cause, the
 * wish for a reset by the control line, and a back-off of 5, 10, 20, 40, 60, 60 ... seconds; (4)
 * the wish to open the port again, at the next speed of a list when the module has never answered
 * at this one, and the first rung again. A success is a frame sent or a probe answered, not just a
 * start-up, so that a module which starts well and never sends still climbs. */
#ifndef RP_RADIO_DIALOGUE_H
#define RP_RADIO_DIALOGUE_H

#include "radio/driver.h"
#include "radio/probe/questions.h"

enum rp_reply {
    RP_REPLY_IGNORED, /* not an answer to this step */
    RP_REPLY_OK,
    RP_REPLY_SKIP,    /* good, and the next step is not needed */
    RP_REPLY_REFUSED, /* the driver has called rp_dialogue_cause */
};

struct rp_dialogue_script {
    const char *reset; /* the soft reset command, with its line end */
    const char *wake;  /* what the module waits for after a break; NULL: nothing */
    /* Writes the command of a step, with its line end and NUL; false when the start-up is over. */
    bool (*command)(const struct rp_radio *radio, unsigned step, char *out, size_t cap);
    enum rp_reply (*reply)(struct rp_radio *radio, unsigned step, struct rp_view line);
    unsigned questions_at, questions; /* the steps that only read back: silence is passed over */
    /* Whether the line says that the module has just started. */
    bool (*is_restart)(const struct rp_radio *radio, struct rp_view line);
    /* Takes lines that may come at any time; false: the line is something else. */
    bool (*unsolicited)(struct rp_radio *radio, struct rp_view line, rp_time_us now_us);
    void (*up)(struct rp_radio *radio, rp_time_us now_us); /* settings applied */
    void (*down)(struct rp_radio *radio);                  /* leaving that state */
    void (*line)(struct rp_radio *radio, struct rp_view line, rp_time_us now_us); /* while up */
    void (*tick)(struct rp_radio *radio, rp_time_us now_us);                      /* while up */
};

enum {
    RP_COMMAND_WAIT_MS = 1000, /* both families answer within some 10 ms; common practice */
    RP_PROBE_WAIT_S = 300,     /* silence after which the module is asked whether it lives */
};

/* Adds one byte to radio->line. True when a line is complete: it lies there without its CR LF until
 * rp_line_done. in_data: a line end is content here. */
bool rp_line_push(struct rp_radio *radio, uint8_t byte, bool in_data);
struct rp_view rp_line_view(const struct rp_radio *radio);
void rp_line_done(struct rp_radio *radio);

void rp_dialogue_opened(struct rp_radio *radio, rp_time_us now_us);
void rp_dialogue_line(struct rp_radio *radio, struct rp_view line, rp_time_us now_us);
void rp_dialogue_tick(struct rp_radio *radio, rp_time_us now_us);
/* The answer to a question about a setting that has just been made. Another value than the
 * profile's is refused; a module that does not know the question (`refused`), or answers in a form
 * of its own, goes on unread. */
enum rp_reply rp_dialogue_read_back(struct rp_radio *radio, const struct rp_question *question,
                                    struct rp_view line, bool refused);
/* Remembers why something failed, for the fault event. */
void rp_dialogue_cause(struct rp_radio *radio, int code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The last cause takes the ladder one rung up. The frame in flight becomes UNSENT, maybe aired when
 * its command was queued. */
void rp_dialogue_fail(struct rp_radio *radio, rp_time_us now_us);
/* The same, for a command without an answer in time. */
void rp_dialogue_timeout(struct rp_radio *radio, const char *command, rp_time_us now_us);
/* A frame was sent or a probe answered: the ladder starts at its foot again. */
void rp_dialogue_success(struct rp_radio *radio);
/* A frame was heard: the settings are good. */
void rp_dialogue_heard(struct rp_radio *radio, rp_time_us now_us);
/* To be called where nothing is in flight. A byte lost in a command can leave another valid setting
 * behind, which the module acknowledges: when nothing has been heard for a quarter of an hour all
 * settings are applied again. True: they are, and the driver is no longer up. */
bool rp_dialogue_refresh(struct rp_radio *radio, rp_time_us now_us);
/* A frame was refused: true when that has happened too often in a row, and the ladder was taken. */
bool rp_dialogue_refused(struct rp_radio *radio, rp_time_us now_us);

#endif
