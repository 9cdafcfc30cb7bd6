// A routine as a line of light: its frames one after another, mixed, while somebody can see them. A
// frame lasts half a second at least, so nothing flashes more than once in a second.
import { bytes, LATER } from "/talk.js";

const calm = matchMedia("(prefers-reduced-motion: reduce)");
const MOST = 120; // pixels of a band
const PAUSE = 2000; // then the lamp is asked again, where it may answer another time
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
    this.pause = PAUSE;
    canvas.band = this;
    bands.add(this);
    watcher.observe(canvas);
  }
  gone() {
    this.asked = true; // never again
    bands.delete(this);
    watcher.unobserve(this.canvas);
  }
  moves() { return !calm.matches && this.frames > 1; }
  async want() {
    if (this.asked) return;
    this.asked = true;
    try {
      this.take(await this.load());
    } catch (error) {
      if (!LATER.includes(error.status)) return;
      setTimeout(() => {
        if (!bands.has(this)) return;
        this.asked = false;
        if (this.seen) this.want();
      }, this.pause);
      this.pause = Math.min(this.pause * 2, 60000);
    }
  }
  take(light) {
    this.rgb = bytes(light.light);
    this.pixels = light.pixels;
    this.frames = light.still ? 1 : light.frames;
    this.count = Math.min(this.pixels, MOST);
    this.canvas.width = this.count;
    this.canvas.height = 1;
    this.context = this.canvas.getContext("2d");
    this.image = this.context.createImageData(this.count, 1);
    this.image.data.fill(255); // nothing shines through
    this.draw();
    tick();
  }
  // Who wants no movement sees the moment at two thirds.
  moment() {
    if (this.moves()) return (performance.now() / 500) % this.frames;
    return this.frames > 1 ? Math.floor(this.frames * 0.66) : 0;
  }
  draw() {
    if (!this.frames) return;
    const at = this.moment(), one = Math.floor(at) % this.frames, two = (one + 1) % this.frames, part = at - Math.floor(at);
    const { rgb, pixels, count, image } = this, size = 3 * pixels;
    for (let i = 0; i < count; i++) {
      const pixel = 3 * Math.floor((i * pixels) / count);
      for (let c = 0; c < 3; c++)
        image.data[4 * i + c] = rgb[one * size + pixel + c] * (1 - part) + rgb[two * size + pixel + c] * part;
    }
    this.context.putImageData(image, 0, 0);
  }
}
