#!/bin/sh
# Real time agrees: three real daemons on emulated modems, and the simulator, with the same chain,
# radio, loss and workload; prints airtime and delivery of both and their ratio. Fails when the
# airtime of all seeds together differs by more than 15 %, or when either did not deliver all.
#
# Same seed does not mean same losses here: real time is not repeatable, so means are compared over
# some seeds, with the spread of one run. The emulated modems neither sense the channel (csma=off)
# nor wait before they key up, as the simulator's.
# usage: agree.sh BUILD_FOLDER [SEEDS [SECONDS [LOSS]]]     (3 seeds at the same time, 600 s, 0.2)
set -eu
build=$1
seeds=${2:-3}
seconds=${3:-600}
loss=${4:-0.2}
bound_pct=15
. "$(dirname "$0")/../net.sh"
every_s=30         # between two records of the camp
sim_count=50       # seeds of the simulator: its spread is then small beside that of real time
settle_s=180       # at most so long until everything is everywhere
command -v sqlite3 >/dev/null || {
    echo "sqlite3 is needed (tools/packages.sh test)"
    exit 77
}
top=$(mktemp -d "${TMPDIR:-/tmp}/ridgepost-agree.XXXXXX")
trap 'for pid in $(cat "$top"/*/*.pid 2>/dev/null); do kill "$pid" 2>/dev/null || true; done
    wait; [ -n "${RP_KEEP:-}" ] || rm -rf "$top"' EXIT
trap 'exit 130' INT TERM

# Everything any station holds is held by all.
settled() {
    for key in camp relay base; do
        sqlite3 -readonly "$dir/$key.db" 'SELECT count(*) FROM segments' 2>/dev/null || echo $key
    done | sort -u | awk 'END { exit NR == 1 ? 0 : 1 }'
}

# The camp enters: an episode first, then its reports.
enter() {
    if [ "$1" = 0 ]; then
        at camp open hace patient "M. Tarn" sex m age 34
    else
        at camp report same spo2 $((60 + $1 * 7 % 31)) air pulse $((90 + $1 * 11 % 51))
    fi >/dev/null
}

# One net in real time; leaves air.log and entered in its folder.
real() {
    TMPDIR=$top net_scratch "seed$1" "$build"
    net_make text_armour 0 spreading_factor 7 bandwidth_hz 125000 duty_permille 1000
    cat >"$dir/air.conf" <<CONF
modem camp kiss-ack $dir/camp.tty txdelay=0 csma=off
modem relay kiss-ack $dir/relay.tty txdelay=0 csma=off
modem base kiss-ack $dir/base.tty txdelay=0 csma=off
link camp relay $loss
link relay base $loss
air sf 7 bw 125000 cr 5 preamble 8 freq 869525000 sync 12
latency 0 10
seed $1
CONF
    air_start
    station_config camp 7 camp "Ridge Camp" kiss-ack
    station_config relay 4 relay "Moraine Cache" kiss-ack
    station_config base 2 base "Lake Camp" kiss-ack
    wait_for 20 test -e "$dir/base.tty"
    for station in camp relay base; do station_start $station; done
    began=$(date +%s)
    due=$((60 + $1 * 7 % every_s))
    entries=0
    while [ $due -le "$seconds" ]; do
        now=$(($(date +%s) - began))
        [ $now -ge $due ] || sleep $((due - now))
        enter $entries
        entries=$((entries + 1))
        due=$((due + every_s))
    done
    now=$(($(date +%s) - began))
    [ $now -ge "$seconds" ] || sleep $((seconds - now))
    wait_for $settle_s settled || true
    net_stop
    echo $entries >"$dir/entered"
}

# What was on air, by kind, from the head of each frame (PROTOCOL.md, "Head"): a line
# `KIND FRAMES AIRTIME_S`. Records: the camp's own log; others: receipts and station cards.
on_air() {
    awk '
        function digit(c) { return index("0123456789abcdef", c) - 1 }
        / tx begin / {
            for (i = 1; i <= NF; i++) {
                if ($i ~ /^airtime_us=/) us = substr($i, 12)
                if ($i ~ /^hex=/) hex = substr($i, 5)
            }
            frame = int(digit(substr(hex, 1, 1)) % 4)
            station = int((digit(substr(hex, 3, 1)) * 16 + digit(substr(hex, 4, 1))) / 2)
            kind = frame == 1 ? "digests" : frame == 2 ? "vectors" : frame == 3 ? "requests" \
                 : station == 7 ? "records" : "others"
            count[kind]++
            airtime[kind] += us / 1e6
            all_frames++
            all += us / 1e6
            if (kind == "records") bytes += length(hex) / 2
        }
        END {
            for (kind in count) print kind, count[kind], airtime[kind]
            print "all", all_frames, all
            print "bytes", bytes / count["records"], 0
        }' "$@"
}

say_real() {
    for folder in "$top"/ridgepost-seed*; do
        on_air "$folder/air.log" >"$folder/on_air"
        entered=$(cat "$folder/entered")
        # of the camp's log at base what was entered: the episode and its reports
        camp=$(sqlite3 -readonly "$folder/base.db" \
            "SELECT count(*) FROM records WHERE (origin >> 9) = 7 AND kind IN (2, 4)")
        awk -v entered="$entered" -v held="$camp" '$1 == "all" {
            printf "real %d %d %.3f %d\n", entered, held, $3, $2 }' "$folder/on_air"
    done
}

echo "# chain of 3, loss $loss, SF7, 125 kHz, $seconds s, a record every $every_s s, 3 real daemons"
pids=
for seed in $(seq 1 "$seeds"); do
    real "$seed" &
    pids="$pids $!"
done
for pid in $pids; do wait "$pid"; done
say_real >"$top/real"
bytes=$(awk '$1 == "bytes" { n += $2; k++ } END { printf "%.0f", n / k }' "$top"/*/on_air)
for seed in $(seq 1 $sim_count); do
    "$build/tools/sim/ridgepost-sim" run --topology chain:3 --loss "$loss" --sf 7 --bw 125 \
        --hours "$(awk -v s="$seconds" 'BEGIN { printf "%.3f", s / 3600 }')" --settle-hours 0.05 \
        --interval-min "$(awk -v s=$every_s 'BEGIN { print s / 60 }')" --cadence even \
        --duty 100 --modem kiss-ack --record-bytes "$bytes" --seed "$seed" --json
done >"$top/sim"
awk -v real="$top/real" -v bytes="$bytes" -v bound=$bound_pct '
    function spread(sum, squares, n) {
        return n > 1 ? sqrt((squares - sum * sum / n) / (n - 1)) : 0
    }
    /"originated"/ { gsub(/,/, ""); made = $2 }
    /"delivered_to_base"/ { gsub(/,/, ""); sim_held += $2; sim_made += made }
    /"airtime_s"/ { gsub(/,/, ""); a = $2 / made; sim += a; sim2 += a * a; sims++ }
    END {
        while ((getline line < real) > 0) {
            split(line, f, " ")
            a = f[4] / f[2]
            printf "real time: %d of %d records at base, airtime %.2f s, %.3f s a record\n",
                f[3], f[2], f[4], a
            made_real += f[2]; held_real += f[3]; sum += a; sum2 += a * a; n++
        }
        r = sum / n; s = sim / sims
        printf "frames of the log of the camp: %d bytes on average\n", bytes
        form = "%s: %d of %d at base, %.3f s of airtime a record, deviation %.3f, %d seeds\n"
        printf form, "real time", held_real, made_real, r, spread(sum, sum2, n), n
        printf form, "simulator", sim_held, sim_made, s, spread(sim, sim2, sims), sims
        printf "ratio real time to simulator: %.3f (at most %d %% apart)\n", r / s, bound
        good = held_real == made_real && sim_held == sim_made && \
               r / s <= 1 + bound / 100 && r / s >= 1 - bound / 100
        print good ? "agrees" : "DOES NOT AGREE"
        exit good ? 0 : 1
    }' "$top/sim" && status=0 || status=1
# Both by kind. For the simulator "others" is all that is not a report of the camp; the log of real
# time cannot tell the station card of the camp from its reports and has it among the records.
made=$(awk '{ n += $2 } END { print n }' "$top/real")
sim_made=$(awk '/"originated"/ { n += $2 } END { print n }' "$top/sim")
{
    awk -v made="$made" '$1 != "bytes" { count[$1] += $2; airtime[$1] += $3 }
        END { for (kind in count) print "real", kind, count[kind] / made, airtime[kind] / made }' \
        "$top"/*/on_air
    grep -h by_kind "$top/sim" | tr -d '{},":' | awk -v made="$sim_made" '
        function kind(word) { return word ~ /^(receipts|other_records)$/ ? "others" : word }
        /^ *airtime/ { for (i = 2; i < NF; i += 2) airtime[kind($i)] += $(i + 1) }
        /^ *frames/ { for (i = 2; i < NF; i += 2) count[kind($i)] += $(i + 1) }
        END {
            for (k in count) {
                print "sim", k, count[k] / made, airtime[k] / made
                all += count[k]; all_s += airtime[k]
            }
            print "sim all", all / made, all_s / made
        }'
} | awk '
    { count[$1 $2] = $3; airtime[$1 $2] = $4; kinds[$2] = 1 }
    END {
        printf "%-10s %12s %12s %12s %12s\n", "a record", "frames real", "sim", "ms real", "sim"
        for (k in kinds)
            printf "%-10s %12.2f %12.2f %12.1f %12.1f\n", k, count["real" k], count["sim" k],
                1000 * airtime["real" k], 1000 * airtime["sim" k]
    }'
exit $status
