/* The log as JSON lines: one record a line, in parts. */
#ifndef RP_CONTROL_RECORD_LINES_H
#define RP_CONTROL_RECORD_LINES_H

#include "control/show/show.h"

/* Made of the records, not of what is folded from them, so no row of handover/forms.h. */
#define RP_LINES_WORD    "jsonl"
#define RP_LINES_PURPOSE "every record, one as JSON a line"

/* Which lines. Records stand in order of log and sequence, so a part that begins after a record is
 * the same later, whatever was added meanwhile behind it. */
struct rp_lines_part {
    bool asked;                 /* somebody chose the part */
    bool whole;                 /* of all episodes, and what belongs to none */
    struct rp_record_ref after; /* origin 0: from the first on */
    uint32_t count;             /* at most so many; 0: as many as a reply holds */
};
/* "after 3589:42", "count 200", "whole": whether the word begins one, and reading it. */
bool rp_lines_part_takes(const char *word);
int rp_lines_part_read(struct rp_entry *entry, const char *word, struct rp_lines_part *part);

/* Each line: record, origin, seq, episode, kind, time_s, ago_s, exercise, urgent, unsynced, late
 * (recorded after the handover), via, by, "says" (record/json.h) and "body", the encoded record in
 * hexadecimal, as PROTOCOL.md has it; a record of a newer version has only the body. When there are
 * more, data has "next", the word after `after`. */
int rp_show_lines(struct rp_show *show, struct rp_episode_ref episode,
                  const struct rp_lines_part *part);

#endif
