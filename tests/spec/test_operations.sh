#!/bin/sh
# The table of spec/bytecode.md is that of runtime/core/operations.def.
set -u
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
if ${CC:-gcc} -std=c11 -I. -o "$work/make" spec/make_operations.c &&
    "$work/make" spec/bytecode.md >"$work/page" && diff spec/bytecode.md "$work/page"; then
    echo "1 passed, 0 failed"
    status=0
else
    echo "expected spec/bytecode.md (<) to be what spec/make_operations.c makes of it (>)"
    echo "0 passed, 1 failed"
    status=1
fi
rm -r "$work"
exit $status
