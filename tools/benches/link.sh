#!/bin/sh
# The report behind `tools/bench link`: the link against its first marks and aims.
# usage: link.sh BUILD_FOLDER [SAMPLES]
set -eu
build=$1
shift
status=0
"$build/tools/benches/bench_link" "$build/tools/sim/ridgepost-sim" "$@" || status=$?
echo
echo "# from the records themselves; first mark 40, aim 32"
"$build/tools/benches/bench_wire" | grep '^full 16-field status report'
exit $status
