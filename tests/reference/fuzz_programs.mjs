#!/usr/bin/env node
// node fuzz_programs.mjs [--count N] [--seed S] [--gloam build/gloam] [--keep FOLDER]
// Random valid programs: the light of `gloam dump --values light` against the evaluator's.
// The same seed gives the same programs. Prints each program that differs, and how many were refused.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { prepare } from './evaluate.mjs';

const asked = { count: '200', seed: '1', gloam: 'build/gloam', keep: '' };
process.argv.slice(2).forEach((word, i, all) => {
    if (word.startsWith('--')) asked[word.slice(2)] = all[i + 1];
});

// Chances of the generator: its own small stream, so that a seed means the same everywhere.
function stream(seed) {
    let state = seed >>> 0;
    return () => {
        state = (state + 0x6D2B79F5) >>> 0;
        let z = state;
        z = Math.imul(z ^ (z >>> 15), z | 1);
        z ^= z + Math.imul(z ^ (z >>> 7), z | 61);
        return ((z ^ (z >>> 14)) >>> 0) / 2 ** 32;
    };
}

const EASINGS = ['ease', 'ease-in', 'ease-out', 'ease-in-out', 'step-start', 'step-end', 'steps(3)',
    'steps(4, jump-start)', 'steps(3, jump-none)', 'steps(5, jump-both)', 'cubic-bezier(0.3, -0.4, 0.6, 1.5)',
    'cubic-bezier(0.9, 0, 0.1, 1)', 'linear(0, 0.3 20% 60%, 1)', 'linear(0, 1.2, 0.9, 1)'];
// No temperatures: the table that the evaluator reads has six decimals.
const COLOURS = ['gold', 'coral', 'teal', 'navy', 'white', 'black', 'red', 'lime', 'blue', '#a01000', '#f80',
    'grey', 'tan', '#102040', 'rgb(20, 200, 90)', 'hsl(200deg, 60%, 40%)', 'hwb(30deg, 10%, 20%)',
    'oklab(60%, 0.1, -0.1)', 'oklch(70%, 0.15, 60deg)'];
const MODES = ['', '', '', 'plus-lighter', 'screen', 'multiply', 'lighten', 'darken'];

class Writer {
    constructor(seed) {
        this.chance = stream(seed);
        this.names = { n: [], d: [], a: [], b: [], c: [] };
        this.functions = [];
        this.routines = [];
        this.still = false; // inside a length: nothing that moves
        this.lasts = false;
    }

    below(n) { return Math.floor(this.chance() * n); }
    one(list) { return list[this.below(list.length)]; }
    might(p) { return this.chance() < p; }
    percent(low, high) { return `${low + this.below(high - low + 1)}%`; }

    literal(type) {
        switch (type) {
        case 'n': return this.one([this.percent(1, 150), `${1 + this.below(5)}`, `0.${1 + this.below(99)}`]);
        case 'd': return this.one([`${1 + this.below(9)}s`, `${100 + this.below(3000)}ms`, '1.5s', '0.7s']);
        case 'a': return this.one([`${this.below(360)}deg`, `0.${1 + this.below(9)}turn`]);
        case 'b': return this.might(0.5) ? 'true' : 'false';
        default: return this.one(COLOURS);
        }
    }

    leaf(type) {
        if (this.names[type].length > 0 && this.might(0.35)) {
            const name = this.one(this.names[type]);
            if (!this.still || !name.moves) return name.text;
        }
        if (type === 'n' && this.might(0.6)) {
            const still = ['pos', 'pos', '(pixel / pixels)', 'x', 'y', 'radius', 'z'];
            if (this.still) return this.one(still);
            return this.one([...still, `(t / ${this.literal('d')})`, `fract(t / ${this.literal('d')})`,
                `tick(${this.literal('d')})`, this.lasts ? 'progress' : 'pos']);
        }
        if (type === 'd' && !this.still && this.might(0.3)) return 't';
        if (type === 'a' && this.might(0.4)) return 'angle';
        return this.literal(type);
    }

    // Numbers that are exact in every implementation: arguments of the hash.
    seed() { return this.one(['pixel', 'pixel + 1', this.still ? '3' : `tick(${this.literal('d')})`, '7', 'floor(pos * 5)']); }

    expression(type, depth) {
        if (depth <= 0) return this.leaf(type);
        const deeper = (t) => this.expression(t, depth - 1 - this.below(2));
        const own = this.functions.filter((f) => f.type === type);
        if (own.length > 0 && !this.still && this.might(0.15)) {
            const f = this.one(own);
            return `${f.name}(${f.parameters.map((t) => deeper(t)).join(', ')})`;
        }
        if (this.might(0.1)) return `(if ${deeper('b')} then ${deeper(type)} else ${deeper(type)})`;
        if (this.might(0.08)) return `in_turn(${this.seed()}, ${deeper(type)}, ${deeper(type)}, ${deeper(type)})`;
        if (this.might(0.05)) return `draw(${this.seed()}, ${deeper(type)}, ${deeper(type)})`;
        if (!this.still && type !== 'b' && this.might(0.3)) return this.ramp(type, depth);
        if (!this.still && this.might(0.12)) return `(${deeper(type)} delayed ${deeper('d')})`;
        return this[type](deeper);
    }

    n(deeper) {
        const n = () => deeper('n');
        switch (this.below(15)) {
        case 0: return `(${n()} + ${n()})`;
        case 1: return `(${n()} - ${n()})`;
        case 2: return `(${n()} * ${this.literal('n')})`;
        case 3: return `(${n()} / ${this.literal('n')})`;
        case 4: return `${this.one(['abs', 'floor', 'ceil', 'round', 'fract'])}(${n()})`;
        case 5: return `${this.one(['min', 'max'])}(${n()}, ${n()})`;
        case 6: return `clamp(${n()}, ${n()}, ${n()})`;
        case 7: return `mod(${n()}, ${this.literal('n')})`;
        case 8: return `sqrt(abs(${n()}))`;
        case 9: return `pow(clamp(${n()}, 0, 2), ${this.literal('n')})`;
        case 10: return `${this.one(['sin', 'cos'])}(${deeper('a')})`;
        case 11: return `apart(${n()}, ${n()})`;
        case 12: return `random(${this.seed()}, ${this.seed()})`;
        case 13: return `noise(${[n(), n(), n()].slice(this.below(3)).join(', ')})`;
        default: return this.might(0.5) ? `ease(${n()}, ${this.one(EASINGS)})` : `(${deeper('d')} / ${this.literal('d')})`;
        }
    }

    d(deeper) {
        switch (this.below(5)) {
        case 0: return `(${deeper('d')} + ${deeper('d')})`;
        case 1: return `(${deeper('d')} - ${this.literal('d')})`;
        case 2: return `(pos * ${this.literal('d')})`;
        case 3: return `max(${deeper('d')}, ${this.literal('d')})`;
        default: return `(random(${this.seed()}) * ${this.literal('d')})`;
        }
    }

    a(deeper) {
        switch (this.below(4)) {
        case 0: return `(${deeper('a')} + ${deeper('a')})`;
        case 1: return `(${deeper('n')} * 1turn)`;
        case 2: return `atan2(${deeper('n')}, ${deeper('n')})`;
        default: return `(${deeper('a')} / ${this.literal('n')})`;
        }
    }

    b(deeper) {
        switch (this.below(6)) {
        case 0: return `(${deeper('n')} < ${deeper('n')})`;
        case 1: return `(${deeper('d')} >= ${deeper('d')})`;
        case 2: return `(${deeper('b')} and ${deeper('b')})`;
        case 3: return `(${deeper('b')} or not ${deeper('b')})`;
        case 4: return `(pixel == ${this.below(8)})`;
        default: return `(${deeper('n')} > ${this.literal('n')})`;
        }
    }

    c(deeper) {
        switch (this.below(9)) {
        case 0: return `(${deeper('c')} + ${deeper('c')})`;
        case 1: return `(${deeper('c')} - ${deeper('c')} * 30%)`;
        case 2: case 3: return `(${deeper('c')} * ${deeper('n')})`;
        case 4: return `(${deeper('c')} * ${deeper('c')})`;
        case 5: return `oklch(${this.percent(20, 90)}, 0.${1 + this.below(2)}, ${deeper('a')})`;
        case 6: return `hsl(${deeper('a')}, ${this.percent(10, 100)}, 0.2 + 0.2 * fract(${deeper('n')}))`;
        case 7: return `hwb(${deeper('a')}, 0.3 * fract(${deeper('n')}), ${this.percent(0, 60)})`;
        default: return `(${deeper('c')} / ${this.literal('n')})`;
        }
    }

    length(depth) {
        const before = this.still;
        this.still = true;
        const text = this.might(0.6) ? this.literal('d')
            : `(${this.literal('d')} + abs(${this.expression('n', Math.min(1, depth))}) * ${this.literal('d')})`;
        this.still = before;
        return text;
    }

    ramp(type, depth) {
        const bars = this.might(0.25);
        const end = this.one(bars ? ['', 'back'] : ['', 'back', 'round']);
        const kind = this.one(this.lasts ? ['over', 'every', 'for', 'along', 'along', 'throughout']
            : ['over', 'every', 'for', 'along', 'along']);
        const count = 2 + this.below(3);
        let place = this.below(30);
        const stops = [];
        for (let i = 0; i < count; i++) {
            let stop = this.expression(type, depth - 2);
            if (kind !== 'for' && this.might(0.3)) stop += ` at ${place}%`;
            place += this.below(25);
            if (!bars && (i > 0 || end === 'round') && this.might(0.15)) stop += ` ${this.one(EASINGS)}`;
            stops.push(stop);
        }
        let text = stops.join(bars ? ' | ' : ' -> ');
        if (end) text += ` and ${end}`;
        if (kind === 'throughout') text += ' throughout';
        else if (kind === 'along') text += ` along ${this.expression('n', depth - 1)}`;
        else text += ` ${kind} ${this.length(depth)}${kind === 'for' ? ' each' : ''}`;
        if (!bars && this.might(0.3)) text += ` ${this.one(EASINGS)}`;
        if (type === 'c' && !bars && this.might(0.5)) {
            text += ` in ${this.one(['oklab', 'srgb', 'srgb-linear', 'oklch', 'oklch longer hue',
                'oklch increasing hue', 'oklch decreasing hue', 'oklch shorter hue'])}`;
        }
        return `(${text})`;
    }

    let(name, depth) {
        const type = this.one(['n', 'd', 'a', 'b', 'c', 'c', 'n']);
        const text = `let ${name} = ${this.expression(type, depth)}`;
        this.names[type].push({ text: name, moves: true });
        return text;
    }

    ownFunction(name) {
        const type = this.one(['n', 'c', 'c']);
        const parameters = [this.one(['n', 'c', 'd']), type];
        const saved = this.names;
        this.names = Object.fromEntries(Object.entries(saved).map(([k, v]) => [k, [...v]]));
        this.names[parameters[0]].push({ text: 'first', moves: true });
        this.names[parameters[1]].push({ text: 'second', moves: true });
        const text = `let ${name}(first, second) = ${this.expression(type, 3)}`;
        this.names = saved;
        this.functions.push({ name, type, parameters });
        return text;
    }

    layer(depth) {
        let text = `    paint ${this.expression('c', depth)}`;
        if (this.routines.length > 0 && this.might(0.35)) {
            text = `    paint ${this.one(this.routines)}`;
            if (this.might(0.5)) text += ` delayed ${this.expression('d', 1)}`;
        }
        const mode = this.one(MODES);
        if (mode) text += ` blended ${mode}`;
        if (this.might(0.5)) text += ` where ${this.expression(this.one(['n', 'b']), depth - 1)}`;
        return text;
    }

    routine(name, last) {
        this.lasts = this.might(0.5);
        const saved = this.names;
        this.names = Object.fromEntries(Object.entries(saved).map(([k, v]) => [k, [...v]]));
        const lines = [`routine ${name}${this.lasts ? ` lasts ${4 + this.below(10)}s` : ''} {`];
        for (let i = this.below(3); i > 0; i--) lines.push(`    ${this.let(`${name}_${i}`, 3)}`);
        for (let i = 1 + this.below(last ? 4 : 2); i > 0; i--) lines.push(this.layer(last ? 5 : 3));
        lines.push('}');
        this.names = saved;
        this.lasts = false;
        this.routines.push(name);
        return lines.join('\n');
    }

    lamp() {
        // Primes: else many a pixel would lie right on the edge of a step or a bar, where the
        // last bit of a place decides.
        const prime = this.one([7, 11, 13]);
        const shape = this.one([`pixels ${prime} shape strip`, `pixels ${prime} shape ring`,
            `shape grid ${prime} by ${1 + this.below(2)}`, `shape grid 2 by ${prime} zigzag`, 'pixels 1 shape strip',
            'shape ball 1', 'shape ball 1 faces']);
        // The poles of a turned ball have a radius of 1 but for the last bit.
        const turned = this.might(0.2) && !shape.includes('ball') ? ` turned ${this.below(360)}deg` : '';
        return `lamp lantern { ${shape}${turned}${this.might(0.2) ? ' mirrored' : ''} }`;
    }

    file() {
        const lines = [this.lamp()];
        const set = [];
        for (let i = this.below(3); i > 0; i--) {
            const [type, value, other] = this.one([['n', '40%', '70%'], ['d', '2s', '3.5s'], ['c', 'coral', '#204080'],
                ['b', 'true', 'false']]);
            lines.push(`dial dial_${i} = ${value}`);
            this.names[type].push({ text: `dial_${i}`, moves: false });
            if (this.might(0.5)) set.push([`dial_${i}`, other]);
        }
        for (let i = this.below(3); i > 0; i--) lines.push(this.let(`top_${i}`, 3));
        for (let i = this.below(3); i > 0; i--) lines.push(this.ownFunction(`own_${i}`));
        const inner = this.below(3);
        for (let i = 0; i < inner; i++) lines.push(this.routine(`inner_${i}`, false));
        lines.push(this.routine('outer', true));
        return { text: `${lines.join('\n')}\n`, set, start: `${this.below(6)}.${100001 + this.below(899998)}s` };
    }
}

function dump(file, { set, start }) {
    const words = ['dump', '--values', 'light', '--routine', 'outer', '--lamp', 'lantern', '--fps', '1', '--length',
        '5s', '--start', start, ...set.flatMap(([name, value]) => ['--set', `${name}=${value}`]), file];
    return spawnSync(asked.gloam, words, { encoding: 'utf8', timeout: 20000, maxBuffer: 1 << 26 });
}

function differences(rows, frameAt) {
    const frames = new Map();
    const found = [];
    for (const row of rows) {
        const [, seconds, pixel, ...light] = row.split(',');
        const microseconds = Math.round(Number(seconds) * 1e6);
        if (!frames.has(microseconds)) frames.set(microseconds, frameAt(microseconds));
        const expected = frames.get(microseconds)[Number(pixel)];
        const got = light.map(Number);
        const largest = Math.max(1, ...expected.map(Math.abs));
        if (got.some((c, i) => !(Math.abs(c - expected[i]) <= 4e-6 * largest))) {
            found.push(`${seconds} s pixel ${pixel}: gloam ${got.join(' ')}, evaluator ${expected.join(' ')}`);
        }
    }
    return found;
}

function main() {
    const folder = asked.keep || mkdtempSync(join(tmpdir(), 'gloam-fuzz-'));
    const totals = { same: 0, varied: 0, refused: 0, differ: 0, broken: 0 };
    const reasons = new Map();
    for (let i = 0; i < Number(asked.count); i++) {
        const seed = Number(asked.seed) * 100000 + i;
        const program = new Writer(seed).file();
        const file = join(folder, `p${seed}.gloam`);
        writeFileSync(file, program.text);
        const result = dump(file, program);
        if (result.error && result.error.code === 'ENOENT') throw new Error(`no ${asked.gloam}: build it first`);
        if (result.status === 1) {
            totals.refused++;
            const reason = (/error: (.*)/.exec(result.stderr) || ['', 'no reason'])[1].replace(/`[^`]*`/g, '`..`');
            reasons.set(reason, (reasons.get(reason) || 0) + 1);
            continue;
        }
        if (result.status !== 0) {
            totals.broken++;
            process.stdout.write(`program ${seed}: ended with ${result.status ?? result.signal}\n${program.text}\n`);
            continue;
        }
        let found;
        try {
            const frameAt = prepare({ file, routine: 'outer', lamp: 'declared lantern', set: program.set });
            found = differences(result.stdout.trim().split('\n').slice(1), frameAt);
        } catch (error) {
            found = [`the evaluator says: ${error.message}`];
        }
        if (found.length === 0) {
            totals.same++;
            const lights = new Set(result.stdout.split('\n').slice(1).map((row) => row.split(',').slice(3).join()));
            if (lights.size > 3) totals.varied++;
        } else {
            totals.differ++;
            process.stdout.write(`program ${seed}, --start ${program.start} ${program.set.map((s) => s.join('='))}:\n` +
                `${program.text}  ${found.slice(0, 3).join('\n  ')}\n  ${found.length} pixels differ\n\n`);
        }
    }
    if (!asked.keep) rmSync(folder, { recursive: true });
    [...reasons].sort((a, b) => b[1] - a[1]).slice(0, 12)
        .forEach(([reason, count]) => process.stdout.write(`refused ${count}: ${reason}\n`));
    process.stdout.write(`${totals.same} the same (${totals.varied} with more than two lights), ${totals.differ} differ, ${totals.broken} broke, ${totals.refused} refused\n`);
    const failed = totals.differ + totals.broken + (totals.same * 4 < Number(asked.count) ? 1 : 0);
    process.stdout.write(`${totals.same} passed, ${failed} failed\n`);
    process.exitCode = failed ? 1 : 0;
}

main();
