/* Typed lines to a station without a radio, as the command line sends them. */
#ifndef CTL_H
#define CTL_H

#include <jansson.h>

#include "control/control.h"
#include "node_kit.h"

struct ctl {
    struct kit kit;
    struct rp_control *control;
    json_t *reply; /* the last one */
};

/* A started station 7, "Ridge Camp". */
struct ctl ctl_new(void);
void ctl_end(struct ctl *ctl);
void ctl_restart(struct ctl *ctl);
/* Splits the line at spaces ("two words" is one), takes --by, --via, --ago and --sure out of it,
 * sends it, and keeps the reply. */
void ctl_send(struct ctl *ctl, const char *line);
/* Sends bytes as they are. */
void ctl_send_raw(struct ctl *ctl, struct rp_view bytes);
/* Sends; ends the test unless it was accepted. Returns the reply's text. */
const char *ctl_ok(struct ctl *ctl, const char *line);
/* Sends; ends the test unless it was refused with exactly this. */
void ctl_refused(struct ctl *ctl, const char *line, const char *code, const char *text);
const char *ctl_error(const struct ctl *ctl, const char *key); /* "code", "field" or "text" */
/* The record of the newest sequence in the own log. */
struct rp_record ctl_last(struct ctl *ctl);

#endif
