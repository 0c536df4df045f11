/* The local control protocol: one JSON object a line, request and reply. The same requests serve
 * the command line and scripts.
 *
 * Request: {"v":1,"command":"obs","args":["7-1","spo2","71","air"],"by":"Ines","via":"voice",
 *           "ago":"20min","sure":true,"key":"f3a1..."}; only "command" is needed. "key" makes an
 *           entry safe to send twice, see rp_node_entry_begin.
 * Reply:   {"v":1,"ok":true,"text":"...","data":{...}} or
 *          {"v":1,"ok":false,"error":{"code":"RP_E_INVALID","field":"spo2","text":"..."}}.
 * An entry of several records may fail after the first: the error's text then begins with what was
 * recorded. */
#ifndef RP_CONTROL_CONTROL_H
#define RP_CONTROL_CONTROL_H

#include "control/pages.h"
#include "node/node.h"

#define RP_CONTROL_TEXT_MAX 2097152 /* every form of a handover fits, see handover/forms.h */

struct rp_control {
    struct rp_node *node;           /* borrowed; NULL: no station, only `compute` works */
    const struct rp_pages *pages;   /* borrowed; NULL: this station serves no pages */
    char text[RP_CONTROL_TEXT_MAX]; /* the reply's text while it is made */
};

/* Handles one request; returns the reply, NUL-terminated, without line end, to be freed with
 * free(); NULL only when memory is out. Never fails otherwise: a bad request has a reply that
 * says so. */
char *rp_control_handle(struct rp_control *control, struct rp_view line, struct rp_moment moment);

/* The commands, for help texts: NULL after the last. */
const char *rp_control_usage(size_t index, const char **out_example);

#endif
