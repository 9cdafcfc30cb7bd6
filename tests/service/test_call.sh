#!/bin/sh
# Commands for a lamp elsewhere (--to), where what answers is no lamp, or one that means harm: a
# stand-in on loopback that says what `reply` holds to whoever comes, and `session`, where it is there,
# to whoever wants one.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
if [ ! -x "${gloam%/*}/gloam-call" ] || ! command -v perl >/dev/null 2>&1; then
    skip "commands for a lamp elsewhere" "gloam-call or perl is not here"
    close_sum
    exit
fi
export XDG_CONFIG_HOME="$work/config"
unset XDG_RUNTIME_DIR RUNTIME_DIRECTORY
cat >stand.pl <<'P'
use strict;
use Socket;
socket(my $door, PF_INET, SOCK_STREAM, 0) or die;
setsockopt($door, SOL_SOCKET, SO_REUSEADDR, 1);
bind($door, pack_sockaddr_in(0, INADDR_LOOPBACK)) && listen($door, 8) or die;
open(my $port, ">", "port") or die;
print $port((unpack_sockaddr_in(getsockname($door)))[0]);
close($port);
while (accept(my $guest, $door)) {
    my ($asked, $length) = ("", 0);
    while ($asked !~ /\r\n\r\n/ && sysread($guest, my $more, 4096)) { $asked .= $more }
    open(my $log, ">>", "asked") or die;
    print $log $asked;
    close($log);
    my $reply = $asked =~ m{ /v1/sessions } && -e "session" ? "session" : "reply";
    open(my $file, "<:raw", $reply) or die;
    local $/;
    syswrite($guest, <$file>);
    close($guest);
}
P
perl stand.pl &
standing=$!
trap 'kill "$standing"; cd /; rm -rf "$work"' EXIT
await 20 test -s port
lamp=http://127.0.0.1:$(cat port)
reply() { # STATUS TYPE BODY, with the escapes of printf
    printf 'HTTP/1.1 %s\r\nContent-Type: %s\r\nConnection: close\r\n\r\n' "$1" "$2" >reply
    printf "$3" >>reply
}
call() { # STATUS WORD...
    wanted=$1
    shift
    "$gloam" "$@" --to "$lamp" >said 2>&1
    got=$?
    [ "$got" -eq "$wanted" ]
    verdict $? "exit status $wanted of $*, not $got: $(cat -v said | head -c 300)"
}
harmless() { # control characters of ECMA-48, of one byte and of two
    ! LC_ALL=C tr -d '\n\t' <said | LC_ALL=C grep -q "$(printf '[\001-\037\177]\|\302[\200-\237]')"
    verdict $? "nothing that steers a terminal: $(cat -v said | head -c 300)"
}
reply '200 OK' text/plain 'lantern: dusk\033[2J\302\233H\177\tbell\007\n'
call 0 status
harmless
grep -q '^lantern: dusk?\[2J?H?	bell?$' said
verdict $? "what the lamp says, without what steers: $(cat -v said)"
reply '200 OK' application/json '{"said": "dusk\\u001b]0;bakery\\u0007"}'
call 0 play dusk
harmless
reply '422 Refused' application/problem+json '{"title": "Refused", "detail": "no \\u009b2J routine"}'
call 1 play dusk
harmless
reply '500 What' text/html '<p>no lamp</p>'
call 3 status
grep -q 'as no lamp would' said
verdict $? "an answer that is no lamp's to be told: $(cat said)"
# What a redirection leads to is not asked, with a token or without.
printf 'HTTP/1.1 302 There\r\nLocation: %s/elsewhere\r\nConnection: close\r\n\r\n' "$lamp" >reply
: >asked
call 3 status
[ "$(grep -c '^GET' asked)" -eq 1 ] && ! grep -q elsewhere asked
verdict $? "a redirection not to be followed: $(cat asked)"
printf 'HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n' >reply
head -c 2000000 /dev/zero | tr '\0' a >>reply
call 3 status
[ "$(wc -c <said)" -lt 1000 ]
verdict $? "an answer of 2 MB to be refused, not $(wc -c <said) bytes to be said"
reply '202 Shown' application/json '{"digits": 5}'
echo 12345 | "$gloam" pair --to "$lamp" >said 2>&1
[ $? -eq 3 ] && grep -q 'answers 202, as no lamp would' said && [ ! -e config/gloam/sessions ]
verdict $? "no session to be kept where none is given: $(cat said)"
# Where the sessions of other lamps cannot be read they are not written over.
reply '201 Created' application/json '{"session": {"id": "a"}, "token": "00112233445566778899aabbccddeeff"}'
mv reply session
reply '202 Shown' application/json '{"digits": 5}'
mkdir -p config/gloam
ln -s sessions config/gloam/sessions # to itself
echo 12345 | "$gloam" pair --to "$lamp" >said 2>&1
[ $? -eq 3 ] && grep -q 'cannot be kept' said && [ -L config/gloam/sessions ] && [ ! -e config/gloam/sessions.new ]
verdict $? "sessions that cannot be read to be left as they are: $(cat said) $(ls -l config/gloam)"
rm config/gloam/sessions
echo 'http://window.local 0123456789abcdef' >config/gloam/sessions
echo 12345 | "$gloam" pair --to "$lamp" >said 2>&1
[ "$(cut -d' ' -f1 config/gloam/sessions | tr '\n' ' ')" = "http://window.local $lamp " ]
verdict $? "a session to be kept beside that of another lamp: $(cat said config/gloam/sessions)"
# A proxy of the environment sees nothing of it.
reply '200 OK' text/plain 'lantern: dusk\n'
http_proxy=http://127.0.0.1:1 call 0 status
close_sum
