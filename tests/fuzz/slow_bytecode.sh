#!/bin/sh
# Half a minute of made-up bytecode through the reader, the verifier and the machine, under the
# address and undefined behaviour sanitizers; SECONDS_OF_FUZZING=3600 for longer. It starts from
# the compiled examples. What it finds it leaves in $BUILD/fuzz/found.
set -u
cd "$(dirname "$0")/../.." || exit 1
BUILD=${BUILD:-build}
if ! command -v clang >/dev/null; then
    echo "skipped: clang is not installed"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
seeds=$BUILD/fuzz/seeds_bytecode
mkdir -p "$BUILD/fuzz/found" "$BUILD/fuzz/corpus_bytecode" "$seeds"
make --no-print-directory BUILD="$BUILD" "$BUILD/gloam" >/dev/null || exit 1
for text in examples/*.gloam spec/conformance/*/*.gloam; do
    "$BUILD/gloam" compile -o "$BUILD/fuzz/seed" "$text" >/dev/null 2>&1 &&
        cp "$BUILD/fuzz/seed" "$seeds/$(echo "$text" | tr / -)"
done
echo "$(ls "$seeds" | wc -l) programs to start from"
FLAGS="-std=c11 -g -O1 -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=undefined
    -ffp-contract=off -fno-math-errno -D_GNU_SOURCE -I."
avx2=
[ "$(uname -m)" = x86_64 ] && avx2=-mavx2
if ! clang $FLAGS -fsanitize=fuzzer-no-link $avx2 -DKERNELS_AVX2 -c -o "$BUILD/fuzz/kernels_avx2.o" \
    runtime/vm/kernels.c ||
    ! clang $FLAGS -o "$BUILD/fuzz/fuzz_bytecode" tests/fuzz/fuzz_bytecode.c runtime/core/*.c \
        runtime/vm/*.c "$BUILD/fuzz/kernels_avx2.o" -lm; then
    echo "fuzz_bytecode does not build"
    echo "0 passed, 1 failed"
    exit 1
fi
if "$BUILD/fuzz/fuzz_bytecode" -max_total_time="${SECONDS_OF_FUZZING:-30}" -timeout=10 \
    -max_len=8192 -rss_limit_mb=1024 -artifact_prefix="$BUILD/fuzz/found/" -print_final_stats=1 \
    "$BUILD/fuzz/corpus_bytecode" "$seeds" >"$BUILD/fuzz/log_bytecode" 2>&1; then
    grep -E 'number_of_executed_units' "$BUILD/fuzz/log_bytecode"
    echo "1 passed, 0 failed"
else
    tail -n 30 "$BUILD/fuzz/log_bytecode"
    echo "0 passed, 1 failed"
    exit 1
fi
