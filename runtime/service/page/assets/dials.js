// The dials of the file as controls.
import { make, plain, settled } from "/words.js";

const $dials = () => document.getElementById("dials");

// Linear light to the hex of a screen, and back (IEC 61966-2-1).
const encode = (c) => { c = Math.min(1, Math.max(0, c)); return Math.round(255 * (c <= 0.0031308 ? 12.92 * c : 1.055 * c ** (1 / 2.4) - 0.055)); };
export const hex = (light) => "#" + light.map((c) => encode(c).toString(16).padStart(2, "0")).join("");

export class Dials {
  constructor(send) {
    this.send = send;
    this.controls = new Map();
  }
  show(dials, state) {
    this.controls.clear();
    const used = dials.filter((dial) => dial.used);
    document.getElementById("dials-title").hidden = !used.length;
    $dials().replaceChildren(...used.map((dial, i) => this.row(dial, `dial-${i}`)));
    if (state) this.take(state);
  }
  row(dial, id) {
    const label = make("label", { htmlFor: id, textContent: dial.label || plain(dial.name) });
    const figure = make("output", { className: "figure" });
    figure.htmlFor = id;
    const input = this.input(dial, id);
    const control = { dial, input, figure, until: 0 };
    const tell = settled(200, () => this.send(`set ${dial.name} = ${this.value(control)}`));
    input.oninput = () => { control.until = Date.now() + 1500; this.words(control); tell(); };
    this.controls.set(dial.name, control);
    return make("div", { className: "dial" }, label, input, figure);
  }
  input(dial, id) {
    if (dial.type === "colour") return make("input", { id, type: "color" });
    if (dial.type === "truth") return make("input", { id, type: "checkbox" });
    const usual = Number(dial.default) || 1, from = dial.from ?? 0, to = dial.to ?? Math.max(1, usual * 4);
    const whole = !dial.percent && dial.type === "number" && Number.isInteger(from) && Number.isInteger(to) && to - from >= 8;
    return make("input", { id, type: "range", min: from, max: to, step: whole ? 1 : (to - from) / 200 });
  }
  // As the language writes it.
  value({ dial, input }) {
    if (dial.type === "colour") return input.value;
    if (dial.type === "truth") return String(input.checked);
    const number = Number(input.value);
    if (dial.type === "duration") return Math.round(number * 1000) + "ms";
    return dial.percent ? Number((100 * number).toPrecision(4)) + "%" : String(Number(number.toPrecision(6)));
  }
  words(control, says) {
    const { dial, input, figure } = control;
    if (dial.type === "colour") figure.textContent = input.value;
    else if (dial.type === "truth") figure.textContent = input.checked ? "on" : "off";
    else if (dial.type === "duration" && !says) figure.textContent = Number(Number(input.value).toPrecision(3)) + "s";
    else figure.textContent = says || this.value(control);
  }
  take(state) {
    for (const told of state.dials) {
      const control = this.controls.get(told.name);
      if (!control || Date.now() < control.until) continue;
      if (control.dial.type === "colour") control.input.value = hex(told.value);
      else if (control.dial.type === "truth") control.input.checked = told.value;
      else control.input.value = told.value;
      this.words(control, control.dial.type === "number" || control.dial.type === "duration" ? told.says : "");
    }
  }
}
