// The first screen: what plays, and the few things one wants in the dark.
import { get, act, bytes, remove } from "/talk.js";
import { Light, Band } from "/light.js";
import { Dials } from "/dials.js";
import { $, make, plain, say, doing, clock, duration, setZone, settled } from "/words.js";

export class Now {
  constructor() {
    this.light = new Light($("light"));
    this.dials = new Dials((line) => this.do(line));
    this.lights = {};
    this.chosen = null;
    this.bands = [];
    $("more").onclick = () => this.do("more 15min" + this.on());
    $("skip").onclick = () => this.do("skip" + this.on());
    $("off").onclick = () => this.do("play off" + this.on() + this.howLong());
    $("undo").onclick = () => this.do("undo", false);
    $("trial-end").onclick = () => doing(async () => say((await remove("/trials")).said));
    this.listenLevel();
    for (const choice of document.getElementsByName("for"))
      choice.onchange = () => { $("until").hidden = this.choice() !== "until"; };
  }
  async do(line, undo = true) {
    const done = await doing(() => act(line));
    if (done) say(done.said, undo);
  }
  choice() { return document.querySelector('input[name="for"]:checked').value; }
  howLong() {
    const choice = this.choice();
    if (choice === "until") return ` until ${$("until").value || "22:00"}`;
    return choice ? ` for ${choice}` : "";
  }
  on() { return this.name() && this.home.lamps.length > 1 ? ` on lamp ${this.name()}` : ""; }
  name() { return this.lamp ? this.lamp.name : null; }

  // -------- the file --------
  async readHome() {
    this.home = await get("/home");
    setZone(this.home.place && this.home.place.zone);
    const still = this.home.lamps.find((lamp) => lamp.name === this.chosen);
    this.lamp = still || this.home.lamps[0];
    this.showLamps();
    this.showRoutines();
    this.showEvents();
    this.dials.show(this.home.dials, this.state);
    this.light.shape(this.lamp);
    this.showLight();
  }
  showLamps() {
    const many = this.home.lamps.length > 1;
    $("lamps").hidden = !many;
    $("lamps").replaceChildren(...(many ? this.home.lamps : []).map((lamp) => {
      const input = make("input", { type: "radio", name: "lamp", checked: lamp === this.lamp });
      input.onchange = () => {
        this.lamp = lamp;
        this.chosen = lamp.name;
        this.light.shape(lamp);
        this.showLight();
        this.showState();
        this.showRoutines();
      };
      return make("label", {}, input, make("span", { textContent: plain(lamp.name) }));
    }));
  }
  showRoutines() {
    for (const band of this.bands) band.gone();
    this.bands = [];
    const lamp = this.name();
    $("routines").replaceChildren(...this.home.routines.map((routine) => {
      const canvas = make("canvas", { ariaHidden: "true" });
      const lasts = routine.lasts ? make("small", { textContent: duration(routine.lasts) }) : "";
      const button = make("button", { type: "button" }, make("span", { className: "name" }, plain(routine.name), lasts), canvas);
      button.dataset.routine = routine.name;
      button.onclick = () => this.do(`play ${routine.name}${this.on()}${this.howLong()}`);
      const path = `/routines/${encodeURIComponent(routine.name)}/light`;
      this.bands.push(new Band(canvas, () => get(path, lamp ? { lamp } : null)));
      return make("li", {}, button);
    }));
    this.markPlaying();
  }
  showEvents() {
    $("events").hidden = !this.home.events.length;
    $("events").replaceChildren(...this.home.events.map((event) => {
      const button = make("button", { type: "button", textContent: event.label || plain(event.name) });
      button.onclick = () => this.do(`report ${event.name}`, false);
      return button;
    }));
  }

  // -------- the state --------
  async take(state) {
    const first = !this.state || state.taken !== this.state.taken;
    this.state = state;
    if (first) await doing(() => this.readHome());
    if (!this.home) return;
    this.showState();
    this.dials.take(state);
  }
  mine() {
    return this.state.lamps.find((lamp) => lamp.name === this.name()) || this.state.lamps[0];
  }
  showState() {
    const lamp = this.mine(), trial = this.state.trial, tried = trial && (!trial.lamp || trial.lamp === lamp.name);
    $("playing").textContent = plain(tried ? trial.routine : lamp.plays);
    const until = lamp.until ? `until ${clock(lamp.until)}` : "";
    $("why").textContent = tried ? "a trial" : [lamp.held ? "held" : "", until, lamp.cause === "hand" ? "by hand" : lamp.why].filter(Boolean).join(" · ");
    $("next").textContent = lamp.next ? `then ${plain(lamp.next.plays)} at ${clock(lamp.next.at)} (${lamp.next.why})` : "";
    $("trial").hidden = !trial;
    if (trial) $("trial-words").textContent = `${plain(trial.routine)} is tried until ${clock(trial.until)}.`;
    $("more").disabled = lamp.more === null;
    $("skip").disabled = lamp.skip === null;
    $("undo").title = $("undo").ariaDescription = this.state.undo ? `takes back: ${this.state.undo}` : "";
    this.showNotes(lamp);
    this.showLevel(lamp);
    this.showHand();
    this.markPlaying();
  }
  showNotes(lamp) {
    const port = ((this.state.player || {}).lamps || []).find((one) => one.lamp === (lamp.name || ""));
    const notes = [];
    if (port && port.says) notes.push(port.says + ": the lamp is not reached.");
    if (this.state.wrong) notes.push("The file on the lamp has a mistake, what played before goes on: " + this.state.wrong);
    if (!this.state.clock.trusted) notes.push("The clock of the lamp is not set yet.");
    $("notes").hidden = !notes.length;
    $("notes").textContent = notes.join(" ");
  }
  // Made anew only when it is another, so that a key that is about to be pressed finds its button.
  showHand() {
    const list = this.state.by_hand, shown = JSON.stringify(list);
    if (shown === this.hand) return;
    const inside = $("hand").contains(document.activeElement);
    this.hand = shown;
    $("hand-title").hidden = !list.length;
    $("hand").replaceChildren(...list.map((one) => {
      const button = make("button", { type: "button", className: "quiet", textContent: "Clear", ariaLabel: `Clear: ${one.what}` });
      button.onclick = () => this.do(`clear ${one.number}`);
      return make("li", {}, one.what, button);
    }));
    if (inside) ($("hand").querySelector("button") || $("playing")).focus();
  }
  markPlaying() {
    if (!this.state || !this.home) return;
    const plays = this.mine().plays;
    for (const button of $("routines").querySelectorAll("button"))
      button.setAttribute("aria-current", String(button.dataset.routine === plays));
    $("off").setAttribute("aria-pressed", String(plays === "off"));
  }

  // -------- the level --------
  listenLevel() {
    const level = $("level");
    const tell = settled(250, () => this.do(`level ${level.value}${this.on()}${this.howLong()}`));
    const words = () => { $("level-words").textContent = level.value; this.holds = Date.now() + 1500; };
    level.oninput = () => { words(); tell(); };
    const step = (by) => { level.value = Number(level.value) + by; words(); tell(); };
    $("level-less").onclick = () => step(-5);
    $("level-more").onclick = () => step(5);
  }
  showLevel(lamp) {
    if (Date.now() < (this.holds || 0)) return;
    $("level").value = lamp.level.lightness;
    $("level-words").textContent = Math.round(lamp.level.lightness);
  }

  // -------- the light --------
  takeLight(event) {
    this.lights[event.lamp] = bytes(event.light);
    if (this.lamp && event.lamp === (this.name() || "")) this.showLight();
  }
  showLight() {
    this.light.show(this.lights[this.name() || ""] || null);
  }
}
