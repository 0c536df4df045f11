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
#define LOG_BASE 14
#define OWN(n)   ((n) == CAMP -> LOG_CAMP : ((n) == BASE -> LOG_BASE : 0))
#ifdef REPETITION_CONSISTENT
#define COUNTS(again) true
#else
#define COUNTS(again) (!(again))
#endif
#define NOTES 0
#define AGAIN(i, s) ((s) == REQUEST && repeated[i])

#include "mesh.pml"

bit repeated[3]; /* this station has sent the request before (rp_pending.aired) */
bit owed;        /* base has to write a receipt: in memory */
bit arrived;     /* the camp has a receipt that it has not acted on: in memory */
bit settled;     /* the camp's request is marked as at base: on disk */
bit round = 1;   /* the wait for the next round has ended */
byte best[3];    /* the most that was ever shown */

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

inline on_stored(n, s)
{
    come(n, s);
    if
    :: n == BASE && s == REQUEST -> owed = 1
    :: n == CAMP && s == RECEIPT -> arrived = 1
    :: else
    fi
}

inline on_copy(n, s, again)
{
    come(n, s);
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

inline on_restart(i)
{
    repeated[i] = 0;
    if
    :: i == CAMP ->
        arrived = HOLDS(CAMP, RECEIPT) && !settled;
        round = 1;
        if
        :: HOLDS(CAMP, REQUEST) && !settled -> plan[CAMP] = plan[CAMP] | BIT(REQUEST)
        :: else
        fi
#ifndef RECEIPT_FORGOTTEN
    :: i == BASE -> owed = HOLDS(BASE, REQUEST) && !HOLDS(BASE, RECEIPT)
#else
    :: i == BASE -> owed = 0
#endif
    :: else
    fi
}

inline write(n, s)
{
    disk[n] = disk[n] | BIT(s);
    plan[n] = plan[n] | BIT(s);
    come(n, s)
}

#define MAY_ANSWER(s) (HOLDS(BASE, REQUEST) && !HOLDS(BASE, s))

#define ALL_SENT (plan[CAMP] == 0 && plan[RELAY] == 0 && plan[BASE] == 0)

active proctype people_and_nodes()
{
    do
    :: atomic { !HOLDS(CAMP, REQUEST) -> write(CAMP, REQUEST) }
    :: atomic { owed -> owed = 0; write(BASE, RECEIPT) }
    :: atomic { arrived -> arrived = 0; settled = 1 }
    :: atomic { MAY_ANSWER(SEEN) -> write(BASE, SEEN) }
    :: atomic { MAY_ANSWER(ACCEPTED) && HOLDS(BASE, SEEN) -> write(BASE, ACCEPTED) }
    od
}

active proctype camp()
{
    byte s;
    do
    STATION_STEPS(CAMP)
    /* A round comes 8 s after the last at the soonest, a frame takes less than one: after calm what
     * is planned has been sent by then. Between two rounds an interval of the digests may end. */
    :: atomic {
        HOLDS(CAMP, REQUEST) && !settled && (!calm || (round && ALL_SENT)) ->
            plan[CAMP] = plan[CAMP] | BIT(REQUEST); round = !calm
       }
    :: atomic { IDLE(CAMP) && !round -> interval(CAMP); round = 1 }
    od
}

active proctype relay()
{
    byte s;
    do
    STATION_STEPS(RELAY)
    od
}

active proctype base()
{
    byte s;
    do
    STATION_STEPS(BASE)
    od
}

#define RECEIPT_IS_TRUE                                                                            \
    (HOLDS(BASE, REQUEST) ||                                                                       \
     (!settled && !HOLDS(CAMP, RECEIPT) && !HOLDS(RELAY, RECEIPT) && !HOLDS(BASE, RECEIPT)))
#define NOTHING_TAKEN_BACK                                                                         \
    (SHOWN(CAMP) == best[CAMP] && SHOWN(RELAY) == best[RELAY] && SHOWN(BASE) == best[BASE])

active proctype watch()
{
    atomic { !(RECEIPT_IS_TRUE && NOTHING_TAKEN_BACK) -> assert(false) }
}

#define all_know(s) (HOLDS(CAMP, s) && HOLDS(RELAY, s) && HOLDS(BASE, s))
#define answered                                                                                   \
    (settled && all_know(REQUEST) && all_know(RECEIPT) && all_know(SEEN) && all_know(ACCEPTED) &&  \
     disk[CAMP] == disk[BASE] && disk[RELAY] == disk[BASE])

/* Once trouble is over the request reaches base, its receipt and the acceptance come back, the
 * camp stops repeating, and all show the acceptance from then on. */
ltl is_answered { (<> calm) -> (<> [] answered) }
