// highlight.mjs GRAMMAR MODULES: tokenises lines and compares the scope at a word.
import fs from 'node:fs';
import path from 'node:path';
import { createRequire } from 'node:module';

const [grammarPath, modules] = process.argv.slice(2);
const require = createRequire(path.resolve(modules, 'x.js'));
const oniguruma = require('vscode-oniguruma');
const textmate = require('vscode-textmate');
const wasm = fs.readFileSync(path.resolve(modules, 'vscode-oniguruma/release/onig.wasm'));
await oniguruma.loadWASM(wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength));
const registry = new textmate.Registry({
    onigLib: Promise.resolve({
        createOnigScanner: (patterns) => new oniguruma.OnigScanner(patterns),
        createOnigString: (text) => new oniguruma.OnigString(text),
    }),
    loadGrammar: async () => textmate.parseRawGrammar(fs.readFileSync(grammarPath, 'utf8'), 'g.json'),
});
const grammar = await registry.loadGrammar('source.gloam');
const cases = [
    ['routine dawn lasts 30min { // c', 'routine', 'keyword.control'],
    ['routine dawn lasts 30min { // c', '30min', 'constant.numeric'],
    ['routine dawn lasts 30min { // c', '// c', 'comment.line'],
    ['paint black -> #3a0f00 at 40% -> 2700K throughout', '#3a0f00', 'constant.other.color'],
    ['paint black -> #3a0f00 at 40% -> 2700K throughout', '2700K', 'constant.numeric'],
    ['paint black -> #3a0f00 at 40% -> 2700K throughout', '->', 'keyword.operator'],
    ['paint black -> gold every 2s ease-in-out in srgb-linear', 'ease-in-out', 'constant.other.easing'],
    ['dial w = 40% from 0% to 100% "How // warm"', '"', 'string.quoted'],
    ['dial w = 40% from 0% to 100% "How // warm"', '// warm', 'string.quoted'],
    ['paint gold where random(tick(2s)) < pos', 'random', 'support.function'],
    ['paint gold where random(tick(2s)) < pos', 'pos', 'variable.language'],
    ['at 03:10 from 2026-12-24 play dawn', '03:10', 'constant.numeric.time'],
    ['at 03:10 from 2026-12-24 play dawn', '2026-12-24', 'constant.numeric.date'],
];
let passed = 0, failed = 0;
for (const [line, word, scope] of cases) {
    const at = line.indexOf(word);
    const token = grammar.tokenizeLine(line, textmate.INITIAL).tokens.find((t) => t.startIndex <= at && at < t.endIndex);
    if (token.scopes.some((s) => s.startsWith(scope))) passed++;
    else { failed++; console.log(`expected ${scope} at \`${word}\` of \`${line}\`, not ${token.scopes.join(' ')}`); }
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
