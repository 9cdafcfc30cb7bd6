// The first screen: what plays, and the few things one wants in the dark.
import { get, act, bytes, remove } from "/talk.js";
import { Light } from "/light.js";
import { Band } from "/band.js";
import { Dials } from "/dials.js";
import { Follow, kindOf, sayDone, takeBack } from "/follow.js";
import { $, make, plain, say, doing, clock, duration, sameFocus, setZone, setOffset } from "/words.js";

// Of `daybreak (by 03:10)` the name: why it plays is told above.
const short = (words) => plain(words).split(" (")[0];
const lengths = () => document.getElementsByName("for");
// The lamp holds 64 acts by hand at a time: with so many, what is drawn along is told in the end only.
const MANY = 24;

export class Now {
  constructor() {
    this.light = new Light($("light"));
    this.dials = new Dials();
    this.lights = {};
    this.bands = [];
    this.chosen = null;
    this.guest = false;
    $("more").onclick = () => this.do("more 15min" + this.on());
    $("skip").onclick = () => this.do("skip" + this.on());
    $("off").onclick = () => this.do("play off" + this.on() + this.howLong());
    $("trial-end").onclick = () => doing(async () => say((await remove("/trials")).said));
    this.wanted = this.length(); // of what one chose; a lamp may not have it
    for (const choice of lengths())
      choice.onchange = () => { this.wanted = this.length(); this.showActs(this.mine()); };
    $("until").onchange = () => this.showActs(this.mine());
    this.listenLevel();
  }
  // One act; what was done can be taken back at once, but what an event began ends by itself.
  async do(line) {
    const done = await doing(() => act(line));
    if (!done) return;
    if (line.startsWith("report")) say(done.said);
    else sayDone(done.said);
  }
  // What the button named, once, however often it is touched.
  async takeBack(what) {
    if (this.takes) return;
    this.takes = true;
    await doing(async () => say(await takeBack(kindOf(what), 1)));
    this.takes = false;
  }
  name() { return this.lamp ? this.lamp.name : null; }
  on() { return this.name() && this.home.lamps.length > 1 ? ` on lamp ${this.name()}` : ""; }
  length() { return [...lengths()].find((choice) => choice.checked).value; }
  time() { return $("until").value || "22:00"; }
  howLong() {
    const length = this.length();
    if (length === "until") return ` until ${this.time()}`;
    return length ? ` for ${length}` : "";
  }

  // -------- the file --------
  // One reading at a time, until it is that of the file that plays.
  async readHome() {
    for (;;) {
      const taken = this.state.taken, home = await doing(() => get("/home"));
      if (!home) return;
      if (taken !== this.state.taken) continue;
      this.taken = taken;
      this.takeHome(home);
      return;
    }
  }
  takeHome(home) {
    this.home = home;
    setZone(home.place ? home.place.zone : null);
    this.lamp = home.lamps.find((lamp) => lamp.name === this.chosen) || home.lamps[0];
    for (const { name, places } of home.lamps) {
      const light = this.lights[name || ""];
      if (light && light.length !== 3 * places.length) delete this.lights[name || ""];
    }
    this.showLamps();
    this.showEvents();
    this.dials.show(home.dials, this.guest);
    this.turnTo(this.lamp);
  }
  // The lamp was away: it may come back with another file, and count from one again.
  forget() { this.taken = null; }
  get stale() { return !this.home || this.state.taken !== this.taken; }
  turnTo(lamp) {
    this.follow.leave();
    this.lamp = lamp;
    this.chosen = lamp.name;
    this.light.shape(lamp);
    this.showLight();
    this.showRoutines();
    this.showState();
  }
  showLamps() {
    const many = this.home.lamps.length > 1;
    $("lamps").hidden = !many;
    sameFocus($("lamps"), () => $("lamps").replaceChildren(...(many ? this.home.lamps : []).map((lamp) => {
      const input = make("input", { type: "radio", name: "lamp", checked: lamp === this.lamp });
      input.dataset.key = lamp.name;
      input.onchange = () => this.turnTo(lamp);
      return make("label", {}, input, make("span", { textContent: plain(lamp.name) }));
    })));
  }
  showRoutines() {
    for (const band of this.bands) band.gone();
    this.bands = [];
    sameFocus($("routines"), () => $("routines").replaceChildren(...this.home.routines.map((routine) => make("li", {}, this.routine(routine)))));
  }
  routine({ name, lasts }) {
    const canvas = make("canvas", { ariaHidden: "true" }), lamp = this.name();
    const button = make("button", { type: "button", disabled: this.guest }, make("span", { textContent: plain(name) }), canvas,
      make("small", { textContent: lasts ? duration(lasts) : "" }));
    button.dataset.key = name;
    button.onclick = () => this.do(`play ${name}${this.on()}${this.howLong()}`);
    this.bands.push(new Band(canvas, () => get(`/routines/${encodeURIComponent(name)}/light`, lamp ? { lamp } : null)));
    return button;
  }
  showEvents() {
    const events = this.home.events;
    $("events").hidden = $("events-title").hidden = !events.length;
    sameFocus($("events"), () => $("events").replaceChildren(...events.map((event) => {
      const button = make("button", { type: "button", disabled: this.guest, textContent: event.label || plain(event.name) });
      button.dataset.key = event.name;
      button.onclick = () => this.do(`report ${event.name}`);
      return button;
    })));
  }

  // -------- the state --------
  async take(state) {
    this.state = state;
    setOffset(state.clock);
    if (this.stale) await (this.reading ||= this.readHome().finally(() => { this.reading = null; }));
    if (!this.home) return;
    this.showState();
    this.dials.take(this.state);
  }
  mine() {
    if (!this.state) return null;
    return this.state.lamps.find((lamp) => lamp.name === this.name()) || this.state.lamps[0];
  }
  showState() {
    const lamp = this.mine(), trial = this.state.trial, tried = trial && (!trial.lamp || trial.lamp === lamp.name);
    const plays = tried ? trial.routine : lamp.plays;
    $("playing").textContent = plain(plays);
    $("light").ariaLabel = `The light of ${plain(lamp.name) || "the lamp"} as it is: ${plain(plays)}`;
    $("why").textContent = tried ? "a trial" : this.why(lamp);
    $("next").textContent = lamp.next ? `then ${plain(lamp.next.plays)} at ${clock(lamp.next.at)} (${lamp.next.why})` : "";
    $("trial").hidden = !trial;
    if (trial) $("trial-words").textContent = `${plain(trial.routine)} is tried until ${clock(trial.until)}.`;
    for (const button of $("routines").querySelectorAll("button"))
      button.setAttribute("aria-current", String(button.dataset.key === plays));
    this.showNotes(lamp);
    this.showLevel(lamp);
    this.showActs(lamp);
    this.showHand();
  }
  why(lamp) {
    const cause = lamp.cause === "hand" ? "by hand" : lamp.why;
    return [lamp.held && "stands still", lamp.until && `until ${clock(lamp.until)}`, cause].filter(Boolean).join(" · ");
  }
  showNotes(lamp) {
    const port = ((this.state.player || {}).lamps || []).find((one) => one.lamp === (lamp.name || "")), notes = [];
    if (port && port.says) notes.push(`The lamp is not reached: ${port.says}.`);
    if (this.state.wrong) notes.push(`The file on the lamp is wrong, what played before goes on: ${this.state.wrong}`);
    if (!this.state.clock.trusted) notes.push("The clock of the lamp is not set yet.");
    if (this.guest) notes.push("You are a guest and may look.");
    $("notes").hidden = !notes.length;
    $("notes").textContent = notes.join(" ");
  }
  // What an act would be about stands below its name; what cannot be done is not offered.
  showActs(lamp) {
    if (!lamp || !this.home) return;
    const ends = Boolean(lamp.next), length = this.wanted || (ends ? "" : "1h");
    $("length-entry").hidden = !ends;
    for (const choice of lengths()) choice.checked = choice.value === length;
    $("until").hidden = length !== "until";
    $("off-words").textContent = length === "until" ? `until ${this.time()}` : length ? `for ${length.replace(/(\d)([a-z])/, "$1 $2")}` : "until the next";
    $("more-words").textContent = short(lamp.more) || "nothing to hold";
    $("skip-words").textContent = short(lamp.skip) || "nothing to skip";
    $("more").disabled = this.guest || !lamp.more;
    $("skip").disabled = this.guest || !lamp.skip;
    for (const id of ["off", "level", "level-less", "level-more"]) $(id).disabled = this.guest;
  }
  // Made anew only when it is another, so that a key that is about to be pressed finds its button. A
  // level that was drawn along was set many times: that is one line, which clears them all.
  showHand() {
    const { by_hand: list, undo } = this.state, shown = JSON.stringify([list, undo, this.guest]);
    if (shown === this.hand) return;
    this.hand = shown;
    const lines = [];
    for (const { what, number } of list) {
      const kind = kindOf(what), last = lines.at(-1);
      if (last && last.kind === kind && what.startsWith("level ")) { last.what = what; last.numbers.push(number); }
      else lines.push({ kind, what, numbers: [number] });
    }
    const line = (words, name, label, work) => {
      const button = make("button", { type: "button", className: "plain", textContent: name, ariaLabel: label, disabled: this.guest });
      button.dataset.key = label;
      button.onclick = work;
      return make("li", {}, make("span", { textContent: words }), button);
    };
    const rows = lines.map((one) => line(one.what, "Clear", `Clear: ${one.what}`, () => this.clear(one)));
    if (undo) rows.push(line(`Last: ${undo}`, "Take back", `Take back: ${undo}`, () => this.takeBack(undo)));
    $("hand-title").hidden = !rows.length;
    sameFocus($("hand"), () => $("hand").replaceChildren(...rows));
  }
  async clear({ kind, what, numbers }) {
    if (numbers.length === 1) return this.do(`clear ${numbers[0]}`);
    await doing(async () => {
      for (const number of numbers) await act(`clear ${number}`);
      sayDone(`cleared: ${what}`, `clear: ${kind}`, numbers.length);
    });
  }

  // -------- the level --------
  listenLevel() {
    const level = $("level"), often = () => this.state.by_hand.length < MANY;
    this.follow = new Follow(() => `level ${level.value}${this.on()}${this.howLong()}`, { often, again: () => this.showLevel(this.mine()) });
    level.oninput = () => {
      $("level-words").textContent = level.value;
      this.follow.moved();
    };
    const step = (by) => { level.value = Number(level.value) + by; level.oninput(); };
    $("level-less").onclick = () => step(-5);
    $("level-more").onclick = () => step(5);
  }
  showLevel(lamp) {
    if (this.follow.ahead) return;
    $("level").value = lamp.level.lightness;
    $("level-words").textContent = Math.round(lamp.level.lightness);
  }

  // -------- the light --------
  takeLight({ lamp, light }) {
    this.lights[lamp] = bytes(light);
    if (this.lamp && lamp === (this.name() || "")) this.showLight();
  }
  showLight() { this.light.show(this.lights[this.name() || ""] || null); }
}
