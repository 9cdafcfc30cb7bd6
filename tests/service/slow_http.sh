#!/bin/sh
# The interface against its own description: spec/http.yaml is OpenAPI 3.1 by an independent
# validator, names each route of the server and no other, and what a real server answers fits the
# schemas (ajv, JSON Schema 2020-12). Needs node and npm. Takes about 20 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
cannot() {
    skip "the interface against its description" "$1"
    close_sum
    exit
}
[ -x "$base/gloam-page" ] || cannot "gloam-page is not built"
command -v npm >/dev/null 2>&1 && command -v node >/dev/null 2>&1 || cannot "node and npm are not here"
cp "$root"/tests/service/http/*.mjs "$root/tests/service/http/package.json" .
sed '/playwright/d' "$root/tests/service/page/house.mjs" | sed '/^export const browser/,/^$/d' >house.mjs
npm install --silent --no-package-lock --no-audit --no-fund >npm.log 2>&1 ||
    cannot "npm could not fetch the validators: $(tail -n 2 npm.log)"
sed -n 's/^.*{"\([A-Z]*\)", "\([^"]*\)".*/\1 \2/p' "$root/runtime/service/page/routes.c" >routes
timeout 100 node describe.mjs "$gloam" "$root/spec/http.yaml" routes >log 2>&1
status=$?
cat log
if ! grep -q '^[0-9]* passed, [0-9]* failed$' log; then
    verdict 1 "the comparison to come to its end: status $status"
    close_sum
    exit 1
fi
exit "$status"
