#!/bin/sh
# The report behind tools/bench: sizes, speeds against a peer in the same run, idle cost, and the
# time from entry to "at base". Prints `key: value` lines; asserts nothing.
# usage: run.sh BUILD_FOLDER
set -eu
build=$1
. "$(dirname "$0")/../net.sh"
net_scratch bench "$build"
trap 'net_stop; rm -rf "$dir"' EXIT
trap 'exit 130' INT TERM

echo "# sizes and sealing"
"$build/tools/benches/bench_wire"
echo "# storage"
"$build/tools/benches/bench_store" "$dir"
echo "# a handover sheet in a small and in a large log"
"$build/tools/benches/bench_sheet" "$dir"

echo "# idle: one station with a started KISS modem and nothing to say, 20 s"
net_make text_armour 1
cat >"$dir/air.conf" <<CONF
modem camp kiss-ack $dir/camp.tty txdelay=0
air sf 7 bw 125000 cr 5 preamble 8 freq 869525000 sync 12
CONF
air_start
station_config camp 7 camp "Ridge Camp" kiss-ack
wait_for 5 test -e "$dir/camp.tty"
station_start camp
sleep 20 # the first digests of a fresh start come close together
pid=$(cat "$dir/camp.pid")
switches() { awk '/ctxt_switches/ { n += $2 } END { print n }' "/proc/$pid/status"; }
before=$(switches)
sleep 20
after=$(switches)
awk -v n=$((after - before)) 'BEGIN { printf "wake-ups per second when idle: %.2f\n", n / 20 }'
echo "resident memory, KiB: $(awk '/VmRSS/ { print $2 }' "/proc/$pid/status") (at most 8192)"
net_stop
rm -f "$dir"/*.pid "$dir"/camp.db*

echo "# entry to \"at base\": camp (AT) - relay (KISS) - base (hex-text), SF7, 20 % loss,"
echo "# ten reports, one every 3 s; the time is the one base wrote in its receipt, to the second"
cat >"$dir/air.conf" <<CONF
modem camp at $dir/camp.tty
modem relay kiss-ack $dir/relay.tty txdelay=0
modem base hextext $dir/base.tty
link camp relay 0.2
link relay base 0.2
air sf 7 bw 125000 cr 5 preamble 8 freq 869525000 sync 12
mixed on
latency 2 20
seed ${RP_SEED:-7}
CONF
air_start
station_config camp 7 camp "Ridge Camp" at 5480
station_config relay 4 relay "Moraine Cache" kiss-ack 4920
station_config base 2 base "Lake Camp" hextext 4310
wait_for 5 test -e "$dir/base.tty"
for station in camp relay base; do station_start $station; done
sleep 5
at camp open hace patient A >/dev/null
i=0
while [ $i -lt 10 ]; do
    at camp report same alert spo2 $((70 + i)) air pulse 100 resp 24 >/dev/null
    sleep 3
    i=$((i + 1))
done
all_there() { at camp delivery | tail -n 1 | awk '{ exit !($1 == $3) }'; }
wait_for 120 all_there || echo "not every record was at base after 120 s"
at camp delivery --json | tr '{' '\n' | sed -n \
    's/.*"entered_s":\([0-9]*\),"state":"at base","state_unix_s":\([0-9]*\).*/\1 \2/p' |
    awk '{ print $2 - 1767225600 - $1 }' | sort -n |
    awk '{ v[NR] = $1 } END { if (NR) printf "entry to \"at base\", s: median %d (min %d, max %d, %d records)\n", v[int((NR + 1) / 2)], v[1], v[NR], NR }'
for station in camp relay base; do
    at $station status --json | sed -n "s/.*\"out\":\([0-9]*\).*\"airtime_us\":\([0-9]*\).*/\1 \2/p" |
        awk -v s=$station '{ printf "airtime of %s, s: %.2f in %d frames\n", s, $2 / 1e6, $1 }'
done
