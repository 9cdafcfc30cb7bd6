#!/bin/sh
# A true character device that answers as the driver spidev does (CUSE, libfuse3), and a clock that
# is really set, in a machine of its own: Linux as a process (user-mode-linux), whose clock and
# devices are not those of this machine.
# Takes about 15 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
base=${BUILD:-build}
case $base in /*) ;; *) base=$PWD/$base ;; esac
cannot() { # REASON
    skip "a character device and a clock that is set" "$1"
    close_sum
    exit
}
[ "$(id -u)" = 0 ] || cannot "only root has the rights in that machine"
command -v linux.uml >/dev/null 2>&1 || cannot "there is no user-mode-linux"
command -v insmod >/dev/null 2>&1 || cannot "there is no kmod"
pkg-config --exists fuse3 2>/dev/null || cannot "there is no libfuse3-dev"
modules=$(ls -d /usr/lib/uml/modules/*/kernel 2>/dev/null | tail -n 1)
[ -e "$modules/fs/fuse/cuse.ko" ] || cannot "its kernel has no CUSE"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
# shellcheck disable=SC2046
${CC:-gcc} -std=c11 -D_GNU_SOURCE -D_FILE_OFFSET_BITS=64 -Wall -Wextra -Werror -I. -o "$work/device" \
    tests/system/spidev_device.c $(pkg-config --cflags --libs fuse3) >"$work/built" 2>&1 &&
    make --no-print-directory -s BUILD="$base" "$base/gloam" "$base/tests/system/strip_client" >>"$work/built" 2>&1
verdict $? "the programs of this test to build: $(cat "$work/built")"
{
    echo "work='$work' base='$base' root='$PWD' modules='$modules'"
    echo "client='$base/tests/system/strip_client'"
} >"$work/facts"
cat >"$work/first" <<TEXT
#!/bin/sh
exec /bin/sh '$PWD/tests/system/device_inside.sh' '$work/facts'
TEXT
chmod 755 "$work/first"
began=$(date +%s)
UML_TMPDIR=$work timeout 150 linux.uml mem=256M rootfstype=hostfs rootflags=/ rw init="$work/first" \
    uml_dir="$work" con=null con0=null,fd:1 ssl=null quiet </dev/null >"$work/console" 2>&1
echo "measured: the machine of its own ran for $(($(date +%s) - began)) s"
[ -e "$work/ended" ]
verdict $? "the machine to come to its end: $(tail -n 5 "$work/console")"
grep -v '^[0-9]* passed' "$work/said"
sum=$(grep '^[0-9]* passed' "$work/said" | tail -n 1)
# shellcheck disable=SC2086
set -- ${sum:-0 passed, 1 failed}
passed=$((passed + $1)) failed=$((failed + $3)) skipped=$((skipped + ${5:-0}))
close_sum
