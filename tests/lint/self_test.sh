#!/bin/sh
# The lint checks must be able to fail: each is given a planted fault and must find it.
# usage: self_test.sh LINT_DIR C_COMPILER
set -eu
lint=$1 cc=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
must_fail() {
    if "$@" >"$work/out" 2>&1; then
        echo "a planted fault was not found by: $*"
        cat "$work/out"
        exit 1
    fi
}
mkdir -p "$work/src/base" "$work/src/wire" "$work/include/ridgepost" "$work/tests/lint"
cp "$lint/layers.txt" "$work/tests/lint/"
printf 'int rp_x(void);\n' >"$work/src/wire/x.h"
printf '#include "base/y.h"\n' >"$work/src/wire/ok.h"
printf 'int rp_y(void);\n' >"$work/src/base/y.h"
sh "$lint/check_layers.sh" "$work" >/dev/null
printf '#include "wire/x.h"\n' >"$work/src/base/bad.h"
must_fail sh "$lint/check_layers.sh" "$work"
printf 'struct rp_z { size_t len; };\n' >"$work/src/base/bad.h"
must_fail sh "$lint/check_headers.sh" "$work" "$cc"
printf '#include <stdlib.h>\nvoid *rp_grab(void);\nvoid *rp_grab(void) { return malloc(1); }\n' \
    >"$work/grab.c"
"$cc" -c -o "$work/grab.o" "$work/grab.c"
must_fail sh "$lint/check_purity.sh" "$lint/allowed_symbols.txt" base "$work/grab.o"
awk 'BEGIN { for (i = 0; i < 601; i++) print "/* line */" }' >"$work/src/base/long.c"
must_fail sh "$lint/check_tree.sh" "$work"
mkdir -p "$work/src/handover"
printf 'const char *rp_w = "code"; /* "a comment" */\n' >"$work/src/handover/w.c"
printf '"code"\n' >"$work/words.txt"
sh "$lint/check_form_words.sh" "$work" "$work/words.txt" >/dev/null
printf 'const char *rp_v = "Hazards: ";\n' >"$work/src/handover/v.c"
must_fail sh "$lint/check_form_words.sh" "$work" "$work/words.txt"
rm "$work/src/handover/v.c"
printf '"code"\n"gone"\n' >"$work/words.txt"
must_fail sh "$lint/check_form_words.sh" "$work" "$work/words.txt"
echo "planted faults are found"
