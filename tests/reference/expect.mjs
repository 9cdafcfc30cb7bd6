#!/usr/bin/env node
// node expect.mjs --write | --check [FILES]: the expected light of spec/conformance.
// --write fills in the light of cases that come from the evaluator or from a table; cases worked by
// hand are never rewritten. --check computes every case again and compares.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { decimal, prepare, seconds } from './evaluate.mjs';

const FOLDER = fileURLToPath(new URL('../../spec/conformance/', import.meta.url));
const TABLES = new URL('../data/light/', import.meta.url);
const decode = (v) => Math.sign(v) *
    (Math.abs(v) <= 0.04045 ? Math.abs(v) / 12.92 : ((Math.abs(v) + 0.055) / 1.055) ** 2.4);

function rowOf(file, key) {
    const lines = readFileSync(new URL(file, TABLES), 'utf8').split('\n').filter((line) => line && !/^# /.test(line));
    const split = (line) => [...line.matchAll(/("([^"]*)"|[^,]*)(?:,|$)/g)].map((m) => m[2] ?? m[1]);
    const row = lines.find((line) => line.startsWith(`${key},`));
    if (!row) throw new Error(`no row ${key} in ${file}`);
    const cells = split(row);
    return Object.fromEntries(split(lines[0]).map((name, i) => [name, cells[i]]));
}

// Linear light that a row of a published table stands for.
function lightOfRow(file, key) {
    const row = rowOf(file, key);
    const three = (...names) => names.map((name) => Number(row[name]));
    switch (file) {
    case 'colour_interpolation.csv': case 'css_colour_functions.csv':
        return three('colorjs_r', 'colorjs_g', 'colorjs_b').map(decode);
    case 'css_named_colours.csv': return three('r', 'g', 'b').map((v) => decode(v / 255));
    case 'blackbody_locus.csv': {
        const light = three('lin_r', 'lin_g', 'lin_b').map((v) => Math.max(0, v));
        return light.map((v) => v / Math.max(...light));
    }
    case 'easing_cubic_bezier.csv': return three('exact', 'exact', 'exact');
    default: return three('y', 'y', 'y');
    }
}

function readCase(file) {
    const found = { file, lines: readFileSync(file, 'utf8').split('\n'), at: [], rows: [], tolerance: 4e-6,
        from: '', diagnostics: 0, options: { file, set: [], lamp: 'ring 16' } };
    found.lines.forEach((line, i) => {
        const field = /^\/\/= (\S+)\s*(.*?)\r?$/.exec(line);
        if (!field) return;
        const [, key, rest] = field;
        switch (key) {
        case 'light': {
            const [, from] = /^from (evaluator|by hand|table)/.exec(rest);
            found.from = from;
            const row = /^from table (\S+) row (.*)$/.exec(rest);
            if (row) found.rows.push(lightOfRow(row[1], row[2]));
            break;
        }
        case 'tolerance': found.tolerance = rest === 'exact' ? 0 : Number(rest); break;
        case 'lamp': case 'routine': found.options[key] = rest; break;
        case 'hour': case 'moonlit': case 'moonage': found.options[key] = Number(rest); break;
        case 'sunheight': found.options.sunheight = Number(rest) / 360; break;
        case 'set': {
            const [, name, value] = /^(\S+) (.*)$/.exec(rest);
            found.options.set.push([name, value]);
            break;
        }
        case 'at': case 'sample': found.at.push({ line: i, key, text: rest }); break;
        case 'error': case 'warning': case 'note': case 'clean': found.diagnostics++; break;
        case 'about': break;
        default: throw new Error(`${file}:${i + 1}: no field ${key}`);
        }
    });
    return found;
}

// "1.5s pixels 3..5: 0 0 1" to {time, first, last, light}.
function readAt(text, pixels) {
    const [, time, which, light] = /^(\S+) (every pixel|pixels? [\d.]+): (.*)$/.exec(text);
    const [first, last = first] = which === 'every pixel' ? [0, pixels - 1]
        : which.replace(/^pixels? /, '').split('..').map(Number);
    return { time, which, first, last, light: light === '?' ? null : light.split(/\s+/).map(Number) };
}

function expand({ text }) {
    const [, times, pixels] = /^(\S+) pixels (\S+)$/.exec(text);
    return times.split(',').flatMap((time) => pixels.split(',').map((pixel) => `${time} pixel ${pixel}: ?`));
}

function write(found) {
    if (found.from === 'by hand' || found.at.length === 0) return 0;
    const frameAt = prepare(found.options);
    const out = new Map();
    let row = 0;
    for (const item of found.at) {
        const texts = item.key === 'sample' ? expand(item) : [item.text];
        out.set(item.line, texts.map((text) => {
            const { time, which, first } = readAt(text, 1);
            const light = found.rows.length > 0 ? found.rows[row++] : frameAt(seconds(time))[first];
            return `//= at ${time} ${which}: ${light.map(decimal).join(' ')}`;
        }));
    }
    const text = found.lines.flatMap((line, i) => out.get(i) || [line]).join('\n');
    if (text === found.lines.join('\n')) return 0;
    writeFileSync(found.file, text);
    return 1;
}

function check(found, misses) {
    if (found.at.length === 0) {
        if (found.diagnostics === 0) misses.push(`${found.file}: expects nothing`);
        return;
    }
    const frameAt = prepare(found.options);
    found.at.forEach((item, k) => {
        const frame = frameAt(seconds(item.text.split(' ')[0]));
        const place = `${found.file}:${item.line + 1}`;
        const { first, last, light } = readAt(item.text, frame.length);
        if (!light) throw new Error(`${place}: not filled in`);
        for (let pixel = first; pixel <= last; pixel++) {
            const got = frame[pixel];
            const far = light.some((c, i) => Math.abs(Math.fround(c) - got[i]) > found.tolerance);
            if (far) misses.push(`${place}: pixel ${pixel}: evaluator has ${got.map(decimal).join(' ')}`);
        }
        const row = found.rows[k];
        if (row && row.some((c, i) => decimal(c) !== decimal(light[i]))) {
            misses.push(`${place}: the table has ${row.map(decimal).join(' ')}`);
        }
    });
}

export function caseFiles() {
    const folders = readdirSync(FOLDER, { withFileTypes: true }).filter((entry) => entry.isDirectory());
    return folders.flatMap((folder) => readdirSync(FOLDER + folder.name)
        .filter((name) => name.endsWith('.gloam')).sort().map((name) => `${FOLDER}${folder.name}/${name}`));
}

function main() {
    const [mode, ...files] = process.argv.slice(2);
    if (mode !== '--write' && mode !== '--check') throw new Error('--write or --check');
    const misses = [];
    let written = 0;
    const all = files.length > 0 ? files : caseFiles();
    for (const file of all) {
        try {
            const found = readCase(file);
            if (mode === '--write') written += write(found);
            else check(found, misses);
        } catch (error) {
            misses.push(`${file}: ${error.message}`);
        }
    }
    const short = (text) => text.replace(FOLDER, '');
    process.stdout.write(misses.map((miss) => `${short(miss)}\n`).join(''));
    if (mode === '--write') process.stdout.write(`${written} of ${all.length} files written\n`);
    else process.stdout.write(`${all.length} cases, ${misses.length} misses\n`);
    process.exitCode = misses.length ? 1 : 0;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
