// A file from a friend: checked and looked at before anything is done with it.
import { get, send } from "/talk.js";
import { Band } from "/band.js";
import { $, make, plain, doing, NOT_ALL } from "/words.js";

export class Friend {
  // put(text, below): into the editor
  constructor(put) {
    const take = async (file) => { if (file) await this.open(file.name, await file.text()); };
    $("file").onchange = () => doing(async () => { await take($("file").files[0]); $("file").value = ""; });
    const editor = $("editor");
    editor.ondragover = (event) => { event.preventDefault(); editor.classList.add("dropping"); };
    editor.ondragleave = () => editor.classList.remove("dropping");
    editor.ondrop = (event) => {
      event.preventDefault();
      editor.classList.remove("dropping");
      doing(() => take(event.dataTransfer.files[0]));
    };
    $("friend-leave").onclick = () => $("friend").close();
    $("friend-take").onclick = () => { $("friend").close(); put(this.text, false); };
    $("friend-add").onclick = () => { $("friend").close(); put(this.text, true); };
  }
  async open(name, text) {
    this.text = text;
    $("friend-title").textContent = name;
    $("friend-says").textContent = "It is being checked.";
    $("friend-routines").replaceChildren();
    $("friend").showModal();
    this.tell(await send("POST", "/drafts", { text, thorough: true }));
  }
  tell({ draft, diagnostics, routines, cut }) {
    const wrong = diagnostics.filter((one) => one.severity === "error");
    if (!draft) {
      $("friend-says").textContent = `It is wrong in ${wrong.length} ${wrong.length === 1 ? "place" : "places"}, first in line ${wrong[0].line}: ${wrong[0].message}`;
      return;
    }
    $("friend-says").textContent = routines.length ? "It is right, and has:" : "It is right, and has no routine.";
    const warned = diagnostics.filter((one) => one.severity === "warning");
    if (warned.length) $("friend-says").textContent += ` But: ${warned.map((one) => one.message).join("; ")}.`;
    if (cut) $("friend-says").textContent += " " + NOT_ALL.replaceAll("`", "");
    $("friend-routines").replaceChildren(...routines.map(({ name }) => {
      const canvas = make("canvas", { ariaHidden: "true" });
      new Band(canvas, () => get(`/drafts/${draft}/light`, { routine: name }));
      return make("li", {}, make("span", { textContent: plain(name) }), canvas);
    }));
  }
}
