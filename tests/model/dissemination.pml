/* Two logs, three stations in a chain: all become equal, and nothing that was said is untrue.
 * The camp at one end enters two records, base at the other end enters one. */

#define LOG_CAMP 3 /* segments 0 and 1 */
#define LOG_BASE 4 /* segment 2 */
#define ALL      (LOG_CAMP | LOG_BASE)
#define OWN(n)   ((n) == CAMP -> LOG_CAMP : ((n) == BASE -> LOG_BASE : 0))
#define COUNTS(again) true /* repetitions are told apart in the other model */
#define AGAIN(i, s)   0
#define NOTES         255

byte entering; /* segment the camp's writer is entering, + 1 */

#ifdef SEND_BEFORE_STORE
#define POSSIBLE true /* not with this fault: it must be found by what it does */
#else
/* Entered in order, and the writer is told of the last one at most. */
#define POSSIBLE                                                                                   \
    (CAME_ALONG && (disk[CAMP] & LOG_CAMP) != BIT(1) &&                                            \
     (entering == 0 || (disk[CAMP] & LOG_CAMP) == (1 << entering) - 1))
#endif

#include "mesh.pml"

#ifdef TROUBLE
byte aired;   /* segments of the camp that were on air */
byte another; /* and those that were sealed after that, with another content */

inline on_copy(n, s) { skip }

/* A sequence is used for one content only (rp_own_log_append). */
inline on_send(i, s)
{
    if
    :: i == CAMP ->
        assert((another & BIT(s)) == 0);
        aired = aired | (BIT(s) & LOG_CAMP)
    :: else
    fi
}

/* The writer was told nothing, and will write something else. */
inline on_restart(i)
{
    if
    :: i == CAMP -> entering = 0
    :: else
    fi
}

#define SEALED(s) another = another | (aired & BIT(s))
#else
#define SEALED(s) skip

inline on_copy(n, s, again) { skip }
inline on_send(i, s) { skip }

inline any_other()
{
    if
    :: entering = 0
    :: entering = 1
    :: entering = 2
    fi
}

inline settle_other() { entering = 0 }
#endif

inline on_stored(n, s) { skip }

/* rp_own_log_append: a segment gets the sequence after the last on disk (rp_own_log_start), is
 * sealed and stored, then published, and then the writer is told. */
inline seal(s)
{
    s = (HOLDS(CAMP, 0) -> 1 : 0);
    SEALED(s);
    entering = s + 1
}

#ifdef SEND_BEFORE_STORE
#define FIRST(n, s)  early = early | BIT(s)
#define SECOND(n, s) disk[n] = disk[n] | BIT(s); early = 0
#else
#define FIRST(n, s)  disk[n] = disk[n] | BIT(s)
#define SECOND(n, s) PLAN(n, s)
#endif

RUNS proctype writers()
{
    byte s;
    do
    :: atomic {
        entering == 0 && (disk[CAMP] & LOG_CAMP) != LOG_CAMP ->
            seal(s); FIRST(CAMP, s); s = 0
       }
    :: atomic {
        entering != 0 ->
            s = entering - 1; SECOND(CAMP, s); entering = 0;
            assert(HOLDS(CAMP, s)); /* told that it is recorded; no disk forgets here */
            s = 0
       }
    :: atomic { !HOLDS(BASE, 2) -> s = 2; disk[BASE] = disk[BASE] | LOG_BASE; PLAN(BASE, s); s = 0 }
    od
}

RUNS proctype camp()
{
    byte s;
    do
    STATION_STEPS(CAMP)
    CAMP_HEARS
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
/* What is noted as heard by a neighbour is stored there; what anybody holds, its origin holds. */
#define NOTED_IS_STORED ((noted & ~disk[RELAY]) == 0)

active proctype watch()
{
    atomic { !(NOTED_IS_STORED && POSSIBLE) -> assert(false) }
}
#else
#define equal (disk[CAMP] == ALL && disk[RELAY] == ALL && disk[BASE] == ALL)

/* Once trouble is over, all three come to hold everything, and keep it. */
BEGIN

ltl converges { <> [] equal }
#endif
