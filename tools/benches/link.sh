#!/bin/sh
# The report behind `tools/bench link`: the link against its first marks and aims.
# usage: link.sh BUILD_FOLDER [SAMPLES]
set -eu
build=$1
shift
exec "$build/tools/benches/bench_link" "$build/tools/sim/ridgepost-sim" \
    "$build/tools/benches/bench_wire" "$@"
