# shellcheck shell=sh disable=SC2034
# For the scripts beside this one, read with `.`: everyday NAME ARGUMENTS-OF-MAKE... builds and runs
# the everyday tests in $BUILD/NAME, adds to passed, failed and skipped, and shows what failed.
base=${BUILD:-build}
. tests/support/verdict.sh

scripts_but() { # TEST...: for TEST_SCRIPTS, all scripts without these
    scripts=
    for script in tests/*/test_*.sh; do
        case " $* " in *" ${script#tests/} "*) ;; *) scripts="$scripts $script" ;; esac
    done
    echo "$scripts"
}

everyday() {
    name=$1
    shift
    log=$base/$name.log
    mkdir -p "$base"
    SLOW_SECONDS="" make --no-print-directory -j2 BUILD="$base/$name" "$@" run-tests >"$log" 2>&1
    status=$?
    sum=$(grep -E '^[0-9]+ passed, [0-9]+ failed' "$log" | tail -n 1)
    echo "$name: ${sum:-not built}"
    # shellcheck disable=SC2086
    set -- ${sum:-0 passed, 0 failed}
    passed=$((passed + $1)) failed=$((failed + $3)) skipped=$((skipped + ${5:-0}))
    [ "${5:-0}" -eq 0 ] || echo "skipped: $5 of $name; their reasons are in $log"
    [ "$status" -eq 0 ] && return
    [ "$3" -gt 0 ] || failed=$((failed + 1))
    awk '/ passed +[0-9]+ failed/ { show = !/ 0 failed/ } show' "$log" | head -n 100
    grep -E 'error: |warning: |\*\*\*' "$log" | head -n 20
}
