// Writing: checked as one types, looked at, tried on the lamp, kept.
import { get, send, Problem } from "/talk.js";
import { Editor } from "/editor.js";
import { Preview } from "/preview.js";
import { Friend } from "/friend.js";
import { Versions } from "/versions.js";
import { $, make, say, doing, settled, NOT_ALL } from "/words.js";

const UNSAVED = "gloam-text"; // what was written and not kept, in this browser
const MOST_TOLD = 12;

export class Write {
  constructor(now) {
    this.now = now;
    this.editor = new Editor(() => this.changed());
    this.preview = new Preview();
    this.versions = new Versions((text, when) => this.put(text, `The file of ${when} is in the editor.`));
    new Friend((text, below) =>
      this.put(below ? this.editor.value.replace(/\n*$/, "\n\n") + text : text, "It is in the editor."));
    this.check = settled(350, () => doing(() => this.checkNow()));
    this.lookClosely = settled(1500, () => doing(() => this.checkNow(true)));
    $("try").onclick = () => doing(() => this.tryIt());
    $("keep").onclick = () => doing(() => this.keep(this.base));
    $("undo-keep").onclick = () => doing(() => this.undoKeep());
    $("again").onclick = () => doing(() => this.readAgain());
    $("conflict-mine").onclick = () => { $("conflict").close(); doing(() => this.keep(null)); };
    $("conflict-theirs").onclick = () => { $("conflict").close(); doing(() => this.readAgain()); };
    $("conflict-leave").onclick = () => $("conflict").close();
  }
  async show(owner) {
    this.owner = owner;
    $("text").readOnly = !owner;
    if (!this.base) {
      const unsaved = localStorage.getItem(UNSAVED);
      await this.readText();
      if (owner && unsaved && unsaved !== this.kept) this.put(unsaved, "What you wrote last time and did not keep is here again.");
    }
    await this.versions.read(owner);
  }
  hide() { this.preview.stop(); }

  // -------- the text --------
  async readText() {
    const file = await get("/home/text");
    this.base = file.hash;
    this.kept = file.text;
    this.name = file.file;
    this.editor.value = file.text;
    this.remember();
    await this.checkNow();
  }
  async readAgain() {
    const before = this.editor.value, lost = before !== this.kept;
    await this.readText();
    say("This is what the lamp has.", lost ? () => this.put(before, "Your text is in the editor again.") : null);
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
    if (this.editor.value === this.kept) localStorage.removeItem(UNSAVED);
    else localStorage.setItem(UNSAVED, this.editor.value);
  }
  changed() {
    this.remember();
    $("keep").disabled = $("try").disabled = true;
    this.check();
  }
  // A text that is right is looked at for flashes, and light that keeps awake, once one stops typing.
  async checkNow(thorough = false) {
    const text = this.editor.value;
    if (!this.owner) { $("write-state").textContent = `${this.name}: a guest may read`; return; }
    const answer = await send("POST", "/drafts", { text, thorough });
    if (text !== this.editor.value) return; // what was typed since is asked about next
    this.editor.take(text, answer);
    this.tell(answer.diagnostics, answer.cut);
    this.draft = answer.draft;
    $("try").disabled = !answer.draft || !answer.routines.length;
    $("keep").disabled = !answer.draft || text === this.kept;
    if (!answer.draft) return;
    this.preview.offer(answer, this.written(answer.routines));
    if (!thorough) this.lookClosely();
  }
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
    const where = one.line ? `line ${one.line}: ` : "", kind = one.severity === "error" ? "" : `${one.severity}: `;
    const hint = one.hint ? [make("small", {}, "write: ", ...this.quoted(one.hint))] : [];
    const button = make("button", { type: "button", className: one.severity + "-line" }, where + kind, ...this.quoted(one.message), ...hint);
    button.onclick = () => {
      const text = this.editor.checked;
      this.editor.select(this.editor.offset(text, one.line, one.column), this.editor.offset(text, one.end_line, one.end_column));
    };
    return button;
  }
  // What stands between backticks is code.
  quoted(words) {
    return words.split("`").map((part, i) => (i % 2 ? make("code", { textContent: part }) : part));
  }

  // -------- tried and kept --------
  async tryIt() {
    const { routine, lamp } = this.preview, here = this.now.home && this.now.home.lamps.some((one) => one.name === lamp);
    say((await send("POST", "/trials", { draft: this.draft, routine, for: "1min", ...(here ? { lamp } : {}) })).said);
  }
  async keep(base) {
    const text = this.editor.value;
    try {
      const done = await send("PUT", "/home/text", { text, ...(base ? { base } : {}) });
      this.base = done.hash;
      this.kept = text;
      this.remember();
      $("keep").disabled = true;
      this.tell(done.diagnostics || []);
      say("Kept: it plays.", () => doing(() => this.undoKeep()), "keep");
      await this.versions.read(this.owner);
    } catch (error) {
      if (error instanceof Problem && error.code === "changed") return $("conflict").showModal();
      if (error.problem && (error.problem.diagnostics || []).length) this.tell(error.problem.diagnostics);
      throw error;
    }
  }
  async undoKeep() {
    await send("POST", "/home/undo");
    await this.readText();
    await this.versions.read(this.owner);
    say("The file before plays again.");
  }
}
