#include "sim/world/agenda.h"

#include <assert.h>
#include <stdlib.h>

void sim_agenda_init(struct sim_agenda *agenda, size_t count)
{
    *agenda = (struct sim_agenda){.count = count};
    agenda->due_us = malloc(count * sizeof agenda->due_us[0]);
    agenda->heap = malloc(count * sizeof agenda->heap[0]);
    agenda->place = malloc(count * sizeof agenda->place[0]);
    assert(agenda->due_us != NULL && agenda->heap != NULL && agenda->place != NULL);
    for (size_t slot = 0; slot < count; slot++) {
        agenda->due_us[slot] = RP_NEVER;
    }
}

void sim_agenda_deinit(struct sim_agenda *agenda)
{
    free(agenda->due_us);
    free(agenda->heap);
    free(agenda->place);
}

static int is_before(const struct sim_agenda *agenda, uint32_t a, uint32_t b)
{
    return agenda->due_us[a] < agenda->due_us[b] ||
           (agenda->due_us[a] == agenda->due_us[b] && a < b);
}

static void put(struct sim_agenda *agenda, size_t at, uint32_t slot)
{
    agenda->heap[at] = slot;
    agenda->place[slot] = (uint32_t)at;
}

static void sift_up(struct sim_agenda *agenda, size_t at)
{
    uint32_t slot = agenda->heap[at];
    while (at > 0 && is_before(agenda, slot, agenda->heap[(at - 1) / 2])) {
        put(agenda, at, agenda->heap[(at - 1) / 2]);
        at = (at - 1) / 2;
    }
    put(agenda, at, slot);
}

static void sift_down(struct sim_agenda *agenda, size_t at)
{
    uint32_t slot = agenda->heap[at];
    for (;;) {
        size_t child = 2 * at + 1;
        if (child >= agenda->used) {
            break;
        }
        if (child + 1 < agenda->used &&
            is_before(agenda, agenda->heap[child + 1], agenda->heap[child])) {
            child++;
        }
        if (!is_before(agenda, agenda->heap[child], slot)) {
            break;
        }
        put(agenda, at, agenda->heap[child]);
        at = child;
    }
    put(agenda, at, slot);
}

static void take_out(struct sim_agenda *agenda, size_t at)
{
    uint32_t moved = agenda->heap[--agenda->used];
    if (at < agenda->used) {
        put(agenda, at, moved);
        sift_up(agenda, at);
        sift_down(agenda, agenda->place[moved]);
    }
}

void sim_agenda_set(struct sim_agenda *agenda, size_t slot, rp_time_us due_us)
{
    assert(slot < agenda->count);
    rp_time_us before_us = agenda->due_us[slot];
    if (before_us == due_us) {
        return;
    }
    if (due_us == RP_NEVER) {
        take_out(agenda, agenda->place[slot]);
        agenda->due_us[slot] = RP_NEVER;
        return;
    }
    agenda->due_us[slot] = due_us;
    if (before_us == RP_NEVER) {
        put(agenda, agenda->used, (uint32_t)slot);
        agenda->used++;
    }
    sift_up(agenda, agenda->place[slot]);
    sift_down(agenda, agenda->place[slot]);
}

rp_time_us sim_agenda_next(const struct sim_agenda *agenda, size_t *out_slot)
{
    if (agenda->used == 0) {
        return RP_NEVER;
    }
    *out_slot = agenda->heap[0];
    return agenda->due_us[agenda->heap[0]];
}
