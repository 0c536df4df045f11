/* Two logs, three stations in a chain: all become equal, and nothing that was said is untrue.
 * The camp at one end enters two records, base at the other end enters one. */

#define LOG_CAMP 3 /* segments 0 and 1 */
#define LOG_BASE 4 /* segment 2 */
#define ALL (LOG_CAMP | LOG_BASE)
#define OWN(n) ((n) == CAMP -> LOG_CAMP : ((n) == BASE -> LOG_BASE : 0))
#define COUNTS(again) 1 /* repetitions are told apart in the other model */
#define NOTES 255
#define AGAIN(i, s) 0

#include "mesh.pml"

byte aired;    /* segments of the camp that were on air */
byte another;  /* and those that were sealed after that, with another content */
byte entering; /* segment the camp's writer is entering, + 1 */

inline on_copy(n, s, again) { skip }
inline on_stored(n, s) { skip }

/* A sequence is used for one content only (rp_own_log_append). */
inline on_send(i, s)
{
    if
    :: i == CAMP ->
        assert((another & BIT(s)) == 0);
        aired = aired | BIT(s)
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

/* rp_own_log_append: a segment gets the sequence after the last on disk (rp_own_log_start), is
 * sealed and stored, then published, and then the writer is told. */
inline seal(s)
{
    s = (HOLDS(CAMP, 0) -> 1 : 0);
    another = another | (aired & BIT(s));
    entering = s + 1
}

#ifdef SEND_BEFORE_STORE
#define FIRST(n, s) plan[n] = plan[n] | BIT(s)
#define SECOND(n, s) disk[n] = disk[n] | BIT(s)
#else
#define FIRST(n, s) disk[n] = disk[n] | BIT(s)
#define SECOND(n, s) plan[n] = plan[n] | BIT(s)
#endif

active proctype writers()
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
    :: atomic {
        !HOLDS(BASE, 2) ->
            disk[BASE] = disk[BASE] | LOG_BASE; plan[BASE] = plan[BASE] | LOG_BASE
       }
    od
}

active proctype camp()
{
    byte s;
    do
    STATION_STEPS(CAMP)
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

/* What is noted as heard by a neighbour is stored there; what anybody holds, its origin holds. */
#define NOTED_IS_STORED ((noted & ~disk[RELAY]) == 0)
#define HELD_IS_ORIGINATED                                                                         \
    (((disk[RELAY] | disk[BASE]) & LOG_CAMP & ~disk[CAMP]) == 0 &&                                 \
     ((disk[RELAY] | disk[CAMP]) & LOG_BASE & ~disk[BASE]) == 0)

active proctype watch()
{
    atomic { !(NOTED_IS_STORED && HELD_IS_ORIGINATED) -> assert(false) }
}

#define equal (disk[CAMP] == ALL && disk[RELAY] == ALL && disk[BASE] == ALL)

/* Once trouble is over, all three come to hold everything, and keep it. */
ltl converges { (<> calm) -> (<> [] equal) }
