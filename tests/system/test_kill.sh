#!/bin/sh
# A daemon that takes entries is killed at random moments: what it acknowledged is in the log
# afterwards, and no sequence is ever given twice. Prints the seed of the moments.
# usage: test_kill.sh BUILD_FOLDER LIVES
set -eu
. "$(dirname "$0")/lib.sh"
lives=$2
seed=${RP_SEED:-$$}
echo "seed $seed, $lives lives"
net_make
station_config camp 7 camp "Ridge Camp" ''
sed -i '/^\[radio\]/,$d' "$dir/camp.conf"
station_start camp
at camp open hace patient A >/dev/null
kill -9 "$(cat "$dir/camp.pid")"
wait 2>/dev/null || true

# One life's worth of entries: what is acknowledged is written down.
feed() {
    n=0
    while [ $n -lt 200 ] && said=$(at camp note "entry $1.$n" 2>/dev/null); do
        echo "$said" | sed -n 's/^recorded \([0-9:]*\).*/\1/p' >>"$dir/acked"
        n=$((n + 1))
    done
}

: >"$dir/acked"
# Moments between 10 and 120 ms after the start, drawn from the seed.
awk -v n="$lives" -v seed="$seed" 'BEGIN { srand(seed); for (i = 0; i < n; i++)
    printf "%.3f\n", 0.010 + rand() * 0.110 }' >"$dir/moments"
life=0
while read -r moment; do
    life=$((life + 1))
    "$bin/ridgepostd" --config "$dir/camp.conf" 2>>"$dir/camp.log" &
    pid=$!
    echo $pid >"$dir/camp.pid"
    tries=0
    until at camp status >/dev/null 2>&1; do
        tries=$((tries + 1))
        [ $tries -lt 1000 ] || { echo "life $life did not start"; cat "$dir/camp.log"; exit 1; }
        sleep 0.01
    done
    feed $life &
    feeder=$!
    sleep "$moment"
    kill -9 $pid
    wait $feeder 2>/dev/null || true
    wait $pid 2>/dev/null || true
done <"$dir/moments"

station_start camp
at camp log --json | tr '{' '\n' | sed -n 's/.*"record":"\([0-9:]*\)".*/\1/p' | sort >"$dir/held"
sort "$dir/acked" >"$dir/acked.sorted"
acked=$(wc -l <"$dir/acked")
[ "$acked" -ge $((lives / 2)) ] || { echo "only $acked entries were acknowledged"; exit 1; }
twice=$(uniq -d "$dir/acked.sorted")
[ -z "$twice" ] || { echo "given twice: $twice"; exit 1; }
lost=$(comm -23 "$dir/acked.sorted" "$dir/held")
[ -z "$lost" ] || { echo "acknowledged and lost: $lost"; exit 1; }
net_stop
rm -f "$dir"/*.pid
"$bin/ridgepostd" --config "$dir/camp.conf" --check
echo "$acked entries acknowledged in $lives lives, all held, none twice, integrity holds"
