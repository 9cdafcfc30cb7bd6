// A file from a friend: checked and looked at before anything is done with it.
import { get, send } from "/talk.js";
import { Band } from "/band.js";
import { $, make, plain, doing, NOT_ALL } from "/words.js";

const MOST_BYTES = 1048576; // of a text, as the lamp takes it

export class Friend {
  // put(text, below): into the editor
  constructor(put) {
    this.bands = [];
    this.opened = 0;
    const take = (file) => doing(async () => { if (file && this.owner) await this.open(file); });
    $("file").onchange = async () => { await take($("file").files[0]); $("file").value = ""; };
    const editor = $("editor");
    // text that is drawn from one place to another is the text field's own affair
    const isFile = (event) => event.dataTransfer && event.dataTransfer.types.includes("Files");
    editor.ondragover = (event) => { if (isFile(event)) { event.preventDefault(); editor.classList.add("dropping"); } };
    editor.ondragleave = () => editor.classList.remove("dropping");
    editor.ondrop = (event) => {
      editor.classList.remove("dropping");
      if (!isFile(event)) return;
      event.preventDefault();
      take(event.dataTransfer.files[0]);
    };
    const close = (below) => () => { $("friend").close(); if (below !== undefined) put(this.text, below); };
    $("friend-leave").onclick = close();
    $("friend-take").onclick = close(false);
    $("friend-add").onclick = close(true);
    // it is told late: another file may be in it by then
    $("friend").onclose = () => { if (!$("friend").open) { this.opened++; this.clear(); } };
  }
  allow(owner) {
    this.owner = owner;
    $("file").parentElement.hidden = !owner;
  }
  clear() {
    for (const band of this.bands) band.gone();
    this.bands = [];
    $("friend-routines").replaceChildren();
  }
  offer(is) { $("friend-take").disabled = $("friend-add").disabled = !is; }
  // What is said of it, or why nothing can be said, stands in the dialog.
  async open(file) {
    const mine = ++this.opened;
    this.clear();
    this.offer(false);
    $("friend-title").textContent = file.name;
    $("friend-says").textContent = "It is being checked.";
    if (!$("friend").open) $("friend").showModal();
    try {
      if (file.size > MOST_BYTES) throw new Error("it has more than a megabyte, which is no file of a lamp");
      const text = await this.read(file), answer = await send("POST", "/drafts", { text, thorough: true });
      if (mine !== this.opened) return;
      this.text = text;
      this.tell(answer);
      this.offer(true);
    } catch (error) {
      if (mine === this.opened) $("friend-says").textContent = `It could not be checked: ${error.message}.`;
    }
  }
  async read(file) {
    try {
      return new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer());
    } catch {
      throw new Error("it is not a text in UTF-8");
    }
  }
  tell({ draft, diagnostics, routines, cut }) {
    const wrong = diagnostics.filter((one) => one.severity === "error");
    if (!draft) {
      const first = wrong[0], where = first && first.line ? ` in line ${first.line}` : "";
      $("friend-says").textContent = first ? `It is wrong in ${wrong.length} ${wrong.length === 1 ? "place" : "places"}, first${where}: ${first.message}` : "The lamp has no room to look at it now.";
      return;
    }
    $("friend-says").textContent = routines.length ? "It is right, and has:" : "It is right, and has no routine.";
    const warned = diagnostics.filter((one) => one.severity === "warning");
    if (warned.length) $("friend-says").textContent += ` But: ${warned.map((one) => one.message).join("; ")}.`;
    if (cut) $("friend-says").textContent += " " + NOT_ALL.replaceAll("`", "");
    $("friend-routines").replaceChildren(...routines.map(({ name }) => {
      const canvas = make("canvas", { ariaHidden: "true" });
      this.bands.push(new Band(canvas, () => get(`/drafts/${draft}/light`, { routine: name })));
      return make("li", {}, make("span", { textContent: plain(name) }), canvas);
    }));
  }
}
