#!/bin/sh
# The lamp's page in a browser: tests/service/page/use.mjs as it is used, states.mjs when things are
# not as usual, late.mjs when the lamp answers late, wrongly or not at all. Needs node, npm (for
# playwright-core and axe-core) and Chromium. Takes about 240 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
chromium=$(command -v chromium || command -v chromium-browser)
cannot() {
    skip "the page in a browser" "$1"
    close_sum
    exit
}
[ -x "$base/gloam-page" ] || cannot "gloam-page is not built"
[ -n "$chromium" ] || cannot "there is no chromium"
command -v npm >/dev/null 2>&1 && command -v node >/dev/null 2>&1 || cannot "node and npm are not here"
cp "$root"/tests/service/page/*.mjs "$root/tests/service/page/package.json" .
npm install --silent --no-package-lock --no-audit --no-fund >npm.log 2>&1 ||
    cannot "npm could not fetch playwright-core and axe-core: $(tail -n 2 npm.log)"
for part in use states late; do
    CHROMIUM=$chromium timeout 900 node "$part.mjs" "$gloam" >log 2>&1
    status=$?
    grep -v '^[0-9]* passed, [0-9]* failed$' log
    if ! sum=$(grep '^[0-9]* passed, [0-9]* failed$' log); then
        verdict 1 "the browser to come to the end of $part.mjs: status $status"
        continue
    fi
    set -- $sum
    passed=$((passed + $1)) failed=$((failed + $3))
done
close_sum
