/* Strokes of the chamber's pump: counted by person, recorded in stretches, and kept over a restart.
 */
#include <string.h>

#include "base/bytes.h"
#include "node/node_state.h"

#define SECOND_US ((rp_time_us)1000000)
#define QUIET_S   120 /* so long without a stroke, and the stretch is over: ours */
#define STRETCH_S 600 /* longest stretch of one record: ours */
#define KEEP_S    20  /* how much a restart may lose: ours; each costs a write */
#define RETRY_US  (60 * SECOND_US)
#define OLD_S     604800 /* the longest "ago" of a record */
#define VERSION   1
#define VALUE     "pump"
#define VALUE_LEN (1 + 2 + 1 + 4 * 4 + RP_NAME_LEN)

static void keep(struct rp_node *node)
{
    uint8_t buf[VALUE_LEN];
    struct rp_node_watch_state *state = &node->watch;
    const struct rp_node_turn *turn = &state->turn;
    struct rp_writer w = rp_writer_on(buf, sizeof buf);
    rp_put_u8(&w, VERSION);
    rp_put_be(&w, turn->episode.origin, 2);
    rp_put_u8(&w, turn->on ? turn->episode.number : 0);
    rp_put_be(&w, turn->from_s, 4);
    rp_put_be(&w, turn->last_s, 4);
    rp_put_be(&w, turn->strokes, 4);
    rp_put_be(&w, state->pumper_since_s, 4);
    rp_put_view(&w, (struct rp_view){(const uint8_t *)state->pumper, strlen(state->pumper)});
    state->turn.kept_s = turn->last_s;
    state->turn.kept_strokes = turn->strokes;
    int code =
        node->config.store->set_value(node->config.store_ctx, VALUE, (struct rp_view){buf, w.len});
    node->store_failures += code < 0;
}

void rp_strokes_load(struct rp_node *node)
{
    uint8_t buf[VALUE_LEN];
    struct rp_node_watch_state *state = &node->watch;
    struct rp_node_turn turn = {.on = true, .end_us = node->moment.now_us};
    int len = node->config.store->get_value(node->config.store_ctx, VALUE, buf, sizeof buf);
    if (len <= 0 || (size_t)len > sizeof buf) {
        return;
    }
    struct rp_reader r = rp_reader_on((struct rp_view){buf, (size_t)len});
    bool known = rp_get_u8(&r) == VERSION;
    turn.episode.origin = (uint16_t)rp_get_be(&r, 2);
    turn.episode.number = rp_get_u8(&r);
    turn.from_s = (uint32_t)rp_get_be(&r, 4);
    turn.last_s = (uint32_t)rp_get_be(&r, 4);
    turn.strokes = (uint32_t)rp_get_be(&r, 4);
    uint32_t since_s = (uint32_t)rp_get_be(&r, 4);
    size_t name_len = rp_reader_left(&r);
    if (r.failed || !known) {
        return; /* of another version */
    }
    /* A clock that lost time: what lasted so long still did. */
    uint32_t now_s = rp_net_seconds(node, node->moment);
    uint32_t back_s = turn.last_s > now_s ? turn.last_s - now_s : 0;
    turn.last_s -= back_s;
    turn.from_s = turn.from_s > back_s ? turn.from_s - back_s : 0;
    since_s = since_s > back_s ? since_s - back_s : 0;
    turn.kept_s = turn.last_s;
    turn.kept_strokes = turn.strokes;
    memcpy(state->pumper, buf + r.at, name_len);
    state->pumper[name_len] = '\0';
    state->pumper_since_s = since_s;
    state->has_stroke = true;
    state->stroke_s = turn.last_s;
    turn.on = turn.episode.number != 0;
    turn.end_us += QUIET_S * SECOND_US;
    state->turn = turn;
}

/* A stretch that cannot be written is tried again until the next one begins. */
static void end_turn(struct rp_node *node)
{
    struct rp_node_watch_state *state = &node->watch;
    struct rp_node_turn *turn = &state->turn;
    uint32_t now_s = rp_net_seconds(node, node->moment);
    uint32_t ago_s = now_s > turn->last_s ? now_s - turn->last_s : 0;
    struct rp_record record = {.kind = RP_REC_PUMPING, .episode = turn->episode, .ago_s = ago_s};
    struct rp_rec_pumping *what = &record.as.pumping;
    struct rp_record_ref ref;
    struct rp_problem problem;
    uint32_t spell_s = turn->last_s > turn->from_s ? turn->last_s - turn->from_s : 0;
    what->spell_s = (uint16_t)(spell_s < 3600 ? spell_s : 3600);
    what->strokes = (uint16_t)(turn->strokes < 3000 ? turn->strokes : 3000);
    memcpy(what->pumper, state->pumper, sizeof what->pumper);
    bool worth = turn->episode.number != 0 && turn->strokes > 0 && ago_s <= OLD_S;
    memcpy(node->entry_name, VALUE, sizeof VALUE); /* in one write the strokes are no more kept */
    int code = worth ? rp_enter_now(node, &record, &ref, &problem) : RP_OK;
    node->entry_name[0] = '\0';
    turn->on = code < 0 && code != RP_E_CONFLICT;
    turn->end_us = node->moment.now_us + RETRY_US;
    if (!turn->on && turn->episode.number != 0) {
        keep(node);
    }
}

static bool goes_on(const struct rp_node_watch_state *state, struct rp_episode_ref episode,
                    bool same_pumper, uint32_t now_s)
{
    const struct rp_node_turn *turn = &state->turn;
    return turn->on && same_pumper && turn->episode.origin == episode.origin &&
           turn->episode.number == episode.number && now_s >= turn->last_s &&
           now_s - turn->last_s < QUIET_S;
}

void rp_node_stroke(struct rp_node *node, struct rp_episode_ref episode, const char *pumper,
                    struct rp_moment moment)
{
    struct rp_node_watch_state *state = &node->watch;
    struct rp_node_turn *turn = &state->turn;
    node->moment = moment;
    rp_clock_observe(node, moment);
    uint32_t now_s = rp_net_seconds(node, moment);
    bool same = pumper[0] == '\0' || strcmp(pumper, state->pumper) == 0;
    bool on = goes_on(state, episode, same, now_s);
    uint32_t from_s = now_s;
    if (on && now_s - turn->from_s >= STRETCH_S) { /* cut without a gap */
        from_s = turn->last_s;
        on = false;
    }
    if (!on) {
        if (turn->on) {
            end_turn(node);
        }
        *turn = (struct rp_node_turn){.on = true, .episode = episode, .from_s = from_s};
    }
    if (!same) {
        size_t len = strnlen(pumper, RP_NAME_LEN);
        memcpy(state->pumper, pumper, len);
        state->pumper[len] = '\0';
        state->pumper_since_s = now_s;
    }
    state->has_stroke = true;
    state->stroke_s = now_s;
    turn->last_s = now_s;
    turn->strokes++;
    turn->end_us = moment.now_us + QUIET_S * SECOND_US;
    if (episode.number != 0 && (!on || now_s - turn->kept_s >= KEEP_S)) {
        keep(node);
    }
}

void rp_node_settle(struct rp_node *node)
{
    const struct rp_node_turn *turn = &node->watch.turn;
    if (turn->on && turn->episode.number != 0 && turn->kept_strokes != turn->strokes) {
        keep(node);
    }
}

void rp_strokes_tick(struct rp_node *node)
{
    if (node->watch.turn.on && node->moment.now_us >= node->watch.turn.end_us) {
        end_turn(node);
    }
}

rp_time_us rp_strokes_wake(const struct rp_node *node)
{
    return node->watch.turn.on ? node->watch.turn.end_us : RP_NEVER;
}
