/* Rules of the station itself: clock, database, modem, battery, and the stations it hears. */
#include <stdio.h>

#include "incident/watch/rules.h"

#define MIN_S        60u
#define RADIO_LOST_S (5 * MIN_S)

/* Counted from the opening, so that one answer holds for the episode. */
void rp_check_clock(struct rp_watch *watch)
{
    if (watch->in->station.clock_unsynced && !watch->over) {
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, watch->ep->opening_from.recorded_s, 0,
                       "this clock is not synchronised: times may be wrong");
    }
}

static const char *span_of(uint32_t span_s, char out_text[16])
{
    static const struct {
        uint32_t unit_s;
        const char *word;
    } units[] = {{86400, "days"}, {3600, "h"}, {60, "min"}, {1, "s"}};
    size_t i = 0;
    while (units[i].unit_s > 1 && span_s < 2 * units[i].unit_s) {
        i++;
    }
    snprintf(out_text, 16, "%u %s", (unsigned)(span_s / units[i].unit_s), units[i].word);
    return out_text;
}

/* What is timed goes on as it was when the clock is set back under a running computer. While it
 * was off nothing else told the time: what is due then comes too late. */
void rp_check_clock_back(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    char span[16];
    if (station->clock_back_s > 0 && !watch->over) {
        bool at_start = station->clock_back_at_start;
        rp_watch_raise(watch, at_start ? RP_SOUND_LOUD : RP_SOUND_SOFT, 0, station->clock_back_at_s,
                       0, "this station's clock was %s%s%s", at_start ? "" : "set back by ",
                       span_of(station->clock_back_s, span),
                       at_start ? " or more behind at its start" : "");
    }
}

void rp_check_store(struct rp_watch *watch)
{
    if (watch->in->station.store_failing) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, watch->ep->opening_from.recorded_s, 0,
                       "entries could not be written to the database");
    }
}

void rp_check_radio(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    uint32_t lost_s = rp_watch_span(station->radio_lost_s, watch->now_s);
    if (station->has_radio_lost && lost_s >= RADIO_LOST_S && !watch->over) {
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, station->radio_lost_s + RADIO_LOST_S, 0,
                       "the modem has not answered for %u min", (unsigned)(lost_s / MIN_S));
    }
}

void rp_check_battery(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    if (!station->has_battery || station->battery_pct > RP_WATCH_BATTERY_LOW || watch->over) {
        return;
    }
    bool empty = station->battery_pct <= RP_WATCH_BATTERY_EMPTY;
    rp_watch_raise(watch, empty ? RP_SOUND_LOUD : RP_SOUND_SOFT, 0,
                   empty ? station->battery_empty_s : station->battery_low_s, 0,
                   "this station's battery is at %u %%", station->battery_pct);
}

void rp_check_hop_lost(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    for (size_t i = 0; i < station->hop_count && !watch->over; i++) {
        const struct rp_watch_hop *hop = &station->hops[i];
        if (hop->lost) {
            char at[8];
            rp_watch_raise(watch, RP_SOUND_SOFT, hop->station, hop->lost_s, hop->heard_s,
                           "station %u: not heard since %s", hop->station,
                           rp_watch_time(hop->heard_s, at));
        }
    }
}

/* A station that is not heard at all is lost, not weak. */
void rp_check_hop_weak(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    for (size_t i = 0; i < station->hop_count && !watch->over; i++) {
        const struct rp_watch_hop *hop = &station->hops[i];
        if (hop->weak && !hop->lost) {
            rp_watch_raise(watch, RP_SOUND_SOFT, hop->station, hop->weak_s, hop->heard_s,
                           "station %u: %u %% of its frames get here, %u %% of ours there",
                           hop->station, hop->in_pct, hop->out_pct);
        }
    }
}

void rp_check_hop_battery(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    for (size_t i = 0; i < station->hop_count && !watch->over; i++) {
        const struct rp_watch_hop *hop = &station->hops[i];
        if (hop->low) {
            rp_watch_raise(watch, RP_SOUND_SOFT, hop->station, hop->low_s, hop->heard_s,
                           "station %u: its battery is at %u %%", hop->station, hop->battery_pct);
        }
    }
}
