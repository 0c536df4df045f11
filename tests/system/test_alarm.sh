#!/bin/sh
# What the watch rules find is told by the configured command and on the terminal; a command that
# hangs is killed and holds up no other alarm; an acknowledgement outlives a restart, and so do strokes
# of the pump; the battery is looked at; the protocol
# table that is shipped is read, and a dose against it needs a second name.
# usage: test_alarm.sh BUILD_FOLDER
set -eu
. "$(dirname "$0")/lib.sh"
source=$(cd "$(dirname "$0")/../.." && pwd)
net_make
station_config camp 7 camp "Ridge Camp" kiss 5480
sed -i 's|^port = .*|port = /dev/ridgepost-none|' "$dir/camp.conf"
sed -i "s|^\[net\]|battery = $dir/charge\n[net]|" "$dir/camp.conf"
echo 17 >"$dir/charge"
cat >>"$dir/camp.conf" <<CONF
[treatment]
protocol = $source/tools/packaging/protocol.example
[alarm]
command = $dir/bell
timeout_s = 1
terminal = $dir/terminal
CONF
cat >"$dir/bell" <<SH
#!/bin/sh
echo "\$RIDGEPOST_STATION \$RIDGEPOST_EPISODE \$RIDGEPOST_RULE \$RIDGEPOST_SOUND \$RIDGEPOST_EXERCISE" \
    "\$RIDGEPOST_REASON" >>"$dir/rung"
if [ -e "$dir/hang" ]; then sleep 300; fi
SH
chmod 700 "$dir/bell"
: >"$dir/terminal"
: >"$dir/rung"

sed 's|^command = .*|command = bell|' "$dir/camp.conf" >"$dir/wrong.conf"
expect 78 "is no absolute path" "$bin/ridgepostd" --config "$dir/wrong.conf" --check
sed 's|^battery = .*|battery = BAT0|' "$dir/camp.conf" >"$dir/wrong.conf"
expect 78 "none of auto, none and an absolute path" "$bin/ridgepostd" --config "$dir/wrong.conf" --check
for figure in 'volume_l = 49.9' 'volume_l = 2000.1' 'stroke_l = 0' 'stroke_l = 16.1' 'stroke_l = 2.05' \
    'descent_min = 9' 'descent_min = 1441' 'session_min = 9' 'gauge_target_hpa = 300.1'; do
    sed "s|^\[treatment\]|[treatment]\n$figure|" "$dir/camp.conf" >"$dir/wrong.conf"
    expect 78 "${figure%% *}" "$bin/ridgepostd" --config "$dir/wrong.conf" --check
done
for figure in 'volume_l = 50' 'volume_l = 2000' 'stroke_l = 0.1' 'stroke_l = 16' 'descent_min = 10'; do
    sed "s|^\[treatment\]|[treatment]\n$figure|" "$dir/camp.conf" >"$dir/right.conf"
    expect 0 "are in order" "$bin/ridgepostd" --config "$dir/right.conf" --check
done
sed 's|^protocol = .*|protocol = /nowhere|' "$dir/camp.conf" >"$dir/wrong.conf"
expect 78 "/nowhere" "$bin/ridgepostd" --config "$dir/wrong.conf" --check

station_start camp
at camp --by Ines open hace patient "M. Tarn" allergies "sulfa: rash" >/dev/null
at camp --by Ines obs 7-1 spo2 60 air pulse 131 alert >/dev/null
wait_for 20 grep -q '^7 7-1 spo2-band loud no SpO2 60 % on air, alarm below 68.2 % at 5480 m' "$dir/rung" ||
    fail "the command was not told of the SpO2: $(cat "$dir/rung")"
wait_for 20 grep -q '^7 7-1 pulse loud no pulse 131/min on air' "$dir/rung" ||
    fail "the command was not told of the pulse: $(cat "$dir/rung")"
grep -q 'ALARM 7-1 pulse: ' "$dir/terminal" || fail "the terminal was not told"
at camp alarms | grep -q 'LOUD spo2-band' || fail "alarms does not list it"
at camp alarms | grep -q "soft battery: this station's battery is at 17 %" || fail "the battery is not told"
at camp status | grep -qx 'battery 17 %' || fail "status does not show the battery"

# A hanging command is killed, and told of once; the next alarm still comes.
: >"$dir/hang"
at camp --by Ines obs 7-1 resp 34 pulse 132 spo2 59 air alert >/dev/null
wait_for 20 grep -q '7-1 resp loud' "$dir/rung" || fail "the first of three was not told"
wait_for 30 grep -q '7-1 pulse loud no pulse 132/min' "$dir/rung" ||
    fail "a hanging command held up the rest: $(cat "$dir/rung")"
grep -q 'took too long and was killed' "$dir/camp.log" || fail "the log does not say it"
rm "$dir/hang"

# By name, for good, until there is something new; also after a restart.
expect 65 "answered by name" at camp alarms ack 7-1 spo2-band
at camp --by Ines alarms ack 7-1 spo2-band "finger was cold" >/dev/null
at camp --by Ines descent no dark >/dev/null
at camp --by Ines chamber close >/dev/null
at camp --by Ines chamber at 2psi >/dev/null
for stroke in 1 2 3; do at camp stroke Jory >/dev/null; done
kill "$(cat "$dir/camp.pid")"
wait "$(cat "$dir/camp.pid")" || true
station_start camp
at camp episode 7-1 | grep -q '3 strokes told, the last .* ago; Jory' || fail "a restart forgot the strokes"
at camp alarms | grep -q 'acknowledged by Ines' || fail "a restart forgot the acknowledgement"

# Doses against the shipped table, which says that nobody reviewed it.
at camp --by Ines give 7-1 nifedipine 30mg po | grep -q 'NOT REVIEWED' || fail "it does not say NOT REVIEWED"
expect 65 "second pulmonary vasodilator" at camp --by Ines give 7-1 sildenafil 50mg po
expect 65 "allergy" at camp --by Ines give 7-1 acetazolamide 250mg po
at camp --by Ines give 7-1 acetazolamide 250mg po confirmed Jory >/dev/null
at camp log 7-1 | grep -c 'note' | grep -qx 2 || fail "the two refusals are not in the log"
at camp episode 7-1 | grep -q 'nifedipine: given .*, interval over' || fail "next due is not shown"
[ $failures -eq 0 ]
