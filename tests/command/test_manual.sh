#!/bin/sh
# The pages of the manual: mandoc finds nothing to warn of, and they name the options that there are.
set -u
cd "$(dirname "$0")/../.."
gloam=${BUILD:-build}/gloam
passed=0 failed=0 skipped=0
verdict() { # STATUS WHAT
    if [ "$1" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected $2"
    fi
}
for page in spec/guide/man/*.[15]; do
    if command -v mandoc >/dev/null 2>&1; then
        said=$(mandoc -Tlint -Wwarning "$page" 2>&1)
        verdict $? "nothing to warn of in $page: $said"
    else
        skipped=$((skipped + 1))
        echo "skipped: $page by mandoc, which is not here"
    fi
done
for command in check preview dump picture format compile disassemble; do
    page=spec/guide/man/gloam-$command.1
    in_help=$("$gloam" $command --help | sed -n 's/^ .*--\([a-z-]*\).*/\1/p' | grep -vx help | sort -u | tr '\n' ' ')
    in_page=$(grep -o 'Fl -[a-z][a-z-]*' "$page" | sed 's/Fl -//' | sort -u | tr '\n' ' ')
    for option in $in_help; do
        case " $in_page " in *" $option "*) status=0 ;; *) status=1 ;; esac
        verdict $status "$page to name --$option"
    done
    for option in $in_page; do
        case " $in_help " in *" $option "*) status=0 ;; *) status=1 ;; esac
        verdict $status "gloam $command to have --$option, which its page names"
    done
done
[ $skipped -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
