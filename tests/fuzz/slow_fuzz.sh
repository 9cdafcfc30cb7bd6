#!/bin/sh
# Each target of fuzzing for a minute under the address and undefined behaviour sanitizers, from
# what is stored for it (bytecode: the compiled programs of the project); SECONDS_OF_FUZZING=3600 for
# longer. What is found is left in $BUILD/fuzz/found, to be stored in corpus_* with its mend.
# Takes about 530 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
BUILD=${BUILD:-build}
passed=0 failed=0
if ! command -v clang >/dev/null; then
    echo "skipped: there is no clang"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
fuzz=$BUILD/fuzz
sanitise="-fsanitize=address,undefined -fno-sanitize-recover=undefined"
seeds=$fuzz/seeds_bytecode
mkdir -p "$fuzz/found" "$seeds"
if ! make --no-print-directory -j2 BUILD="$fuzz" CC=clang OPTIMISE=-O1 \
    SANITISE="$sanitise -fsanitize=fuzzer-no-link" "$fuzz/object/everything.a" "$fuzz/object/service.a" >"$fuzz/log" 2>&1 ||
    ! make --no-print-directory BUILD="$BUILD" "$BUILD/gloam" >"$fuzz/log" 2>&1; then
    tail -n 20 "$fuzz/log"
    echo "0 passed, 1 failed"
    exit 1
fi
for text in examples/*.gloam spec/conformance/*/*.gloam; do
    "$BUILD/gloam" compile -o "$fuzz/seed" "$text" >/dev/null 2>&1 &&
        mv "$fuzz/seed" "$seeds/$(echo "$text" | tr / -)"
done
more= # to be linked too
fuzz() { # NAME STORED OPTIONS...
    name=$1 stored=$2
    shift 2
    mkdir -p "$fuzz/corpus_$name"
    # shellcheck disable=SC2086
    if clang -std=c11 -g -O1 $sanitise -fsanitize=fuzzer -D_GNU_SOURCE -I. -o "$fuzz/fuzz_$name" \
        "tests/fuzz/fuzz_$name.c" $more "$fuzz/object/everything.a" -ljansson -lpng -lz -lm >"$fuzz/log_$name" 2>&1 &&
        "$fuzz/fuzz_$name" -max_total_time="${SECONDS_OF_FUZZING:-60}" -timeout=10 \
            -rss_limit_mb=1024 -artifact_prefix="$fuzz/found/" -print_final_stats=1 "$@" \
            "$fuzz/corpus_$name" "$stored" >"$fuzz/log_$name" 2>&1; then
        passed=$((passed + 1))
        echo "measured: $name: $(sed -n 's/^stat::number_of_executed_units: *//p' "$fuzz/log_$name") inputs from $(ls "$stored" | wc -l) stored ones, $(grep -o 'cov: [0-9]*' "$fuzz/log_$name" | tail -n 1)"
    else
        failed=$((failed + 1))
        echo "expected $name to hold of every input:"
        tail -n 30 "$fuzz/log_$name"
    fi
}
mkdir -p "$fuzz/corpus_text" && cp tests/lang/corpus/* "$fuzz/corpus_text"
fuzz text tests/fuzz/corpus_text -max_len=4096 -dict=tests/fuzz/gloam.dict
fuzz use tests/fuzz/corpus_use -max_len=4096 -dict=tests/fuzz/gloam.dict
fuzz bytecode "$seeds" -max_len=8192
fuzz state tests/fuzz/corpus_state -max_len=8192
fuzz request tests/fuzz/corpus_request -max_len=1200
mkdir -p "$fuzz/places"
TMPDIR="$fuzz/places" fuzz socket tests/fuzz/corpus_socket -max_len=4096
rm -rf "$fuzz/places"
if pkg-config --exists libmicrohttpd nettle; then
    more="$fuzz/object/service.a $(pkg-config --libs libmicrohttpd nettle)"
    fuzz page tests/fuzz/corpus_page -max_len=4096 -dict=tests/fuzz/gloam.dict
else
    skipped=1
    echo "skipped: page: there is no libmicrohttpd or no nettle"
fi
echo "$passed passed, $failed failed${skipped:+, $skipped skipped}"
[ "$failed" -eq 0 ]
