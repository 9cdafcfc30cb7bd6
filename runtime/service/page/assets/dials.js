// The dials of the file as controls.
import { Follow } from "/follow.js";
import { $, make, plain, sameFocus } from "/words.js";

// Linear light to the hex of a screen (IEC 61966-2-1).
function encode(light) {
  const c = Math.min(1, Math.max(0, light));
  return Math.round(255 * (c <= 0.0031308 ? 12.92 * c : 1.055 * c ** (1 / 2.4) - 0.055));
}
const hex = (light) => "#" + light.map((c) => encode(c).toString(16).padStart(2, "0")).join("");

const percent = (number) => Number((100 * number).toPrecision(4)) + "%";
const slides = (dial) => dial.type === "number" || dial.type === "duration";

function inWords(dial, number) {
  if (dial.type === "duration") return Number(number.toPrecision(3)) + "s";
  return dial.percent ? percent(number) : String(Number(number.toPrecision(4)));
}

// Where the file gives no bounds: from nothing to four times what is usual.
function bounds(dial) {
  const usual = Math.abs(Number(dial.default)) || 1;
  return [dial.from ?? Math.min(0, Number(dial.default) * 4 || 0), dial.to ?? Math.max(1, usual * 4)];
}

export class Dials {
  controls = new Map();
  show(dials, guest) {
    this.controls.clear();
    const used = dials.filter((dial) => dial.used);
    $("dials-title").hidden = !used.length;
    sameFocus($("dials"), () => $("dials").replaceChildren(...used.map((dial, i) => this.row(dial, `dial-${i}`))));
    for (const { input } of this.controls.values()) input.disabled = guest;
  }
  row(dial, id) {
    const label = make("label", { htmlFor: id }, dial.label || plain(dial.name));
    const figure = make("output", { htmlFor: id }), input = this.input(dial, id);
    const control = { dial, input, figure };
    control.follow = new Follow(() => `set ${dial.name} = ${this.value(control)}`, { kind: `set ${dial.name}`, again: () => this.take(this.state) });
    input.oninput = () => {
      this.words(control, this.figure(control));
      control.follow.moved();
    };
    this.controls.set(dial.name, control);
    const row = make("div", { className: "dial " + dial.type }, label, input, figure);
    if (slides(dial)) row.append(make("small", { ariaHidden: "true" }, ...bounds(dial).map((end) => make("span", { textContent: inWords(dial, end) }))));
    return row;
  }
  input(dial, id) {
    if (dial.type === "colour") return make("input", { id, type: "color" });
    if (dial.type === "truth") {
      const input = make("input", { id, type: "checkbox" });
      input.setAttribute("role", "switch");
      return input;
    }
    const [from, to] = bounds(dial);
    const whole = !dial.percent && dial.type === "number" && Number.isInteger(from) && Number.isInteger(to) && to - from >= 8;
    return make("input", { id, type: "range", min: from, max: to, step: whole ? 1 : (to - from) / 200 });
  }
  // As the language writes it.
  value({ dial, input }) {
    if (dial.type === "colour") return input.value;
    if (dial.type === "truth") return String(input.checked);
    const number = Number(input.value);
    if (dial.type === "duration") return Math.round(number * 1000) + "ms";
    return dial.percent ? percent(number) : String(Number(number.toPrecision(6)));
  }
  figure({ dial, input }) {
    if (dial.type === "colour") return input.value;
    if (dial.type === "truth") return input.checked ? "on" : "off";
    return inWords(dial, Number(input.value));
  }
  words({ dial, input, figure }, words) {
    figure.textContent = words;
    if (slides(dial)) input.ariaValueText = words;
  }
  take(state) {
    this.state = state;
    for (const told of state.dials) {
      const control = this.controls.get(told.name);
      if (!control || control.follow.ahead) continue;
      const { dial, input } = control;
      if (dial.type === "colour") input.value = hex(told.value);
      else if (dial.type === "truth") input.checked = told.value;
      else input.value = told.value;
      this.words(control, slides(dial) ? told.says : this.figure(control));
    }
  }
}
