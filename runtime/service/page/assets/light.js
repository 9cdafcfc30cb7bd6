// Light on a canvas, in the lamp's own shape: pixels as soft spots on black.

const css = (r, g, b) => `rgb(${r} ${g} ${b})`;

export class Light {
  constructor(canvas) {
    this.canvas = canvas;
    this.places = [];
    this.rgb = null;
    new ResizeObserver(() => this.draw()).observe(canvas);
  }
  // places: [x, y, z] of each pixel, -1..1, y upwards
  shape(lamp) {
    this.places = lamp.places;
    this.form = lamp.shape;
    this.draw();
  }
  show(rgb) {
    this.rgb = rgb;
    if (!this.waits) {
      this.waits = true;
      requestAnimationFrame(() => { this.waits = false; this.draw(); });
    }
  }
  size() {
    const ratio = devicePixelRatio || 1, canvas = this.canvas;
    const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
    return [width, height, ratio];
  }
  draw() {
    const [width, height, ratio] = this.size(), context = this.canvas.getContext("2d");
    context.clearRect(0, 0, width, height);
    if (!this.places.length || !width) return;
    if (this.form === "strip") this.drawStrip(context, width, height, ratio);
    else this.drawSpots(context, width, height);
  }
  drawStrip(context, width, height, ratio) {
    const count = this.places.length, rows = Math.max(1, Math.ceil(count / 60)), each = Math.ceil(count / rows);
    const step = (width * 0.96) / each, size = Math.min(step * 0.86, (height / rows) * 0.6, 44 * ratio);
    const gap = Math.min(height / rows, step * 1.4 + 8 * ratio);
    for (let i = 0; i < count; i++) {
      const row = Math.floor(i / each), x = width * 0.02 + ((i % each) + 0.5) * step;
      this.spot(context, i, x, height / 2 + (row - (rows - 1) / 2) * gap, size / 2);
    }
  }
  drawSpots(context, width, height) {
    const half = Math.min(width, height) / 2, count = this.places.length;
    const order = this.places.map((place, i) => i).sort((a, b) => this.places[a][2] - this.places[b][2]);
    let size = (half * 1.7) / Math.sqrt(count) / 1.6;
    if (this.form === "ring") size = Math.min((Math.PI * half * 0.8) / count, half * 0.16);
    for (const i of order) {
      const [x, y, z] = this.places[i];
      if (this.form === "ball" && z < -0.15) continue;
      this.spot(context, i, width / 2 + x * half * 0.8, height / 2 - y * half * 0.8, Math.max(size * 0.8, 1.5));
    }
  }
  spot(context, i, x, y, size) {
    const rgb = this.rgb, r = rgb ? rgb[3 * i] : 0, g = rgb ? rgb[3 * i + 1] : 0, b = rgb ? rgb[3 * i + 2] : 0;
    context.beginPath();
    context.arc(x, y, size, 0, 2 * Math.PI);
    context.fillStyle = "#000";
    context.fill();
    if (r + g + b > 6) {
      const glow = context.createRadialGradient(x, y, size * 0.4, x, y, size * 2.2);
      glow.addColorStop(0, `rgb(${r} ${g} ${b} / 45%)`);
      glow.addColorStop(1, `rgb(${r} ${g} ${b} / 0%)`);
      context.fillStyle = glow;
      context.fillRect(x - size * 2.2, y - size * 2.2, size * 4.4, size * 4.4);
    }
    context.beginPath();
    context.arc(x, y, size, 0, 2 * Math.PI);
    context.fillStyle = css(r, g, b);
    context.fill();
    context.lineWidth = 1;
    context.strokeStyle = "rgb(128 110 90 / 45%)";
    context.stroke();
  }
}

// A routine as a band: its frames one after another, mixed, while somebody can see them. A frame
// lasts half a second at least, so a band never flashes.
const bands = new Set();
const calm = matchMedia("(prefers-reduced-motion: reduce)");
let ticking = 0;

const watcher = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    entry.target.band.seen = entry.isIntersecting;
    if (entry.isIntersecting) entry.target.band.want();
  }
  tick();
});

function tick() {
  if (ticking) return;
  ticking = setInterval(() => {
    let any = false;
    for (const band of bands) if (band.seen && band.frames && !document.hidden) { band.draw(); any = any || band.moves(); }
    if (!any) { clearInterval(ticking); ticking = 0; }
  }, 66);
}
document.addEventListener("visibilitychange", tick);

export class Band {
  constructor(canvas, load) {
    this.canvas = canvas;
    this.load = load;
    this.seen = false;
    canvas.band = this;
    bands.add(this);
    watcher.observe(canvas);
  }
  gone() {
    bands.delete(this);
    watcher.unobserve(this.canvas);
  }
  moves() { return !calm.matches && this.frames > 1; }
  async want() {
    if (this.asked) return;
    this.asked = true;
    try {
      const light = await this.load();
      this.rgb = bytes(light.light);
      this.pixels = light.pixels;
      this.frames = light.frames;
      this.draw();
      tick();
    } catch { this.asked = false; }
  }
  draw() {
    const context = this.canvas.getContext("2d"), count = Math.min(this.pixels, 120);
    const at = this.moves() ? (performance.now() / 500) % this.frames : this.frames > 1 ? this.frames * 0.6 : 0;
    const one = Math.floor(at) % this.frames, two = (one + 1) % this.frames, part = at - Math.floor(at);
    if (this.canvas.width !== count) { this.canvas.width = count; this.canvas.height = 1; }
    const image = context.createImageData(count, 1);
    for (let i = 0; i < count; i++) {
      const pixel = Math.floor((i * this.pixels) / count), size = 3 * this.pixels;
      for (let c = 0; c < 3; c++)
        image.data[4 * i + c] = this.rgb[one * size + 3 * pixel + c] * (1 - part) + this.rgb[two * size + 3 * pixel + c] * part;
      image.data[4 * i + 3] = 255;
    }
    context.putImageData(image, 0, 0);
  }
}
import { bytes } from "/talk.js";
