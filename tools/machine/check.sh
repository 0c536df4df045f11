#!/bin/sh
# An emulated computer (QEMU without acceleration) with Debian's own kernel, systemd and udev, and a
# USB serial adapter that is plugged, pulled out and plugged again: the installed daemon under its
# hardened unit, the shipped udev rule, and `ridgepost radios` on a real /sys. The adapter's other end
# is an emulated modem on the air of this computer, where a base station listens.
#
# Needs root (debootstrap); the kernel and the base system are fetched once, into build/machine.
# usage: check.sh BUILD_FOLDER [SECONDS]     (how long the whole may take; 900)
set -eu
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "$1" && pwd)
limit=${2:-900}
store=$(dirname "$build")/machine
. "$here/../net.sh"
[ "$(id -u)" -eq 0 ] || {
    echo "only root can make the base system of the machine" >&2
    exit 77
}
mkdir -p "$store"

# The kernel of Debian, unpacked, never installed here.
if [ ! -e "$store/kernel/boot" ]; then
    image=$(apt-cache depends linux-image-amd64 | awk '/Depends: linux-image/ { print $2 }')
    (cd "$store" && apt-get download -qq "$image" && dpkg-deb -x "$image"_*.deb kernel.new)
    mv "$store/kernel.new" "$store/kernel"
fi
# The libraries of the programs, by what they are linked with here.
if [ ! -e "$store/base" ]; then
    rm -rf "$store/base.new"
    libraries=$(ldd "$build/src/daemon/ridgepostd" "$build/src/cli/ridgepost" |
        awk '/=> \// { print $3 }' | sort -u | while read -r file; do
        dpkg -S "$(readlink -f "$file")" 2>/dev/null || dpkg -S "/usr$file" 2>/dev/null || true
    done | sed 's/:.*//' | sort -u | paste -sd, -)
    . /etc/os-release
    debootstrap --variant=minbase --include="systemd-sysv,udev,kmod,$libraries" \
        "$VERSION_CODENAME" "$store/base.new" >"$store/debootstrap.log" 2>&1 || {
        tail -n 20 "$store/debootstrap.log"
        exit 1
    }
    mv "$store/base.new" "$store/base"
fi

net_scratch machine "$build"
qemu_pid=
trap 'exec 3>&- 4>&-; [ -z "$qemu_pid" ] || kill "$qemu_pid" 2>/dev/null || true; net_stop
    rm -rf "$dir"' EXIT
trap 'exit 130' INT TERM

# --- the root of the machine, as an initramfs ---
root=$dir/root
cp -a "$store/base" "$root"
rm -rf "$root"/var/cache/apt "$root"/var/lib/apt/lists "$root"/usr/share/doc "$root"/usr/share/man \
    "$root"/usr/share/locale "$root"/usr/share/i18n "$root"/usr/share/zoneinfo \
    "$root"/usr/lib/x86_64-linux-gnu/gconv
DESTDIR=$root cmake --install "$build" --prefix /usr >/dev/null
version=$(ls "$store/kernel/lib/modules")
for part in usb/common usb/core usb/host usb/serial usb/class; do
    mkdir -p "$root/lib/modules/$version/kernel/drivers/$part"
    cp -a "$store/kernel/lib/modules/$version/kernel/drivers/$part/." \
        "$root/lib/modules/$version/kernel/drivers/$part/"
done
cp "$store/kernel/lib/modules/$version"/modules.order \
    "$store/kernel/lib/modules/$version"/modules.builtin* "$root/lib/modules/$version/"
chroot "$root" depmod "$version"
# The shipped rule, with the serial number filled in as its text says.
sed 's/PUT-SERIAL-HERE/RP0007/' "$root/usr/share/doc/ridgepost/61-ridgepost.rules.example" \
    >"$root/etc/udev/rules.d/61-ridgepost.rules"
mkdir "$root/machine"
cp "$here/inside.sh" "$root/machine/"
cp "$here/machine.service" "$root/etc/systemd/system/"
ln -s ../machine.service "$root/etc/systemd/system/multi-user.target.wants/machine.service"
ln -sf /dev/null "$root/etc/systemd/system/serial-getty@ttyS0.service"
ln -sf /dev/null "$root/etc/systemd/system/getty@tty1.service"
ln -sf lib/systemd/systemd "$root/init"
net_make frequency_hz 868125000 duty_permille 1000
cp "$dir/demo.net" "$root/machine/net"
station_config camp 7 camp "Ridge Camp" kiss
sed "s#$dir/demo.net#/etc/ridgepost/net#; s#$dir/camp.db#/var/lib/ridgepost/log.db#
    s#$dir/camp.sock#/run/ridgepost/control.sock#
    s#$dir/camp.tty#/dev/serial/by-id/usb-QEMU_QEMU_USB_SERIAL_RP0007-if00-port0#" \
    "$dir/camp.conf" >"$root/machine/ridgepost.conf"
(cd "$root" && find . | cpio -o -H newc --quiet | gzip -1) >"$dir/initrd"
rm -rf "$root"

# --- the other end ---
cat >"$dir/air.conf" <<CONF
modem camp kiss $dir/camp.tty csma=off
modem base kiss $dir/base.tty csma=off
link camp base 0
air sf 7 bw 125000 cr 5 preamble 8 freq 868125000 sync 12
control $dir/air.sock
CONF
air_start
wait_for 5 test -e "$dir/base.tty"
station_config base 2 base "Lake Camp" kiss
station_start base

# --- the machine ---
mkfifo "$dir/monitor.in" "$dir/monitor.out"
qemu-system-x86_64 -accel tcg -m 1536 -nodefaults -no-reboot -display none \
    -kernel "$store"/kernel/boot/vmlinuz-* -initrd "$dir/initrd" \
    -append 'console=ttyS0 quiet panic=-1 rdinit=/init systemd.show_status=no' \
    -serial "file:$dir/console" -chardev "pipe,id=monitor,path=$dir/monitor" \
    -mon chardev=monitor,mode=readline -device piix3-usb-uhci,id=u \
    -chardev "serial,id=radio,path=$dir/camp.tty" -chardev null,id=other \
    >"$dir/qemu.log" 2>&1 &
qemu_pid=$!
exec 3>"$dir/monitor.in" 4<"$dir/monitor.out"
cat <&4 >/dev/null & # what the monitor echoes
monitor() { echo "$*" >&3; }
arrived() { at base log 7-1 2>/dev/null | grep -q "machine $1\."; }

status=0
# fulfil WISH...: what the inside cannot do by itself.
fulfil() {
    case $1 in
    plug) monitor "device_add usb-serial,chardev=$2,id=$2,bus=u.0,serial=$3,always-plugged=on" ;;
    unplug) monitor "device_del $2" ;;
    arrived)
        if wait_for 120 arrived "$2"; then
            echo "ok entry $2 is at base"
        else
            echo "FAILED entry $2 did not reach base"
            status=1
        fi
        ;;
    esac
}

seen=0 done=no
start=$(date +%s)
alive=yes
while [ $done = no ] && [ $alive = yes ]; do
    kill -0 "$qemu_pid" 2>/dev/null || alive=no # what it said last is still read below
    if [ $(($(date +%s) - start)) -gt "$limit" ]; then
        echo "FAILED the machine is not done after $limit s"
        status=1
        break
    fi
    tr -d '\r' <"$dir/console" 2>/dev/null | grep -a -o 'MACHINE .*' >"$dir/said" || true
    count=$(wc -l <"$dir/said")
    while [ "$seen" -lt "$count" ]; do
        seen=$((seen + 1))
        line=$(sed -n "${seen}s/^MACHINE //p" "$dir/said")
        case $line in
        "wants "*)
            # shellcheck disable=SC2086 # words
            fulfil ${line#wants }
            ;;
        done) done=yes ;;
        FAILED*)
            echo "$line"
            status=1
            ;;
        *) echo "$line" ;;
        esac
    done
    sleep 0.5
done
[ $done = yes ] || {
    echo "FAILED the machine ended early; its console:"
    tail -n 40 "$dir/console"
    tail -n 5 "$dir/qemu.log"
    status=1
}
passed=$(grep -c '^MACHINE ok' "$dir/said" || true)
echo "machine: $passed checks passed inside in $(($(date +%s) - start)) s"
exit $status
