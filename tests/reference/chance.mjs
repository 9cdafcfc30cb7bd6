// Chance is a hash of its arguments (meaning.md section 8). 64-bit arithmetic by BigInt.
const MASK = (1n << 64n) - 1n;
const view = new DataView(new ArrayBuffer(8));

function bits(x) {
    view.setFloat64(0, x === 0 ? 0 : x);
    return view.getBigUint64(0);
}

function mix(z) {
    z = ((z ^ (z >> 30n)) * 0xBF58476D1CE4E5B9n) & MASK;
    z = ((z ^ (z >> 27n)) * 0x94D049BB133111EBn) & MASK;
    return z ^ (z >> 31n);
}

export function hash(salt, values) {
    let h = BigInt(salt);
    for (const value of values) h = mix(((h ^ bits(value)) + 0x9E3779B97F4A7C15n) & MASK);
    return h;
}

export const unit = (salt, values) => Number(hash(salt, values) >> 40n) / 2 ** 24;
export const random = (...values) => unit(1, values);
export const drawIndex = (seed, count) => Math.floor(unit(2, [seed]) * count);

export function noise(...values) {
    const cells = values.map(Math.floor);
    const shares = values.map((value, i) => {
        const f = value - cells[i];
        return f * f * f * (f * (f * 6 - 15) + 10);
    });
    // Blend along the first argument, then the second, then the third.
    const corner = (offsets) => unit(3, cells.map((cell, i) => cell + offsets[i]));
    const along = (dimension, offsets) => {
        if (dimension < 0) return corner(offsets);
        const low = along(dimension - 1, [0, ...offsets]);
        const high = along(dimension - 1, [1, ...offsets]);
        return low + shares[dimension] * (high - low);
    };
    return along(values.length - 1, []);
}
