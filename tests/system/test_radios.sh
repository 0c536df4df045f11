#!/bin/sh
# `ridgepost radios`: what modem is on a port, for all four families, without a frame on air; and a
# port that a running station holds is left alone.
# usage: test_radios.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
net_make frequency_hz 868125000 text_armour 1 duty_permille 1000
cat >"$dir/air.conf" <<CONF
modem at at $dir/at.tty baud=115200 baudcheck=on
modem old at $dir/old.tty chip=rylr896
modem hex hextext $dir/hex.tty baud=57600 baudcheck=on
modem kiss kiss $dir/kiss.tty
modem e22 uart $dir/e22.tty baud=9600 baudcheck=on
modem e32 uart $dir/e32.tty chip=e32 baud=9600 baudcheck=on
modem camp at $dir/camp.tty
modem other kiss $dir/other.tty csma=off
link other kiss 0
air sf 7 bw 125000 cr 5 preamble 8 freq 868125000 sync 12
control $dir/air.sock
CONF
air_start
wait_for 5 test -e "$dir/other.tty"
radios() { "$bin/ridgepost" radios "$@"; }

# The list works whatever this computer has, as text and as data.
radios >"$dir/list" || fail "the list: exit $?"
[ -s "$dir/list" ] || fail "the list is empty, not even a sentence"
expect 0 '"ports":[' radios --json

# Families that speak in lines, at another speed than their usual one, and with their settings.
tell speed at 9600
expect 0 'modem = at, 9600 baud, RYLR998_EMULATED' radios try "$dir/at.tty" --sure
grep -q '^  spreading_factor 9$' "$dir/both" || fail "the AT settings: $(cat "$dir/both")"
# What it says for the configuration is one that a station starts with.
section=$(sed -n '/\[radio\]/,$p' "$dir/stdout")
station_config found 9 camp "Found" at
sed '/^\[radio\]/,$d' "$dir/found.conf" >"$dir/said.conf"
{
    echo "$section"
    echo "no_limit_acknowledged = yes"
} >>"$dir/said.conf"
expect 0 'configuration and database are in order' "$bin/ridgepostd" --config "$dir/said.conf" --check
grep -q '^baud = 9600$' "$dir/said.conf" || fail "the speed is not in it: $section"
expect 0 'modem = at-old, 115200 baud, RYLR89C' radios try "$dir/old.tty" --sure
expect 0 'modem = hextext, 57600 baud, RN2483 1.0.5' radios try "$dir/hex.tty" --sure net "$dir/demo.net"
grep -q '^  spreading_factor 12   DIFFERS: the net has 7$' "$dir/both" ||
    fail "the difference is not said: $(cat "$dir/both")"
expect 0 '"modem":"hextext","baud":57600' radios try "$dir/hex.tty" --sure --json

# Transparent modules, in configuration mode.
tell config e22 on
expect 0 'modem = uart-e22, 9600 baud' radios try "$dir/e22.tty" pin dtr
grep -q '868.125 MHz' "$dir/both" || fail "the channel of the E22: $(cat "$dir/both")"
tell config e22 off
tell config e32 on
expect 0 'modem = uart-e32, 9600 baud' radios try "$dir/e32.tty" pin dtr
tell config e32 off

# A KISS modem is known by a frame that it hears; here another station sends some.
{
    for _ in 1 2 3 4 5 6 7 8; do
        printf '\300\000ABCDEFGHIJKL\300' >"$dir/other.tty"
        sleep 0.5
    done
} &
sender=$!
expect 0 'modem = kiss, 115200 baud, by what it gave unasked' radios try "$dir/kiss.tty" listen 10s
wait $sender

# Nothing is found: what was tried is said, and what to do. Nothing is written without leave.
expect 69 '9600 baud: listened, nothing came' radios try "$dir/e22.tty" listen 1s baud 9600
grep -q -- '--sure' "$dir/both" || fail "what to do is not said: $(cat "$dir/both")"
expect 69 'asked AT and hexadecimal-text modules, nothing came' radios try "$dir/kiss.tty" --sure baud 9600
expect 69 'asked for registers in configuration mode as uart-e32' radios try "$dir/hex.tty" pin dtr
expect 69 '"ok":false' radios try "$dir/kiss.tty" --sure --json baud 9600
expect 69 'is the radio plugged in' radios try "$dir/nothing.tty"
expect 65 'what may follow the port' radios try "$dir/kiss.tty" speed 9600
expect 65 'is not a usual rate' radios try "$dir/kiss.tty" baud 12345
expect 64 'usage: ridgepost radios' radios tyr "$dir/kiss.tty"

# No modem but the one that was meant to has sent anything.
grep -E 'tx begin (at|old|hex|kiss|e22|e32) ' "$dir/air.log" && fail "a modem was made to transmit"
grep -q 'tx begin other ' "$dir/air.log" || fail "the log does not show what is sent"

# A running station keeps its port, and is named.
station_config camp 7 camp "Ridge Camp" at
station_start camp
ready() { at camp status | grep -q 'radio   at ready'; }
wait_for 10 ready || fail "the station does not start: $(at camp status)"
at camp status | grep -q 'the modem says the same' || fail "not read back: $(at camp status)"
expect 75 "ridgepostd, process $(cat "$dir/camp.pid")" radios try "$dir/camp.tty" --sure
at camp status | grep -q 'modem   well; 0 restarts, 0 time-outs' ||
    fail "the station was disturbed: $(at camp status)"
exit $failures
