#!/bin/sh
# Runs as root inside the emulated computer (check.sh), started by machine.service. Speaks to the
# outside by lines on the console: "MACHINE ok ..." and "MACHINE FAILED ..." are judged there,
# "MACHINE wants ..." asks for something only the outside can do.
link=/dev/serial/by-id/usb-QEMU_QEMU_USB_SERIAL_RP0007-if00-port0
say() { echo "MACHINE $*" >/dev/console; }
# check WORDS COMMAND...
check() {
    words=$1
    shift
    if "$@" >/tmp/out 2>&1; then
        say "ok $words"
    else
        say "FAILED $words: $(tr '\n' '|' </tmp/out | cut -c 1-1500)"
    fi
}
# within SECONDS COMMAND...
within() {
    end=$(($(date +%s) + $1))
    shift
    until "$@" >/dev/null 2>&1; do
        [ "$(date +%s)" -lt $end ] || { "$@"; return; }
        sleep 0.5
    done
}
wants() { say "wants $*"; }
at() { ridgepost --socket /run/ridgepost/control.sock "$@"; }
ready() { at status | grep -q 'radio   kiss ready' || { at status; journalctl -u ridgepostd -n 20; false; }; }
gone() { at status | grep -q 'NOT CONNECTED' || { at status; false; }; }
has() { udevadm info --query=property --name="$1" | grep -qx "$2" || { udevadm info --name="$1"; false; }; }
lacks() { ! has "$1" "$2" >/dev/null; }

# The station as a package would set it up.
systemd-sysusers
install -d -m 0755 /etc/ridgepost
install -o ridgepost -m 0600 /machine/net /etc/ridgepost/net
install -m 0644 /machine/ridgepost.conf /etc/ridgepost/ridgepost.conf
systemctl start ridgepostd
check "the installed unit runs without its radio" within 60 at status
check "a missing port is said" within 20 gone

wants plug radio RP0007
check "udev gives the stable name" within 60 test -e "$link"
udevadm settle
check "the rule gives the name of its own" test -e /dev/ridgepost-radio
check "the rule keeps modem services away" has /dev/ttyUSB0 ID_MM_DEVICE_IGNORE=1
check "and its single ports" has /dev/ttyUSB0 ID_MM_PORT_IGNORE=1
check "systemd knows the port" has /dev/ttyUSB0 TAGS=:systemd:
usb=$(readlink -f /sys/class/tty/ttyUSB0/device/../..)
echo auto >"$usb/power/control"
udevadm trigger --action=add --settle "$usb"
check "the rule keeps the adapter awake" grep -qx on "$usb/power/control"
check "the hardened service opens the port" within 60 ready
list_shows() { ridgepost radios >/tmp/radios; grep -q "$1" /tmp/radios || { cat /tmp/radios; false; }; }
check "radios: the USB numbers" list_shows 'USB 0403:6001 QEMU QEMU USB SERIAL, serial number RP0007'
check "radios: the stable name" list_shows "port = $link"
check "radios: the holder" list_shows 'held by ridgepostd (process [0-9]*): a running station'
refused() { ridgepost radios try "$link" 2>&1 | tee /tmp/try | grep -q 'ridgepostd, process' || { cat /tmp/try; false; }; }
check "radios try leaves a held port alone" refused
check "an episode is opened" at open hace patient "M. Tarn"
check "an entry goes out" at note "machine one."
wants arrived one

# Another adapter with the same numbers is nobody's business.
wants plug other OTHER
check "a second adapter comes" within 60 test -e /dev/ttyUSB1
udevadm settle
check "the rule leaves it alone" lacks /dev/ttyUSB1 ID_MM_DEVICE_IGNORE=1
check "the own name stays" sh -c '[ "$(readlink -f /dev/ridgepost-radio)" = /dev/ttyUSB0 ]'
wants unplug other
check "it goes again" within 60 sh -c '[ ! -e /dev/ttyUSB1 ]'

# Pulled out and put back in.
wants unplug radio
check "the station sees that the radio is gone" within 60 gone
check "it records meanwhile" at note "machine two."
wants plug radio RP0007
check "it opens the radio again" within 90 ready
check "under the same number, since it let go at once" test -e /dev/ttyUSB0
wants arrived two

# Another program clings to the old one: the kernel gives the adapter another number.
sleep 1000 </dev/ttyUSB0 &
clinging=$!
wants unplug radio
check "gone again" within 60 gone
check "it records again" at note "machine three."
wants plug radio RP0007
check "the adapter has another number" within 60 test -e /dev/ttyUSB1
check "the station follows the stable name" within 90 ready
check "and tells where it leads" sh -c 'journalctl -u ridgepostd | grep -q "(/dev/ttyUSB1)"'
kill $clinging
wants arrived three

# A radio away for long costs nothing and is found again; the service never fell.
restarts() { [ "$(systemctl show -P NRestarts ridgepostd)" = 0 ]; }
check "the service was never restarted" restarts
descriptors() { [ "$(ls "/proc/$(systemctl show -P MainPID ridgepostd)/fd" | wc -l)" -le 25 ]; }
check "no descriptor was left open" descriptors
security() { systemd-analyze security ridgepostd --threshold=18 --no-pager; }
check "systemd's score of the unit is 1.8 or better" security
check "it stops cleanly" systemctl stop ridgepostd
ended() { [ "$(systemctl show -P Result ridgepostd)" = success ]; }
check "with success" ended
say "done"
systemctl poweroff --force --force
