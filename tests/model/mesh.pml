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
 * TROUBLE comes first, lasts as long as it likes and may end at any moment. While it lasts any
 * station may send any segment it holds at any time, whatever it plans; any neighbour may hear a
 * copy of what a station holds, late, twice or never, and any station may crash between any two
 * steps. None of this is counted or bounded. That is more than loss, duplication, delay and crashes
 * can do to the rules, so what a station plans, and control frames, which only make plans, need not
 * be looked at here: the assertions hold whatever they do.
 *
 * CALM comes after it: no frame is lost, nobody crashes. The search begins in every state that
 * satisfies POSSIBLE, with any plan of what is held and with any station quiet, and follows the
 * rules. The search of TROUBLE asserts POSSIBLE in every state, so none that trouble can leave behind
 * is missing; that plans are of what is stored can be read below, and is asserted where it is sent.
 *
 * What is left out, and why that hides nothing:
 * Time: waits end in any order. Only a digest waits until what is planned was sent: seconds, against
 * an interval that grows to an hour.
 * The mark of a digest: it brings sooner what the vector brings.
 * That nobody yields to what only some of its neighbours hear more than once: digests all the more.
 * That the needer asks again by itself: digests alone must be enough.
 * Acknowledgements: a copy heard says the same.
 * Base marks: what they prove is what a receipt says, and they change no segment.
 * Who is named: any station does what the named one would.
 * More than three stations, wrong clocks, lost databases, full disks, the airtime budget: those are
 * the simulator's. */

#define CAMP  0
#define RELAY 1
#define BASE  2

#define BIT(s)      (1 << (s))
#define HOLDS(n, s) ((disk[n] & BIT(s)) != 0)

byte disk[3];

/* What came to a station came through those before it. */
#define CAME_ALONG                                                                                 \
    ((disk[RELAY] & LOG_CAMP & ~disk[CAMP]) == 0 && (disk[BASE] & LOG_CAMP & ~disk[RELAY]) == 0 &&  \
     (disk[RELAY] & LOG_BASE & ~disk[BASE]) == 0 && (disk[CAMP] & LOG_BASE & ~disk[RELAY]) == 0)

/* Any segment of the set. */
#define EACH(set, s)                                                                               \
    if                                                                                             \
    :: ((set) & BIT(0)) -> s = 0                                                                   \
    :: ((set) & BIT(1)) -> s = 1                                                                   \
    :: ((set) & BIT(2)) -> s = 2                                                                   \
    :: ((set) & BIT(3)) -> s = 3                                                                   \
    fi

#ifdef TROUBLE

#define RUNS active

byte noted;
byte unstored; /* seeded fault: what station STORES_LATE acts on before it has stored it */
byte early;    /* seeded fault: what the camp sends before it has stored it */

#ifdef STORES_LATE
#define LATE_STATION STORES_LATE
#define MAY_SEND(n) (disk[n] | (n == STORES_LATE -> unstored : 0) | (n == CAMP -> early : 0))
#define PUT(n, s)                                                                                  \
    if                                                                                             \
    :: n == STORES_LATE -> unstored = unstored | BIT(s)                                            \
    :: else -> disk[n] = disk[n] | BIT(s)                                                          \
    fi
#define LATE_STORE(i)                                                                              \
    :: atomic { i == STORES_LATE && unstored != 0 -> disk[i] = disk[i] | unstored; unstored = 0 }
#else
#define LATE_STATION 3
#define MAY_SEND(n) (disk[n] | (n == CAMP -> early : 0))
#define PUT(n, s)   disk[n] = disk[n] | BIT(s)
#define LATE_STORE(i)
#endif

#define PLAN(n, s) skip

inline hear_segment(n, s)
{
    if
    :: HOLDS(n, s) -> noted = noted | (OWN(n) & BIT(s) & NOTES); on_copy(n, s)
    :: else -> PUT(n, s); on_stored(n, s)
    fi
}

inline crash(i)
{
    unstored = (i == LATE_STATION -> 0 : unstored);
    early = (i == CAMP -> 0 : early);
    on_restart(i)
}

#define HEAR_FROM(i, from)                                                                         \
    :: atomic { MAY_SEND(from) != 0 -> EACH(MAY_SEND(from), s); hear_segment(i, s); s = 0 }

#define STATION_STEPS(i)                                                                           \
    :: atomic { MAY_SEND(i) != 0 -> EACH(MAY_SEND(i), s); on_send(i, s); s = 0 }                   \
    LATE_STORE(i)                                                                                  \
    :: atomic { crash(i) }
#define CAMP_HEARS  HEAR_FROM(CAMP, RELAY)
#define RELAY_HEARS HEAR_FROM(RELAY, CAMP) HEAR_FROM(RELAY, BASE)
#define BASE_HEARS  HEAR_FROM(BASE, RELAY)

#else /* CALM */

#define RUNS /* by init, when the state to begin with is chosen */
#define CAMP_HEARS
#define RELAY_HEARS
#define BASE_HEARS

byte plan[3];
bit quiet[3];

#define PLAN(n, s) plan[n] = plan[n] | BIT(s)

#define TO_NEIGHBOURS(i, hear, set)                                                                \
    if                                                                                             \
    :: i == RELAY -> hear(CAMP, set); hear(BASE, set)                                              \
    :: else -> hear(RELAY, set)                                                                    \
    fi

/* `again`: the trailer says that its sender has sent this before. */
inline hear_segment(n, s, again)
{
    if
    :: HOLDS(n, s) ->
        plan[n] = plan[n] & (n == RELAY -> 255 : 255 - BIT(s));
        on_copy(n, s, again)
    :: else ->
        disk[n] = disk[n] | BIT(s);
        plan[n] = plan[n] | (n == RELAY -> BIT(s) : 0);
        on_stored(n, s)
    fi;
    quiet[n] = quiet[n] || COUNTS(again)
}

inline send_segment(i, s, again)
{
    assert(HOLDS(i, s) && (i == RELAY || (OWN(i) & BIT(s)) != 0)); /* as any_station has it */
    plan[i] = plan[i] & ~BIT(s);
    if
    :: i == RELAY -> hear_segment(CAMP, s, again); hear_segment(BASE, s, again)
    :: else -> hear_segment(RELAY, s, again)
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

#define IDLE(i) (plan[i] == 0)

#define STATION_STEPS(i)                                                                           \
    :: atomic { plan[i] != 0 -> EACH(plan[i], s); send_segment(i, s, AGAIN(i, s)); s = 0 }         \
    :: atomic { IDLE(i) -> interval(i) }

/* The state to begin with: any set on each disk, any part of it planned, any station quiet. */
inline any_set(out, all)
{
    out = 0;
    s = 0;
    do
    :: s < 4 && ((all) & BIT(s)) -> out = out | BIT(s); s++
    :: s < 4 -> s++
    :: s == 4 -> break
    od
}

inline any_bit(out)
{
    if
    :: out = 0
    :: out = 1
    fi
}

/* Along the chain in the ways of CAME_ALONG; in disk[] first what each made itself. */
inline any_disks()
{
    any_set(disk[CAMP], LOG_CAMP);
    any_set(disk[BASE], LOG_BASE);
    any_set(disk[RELAY], disk[CAMP] | disk[BASE]);
    any_set(plan[CAMP], disk[RELAY] & LOG_BASE);
    disk[CAMP] = disk[CAMP] | plan[CAMP];
    any_set(plan[BASE], disk[RELAY] & LOG_CAMP);
    disk[BASE] = disk[BASE] | plan[BASE]
}

/* An end has nothing of the other's log but what the relay holds: it plans its own log only. */
inline any_station(n, logs)
{
    any_set(plan[n], disk[n] & logs);
    any_bit(quiet[n])
}

/* A choice that is none: another one is taken instead, everything everywhere. */
inline impossible()
{
    disk[CAMP] = ALL;
    disk[RELAY] = ALL;
    disk[BASE] = ALL;
    settle_other();
    assert(POSSIBLE)
}

/* At the end of a model. */
#define BEGIN                                                                                      \
    init                                                                                           \
    {                                                                                              \
        byte s;                                                                                    \
        atomic {                                                                                   \
            any_disks();                                                                           \
            any_other();                                                                           \
            if                                                                                     \
            :: POSSIBLE                                                                            \
            :: else -> impossible()                                                                \
            fi;                                                                                    \
            any_station(CAMP, LOG_CAMP);                                                           \
            any_station(RELAY, ALL);                                                               \
            any_station(BASE, LOG_BASE);                                                           \
            s = 0;                                                                                 \
            run writers(); run camp(); run relay(); run base()                         \
        }                                                                                          \
    }

#endif
