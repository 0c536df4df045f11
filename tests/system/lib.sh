# Sourced by the system tests: a scratch folder, the programs of a build, and tools/net.sh. Cleans up
# whatever happens. The first argument of each test is the build folder.
build=$1
dir=$(mktemp -d "${TMPDIR:-/tmp}/ridgepost-system.XXXXXX")
bin=$dir/bin
mkdir "$bin"
for program in src/cli/ridgepost src/daemon/ridgepostd tools/air/ridgepost-air; do
    ln -s "$build/$program" "$bin/"
done
. "$(dirname "$0")/../../tools/net.sh"
trap 'net_stop; rm -rf "$dir"' EXIT
trap 'exit 130' INT TERM
failures=0
fail() {
    echo "FAILED: $*"
    failures=$((failures + 1))
}
