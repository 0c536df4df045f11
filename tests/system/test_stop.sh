#!/bin/sh
# Told to stop, a station ends cleanly within 2 s, whatever goes on; SIGHUP does nothing; the
# service manager is told when it is ready and when it stops; an idle station is small.
# usage: test_stop.sh BUILD_FOLDER MEMORY_KB     (0: memory is not asked)
set -eu
. "$(dirname "$0")/lib.sh"
memory_kb=$2
net_make
station_config camp 7 camp "Ridge Camp" kiss
sed -i 's|^port = .*|port = /dev/ridgepost-none|' "$dir/camp.conf"

"$helpers/notify_receiver" "$dir/notify.sock" 2 >"$dir/notify" &
receiver=$!
echo $receiver >"$dir/receiver.pid"
wait_for 5 test -S "$dir/notify.sock"
NOTIFY_SOCKET=$dir/notify.sock
export NOTIFY_SOCKET
station_start camp
unset NOTIFY_SOCKET
pid=$(cat "$dir/camp.pid")
wait_for 5 grep -qx 'READY=1' "$dir/notify" || fail "READY=1 did not come: $(cat "$dir/notify")"
[ "$(stat -c %a "$dir/camp.sock")" = 600 ] || fail "the socket is open to others"
at camp open hace patient A >/dev/null
for signal in HUP HUP PIPE; do
    kill -$signal "$pid"
done
at camp board | grep -q '7-1' || fail "a signal stopped it"

if [ "$memory_kb" -gt 0 ]; then
    resident=$(awk '/^VmRSS/ { print $2 }' "/proc/$pid/status")
    echo "resident: $resident kB"
    [ "$resident" -lt "$memory_kb" ] || fail "$resident kB resident, more than $memory_kb"
fi

stop_by() {
    began=$(date +%s%N)
    kill -"$1" "$pid"
    status=0
    wait "$pid" || status=$?
    took_ms=$((($(date +%s%N) - began) / 1000000))
    [ $status -eq 0 ] || fail "SIG$1: exit $status"
    [ $took_ms -lt 2000 ] || fail "SIG$1: it took $took_ms ms to stop"
    [ ! -e "$dir/camp.sock" ] || fail "SIG$1: the socket was left behind"
    rm -f "$dir/camp.pid"
}
stop_by TERM
wait $receiver || fail "the receiver did not get two messages"
rm "$dir/receiver.pid"
grep -qx 'STOPPING=1' "$dir/notify" || fail "STOPPING=1 did not come"

# In the middle of a stream of entries: the end is as clean, and what was acknowledged is there.
station_start camp
pid=$(cat "$dir/camp.pid")
"$helpers/control_feed" "$dir/camp.sock" 7-1 "entry" 0 0 >"$dir/acked" &
feeder=$!
held() { at camp log 7-1 --json | tr '{' '\n' | grep -c '"kind":"note"'; }
some() { [ "$(held)" -gt 20 ]; }
wait_for 20 some || fail "the entries do not come in"
stop_by INT
wait $feeder || fail "the feeder failed: $(tail -1 "$dir/acked")"
station_start camp
acked=$(wc -l <"$dir/acked")
[ "$acked" -gt 20 ] || fail "only $acked were acknowledged"
[ "$(held)" -ge "$acked" ] || fail "$acked were acknowledged, $(held) are held"
exit $failures
