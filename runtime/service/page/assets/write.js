// Writing: checked as one types, looked at, tried on the lamp, kept.
import { get, send, LATER } from "/talk.js";
import { Editor } from "/editor.js";
import { Preview } from "/preview.js";
import { Friend } from "/friend.js";
import { Versions } from "/versions.js";
import { $, make, say, doing, keep, kept, settled, NOT_ALL } from "/words.js";

const UNSAVED = "gloam-text"; // what was written and not kept, in this browser
const UNSAVED_BASE = "gloam-text-base"; // the hash of the file that it was made of
const MOST_TOLD = 12;
const AGAIN = 3000; // where a check could not be made, or the list not be read

export class Write {
  constructor(now) {
    this.now = now;
    this.busy = false;
    this.routines = [];
    this.editor = new Editor(() => this.changed());
    this.preview = new Preview(() => this.renew());
    this.versions = new Versions((text, when) => this.put(text, `The file of ${when} is in the editor.`));
    this.friend = new Friend((text, below) =>
      this.put(below ? this.editor.value.replace(/\n*$/, "\n\n") + text : text, "It is in the editor."));
    this.checkSoon = settled(350, () => this.check());
    this.lookClosely = settled(1500, () => this.check(true));
    $("text").readOnly = true; // until the lamp's is there
    $("try").onclick = () => this.alone(() => this.tryIt());
    $("keep").onclick = () => this.alone(() => this.keep(this.base));
    $("undo-keep").onclick = () => this.alone(() => this.undoKeep());
    $("again").onclick = () => doing(() => this.readAgain());
    $("conflict-mine").onclick = () => { $("conflict").close(); this.alone(() => this.keep(null)); };
    $("conflict-theirs").onclick = () => { $("conflict").close(); doing(() => this.readAgain()); };
    $("conflict-leave").onclick = () => $("conflict").close();
  }
  async show(owner) {
    this.owner = owner;
    this.shown = true;
    this.friend.allow(owner);
    if (this.base && this.forgotten) await this.renew();
    if (this.base) await this.refresh();
    else await (this.beginning ||= this.begin().finally(() => { this.beginning = null; }));
  }
  hide() {
    this.shown = false;
    this.preview.stop();
    for (const id of ["friend", "conflict"]) $(id).close(); // one that is open lets nobody touch anything else
  }
  // The lamp was away, and has forgotten its drafts.
  async wake() {
    if (!this.shown) this.forgotten = true;
    else if (this.base) await this.renew();
    else await doing(() => this.show(this.owner));
  }
  // Another draft of the same text.
  async renew() {
    this.forgotten = false;
    this.offered = null;
    await this.check();
  }
  // One thing at a time that the lamp does with the text; its buttons are grey meanwhile.
  async alone(work) {
    if (this.busy) return;
    this.busy = true;
    this.buttons();
    await doing(work);
    this.busy = false;
    this.buttons();
    await this.readVersions();
  }
  // What was said last stays where the list cannot be read: it is asked for again.
  async readVersions() {
    clearTimeout(this.listing);
    try {
      await this.versions.read();
      this.buttons();
    } catch (error) {
      if (!LATER.includes(error.status)) throw error;
      if (this.shown) this.listing = setTimeout(() => doing(() => this.readVersions()), AGAIN);
    }
  }

  // -------- the text --------
  async begin() {
    const file = await get("/home/text"), mine = this.owner ? kept(UNSAVED) : null, base = kept(UNSAVED_BASE);
    this.take(file);
    if (mine !== null && mine !== this.kept) {
      if (base && base !== this.base) {
        this.base = base; // so that to keep it asks what is to become of the other
        this.put(mine, "What you wrote last time and did not keep is here again; the file on the lamp has changed since.");
      } else this.put(mine, "What you wrote last time and did not keep is here again.");
    }
    await this.readVersions();
  }
  // The lamp's text into the editor. A text field has its own line ends.
  take(file) {
    this.base = file.hash;
    this.name = file.file;
    this.editor.value = file.text;
    this.kept = this.editor.value;
    $("text").readOnly = !this.owner;
    this.remember();
    this.draft = null;
    this.buttons();
    this.check();
  }
  // Gives what was in the editor and is kept nowhere, or null.
  async readText() {
    const file = await get("/home/text"), before = this.editor.value, lost = this.base && before !== this.kept;
    this.take(file);
    return lost ? before : null;
  }
  async readAgain() {
    const mine = await this.readText();
    say("This is what the lamp has.", mine === null ? null : () => this.put(mine, "Your text is in the editor again."));
  }
  // Another file plays, perhaps: what was not touched here is read again, what was written stays.
  async refresh() {
    const base = this.base, file = await get("/home/text");
    if (this.busy || base !== this.base || file.hash === base) { /* that is known, or about to be */ }
    else if (this.editor.value === this.kept) this.take(file);
    else if (file.text === this.editor.value) this.isKept(file.text, file.hash);
    else if (file.hash !== this.other) say("The file on the lamp has changed meanwhile; what you wrote is still here.");
    this.other = file.hash;
    $("text").readOnly = !this.owner;
    await this.readVersions();
  }
  // Another text into the editor; the one that was there can be brought back.
  put(text, words) {
    const before = this.editor.value;
    this.editor.value = text;
    this.changed();
    say(words, before === text ? null : () => this.put(before, "The text before is in the editor again."));
    $("text").focus();
  }
  remember() {
    if (!this.owner) return;
    const mine = this.editor.value === this.kept ? null : this.editor.value;
    if (keep(UNSAVED, mine) && keep(UNSAVED_BASE, mine === null ? null : this.base)) return;
    if (mine === null || this.warned) return;
    say("This browser keeps nothing: what you do not keep on the lamp is lost with this page.");
    this.warned = true;
  }
  changed() {
    this.remember();
    this.draft = null; // what is there is of another text
    this.buttons();
    this.checkSoon();
  }
  buttons() {
    const right = Boolean(this.draft) && !this.busy;
    $("try").disabled = !right || !this.routines.length;
    $("keep").disabled = !right || this.editor.value === this.kept;
    $("undo-keep").disabled = this.busy || !this.owner || !this.versions.before;
  }
  // Tried again where the lamp could not be asked.
  async check(thorough = false) {
    clearTimeout(this.again);
    try {
      await this.checkNow(thorough);
    } catch (error) {
      say(error.message);
      if (this.shown && LATER.includes(error.status)) this.again = setTimeout(() => this.check(), AGAIN);
    }
  }
  // A text that is right is looked at for flashes, and light that keeps awake, once one stops typing.
  async checkNow(thorough) {
    const text = this.editor.value;
    if (!this.owner) { $("write-state").textContent = `${this.name}: a guest may read`; return; }
    const answer = await send("POST", "/drafts", { text, thorough });
    if (text !== this.editor.value) return; // what was typed since is asked about next
    this.editor.take(text, answer, (one) => this.isHere(one));
    this.tell(answer.diagnostics, answer.cut);
    this.draft = answer.draft || null;
    this.routines = answer.routines || [];
    this.buttons();
    if (!this.draft) return;
    if (this.offered === text) this.preview.renew(this.draft);
    else this.preview.offer(answer, this.written(this.routines));
    this.offered = text;
    if (!thorough) this.lookClosely();
  }
  // A file that is used has lines of its own.
  isHere(one) { return !one.file || one.file.split("/").at(-1) === this.name; }
  // The routine in which the cursor stands, else the first.
  written(routines) {
    const before = this.editor.value.slice(0, $("text").selectionStart);
    const names = [...before.matchAll(/\broutine\s+(\w+)/g)].map((match) => match[1]);
    return names.reverse().find((name) => routines.some((one) => one.name === name)) || (routines[0] || {}).name;
  }
  tell(diagnostics, cut = false) {
    const errors = diagnostics.filter((one) => one.severity === "error").length;
    const right = this.editor.value === this.kept ? "as it plays" : "right, not kept yet";
    $("write-state").textContent = `${this.name}: ${errors ? `${errors} mistake${errors > 1 ? "s" : ""}` : right}`;
    const told = diagnostics.filter((one) => one.severity !== "note" || !errors).slice(0, MOST_TOLD);
    $("mistakes").replaceChildren(...told.map((one) => make("li", {}, this.mistake(one))));
    if (cut) $("mistakes").append(make("li", { className: "faint low" }, ...this.quoted(NOT_ALL)));
  }
  mistake(one) {
    const here = this.isHere(one), file = here ? "" : `${one.file.split("/").at(-1)}, `;
    const where = one.line ? `${file}line ${one.line}: ` : "", kind = one.severity === "error" ? "" : `${one.severity}: `;
    const hint = one.hint ? [make("small", {}, "write: ", ...this.quoted(one.hint))] : [];
    const words = [where + kind, ...this.quoted(one.message), ...hint], className = one.severity + "-line";
    if (!here || !one.line) return make("p", { className }, ...words);
    const button = make("button", { type: "button", className }, ...words);
    button.onclick = () => this.editor.show(one);
    return button;
  }
  // What stands between backticks is code.
  quoted(words) {
    return words.split("`").map((part, i) => (i % 2 ? make("code", { textContent: part }) : part));
  }

  // -------- tried and kept --------
  async tryIt() {
    const { routine, lamp } = this.preview, here = this.now.home && this.now.home.lamps.some((one) => one.name === lamp);
    const start = () => send("POST", "/trials", { draft: this.draft, routine, for: "1min", ...(here ? { lamp } : {}) });
    try {
      say((await start()).said);
    } catch (error) {
      if (error.code !== "no-draft") throw error;
      await this.checkNow(false); // the lamp holds a few drafts only
      say((await start()).said);
    }
  }
  async keep(base) {
    const text = this.editor.value;
    try {
      const done = await send("PUT", "/home/text", { text, ...(base ? { base } : {}) });
      this.isKept(text, done.hash, done.diagnostics || []);
      say("Kept: it plays.", () => this.alone(() => this.undoKeep(done.hash)), "keep");
    } catch (error) {
      if (error.code === "changed") return this.hasChanged(text);
      if (error.problem && (error.problem.diagnostics || []).length) this.tell(error.problem.diagnostics);
      throw error;
    }
  }
  isKept(text, hash, diagnostics = []) {
    this.base = hash;
    this.kept = text;
    this.remember();
    if (this.editor.value === text) this.tell(diagnostics);
    this.buttons();
  }
  // By somebody else, or by this page, whose answer was lost.
  async hasChanged(text) {
    const there = await get("/home/text");
    if (there.text !== text) {
      if (this.shown) $("conflict").showModal();
      else say("The file on the lamp has changed meanwhile; what you wrote is not kept yet.");
      return;
    }
    this.isKept(text, there.hash);
    say("Kept: it plays.", () => this.alone(() => this.undoKeep(there.hash)), "keep");
  }
  async undoKeep(base = this.base) { // of the text that is taken back, and no later one
    await send("POST", "/home/undo", base ? { base } : {});
    const mine = await this.readText();
    if (mine === null) say("The file before plays again.");
    else say("The file before plays again, and is in the editor: what you wrote can be brought back.", () => this.put(mine, "Your text is in the editor again."), "the file before in the editor");
  }
}
