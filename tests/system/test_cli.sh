#!/bin/sh
# The command line: exit status (sysexits.h), --json, and net files.
# usage: test_cli.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
ridgepost="$bin/ridgepost"
net="$dir/demo.net"

# Options and words.
expect 64 'usage: ridgepost' "$ridgepost"
expect 64 '--colour is no option' "$ridgepost" --colour board
expect 64 'example: --by Ines' "$ridgepost" board --by
for wrong in "board --out $dir/x" "log --print" "paper --watch" "handover --json --out $dir/x"; do
    # shellcheck disable=SC2086 # a line of words
    expect 64 '--out and --print are for handover and paper' "$ridgepost" $wrong
done
expect 0 'never a substitute for descent' "$ridgepost" --help
expect 0 'ridgepost ' "$ridgepost" --version
expect 69 "$dir/camp.sock" at camp board
[ ! -s "$dir/stdout" ] || fail "an error is told on standard output"

# Numbers need no daemon (US Standard Atmosphere 1976: 540.5 hPa at 5000 m).
expect 0 '5000 m: 540.5 hPa' "$ridgepost" --socket "$dir/none" compute pressure 5000m
expect 65 'is outside 0.0-300.0' "$ridgepost" --socket "$dir/none" compute chamber 5000m 20psi

# Net files.
net_make
[ "$(stat -c %a "$net")" = 600 ] || fail "the net file is open to others"
cp "$net" "$dir/before"
expect 65 "$net exists already" "$ridgepost" net make "$net" name Again band eu-p
digits=$("$ridgepost" net digits "$net")
expect 65 "$net exists already" "$ridgepost" net join "$net" name Again band eu-p digits "$digits"
cmp -s "$net" "$dir/before" || fail "an existing net file was changed"
expect 0 'SF7' "$ridgepost" net show "$net"
secret() { sed -n 's/^secret = //p' "$1"; }
[ "$(secret "$net" | wc -c)" -eq 33 ] || fail "the secret is not 32 digits"
! grep -q "$(secret "$net")" "$dir/stdout" || fail "net show shows the secret"
"$ridgepost" net join "$dir/joined.net" name Joined band eu-p digits "$digits" >/dev/null
[ "$(secret "$dir/joined.net")" = "$(secret "$net")" ] || fail "the digits do not carry the secret"
[ "$(stat -c %a "$dir/joined.net")" = 600 ] || fail "the joined net file is open to others"
[ "$("$ridgepost" net digits "$dir/joined.net")" = "$digits" ] || fail "other digits after join"
"$ridgepost" net make "$dir/other.net" name Other band eu-p >/dev/null
[ "$(secret "$dir/other.net")" != "$(secret "$net")" ] || fail "two nets have one secret"
expect 65 group "$ridgepost" net join "$dir/wrong.net" name W digits \
    "$(echo "$digits" | sed 's/^9/x/; s/^[0-8]/9/; s/^x/8/')"
[ ! -e "$dir/wrong.net" ] || fail "wrong digits made a net file"
expect 65 'spreading_factor 13' "$ridgepost" net make "$dir/wrong.net" name W band eu-p spreading_factor 13
expect 65 'a value is missing' "$ridgepost" net make "$dir/wrong.net" name
expect 65 'needs a name' "$ridgepost" net make "$dir/wrong.net" epoch 1
expect 65 'the net has no band' "$ridgepost" net make "$dir/wrong.net" name W
expect 65 'is outside 902000000..928000000 of band fcc-digital' "$ridgepost" net make \
    "$dir/wrong.net" name W band fcc-digital
expect 0 'ask your regulator' "$ridgepost" net make "$dir/free.net" name W band none
expect 0 'ETSI EN 300 220-2 V3.2.1 (2018-06) table B.1' "$ridgepost" net bands
expect 64 'usage: ridgepost net' "$ridgepost" net paint "$net"
expect 65 "$dir/none.net" "$ridgepost" net show "$dir/none.net"
expect 65 "$dir/none/x.net" "$ridgepost" net make "$dir/none/x.net" name W band eu-p

# A daemon's answers.
station_config camp 7 camp "Ridge Camp" ''
sed -i '/^\[radio\]/,$d' "$dir/camp.conf"
station_start camp
expect 0 'recorded 7:' at camp open hace patient A
expect 0 '"ok":true' at camp --json note 7-1 "seen"
expect 0 '"records":["7:' at camp --json note 7-1 "seen again"
expect 65 '"ok":false' at camp --json report 7-1 spo2 171
[ ! -s "$dir/stderr" ] || fail "--json tells errors on standard error: $(cat "$dir/stderr")"
expect 65 '"field":"spo2"' at camp --json report 7-1 spo2 171
expect 65 'spo2' at camp report 7-1 spo2 171
[ ! -s "$dir/stdout" ] || fail "an error is told on standard output"
expect 65 '"paint" is no command' at camp paint
expect 65 '9-9' at camp episode 9-9
expect 65 UTF-8 at camp note 7-1 "$(printf '\377')"
expect 0 '7-1' at camp board
long=$(head -c 120000 /dev/zero | tr '\0' x)
expect 69 'at most' at camp note 7-1 "$long"
at camp log 7-1 --json >"$dir/log"
[ "$(tr '{' '\n' <"$dir/log" | grep -c '"kind":"note"')" -eq 2 ] || fail "a refused entry is there"
exit $failures
