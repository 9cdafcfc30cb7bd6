// Writing: check as one types, look at it, try it, keep it.
import { get, send, bytes, Problem } from "/talk.js";
import { Editor } from "/editor.js";
import { Light } from "/light.js";
import { $, make, plain, say, doing, day, settled } from "/words.js";

const UNSAVED = "gloam-text";

export class Write {
  constructor() {
    this.editor = new Editor(() => this.changed());
    this.light = new Light($("draft-light"));
    this.check = settled(350, () => doing(() => this.checkNow()));
    this.seek = settled(80, () => doing(() => this.showFrame()));
    $("try").onclick = () => doing(() => this.tryIt());
    $("keep").onclick = () => doing(() => this.keep(this.base));
    $("undo-keep").onclick = () => doing(() => this.undoKeep());
    $("again").onclick = () => doing(() => this.readText());
    $("draft-play").onclick = () => this.toggle();
    $("draft-time").oninput = () => { this.stop(); this.words(); this.seek(); };
    for (const id of ["draft-routine", "draft-lamp", "draft-speed"]) $(id).onchange = () => this.chosen();
    this.listenFiles();
    $("conflict-mine").onclick = () => { $("conflict").close(); doing(() => this.keep(null)); };
    $("conflict-theirs").onclick = () => { $("conflict").close(); doing(() => this.readText()); };
    $("conflict-leave").onclick = () => $("conflict").close();
  }
  async show(role) {
    this.owner = role === "owner";
    if (!this.base) {
      const unsaved = localStorage.getItem(UNSAVED);
      await this.readText();
      if (unsaved && unsaved !== this.editor.value) {
        this.editor.value = unsaved;
        this.changed();
        say("What you wrote last time and did not keep is here again.");
      }
    }
    await this.readVersions();
  }
  hide() { this.stop(); }

  // -------- the text --------
  async readText() {
    const file = await get("/home/text");
    this.base = file.hash;
    this.kept = file.text;
    this.name = file.file;
    this.editor.value = file.text;
    localStorage.removeItem(UNSAVED);
    await this.checkNow();
  }
  changed() {
    if (this.editor.value === this.kept) localStorage.removeItem(UNSAVED);
    else localStorage.setItem(UNSAVED, this.editor.value);
    $("keep").disabled = true;
    this.check();
  }
  async checkNow() {
    const text = this.editor.value;
    if (!this.owner) { $("write-state").textContent = "Guests may read."; return; }
    const answer = await send("POST", "/drafts", { text });
    if (text !== this.editor.value) return this.check();
    this.editor.take(text, answer);
    this.tell(answer.diagnostics);
    this.draft = answer.draft;
    const fine = Boolean(answer.draft);
    $("try").disabled = !fine;
    $("keep").disabled = !fine || text === this.kept;
    if (fine) this.offer(answer);
  }
  tell(diagnostics) {
    const errors = diagnostics.filter((one) => one.severity === "error").length;
    const state = errors ? `${errors} mistake${errors > 1 ? "s" : ""}` : this.editor.value === this.kept ? "as it plays on the lamp" : "right, and not kept yet";
    $("write-state").textContent = `${this.name}: ${state}`;
    $("mistakes").replaceChildren(...diagnostics.filter((one) => one.severity !== "note" || !errors).slice(0, 12).map((one) => {
      const hint = one.hint ? [make("br"), "write: ", make("code", { textContent: one.hint.replaceAll("`", "") })] : [];
      const where = one.line ? `line ${one.line}: ` : "";
      const button = make("button", { type: "button", className: one.severity + "-line" }, where + one.message.replaceAll("`", "\u2009"), ...hint);
      button.onclick = () => {
        const text = this.editor.checked;
        this.editor.select(this.editor.offset(text, one.line, one.column), this.editor.offset(text, one.end_line, one.end_column));
      };
      return make("li", {}, button);
    }));
  }

  // -------- looked at --------
  offer(answer) {
    const choose = (select, names, usual) => {
      const before = select.value;
      select.replaceChildren(...names.map((name) => make("option", { value: name, textContent: plain(name) || "the lamp" })));
      select.value = names.includes(before) ? before : usual;
    };
    this.routines = answer.routines;
    this.lamps = answer.lamps;
    $("tryout").hidden = !answer.routines.length;
    if (!answer.routines.length) return this.stop();
    const names = answer.routines.map((routine) => routine.name);
    choose($("draft-routine"), names, this.written(names));
    choose($("draft-lamp"), answer.lamps.map((lamp) => lamp.name || ""), answer.lamps[0].name || "");
    this.chosen();
  }
  // The routine in which the cursor stands.
  written(names) {
    const before = this.editor.value.slice(0, this.editor.field.selectionStart);
    const last = [...before.matchAll(/\broutine\s+(\w+)/g)].map((match) => match[1]).filter((name) => names.includes(name)).at(-1);
    return last || names[0];
  }
  chosen() {
    const routine = this.routines.find((one) => one.name === $("draft-routine").value);
    const lamp = this.lamps.find((one) => (one.name || "") === $("draft-lamp").value);
    this.light.shape(lamp);
    $("draft-time").max = routine.lasts || 60;
    $("draft-time").step = (routine.lasts || 60) / 600;
    $("draft-play").disabled = routine.still;
    this.words();
    if (this.playing) this.play();
    else doing(() => this.showFrame());
  }
  query(more) {
    const lamp = $("draft-lamp").value;
    return { routine: $("draft-routine").value, ...(lamp ? { lamp } : {}), start: $("draft-time").value, ...more };
  }
  async showFrame() {
    if (!this.draft) return;
    const light = await get(`/drafts/${this.draft}/light`, this.query({ frames: 1, length: 1 }));
    this.light.show(bytes(light.light));
  }
  words() {
    const at = Number($("draft-time").value);
    $("draft-at").textContent = `${Math.floor(at / 60)}:${String(Math.floor(at % 60)).padStart(2, "0")}`;
  }
  toggle() { if (this.playing) this.stop(); else this.play(); }
  play() {
    this.stop();
    if (!this.draft) return;
    const source = (this.playing = new EventSource(`/v1/drafts/${this.draft}/events?` + new URLSearchParams(this.query({ speed: $("draft-speed").value }))));
    source.addEventListener("light", (event) => {
      const light = JSON.parse(event.data), time = $("draft-time");
      this.light.show(bytes(light.light));
      time.value = light.at > Number(time.max) ? light.at % Number(time.max) : light.at;
      this.words();
    });
    source.onerror = () => this.stop();
    $("draft-play").textContent = "\u275a\u275a";
    $("draft-play").ariaLabel = "Pause";
  }
  stop() {
    if (this.playing) this.playing.close();
    this.playing = null;
    $("draft-play").textContent = "\u25b6";
    $("draft-play").ariaLabel = "Play";
  }

  // -------- tried and kept --------
  async tryIt() {
    const lamp = $("draft-lamp").value, here = this.now && this.now.home.lamps.some((one) => one.name === lamp);
    const done = await send("POST", "/trials", { draft: this.draft, routine: $("draft-routine").value, for: "1min", ...(here ? { lamp } : {}) });
    say(done.said);
  }
  async keep(base) {
    const text = this.editor.value;
    try {
      const done = await send("PUT", "/home/text", { text, ...(base ? { base } : {}) });
      this.base = done.hash;
      this.kept = text;
      localStorage.removeItem(UNSAVED);
      $("keep").disabled = true;
      this.tell(done.diagnostics || []);
      say("Kept: it plays.");
      await this.readVersions();
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      if (error.code === "changed") $("conflict").showModal();
      else if (error.problem.diagnostics && error.problem.diagnostics.length) this.tell(error.problem.diagnostics);
      if (error.code !== "changed") throw error;
    }
  }
  async undoKeep() {
    await send("POST", "/home/undo");
    await this.readText();
    await this.readVersions();
    say("The version before plays again.");
  }
  async readVersions() {
    const { versions } = await get("/home/versions");
    $("undo-keep").disabled = versions.length < 2 || !this.owner;
    $("versions").replaceChildren(...versions.map((version, i) => {
      const words = i === 0 ? `${day(version.kept)}, the newest` : day(version.kept);
      const look = make("button", { type: "button", className: "quiet", textContent: "Look", ariaLabel: `Look at the version of ${day(version.kept)}` });
      look.onclick = () => doing(async () => {
        this.editor.value = (await get(`/home/versions/${version.number}`)).text;
        this.changed();
        $("text").focus();
      });
      return make("li", {}, words, look);
    }));
  }

  // -------- a file from a friend --------
  listenFiles() {
    const take = async (file) => { if (file) this.friend(file.name, await file.text()); };
    $("file").onchange = () => { doing(() => take($("file").files[0])); $("file").value = ""; };
    const editor = $("editor");
    editor.ondragover = (event) => { event.preventDefault(); editor.classList.add("dropping"); };
    editor.ondragleave = () => editor.classList.remove("dropping");
    editor.ondrop = (event) => { event.preventDefault(); editor.classList.remove("dropping"); doing(() => take(event.dataTransfer.files[0])); };
    $("friend-leave").onclick = () => $("friend").close();
    $("friend-take").onclick = () => this.put(this.theirs);
    $("friend-add").onclick = () => this.put(this.editor.value.replace(/\n*$/, "\n\n") + this.theirs);
  }
  friend(name, text) {
    this.theirs = text;
    $("friend-title").textContent = `${name}, ${text.split("\n").length} lines`;
    $("friend").showModal();
  }
  put(text) {
    $("friend").close();
    this.editor.value = text;
    this.changed();
  }
}
