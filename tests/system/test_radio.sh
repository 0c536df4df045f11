#!/bin/sh
# A modem that is unplugged, restarts, talks rubbish, hangs or is the wrong one never stops the
# daemon; recording goes on, and everything goes out once the modem is well again.
# usage: test_radio.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
at_hears_hextext
air_start
wait_for 5 test -e "$dir/base.tty"
station_start camp
station_start base
ready() { at camp status | grep -q 'radio   at ready'; }
wait_for 10 ready || fail "the modem does not start: $(at camp status)"
at camp open hace patient A >/dev/null
count=0
# there WHAT: an entry made now reaches base.
there() {
    count=$((count + 1))
    at camp note "$1 $count" >/dev/null || fail "$1: not recorded"
    arrived() { at base log 7-1 | grep -q "note .*$count"; }
    wait_for 40 arrived || fail "$1: the entry did not reach base: $(at camp status)"
}
there "all is well"
# What the camp promises of its next report is told at both ends.
at camp report worse spo2 71 air next 15min >/dev/null || fail "the report is not recorded"
promised() { at base board | grep -q 'next report due by'; }
wait_for 40 promised || fail "base does not tell when to expect the next report: $(at base board)"
at camp status | grep -q 'promise next report due by' || fail "the camp does not tell its promise"
tell restart camp && there "after a restart of the module"
tell rubbish camp 5000 && there "after rubbish"
tell unplug camp
at camp note "while unplugged" >/dev/null || fail "not recorded while unplugged"
tell plug camp && there "after plugging in again"
tell unplug camp
tell plug camp
opened() { [ "$(grep -c 'radio on ' "$dir/camp.log")" -ge 3 ]; }
wait_for 10 opened || fail "the port is not opened again: $(cat "$dir/camp.log")"
tell unplug camp
told() { grep -q 'the port vanished as soon as it was there' "$dir/camp.log"; }
wait_for 5 told || fail "a port that vanishes is not told: $(cat "$dir/camp.log")"
tell plug camp && there "after the port vanished soon after it came"
tell hang camp on && sleep 1 && tell restart camp && there "after it hung"
# What was spent on air is still spent after the daemon was killed and started again.
spent() { at camp airtime --json | sed -n 's/.*"spent_ms":\([0-9]*\).*/\1/p'; }
before=$(spent)
[ "${before:-0}" -gt 100 ] || fail "only ${before:-no} ms of airtime were counted"
kill -9 "$(cat "$dir/camp.pid")"
wait "$(cat "$dir/camp.pid")" 2>/dev/null || true
station_start camp
[ "$(spent)" -ge "$before" ] || fail "$before ms were spent, after a restart only $(spent)"
there "after the daemon was killed"
for station in camp base; do
    kill -0 "$(cat "$dir/$station.pid")" || fail "$station ended"
done
exit $failures
