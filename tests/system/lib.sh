# Sourced by the system tests: a scratch folder, the programs of a build, and tools/net.sh. Cleans up
# whatever happens. The first argument of each test is the build folder.
build=$1
helpers=$build/tests/system # small programs of these tests
. "$(dirname "$0")/../../tools/net.sh"
net_scratch system "$build"
trap 'net_stop; rm -rf "$dir"' EXIT
trap 'exit 130' INT TERM
failures=0
fail() {
    echo "FAILED: $*"
    failures=$((failures + 1))
}

# expect STATUS WORDS COMMAND...: exits so, and says so on either stream.
expect() {
    status=$1 words=$2
    shift 2
    code=0
    "$@" >"$dir/stdout" 2>"$dir/stderr" || code=$?
    cat "$dir/stdout" "$dir/stderr" >"$dir/both"
    [ $code -eq "$status" ] || fail "$*: exit $code, not $status: $(cat "$dir/both")"
    grep -qF -- "$words" "$dir/both" || fail "$*: \"$words\" is not in: $(cat "$dir/both")"
}
