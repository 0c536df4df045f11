#!/bin/sh
# The radio's port comes late, is taken by another program, or has a modem of another family, or one
# that does not answer or takes no frames: the station keeps recording, says what is wrong, and goes
# on by itself when all is well.
# usage: test_port.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
at_hears_hextext
ready() { at "$1" status --json | grep -q '"radio_ready":true'; }
not_ready() { at "$1" status --json | grep -q '"radio_ready":false'; }
arrived() { at base log 7-1 | grep -q "$1"; }

station_start camp
at camp status | grep -q 'NOT CONNECTED' || fail "a port that is not there is not told"
at camp open hace patient A >/dev/null
at camp note "before the port" >/dev/null || fail "does not record without a port"
air_start
wait_for 20 test -e "$dir/base.tty"
station_start base
wait_for 40 ready camp || fail "the port that came is not opened: $(at camp status)"
wait_for 40 arrived "before the port" || fail "not sent when the port came: $(at camp status)"

# Another program on the same port: here a second daemon, with a log and a socket of its own.
sed "s#$dir/camp\.\(db\|sock\)#$dir/second.\1#" "$dir/camp.conf" >"$dir/second.conf"
station_start second
wait_for 20 grep -q 'camp.tty is in use by another program' "$dir/second.log" ||
    fail "the taken port is not told: $(cat "$dir/second.log")"
at second open hace patient B >/dev/null || fail "does not record while the port is taken"
kill "$(cat "$dir/second.pid")"
wait "$(cat "$dir/second.pid")" || fail "the second daemon: exit $?"
rm "$dir/second.pid"

# Not a word from the modem; then it takes no frames.
tell mute camp on
at camp note "while it is mute" >/dev/null || fail "does not record while the modem is mute"
wait_for 40 not_ready camp || fail "the mute modem is still called ready"
tell mute camp off
wait_for 60 arrived "while it is mute" || fail "not sent after it was mute: $(at camp status)"
tell stuck camp on
at camp note "while it is stuck" >/dev/null || fail "does not record while the modem is stuck"
sleep 2
tell restart camp
wait_for 60 arrived "while it is stuck" || fail "not sent after it was stuck: $(at camp status)"
# Base has the entry when the frame ends; the module is called well only when its airtime and a margin
# are over and it counts as sent.
well() { at camp status | grep -Eq '^modem   well; [0-9]+ restarts, [1-9][0-9]* time-outs'; }
wait_for 60 well || fail "the recovery is not shown: $(at camp status)"
# A restart while the station resets the module by command is what it waits for, and is not counted.
# Now that the module is well it is.
wait_for 60 ready camp || fail "not ready after it was stuck: $(at camp status)"
restarts() { at camp status --json | sed -n 's/.*"restarts":\([0-9]*\).*/\1/p'; }
before=$(restarts)
tell restart camp
counted() { [ "$(restarts)" -gt "$before" ] && well; }
wait_for 60 counted || fail "the restart is not shown: $(at camp status)"
at camp status --json | grep -q '"modem":{"ladder":"well","restarts":' ||
    fail "the recovery is not in the data: $(at camp status --json)"

# The wrong family: an AT modem is spoken to in the hexadecimal dialect.
kill "$(cat "$dir/camp.pid")"
wait "$(cat "$dir/camp.pid")" || fail "the end: exit $?"
sed -i 's/^modem = at/modem = hextext/' "$dir/camp.conf"
station_start camp
told() { at camp status --json | grep -q '"fault":"[^"]'; }
wait_for 60 told || fail "the wrong modem is not told: $(at camp status)"
not_ready camp || fail "the wrong modem is called ready"
at camp note "to the wrong modem" >/dev/null || fail "does not record with the wrong modem"
at camp status | sed -n '/^radio/p'
for station in camp base; do
    kill -0 "$(cat "$dir/$station.pid")" || fail "$station ended"
done
exit $failures
