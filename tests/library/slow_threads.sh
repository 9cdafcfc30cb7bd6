#!/bin/sh
# The library's tests, threads among them, under clang's thread sanitizer.
# Takes about 90 s.
set -u
cd "$(dirname "$0")/../.."
base=${BUILD:-build}
if ! command -v clang >/dev/null 2>&1; then
    echo "skipped: there is no clang"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
mkdir -p "$base"
if make --no-print-directory -j2 BUILD="$base/threads" CC=clang SANITISE=-fsanitize=thread \
    "$base/threads/tests/library/test_library" >"$base/threads.log" 2>&1 &&
    "$base/threads/tests/library/test_library" >>"$base/threads.log" 2>&1; then
    echo "1 passed, 0 failed"
else
    grep -E 'WARNING|FAILED|ERROR|SUMMARY|error' "$base/threads.log" | tail -n 30
    echo "0 passed, 1 failed"
    exit 1
fi
