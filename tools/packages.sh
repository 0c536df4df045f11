#!/bin/sh
# Installs what Ridgepost needs to build and to test on Debian 12. Does nothing when all is there.
# The fonts are for whoever prints: a name in any script.
# usage: packages.sh build|test|browser|machine
set -eu
build="gcc g++ libc6-dev cmake ninja-build pkg-config protobuf-compiler protobuf-c-compiler
libprotobuf-c-dev libserialport-dev libsqlite3-dev libuv1-dev nettle-dev libinih-dev
libjansson-dev libmicrohttpd-dev libgeographiclib-dev
libcairo2-dev libpango1.0-dev libqrencode-dev fonts-noto-core fonts-wqy-microhei"
test="$build clang libclang-rt-14-dev libcmocka-dev libssl-dev git sqlite3
spin poppler-utils zbar-tools"
case "${1:-}" in
build) wanted=$build ;;
test) wanted=$test ;;
browser)
    wanted=$test
    # Node may have come with its npm from elsewhere: what counts is that they run.
    for tool in chromium:chromium node:nodejs npm:npm; do
        command -v "${tool%%:*}" >/dev/null || wanted="$wanted ${tool##*:}"
    done
    ;;
machine) # the kernel and the base system are fetched by tools/machine/check.sh, not installed
    wanted="$build qemu-system-x86 debootstrap cpio"
    ;;
*)
    echo "usage: $0 build|test|browser|machine" >&2
    exit 64
    ;;
esac
missing=
for package in $wanted; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q '^install ok installed$' ||
        missing="$missing $package"
done
[ -n "$missing" ] || exit 0
echo "installing:$missing"
as_root=
if [ "$(id -u)" -ne 0 ]; then
    as_root=sudo
    command -v sudo >/dev/null || {
        echo "these packages are missing and only root can install them:$missing" >&2
        exit 77
    }
fi
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -qq
# shellcheck disable=SC2086 # the list is meant to be split
$as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
