/* What both models share: three stations in a chain, and what the engine does with segments.
 *
 * Every segment is one bit of a set. A station is what it keeps on disk and what it remembers:
 *
 *   disk   segments stored                                  struct rp_held, and the database
 *   noted  own segments marked as heard by the neighbour    heard_s of the record, on disk
 *   plan   segments to be sent once                         rp_pending: FORWARD, OFFER, ANSWER
 *   quiet  something consistent was heard in this interval  rp_trickle.heard, k = 1
 *
 * Each step of the model, and the functions it stands for:
 *
 *   send_segment  rp_mesh_take_frame, rp_push_sent                    src/mesh/send, push
 *   hear_segment  take_segment_in, keep_segment, learn_links          src/mesh/engine.c
 *                 rp_push_accepted, rp_push_overheard                 src/mesh/push
 *   interval      rp_trickle_poll                                     src/mesh/digest
 *   hear_digest   take_digest, rp_control_same, rp_control_difference src/mesh/digest
 *   send_vector   rp_vector_write                                     src/mesh/hold
 *   hear_vector   rp_vector_receive                                   src/mesh/hold
 *   ask           rp_pull_compose, rp_pull_need                       src/mesh/pull
 *   crash         rp_intake_load, rp_own_log_publish_unheard          src/node
 *
 * TROUBLE lasts as long as it likes and ends in one step (calm). Until then each receiver may lose
 * each frame; a segment that a neighbour holds may arrive once more, however late (it forgets none,
 * so an old copy is no other than a new one); and any station may crash between any two steps. None
 * of this is counted or bounded. Repeated control frames are refused by their counters.
 *
 * What is left out, and why that hides nothing:
 * Time: waits end in any order. Only after calm a digest waits until what is planned was sent:
 * seconds, against an interval that grows to an hour.
 * The pauses between a digest, the vector it calls for and the need after that: each of the three
 * may still be lost, which is what a crash or a change between them comes to.
 * The mark of a digest: it brings sooner what the vector brings.
 * That the needer asks again by itself: digests alone must be enough.
 * Acknowledgements: a copy heard says the same.
 * Who is named: any station does what the named one would, and loss covers the rest.
 * More than three stations, wrong clocks, lost databases, full disks, the airtime budget: those are
 * the simulator's. */

#define CAMP  0
#define RELAY 1
#define BASE  2

#define BIT(s)      (1 << (s))
#define HOLDS(n, s) ((disk[n] & BIT(s)) != 0)

byte disk[3], plan[3];
byte noted;
bit quiet[3];
bit calm;

/* At one receiver: lost, which only trouble can do, or heard. (Without the `true` the first `else`
 * in what is heard would belong to this choice, and never be taken while frames can be lost.) */
#define LOST_OR(heard)                                                                             \
    if                                                                                             \
    :: !calm                                                                                       \
    :: true -> heard                                                                               \
    fi

#define TO_NEIGHBOURS(i, hear, set)                                                                \
    if                                                                                             \
    :: i == RELAY -> LOST_OR(hear(CAMP, set)); LOST_OR(hear(BASE, set))                            \
    :: else -> LOST_OR(hear(RELAY, set))                                                           \
    fi

#ifdef STORES_LATE
byte unstored; /* seeded fault: what that station acts on before it has stored it */
#define PUT(n, s)                                                                                  \
    if                                                                                             \
    :: n == STORES_LATE -> unstored = unstored | BIT(s)                                            \
    :: else -> disk[n] = disk[n] | BIT(s)                                                          \
    fi
#define LATE_STORE(i)                                                                              \
    :: atomic { i == STORES_LATE && unstored != 0 -> disk[i] = disk[i] | unstored; unstored = 0 }
#else
#define PUT(n, s) disk[n] = disk[n] | BIT(s)
#define LATE_STORE(i)
#endif

inline keep_segment(n, s)
{
    PUT(n, s);
    if
    :: n == RELAY -> plan[n] = plan[n] | BIT(s)
    :: else
    fi;
    on_stored(n, s)
}

/* `again`: the trailer says that its sender has sent this before. */
inline hear_segment(n, s, again)
{
    if
    :: HOLDS(n, s) ->
        noted = noted | (OWN(n) & BIT(s) & NOTES);
        plan[n] = plan[n] & (n == RELAY -> 255 : 255 - BIT(s));
        on_copy(n, s, again)
    :: else -> keep_segment(n, s)
    fi;
    if
    :: COUNTS(again) -> quiet[n] = 1
    :: else
    fi
}

inline send_segment(i, s, again)
{
    plan[i] = plan[i] & ~BIT(s);
    if
    :: i == RELAY ->
        LOST_OR(hear_segment(CAMP, s, again));
        LOST_OR(hear_segment(BASE, s, again))
    :: else -> LOST_OR(hear_segment(RELAY, s, again))
    fi;
    on_send(i, s)
}

inline hear_need(n, set) { plan[n] = plan[n] | ((set) & disk[n]) }

inline ask(n, set)
{
    if
    :: (set) != 0 -> TO_NEIGHBOURS(n, hear_need, set)
    :: else
    fi
}

/* Offers what the sender lacks, and asks for what it has more. */
inline hear_vector(n, set)
{
    quiet[n] = ((set) == disk[n] -> 1 : 0);
    plan[n] = plan[n] | (disk[n] & ~(set));
    ask(n, (set) & ~disk[n] & ~OWN(n))
}

inline send_vector(i)
{
    quiet[i] = 1;
    TO_NEIGHBOURS(i, hear_vector, disk[i])
}

#ifdef DIFFERENCE_IGNORED
#define IS_SAME(n, set) true
#else
#define IS_SAME(n, set) ((set) == disk[n])
#endif

inline hear_digest(n, set)
{
    if
    :: IS_SAME(n, set) -> quiet[n] = 1
    :: else -> send_vector(n)
    fi
}

inline interval(i)
{
    if
    :: quiet[i] -> quiet[i] = 0
    :: else -> TO_NEIGHBOURS(i, hear_digest, disk[i])
    fi
}

inline crash(i)
{
#ifdef STORES_LATE
    unstored = (i == STORES_LATE -> 0 : unstored);
#endif
    plan[i] = OWN(i) & disk[i] & ~noted;
    quiet[i] = 0;
    on_restart(i)
}

/* Any segment of the set. */
#define EACH(set, s)                                                                               \
    if                                                                                             \
    :: ((set) & BIT(0)) -> s = 0                                                                   \
    :: ((set) & BIT(1)) -> s = 1                                                                   \
    :: ((set) & BIT(2)) -> s = 2                                                                   \
    :: ((set) & BIT(3)) -> s = 3                                                                   \
    fi

inline old_copy(n, from)
{
    EACH(disk[from], s);
    hear_segment(n, s, AGAIN(from, s));
    s = 0
}

#define IDLE(i) (!calm || plan[i] == 0)

#ifdef LOSS_ONLY /* enough for some seeded faults, and sooner searched */
#define TROUBLE_STEPS(i)
#else
#define TROUBLE_STEPS(i)                                                                           \
    :: atomic { !calm -> crash(i) }                                                                \
    :: atomic { !calm && i != RELAY && disk[RELAY] != 0 -> old_copy(i, RELAY) }                    \
    :: atomic { !calm && i == RELAY && disk[CAMP] != 0 -> old_copy(i, CAMP) }                      \
    :: atomic { !calm && i == RELAY && disk[BASE] != 0 -> old_copy(i, BASE) }
#endif

#define STATION_STEPS(i)                                                                           \
    :: atomic { plan[i] != 0 -> EACH(plan[i], s); send_segment(i, s, AGAIN(i, s)); s = 0 }         \
    :: atomic { IDLE(i) -> interval(i) }                                                           \
    LATE_STORE(i)                                                                                  \
    TROUBLE_STEPS(i)

active proctype trouble()
{
    calm = 1
}
