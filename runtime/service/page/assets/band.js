// A routine as a line of light: its frames one after another, mixed, while somebody can see them. A
// frame lasts half a second at least, so nothing flashes more than once in a second.
import { bytes } from "/talk.js";

const calm = matchMedia("(prefers-reduced-motion: reduce)");
const MOST = 120; // pixels of a band
const bands = new Set();
let ticking = 0;

const watcher = new IntersectionObserver((entries) => {
  for (const { target, isIntersecting } of entries) {
    target.band.seen = isIntersecting;
    if (isIntersecting) target.band.want();
  }
  tick();
});

function tick() {
  if (ticking) return;
  ticking = setInterval(() => {
    const moving = document.hidden ? [] : [...bands].filter((band) => band.seen && band.moves());
    for (const band of moving) band.draw();
    if (!moving.length) { clearInterval(ticking); ticking = 0; }
  }, 66);
}
document.addEventListener("visibilitychange", tick);
calm.onchange = () => { for (const band of bands) band.draw(); tick(); };

export class Band {
  // load: gives Frames of the interface
  constructor(canvas, load) {
    this.canvas = canvas;
    this.load = load;
    this.seen = false;
    this.frames = 0;
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
      this.frames = light.still ? 1 : light.frames;
      this.draw();
      tick();
    } catch { this.asked = false; }
  }
  // Who wants no movement sees the moment at two thirds.
  moment() {
    if (this.moves()) return (performance.now() / 500) % this.frames;
    return this.frames > 1 ? Math.floor(this.frames * 0.66) : 0;
  }
  draw() {
    if (!this.frames) return;
    const at = this.moment(), one = Math.floor(at) % this.frames, two = (one + 1) % this.frames, part = at - Math.floor(at);
    const count = Math.min(this.pixels, MOST), size = 3 * this.pixels;
    if (this.canvas.width !== count || this.canvas.height !== 1) { this.canvas.width = count; this.canvas.height = 1; }
    const context = this.canvas.getContext("2d"), image = context.createImageData(count, 1);
    for (let i = 0; i < count; i++) {
      const pixel = 3 * Math.floor((i * this.pixels) / count);
      for (let c = 0; c < 3; c++)
        image.data[4 * i + c] = this.rgb[one * size + pixel + c] * (1 - part) + this.rgb[two * size + pixel + c] * part;
      image.data[4 * i + 3] = 255;
    }
    context.putImageData(image, 0, 0);
  }
}
