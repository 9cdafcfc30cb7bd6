# shellcheck shell=sh
# For test scripts, read with `.` from the project's folder: waits for what another process does.

await() { # SECONDS COMMAND...: until it is true; what it says is left out
    tries=$(($1 * 20))
    shift
    until "$@" >/dev/null 2>&1; do
        tries=$((tries - 1))
        [ "$tries" -gt 0 ] || return 1
        sleep 0.05
    done
}
