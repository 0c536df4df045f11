/* The log of an episode as JSON lines: one record a line. */
#ifndef RP_CONTROL_RECORD_LINES_H
#define RP_CONTROL_RECORD_LINES_H

#include "control/show/show.h"

/* Made of the records, not of what is folded from them, so no row of handover/forms.h. */
#define RP_LINES_WORD    "jsonl"
#define RP_LINES_PURPOSE "every record, one as JSON a line"

/* Each line: record, origin, seq, episode, kind, time_s, ago_s, exercise, urgent, unsynced, via,
 * by, "says" (record/json.h) and "body", the encoded record in hexadecimal, as PROTOCOL.md has it;
 * a record of a newer version has only the body. In order of log and sequence. */
int rp_show_lines(struct rp_show *show, struct rp_episode_ref episode);

#endif
