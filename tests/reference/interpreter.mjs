// The meaning of a tree at one pixel and one instant, by walking it: spec/meaning.md word by word.
// A value is {k, v}: k is n(umber), d(uration, microseconds), a(ngle, turns), b (truth), c(olour).
import { GloamError } from './lexer.mjs';
import * as chance from './chance.mjs';
import * as colour from './colour.mjs';
import { easeAt } from './easing.mjs';
import { cosine, sine } from './lamp.mjs';

const { fround } = Math;
const { finite } = colour;
const LARGEST = 2 ** 53;
const TURN = 2 * Math.PI;

const number = (v) => ({ k: 'n', v: finite(v) });
const truth = (v) => ({ k: 'b', v: v ? 1 : 0 });
const angle = (v) => ({ k: 'a', v: finite(v) });
const light = (v) => ({ k: 'c', v });

function halfToEven(x) {
    const low = Math.floor(x);
    const rest = x - low;
    if (rest !== 0.5) return rest < 0.5 ? low : low + 1;
    return low % 2 === 0 ? low : low + 1;
}

function duration(v) {
    const whole = halfToEven(finite(v));
    return { k: 'd', v: Math.max(-LARGEST, Math.min(LARGEST, whole)) };
}

const make = { n: number, d: duration, a: angle, b: truth };
const share = (x) => Math.max(0, Math.min(1, x));
const divide = (a, b) => (b === 0 ? 0 : finite(a / b));

export function modulo(a, b) {
    if (b === 0) return 0;
    let result = finite(a - b * Math.floor(a / b));
    if (result !== 0 && result > 0 !== b > 0) result += b;
    // Far out the product is too coarse: what lies outside is held at the end it passed.
    if (result !== 0 && result > 0 !== b > 0) return 0;
    if (Math.abs(result) < Math.abs(b)) return result;
    // Rounding gave b itself: the double next to it towards 0.
    const view = new DataView(new ArrayBuffer(8));
    view.setFloat64(0, b);
    view.setBigInt64(0, view.getBigInt64(0) - 1n);
    return view.getFloat64(0);
}

function scaled(c, factor) {
    const f = fround(factor);
    return light(c.v.map((x) => fround(finite(x * f))));
}

const CONSTANTS = {
    t: (context) => ({ k: 'd', v: context.t }),
    progress: (context) => number(progressOf(context)),
    hour: (context) => number(context.scene.hour),
    moonlit: (context) => number(context.scene.moonlit),
    moonage: (context) => number(context.scene.moonage),
    sunheight: (context) => angle(context.scene.sunheight),
    pixel: (context) => number(context.place.pixel),
    pixels: (context) => number(context.place.pixels),
    pos: (context) => number(context.place.pos),
    x: (context) => number(context.place.x),
    y: (context) => number(context.place.y),
    z: (context) => number(context.place.z),
    radius: (context) => number(context.place.radius),
    angle: (context) => angle(context.place.angle),
};

function progressOf(context) {
    if (context.lasts === null) throw new GloamError('this routine has no length');
    return share(divide(context.t, context.lasts));
}

function fail(node, message) { throw new GloamError(message, node.place); }

function want(node, value, kinds) {
    if (!kinds.includes(value.k)) fail(node, `this is of kind ${value.k}, not one of ${kinds}`);
    return value;
}

// ---- names ----
function lookUp(scope, name) {
    for (let s = scope; s; s = s.parent) if (s.names.has(name)) return s.names.get(name);
    return null;
}

function readName(node, context, scope) {
    const found = lookUp(scope, node.name);
    if (!found) {
        if (CONSTANTS[node.name]) return CONSTANTS[node.name](context);
        if (colour.isNamed(node.name)) return light(colour.ofText(node.name));
        return fail(node, `no name ${node.name}`);
    }
    if (found.type === 'dial') return found.value(context);
    if (found.type === 'let') return evaluate(found.value, context, found.scope);
    return fail(node, `${node.name} is no value`);
}

function callOwn(node, found, context, scope) {
    if (!found.parameters || found.parameters.length !== node.arguments.length) {
        fail(node, `${node.name} takes other arguments`);
    }
    const names = new Map(found.parameters.map((name, i) =>
        [name, { type: 'let', value: node.arguments[i], scope }]));
    return evaluate(found.value, context, { names, parent: found.scope });
}

// ---- operators ----
function binary(node, context, scope) {
    const a = evaluate(node.left, context, scope);
    const b = evaluate(node.right, context, scope);
    switch (node.operator) {
    case 'and': return truth(want(node, a, 'b').v && want(node, b, 'b').v);
    case 'or': return truth(want(node, a, 'b').v || want(node, b, 'b').v);
    case '+': return add(node, a, b, 1);
    case '-': return add(node, a, b, -1);
    case '*': return multiply(node, a, b);
    case '/': return quotient(node, a, b);
    default: return compare(node, a, b);
    }
}

function add(node, a, b, sign) {
    if (a.k !== b.k || a.k === 'b') fail(node, `cannot add ${a.k} and ${b.k}`);
    if (a.k === 'c') return light(a.v.map((x, i) => fround(finite(x + sign * b.v[i]))));
    return make[a.k](a.v + sign * b.v);
}

function multiply(node, a, b) {
    if (a.k === 'c' && b.k === 'c') return light(a.v.map((x, i) => fround(finite(x * b.v[i]))));
    if (a.k === 'c' && b.k === 'n') return scaled(a, b.v);
    if (a.k === 'n' && b.k === 'c') return scaled(b, a.v);
    if (a.k === 'n' && 'nda'.includes(b.k)) return make[b.k](a.v * b.v);
    if (b.k === 'n' && 'da'.includes(a.k)) return make[a.k](a.v * b.v);
    return fail(node, `cannot multiply ${a.k} and ${b.k}`);
}

function quotient(node, a, b) {
    if (b.k === 'n' && a.k === 'c') {
        const by = fround(b.v);
        return light(a.v.map((x) => (by === 0 ? 0 : fround(finite(x / by)))));
    }
    if (b.k === 'n' && 'nda'.includes(a.k)) return make[a.k](divide(a.v, b.v));
    if (a.k === b.k && 'da'.includes(a.k)) return number(divide(a.v, b.v));
    return fail(node, `cannot divide ${a.k} by ${b.k}`);
}

function compare(node, a, b) {
    if (a.k !== b.k || a.k === 'c') fail(node, `cannot compare ${a.k} and ${b.k}`);
    switch (node.operator) {
    case '==': return truth(a.v === b.v);
    case '!=': return truth(a.v !== b.v);
    case '<': return truth(a.v < b.v);
    case '<=': return truth(a.v <= b.v);
    case '>': return truth(a.v > b.v);
    default: return truth(a.v >= b.v);
    }
}

// ---- built-in functions ----
function sameKind(node, values) {
    for (const value of values) want(node, value, values[0].k);
    return make[values[0].k];
}

function plain(f) {
    return (node, values) => number(f(...values.map((value) => want(node, value, 'n').v)));
}

function kept(f) {
    return (node, values) => {
        values.forEach((value) => want(node, value, 'nda'));
        return sameKind(node, values)(f(...values.map((value) => value.v)));
    };
}

const ofAngle = (f) => (node, [value]) => number(f(want(node, value, 'a').v));

function apart(a, b) {
    const d = modulo(a - b, 1);
    return Math.min(d, 1 - d);
}

const seeds = (node, values) => values.map((value) => want(node, value, 'nb').v);

const FUNCTIONS = {
    abs: kept(Math.abs),
    min: kept(Math.min),
    max: kept(Math.max),
    clamp: kept((a, b, c) => Math.max(Math.min(a, b), Math.min(Math.max(a, b), c))),
    mod: kept(modulo),
    apart: kept(apart),
    floor: plain(Math.floor),
    ceil: plain(Math.ceil),
    round: plain(Math.round),
    fract: plain((x) => modulo(x, 1)),
    sqrt: plain((x) => (x < 0 ? 0 : Math.sqrt(x))),
    pow: plain((x, y) => (x < 0 ? 0 : x ** y)),
    sin: ofAngle(sine),
    cos: ofAngle(cosine),
    tan: ofAngle((turns) => sine(turns) / cosine(turns)),
    atan2: (node, [y, x]) => {
        const [a, b] = [want(node, y, 'n').v, want(node, x, 'n').v];
        if (a === 0 && b === 0) return angle(0);
        const turns = Math.atan2(a, b) / TURN;
        return angle(turns === -0.5 ? 0.5 : turns);
    },
    random: (node, values) => number(chance.random(...seeds(node, values))),
    noise: plain(chance.noise),
};

function oneOf(node, values, index) {
    const choices = values.slice(1);
    for (const choice of choices) want(node, choice, choices[0].k);
    return choices[index(want(node, values[0], 'nb').v, choices.length)];
}

// A literal with % counts to `full` where CSS says so; anything else is taken as it is.
function channel(node, i, full, context, scope) {
    const argument = node.arguments[i];
    const value = want(argument, evaluate(argument, context, scope), 'n').v;
    const negative = argument.type === 'negative';
    const literal = negative ? argument.of : argument;
    const percent = literal.type === 'literal' && literal.kind === 'percent';
    return percent ? value * full : value;
}

function colourCall(node, context, scope) {
    const arg = (i, full) => channel(node, i, full, context, scope);
    const hue = (i) => want(node, evaluate(node.arguments[i], context, scope), 'a').v;
    if (node.arguments.length !== 3) fail(node, `${node.name} takes 3 arguments`);
    switch (node.name) {
    case 'rgb': return light(colour.ofRgb(arg(0, 255), arg(1, 255), arg(2, 255)));
    case 'hsl': return light(colour.ofHsl(hue(0), arg(1, 1), arg(2, 1)));
    case 'hwb': return light(colour.ofHwb(hue(0), arg(1, 1), arg(2, 1)));
    case 'oklab': return light(colour.ofOklab(arg(0, 1), arg(1, 0.4), arg(2, 0.4)));
    default: return light(colour.ofOklch(arg(0, 1), arg(1, 0.4), hue(2)));
    }
}

function call(node, context, scope) {
    const found = lookUp(scope, node.name);
    if (found && found.parameters) return callOwn(node, found, context, scope);
    if (['rgb', 'hsl', 'hwb', 'oklab', 'oklch'].includes(node.name)) return colourCall(node, context, scope);
    if (node.name === 'within') return within(node, context);
    const values = node.arguments.map((argument) => evaluate(argument, context, scope));
    switch (node.name) {
    case 'tick': {
        const length = want(node, values[0], 'd').v;
        return number(length <= 0 ? 0 : Math.floor(context.t / length));
    }
    case 'in_turn': return oneOf(node, values, (i, n) => Math.floor(modulo(Math.floor(i), n)));
    case 'draw': return oneOf(node, values, chance.drawIndex);
    default:
        if (!FUNCTIONS[node.name]) fail(node, `no function ${node.name}`);
        return FUNCTIONS[node.name](node, values);
    }
}

function within(node, context) {
    const runs = context.scene.names.get(node.arguments[0].name) || [];
    const { pixel } = context.place;
    return truth(runs.some(([first, last]) => pixel >= first && pixel <= last));
}

// ---- ramps ----
function lengthOf(ramp, context, scope) {
    const { driver } = ramp;
    if (driver.kind === 'throughout') {
        if (context.lasts === null) fail(ramp, 'throughout needs a routine that lasts');
        return context.lasts;
    }
    const operand = evaluate(driver.operand, context, scope);
    if (driver.kind === 'along') return want(ramp, operand, 'n').v;
    const given = want(ramp, operand, 'd').v;
    if (driver.kind !== 'for') return given;
    const fades = ramp.end === 'round' ? ramp.stops.length : ramp.stops.length - 1;
    const way = given * (ramp.bars ? ramp.stops.length : fades);
    return duration(ramp.end === 'back' ? way * 2 : way).v;
}

// Where along the ramp: section 3.
function placeOf(ramp, length, context) {
    const { kind } = ramp.driver;
    let u = 0;
    if (kind === 'along') u = share(length);
    else if (kind === 'over' || kind === 'throughout') u = length <= 0 ? 1 : share(context.t / length);
    else u = length <= 0 ? 0 : modulo(context.t, length) / length;
    if (ramp.end !== 'back') return u;
    return u < 0.5 ? 2 * u : 2 - 2 * u;
}

function spread(places, end) {
    const full = end === null ? places : [...places, end];
    for (let i = 1; i < places.length; i++) {
        if (full[i] !== null) continue;
        let next = i;
        while (full[next] === null) next++;
        const from = full[i - 1];
        for (let k = i; k < next; k++) full[k] = from + ((full[next] - from) * (k - i + 1)) / (next - i + 1);
    }
    return full.slice(0, places.length);
}

// Section 4.
function stopPlaces(ramp, length, context, scope) {
    const way = ramp.end === 'back' ? length / 2 : length;
    const places = ramp.stops.map((stop) => {
        if (!stop.place) return null;
        const value = want(ramp, evaluate(stop.place, context, scope), 'nd');
        return value.k === 'd' ? divide(value.v, way) : value.v;
    });
    const last = places.length - 1;
    if (places[0] === null) places[0] = 0;
    if (!ramp.bars && places[last] === null) places[last] = ramp.end === 'round' ? last / (last + 1) : 1;
    let highest = -Infinity;
    places.forEach((place, i) => {
        if (place === null) return;
        highest = Math.max(highest, place);
        places[i] = highest;
    });
    return spread(places, ramp.bars ? Math.max(1, highest) : null);
}

function between(ramp, a, b, e) {
    if (e === 0) return a;
    if (e === 1) return b;
    if (a.k === 'c') return light(colour.blend(a.v, b.v, e, ramp.space, ramp.hue));
    return make[a.k](a.v + e * (b.v - a.v));
}

function rampAt(ramp, context, scope) {
    const length = lengthOf(ramp, context, scope);
    const p = placeOf(ramp, length, context);
    const places = stopPlaces(ramp, length, context, scope);
    const values = ramp.stops.map((stop) => evaluate(stop.value, context, scope));
    const easings = ramp.stops.map((stop) => stop.easing || ramp.easing);
    for (const value of values) {
        want(ramp, value, 'ndac');
        want(ramp, value, values[0].k);
    }
    if (ramp.end === 'round') {
        places.push(1);
        values.push(values[0]);
        easings.push(easings[0]);
    }
    if (p < places[0]) return values[0];
    let k = 0;
    for (let i = 0; i < places.length; i++) if (places[i] <= p) k = i;
    if (ramp.bars || p === places[k] || k === places.length - 1) return values[k];
    const f = (p - places[k]) / (places[k + 1] - places[k]);
    return between(ramp, values[k], values[k + 1], easeAt(easings[k + 1], f));
}

// ---- every expression ----
export function evaluate(node, context, scope) {
    switch (node.type) {
    case 'literal': return literal(node);
    case 'group': return evaluate(node.of, context, scope);
    case 'name': return readName(node, context, scope);
    case 'call': return call(node, context, scope);
    case 'binary': return binary(node, context, scope);
    case 'negative': {
        const value = want(node, evaluate(node.of, context, scope), 'nda');
        return make[value.k](-value.v);
    }
    case 'not': return truth(!want(node, evaluate(node.of, context, scope), 'b').v);
    case 'if': {
        const condition = want(node, evaluate(node.condition, context, scope), 'b').v;
        return evaluate(condition ? node.yes : node.no, context, scope);
    }
    case 'ease': return number(easeAt(node.easing, want(node, evaluate(node.of, context, scope), 'n').v));
    case 'delayed': return evaluate(node.of, delayedBy(node.by, context, scope), scope);
    case 'ramp': return rampAt(node, context, scope);
    default: return fail(node, `no expression of type ${node.type}`);
    }
}

function delayedBy(by, context, scope) {
    const delay = want(by, evaluate(by, context, scope), 'd').v;
    return { ...context, t: duration(context.t - delay).v };
}

function literal(node) {
    switch (node.kind) {
    case 'number': case 'percent': case 'time': return number(node.value);
    case 'duration': return { k: 'd', v: node.value };
    case 'angle': return angle(node.value);
    case 'truth': return truth(node.value);
    case 'kelvin': return light(colour.ofKelvin(node.value));
    default: return light(colour.ofText(node.text));
    }
}

// ---- layers: section 9 ----
const held = (x) => Math.max(0, Math.min(1, x));
const MODES = {
    '': (b, s) => s,
    'plus-lighter': (b, s) => b + s,
    screen: (b, s) => held(b) + held(s) - held(b) * held(s),
    multiply: (b, s) => held(b) * held(s),
    lighten: (b, s) => Math.max(held(b), held(s)),
    darken: (b, s) => Math.min(held(b), held(s)),
};

function blended(mode, below, source) {
    if (!MODES[mode]) throw new GloamError(`no blending ${mode}`);
    return below.map((b, i) => fround(finite(MODES[mode](b, source[i]))));
}

function mixed(p, q, e) {
    if (e === 0) return p;
    if (e === 1) return q;
    const w = fround(e);
    return p.map((x, i) => fround(finite(x + w * (q[i] - x))));
}

function shareOf(layer, context, scope) {
    if (!layer.where) return 1;
    return share(want(layer, evaluate(layer.where, context, scope), 'nb').v);
}

// A routine named as a layer, with its delay, or null.
function routineOf(node, scope) {
    const name = node.type === 'delayed' ? node.of : node;
    if (name.type !== 'name') return null;
    const found = lookUp(scope, name.name);
    if (!found || found.type !== 'routine') return null;
    return { routine: found, by: node.type === 'delayed' ? node.by : null };
}

// Walks the layers of a routine; `put(source, mode, w)` paints one.
function walk(routine, context, put) {
    const lasts = routine.lasts ? want(routine, evaluate(routine.lasts, context, routine.scope), 'd').v : null;
    const t = lasts === null ? context.t : Math.min(context.t, lasts);
    const inside = { ...context, t, lasts };
    const names = new Map();
    const scope = { names, parent: routine.scope };
    for (const item of routine.lets) names.set(item.name, { ...item, scope });
    for (const layer of routine.layers) {
        const w = shareOf(layer, inside, scope);
        const child = routineOf(layer.value, scope);
        if (!child) put(want(layer, evaluate(layer.value, inside, scope), 'c').v, layer.mode, w);
        else paintRoutine(layer, child, inside, scope, w, put);
    }
}

function paintRoutine(layer, child, context, scope, w, put) {
    const clock = child.by ? delayedBy(child.by, context, scope) : context;
    if (clock.t < 0) return;
    if (!layer.mode && !layer.where) {
        walk(child.routine, clock, put);
        return;
    }
    let sum = [0, 0, 0];
    let covered = 0;
    const uncovered = () => (covered === 0 ? [0, 0, 0] : sum.map((c) => fround(finite(c / covered))));
    walk(child.routine, clock, (source, mode, inner) => {
        const x = mixed(source, blended(mode, uncovered(), source), covered);
        sum = mixed(sum, x, inner);
        covered = fround(covered + fround(inner) * (1 - covered));
    });
    put(uncovered(), layer.mode, w * covered);
}

// The light of a routine: an array of [red, green, blue] for the places of a lamp.
export function render(routine, places, scene, microseconds) {
    return places.map((place) => {
        let below = [0, 0, 0];
        walk(routine, { t: microseconds, lasts: null, place, scene }, (source, mode, w) => {
            below = mixed(below, blended(mode, below, source), w);
        });
        return below;
    });
}

// ---- files ----
// `read(name)` gives the text of a used file; `set` the dials set from outside, as trees by name.
export function load(parse, name, read, set = new Map()) {
    const loaded = new Map();
    const defaults = new Map();
    const dialOf = (dial, scope, full) => {
        const fixed = { t: 0, lasts: null, place: {}, scene: { names: new Map() } };
        return {
            type: 'dial',
            value: () => {
                const own = set.has(full) ? set.get(full) : dial.value;
                const value = evaluate(own, fixed, scope);
                if (!dial.from) return value;
                const low = evaluate(dial.from, fixed, scope).v;
                const high = evaluate(dial.to, fixed, scope).v;
                return make[value.k](Math.max(low, Math.min(high, value.v)));
            },
        };
    };
    const folderOf = (file) => (file.includes('/') ? file.slice(0, file.lastIndexOf('/') + 1) : '');
    // Every file with the prefix of the way to it that has the fewest steps, plain ones first.
    const ways = new Map([[name, { prefix: '', tree: parse(read(name)) }]]);
    for (const [file, { prefix, tree }] of ways) {
        for (const use of [...tree.uses.filter((one) => !one.as), ...tree.uses.filter((one) => one.as)]) {
            const used = folderOf(file) + use.file;
            const longer = use.as ? `${prefix}${use.as}.` : prefix;
            if (!ways.has(used)) ways.set(used, { prefix: longer, tree: parse(read(used)) });
        }
    }
    const bring = (file) => {
        if (loaded.has(file)) return loaded.get(file);
        const { tree, prefix } = ways.get(file);
        const names = new Map();
        const own = new Map();
        const scope = { names, parent: null };
        const entry = { tree, names, own };
        loaded.set(file, entry);
        for (const use of tree.uses) {
            const used = bring(folderOf(file) + use.file);
            for (const [key, value] of used.own) names.set(use.as ? `${use.as}.${key}` : key, value);
        }
        const put = (key, value) => {
            names.set(key, value);
            own.set(key, value);
        };
        for (const item of tree.lets) put(item.name, { ...item, scope });
        for (const item of tree.routines) put(item.name, { ...item, scope });
        for (const item of tree.dials) put(item.name, dialOf(item, scope, prefix + item.name));
        return entry;
    };
    return { ...bring(name), defaults };
}
