#!/bin/sh
# make_assets.sh FILE...: the files as C, each raw and packed by gzip (without its time, so that the
# same files give the same program).
set -eu
echo '#include "runtime/service/page/assets.h"'
number=0
rows=
array() { # NAME: standard input as an array
    printf 'static const unsigned char %s[] = {\n' "$1"
    od -An -v -tu1 -w24 | sed 's/ *\([0-9][0-9]*\)/\1,/g'
    echo '};'
}
for file in "$@"; do
    name=${file##*/}
    case $name in
    *.html) type='text/html; charset=utf-8' ;;
    *.css) type='text/css; charset=utf-8' ;;
    *.js) type='text/javascript; charset=utf-8' ;;
    *.svg) type='image/svg+xml' ;;
    *.png) type='image/png' ;;
    *.webmanifest) type='application/manifest+json' ;;
    *)
        echo "make_assets.sh: $file: of what type is it?" >&2
        exit 1
        ;;
    esac
    path=/$name
    [ "$name" = index.html ] && path=/
    array "bytes_$number" <"$file"
    gzip -9nc "$file" | array "packed_$number"
    hash=$(cksum <"$file" | tr ' ' '-')
    rows="$rows    {\"$path\", \"$type\", \"$hash\", bytes_$number, sizeof bytes_$number, packed_$number, sizeof packed_$number},
"
    number=$((number + 1))
done
printf 'const Asset ASSETS[] = {\n%s    {0}};\n' "$rows"
