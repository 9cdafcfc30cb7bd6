// Where the pixels sit (meaning.md section 10). A lamp: {pixels, shape, turned, mirrored, names}.
const TURN = 2 * Math.PI;

// Sine of a number of turns; at quarter turns exact.
export function sine(turns) {
    const whole = turns - Math.floor(turns);
    const quarter = Math.floor(whole * 4 + 0.5);
    const rest = (whole - quarter / 4) * TURN;
    return [Math.sin(rest), Math.cos(rest), -Math.sin(rest), -Math.cos(rest)][quarter % 4];
}

export const cosine = (turns) => sine(0.25 - Math.abs(turns - Math.floor(turns)));

function icosahedron() {
    const y = 1 / Math.sqrt(5);
    const r = 2 / Math.sqrt(5);
    // Clockwise seen from above, from the front: front (z = 1), left, back, right.
    const around = (k, height) => [-r * Math.sin((k * TURN) / 10), height, r * Math.cos((k * TURN) / 10)];
    const upper = [0, 2, 4, 6, 8].map((k) => around(k, y));
    const lower = [1, 3, 5, 7, 9].map((k) => around(k, -y));
    const faces = [];
    for (let k = 0; k < 5; k++) {
        const m = (k + 1) % 5;
        faces.push([[0, 1, 0], upper[k], upper[m]], [[0, -1, 0], lower[k], lower[m]]);
        faces.push([upper[k], upper[m], lower[k]], [lower[k], lower[m], upper[m]]);
    }
    return faces;
}

function pushed(point) {
    const length = Math.hypot(...point);
    return point.map((c) => c / length);
}

function fromTheTop(points) {
    const azimuth = ([x, , z]) => {
        const turns = Math.atan2(-x, z) / TURN;
        const positive = turns < -1e-9 ? turns + 1 : Math.abs(turns);
        return positive > 1 - 1e-9 ? 0 : positive;
    };
    return points.sort((a, b) => (Math.abs(a[1] - b[1]) > 1e-9 ? b[1] - a[1] : azimuth(a) - azimuth(b)));
}

function ball(frequency, centres) {
    const found = [];
    const seen = new Set();
    const put = (point) => {
        const key = point.map((c) => Math.round(c * 1e7) || 0).join();
        if (!seen.has(key)) found.push(point);
        seen.add(key);
    };
    for (const [a, b, c] of icosahedron()) {
        const vertex = (i, j) => pushed(a.map((_, d) =>
            a[d] + ((b[d] - a[d]) * i) / frequency + ((c[d] - a[d]) * j) / frequency));
        const centre = (...three) => pushed(three[0].map((_, d) => three[0][d] + three[1][d] + three[2][d]));
        for (let i = 0; i <= frequency; i++) {
            for (let j = 0; i + j <= frequency; j++) {
                if (!centres) put(vertex(i, j));
                else if (i + j < frequency) {
                    put(centre(vertex(i, j), vertex(i + 1, j), vertex(i, j + 1)));
                    if (i + j + 1 < frequency) {
                        put(centre(vertex(i + 1, j), vertex(i, j + 1), vertex(i + 1, j + 1)));
                    }
                }
            }
        }
    }
    return fromTheTop(found);
}

// Points of a file (lines of x,y or x,y,z; a first line of words is passed over), in its own units.
export function readPoints(text) {
    const rows = text.split('\n').map((row) => row.trim()).filter((row) => /^[-\d]/.test(row));
    return rows.map((row) => {
        const [x, y, z = 0] = row.split(',').map(Number);
        return [x, y, z];
    });
}

function fitted(points) {
    const box = [0, 1, 2].map((d) => [Math.min(...points.map((p) => p[d])), Math.max(...points.map((p) => p[d]))]);
    const half = Math.max(...box.map(([low, high]) => high - low)) / 2 || 1;
    return points.map((p) => p.map((c, d) => (c - (box[d][0] + box[d][1]) / 2) / half));
}

function places(shape, pixels) {
    const all = [];
    switch (shape.kind) {
    case 'strip':
        for (let i = 0; i < pixels; i++) all.push([(2 * i + 1 - pixels) / pixels, 0, 0]);
        return all;
    case 'ring':
        for (let i = 0; i < pixels; i++) {
            all.push([sine(i / pixels), cosine(i / pixels), 0]);
        }
        return all;
    case 'grid': {
        const { width, height, zigzag } = shape;
        const s = Math.max(width, height);
        for (let row = 0; row < height; row++) {
            for (let i = 0; i < width; i++) {
                const column = zigzag && row % 2 === 1 ? width - 1 - i : i;
                all.push([(2 * column + 1 - width) / s, (2 * row + 1 - height) / s, 0]);
            }
        }
        return all;
    }
    case 'ball': return ball(shape.frequency, shape.faces);
    case 'points': return fitted(shape.places);
    default: throw new Error(`the evaluator has no shape ${shape.kind}`);
    }
}

export function parseShape(text) {
    const words = text.trim().split(/\s+/);
    const shape = { kind: words[0] };
    if (shape.kind === 'grid') {
        Object.assign(shape, { width: Number(words[1]), height: Number(words[3]), zigzag: words[4] === 'zigzag' });
        return { shape, pixels: shape.width * shape.height };
    }
    if (shape.kind === 'ball') {
        Object.assign(shape, { frequency: Number(words[1]), faces: words[2] === 'faces' });
        return { shape, pixels: (shape.faces ? 20 : 10) * shape.frequency ** 2 + (shape.faces ? 0 : 2) };
    }
    return { shape, pixels: Number(words[1] || 0) };
}

export function layOut(lamp) {
    const shape = lamp.shape || { kind: 'strip' };
    let pixels = lamp.pixels;
    if (shape.kind === 'grid') pixels = shape.width * shape.height;
    const turned = lamp.turned || 0;
    const near = (c) => (Math.abs(c) < 2 ** -48 ? 0 : c);
    const list = places(shape, pixels).map(([px, y, z]) => {
        const x = lamp.mirrored ? -px : px;
        if (!turned || shape.kind === 'ring') return [near(x), near(y), z];
        return [near(x * cosine(turned) + y * sine(turned)),
            near(y * cosine(turned) - x * sine(turned)), z];
    });
    return list.map(([px, py, z], pixel) => {
        let [x, y] = [px, py];
        let turns = x === 0 && y === 0 ? 0 : Math.atan2(x, y) / TURN;
        if (shape.kind === 'ring') {
            turns = ((lamp.mirrored ? -pixel : pixel) / pixels) + turned;
            [x, y] = [sine(turns), cosine(turns)];
        }
        return {
            pixel, pixels: list.length, pos: (pixel + 0.5) / list.length, x, y, z,
            radius: shape.kind === 'ring' ? 1 : Math.sqrt(x * x + y * y), angle: turns - Math.floor(turns),
        };
    });
}
