#!/bin/sh
# make install into an empty folder: the header, both libraries with pkg-config, the host program of
# examples/embed against them, and no names but gloam_*.
set -u
cd "$(dirname "$0")/../.."
build=${BUILD:-build}
case ${CC:-gcc} in *clang*) cc=clang ;; *) cc=gcc ;; esac
work=$(mktemp -d)
. tests/support/verdict.sh
make --no-print-directory install DESTDIR="$work/to" PREFIX=/usr BUILD="$build" >"$work/log" 2>&1
verdict $? "make install to work: $(tail -n 5 "$work/log")"
to=$work/to/usr
for file in bin/gloam include/gloam.h lib/libgloam.a lib/libgloam.so lib/libgloam.so.0 \
    lib/pkgconfig/gloam.pc share/man/man1/gloam.1 share/man/man5/gloam.5 \
    share/man/man1/gloam-preview.1 share/bash-completion/completions/gloam \
    share/gloam/examples/dawn.gloam share/gloam/editor/gloam.tmLanguage.json \
    lib/systemd/system/gloam.service lib/systemd/system/gloam.socket lib/udev/rules.d/60-gloam.rules lib/sysusers.d/gloam.conf \
    lib/tmpfiles.d/gloam.conf share/gloam/home.gloam libexec/gloam/gloam-page libexec/gloam/gloam-mqtt \
    libexec/gloam/gloam-call; do
    [ -s "$to/$file" ]
    verdict $? "$file to be installed"
done
"$to/bin/gloam" check "$to/share/gloam/examples/dawn.gloam" >/dev/null
verdict $? "the installed program to run"

# The service: its program and its home are where its unit says; an owner's home stays.
grep -qx 'ExecStart=/usr/bin/gloam run $GLOAM_OPTIONS /var/lib/gloam/home/home.gloam' "$to/lib/systemd/system/gloam.service"
verdict $? "the unit to run the installed program with the lamp's own home"
! grep -q '@[A-Z]*@' "$to/lib/systemd/system/gloam.service" "$to/lib/tmpfiles.d/gloam.conf"
verdict $? "no placeholder to be left in the unit"
home=$work/home.gloam
cp "$to/share/gloam/home.gloam" "$home"
"$to/bin/gloam" --version | grep -q "^page: .*/libexec/gloam/gloam-page"
verdict $? "the installed program to find its page: $("$to/bin/gloam" --version)"
"$to/bin/gloam" check "$home" >"$work/log" 2>&1 && "$to/bin/gloam" format --check "$home" >/dev/null 2>&1
verdict $? "the first home to have no mistakes and to be formatted: $(cat "$work/log")"
"$to/bin/gloam" run --clock '2026-11-25 00:00' --length 24h --output "csv:$work/day.csv" "$home" 2>"$work/log" &&
    [ "$(sed 1d "$work/day.csv" | wc -l)" -gt 0 ] &&
    ! sed 1d "$work/day.csv" | cut -d, -f4- | grep -q '[1-9]'
verdict $? "the first home to be dark for a day: $(head -n 3 "$work/day.csv") $(cat "$work/log")"
# What stands in it as a first light is right too.
sed 's,^// \(routine\|at\) ,\1 ,' "$home" >"$work/lit.gloam"
"$to/bin/gloam" run --clock '2026-11-25 20:00' --length 1s --output "csv:$work/lit.csv" "$work/lit.gloam" 2>"$work/log" &&
    sed 1d "$work/lit.csv" | cut -d, -f4- | grep -q '[1-9]'
verdict $? "the first light in it to be light: $(cat "$work/log")"
make --no-print-directory install-service DESTDIR="$work/apart" PREFIX=/opt/gloam BUILD="$build" >"$work/log" 2>&1 &&
    grep -qx 'ExecStart=/opt/gloam/bin/gloam run $GLOAM_OPTIONS /var/lib/gloam/home/home.gloam' "$work/apart/opt/gloam/lib/systemd/system/gloam.service" &&
    grep -q ' /opt/gloam/share/gloam/home.gloam$' "$work/apart/opt/gloam/lib/tmpfiles.d/gloam.conf"
verdict $? "another prefix to be in the unit: $(cat "$work/log")"

export PKG_CONFIG_PATH="$to/lib/pkgconfig" PKG_CONFIG_SYSROOT_DIR="$work/to"
$cc -std=c11 -Wall -Wextra -Wpedantic -Werror ${SANITISE:-} -o "$work/shared" examples/embed/render.c \
    $(pkg-config --cflags --libs gloam) 2>"$work/log"
verdict $? "the host program to link with the shared library: $(cat "$work/log")"
$cc -std=c11 ${SANITISE:-} -o "$work/static" examples/embed/render.c $(pkg-config --cflags gloam) \
    "$to/lib/libgloam.a" $(pkg-config --static --libs-only-l gloam | sed 's/-lgloam//') 2>"$work/log"
verdict $? "the host program to link with the static library: $(cat "$work/log")"
"$build/gloam" dump --routine embers --values light --length 10s examples/embers.gloam |
    awk -F, 'NR > 1 { print $4, $5, $6 }' >"$work/dumped"
for kind in shared static; do
    LD_LIBRARY_PATH="$to/lib" "$work/$kind" examples/embers.gloam embers "$work/raw" 2>"$work/log"
    verdict $? "the $kind host program to run: $(cat "$work/log")"
    # The decimals of dump read back to the very bits that the library gives.
    if command -v perl >/dev/null 2>&1; then
        perl -ne 'print pack "f3", split' "$work/dumped" | cmp - "$work/raw" &&
            [ "$(wc -c <"$work/raw")" -eq $((600 * 16 * 12)) ]
        verdict $? "the light of the $kind host program to be that of dump"
    else
        skipped=$((skipped + 1))
        echo "skipped: the light of the $kind host program beside that of dump: there is no perl"
    fi
done
names=$(nm -D --defined-only "$to/lib/libgloam.so" | awk '{ print $3 }' | grep -v '^gloam_')
[ -z "$names" ]
verdict $? "the shared library to show gloam_* only, not: $names"
names=$(nm -g --defined-only "$to/lib/libgloam.a" | awk 'NF == 3 { print $3 }' | grep -v '^gloam_')
[ -z "$names" ]
verdict $? "the static library to show gloam_* only, not: $(echo "$names" | head -n 5)"
count=$(nm -D --defined-only "$to/lib/libgloam.so" | grep -c ' gloam_')
declared=$(grep -c '^GLOAM_API' runtime/library/gloam.h)
[ "$count" -eq "$declared" ]
verdict $? "all $declared functions of gloam.h in the library, not $count"
# What the header gives away: nothing but its names, the C standard, and no need of anything else.
echo "#include <gloam.h>" >"$work/alone.c"
for standard in c99 c11 c17; do
    $cc -std=$standard -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Werror -fsyntax-only $(pkg-config --cflags gloam) "$work/alone.c" 2>"$work/log"
    verdict $? "gloam.h to be fine by itself in $standard: $(cat "$work/log")"
done
readelf -d "$to/lib/libgloam.so" | grep -q 'SONAME.*libgloam.so.0'
verdict $? "the name libgloam.so.0 in the library"
if command -v g++ >/dev/null 2>&1; then
    echo '#include <gloam.h>
int main() { gloam_lamp lamp = gloam_ring(16); gloam_free(nullptr); return gloam_version()[0] == 0 || lamp.pixels != 16; }' >"$work/plus.cc"
    g++ -std=c++11 -Wall -Wextra -Wpedantic -Werror -o "$work/plus" "$work/plus.cc" $(pkg-config --cflags --libs gloam) &&
        LD_LIBRARY_PATH="$to/lib" "$work/plus"
    verdict $? "gloam.h to serve a C++ program"
else
    skipped=$((skipped + 1))
    echo "skipped: gloam.h read by a C++ compiler: there is no g++"
fi
rm -r "$work"
close_sum
