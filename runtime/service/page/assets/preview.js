// A draft in the lamp's shape: any moment of it, or as it moves. What is sent has gone through the
// flash guard, however fast it is played.
import { get, bytes } from "/talk.js";
import { Light } from "/light.js";
import { $, make, plain, doing, steady } from "/words.js";

const CALM = 60; // seconds to look at of a routine that has no end

export class Preview {
  // gone(): the lamp holds the draft no longer
  constructor(gone) {
    this.gone = gone;
    this.light = new Light($("draft-light"));
    this.asked = 0; // pictures; one that was asked for later counts alone
    this.seek = steady(150, () => doing(() => this.frame()));
    $("draft-play").onclick = () => (this.playing ? this.stop() : this.play());
    $("draft-time").oninput = () => { this.stop(); this.words(); this.seek(); };
    for (const id of ["draft-routine", "draft-lamp", "draft-speed"]) $(id).onchange = () => this.chosen();
    this.words();
  }
  get routine() { return $("draft-routine").value; }
  get lamp() { return $("draft-lamp").value; }

  // answer: a Draft that is right; usual: the routine to look at first
  offer(answer, usual) {
    const choose = (select, names, first) => {
      const before = select.value;
      select.replaceChildren(...names.map((name) => make("option", { value: name, textContent: plain(name) || "the lamp" })));
      select.value = names.includes(before) ? before : first;
    };
    this.draft = answer.draft;
    this.routines = answer.routines;
    this.lamps = answer.lamps;
    $("tryout").hidden = !answer.routines.length;
    if (!answer.routines.length) return this.stop();
    choose($("draft-routine"), answer.routines.map((routine) => routine.name), usual);
    choose($("draft-lamp"), answer.lamps.map((lamp) => lamp.name || ""), answer.lamps[0].name || "");
    $("draft-lamp").parentElement.hidden = answer.lamps.length < 2;
    this.chosen();
  }
  // The same text under another name: what moves goes on.
  renew(draft) { this.draft = draft; }
  // A routine that has an end is looked at in its middle first: many begin in the dark.
  chosen() {
    const routine = this.routines.find((one) => one.name === this.routine), time = $("draft-time");
    this.light.shape(this.lamps.find((one) => (one.name || "") === this.lamp));
    time.max = routine.lasts || CALM;
    time.step = time.max / 600;
    if (this.shown !== this.routine && !this.playing) time.value = routine.lasts ? routine.lasts / 2 : 0;
    this.shown = this.routine;
    $("draft-play").disabled = routine.still;
    this.words();
    if (this.playing) this.play();
    else doing(() => this.frame());
  }
  query(more) {
    return { routine: this.routine, ...(this.lamp ? { lamp: this.lamp } : {}), start: $("draft-time").value, ...more };
  }
  async frame() {
    const mine = ++this.asked;
    try {
      const light = await get(`/drafts/${this.draft}/light`, this.query({ frames: 1, length: 1 }));
      if (mine === this.asked) this.light.show(bytes(light.light));
    } catch (error) {
      if (error.code !== "no-draft") throw error;
      if (mine === this.asked) this.gone();
    }
  }
  words() {
    const at = Number($("draft-time").value), told = `${Math.floor(at / 60)}:${String(Math.floor(at % 60)).padStart(2, "0")}`;
    $("draft-at").textContent = $("draft-time").ariaValueText = told;
    $("draft-play").ariaLabel = this.playing ? "Pause" : "Play";
    $("draft-play").dataset.plays = String(Boolean(this.playing));
  }
  play() {
    this.stop();
    this.asked++;
    const time = $("draft-time");
    if (Number(time.value) >= Number(time.max)) time.value = 0;
    const source = (this.playing = new EventSource(`/v1/drafts/${this.draft}/events?` + new URLSearchParams(this.query({ speed: $("draft-speed").value }))));
    source.addEventListener("light", (event) => {
      const { light, at } = JSON.parse(event.data);
      this.light.show(bytes(light));
      this.heard = { at, when: performance.now(), speed: Number($("draft-speed").value) };
      this.move();
    });
    source.onerror = () => {
      if (source !== this.playing) return;
      const heard = this.heard;
      this.stop();
      if (!heard) doing(() => this.frame()); // the draft may be gone
    };
    this.ticks = setInterval(() => this.move(), 250);
    this.words();
  }
  // Light that stands is not sent again, but its time goes on.
  move() {
    if (!this.heard) return;
    const time = $("draft-time"), max = Number(time.max);
    const at = this.heard.at + ((performance.now() - this.heard.when) / 1000) * this.heard.speed;
    time.value = at > max ? at % max : at;
    this.words();
  }
  stop() {
    if (this.playing) this.playing.close();
    clearInterval(this.ticks);
    this.playing = this.heard = null;
    this.words();
  }
}
