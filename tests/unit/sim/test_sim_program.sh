#!/bin/sh
# The storm and the run as programs: the same seed tells the same, bad options are named, a seed can
# be told. usage: test_sim_program.sh RIDGEPOST_SIM
set -eu
sim=$1
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
fail() {
    echo "$1" >&2
    exit 1
}

# Determinism: every byte that is printed, trace hash included, twice. Another seed differs.
"$sim" run --topology grid:3x2 --loss 0.3 --hours 6 --urgent 0.2 --seed 7 --count 2 --json >"$dir/a"
"$sim" run --topology grid:3x2 --loss 0.3 --hours 6 --urgent 0.2 --seed 7 --count 2 --json >"$dir/b"
cmp "$dir/a" "$dir/b" || fail "the same run differs"
"$sim" run --topology grid:3x2 --loss 0.3 --hours 6 --urgent 0.2 --seed 8 --count 2 --json >"$dir/c"
if cmp -s "$dir/a" "$dir/c"; then fail "another seed tells the same"; fi
"$sim" storm --seed 3 --count 3 --hours 6 >"$dir/a"
"$sim" storm --seed 3 --count 3 --hours 6 >"$dir/b"
cmp "$dir/a" "$dir/b" || fail "the same storm differs"
"$sim" tell --seed 3 --hours 6 --frames >"$dir/a"
"$sim" tell --seed 3 --hours 6 --frames >"$dir/b"
cmp "$dir/a" "$dir/b" || fail "the same story differs"
grep -q '^Seed 3: ' "$dir/a" || fail "the story does not say what net it is"
grep -q 'the end: everything is everywhere' "$dir/a" || fail "the story has no end"

# Even: a first record after 1 to 11 min, then one every 10 min: 12 in 121 min, whatever the seed. And
# nothing is promised: what follows is not what follows with a promise.
"$sim" run --topology chain:2 --hours 2.016 --cadence even --count 5 --json >"$dir/a"
grep -q '"originated": 60,' "$dir/a" || fail "records at an even pace are not 12 a seed"
"$sim" run --topology chain:2 --hours 2.016 --cadence declared --count 5 --json >"$dir/b"
if cmp -s "$dir/a" "$dir/b"; then fail "a promise makes no difference"; fi

# Stations that hear when somebody is on air run into each other far less: 2500 collisions instead of
# 10100 in ten seeds of this net over 24 h; here a few hours are enough to see the half.
busy="run --topology chain:5 --loss 0.3 --hours 6 --urgent 0.3 --count 3 --json"
# shellcheck disable=SC2086 # a list of options
deaf=$("$sim" $busy | sed -n 's/.*"collisions": \([0-9]*\).*/\1/p')
# shellcheck disable=SC2086
told=$("$sim" $busy --sensing | sed -n 's/.*"collisions": \([0-9]*\).*/\1/p')
[ "$((told * 2))" -lt "$deaf" ] || fail "$told collisions with sensing, $deaf without"

# The keys that scripts read.
for key in originated delivered_to_base delivered_to_all airtime_s genie_airtime_s ratio p50_s p95_s \
    urgent_p95_s genie_urgent_p95_s digest_share collisions violations trace_hash; do
    grep -q "\"$key\":" "$dir/c" || fail "the JSON lacks $key"
done

# A file with positions: 3 km of free space lose nothing, and no ridge lets 900 km of land through.
printf 'station base 0 0 0 base\nstation camp 3000 0 500\n' >"$dir/near"
printf 'station base 0 0 0 base\nstation camp 900000 0 500\n' >"$dir/far"
"$sim" run --topology "$dir/near" --path-loss free --hours 3 --json >"$dir/a"
originated=$(sed -n 's/.*"originated": \([0-9]*\),.*/\1/p' "$dir/a")
[ "$originated" -gt 10 ] || fail "a station with a position reports nothing"
grep -q "\"delivered_to_base\": $originated," "$dir/a" || fail "3 km of free space lose records"
"$sim" run --topology "$dir/far" --path-loss land --hours 3 --json >"$dir/a"
grep -q '"delivered_to_base": 0,' "$dir/a" || fail "900 km over land deliver"

# A wrong word is named, with its bound and an example, and nothing is printed.
refused() {
    words=$1
    shift
    status=0
    "$sim" "$@" >"$dir/out" 2>"$dir/err" || status=$?
    [ $status -eq 64 ] || fail "$* exits with $status instead of 64"
    [ ! -s "$dir/out" ] || fail "$* prints something"
    grep -q -- "$words" "$dir/err" || fail "$* does not say '$words': $(cat "$dir/err")"
}
refused "example: ridgepost-sim run" walk
refused "run needs --topology" run
refused "\-\-loss '1.5' is not 0 to 1.*example: --loss 0.3" run --topology chain:5 --loss 1.5
refused "\-\-sf '6' is not .* 7 to 12" run --topology chain:5 --sf 6
refused "\-\-bw '200' is not .*125, 250 or 500" run --topology chain:5 --bw 200
refused "\-\-cadence 'often' is not .declared., .even. or .sporadic." run --topology chain:5 --cadence often
refused "\-\-count needs a value" run --topology chain:5 --count
refused "has no option --speed" run --speed
refused "has no option --loss" storm --loss 0.3
refused "A-B:from-to" run --topology chain:5 --cut s1-s2
refused "must name two stations" run --topology chain:5 --cut s1-s9:1-2
refused "more than the 4 stations" run --topology chain:5 --origins 5
refused "chain" run --topology chain:1
"$sim" --help | grep -q "station NAME" || fail "--help does not document the topology file"
