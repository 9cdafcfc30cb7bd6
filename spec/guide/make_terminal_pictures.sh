#!/bin/sh
# Draws the pictures of the preview again: sh spec/guide/make_terminal_pictures.sh
# Wants Debian's tmux, perl, librsvg2-bin and fonts-dejavu-core.
set -eu
cd "$(dirname "$0")/../.."
gloam=$(cd "${BUILD:-build}" && pwd)/gloam
to=spec/guide/pictures
work=$(mktemp -d)
socket=gloam-pictures-$$
trap 'tmux -L "$socket" kill-server 2>/dev/null || true; rm -r "$work"' EXIT
shot() { # NAME ROWS OPTIONS...: the preview, stopped at its start, in a terminal of 70 columns
    name=$1 rows=$2
    shift 2
    tmux -L "$socket" -f /dev/null new-session -d -x 70 -y "$rows" \
        "COLORTERM=truecolor TERM=xterm-256color exec '$gloam' preview --speed 0x $*"
    sleep 2
    tmux -L "$socket" capture-pane -e -p >"$work/capture"
    tmux -L "$socket" send-keys q
    sleep 0.5
    perl spec/guide/terminal_picture.pl 70 "$rows" <"$work/capture" >"$work/picture.svg"
    rsvg-convert -o "$to/$name.png" "$work/picture.svg"
}
shot preview-ring 24 --routine daybreak --start 20min examples/dawn.gloam
shot preview-strip 10 --routine window_glow --lamp window --start 20s examples/home.gloam
shot preview-grid 24 --routine moon --clock "'2026-11-19 21:00'" examples/moon.gloam
shot preview-ball 24 --routine rings --start 5s examples/ball.gloam
