// Text to tokens (language rules T1 to T9). Every token: {type, text, line, column, value}.
export class GloamError extends Error {
    constructor(message, place) {
        super(place ? `${place.line}:${place.column}: ${message}` : message);
        this.place = place;
    }
}

const HYPHENATED = new Set(['ease-in', 'ease-out', 'ease-in-out', 'step-start', 'step-end',
    'cubic-bezier', 'srgb-linear', 'plus-lighter', 'jump-start', 'jump-end', 'jump-both',
    'jump-none']);

const RESERVED = new Set(['use', 'let', 'dial', 'routine', 'paint', 'lamp', 'if', 'then', 'else',
    'and', 'or', 'not', 'true', 'false', 'over', 'every', 'along', 'delayed', 'at', 'in', 'where',
    'blended', 'play', 'on', 'when', 'between']);

const UNIT_MICROSECONDS = { h: 3600000000n, min: 60000000n, s: 1000000n, ms: 1000n };
const UNIT_RANK = { h: 3, min: 2, s: 1, ms: 0 };

// A literal is its digits as a whole number, divided once by a power of ten.
export function numberOf(text) {
    const [whole, fraction = ''] = text.split('.');
    return Number(whole + fraction) / 10 ** fraction.length;
}

export function durationOf(text, place) {
    const part = /(\d+)(?:\.(\d+))?(h|min|ms|s)/y;
    let sum = 0n;
    let rank = 4;
    part.lastIndex = 0;
    while (part.lastIndex < text.length) {
        const found = part.exec(text);
        if (!found) throw new GloamError(`unknown unit in ${text}`, place);
        const [, whole, fraction = '', unit] = found;
        if (UNIT_RANK[unit] >= rank || (fraction && part.lastIndex < text.length)) {
            throw new GloamError(`duration ${text} is not written largest first`, place);
        }
        rank = UNIT_RANK[unit];
        const scaled = BigInt(whole + fraction) * UNIT_MICROSECONDS[unit];
        const scale = 10n ** BigInt(fraction.length);
        if (scaled % scale !== 0n) throw new GloamError(`${text} is not whole microseconds`, place);
        sum += scaled / scale;
    }
    return Number(sum);
}

const ANGLE_TURNS = {
    deg: (x) => x / 360, grad: (x) => x / 400, rad: (x) => x / (2 * Math.PI), turn: (x) => x,
};

const RULES = [
    ['space', /[ \t\r\n]+|\/\/[^\n]*/y],
    ['colour', /#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})(?![0-9A-Za-z_])/y],
    ['word', /[A-Za-z_][A-Za-z0-9_]*(?:-[A-Za-z_][A-Za-z0-9_]*)*/y],
    ['date', /\d{4}-\d{2}-\d{2}/y],
    ['time', /\d{1,2}:\d{2}(?::\d{2})?/y],
    ['percent', /\d+(?:\.\d+)?%/y],
    ['united', /\d+(?:\.\d+)?[A-Za-z_][A-Za-z0-9_.]*/y],
    ['number', /\d+(?:\.\d+)?/y],
    ['string', /"(?:[^"\\\n]|\\["\\])*"/y],
    ['mark', /->|\.\.|==|!=|<=|>=|[{}(),.=<>+\-*\/|]/y],
];

function unitedToken(token, text, place) {
    // "1h..": a range after a unit stops the unit at the dots.
    const letters = /^(\d+(?:\.\d+)?)([A-Za-z]+)$/.exec(text);
    if (letters) {
        const [, digits, unit] = letters;
        if (ANGLE_TURNS[unit]) return { ...token, type: 'angle', value: ANGLE_TURNS[unit](numberOf(digits)) };
        if (unit === 'K') return { ...token, type: 'kelvin', value: numberOf(digits) };
        if (unit === 'V' || unit === 'A' || unit === 'mA' || unit === 'kHz') {
            return { ...token, type: 'electric', value: numberOf(digits) };
        }
    }
    return { ...token, type: 'duration', value: durationOf(text, place) };
}

function tokenOf(kind, text, place) {
    const token = { type: kind, text, line: place.line, column: place.column };
    switch (kind) {
    case 'word':
        if (text.includes('-') && !HYPHENATED.has(text)) {
            throw new GloamError(`a minus sign glued into a name: ${text}`, place);
        }
        token.type = RESERVED.has(text) ? 'reserved' : 'name';
        return token;
    case 'number': return { ...token, value: numberOf(text) };
    case 'percent': return { ...token, value: numberOf(text.slice(0, -1)) / 100 };
    case 'time': {
        const [h, m, s = '0'] = text.split(':');
        if (h > 23 || m > 59 || s > 59) throw new GloamError(`no time of day: ${text}`, place);
        return { ...token, value: (h * 3600 + m * 60 + +s) / 3600 };
    }
    case 'string':
        return { ...token, value: text.slice(1, -1).replace(/\\(["\\])/g, '$1') };
    case 'united': return unitedToken(token, text, place);
    default: return token;
    }
}

export function tokenise(source) {
    const text = source.replace(/^\uFEFF/, '').replace(/^#![^\n]*/, '');
    const tokens = [];
    let at = 0;
    let line = 1;
    let lineStart = 0;
    while (at < text.length) {
        const place = { line, column: at - lineStart + 1 };
        let found = null;
        for (const [kind, rule] of RULES) {
            rule.lastIndex = at;
            const match = rule.exec(text);
            if (!match) continue;
            let piece = match[0];
            if (kind === 'united') piece = piece.replace(/\.(?!\d).*$/, '');
            found = { kind, piece };
            break;
        }
        if (!found) throw new GloamError(`unexpected character ${text[at]}`, place);
        if (found.kind !== 'space') tokens.push(tokenOf(found.kind, found.piece, place));
        for (let i = at; i < at + found.piece.length; i++) {
            if (text[i] === '\n') {
                line++;
                lineStart = i + 1;
            }
        }
        at += found.piece.length;
    }
    tokens.push({ type: 'end', text: '', line, column: at - lineStart + 1 });
    return tokens;
}
