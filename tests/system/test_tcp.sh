#!/bin/sh
# Two stations whose KISS modems are reached over TCP: a record entered at one is in the other's log
# within seconds; when the hub between them is restarted they connect again by themselves.
# usage: test_tcp.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"

# hub_start PORT: sets hub_port.
hub_start() {
    "$helpers/kiss_hub" "$1" >"$dir/hub.out" 2>&1 &
    echo $! >"$dir/hub.pid"
    wait_for 5 grep -q ready "$dir/hub.out" || { cat "$dir/hub.out"; exit 1; }
    hub_port=$(sed -n 's/^ready //p' "$dir/hub.out")
}
hub_stop() {
    kill "$(cat "$dir/hub.pid")"
    wait "$(cat "$dir/hub.pid")" 2>/dev/null || true
    rm "$dir/hub.pid"
}
hub_start 0
net_make bandwidth_hz 250000 duty_permille 1000
station_config camp 7 camp "Ridge Camp" kiss
station_config base 2 base "Lake Camp" kiss
sed -i "s|^port = .*|port = tcp:127.0.0.1:$hub_port|" "$dir/camp.conf" "$dir/base.conf"
station_start camp
station_start base
ready() { at "$1" status --json | grep -q '"radio_ready":true'; }
open_at() { at "$1" status --json | grep -q '"radio_open":true'; }
wait_for 15 ready camp && wait_for 15 ready base || {
        fail "not connected: $(at camp status)"
        cat "$dir/$station.log"
    }
at camp open hace patient A >/dev/null
arrived() { at base log 7-1 | grep -q "$1"; }
at camp note "over TCP" >/dev/null
wait_for 20 arrived "over TCP" || fail "the record did not reach base: $(at camp status)"

hub_stop
gone() { ! open_at camp && ! open_at base; }
wait_for 10 gone || fail "the end of the hub is not noticed: $(at camp status)"
at camp note "without a hub" >/dev/null || fail "does not record without a hub"
sleep 4 # several refused tries
hub_start "$hub_port"
wait_for 40 arrived "without a hub" || fail "not sent after the hub came back: $(at camp status)"
for station in camp base; do
    kill -0 "$(cat "$dir/$station.pid")" || fail "$station ended"
    told=$(grep -c 'tried again' "$dir/$station.log") || true
    [ "$told" -eq 1 ] || fail "$station tells $told times that the hub is missing"
done
exit $failures
