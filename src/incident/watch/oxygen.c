/* Oxygen left, out of what was entered about cylinders and flow. */
#include <string.h>
#include <strings.h>

#include "clinical/oxygen.h"
#include "incident/watch/rules.h"

#define CYLINDERS_MAX 12 /* the oldest gives way; a party carries fewer */

struct cylinder {
    const char *name;      /* "" for the one nobody named */
    int32_t water_dl, bar; /* 0, -1: not known */
    int64_t usable_dls; /* usable, tenths of a litre times 60: flow per minute counts in seconds */
};

struct supply {
    struct cylinder at[CYLINDERS_MAX];
    size_t count, running; /* running: index, when flow_dlpm > 0 */
    int32_t flow_dlpm;
    uint32_t since_s, read_s;
    bool flow_known;
};

static size_t cylinder_of(struct supply *supply, const char *name)
{
    for (size_t i = 0; i < supply->count; i++) {
        if (strcasecmp(supply->at[i].name, name) == 0) {
            return i;
        }
    }
    if (supply->count == CYLINDERS_MAX) {
        memmove(&supply->at[0], &supply->at[1], (CYLINDERS_MAX - 1) * sizeof supply->at[0]);
        supply->count--;
        supply->running -= supply->running > 0;
    }
    supply->at[supply->count] = (struct cylinder){name, 0, -1, 0};
    return supply->count++;
}

/* What has flowed out of the running cylinder until then. */
static void drain(struct supply *supply, uint32_t until_s)
{
    if (supply->flow_dlpm > 0) { /* then a cylinder runs */
        struct cylinder *cylinder = &supply->at[supply->running];
        int64_t gone = (int64_t)supply->flow_dlpm * rp_watch_span(supply->since_s, until_s);
        cylinder->usable_dls = gone < cylinder->usable_dls ? cylinder->usable_dls - gone : 0;
    }
    supply->since_s = until_s;
}

static void read_cylinder(struct supply *supply, struct cylinder *cylinder,
                          const struct rp_oxygen_entry *entry)
{
    const struct rp_rec_oxygen *what = &entry->what;
    bool water = what->water_dl.state == RP_MEASURED;
    bool pressure = what->cylinder_bar.state == RP_MEASURED;
    if (water) {
        cylinder->water_dl = what->water_dl.value;
    }
    if (pressure) {
        cylinder->bar = what->cylinder_bar.value;
        supply->read_s = entry->from.happened_s;
    }
    struct rp_cylinder known = {cylinder->water_dl, cylinder->bar};
    int32_t usable_dl = 0;
    if ((water || pressure) &&
        rp_oxygen_usable(&known, 1, RP_OXYGEN_RESERVE_BAR, &usable_dl) == 0) {
        cylinder->usable_dls = (int64_t)usable_dl * 60;
    }
}

static void take_entry(struct supply *supply, const struct rp_oxygen_entry *entry)
{
    const struct rp_rec_oxygen *what = &entry->what;
    drain(supply, entry->from.happened_s);
    bool named = what->cylinder[0] != '\0' || supply->count == 0;
    size_t index = named ? cylinder_of(supply, what->cylinder) : supply->running;
    if (what->action == RP_O2_START || what->action == RP_O2_CHANGE) {
        supply->running = index;
        bool told = what->flow_dlpm.state == RP_MEASURED;
        supply->flow_known = told || (supply->flow_known && what->action == RP_O2_CHANGE);
        supply->flow_dlpm =
            told ? what->flow_dlpm.value : (supply->flow_known ? supply->flow_dlpm : 0);
    } else if (what->action == RP_O2_STOP) {
        supply->flow_dlpm = 0;
        supply->flow_known = false;
    }
    read_cylinder(supply, &supply->at[index], entry);
}

void rp_oxygen_left_of(const struct rp_episode *episode, uint32_t now_s,
                       struct rp_oxygen_left *out_left)
{
    struct supply supply;
    memset(&supply, 0, sizeof supply);
    memset(out_left, 0, sizeof *out_left);
    for (size_t i = 0; i < episode->oxygen.count; i++) {
        if (!episode->oxygen.at[i].from.voided) {
            take_entry(&supply, &episode->oxygen.at[i]);
        }
    }
    drain(&supply, now_s);
    if (!supply.flow_known || supply.flow_dlpm == 0 || supply.at[supply.running].water_dl == 0 ||
        supply.at[supply.running].bar < 0) {
        return;
    }
    int64_t usable_dls = 0;
    for (size_t i = 0; i < supply.count; i++) {
        usable_dls += supply.at[i].usable_dls;
    }
    out_left->known = true;
    out_left->left_s = (uint32_t)(usable_dls / supply.flow_dlpm);
    out_left->empty_s = now_s + out_left->left_s;
    out_left->read_s = supply.read_s;
    out_left->usable_dl = (int32_t)(usable_dls / 60);
    out_left->flow_dlpm = supply.flow_dlpm;
}
