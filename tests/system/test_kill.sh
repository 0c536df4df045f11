#!/bin/sh
# A daemon that takes entries as fast as it can is killed at random moments: what it acknowledged is
# in the log afterwards, word for word under the name it gave, and no sequence is ever given twice.
# Prints the seed of the moments.
# usage: test_kill.sh BUILD_FOLDER LIVES
set -eu
. "$(dirname "$0")/lib.sh"
lives=$2
seed=${RP_SEED:-$$}
echo "seed $seed, $lives lives"
net_make
station_config camp 7 camp "Ridge Camp" ''
sed -i '/^\[radio\]/,$d' "$dir/camp.conf"

# An episode for ten lives: the log of each fits one answer.
opened() { said=$(at camp open hace patient "life $life" --json); }
open_episode() {
    wait_for 20 opened || { echo "life $life: no episode opened: $said"; exit 1; }
    episode=$(echo "$said" | sed -n 's/.*"episode":"\([-0-9]*\)".*/\1/p')
    echo "$episode" >>"$dir/episodes"
}

# Moments between 1 and 60 ms after the first connection, drawn from the seed, in microseconds.
awk -v n="$lives" -v seed="$seed" 'BEGIN { srand(seed); for (i = 0; i < n; i++)
    printf "%d\n", 1000 + rand() * 59000 }' >"$dir/moments"
life=0
while read -r moment; do
    life=$((life + 1))
    "$bin/ridgepostd" --config "$dir/camp.conf" 2>>"$dir/camp.log" &
    pid=$!
    echo $pid >"$dir/camp.pid"
    [ $((life % 10)) -ne 1 ] || open_episode
    "$helpers/control_feed" "$dir/camp.sock" "$episode" "entry $life" $pid "$moment" \
        >>"$dir/acked" || {
        tail -1 "$dir/acked" "$dir/camp.log"
        exit 1
    }
    wait $pid 2>/dev/null || true
done <"$dir/moments"

station_start camp
while read -r episode; do
    at camp log "$episode" --json || echo "$episode" >>"$dir/log.failed"
done <"$dir/episodes" >"$dir/log.json"
[ ! -e "$dir/log.failed" ] || fail "the log cannot be read"
tr '{' '\n' <"$dir/log.json" | sed -n \
    's/.*"record":"\([0-9:]*\)".*"kind":"note".*"summary":"\([^"]*\)".*/\1 \2/p' |
    sort >"$dir/held"
sort "$dir/acked" >"$dir/acked.sorted"
acked=$(wc -l <"$dir/acked")
[ "$acked" -ge "$lives" ] || fail "only $acked entries were acknowledged"
twice=$(cut -d' ' -f1 "$dir/acked.sorted" | uniq -d | head -3)
[ -z "$twice" ] || fail "given twice: $twice"
twice=$(cut -d' ' -f1 "$dir/held" | uniq -d | head -3)
[ -z "$twice" ] || fail "held twice: $twice"
lost=$(comm -23 "$dir/acked.sorted" "$dir/held" | head -3)
[ -z "$lost" ] || fail "acknowledged and lost, or held with other words: $lost"
net_stop
rm -f "$dir"/*.pid
"$bin/ridgepostd" --config "$dir/camp.conf" --check || fail "integrity"
echo "$acked entries acknowledged in $lives lives, $(wc -l <"$dir/held") held"
exit $failures
