#!/bin/sh
# The everyday tests under clang's address, leak and undefined behaviour sanitizers. First, a leak, a
# read past the end and an overflow are made on purpose: each has to be noticed.
# Takes about 300 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/matrix/everyday.sh
sanitise="-fsanitize=address,undefined -fno-sanitize-recover=undefined"
export UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 ASAN_OPTIONS=detect_leaks=1 SANITISED=1
export LSAN_OPTIONS="suppressions=$PWD/tests/matrix/leaks.txt:print_suppressions=0"
if ! command -v clang >/dev/null 2>&1; then
    skip "the sanitizers" "there is no clang"
    close_sum
    exit
fi
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
cat >"$work/wrong.c" <<'TEXT'
#include <limits.h>
#include <stdlib.h>
int main(int count, char **arguments) {
    char *volatile block = malloc(8);
    int kind = arguments[1][0];
    if (kind == 'l')
        block = NULL;
    int past = kind == 'p' ? block[8] : 0;
    int over = kind == 'o' ? INT_MAX - 1 + count : 0;
    free(block);
    return past + over == 77;
}
TEXT
# shellcheck disable=SC2086
clang $sanitise -w -g -o "$work/wrong" "$work/wrong.c"
for kind in fine leak past over; do
    "$work/wrong" $kind >"$work/said" 2>&1
    case $kind-$? in
    fine-0) found=0 ;;
    fine-* | *-0) found=1 ;;
    leak-*) grep -q 'LeakSanitizer: detected' "$work/said"; found=$? ;;
    past-*) grep -q 'AddressSanitizer: heap-buffer-overflow' "$work/said"; found=$? ;;
    over-*) grep -q 'signed integer overflow' "$work/said"; found=$? ;;
    esac
    if [ "$found" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected the sanitizers to see this ($kind):"
        head -n 3 "$work/said"
    fi
done
# Code of the sanitizers is in all that is made: not what a host program should link.
everyday sanitized CC=clang OPTIMISE=-O1 SANITISE="$sanitise" \
    TEST_SCRIPTS="$(scripts_but library/test_install.sh)"
close_sum
