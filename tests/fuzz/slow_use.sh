#!/bin/sh
# Half a minute of made-up sets of files that use each other through the compiler, under the address and
# undefined behaviour sanitizers; SECONDS_OF_FUZZING=3600 for longer. What it finds it leaves in
# $BUILD/fuzz.
set -u
cd "$(dirname "$0")/../.." || exit 1
BUILD=${BUILD:-build}
if ! command -v clang >/dev/null; then
    echo "skipped: clang is not installed"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
mkdir -p "$BUILD/fuzz/found"
make --no-print-directory BUILD="$BUILD" "$BUILD/generated/grammar.h" "$BUILD/generated/lexer.c" >/dev/null || exit 1
if ! clang -std=c11 -g -O1 -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=undefined \
    -ffp-contract=off -D_GNU_SOURCE -I. -I"$BUILD/generated" -o "$BUILD/fuzz/fuzz_use" \
    tests/fuzz/fuzz_use.c "$BUILD/generated/grammar.c" "$BUILD/generated/lexer.c" \
    lang/*.c runtime/core/*.c -lm; then
    echo "fuzz_use does not build"
    echo "0 passed, 1 failed"
    exit 1
fi
mkdir -p "$BUILD/fuzz/corpus_use"
if "$BUILD/fuzz/fuzz_use" -max_total_time="${SECONDS_OF_FUZZING:-30}" -timeout=10 -max_len=4096 \
    -rss_limit_mb=1024 -dict=tests/fuzz/gloam.dict -artifact_prefix="$BUILD/fuzz/found/" \
    -print_final_stats=1 "$BUILD/fuzz/corpus_use" tests/fuzz/corpus_use >"$BUILD/fuzz/log_use" 2>&1; then
    grep -E 'number_of_executed_units' "$BUILD/fuzz/log_use"
    echo "1 passed, 0 failed"
else
    tail -n 30 "$BUILD/fuzz/log_use"
    echo "0 passed, 1 failed"
    exit 1
fi
