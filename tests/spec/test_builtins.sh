#!/bin/sh
# The tables of spec/builtins.md are those of lang/builtins.def.
set -u
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
if ${CC:-gcc} -std=c11 -I. -o "$work/make" spec/make_builtins.c &&
    "$work/make" spec/builtins.md >"$work/page" && diff spec/builtins.md "$work/page"; then
    echo "1 passed, 0 failed"
    status=0
else
    echo "expected spec/builtins.md (<) to be what spec/make_builtins.c makes of it (>)"
    echo "0 passed, 1 failed"
    status=1
fi
rm -r "$work"
exit $status
