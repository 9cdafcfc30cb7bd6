#!/bin/sh
# The service: its unit by systemd's own judgement, the Debian packages, and a machine of its own
# (a container on a copy of this file system) in which the package is installed, plays, is
# stopped by the watchdog, installed anew, started with the machine, and is purged. No SPI port is
# involved.
# Takes about 150 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
. tests/support/wait.sh
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
    else
        skip "the lamp's folder and its first home" "there is no systemd-tmpfiles"
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
cp "$deb" "$root/srv/gloam.deb"
DEBIAN_FRONTEND=noninteractive chroot "$root" dpkg -i /srv/gloam.deb >"$work/log" 2>&1
verdict $? "the package to be installed: $(tail -n 5 "$work/log")"
grep -q '^gloam:' "$root/etc/passwd" && [ -L "$root/etc/systemd/system/multi-user.target.wants/gloam.service" ]
verdict $? "a user, and the service to be started with the machine"
# Nothing else runs in it, and the watchdog barks early.
printf '[Unit]\nRequires=sysinit.target\nAfter=sysinit.target\n' >"$root/etc/systemd/system/trial.target"
mkdir -p "$root/etc/systemd/system/gloam.service.d"
printf '[Service]\nWatchdogSec=4\n' >"$root/etc/systemd/system/gloam.service.d/trial.conf"
printf '#include <sys/timex.h>\nint main(void) { struct timex t = {0}; return adjtimex(&t) < 0; }\n' >"$work/reads_clock.c"
${CC:-gcc} -o "$root/usr/local/bin/reads_clock" "$work/reads_clock.c"
boot() {
    systemd-nspawn -q -D "$root" --register=no --keep-unit --private-network --system-call-filter='adjtimex clock_adjtime' \
        --boot --console=pipe -M gloam-trial systemd.unit=trial.target >"$work/console" 2>&1 </dev/null &
    machine=$!
    await 20 has_leader && await 60 is_up
}
inside() {
    nsenter -t "$leader" -m -u -i -n -p -C -r -w "$@"
}
has_leader() {
    leader=$(cat "/proc/$machine/task/$machine/children" 2>/dev/null)
    leader=${leader%% *}
    [ -n "$leader" ]
}
is_up() { inside systemctl is-active trial.target; }
boot || cannot "a machine with the package" "it did not start: $(tail -n 3 "$work/console")"
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
await 10 says 'there is no port /dev/spidev0.0.*it is waited for'
verdict $? "the journal to tell that the port is waited for"
inside journalctl -q -u gloam.service -p 4..4 --no-pager -o cat | grep -q '^lantern: there is no port'
verdict $? "the journal to have that as a warning, without its level in the text: $(inside journalctl -q -u gloam.service --no-pager -o cat | tail -n 3)"
[ "$(inside stat -c %U "/proc/$pid")" = gloam ]
verdict $? "the player to run as gloam"
[ "$(inside stat -c '%a %U %G' /var/lib/gloam /run/gloam /run/gloam/player.socket | tr '\n' ' ')" = "750 gloam gloam 750 gloam gloam 660 gloam gloam " ]
verdict $? "folders and socket of gloam: $(inside stat -c '%n %a %U %G' /var/lib/gloam /run/gloam /run/gloam/player.socket)"

# Its page, at the socket that was opened for it, confined.
if [ -x "$root/usr/bin/curl" ]; then
    answers() { inside curl -s --max-time 2 http://localhost/v1/me | grep -q '"pairing":"code"'; }
    await 10 answers
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
cat >"$root/srv/home.gloam" <<'H'
lamp lantern {
    pixels 16
    shape  ring
    chip   ws2812b
    port   "e131:127.0.0.1"
}
routine ember { paint 1800K * 10% }
until clock is set play ember
H
inside sh -c 'cat /srv/home.gloam >/var/lib/gloam/home/home.gloam'
inside systemctl reload gloam.service
verdict $? "the service to be reloaded"
sends() { inside gloam status --format=json | grep -Eq '"shown": *[1-9]'; }
await 10 sends
verdict $? "frames to go to the network: $(inside gloam status --format=json | head -c 600)"
[ "$(property MainPID)" = "$pid" ] && [ "$(property NRestarts)" = 0 ]
verdict $? "a reload to be no restart"
inside sh -c 'echo "lamp lantern {" >/var/lib/gloam/home/home.gloam'
inside systemctl reload gloam.service
await 20 says 'home.gloam is not taken'
verdict $? "the mistake to be told: $(inside journalctl -q -u gloam.service --no-pager -o cat | tail -n 3)"
[ "$(property ActiveState)" = active ] && [ "$(property MainPID)" = "$pid" ]
verdict $? "a home with a mistake to leave the player alone"
inside kill -STOP "$pid"
restarted() { [ "$(property NRestarts)" = 1 ] && [ "$(property ActiveState)" = active ]; }
await 30 restarted
verdict $? "the watchdog to start a player anew that hangs: $(property NRestarts) restarts, $(property ActiveState)"
await 10 says 'Watchdog timeout'
verdict $? "the journal to name the watchdog"
await 10 sends
verdict $? "the copy that was right to play where the home is wrong at the start"
pid=$(property MainPID)
[ "${pid:-0}" -gt 1 ] && inside kill -SEGV "$pid"
again() { [ "$(property NRestarts)" = 2 ] && [ "$(property ActiveState)" = active ]; }
await 20 again
verdict $? "a player that crashed to be started anew"
# ---- who may, and what stays ----
# The baker is a member of the group; somebody else is not.
inside useradd -M -G gloam baker && inside useradd -M visitor
verdict $? "two people in the machine"
by() { # WHO COMMAND: as after a login
    inside runuser -u "$1" -- sh -c "$2"
}
home=/var/lib/gloam/home/home.gloam
plays() { inside gloam status | grep -q "^lantern: $1"; }
sed 's/ember/glow/' "$root/srv/home.gloam" >"$root/srv/glow.gloam"
chmod 644 "$root/srv/glow.gloam"
by baker "cat /srv/glow.gloam >$home" >"$work/log" 2>&1 && await 10 plays glow
verdict $? "a home that a member of the group has written to play: $(cat "$work/log"; inside gloam status | head -n 3)"
# As editors do it: a new file in its place.
sed 's/ember/sheen/' "$root/srv/home.gloam" >"$root/srv/sheen.gloam"
chmod 644 "$root/srv/sheen.gloam"
by baker "cp /srv/sheen.gloam $home.new && mv $home.new $home" >"$work/log" 2>&1 && await 10 plays sheen
verdict $? "a home that was put in the place of the other to play: $(cat "$work/log"; inside gloam status | head -n 3)"
[ "$(inside stat -c %G "$home")" = gloam ]
verdict $? "that file to be of the group gloam, not $(inside stat -c %G "$home")"
by baker 'gloam level 37% --for 5h' >"$work/log" 2>&1
verdict $? "a member of the group to tell the player something: $(cat "$work/log")"
! by visitor "cat $home" >"$work/log" 2>&1 && ! by visitor 'gloam level 90%' >>"$work/log" 2>&1
verdict $? "somebody else neither to read the home nor to tell the player something: $(cat "$work/log")"
kept() { inside sh -c 'cd /var/lib/gloam/state.json.versions && ls && md5sum *' 2>&1; }
before=$(kept)
case $before in
"000001.gloam
000002.gloam
000003.gloam
000004.gloam
"*) inside cmp -s /srv/home.gloam /var/lib/gloam/state.json.versions/000002.gloam &&
    inside cmp -s "$home" /var/lib/gloam/state.json.versions/000004.gloam ;;
*) false ;;
esac
verdict $? "the first home and the three that were taken to be kept, and not what was wrong: $before"

# The package once more, as in an upgrade: what is the owner's stays.
inside sh -c 'mkdir -p /etc/gloam && echo GLOAM_OPTIONS=--fps 30 >/etc/gloam/options'
owned() { inside sh -c 'cat /var/lib/gloam/home/home.gloam /etc/gloam/options; stat -c "%n %a %U %G" /var/lib/gloam/home; cat /var/lib/gloam/state.json' 2>&1; }
owners=$(owned)
inside env DEBIAN_FRONTEND=noninteractive dpkg -i /srv/gloam.deb >"$work/log" 2>&1
verdict $? "the package to be installed anew: $(tail -n 5 "$work/log")"
[ "$(owned)" = "$owners" ] && [ "$(kept)" = "$before" ]
verdict $? "home, options, state and versions to be left as they were: $owners / $(owned)"

# The machine is started anew: the service comes with it, and what was done by hand still holds.
mkdir -p "$root/etc/systemd/system/trial.target.wants"
ln -sf /lib/systemd/system/gloam.service "$root/etc/systemd/system/trial.target.wants/gloam.service"
inside systemctl poweroff >/dev/null 2>&1
gone() { ! kill -0 "$machine"; }
await 40 gone || cannot "the machine started anew" "it did not end"
wait "$machine" 2>/dev/null
machine=
boot || cannot "the machine started anew" "it did not start: $(tail -n 3 "$work/console")"
await 20 plays sheen
verdict $? "the service to play from the start of the machine: $(inside gloam status 2>&1 | head -n 3; inside journalctl -q -b -u gloam.service --no-pager | tail -n 10)"
inside gloam status | grep -q "37 % of the light), by hand"
verdict $? "the level set by hand to hold after it: $(inside gloam status)"
[ "$(kept)" = "$before" ]
verdict $? "the versions to be those of before: $before / $(kept)"
inside sh -c 'tr "\0" " " </proc/$(systemctl show -P MainPID gloam.service)/cmdline' | grep -q -- '--fps 30 /var/lib/gloam/home/home.gloam'
verdict $? "the options of /etc/gloam/options to be taken"
inside systemctl stop gloam.service && [ "$(property Result)" = success ] && [ "$(property ActiveState)" = inactive ]
verdict $? "the service to end well: $(property Result), $(property ActiveState)"
inside env DEBIAN_FRONTEND=noninteractive dpkg -P gloam >"$work/log" 2>&1
verdict $? "the package to be purged: $(tail -n 5 "$work/log")"
left=$(inside sh -c 'ls -d /etc/gloam /etc/avahi/services/gloam.service /usr/libexec/gloam /var/lib/gloam /run/gloam /usr/bin/gloam /lib/systemd/system/gloam.service /usr/share/gloam /etc/systemd/system/multi-user.target.wants/gloam.service 2>/dev/null')
[ -z "$left" ]
verdict $? "nothing to be left of it, not: $left"
close_sum
