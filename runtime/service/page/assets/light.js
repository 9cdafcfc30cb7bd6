// Light on a canvas, in the lamp's own shape: pixels that glow on a dark ground.

const UNLIT = "rgb(150 125 100 / 26%)";
const TURNS = Math.PI * 2;
// A glow costs a gradient; lamps of more pixels than this shine without.
const GLOWING = 400;

export class Light {
  constructor(canvas) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d");
    this.places = [];
    this.spots = [];
    this.rgb = null;
    new ResizeObserver(() => this.lay()).observe(canvas);
  }
  // lamp: its shape, and the places of its pixels, [x, y, z] of -1..1, y upwards
  shape(lamp) {
    this.places = lamp.places;
    this.form = lamp.shape;
    this.lay();
  }
  show(rgb) {
    this.rgb = rgb;
    if (this.waits) return;
    this.waits = true;
    requestAnimationFrame(() => { this.waits = false; this.draw(); });
  }
  // What is the same in all frames: where the pixels are, and how they look without light.
  lay() {
    const ratio = Math.min(devicePixelRatio || 1, 2), canvas = this.canvas;
    const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
    this.spots = !width || !height ? [] : this.form === "strip" ? this.strip(width, height, ratio) : this.solid(width, height);
    this.dark = document.createElement("canvas");
    this.dark.width = width;
    this.dark.height = height;
    const context = this.dark.getContext("2d");
    for (const spot of this.spots) this.unlit(context, spot, ratio);
    this.draw();
  }
  draw() {
    const { context, canvas, spots } = this;
    context.globalCompositeOperation = "source-over";
    context.clearRect(0, 0, canvas.width, canvas.height);
    if (!spots.length) return;
    context.drawImage(this.dark, 0, 0);
    if (!this.rgb) return;
    context.globalCompositeOperation = "lighter";
    if (spots.length <= GLOWING) for (const spot of spots) this.glow(spot);
    context.globalCompositeOperation = "source-over"; // a pixel itself shows its own colour and no other
    for (const spot of spots) this.core(spot);
  }

  // -------- where: [{ i, x, y, size, reach }] --------
  strip(width, height, ratio) {
    const count = this.places.length, rows = Math.max(1, Math.ceil(count / 64)), each = Math.ceil(count / rows);
    const step = (width * 0.94) / each, gap = Math.min((height * 0.8) / rows, 40 * ratio);
    const size = Math.min(step * 0.4, gap * 0.4, 15 * ratio), reach = rows > 1 ? gap : height * 0.36;
    return this.places.map((_, i) => {
      const row = Math.floor(i / each);
      return { i, x: width * 0.03 + ((i % each) + 0.5) * step, y: height / 2 + (row - (rows - 1) / 2) * gap, size, reach };
    });
  }
  solid(width, height) {
    const half = Math.min(width, height) / 2, count = this.places.length, out = half * 0.7;
    let size = Math.min((half * 1.05) / Math.sqrt(count), half * 0.12);
    if (this.form === "ring") size = Math.min((Math.PI * out * 0.7) / count, half * 0.12);
    const spots = this.places.map(([x, y, z], i) => ({ i, x: width / 2 + x * out, y: height / 2 - y * out, z, size, reach: half - out }));
    if (this.form !== "ball") return spots;
    // of a ball what is turned to us; the rim is farther away and smaller
    return spots.filter((spot) => spot.z > -0.15).map((spot) => ({ ...spot, size: size * (0.7 + 0.3 * spot.z), reach: size * 3 }));
  }

  // -------- what --------
  unlit(context, { x, y, size }, ratio) {
    context.beginPath();
    context.arc(x, y, Math.max(size - ratio / 2, 0.5), 0, TURNS);
    context.lineWidth = ratio;
    context.strokeStyle = UNLIT;
    context.stroke();
  }
  // Red, green and blue of a spot as one number.
  colour({ i }) { return ((this.rgb[3 * i] << 16) | (this.rgb[3 * i + 1] << 8) | this.rgb[3 * i + 2]) >>> 0; }
  // Made anew where the colour is another.
  glow(spot) {
    const colour = this.colour(spot), { x, y, reach } = spot, r = colour >> 16, g = (colour >> 8) & 255, b = colour & 255;
    if (r + g + b < 6) return;
    if (spot.glows !== colour) {
      const near = this.form === "strip" ? 9 : 38, fall = this.context.createRadialGradient(x, y, 0, x, y, reach);
      fall.addColorStop(0, `rgb(${r} ${g} ${b} / ${near}%)`);
      fall.addColorStop(0.35, `rgb(${r} ${g} ${b} / ${near * 0.38}%)`);
      fall.addColorStop(1, `rgb(${r} ${g} ${b} / 0%)`);
      spot.glows = colour;
      spot.fall = fall;
    }
    this.context.fillStyle = spot.fall;
    this.context.fillRect(x - reach, y - reach, 2 * reach, 2 * reach);
  }
  core(spot) {
    const colour = this.colour(spot), { context } = this;
    if (!colour) return;
    context.beginPath();
    context.arc(spot.x, spot.y, Math.max(spot.size, 0.8), 0, TURNS);
    context.fillStyle = "#" + colour.toString(16).padStart(6, "0");
    context.fill();
  }
}
