// Prints the check table of chance (spec/meaning.md section 8), tests/data/chance/hash_values.csv:
//     node tests/reference/hash_values.mjs > tests/data/chance/hash_values.csv
// 64-bit arithmetic by BigInt. `bits` is the whole hash, `value` the number that it gives.
import { hash, noise, unit } from './chance.mjs';

const rows = [];
const numbers = [0, -0, 1, -1, 2, 3, 0.5, 1 / 3, -2.75, 59, 60, 1e-300, 5e-324, 1e17, 1.5e308,
    123456789.125, -7, 1000000];
const add = (salt, ...values) => rows.push([salt, ...values.map(text), ...empty(values),
    hash(salt, values), unit(salt, values)]);
const text = (x) => (Object.is(x, -0) ? '-0' : String(x));
const empty = (values) => Array(4 - values.length).fill('');

for (const salt of [1, 2, 3]) for (const x of numbers) add(salt, x);
for (let i = 0; i < 16; i++) {
    const at = (k) => numbers[(i * 5 + k * 7) % numbers.length];
    add(1, at(0), at(1));
    add(3, at(0), at(1), at(2));
    add(1, at(0), at(1), at(2), at(3));
}
add(1, 0, 1);
add(1, 1, 0);
for (let i = 0; i < 24; i++) {
    const at = (k) => (i * (k + 3) * 37 % 101 - 50) / [8, 7, 3][k];
    for (const count of [1, 2, 3]) {
        const values = [0, 1, 2].slice(0, count).map(at);
        rows.push(['noise', ...values.map(text), ...empty(values), '', noise(...values)]);
    }
}
console.log('# source: the formulas of spec/meaning.md, section 8');
console.log('# how computed: tests/reference/hash_values.mjs under node (BigInt); noise in IEEE double');
console.log('# salt 1 random, 2 draw, 3 corners of noise; rows `noise` are the smooth noise itself');
console.log('salt,a,b,c,d,bits,value');
for (const row of rows) console.log(row.join(','));
