// CSS Easing Functions Level 2, own implementation of its text (sections 2.1 to 2.3).
const KEYWORDS = {
    ease: [0.25, 0.1, 0.25, 1],
    'ease-in': [0.42, 0, 1, 1],
    'ease-out': [0, 0, 0.58, 1],
    'ease-in-out': [0.42, 0, 0.58, 1],
};

function bezierOutside(x, x1, y1, x2, y2) {
    if (x < 0) {
        if (x1 > 0) return x * (y1 / x1);
        if (x2 > 0) return x * (y2 / x2);
        return 0;
    }
    if (x2 < 1) return 1 + (x - 1) * ((1 - y2) / (1 - x2));
    if (x1 < 1) return 1 + (x - 1) * ((1 - y1) / (1 - x1));
    return 1;
}

function bernstein(s, a, b) {
    const r = 1 - s;
    return 3 * r * r * s * a + 3 * r * s * s * b + s * s * s;
}

export function cubicBezier(x, x1, y1, x2, y2) {
    if (x < 0 || x > 1) return bezierOutside(x, x1, y1, x2, y2);
    if (x === 0 || x === 1) return x;
    let low = 0;
    let high = 1;
    for (let i = 0; i < 80; i++) {
        const middle = (low + high) / 2;
        if (bernstein(middle, x1, x2) < x) low = middle;
        else high = middle;
    }
    return bernstein((low + high) / 2, y1, y2);
}

export function steps(x, count, position, before = false) {
    const from = { start: 'jump-start', end: 'jump-end' }[position] || position;
    let current = Math.floor(x * count);
    if (from === 'jump-start' || from === 'jump-both') current++;
    if (before && Number.isInteger(x * count)) current--;
    if (x >= 0 && current < 0) current = 0;
    const jumps = count + (from === 'jump-both' ? 1 : 0) - (from === 'jump-none' ? 1 : 0);
    if (x <= 1 && current > jumps) current = jumps;
    return current / jumps;
}

// The control points of linear(): section 2.1.2.
export function linearPoints(arguments_) {
    const points = [];
    let largest = -Infinity;
    arguments_.forEach(({ output, inputs }, i) => {
        const put = (input) => {
            if (input !== null) {
                largest = Math.max(input, largest);
                input = largest;
            }
            points.push({ input, output });
        };
        if (inputs.length > 0) inputs.forEach(put);
        else if (i === 0) put(0);
        else if (i === arguments_.length - 1) put(1);
        else put(null);
    });
    for (let i = 0; i < points.length; i++) {
        if (points[i].input !== null) continue;
        let end = i;
        while (points[end].input === null) end++;
        const from = points[i - 1].input;
        const step = (points[end].input - from) / (end - i + 1);
        for (let k = i; k < end; k++) points[k].input = from + step * (k - i + 1);
    }
    return points;
}

// Section 2.1.4.
export function linearAt(x, points) {
    if (points.length === 1) return points[0].output;
    let a = 0;
    for (let i = 0; i < points.length; i++) if (points[i].input <= x) a = i;
    if (a === points.length - 1) a--;
    const { input: x0, output: y0 } = points[a];
    const { input: x1, output: y1 } = points[a + 1];
    if (x0 === x1) return y1;
    return y0 + ((x - x0) / (x1 - x0)) * (y1 - y0);
}

export function easeAt(easing, x) {
    if (!easing) return x;
    const { name } = easing;
    if (KEYWORDS[name]) return cubicBezier(x, ...KEYWORDS[name]);
    switch (name) {
    case 'step-start': return steps(x, 1, 'jump-start');
    case 'step-end': return steps(x, 1, 'jump-end');
    case 'steps': return steps(x, easing.values[0], easing.position);
    case 'cubic-bezier': return cubicBezier(x, ...easing.values);
    case 'linear': return linearAt(x, linearPoints(easing.points));
    default: throw new Error(`no easing ${name}`);
    }
}
