// A text with line numbers and colours: a plain text field over a coloured copy of it, so that
// touch, selection and screen readers work as everywhere.
import { $, make } from "/words.js";

export class Editor {
  constructor(changed) {
    this.field = $("text");
    this.checked = ""; // what was last answered
    this.tokens = []; // [begin, end, kind], of `painted`
    this.marks = []; // [begin, end, severity], likewise
    this.painted = "";
    this.field.oninput = () => { this.paint(); changed(); };
    this.field.onscroll = () => this.follow();
    this.field.onkeydown = (event) => this.key(event);
  }
  get value() { return this.field.value; }
  set value(text) {
    this.field.value = text;
    this.field.setSelectionRange(0, 0);
    this.field.scrollTop = 0;
    this.paint();
  }
  // Tab indents; Escape lets it leave the field, for who has only keys.
  key(event) {
    if (event.key === "Escape") this.leaves = true;
    else if (event.key === "Tab" && !event.shiftKey && !this.leaves && !this.field.readOnly) {
      event.preventDefault();
      // as if typed, so that it can be undone like what is typed
      if (document.execCommand("insertText", false, "    ")) return;
      this.field.setRangeText("    ", this.field.selectionStart, this.field.selectionEnd, "end");
      this.field.oninput();
    } else this.leaves = false;
  }
  follow() {
    $("paint").scrollTop = this.field.scrollTop;
    $("paint").scrollLeft = this.field.scrollLeft;
    $("gutter").scrollTop = this.field.scrollTop;
  }
  // isHere: whether a diagnostic is about this text
  take(text, answer, isHere) {
    this.checked = this.painted = text;
    this.tokens = [];
    for (let i = 0; i < answer.tokens.length; i += 3)
      this.tokens.push([answer.tokens[i], answer.tokens[i] + answer.tokens[i + 1], answer.kinds[answer.tokens[i + 2]]]);
    this.marks = answer.diagnostics.filter((one) => isHere(one) && one.line && one.severity !== "note").map((one) => {
        const begin = this.offset(text, one.line, one.column), end = this.offset(text, one.end_line, one.end_column);
        return [begin, Math.max(end, begin + 1), one.severity];
      });
    this.paint();
  }
  // Lines and columns (code points, from 1) to a place in the text.
  offset(text, line, column) {
    let at = 0;
    for (let i = 1; i < line; i++) {
      const end = text.indexOf("\n", at);
      if (end < 0) break;
      at = end + 1;
    }
    for (let i = 1; i < column && at < text.length && text[at] !== "\n"; i++) at += text.codePointAt(at) > 0xffff ? 2 : 1;
    return at;
  }
  select(begin, end) {
    this.field.focus();
    this.field.setSelectionRange(begin, end);
    const line = this.value.slice(0, begin).split("\n").length;
    this.field.scrollTop = Math.max(0, (line - 4) * parseFloat(getComputedStyle(this.field).lineHeight));
    this.follow();
  }
  // What two texts have in common: `head` units at the beginning, all from `rest` of the old one on,
  // which has gone `by` units on.
  change(old, text) {
    const most = Math.min(old.length, text.length);
    let head = 0, tail = 0;
    while (head < most && old[head] === text[head]) head++;
    while (tail < most - head && old[old.length - 1 - tail] === text[text.length - 1 - tail]) tail++;
    return { head, rest: old.length - tail, by: text.length - old.length };
  }
  // To where it is now: what stands before the change as it was, what stands behind it shifted.
  moved(list, text) {
    const { head, rest, by } = this.change(this.painted, text);
    return list.filter(([begin, end]) => end <= head || begin >= rest)
      .map(([begin, end, kind]) => (end <= head ? [begin, end, kind] : [begin + by, end + by, kind]));
  }
  // Shows what a diagnostic of the text that was checked is about, where that is now.
  show(one) {
    const text = this.checked, { head, rest, by } = this.change(text, this.value);
    const now = (at) => (at <= head ? at : at >= rest ? at + by : head);
    this.select(now(this.offset(text, one.line, one.column)), now(this.offset(text, one.end_line, one.end_column)));
  }
  paint() {
    const text = this.value, pieces = [], cuts = new Set([0, text.length]);
    const tokens = (this.tokens = this.moved(this.tokens, text)), marks = (this.marks = this.moved(this.marks, text));
    this.painted = text;
    for (const [begin, end] of [...tokens, ...marks]) { cuts.add(begin); cuts.add(end); }
    const sorted = [...cuts].filter((n) => n >= 0 && n <= text.length).sort((a, b) => a - b);
    let t = 0;
    for (let i = 0; i + 1 < sorted.length; i++) {
      const [begin, end] = [sorted[i], sorted[i + 1]];
      while (t < tokens.length && tokens[t][1] <= begin) t++;
      const kind = t < tokens.length && tokens[t][0] <= begin ? tokens[t][2] : "";
      const mark = marks.find((one) => one[0] <= begin && one[1] >= end);
      const name = [kind && "t-" + kind, mark && mark[2]].filter(Boolean).join(" ");
      pieces.push(name ? make("span", { className: name, textContent: text.slice(begin, end) }) : text.slice(begin, end));
    }
    $("paint").replaceChildren(...pieces, "\n");
    this.number(text, marks);
    this.follow();
  }
  number(text, marks) {
    const wrong = new Set(marks.filter((one) => one[2] === "error").map((one) => text.slice(0, one[0]).split("\n").length));
    const count = text.split("\n").length, lines = [];
    for (let i = 1; i <= count; i++) lines.push(wrong.has(i) ? make("b", { textContent: i }) : String(i), "\n");
    $("gutter").replaceChildren(...lines, "\n");
  }
}
