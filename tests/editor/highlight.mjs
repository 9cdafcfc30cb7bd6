// highlight.mjs GRAMMAR SAMPLE EXPECTED MODULES: tokenises the sample with npm's vscode-textmate and
// compares the scope at each word of the list. A scope with `-` before it must not be there.
import fs from 'node:fs';
import path from 'node:path';
import { createRequire } from 'node:module';

const [grammarPath, samplePath, expectedPath, modules] = process.argv.slice(2);
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
const lines = fs.readFileSync(samplePath, 'utf8').split('\n');
let stack = textmate.INITIAL;
const tokens = lines.map((line) => {
    const result = grammar.tokenizeLine(line, stack);
    stack = result.ruleStack;
    return result.tokens;
});

// Where the word stands for the nth time, as a word of its own.
function place(line, word, nth) {
    const quoted = word.replace(/[^\w]/g, '\\$&');
    const found = [...line.matchAll(new RegExp(`(?<![\\w-])${quoted}(?![\\w])`, 'g'))]
        .filter((m) => !(/\w$/.test(word) && line[m.index + word.length] === '-' && word !== 'pixels'));
    return found[nth - 1]?.index ?? -1;
}

let passed = 0, failed = 0;
for (const row of fs.readFileSync(expectedPath, 'utf8').split('\n')) {
    if (!row || row.startsWith('# ')) continue;
    const [where, scope] = row.split(' | ');
    const [number, word, nth] = where.split(' ');
    const line = lines[number - 1], at = place(line, word, Number(nth));
    const token = tokens[number - 1].find((t) => t.startIndex <= at && at < t.endIndex);
    const has = (wanted) => token?.scopes.some((s) => s.startsWith(wanted));
    if (at >= 0 && (scope.startsWith('-') ? !has(scope.slice(1)) : has(scope))) passed++;
    else {
        failed++;
        console.log(`expected ${scope} at \`${word}\` of line ${number}, not ${token?.scopes.join(' ')}`);
    }
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
