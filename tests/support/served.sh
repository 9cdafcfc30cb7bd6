# shellcheck shell=sh
# For test scripts of the lamp's page, read with `.` from the project's folder: command.sh, the
# folders home, kept and runtime in $work, and a player that serves the page on loopback.
. tests/support/command.sh
mkdir home kept
mkdir -m 700 runtime
unset JOURNAL_STREAM NOTIFY_SOCKET RUNTIME_DIRECTORY
export XDG_RUNTIME_DIR="$work/runtime"
player=

needs() { # WHAT PROGRAM...: ends the script where the page or a program is not here
    what=$1
    shift
    for program in "$base/gloam-page" "$@"; do
        command -v "$program" >/dev/null 2>&1 && continue
        skip "$what" "there is no ${program##*/}"
        close_sum
        exit
    done
}

# The time of day in so many hours, in the zone of the homes here: a moment that does not come in a test.
in_hours() { TZ=Europe/London date -d "$1 hours" +%H:%M; }

served() { port=$(sed -n 's|.*page: http://localhost:\([0-9]*\)/.*|\1|p' out) && [ -n "$port" ]; }

start() { # OPTION...: plays home/home.gloam as $player, its page at $page; what it says is in `out`
    : >out # before the program: the port of the one before is not to be read
    "$gloam" run --state "$work/kept/state.json" --trust-after 1s --page 127.0.0.1:0 "$@" home/home.gloam >out 2>&1 &
    player=$!
    await 20 served || { cat out; verdict 1 "the page to be served"; close_sum; exit 1; }
    page=http://127.0.0.1:$port
}

stop() {
    [ -n "$player" ] && kill "$player" 2>/dev/null
    wait "$player" 2>/dev/null
    player=
}
trap 'stop; cd /; rm -rf "$work"' EXIT
