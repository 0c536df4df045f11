#!/bin/sh
# Every #include "room/..." in src/ and include/ must be allowed by layers.txt.
# usage: check_layers.sh SOURCE_DIR [LAYERS_FILE]
set -eu
src=$1
layers=${2:-$src/tests/lint/layers.txt}
bad=$(
    find "$src/src" -name '*.[ch]' -o -name '*.cpp' | sort | while read -r file; do
        room=${file#"$src"/src/}
        room=${room%%/*}
        allowed=" $room $(sed -n "s/^$room: *//p" "$layers") "
        sed -n 's/^#include "\([a-z_]*\)\/.*/\1/p' "$file" | sort -u | while read -r used; do
            case "$allowed" in
            *" $used "*) ;;
            *) echo "${file#"$src"/}: room $room may not include room $used" ;;
            esac
        done
    done
    find "$src/include" -name '*.h' | sort | while read -r file; do
        sed -n 's/^#include "\([a-z_]*\)\/.*/\1/p' "$file" | sort -u | while read -r used; do
            [ "$used" = ridgepost ] || echo "${file#"$src"/}: include/ may not include room $used"
        done
    done
)
if [ -n "$bad" ]; then
    echo "$bad"
    exit 1
fi
echo "layers hold"
