#!/bin/sh
# The limits of runtime/core/limits.h and of spec/limits.md are the same, each once.
set -u
cd "$(dirname "$0")/../.."
value() { # an initialiser of the header as a number
    case $1 in
    *.0) echo "${1%.0}" ;;
    *) echo $(($1)) ;;
    esac
}
in_header=$(mktemp) in_spec=$(mktemp)
sed -n 's/^ *\(LIMIT_[A-Z_]*\) = \([^,]*\),.*/\1 \2/p; s/^#define \(LIMIT_[A-Z_]*\) \(.*\)/\1 \2/p' \
    runtime/core/limits.h | while read -r name text; do echo "$name $(value "$text")"; done | sort >"$in_header"
sed -n 's/^| `\(LIMIT_[A-Z_]*\)` | \([0-9]*\) |.*/\1 \2/p' spec/limits.md | sort >"$in_spec"
count=$(wc -l <"$in_header")
if [ "$count" -lt 25 ]; then
    echo "expected at least 25 limits in the header, read $count"
    echo "0 passed, 1 failed"
    exit 1
fi
if diff "$in_header" "$in_spec"; then
    echo "$count passed, 0 failed"
else
    echo "expected spec/limits.md (>) to say what runtime/core/limits.h (<) says"
    echo "0 passed, 1 failed"
    exit 1
fi
rm -f "$in_header" "$in_spec"
