#!/bin/sh
# The soak: four modem families on one air, a fault every ten seconds on average, entries all the
# while. At the end every entry is at its base, once, and no daemon has grown.
#
# Two nets share the air and disturb each other: an AT, a hexadecimal-text and a KISS station in one
# (camp, relay, base; text armour), two transparent stations in the other, since these hear only
# their own kind.
# usage: soak.sh BUILD_FOLDER SECONDS [SEED]
set -eu
. "$(dirname "$0")/lib.sh"
seconds=$2 seed=${3:-1}
echo "soak of $seconds s, seed $seed"
settings="frequency_hz 868125000 duty_permille 1000"
# shellcheck disable=SC2086
net_make $settings text_armour 1
mv "$dir/demo.net" "$dir/mixed.net"
# shellcheck disable=SC2086
net_make $settings
cp -p "$dir/demo.net" "$dir/plain.net"
cat >"$dir/air.conf" <<CONF
modem camp at $dir/camp.tty
modem relay hextext $dir/relay.tty baud=57600
modem base kiss-ack $dir/base.tty txdelay=10
modem far uart $dir/far.tty rssi=on
modem near uart $dir/near.tty rssi=on
path camp relay 118 3
path relay base 118 3
path camp far 110
path relay far 122
path base near 115
path far near 116 3
fading 2
capture croce
air sf 7 bw 125000 cr 5 preamble 8 freq 868125000 sync 12
mixed on
latency 1 8
split on
seed $seed
control $dir/air.sock
CONF
air_start
stations="camp relay base far near"
station_config camp 7 camp "Ridge Camp" at
station_config relay 4 relay "Moraine Cache" hextext
station_config base 2 base "Lake Camp" kiss-ack
station_config far 8 camp "Far Camp" uart-e22
station_config near 3 base "Near Camp" uart-e22
for station in $stations; do
    net=mixed
    case $station in far | near) net=plain ;; esac
    sed -i "s#demo.net#$net.net#" "$dir/$station.conf"
    wait_for 5 test -e "$dir/$station.tty"
    station_start "$station"
done
tell() { "$bin/ridgepost-air" --tell "$dir/air.sock" "$@" >/dev/null || fail "refused: $*"; }
at camp open hace patient A >/dev/null
at far open hape patient B >/dev/null

# Random numbers of the run, one a line: the same for the same seed.
awk -v seed="$seed" -v n=$((seconds * 8 + 100)) \
    'BEGIN { srand(seed); for (i = 0; i < n; i++) print int(rand() * 1000000) }' >"$dir/numbers"
exec 3<"$dir/numbers"
# roll BOUND: sets $number to 0..BOUND-1
roll() {
    read -r number <&3
    number=$((number % $1))
}

# fault: one at a random modem, undone some seconds later where it does not end by itself.
: >"$dir/undo"
faults=0
fault() {
    roll 5
    modem=$(echo $stations | cut -d' ' -f$((number + 1)))
    roll 13
    what=$number
    roll 8
    until=$((tick + 2 + number))
    case $what in
    0) tell restart "$modem" ;;
    1) tell unplug "$modem" && echo "$until plug $modem" >>"$dir/undo" ;;
    2) tell rubbish "$modem" 3000 ;;
    3) tell hang "$modem" on && echo "$until restart $modem" >>"$dir/undo" ;;
    4) tell stuck "$modem" on && echo "$until restart $modem" >>"$dir/undo" ;;
    5) tell mute "$modem" on && echo "$until mute $modem off" >>"$dir/undo" ;;
    6) tell noend "$modem" 1 ;;
    7) tell brownout "$modem" 1 ;;
    8) tell drop "$modem" 3000 && echo "$until drop $modem 0" >>"$dir/undo" ;;
    9) tell add "$modem" 3000 && echo "$until add $modem 0" >>"$dir/undo" ;;
    10) tell echo "$modem" on && echo "$until echo $modem off" >>"$dir/undo" ;;
    11) tell cooked "$modem" on && echo "$until cooked $modem off" >>"$dir/undo" ;;
    12) tell offset "$modem" 32000 && echo "$until offset $modem 0" >>"$dir/undo" ;;
    esac
    faults=$((faults + 1))
}

enter_camp() {
    camp_entries=$((camp_entries + 1))
    at camp note "soak $camp_entries." >/dev/null || fail "camp did not record $camp_entries"
}
enter_far() {
    far_entries=$((far_entries + 1))
    at far note "soak $far_entries." >/dev/null || fail "far did not record $far_entries"
}

# undo_due [ALL]: a modem that is already plugged in again is no error.
undo_due() {
    mv "$dir/undo" "$dir/undo.now"
    : >"$dir/undo"
    while read -r due command; do
        if [ "${1:-}" = all ] || [ "$due" -le "$tick" ]; then
            # shellcheck disable=SC2086
            "$bin/ridgepost-air" --tell "$dir/air.sock" $command >/dev/null || true
        else
            echo "$due $command" >>"$dir/undo"
        fi
    done <"$dir/undo.now"
}

# sample: resident memory in kB and descriptors of each daemon.
sample() {
    for station in $stations; do
        pid=$(cat "$dir/$station.pid")
        printf ' %s %s kB %s fd' "$station" "$(awk '/^VmRSS/ { print $2 }' "/proc/$pid/status")" \
            "$(ls "/proc/$pid/fd" | wc -l)"
    done
    echo
}

camp_entries=0 far_entries=0 tick=0 thrown=0
start=$(date +%s)
first=
while [ "$tick" -lt "$seconds" ]; do
    # Dice are thrown for every second that has passed, however long a turn of this loop takes.
    while [ "$thrown" -le "$tick" ]; do
        thrown=$((thrown + 1))
        # A refused fault is one at a modem that is unplugged: as good as none.
        roll 10 && [ "$number" -gt 0 ] || fault
        roll 10 && [ "$number" -gt 0 ] || enter_camp
        roll 10 && [ "$number" -gt 0 ] || enter_far
    done
    undo_due
    if [ $((tick * 10 / seconds)) -ne $(((tick - 1) * 10 / seconds)) ]; then
        echo "$tick s:$(sample)"
        [ $((tick * 4 / seconds)) -lt 1 ] || first=${first:-$(sample)}
    fi
    sleep 1
    tick=$(($(date +%s) - start))
done
undo_due all
last=$(sample)
# What was lost on the way is asked for again by the net: the time for it is bounded.
count() { at "$1" log "$2" | grep -o 'soak [0-9]*\.' | sort | uniq -c | awk '$1 == 1' | wc -l; }
all_there() { [ "$(count base 7-1)" -eq "$camp_entries" ] && [ "$(count near 8-1)" -eq "$far_entries" ]; }
settled=$(date +%s)
wait_for 900 all_there || fail "lost: base has $(count base 7-1) of $camp_entries, near \
$(count near 8-1) of $far_entries"
echo "$faults faults, $((camp_entries + far_entries)) entries, all at base" \
    "$(($(date +%s) - settled)) s after the last fault"
well() { at "$1" status | grep -q '^modem   well'; }
for station in $stations; do
    kill -0 "$(cat "$dir/$station.pid")" || fail "$station ended"
    wait_for 120 well "$station" || fail "$station is not well: $(at "$station" status)"
    echo "$station: $(at "$station" status | sed -n '/^modem/,/^queue/p' | sed '$d' | tr -s ' \n' ' ')"
done
# grown KB BEFORE AFTER: no descriptor more, and not more memory than that.
grown() {
    echo "$2" "$3" | awk -v most="$1" '{
        n = NF / 2
        for (i = 1; i <= n; i += 5) {
            if ($(i + n + 3) > $(i + 3)) { print $i " has more descriptors"; bad = 1 }
            if ($(i + n + 1) > $(i + 1) + most) { print $i " has grown"; bad = 1 }
        }
        exit bad }' || fail "growth"
}
echo "after a quarter:$first"
echo "at the end:     $last"
grown 512 "$first" "$last" # the pages a longer log needs
# Counting made the bases write out whole logs, which takes memory once; asking again takes none.
asked=$(sample)
for _ in 1 2 3 4 5 6 7 8 9 10; do
    all_there || fail "an entry is gone"
done
again=$(sample)
echo "logs shown:     $asked"
echo "and ten times:  $again"
grown 128 "$asked" "$again"
grep -h -i 'sanitizer\|assert' "$dir"/*.log && fail "a daemon complained"
exit $failures
