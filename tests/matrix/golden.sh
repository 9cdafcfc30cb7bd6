#!/bin/sh
# golden.sh GLOAM: one line for each routine of examples/, the hash of its light at some moments.
set -u
cd "$(dirname "$0")/../.."
gloam=$1
for file in examples/*.gloam; do
    for routine in $(sed -n 's/^routine \([a-z_]*\).*/\1/p' "$file"); do
        hash=$({
            for start in 0s 1s 3777ms 59s 17min 2h 87600h; do
                "$gloam" dump --values light --routine "$routine" --pixels 37 --length 100ms --fps 20 \
                    --start $start --clock '2026-11-24 03:10' "$file" 2>/dev/null
            done
        } | sha256sum | cut -c1-32)
        echo "$hash $file $routine"
    done
done
