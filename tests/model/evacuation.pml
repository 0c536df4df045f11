/* The request for evacuation: the camp asks, repeats until base's receipt has come back, and shows
 * what base answers. A relay between them carries all of it.
 *
 *   repeat      rp_push_own, rp_push_tick, rp_push_done: RP_PENDING_REPEAT     src/mesh/push
 *   on_copy     named_again: a round all along the path                        src/mesh/push
 *   COUNTS      learn_links: repetitions are not consistent                    src/mesh/engine.c
 *   on_stored   keep, rp_receipts_owe, rp_receipts_note                        src/node/intake.c
 *   receipt     rp_receipts_write                                              src/node/receipts.c
 *   settle      rp_receipts_apply, rp_mesh_receipted                           src/node/receipts.c
 *   on_restart  rp_receipts_resume, rp_own_log_publish_unheard                 src/node/node.c
 *   SHOWN       rp_fold_evacuation: state_now, newest_answer        src/incident/evacuation.c
 *
 * The answers bear times in the order in which base writes them; clocks that differ are not in this
 * model. What a person may leave undone is taken as done at last: he asks, and base accepts. */

#define REQUEST  0 /* the camp's log */
#define RECEIPT  1 /* base's log */
#define SEEN     2
#define ACCEPTED 3
#define LOG_CAMP 1
#ifdef TROUBLE
#define LOG_BASE 14
#else
#define LOG_BASE 10 /* CALM looks whether answers arrive: SEEN is carried as ACCEPTED is */
#endif
#define ALL      (LOG_CAMP | LOG_BASE)
#define OWN(n)   ((n) == CAMP -> LOG_CAMP : ((n) == BASE -> LOG_BASE : 0))
#ifdef REPETITION_CONSISTENT
#define COUNTS(again) true
#else
#define COUNTS(again) (!(again))
#endif
#define NOTES 0
#define AGAIN(i, s) ((s) == REQUEST && repeated[i])

bit owed;    /* base has to write a receipt: in memory */
bit arrived; /* the camp has a receipt that it has not acted on: in memory */
bit settled; /* the camp's request is marked as at base: on disk */

/* Base answers what it holds, accepts what it has seen, and owes a receipt until it is written, over
 * a restart too; the camp acts on the receipt it has, or has done so. */
#define BASE_ANSWERS                                                                               \
    ((disk[BASE] & LOG_BASE) == 0 || HOLDS(BASE, REQUEST)) &&                                      \
        (!HOLDS(BASE, ACCEPTED) || HOLDS(BASE, SEEN) || (LOG_BASE & BIT(SEEN)) == 0)
#define CAMP_SETTLES                                                                               \
    ((HOLDS(CAMP, RECEIPT) && (arrived || settled) && !(arrived && settled)) ||                    \
     (!HOLDS(CAMP, RECEIPT) && !arrived && !settled))
#define OWES (HOLDS(BASE, REQUEST) && !HOLDS(BASE, RECEIPT))
#if defined(STORES_LATE) || defined(LAST_COME_WINS)
#define POSSIBLE true /* not with these faults: they must be found by what they do */
#elif defined(RECEIPT_FORGOTTEN)
#define POSSIBLE (CAME_ALONG && BASE_ANSWERS && CAMP_SETTLES && (!owed || OWES))
#else
#define POSSIBLE (CAME_ALONG && BASE_ANSWERS && CAMP_SETTLES && owed == OWES)
#endif

#include "mesh.pml"

#ifdef TROUBLE
byte best[3]; /* the most that was ever shown */

/* What a station shows of the request: 0 nothing, 1 open, 2 seen, 3 accepted. */
#define FOLDED(n)                                                                                  \
    (!HOLDS(n, REQUEST) -> 0                                                                       \
                        : (HOLDS(n, ACCEPTED) -> 3 : (HOLDS(n, SEEN) -> 2 : 1)))
#ifdef LAST_COME_WINS
byte last_come[3];
#define SHOWN(n) (HOLDS(n, REQUEST) -> last_come[n] : 0)
#else
#define SHOWN(n) FOLDED(n)
#endif

inline come(n, s)
{
#ifdef LAST_COME_WINS
    if
    :: s == REQUEST && last_come[n] == 0 -> last_come[n] = 1
    :: s >= SEEN -> last_come[n] = s
    :: else
    fi;
#endif
    best[n] = (SHOWN(n) > best[n] -> SHOWN(n) : best[n])
}

inline on_copy(n, s) { come(n, s) }
inline on_send(i, s) { skip }

inline on_restart(i)
{
    if
    :: i == CAMP -> arrived = HOLDS(CAMP, RECEIPT) && !settled
#ifndef RECEIPT_FORGOTTEN
    :: i == BASE -> owed = OWES
#else
    :: i == BASE -> owed = 0
#endif
    :: else
    fi
}

#else /* CALM */
bit repeated[3]; /* this station has sent the request before (rp_pending.aired) */
bit round;       /* the wait for the next round has ended */

inline come(n, s) { skip }

inline on_copy(n, s, again)
{
    if
    :: n == RELAY && again -> plan[RELAY] = plan[RELAY] | BIT(REQUEST)
    :: else
    fi
}

inline on_send(i, s)
{
    if
    :: s == REQUEST && i != BASE -> repeated[i] = 1
    :: else
    fi
}

inline any_other()
{
    any_bit(settled);
    arrived = HOLDS(CAMP, RECEIPT) && !settled;
    owed = OWES;
#ifdef RECEIPT_FORGOTTEN
    any_bit(owed);
#endif
    any_bit(repeated[CAMP]);
    any_bit(repeated[RELAY]);
    any_bit(round)
}

inline settle_other()
{
    settled = 1;
    arrived = 0;
    owed = 0
}
#endif

inline on_stored(n, s)
{
    come(n, s);
    if
    :: n == BASE && s == REQUEST -> owed = 1
    :: n == CAMP && s == RECEIPT -> arrived = 1
    :: else
    fi
}

inline write(n, s)
{
    disk[n] = disk[n] | BIT(s);
    PLAN(n, s);
    come(n, s)
}

#define MAY_ANSWER(s) (HOLDS(BASE, REQUEST) && !HOLDS(BASE, s) && (LOG_BASE & BIT(s)) != 0)
#define ACCEPTS (MAY_ANSWER(ACCEPTED) && !MAY_ANSWER(SEEN))

RUNS proctype writers()
{
    do
    :: atomic { !HOLDS(CAMP, REQUEST) -> write(CAMP, REQUEST) }
    :: atomic { owed -> owed = 0; write(BASE, RECEIPT) }
    :: atomic { arrived -> arrived = 0; settled = 1 }
    :: atomic { MAY_ANSWER(SEEN) -> write(BASE, SEEN) }
    :: atomic { ACCEPTS -> write(BASE, ACCEPTED) }
    od
}

RUNS proctype camp()
{
    byte s;
    do
    STATION_STEPS(CAMP)
    CAMP_HEARS
#ifndef TROUBLE
    /* A round comes 8 s after the last at the soonest, a frame takes less than one: what is planned
     * has been sent by then. Between two rounds an interval of the digests may end. */
    :: atomic {
        HOLDS(CAMP, REQUEST) && !settled && round && IDLE(CAMP) && IDLE(RELAY) && IDLE(BASE) ->
            PLAN(CAMP, REQUEST); round = 0
       }
    :: atomic { IDLE(CAMP) && !round -> interval(CAMP); round = 1 }
#endif
    od
}

RUNS proctype relay()
{
    byte s;
    do
    STATION_STEPS(RELAY)
    RELAY_HEARS
    od
}

RUNS proctype base()
{
    byte s;
    do
    STATION_STEPS(BASE)
    BASE_HEARS
    od
}

#ifdef TROUBLE
#define RECEIPT_IS_TRUE                                                                            \
    (HOLDS(BASE, REQUEST) ||                                                                       \
     (!settled && !HOLDS(CAMP, RECEIPT) && !HOLDS(RELAY, RECEIPT) && !HOLDS(BASE, RECEIPT)))
#define NOTHING_TAKEN_BACK                                                                         \
    (SHOWN(CAMP) == best[CAMP] && SHOWN(RELAY) == best[RELAY] && SHOWN(BASE) == best[BASE])

active proctype watch()
{
    atomic { !(RECEIPT_IS_TRUE && NOTHING_TAKEN_BACK && POSSIBLE) -> assert(false) }
}
#else
BEGIN

#define answered (settled && disk[CAMP] == ALL && disk[RELAY] == ALL && disk[BASE] == ALL)

/* Once trouble is over the request reaches base, its receipt and the acceptance come back, the
 * camp stops repeating, and all show the acceptance from then on. */
ltl is_answered { <> [] answered }
#endif
