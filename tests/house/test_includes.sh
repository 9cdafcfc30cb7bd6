#!/bin/sh
# The arrows between the folders run one way (DEVELOPERS.md), files hold one idea (at most 1,000
# lines), and the project speaks of itself alone.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
# FOLDER may include only what matches PATTERN (quoted includes).
may() {
    wrong=$(grep -nE '^ *# *include "' "$1"/*.[ch] "$1"/*.re "$1"/*.y "$1"/*.def 2>/dev/null |
        grep -vE "include \"($2)")
    [ -z "$wrong" ]
    verdict $? "$1 to include only $2:
$wrong"
}
may runtime/core 'runtime/core/'
may lang 'lang/|runtime/core/|grammar\.h"'
may runtime/vm 'runtime/vm/|runtime/core/'
may runtime/light 'runtime/light/|runtime/core/'
may runtime/time 'runtime/time/|runtime/core/'
may backends 'backends/|runtime/core/number\.h|runtime/core/limits\.h|runtime/core/memory\.h|runtime/core/chip\.h|runtime/light/encode\.h|runtime/light/order\.h'
may runtime/library 'runtime/library/|lang/compile\.h|runtime/core/|runtime/vm/vm\.h|runtime/light/|runtime/time/'
may runtime/player 'runtime/player/|runtime/library/|runtime/time/|runtime/light/|runtime/vm/vm\.h|runtime/core/|lang/compile\.h|backends/'
may runtime/command 'runtime/command/|runtime/player/|runtime/library/|lang/compile\.h|runtime/core/|runtime/vm/vm\.h|runtime/light/|runtime/time/|backends/'
shared='runtime/service/link/|runtime/player/|runtime/library/|lang/|runtime/core/|runtime/vm/vm\.h|runtime/light/|runtime/time/'
may runtime/service/link "$shared"
may runtime/service/page "runtime/service/page/|$shared"
may runtime/service/mqtt "runtime/service/mqtt/|$shared"
may runtime/service/call 'runtime/service/call/|runtime/core/memory\.h'
long=$(find lang runtime backends tests examples -path tests/reference/node_modules -prune -o \
    \( -name '*.[ch]' -o -name '*.re' -o -name '*.y' -o -name '*.mjs' -o -name '*.sh' \) -print |
    while read -r file; do
        lines=$(wc -l <"$file")
        [ "$lines" -gt 1000 ] && echo "$file: $lines lines"
    done)
[ -z "$long" ]
verdict $? "files of at most 1,000 lines:
$long"
top=$(git ls-files 2>/dev/null | cut -d/ -f1 | sort -u |
    grep -vxE 'README.md|DEVELOPERS.md|Makefile|LICENSE|lang|runtime|backends|examples|tests|spec|\..*')
[ -z "$top" ]
verdict $? "no other top-level entries than DEVELOPERS.md lists: $top"
# Allocation and endings have one place each.
strays=$(grep -nE '\b(malloc|calloc|realloc|free)\(' lang/*.c runtime/core/*.c runtime/vm/*.c \
    runtime/light/*.c runtime/time/*.c runtime/library/*.c runtime/player/*.c backends/*.c |
    grep -v '^runtime/core/memory.c'; grep -nE '\b(abort|exit|longjmp)\(' lang/*.c runtime/core/*.c \
    runtime/vm/*.c runtime/light/*.c runtime/time/*.c runtime/library/*.c runtime/player/*.c \
    backends/*.c)
[ -z "$strays" ]
verdict $? "allocations through runtime/core/memory.h and no abort, exit, longjmp:
$strays"
# The time comes through one door, and zones from the project's own reader.
strays=$(grep -nE '\b(tzset|localtime(_r)?|mktime|setenv|clock_gettime|gettimeofday|time)\(' \
    lang/*.c runtime/*/*.c | grep -vE '^runtime/player/clock.c:|\([0-9]\)')
[ -z "$strays" ]
verdict $? "the time through runtime/player/clock.h alone, zones through runtime/time/zone.h:
$strays"
close_sum
