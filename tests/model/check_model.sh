#!/bin/sh
# Searches every state of a model: assertions first, then the claim under weak fairness; then plants
# faults, each of which the same search must find.
# usage: check_model.sh SOURCE_DIR MODEL     (skipped with status 77 without spin)
set -eu
folder=$1/tests/model
model=$2
command -v spin >/dev/null || {
    echo "spin is not installed"
    exit 77
}
work=$(mktemp -d "${TMPDIR:-/tmp}/model.XXXXXX")
trap 'rm -rf "$work"' EXIT
cd "$work"
depth_max=500000
memory_mb=1900

fail() {
    echo "FAILED: $*"
    cat "$work"/*.out 2>/dev/null
    exit 1
}

# search assertions|claim [DEFINE...]: leaves what it printed in search.out. The assertions are those
# of TROUBLE, the claim that of CALM (mesh.pml). The search is done before a compiler could have made
# it faster.
search() {
    kind=$1
    shift
    rm -f ./*
    case $kind in
    assertions) phase=-DTROUBLE options=-DSAFETY\ -DNOCLAIM run= ;;
    claim) phase=-DCALM options= run=-a\ -f ;;
    esac
    spin -a "$phase" "$@" "$folder/$model.pml" >spin.out 2>&1 || fail "spin $model"
    ! grep -qi error spin.out || fail "spin $model"
    # shellcheck disable=SC2086 # lists of options
    gcc -O0 -w -DMEMLIM=$memory_mb -DNFAIR=3 $options -o pan pan.c 2>gcc.out ||
        fail "gcc $model"
    # shellcheck disable=SC2086
    ./pan -m$depth_max -n $run >search.out 2>&1 || fail "the search of $model"
}

# Every state was visited, and what was asked for was looked at.
complete() {
    ! grep -qiE 'not completed|too small|out of memory|MEMLIM|truncated' search.out &&
        grep -q '^Full statespace search' search.out &&
        case $1 in
        assertions) grep -q 'assertion violations.*+' search.out ;;
        claim)
            grep -q 'never claim.*+' search.out &&
                grep -q 'acceptance *cycles.*+ (fairness enabled)' search.out
            ;;
        esac
}

# holds assertions|claim
holds() {
    search "$1"
    complete "$1" || fail "$model: the search for $1 is not complete"
    grep -q 'errors: 0$' search.out || fail "$model: $1"
    echo "$model, $1: all states, errors: 0"
    sed -n -e 's/.*depth reached \([0-9]*\),.*/  depth \1/p' \
        -e 's/^ *\([0-9.e+]*\) states, stored.*/  states \1/p' \
        -e 's/.*transitions (= .*/  &/p' \
        -e 's/^ *\([0-9.]*\)\ttotal actual memory usage/  MB \1/p' \
        -e 's/.*elapsed time \([0-9.]*\) seconds.*/  seconds \1/p' search.out
}

# finds assertions|claim MESSAGE DEFINE...: the planted fault is found, and found as what it is.
finds() {
    kind=$1
    message=$2
    shift 2
    search "$kind" "$@"
    grep -q "$message" search.out && grep -q 'errors: 1$' search.out ||
        fail "$model: the fault $1 is not found"
    echo "$model with ${1#-D}: found ($message)"
}

holds assertions
holds claim
case $model in
dissemination)
    finds assertions 'assertion violated' -DSEND_BEFORE_STORE
    finds assertions 'assertion violated' -DSTORES_LATE=RELAY
    finds claim 'acceptance cycle' -DDIFFERENCE_IGNORED
    ;;
evacuation)
    finds assertions 'assertion violated' -DSTORES_LATE=BASE
    finds assertions 'assertion violated' -DLAST_COME_WINS
    finds claim 'acceptance cycle' -DREPETITION_CONSISTENT
    finds claim 'acceptance cycle' -DRECEIPT_FORGOTTEN
    ;;
*) fail "no model $model" ;;
esac
