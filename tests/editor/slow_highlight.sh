#!/bin/sh
# What the files for editors make of tests/editor/sample.gloam: the TextMate grammar read by npm's
# vscode-textmate and vscode-oniguruma, the syntax file by vim, both against expected.txt, which was
# written by hand from the specification.
# Takes about 60 s.
set -u
cd "$(dirname "$0")/../.."
passed=0 failed=0 skipped=0
build=$(mkdir -p "${BUILD:-build}" && cd "${BUILD:-build}" && pwd)
work=$build/editor
mkdir -p "$work"
add() { # FILE whose last line is a sum
    sed '$d' "$1"
    passed=$((passed + $(sed -n '$s/ passed.*//p' "$1")))
    failed=$((failed + $(sed -n '$s/.* \([0-9]*\) failed.*/\1/p' "$1")))
}
skip() {
    skipped=$((skipped + 1))
    echo "skipped: $1"
}

# The sample is a file without errors.
cp examples/palette.gloam tests/editor/sample.gloam "$work"
if "$build/gloam" check "$work/sample.gloam" >"$work/said"; then
    passed=$((passed + 1))
else
    failed=$((failed + 1))
    echo "expected tests/editor/sample.gloam to have no errors:"
    cat "$work/said"
fi

if ! command -v npm >/dev/null 2>&1 || ! command -v node >/dev/null 2>&1; then
    skip "the TextMate grammar: there is no npm to fetch vscode-textmate with"
elif ! npm install --silent --no-save --no-audit --no-fund --prefix "$work" \
    vscode-textmate@9.1.0 vscode-oniguruma@2.0.1 >"$work/npm.log" 2>&1; then
    skip "the TextMate grammar: npm could not fetch vscode-textmate and vscode-oniguruma"
elif node tests/editor/highlight.mjs lang/editor/gloam.tmLanguage.json tests/editor/sample.gloam \
    tests/editor/expected.txt "$work/node_modules" >"$work/said" 2>&1 ||
    grep -q ' passed, ' "$work/said"; then
    add "$work/said"
else
    failed=$((failed + 1))
    cat "$work/said"
fi

if ! command -v vim >/dev/null 2>&1 || ! vim --version | grep -q '+syntax'; then
    skip "the syntax file of vim: there is no vim that has +syntax"
else
    rm -f "$work/result"
    SAMPLE=tests/editor/sample.gloam EXPECTED=tests/editor/expected.txt RESULT=$work/result \
        EDITOR_FILES=lang/editor/vim vim -u NONE -i NONE -es -S tests/editor/highlight.vim </dev/null >"$work/said" 2>&1
    if [ -s "$work/result" ]; then
        { grep -v '^passed$' "$work/result"
          echo "$(grep -c '^passed$' "$work/result") passed, $(grep -vc '^passed$' "$work/result") failed"; } >"$work/said"
        add "$work/said"
    else
        failed=$((failed + 1))
        echo "expected vim to run tests/editor/highlight.vim:"
        cat "$work/said"
    fi
fi
[ "$skipped" -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
