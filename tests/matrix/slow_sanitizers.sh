#!/bin/sh
# The everyday test programs and the hostile inputs under clang's address, leak and undefined
# behaviour sanitizers.
set -u
cd "$(dirname "$0")/../.."
base=${BUILD:-build}
if ! command -v clang >/dev/null 2>&1; then
    echo "skipped: there is no clang"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
export UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 SANITISED=1
if make --no-print-directory -j2 BUILD="$base/sanitized" CC=clang OPTIMISE=-O1 \
    SANITISE="-fsanitize=address,undefined -fno-sanitize-recover=undefined" run-tests \
    TEST_SCRIPTS="tests/command/test_hostile.sh tests/command/test_commands.sh tests/examples/test_examples.sh" \
    >"$base/sanitized.log" 2>&1; then
    tail -n 1 "$base/sanitized.log" | sed 's/^/sum /'
    echo "1 passed, 0 failed"
else
    grep -E 'ERROR|runtime error|failed|expected|SUMMARY' "$base/sanitized.log" | grep -v ' 0 failed' | tail -n 30
    echo "0 passed, 1 failed"
    exit 1
fi
