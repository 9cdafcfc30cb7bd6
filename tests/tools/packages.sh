#!/bin/sh
# packages.sh WHY PACKAGE...: installs the Debian packages that are missing, and says so.
# COMMAND:PACKAGE is content with the command, wherever it comes from.
# Does nothing, and needs no rights and no network, where all are there.
set -eu
why=$1
shift
missing=
for package in "$@"; do
    case $package in
    *:*)
        command -v "${package%%:*}" >/dev/null 2>&1 && continue
        package=${package#*:}
        ;;
    esac
    state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
    [ "$state" = installed ] || missing="$missing $package"
done
[ -n "$missing" ] || exit 0
if ! command -v apt-get >/dev/null 2>&1; then
    echo "gloam: $why needs:$missing (Debian's names); install them, then try again" >&2
    exit 1
fi
echo "gloam: $why needs these Debian packages, which are missing:$missing"
as_root=
if [ "$(id -u)" != 0 ]; then
    if ! command -v sudo >/dev/null 2>&1; then
        echo "gloam: only root may install them: as root, run: apt-get update && apt-get install$missing" >&2
        exit 1
    fi
    as_root=sudo
    echo "gloam: installing them with apt-get, through sudo"
fi
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -qq
# shellcheck disable=SC2086
$as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
