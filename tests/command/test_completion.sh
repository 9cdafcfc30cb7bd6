#!/bin/sh
# Completion in bash: what is offered for a line that is being typed.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
if ! command -v bash >/dev/null 2>&1; then
    skip "completion in bash" "there is no bash"
    close_sum
    exit
fi
cat >home.gloam <<'TEXT'
dial warmth = 40%
dial pace = 2s
lamp lantern { pixels 16 }
lamp window { pixels 60 shape strip }
routine dusk { paint gold * warmth }
  routine daybreak { paint gold over pace }
TEXT
: >"with space.gloam"
: >notes.txt
mkdir inside
cat >type.bash <<'TEXT'
# type.bash WORD...: what is offered for the last word, sorted, in one line.
source "$1"
shift
COMP_WORDS=(gloam "$@")
COMP_CWORD=$#
_gloam
[ "${#COMPREPLY[@]}" -eq 0 ] || printf '%s\n' "${COMPREPLY[@]}" | LC_ALL=C sort | tr '\n' '|'
TEXT
typed() { # WORD...: what is offered for the last
    PATH=$base:$PATH bash --norc type.bash "$root/runtime/service/gloam.bash" "$@" 2>&1
}
offers() { # WANTED WORD...
    wanted=$1
    shift
    got=$(typed "$@")
    [ "$got" = "$wanted" ]
    verdict $? "\`$wanted\` for \`gloam $*\`, not \`$got\`"
}
offers 'check|clear|compile|' c
offers 'dump|' du
offers '--help|--version|check|clear|compile|disassemble|dump|earlier|format|help|level|more|pair|picture|play|preview|report|run|set|skip|status|try-wiring|undo|when|' ''
offers '' nonsense
offers 'preview|' help pre
offers '--length|' dump --le
offers '--set|--speed|--start|' dump --s
offers '--colour|--costs|' check --co
offers 'csv:|terminal|' try-wiring --output ''
offers 'sk6812|sk6812w|sk9822|' try-wiring --chip sk
offers 'lantern|window|' try-wiring home.gloam --lamp ''
offers '' check --speed
offers '--output|' format --o
offers 'bytes|light|' dump --values ''
offers 'light|' dump --values = li
offers 'bytes|light|' dump --values =
offers 'json|' check --format j
offers 'daybreak|dusk|' play --home home.gloam d
offers 'pace|' set --home home.gloam p
offers '' undo ''
offers 'csv|' when --format c
offers 'ics|' when --format = i
offers '' when --days ''
offers 'always|auto|' check --colour a
offers 'daybreak|dusk|' dump home.gloam --routine ''
offers 'dusk|' dump home.gloam --routine du
offers 'lantern|window|' dump home.gloam --lamp ''
offers 'pace=|warmth=|' dump home.gloam --set ''
offers '' dump --routine x nowhere.gloam --lamp w
offers '' dump --fps ''
offers 'home.gloam|' check ho
offers 'home.gloam|inside|with space.gloam|' check ''
offers 'with space.gloam|' check wi
offers 'notes.txt|' dump -o no
# Every command and every option that the program lists.
for command in try-wiring check preview dump picture when format compile disassemble; do
    offers "$command|" "$command"
    options=$("$gloam" $command --help | sed -n 's/^ .*\(--[a-z-]*\).*/\1/p' | sort -u)
    [ -n "$options" ]
    verdict $? "$command --help to list options"
    for option in $options; do
        got=$(typed $command "$option")
        case "|$got" in *"|$option|"*) true ;; *) false ;; esac
        verdict $? "$option for $command, not $got"
    done
done
close_sum
