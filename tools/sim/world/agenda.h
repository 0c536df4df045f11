/* What happens next: a heap of numbered slots, each due at one moment or never. Equal moments come
 * in the order of their numbers, so that the same seed tells the same story. */
#ifndef SIM_WORLD_AGENDA_H
#define SIM_WORLD_AGENDA_H

#include <stddef.h>
#include <stdint.h>

#include "ridgepost/view.h"

struct sim_agenda {
    size_t count;       /* slots, numbered from 0 */
    size_t used;        /* of them in the heap */
    rp_time_us *due_us; /* [count], RP_NEVER: not in the heap */
    uint32_t *heap;     /* [count], slot numbers */
    uint32_t *place;    /* [count], where a slot stands in the heap */
};

/* All slots are never due. Out of memory ends the program. */
void sim_agenda_init(struct sim_agenda *agenda, size_t count);
void sim_agenda_deinit(struct sim_agenda *agenda);
void sim_agenda_set(struct sim_agenda *agenda, size_t slot, rp_time_us due_us);
/* The earliest moment, RP_NEVER when nothing is due; *out_slot is then untouched. */
rp_time_us sim_agenda_next(const struct sim_agenda *agenda, size_t *out_slot);

#endif
