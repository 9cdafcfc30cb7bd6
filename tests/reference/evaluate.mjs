#!/usr/bin/env node
// node evaluate.mjs FILE --routine R --pixels N --shape ring --at 1.5s,2s --set dial=80% --hour 3.5
// prints the linear light of a routine as `gloam dump --values light` does.
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { durationOf } from './lexer.mjs';
import { parse, parseExpression } from './parser.mjs';
import { load, render } from './interpreter.mjs';
import { layOut, parseShape, readPoints } from './lamp.mjs';

// Nine significant digits: they read back to the same single-precision number.
export function decimal(x) {
    const value = Math.fround(x);
    if (value === 0) return '0';
    return String(Number(value.toPrecision(9)));
}

export const seconds = (text) =>
    (text.startsWith('-') ? -durationOf(text.slice(1)) : durationOf(text));

// options: {file, routine, lamp: 'ring 16' | 'declared NAME', set: [[name, text]], hour, ...}
export function prepare(options) {
    const set = new Map((options.set || []).map(([name, text]) => [name, parseExpression(text)]));
    const program = load(parse, options.file, (name) => readFileSync(name, 'utf8'), set);
    const routines = program.tree.routines.map((item) => item.name);
    const name = options.routine || (routines.length === 1 ? routines[0] : '');
    const routine = program.names.get(name);
    if (!routine || routine.type !== 'routine') throw new Error(`which routine? ${routines.join(', ')}`);
    let lamp = { names: new Map(), ...parseShape(options.lamp || 'ring 16') };
    const declared = /^declared (\w+)$/.exec(options.lamp || '');
    if (declared) {
        lamp = program.tree.lamps.find((item) => item.name === declared[1]);
        if (!lamp) throw new Error(`no lamp ${declared[1]}`);
        if (lamp.shape && lamp.shape.kind === 'points') {
            const folder = options.file.slice(0, options.file.lastIndexOf('/') + 1);
            lamp.shape.places = readPoints(readFileSync(folder + lamp.shape.file, 'utf8'));
        }
    }
    const scene = {
        hour: options.hour || 0, moonlit: options.moonlit || 0, moonage: options.moonage || 0,
        sunheight: options.sunheight || 0, names: lamp.names,
    };
    const places = layOut(lamp);
    return (microseconds) => render(routine, places, scene, microseconds);
}

function options(words) {
    const found = { file: '', set: [], pixels: 16, shape: 'ring', at: ['0s'] };
    for (let i = 0; i < words.length; i++) {
        const word = words[i];
        if (!word.startsWith('--')) {
            found.file = word;
            continue;
        }
        const value = words[++i];
        switch (word) {
        case '--at': found.at = value.split(','); break;
        case '--set': found.set.push([value.slice(0, value.indexOf('=')), value.slice(value.indexOf('=') + 1)]); break;
        case '--hour': case '--moonlit': case '--moonage': case '--sunheight': case '--pixels':
            found[word.slice(2)] = Number(value);
            break;
        case '--routine': case '--shape': case '--lamp': found[word.slice(2)] = value; break;
        default: throw new Error(`no option ${word}`);
        }
    }
    if (!found.lamp) found.lamp = /^(strip|ring)$/.test(found.shape) ? `${found.shape} ${found.pixels}` : found.shape;
    else found.lamp = `declared ${found.lamp}`;
    return found;
}

function main() {
    const asked = options(process.argv.slice(2));
    const frameAt = prepare(asked);
    const lines = ['frame,seconds,pixel,red,green,blue'];
    asked.at.forEach((text, frame) => {
        const microseconds = seconds(text);
        frameAt(microseconds).forEach((light, pixel) => {
            lines.push([frame, (microseconds / 1e6).toFixed(6), pixel, ...light.map(decimal)].join());
        });
    });
    process.stdout.write(`${lines.join('\n')}\n`);
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
    try {
        main();
    } catch (error) {
        process.stderr.write(`${error.message}\n`);
        process.exitCode = 1;
    }
}
