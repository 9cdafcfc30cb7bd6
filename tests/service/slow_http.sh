#!/bin/sh
# The interface against its own description: spec/http.yaml is OpenAPI 3.1 by an independent
# validator, names each route of the server and no other, and what a real server answers fits the
# schemas (ajv, JSON Schema 2020-12). Needs node and npm. Takes about 20 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
base=${BUILD:-build}
case $base in /*) ;; *) base=$PWD/$base ;; esac
cannot() {
    skip "the interface against its description" "$1"
    close_sum
    exit
}
[ -x "$base/gloam-page" ] || cannot "gloam-page is not built"
command -v npm >/dev/null 2>&1 && command -v node >/dev/null 2>&1 || cannot "node and npm are not here"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp tests/service/http/*.mjs tests/service/http/package.json "$work/"
sed '/playwright/d' tests/service/page/house.mjs | sed '/^export const browser/,/^$/d' >"$work/house.mjs"
npm install --silent --no-package-lock --no-audit --no-fund --prefix "$work" >"$work/npm.log" 2>&1 ||
    cannot "npm could not fetch the validators: $(tail -n 2 "$work/npm.log")"
sed -n 's/^.*{"\([A-Z]*\)", "\([^"]*\)".*/\1 \2/p' runtime/service/page/routes.c >"$work/routes"
timeout 100 node "$work/describe.mjs" "$base/gloam" spec/http.yaml "$work/routes" >"$work/log" 2>&1
status=$?
cat "$work/log"
if ! grep -q '^[0-9]* passed, [0-9]* failed$' "$work/log"; then
    verdict 1 "the comparison to come to its end: status $status"
    close_sum
    exit 1
fi
exit "$status"
