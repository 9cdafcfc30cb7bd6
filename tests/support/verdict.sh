# shellcheck shell=sh
# For test scripts, read with `.` from the project's folder: counts, and the closing line that
# tests/tools/run.sh reads.
passed=0 failed=0 skipped=0

verdict() { # STATUS WHAT: what was expected is said where STATUS is not 0
    if [ "$1" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected $2"
    fi
}

skip() { # WHAT REASON
    echo "skipped: $1: $2"
    skipped=$((skipped + 1))
}

close_sum() { # the last command of a script: its status is the script's
    [ "$skipped" -gt 0 ] && tail=", $skipped skipped" || tail=
    echo "$passed passed, $failed failed$tail"
    [ "$failed" -eq 0 ]
}
