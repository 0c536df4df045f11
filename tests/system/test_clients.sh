#!/bin/sh
# Programs that misbehave at the control socket do not disturb one that records.
# usage: test_clients.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
net_make
station_config camp 7 camp "Ridge Camp" ''
sed -i '/^\[radio\]/,$d' "$dir/camp.conf"
station_start camp
at camp open hace patient A >/dev/null
seed=${RP_SEED:-$$}
echo "seed $seed"
"$helpers/control_abuse" "$dir/camp.sock" "$seed" >"$dir/abuse" ||
    { cat "$dir/abuse" "$dir/camp.log"; exit 1; }
notes=$(cat "$dir/abuse")
held=$(at camp log 7-1 --json | tr '{' '\n' | grep -c '"kind":"note"')
[ "$held" -eq "$notes" ] || fail "$held notes are held, $notes were recorded"
kill -0 "$(cat "$dir/camp.pid")" || fail "the daemon ended"
exit $failures
