#!/bin/sh
# The install target puts every file in its place, and the installed programs run.
# usage: test_install.sh BUILD_FOLDER
set -eu
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
DESTDIR=$root cmake --install "$1" --prefix /usr >/dev/null
status=0
[ ! -e "$1/src/page/ridgepost-page" ] || [ -s "$root/usr/bin/ridgepost-page" ] ||
    { echo "not installed: ridgepost-page"; status=1; }
for file in bin/ridgepost sbin/ridgepostd bin/ridgepost-air include/ridgepost/error.h \
    include/ridgepost/engine.h lib/systemd/system/ridgepostd.service \
    lib/sysusers.d/ridgepost.conf share/doc/ridgepost/README.md \
    share/doc/ridgepost/ridgepost.conf.example share/doc/ridgepost/PROTOCOL.md; do
    [ -s "$root/usr/$file" ] || { echo "not installed: $file"; status=1; }
done
find "$root" -name ridgepost.pc | grep -q . || { echo "not installed: ridgepost.pc"; status=1; }
"$root/usr/bin/ridgepost" --version | grep -q '^ridgepost [0-9]' || status=1
"$root/usr/sbin/ridgepostd" --help | grep -q 'never a substitute for descent' || status=1
# Every key of the example is known to the daemon: it gets as far as the missing net file.
code=0
"$root/usr/sbin/ridgepostd" --config "$root/usr/share/doc/ridgepost/ridgepost.conf.example" \
    >"$root/out" 2>&1 || code=$?
[ $code -eq 78 ] && grep -q '/etc/ridgepost/net' "$root/out" ||
    { echo "the example configuration: exit $code"; cat "$root/out"; status=1; }
exit $status
