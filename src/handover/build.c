#include "handover/build.h"

#include <assert.h>
#include <string.h>

#include "clinical/air.h"
#include "geo/geo.h"
#include "wire/frame.h"

void rp_build_row(struct rp_build *b, enum rp_text_id label)
{
    b->row.section = b->section;
    b->row.style = RP_ROW_PLAIN;
    b->row.label = label;
    b->row.from = NULL;
    b->row.struck = false;
    b->row.correction = NULL;
    b->row.item_count = 0;
    b->join = RP_JOIN_SPACE;
    b->opens = false;
}

void rp_build_end(struct rp_build *b)
{
    if (b->row.item_count > 0) {
        b->visit(b->arg, &b->row);
    }
}

void rp_build_room(struct rp_build *b, size_t items)
{
    if (b->row.item_count + items + 8 > RP_ROW_ITEMS_MAX) {
        rp_build_end(b);
        rp_build_row(b, RP_TX_NONE);
    }
}

void rp_build_join(struct rp_build *b, enum rp_join join)
{
    b->join = join;
}

void rp_build_open(struct rp_build *b)
{
    b->opens = true;
}

void rp_build_close(struct rp_build *b)
{
    assert(b->row.item_count > 0 && !b->opens);
    b->row.items[b->row.item_count - 1].closes = true;
}

struct rp_sheet_item *rp_build_item(struct rp_build *b, enum rp_item_kind kind,
                                    enum rp_text_id label)
{
    assert(b->row.item_count < RP_ROW_ITEMS_MAX);
    struct rp_sheet_item *item = &b->row.items[b->row.item_count++];
    *item = (struct rp_sheet_item){
        .kind = kind,
        .join = b->join,
        .label = label,
        .opens = b->opens,
    };
    b->join = RP_JOIN_SPACE;
    b->opens = false;
    return item;
}

void rp_build_word(struct rp_build *b, enum rp_text_id word)
{
    rp_build_labelled(b, RP_TX_NONE, word);
}

void rp_build_loud(struct rp_build *b, enum rp_text_id word)
{
    rp_build_item(b, RP_ITEM_WORD, RP_TX_NONE)->word = word;
    b->row.items[b->row.item_count - 1].loud = true;
}

void rp_build_labelled(struct rp_build *b, enum rp_text_id label, enum rp_text_id word)
{
    rp_build_item(b, RP_ITEM_WORD, label)->word = word;
}

void rp_build_entered(struct rp_build *b, enum rp_text_id label, const char *text)
{
    rp_build_item(b, RP_ITEM_ENTERED, label)->entered = text;
}

void rp_build_number(struct rp_build *b, enum rp_text_id label, int64_t number, uint8_t decimals,
                     enum rp_text_id unit)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_NUMBER, label);
    item->number = number;
    item->decimals = decimals;
    item->word = unit;
}

void rp_build_value(struct rp_build *b, enum rp_text_id label, struct rp_value value,
                    uint8_t decimals, enum rp_text_id unit, const struct rp_obs *taken_from)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_VALUE, label);
    item->state = value.state;
    item->number = value.state == RP_MEASURED ? value.value : 0;
    item->decimals = decimals;
    item->word = unit;
    item->taken_from = taken_from;
}

void rp_build_time(struct rp_build *b, enum rp_text_id label, uint32_t time_s)
{
    rp_build_item(b, RP_ITEM_TIME, label)->time_s = time_s;
}

void rp_build_age(struct rp_build *b, enum rp_text_id label, uint32_t time_s)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_AGE, label);
    item->time_s = time_s;
    item->word = RP_TX_AGE_OLD;
    item->live = true;
}

void rp_build_span(struct rp_build *b, enum rp_text_id label, uint32_t span_s, bool live)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_SPAN, label);
    item->number = span_s;
    item->live = live;
}

void rp_build_station(struct rp_build *b, enum rp_text_id label, uint8_t station)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_STATION, label);
    item->number = station;
    item->entered =
        b->in->station_name_of != NULL ? b->in->station_name_of(b->in->names_ctx, station) : NULL;
}

void rp_build_ref(struct rp_build *b, enum rp_text_id label, struct rp_record_ref ref)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_REF, label);
    item->number = rp_origin_station(ref.origin);
    item->number_2 = ref.seq;
}

void rp_build_position(struct rp_build *b, const struct rp_position *position)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_POSITION, RP_TX_NONE);
    item->number = position->lat_e6;
    item->number_2 = position->lon_e6;
    if (position->has_accuracy) {
        rp_build_number(b, RP_TX_ACCURACY, position->accuracy_m, 0, RP_TX_U_M);
    }
}

void rp_build_degrees(struct rp_build *b, const struct rp_position *position)
{
    rp_build_open(b);
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_DEGREES, RP_TX_NONE);
    item->number = position->lat_e6;
    item->number_2 = position->lon_e6;
    item->word = RP_TX_U_DEG;
    rp_build_close(b);
}

static void build_grid_item(struct rp_build *b, enum rp_item_kind kind, enum rp_text_id label,
                            const struct rp_position *position)
{
    struct rp_sheet_item *item = rp_build_item(b, kind, label);
    item->number = position->lat_e6;
    item->number_2 = position->lon_e6;
    item->decimals = (uint8_t)rp_geo_digits(position->has_accuracy, position->accuracy_m);
    item->live = true;
}

void rp_build_mgrs(struct rp_build *b, const struct rp_position *position)
{
    build_grid_item(b, RP_ITEM_MGRS, RP_TX_MGRS, position);
}

void rp_build_grid(struct rp_build *b, const struct rp_position *position)
{
    build_grid_item(b, RP_ITEM_UTM, RP_TX_UTM, position);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_mgrs(b, position);
}

void rp_build_altitude(struct rp_build *b, const struct rp_altitude *altitude)
{
    rp_build_number(b, RP_TX_NONE, altitude->metres, 0, RP_TX_U_M);
    rp_build_open(b);
    rp_build_word(b, rp_text_pick(RP_TX_ALT_UNSAID, RP_TX_ALT_BAROMETER, altitude->source));
    rp_build_close(b);
}

void rp_build_finding(struct rp_build *b, enum rp_text_id label, enum rp_finding finding)
{
    static const enum rp_text_id words[] = {
        [RP_FINDING_NOT_ASKED] = RP_TX_NOT_ASKED,
        [RP_FINDING_NO] = RP_TX_NO,
        [RP_FINDING_YES] = RP_TX_YES,
    };
    bool known = (size_t)finding < sizeof words / sizeof words[0];
    rp_build_labelled(b, label, known ? words[finding] : RP_TX_ODD);
}

/* 1 psi = 68.94757 hPa (exact definition, 7 figures). */
static int64_t psi_tenths(int32_t gauge_dhpa)
{
    return ((int64_t)gauge_dhpa * 100000 + 6894757 / 2) / 6894757;
}

void rp_build_gauge(struct rp_build *b, enum rp_text_id label, int32_t gauge_dhpa)
{
    struct rp_value psi = {RP_MEASURED, (int16_t)psi_tenths(gauge_dhpa)};
    rp_build_value(b, label, psi, 1, RP_TX_U_PSI, NULL);
    rp_build_open(b);
    rp_build_number(b, RP_TX_NONE, ((int64_t)gauge_dhpa + 5) / 10, 0, RP_TX_U_HPA);
    rp_build_close(b);
}

void rp_build_equivalent(struct rp_build *b, int32_t gauge_dhpa)
{
    static const struct {
        enum rp_air_model model;
        enum rp_text_id label, unit;
    } models[] = {{RP_AIR_ISA, RP_TX_EQUIVALENT, RP_TX_U_M_ISA},
                  {RP_AIR_WEST, RP_TX_EQUIVALENT_OR, RP_TX_U_M_WEST}};
    const struct rp_altitude *altitude = rp_episode_altitude(b->ep);
    const struct rp_air_site site = {.altitude_m = altitude->metres};
    struct rp_air_chamber air[sizeof models / sizeof models[0]];
    for (size_t i = 0; i < sizeof models / sizeof models[0]; i++) {
        if (!altitude->present ||
            rp_air_in_chamber(&site, models[i].model, gauge_dhpa / 10.0, &air[i]) != 0) {
            return;
        }
    }
    rp_build_join(b, RP_JOIN_COMMA);
    for (size_t i = 0; i < sizeof models / sizeof models[0]; i++) {
        rp_build_number(b, models[i].label, rp_air_round_50m(air[i].equivalent_m), 0,
                        models[i].unit);
        /* It follows from the gauge and the altitude, which the check covers. */
        b->row.items[b->row.item_count - 1].live = true;
    }
}

void rp_build_blood_pressure(struct rp_build *b, enum rp_text_id label, const struct rp_obs *obs)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_PRESSURE, label);
    item->state = obs->systolic_mmhg.state;
    item->number = obs->systolic_mmhg.state == RP_MEASURED ? obs->systolic_mmhg.value : 0;
    /* -1: systolic only, as when it is felt at the wrist. */
    item->number_2 = obs->diastolic_mmhg.state == RP_MEASURED ? obs->diastolic_mmhg.value : -1;
    item->word = RP_TX_U_MMHG;
    item->taken_from = obs;
}

void rp_build_gcs(struct rp_build *b, enum rp_text_id label, const struct rp_obs *obs)
{
    struct rp_sheet_item *item = rp_build_item(b, RP_ITEM_GCS, label);
    item->state = obs->gcs_eye.state;
    if (obs->gcs_eye.state == RP_MEASURED) {
        item->number = obs->gcs_eye.value * 100 + obs->gcs_verbal.value * 10 + obs->gcs_motor.value;
    }
    item->taken_from = obs;
}

bool rp_ref_equal(struct rp_record_ref a, struct rp_record_ref b)
{
    return a.origin == b.origin && a.seq == b.seq;
}

void rp_build_from(struct rp_build *b, const struct rp_source *from)
{
    b->row.from = from;
    b->row.struck = from->voided;
    for (size_t i = 0; from->voided && i < b->ep->corrections.count; i++) {
        const struct rp_correction_entry *entry = &b->ep->corrections.at[i];
        if (!entry->from.voided && rp_ref_equal(entry->what.about, from->ref)) {
            b->row.correction = entry; /* the newest stands last */
        }
    }
}

uint8_t rp_sheet_home(const struct rp_episode *ep)
{
    if (ep->opened) {
        return ep->opening_from.station;
    }
    return ep->has_latest ? ep->latest_from.station : 0;
}

const struct rp_request_entry *rp_sheet_request_now(const struct rp_episode *ep)
{
    return ep->request_now >= 0 && ep->request_now < ep->requests.count
               ? &ep->requests.at[ep->request_now]
               : NULL;
}

void rp_build_source(struct rp_build *b, const struct rp_source *from)
{
    rp_build_join(b, RP_JOIN_COMMA);
    if (from->by[0] != '\0') {
        rp_build_entered(b, RP_TX_BY, from->by);
    } else {
        rp_build_word(b, RP_TX_BY_NOT_SAID);
    }
    if (from->station != rp_sheet_home(b->ep)) {
        rp_build_station(b, RP_TX_AT_STATION, from->station);
    }
    rp_build_quality(b, from);
}

void rp_build_other_source(struct rp_build *b, const struct rp_source *from)
{
    const struct rp_source *opener = &b->ep->opening_from;
    bool same = b->ep->opened && opener->by[0] != '\0' && strcmp(from->by, opener->by) == 0 &&
                from->station == opener->station;
    if (same) {
        rp_build_quality(b, from);
    } else {
        rp_build_source(b, from);
    }
}

void rp_build_quality(struct rp_build *b, const struct rp_source *from)
{
    /* Under a minute is how long an entry takes. */
    bool late = from->recorded_s >= from->happened_s + 60u || from->via != RP_VIA_ENTERED;
    if (late) {
        rp_build_open(b);
        rp_build_time(b, RP_TX_ENTERED_AT, from->recorded_s);
        rp_build_word(b, rp_text_pick(RP_TX_VIA_ENTERED, RP_TX_VIA_VOICE, from->via));
        rp_build_close(b);
    }
    if (rp_episode_is_late(b->ep, from)) {
        rp_build_open(b);
        rp_build_loud(b, RP_TX_AFTER_HANDOVER);
        rp_build_close(b);
    }
    if (from->unsynced) {
        rp_build_open(b);
        rp_build_loud(b, RP_TX_CLOCK_UNSET);
        rp_build_close(b);
    }
}

void rp_build_dropped(struct rp_build *b, uint32_t count)
{
    if (count == 0) {
        return;
    }
    rp_build_row(b, RP_TX_NONE);
    rp_build_number(b, RP_TX_NONE, count, 0, RP_TX_NONE);
    rp_build_loud(b, RP_TX_OLDER_DROPPED);
    rp_build_end(b);
}

static struct rp_value value_at(const struct rp_obs *obs, size_t offset)
{
    struct rp_value value;
    memcpy(&value, (const char *)obs + offset, sizeof value);
    return value;
}

struct rp_value rp_sheet_newest(const struct rp_episode *ep, size_t offset,
                                const struct rp_obs **out_obs)
{
    const struct rp_obs *obs = rp_episode_last_obs(ep, offset, -1);
    for (size_t i = ep->obs.count; obs == NULL && i > 0; i--) {
        const struct rp_obs *tried = &ep->obs.at[i - 1];
        if (!tried->from.voided && value_at(tried, offset).state == RP_UNABLE) {
            obs = tried;
        }
    }
    *out_obs = obs;
    return obs != NULL ? value_at(obs, offset) : (struct rp_value){RP_NOT_MEASURED, 0};
}

const struct rp_oxygen_entry *rp_sheet_last_oxygen(const struct rp_episode *ep)
{
    for (size_t i = ep->oxygen.count; i > 0; i--) {
        const struct rp_oxygen_entry *entry = &ep->oxygen.at[i - 1];
        bool tells = entry->what.action != RP_O2_READING ||
                     entry->what.flow_dlpm.state == RP_MEASURED; /* not the cylinder alone */
        if (tells && !entry->from.voided) {
            return entry;
        }
    }
    return NULL;
}

const struct rp_session *rp_sheet_last_session(const struct rp_episode *ep)
{
    return ep->sessions.count > 0 ? &ep->sessions.at[ep->sessions.count - 1] : NULL;
}

/* Every table whose corrected entries have a row of their own. Each entry begins with its source.
 */
static bool holds_voided(const void *entries, size_t count, size_t entry_size,
                         struct rp_record_ref ref)
{
    for (size_t i = 0; i < count; i++) {
        const struct rp_source *from =
            (const struct rp_source *)(const void *)((const char *)entries + i * entry_size);
        if (from->voided && rp_ref_equal(from->ref, ref)) {
            return true;
        }
    }
    return false;
}

bool rp_sheet_shows_correction(const struct rp_episode *ep,
                               const struct rp_correction_entry *correction)
{
    if (correction->from.voided) {
        return false;
    }
    struct rp_record_ref about = correction->what.about;
    const struct rp_correction_entry *newest = NULL;
    for (size_t i = 0; i < ep->corrections.count; i++) {
        const struct rp_correction_entry *entry = &ep->corrections.at[i];
        if (!entry->from.voided && rp_ref_equal(entry->what.about, about)) {
            newest = entry;
        }
    }
    const struct {
        const void *at;
        size_t count, size;
    } tables[] = {
        {ep->openings.at, ep->openings.count, sizeof ep->openings.at[0]},
        {ep->obs.at, ep->obs.count, sizeof ep->obs.at[0]},
        {ep->cancels.at, ep->cancels.count, sizeof ep->cancels.at[0]},
        {ep->closes.at, ep->closes.count, sizeof ep->closes.at[0]},
        {ep->doses.at, ep->doses.count, sizeof ep->doses.at[0]},
        {ep->fluids.at, ep->fluids.count, sizeof ep->fluids.at[0]},
        {ep->oxygen.at, ep->oxygen.count, sizeof ep->oxygen.at[0]},
        {ep->chamber.at, ep->chamber.count, sizeof ep->chamber.at[0]},
        {ep->reassess.at, ep->reassess.count, sizeof ep->reassess.at[0]},
        {ep->descent.at, ep->descent.count, sizeof ep->descent.at[0]},
        {ep->notes.at, ep->notes.count, sizeof ep->notes.at[0]},
        {ep->requests.at, ep->requests.count, sizeof ep->requests.at[0]},
        {ep->answers.at, ep->answers.count, sizeof ep->answers.at[0]},
        {ep->readbacks.at, ep->readbacks.count, sizeof ep->readbacks.at[0]},
        {ep->handovers.at, ep->handovers.count, sizeof ep->handovers.at[0]},
        {ep->corrections.at, ep->corrections.count, sizeof ep->corrections.at[0]},
    };
    bool shown = false;
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        shown = shown || holds_voided(tables[i].at, tables[i].count, tables[i].size, about);
    }
    for (size_t i = 0; i < RP_BG_COUNT; i++) {
        shown = shown ||
                holds_voided(ep->known[i].at, ep->known[i].count, sizeof ep->known[i].at[0], about);
    }
    return shown && newest == correction;
}
