#!/bin/sh
# run.sh TEST...: runs test programs (cmocka) and scripts one after the other and adds up.
# A script ends with the line `N passed, N failed[, N skipped]`; what it skips it says.
# The output of a test is shown when it failed, or with VERBOSE=1; skips are always shown, and lines
# that begin with `measured`. Where SLOW_SECONDS says how long there is for all, a script that says
# `Takes about N s` is skipped when less is left.
set -u
passed=0 failed=0 skipped=0
began=$(date +%s)
log=$(mktemp)
trap 'rm -f "$log"' EXIT
for test in "$@"; do
    start=$(date +%s)
    needs=0 left=0
    if [ -n "${SLOW_SECONDS:-}" ]; then
        left=$((SLOW_SECONDS - (start - began)))
        needs=$(sed -n 's/^# \(.*\. \)\{0,1\}Takes about \([0-9]*\) s.*/\2/p' "$test" | head -n 1)
        needs=${needs:-60}
    fi
    if [ "$needs" -gt "$left" ]; then
        printf 'skipped: takes about %d s, and %d s are left\n0 passed, 0 failed, 1 skipped\n' \
            "$needs" "$left" >"$log"
    else
        case $test in
        *.sh) sh "$test" >"$log" 2>&1 </dev/null ;;
        *) "$test" >"$log" 2>&1 </dev/null ;;
        esac
    fi
    status=$?
    counts=$(awk '
        /^[0-9]+ passed, [0-9]+ failed/ { p = $1; f = $3; s = ($6 ~ /^skipped/) ? $5 : 0; plain = 1 }
        /^\[  PASSED  \] [0-9]+ test/ { cp += $4 }
        /^\[  FAILED  \] [0-9]+ test/ { cf += $4 }
        /^\[  SKIPPED \] [0-9]+ test/ { cs += $4 }
        END { if (plain) print p, f, s + 0; else print cp + 0, cf + 0, cs + 0 }' "$log")
    set -- $counts "$@"
    p=$1 f=$2 s=$3
    shift 3
    if [ "$status" -ne 0 ] && [ "$f" -eq 0 ]; then
        f=1
        echo "$test: ended with status $status" >>"$log"
    fi
    if [ "$p" -eq 0 ] && [ "$f" -eq 0 ] && [ "$s" -eq 0 ]; then
        f=1
        echo "$test: ran no test" >>"$log"
    fi
    passed=$((passed + p)) failed=$((failed + f)) skipped=$((skipped + s))
    printf '%-52s %5d passed %3d failed' "${test##*tests/}" "$p" "$f"
    [ "$s" -gt 0 ] && printf ' %3d skipped' "$s"
    printf '  %ds\n' "$(($(date +%s) - start))"
    if [ "$f" -gt 0 ] || [ "${VERBOSE:-0}" = 1 ]; then
        grep -v '^\[ *\(RUN\|OK\|=*\) *\]' "$log" | tail -n 200 | sed 's/^/    /'
    else
        grep -iE 'skip|^measured' "$log" | grep -v '^[0-9]* passed' | head -n 20 | sed 's/^/    /'
    fi
done
[ "$skipped" -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
