#!/bin/sh
# Every header of the project compiles by itself.
# usage: check_headers.sh SOURCE_DIR C_COMPILER [CFLAG...]
set -eu
src=$1 cc=$2
shift 2
status=0
count=0
# The page program's libraries are optional: without them its headers cannot be compiled.
case " $* " in
*/cairo*) pages=none ;;
*) pages=$src/src/page ;;
esac
for header in $(find "$src/include" "$src/src" -path "$pages" -prune -o -name '*.h' -print | sort); do
    count=$((count + 1))
    if ! "$cc" -std=c11 -D_POSIX_C_SOURCE=200809L -D_DEFAULT_SOURCE -Wall -Wextra -Werror \
        -Wno-unused-function -fsyntax-only -I"$src/include" -I"$src/src" "$@" -x c "$header"; then
        echo "${header#"$src"/} does not compile alone"
        status=1
    fi
done
[ "$count" -gt 0 ] || { echo "no headers found"; exit 1; }
[ $status -eq 0 ] && echo "$count headers compile alone"
exit $status
