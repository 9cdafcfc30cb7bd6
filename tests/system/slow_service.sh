#!/bin/sh
# The service: its unit by systemd's own judgement, the Debian packages, and a machine of its own
# (a container on a copy of this file system) in which the package is installed, plays, is
# stopped by the watchdog, and is purged. No SPI port is involved.
# Takes about 90 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
base=${BUILD:-build}
case $base in /*) ;; *) base=$PWD/$base ;; esac
work=$(mktemp -d)
machine= mounted=
finish() {
    [ -n "$machine" ] && kill "$machine" 2>/dev/null && wait "$machine" 2>/dev/null
    [ -n "$mounted" ] && umount -l "$work/over/root" && umount -l "$work/over"
    rm -rf "$work"
}
trap finish EXIT

# ---- the unit ----
make --no-print-directory -s install-service DESTDIR="$work/to" PREFIX=/usr BUILD="$base" >"$work/log" 2>&1
verdict $? "the service to be installed: $(cat "$work/log")"
if command -v systemd-analyze >/dev/null 2>&1; then
    # It must find a program to run: any will do.
    sed 's|^ExecStart=/usr/bin/gloam|ExecStart=/bin/true|' "$work/to/usr/lib/systemd/system/gloam.service" >"$work/gloam.service"
    systemd-analyze verify --man=no "$work/gloam.service" >"$work/log" 2>&1 && [ ! -s "$work/log" ]
    verdict $? "systemd to find nothing wrong in the unit: $(cat "$work/log")"
    systemd-analyze security --offline=true --no-pager --threshold=20 "$work/gloam.service" >"$work/log" 2>&1
    verdict $? "an exposure of 2.0 at most: $(tail -n 1 "$work/log")"
    echo "measured: exposure by systemd-analyze security: $(sed -n 's/.*service: \([0-9.]*\).*/\1/p' "$work/log")"
else
    skip "the unit by systemd-analyze" "it is not here"
fi
if command -v systemd-sysusers >/dev/null 2>&1; then
    mkdir -p "$work/to/etc"
    systemd-sysusers --root="$work/to" >"$work/log" 2>&1 &&
        grep -q '^gloam:' "$work/to/etc/passwd" && grep -q '^gloam:' "$work/to/etc/group"
    verdict $? "a user and a group to be made: $(cat "$work/log")"
    if command -v systemd-tmpfiles >/dev/null 2>&1; then
        systemd-tmpfiles --root="$work/to" --create gloam.conf >"$work/log" 2>&1
        [ "$(stat -c %a "$work/to/var/lib/gloam/home" "$work/to/var/lib/gloam/home/home.gloam" | tr '\n' ' ')" = "2770 660 " ]
        verdict $? "the lamp's folder and its first home to be made: $(cat "$work/log"; ls -la "$work/to/var/lib/gloam/home")"
        echo '// mine' >"$work/to/var/lib/gloam/home/home.gloam"
        systemd-tmpfiles --root="$work/to" --create gloam.conf >"$work/log" 2>&1
        [ "$(cat "$work/to/var/lib/gloam/home/home.gloam")" = '// mine' ]
        verdict $? "an owner's home to be left alone"
    fi
else
    skip "the user and the group" "there is no systemd-sysusers"
fi

# ---- the packages ----
cannot() { # WHAT REASON
    skip "$1" "$2"
    close_sum
    exit
}
command -v dh >/dev/null 2>&1 || cannot "the packages" "there is no debhelper"
make --no-print-directory deb BUILD="$base/service" >"$work/log" 2>&1
verdict $? "the packages to be built: $(tail -n 20 "$work/log")"
deb=$(ls "$base"/service/deb/gloam_*.deb 2>/dev/null)
[ -n "$deb" ] || cannot "the packages" "they were not built"
version=$(sed -n 's/^.define GLOAM_VERSION "\(.*\)"/\1/p' runtime/library/gloam.h)
[ "$(dpkg-deb -f "$deb" Version)" = "$version" ]
verdict $? "the package to be of version $version, not $(dpkg-deb -f "$deb" Version)"
if command -v lintian >/dev/null 2>&1; then
    as_root=
    [ "$(id -u)" = 0 ] && as_root=--allow-root
    lintian $as_root --fail-on error "$base"/service/deb/*.changes >"$work/log" 2>&1
    verdict $? "lintian to find no errors: $(grep '^E' "$work/log")"
    echo "measured: warnings of lintian: $(grep -c '^W' "$work/log")"
else
    skip "the packages by lintian" "it is not here"
fi
# Debian's flags must not change a bit of light.
dpkg-deb -x "$deb" "$work/package"
sh tests/matrix/golden.sh "$work/package/usr/bin/gloam" 2>"$work/log" | cmp -s - tests/matrix/golden.txt
verdict $? "the packaged program to give the light of tests/matrix/golden.txt: $(cat "$work/log")"

# ---- a machine of its own ----
[ "$(id -u)" = 0 ] || cannot "a machine with the package" "only root may start one"
command -v systemd-nspawn >/dev/null 2>&1 || cannot "a machine with the package" "there is no systemd-nspawn"
mkdir "$work/over"
mount -t tmpfs none "$work/over" 2>"$work/log" || cannot "a machine with the package" "$(cat "$work/log")"
mkdir "$work/over/up" "$work/over/work" "$work/over/root"
if ! mount -t overlay overlay -o "lowerdir=/,upperdir=$work/over/up,workdir=$work/over/work" "$work/over/root" 2>"$work/log"; then
    umount "$work/over"
    cannot "a machine with the package" "$(cat "$work/log")"
fi
mounted=yes
root=$work/over/root
cp "$deb" "$root/root/gloam.deb"
DEBIAN_FRONTEND=noninteractive chroot "$root" dpkg -i /root/gloam.deb >"$work/log" 2>&1
verdict $? "the package to be installed: $(tail -n 5 "$work/log")"
grep -q '^gloam:' "$root/etc/passwd" && [ -L "$root/etc/systemd/system/multi-user.target.wants/gloam.service" ]
verdict $? "a user, and the service to be started with the machine"
# Nothing else runs in it, and the watchdog barks early.
printf '[Unit]\nRequires=sysinit.target\nAfter=sysinit.target\n' >"$root/etc/systemd/system/trial.target"
mkdir -p "$root/etc/systemd/system/gloam.service.d"
printf '[Service]\nWatchdogSec=4\n' >"$root/etc/systemd/system/gloam.service.d/trial.conf"
printf '#include <sys/timex.h>\nint main(void) { struct timex t = {0}; return adjtimex(&t) < 0; }\n' >"$work/reads_clock.c"
${CC:-gcc} -o "$root/usr/local/bin/reads_clock" "$work/reads_clock.c"
systemd-nspawn -q -D "$root" --register=no --keep-unit --private-network --system-call-filter='adjtimex clock_adjtime' \
    --boot --console=pipe -M gloam-trial systemd.unit=trial.target >"$work/console" 2>&1 </dev/null &
machine=$!
inside() {
    nsenter -t "$leader" -m -u -i -n -p -C -r -w "$@"
}
until_true() { # SECONDS COMMAND...
    tries=$(($1 * 4))
    shift
    until "$@" >/dev/null 2>&1; do
        tries=$((tries - 1))
        [ "$tries" -gt 0 ] || return 1
        sleep 0.25
    done
}
has_leader() {
    leader=$(cat "/proc/$machine/task/$machine/children" 2>/dev/null)
    leader=${leader%% *}
    [ -n "$leader" ]
}
is_up() { inside systemctl is-active trial.target; }
if ! until_true 20 has_leader || ! until_true 60 is_up; then
    cannot "a machine with the package" "it did not start: $(tail -n 3 "$work/console")"
fi
property() { inside systemctl show -P "$1" gloam.service; }
says() { inside journalctl -q -u gloam.service --no-pager -o cat | grep -q "$1"; }

# Within its sandbox the kernel's clock can be read (it is asked in front of the player).
if inside /usr/local/bin/reads_clock; then
    inside sh -c 'echo ExecStartPre=/usr/local/bin/reads_clock >>/etc/systemd/system/gloam.service.d/trial.conf; systemctl daemon-reload'
else
    skip "the kernel's clock read by the service" "this container refuses it to everybody"
fi
inside systemctl start gloam.socket >"$work/log" 2>&1
verdict $? "port 80 to be opened for the page: $(cat "$work/log")"
inside systemctl start gloam.service >"$work/log" 2>&1 && [ "$(property ActiveState)" = active ]
verdict $? "the service to start: $(cat "$work/log"; inside journalctl -q -u gloam.service --no-pager | tail -n 20)"
pid=$(property MainPID)
# Signals go to that process below: 0 would be everybody here.
[ "${pid:-0}" -gt 1 ] || cannot "the service while it runs" "it does not"
until_true 10 says 'there is no port /dev/spidev0.0.*it is waited for'
verdict $? "the journal to tell that the port is waited for"
[ "$(inside stat -c %U "/proc/$pid")" = gloam ]
verdict $? "the player to run as gloam"
[ "$(inside stat -c '%a %U %G' /var/lib/gloam /run/gloam /run/gloam/player.socket | tr '\n' ' ')" = "750 gloam gloam 750 gloam gloam 660 gloam gloam " ]
verdict $? "folders and socket of gloam: $(inside stat -c '%n %a %U %G' /var/lib/gloam /run/gloam /run/gloam/player.socket)"

# Its page, at the socket that was opened for it, confined.
if [ -x "$root/usr/bin/curl" ]; then
    answers() { inside curl -s --max-time 2 http://localhost/v1/me | grep -q '"pairing":"code"'; }
    until_true 10 answers
    verdict $? "the page to answer at port 80: $(inside journalctl -q -u gloam.service --no-pager -o cat | tail -n 5)"
    inside gloam status | grep -q '^page: http://'
    verdict $? "status to tell where the page is: $(inside gloam status | tail -n 2)"
else
    skip "the page" "curl is not here"
fi
helper=$(inside pgrep -x gloam-page)
inside grep -q '^NoNewPrivs:.1' "/proc/$helper/status" && [ "$(inside cat "/proc/$helper/oom_score_adj")" = 500 ] &&
    [ "$(inside awk '{ print $19 }' "/proc/$helper/stat")" -ge 10 ]
verdict $? "the page to have given up priority and rights: oom $(inside cat "/proc/$helper/oom_score_adj"), nice $(inside awk '{ print $19 }' "/proc/$helper/stat")"
inside journalctl -q -u gloam.service --no-pager -o cat | grep -q 'Landlock' && echo "measured: no Landlock in this machine"

# A lamp in the network of that machine: taken without a restart, and frames go out.
cat >"$root/root/home.gloam" <<'H'
lamp lantern {
    pixels 16
    shape  ring
    chip   ws2812b
    port   "e131:127.0.0.1"
}
routine ember { paint 1800K * 10% }
until clock is set play ember
H
inside sh -c 'cat /root/home.gloam >/var/lib/gloam/home/home.gloam'
inside systemctl reload gloam.service
verdict $? "the service to be reloaded"
sends() { inside gloam status --format=json | grep -Eq '"shown": *[1-9]'; }
until_true 10 sends
verdict $? "frames to go to the network: $(inside gloam status --format=json | head -c 600)"
[ "$(property MainPID)" = "$pid" ] && [ "$(property NRestarts)" = 0 ]
verdict $? "a reload to be no restart"
inside sh -c 'echo "lamp lantern {" >/var/lib/gloam/home/home.gloam'
inside systemctl reload gloam.service
sleep 1
[ "$(property ActiveState)" = active ] && [ "$(property MainPID)" = "$pid" ]
verdict $? "a home with a mistake to leave the player alone"
inside kill -STOP "$pid"
restarted() { [ "$(property NRestarts)" = 1 ] && [ "$(property ActiveState)" = active ]; }
until_true 30 restarted
verdict $? "the watchdog to start a player anew that hangs: $(property NRestarts) restarts, $(property ActiveState)"
until_true 10 says 'Watchdog timeout'
verdict $? "the journal to name the watchdog"
until_true 10 sends
verdict $? "the copy that was right to play where the home is wrong at the start"
pid=$(property MainPID)
[ "${pid:-0}" -gt 1 ] && inside kill -SEGV "$pid"
again() { [ "$(property NRestarts)" = 2 ] && [ "$(property ActiveState)" = active ]; }
until_true 20 again
verdict $? "a player that crashed to be started anew"
inside systemctl stop gloam.service && [ "$(property Result)" = success ] && [ "$(property ActiveState)" = inactive ]
verdict $? "the service to end well: $(property Result), $(property ActiveState)"
inside env DEBIAN_FRONTEND=noninteractive dpkg -P gloam >"$work/log" 2>&1
verdict $? "the package to be purged: $(tail -n 5 "$work/log")"
left=$(inside sh -c 'ls -d /etc/gloam /etc/avahi/services/gloam.service /usr/libexec/gloam /var/lib/gloam /run/gloam /usr/bin/gloam /lib/systemd/system/gloam.service /usr/share/gloam /etc/systemd/system/multi-user.target.wants/gloam.service 2>/dev/null')
[ -z "$left" ]
verdict $? "nothing to be left of it, not: $left"
close_sum
