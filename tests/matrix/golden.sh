#!/bin/sh
# golden.sh GLOAM [PART]: for each routine of the examples and of the conformance programs one line: the
# hash of its linear light at some moments; for each routine of lamps.gloam on each of its lamps one:
# the hash of the bytes; for each lamp of the baker's home one: the bytes and the light of days on
# which clocks change, and of a fade frame by frame. `sh tests/matrix/golden.sh build/gloam >
# tests/matrix/golden.txt` writes the file anew, where light was changed on purpose. PART: no more than
# `lamps`, `home` or `routines`, for a slow machine.
set -u
cd "$(dirname "$0")/../.." || exit 1
gloam=$1 part=${2:-}
cat <<'TEXT'
# First half of the sha256 of the linear light of each routine at some moments, as
# tests/matrix/golden.sh writes it. A guard against drift between compilers, processors and versions;
# no source of truth: what the light should be, other tests say.
TEXT
work=$(mktemp)
trap 'rm -f "$work"' EXIT
hash_of() { # FILE ROUTINE FRAMES-A-SECOND START...
    file=$1 routine=$2 fps=$3
    shift 3
    : >"$work"
    for start in "$@"; do
        "$gloam" dump --values light --routine "$routine" --pixels 77 --length 100ms --fps "$fps" \
            --start "$start" --clock '2026-11-24 03:10' "$file" >>"$work" 2>/dev/null || {
            echo "no light at $start: $file $routine"
            return
        }
    done
    echo "$(sha256sum <"$work" | cut -c1-32) $file $routine"
}
lamps=tests/matrix/lamps.gloam
wants() { # PART
    [ -z "$part" ] || [ "$part" = "$1" ]
}
for lamp in $(wants lamps && sed -n 's/^lamp \([a-z]*\).*/\1/p' $lamps); do
    for routine in $(sed -n 's/^routine \([a-z]*\).*/\1/p' $lamps); do
        for start in 0s 3min 29min; do
            "$gloam" dump --lamp "$lamp" --routine "$routine" --fps 400 --length 2s \
                --start $start $lamps || echo failed
        done >"$work" 2>/dev/null
        echo "$(sha256sum <"$work" | cut -c1-32) $lamp $routine"
    done
done
for lamp in $(wants home && echo lantern window); do
    for values in bytes light; do
        for date in 2026-03-28 2026-10-24; do
            "$gloam" dump --values $values --lamp $lamp --clock "$date 12:00" --length 24h --fps 1 \
                --speed 60x examples/home.gloam || echo failed
        done
        "$gloam" dump --values $values --lamp $lamp --clock '2026-11-24 21:59:59' --length 30s \
            --fps 60 examples/home.gloam || echo failed
    done >"$work" 2>/dev/null
    echo "$(sha256sum <"$work" | cut -c1-32) examples/home.gloam on $lamp"
done
for file in examples/*.gloam spec/conformance/*/*.gloam; do
    case $file in spec/conformance/errors/*) continue ;; esac
    # What is there to be refused, and programs of nothing but lamps, have no light.
    wants routines && "$gloam" compile -o /dev/null "$file" >/dev/null 2>&1 || continue
    for routine in $(sed -n 's/^routine \([a-z_0-9]*\).*/\1/p' "$file" | sort -u); do
        case $file in
        examples/*) hash_of "$file" "$routine" 20 0s 1s 3777ms 59s 17min 2h 87600h ;;
        *) hash_of "$file" "$routine" 10 0s 1777ms 87600h ;;
        esac
    done
done
