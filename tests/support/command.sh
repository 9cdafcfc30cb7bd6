# shellcheck shell=sh
# For test scripts of the command line, read with `.` from the project's folder: the project in
# $root, the folder of its build in $base and the program in $gloam, both by their full path,
# verdict.sh, wait.sh, and an empty folder to work in, $work, which is gone at the end.
root=$(pwd)
case ${BUILD:-build} in /*) base=$BUILD ;; *) base=$root/${BUILD:-build} ;; esac
gloam=$base/gloam
. tests/support/verdict.sh
. tests/support/wait.sh
work=$(mktemp -d)
trap 'cd /; rm -rf "$work"' EXIT
cd "$work" || exit 1
