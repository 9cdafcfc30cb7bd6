// Colours: linear light of the sRGB primaries as three single-precision numbers.
// Conversions by npm culori 4.0.2; check_tables.mjs compares them with npm colorjs.io 0.7.1.
import { readFileSync } from 'node:fs';
import { colorsNamed, converter, parse } from 'culori';

const toLinear = converter('lrgb');
const toOklab = converter('oklab');
const toEncoded = converter('rgb');
const { fround } = Math;

export const finite = (x) => (Number.isFinite(x) ? x : 0);
const single = (x) => fround(finite(x));
const triple = ({ r, g, b }) => [single(r), single(g), single(b)];
const within = (x, low, high) => Math.max(low, Math.min(high, x));

export const isNamed = (name) => Object.prototype.hasOwnProperty.call(colorsNamed, name);
export const ofText = (text) => triple(toLinear(parse(text)));
export const ofRgb = (r, g, b) => triple(toLinear({
    mode: 'rgb', r: within(r, 0, 255) / 255, g: within(g, 0, 255) / 255, b: within(b, 0, 255) / 255,
}));
const degrees = (turns) => (turns - Math.floor(turns)) * 360;
export const ofHsl = (h, s, l) => triple(toLinear({
    mode: 'hsl', h: degrees(h), s: within(s, 0, 1), l: within(l, 0, 1),
}));
export function ofHwb(h, w, b) {
    const white = within(w, 0, 1);
    const dark = within(b, 0, 1);
    if (white + dark >= 1) {
        const grey = white / (white + dark);
        return triple(toLinear({ mode: 'rgb', r: grey, g: grey, b: grey }));
    }
    return triple(toLinear({ mode: 'hwb', h: degrees(h), w: white, b: dark }));
}
export const ofOklab = (l, a, b) => triple(toLinear({ mode: 'oklab', l: within(l, 0, 1), a, b }));
export const ofOklch = (l, c, h) => triple(toLinear({
    mode: 'oklch', l: within(l, 0, 1), c: Math.max(0, c), h: degrees(h),
}));

let locus = null;
// Only the temperatures of the table (Planck's law, CIE 1931 observer; its source is named in it).
export function ofKelvin(temperature) {
    if (!locus) {
        const file = new URL('../data/light/blackbody_locus.csv', import.meta.url);
        const rows = readFileSync(file, 'utf8').split('\n').filter((row) => row && !row.startsWith('#'));
        const header = rows[0].split(',');
        const columns = ['lin_r', 'lin_g', 'lin_b'].map((name) => header.indexOf(name));
        locus = new Map(rows.slice(1).map((row) => {
            const cells = row.split(',');
            return [Number(cells[0]), columns.map((column) => Math.max(0, Number(cells[column])))];
        }));
    }
    const light = locus.get(temperature);
    if (!light) throw new Error(`${temperature}K is not a row of blackbody_locus.csv`);
    const largest = Math.max(...light);
    return light.map((channel) => single(channel / largest));
}

const lerp = (a, b, e) => a + e * (b - a);

// CSS Color 4 section 12.4, in degrees.
function hueEnd(a, b, path) {
    const difference = b - a;
    const apart = Math.abs(difference);
    // Equal but for rounding: 1e-6 turn.
    if (apart < 3.6e-4 || apart > 360 - 3.6e-4) {
        const near = difference > 180 ? [a + 360, b] : [a, difference < -180 ? b + 360 : b];
        return path === 'longer' ? [near[0], near[1] + 360] : near;
    }
    switch (path) {
    case 'longer':
        if (difference > 0 && difference < 180) return [a + 360, b];
        if (difference > -180 && difference <= 0) return [a, b + 360];
        return [a, b];
    case 'increasing': return difference < 0 ? [a, b + 360] : [a, b];
    case 'decreasing': return difference > 0 ? [a + 360, b] : [a, b];
    default:
        if (difference > 180) return [a + 360, b];
        if (difference < -180) return [a, b + 360];
        return [a, b];
    }
}

function polar({ l, a, b }) {
    const c = Math.hypot(a, b);
    const h = c <= 4e-6 ? null : ((Math.atan2(b, a) * 180) / Math.PI + 360) % 360;
    return { l, c, h };
}

function blendPolar(from, to, e, path) {
    const p = polar(from);
    const q = polar(to);
    const one = p.h ?? q.h ?? 0;
    const other = q.h ?? p.h ?? 0;
    const [h1, h2] = hueEnd(one, other, path);
    const hue = (lerp(h1, h2, e) * Math.PI) / 180;
    const c = lerp(p.c, q.c, e);
    return { mode: 'oklab', l: lerp(p.l, q.l, e), a: c * Math.cos(hue), b: c * Math.sin(hue) };
}

export function blend(from, to, e, space, path) {
    if (e === 0) return from;
    if (e === 1) return to;
    const light = ([r, g, b]) => ({ mode: 'lrgb', r, g, b });
    if (space === 'srgb-linear') return from.map((x, i) => single(lerp(x, to[i], e)));
    if (space === 'srgb') {
        const p = toEncoded(light(from));
        const q = toEncoded(light(to));
        return triple(toLinear({ mode: 'rgb', r: lerp(p.r, q.r, e), g: lerp(p.g, q.g, e), b: lerp(p.b, q.b, e) }));
    }
    const p = toOklab(light(from));
    const q = toOklab(light(to));
    if (space === 'oklch') return triple(toLinear(blendPolar(p, q, e, path)));
    if (space !== 'oklab') throw new Error(`no blend space ${space}`);
    return triple(toLinear({ mode: 'oklab', l: lerp(p.l, q.l, e), a: lerp(p.a, q.a, e), b: lerp(p.b, q.b, e) }));
}
