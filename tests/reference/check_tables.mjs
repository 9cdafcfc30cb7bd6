#!/usr/bin/env node
// Checks the evaluator itself against the published tables of tests/data/light and npm colorjs.io.
import { readFileSync } from 'node:fs';
import Color from 'colorjs.io';
import * as colour from './colour.mjs';
import { cubicBezier, easeAt, steps } from './easing.mjs';
import { evaluate } from './interpreter.mjs';
import { layOut, parseShape } from './lamp.mjs';
import { parseExpression } from './parser.mjs';

let checks = 0;
let misses = 0;
function near(what, got, expected, tolerance) {
    checks++;
    if (Math.abs(got - expected) <= tolerance) return;
    misses++;
    process.stdout.write(`${what}: ${got} is not ${expected}\n`);
}

function table(name) {
    const text = readFileSync(new URL(`../data/light/${name}.csv`, import.meta.url), 'utf8');
    const lines = text.split('\n').filter((line) => line);
    while (lines[0].startsWith('#')) lines.shift();
    const split = (line) => [...line.matchAll(/("([^"]*)"|[^,]*)(?:,|$)/g)].map((m) => m[2] ?? m[1]);
    const header = split(lines[0]);
    return lines.slice(1).map((line) => {
        const cells = split(line);
        return Object.fromEntries(header.map((key, i) => [key, cells[i]]));
    });
}

const value = (text) => evaluate(parseExpression(text), { t: 0, lasts: null, place: {}, scene: {} }, null).v;
const encoded = (v) => (Math.abs(v) > 0.0031308
    ? Math.sign(v) * (1.055 * Math.abs(v) ** (1 / 2.4) - 0.055) : 12.92 * v);

for (const row of table('easing_cubic_bezier')) {
    const [x1, y1, x2, y2, x] = ['x1', 'y1', 'x2', 'y2', 'x'].map((key) => Number(row[key]));
    const loose = row.curve === 'cb(1,0,0,1)' && x === 0.5;
    near(`${row.curve} at ${x}`, cubicBezier(x, x1, y1, x2, y2), Number(row.exact), loose ? 1e-5 : 1e-8);
}
for (const row of table('easing_bezier_outside')) {
    if (row.curve === 'linear') continue;
    const text = row.curve.startsWith('cb') ? row.curve.replace('cb', 'cubic-bezier') : row.curve;
    near(`${row.curve} at ${row.x}`, value(`ease(${row.x}, ${text})`), Number(row.y), 1e-8);
}
for (const row of table('easing_steps')) {
    near(`steps(${row.steps}, ${row.position}) at ${row.x}`,
        steps(Number(row.x), Number(row.steps), row.position, row.before_flag === '1'), Number(row.y), 1e-9);
}
for (const row of table('easing_linear_fn')) {
    near(`${row.function} at ${row.x}`, value(`ease(${row.x}, ${row.function})`), Number(row.y), 1e-8);
}
const SPACES = { 'oklch shorter': ['oklch', 'shorter'], 'oklch longer': ['oklch', 'longer'] };
for (const row of table('colour_interpolation')) {
    const [space, path] = SPACES[row.space] || [row.space, 'shorter'];
    const got = colour.blend(colour.ofText(row.a), colour.ofText(row.b), Number(row.t), space, path);
    ['r', 'g', 'b'].forEach((c, i) =>
        near(`${row.space} ${row.a} ${row.b} ${row.t} ${c}`, encoded(got[i]), Number(row[`colorjs_${c}`]), 4e-6));
}
for (const row of table('css_colour_functions')) {
    if (/^#(.{4}|.{8})$/.test(row.css)) continue;
    const ours = row.css.replace(/^(hsl|hwb)\((\S+)/, '$1($2deg').replace(/^(oklch)\((\S+ \S+) (\S+)\)/, '$1($2 $3deg)')
        .replace(/ /g, ', ');
    const got = row.css.startsWith('#') ? colour.ofText(row.css) : value(ours);
    ['r', 'g', 'b'].forEach((c, i) => near(`${ours} ${c}`, encoded(got[i]), Number(row[`colorjs_${c}`]), 4e-6));
}
for (const row of table('css_named_colours')) {
    const got = value(row.name);
    [row.r, row.g, row.b].forEach((c, i) => near(`${row.name} ${i}`, encoded(got[i]), Number(c) / 255, 1e-6));
}
for (const row of table('geodesic_counts')) {
    near(`ball ${row.frequency}`, layOut(parseShape(`ball ${row.frequency}`)).length, Number(row.vertices), 0);
    near(`ball ${row.frequency} faces`, layOut(parseShape(`ball ${row.frequency} faces`)).length, Number(row.faces), 0);
}
// Hue paths that no table holds, from the second library.
for (const path of ['shorter', 'longer', 'increasing', 'decreasing']) {
    for (const [a, b] of [['gold', 'navy'], ['teal', 'coral'], ['white', 'coral'], ['#123456', '#654321']]) {
        const range = Color.range(new Color(a), new Color(b), { space: 'oklch', hue: path });
        for (const e of [0.2, 0.5, 0.9]) {
            const expected = range(e).to('srgb-linear').coords;
            const got = colour.blend(colour.ofText(a), colour.ofText(b), e, 'oklch', path);
            got.forEach((c, i) => near(`oklch ${path} ${a} ${b} ${e} ${i}`, c, expected[i], 2e-6));
        }
    }
}
process.stdout.write(`${checks - misses} of ${checks} checks hold\n`);
process.exitCode = misses ? 1 : 0;
