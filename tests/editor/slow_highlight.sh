#!/bin/sh
# The TextMate grammar, read by npm's vscode-textmate and vscode-oniguruma: scopes of a few lines.
set -u
cd "$(dirname "$0")/../.."
if ! command -v npm >/dev/null 2>&1; then
    echo "skipped: there is no npm to fetch vscode-textmate with"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
work=${BUILD:-build}/editor
mkdir -p "$work"
cp tests/editor/highlight.mjs "$work/"
if ! (cd "$work" && npm install --silent --no-save --no-audit --no-fund --prefix . \
    vscode-textmate@9.1.0 vscode-oniguruma@2.0.1 >npm.log 2>&1); then
    echo "skipped: npm could not fetch vscode-textmate and vscode-oniguruma"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
node "$work/highlight.mjs" lang/editor/gloam.tmLanguage.json "$work/node_modules"
