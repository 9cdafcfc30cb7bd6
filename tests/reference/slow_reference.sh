#!/bin/sh
# The evaluator against published tables, the conformance programs against the evaluator, and random
# programs through both. Needs node 18 and npm (for culori and colorjs.io).
# Takes about 240 s.
set -u
cd "$(dirname "$0")/../.."
passed=0 failed=0
if ! command -v node >/dev/null || ! command -v npm >/dev/null; then
    echo "skipped: node and npm are not installed"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
if [ ! -d tests/reference/node_modules/culori ] || [ ! -d tests/reference/node_modules/colorjs.io ]; then
    if ! npm install --prefix tests/reference --no-package-lock --no-audit --no-fund >/dev/null 2>&1; then
        echo "skipped: npm could not fetch culori and colorjs.io"
        echo "0 passed, 0 failed, 1 skipped"
        exit 0
    fi
fi
verdict() { # WHAT COMMAND...
    what=$1
    shift
    if said=$("$@" 2>&1); then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "$what:"
        echo "$said" | tail -n 100
    fi
}
verdict "the evaluator against tables" node tests/reference/check_tables.mjs
verdict "conformance programs against the evaluator" node tests/reference/expect.mjs --check
for seed in 1 2 3 4 5; do
    verdict "random programs, seed $seed" node tests/reference/fuzz_programs.mjs --count 300 \
        --seed "$seed" --gloam "${BUILD:-build}/gloam"
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
