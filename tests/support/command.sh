# shellcheck shell=sh
# For test scripts of the command line, read with `.` from the project's folder: the project in
# $root, the program in $gloam by its full path, verdict.sh, wait.sh, and an empty folder to work in, which is
# gone at the end.
root=$(pwd)
gloam=$root/${BUILD:-build}/gloam
case ${BUILD:-build} in /*) gloam=$BUILD/gloam ;; esac
. tests/support/verdict.sh
. tests/support/wait.sh
work=$(mktemp -d)
trap 'cd /; rm -rf "$work"' EXIT
cd "$work" || exit 1
