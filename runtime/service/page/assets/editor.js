// A text with line numbers and colours: a plain text field over a coloured copy of it, so that
// touch, selection and screen readers work as everywhere. Coloured are the lines that are seen and some
// around them: of a long text all would take longer than a key may.
import { $, make } from "/words.js";

const AROUND = 30; // lines

export class Editor {
  constructor(changed) {
    this.field = $("text");
    this.checked = ""; // what was last answered
    this.tokens = []; // [begin, end, kind], of `painted`
    this.marks = []; // [begin, end, severity], likewise
    this.painted = "";
    this.starts = [0]; // of its lines
    this.line = 23; // pixels, until one was seen
    this.height = 0;
    this.field.oninput = () => { this.paint(); changed(); };
    this.field.onscroll = () => this.follow();
    new ResizeObserver(() => {
      this.height = this.field.clientHeight;
      this.draw();
    }).observe(this.field);
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
    const { scrollTop, scrollLeft } = this.field, [from, to] = this.inView(0);
    if (from < this.from || to > this.to) return this.draw();
    const down = this.from * this.line - scrollTop;
    $("paint").firstElementChild.style.transform = `translate(${-scrollLeft}px, ${down}px)`;
    $("gutter").firstElementChild.style.transform = `translateY(${down}px)`;
  }
  // The lines that are seen, and so many around.
  inView(around) {
    const top = Math.floor(this.field.scrollTop / this.line), count = this.starts.length;
    return [Math.max(0, Math.min(top - around, count - 1)), Math.min(count, top + Math.ceil(this.height / this.line) + 1 + around)];
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
    this.field.scrollTop = Math.max(0, (this.lineOf(begin) - 3) * this.line);
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
  // The line in which a place is, from 0.
  lineOf(at) {
    let low = 0, high = this.starts.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (this.starts[middle] <= at) low = middle;
      else high = middle;
    }
    return low;
  }
  paint() {
    const text = this.value;
    this.tokens = this.moved(this.tokens, text);
    this.marks = this.moved(this.marks, text);
    this.painted = text;
    this.starts = [0];
    for (let end = text.indexOf("\n"); end >= 0; end = text.indexOf("\n", end + 1)) this.starts.push(end + 1);
    this.draw();
  }
  draw() {
    const { painted: text, starts } = this;
    [this.from, this.to] = this.inView(AROUND);
    const begin = starts[this.from], end = this.to < starts.length ? starts[this.to] : text.length;
    const inside = (one) => one[1] > begin && one[0] < end;
    const copy = $("paint").firstElementChild;
    copy.replaceChildren(...this.pieces(begin, end, this.tokens.filter(inside), this.marks.filter(inside)));
    if (this.to === starts.length) copy.append("\n"); // an empty last line is as high as any
    this.number();
    // Browsers round the height of a line in ways of their own, which adds up: as it came out.
    this.line = copy.getBoundingClientRect().height / (this.to - this.from) || this.line;
    this.follow();
  }
  pieces(from, to, tokens, marks) {
    const text = this.painted, pieces = [], cuts = new Set([from, to]);
    for (const [begin, end] of [...tokens, ...marks]) { cuts.add(Math.max(from, begin)); cuts.add(Math.min(to, end)); }
    const sorted = [...cuts].sort((a, b) => a - b);
    let t = 0;
    for (let i = 0; i + 1 < sorted.length; i++) {
      const [begin, end] = [sorted[i], sorted[i + 1]];
      while (t < tokens.length && tokens[t][1] <= begin) t++;
      const kind = t < tokens.length && tokens[t][0] <= begin ? tokens[t][2] : "";
      const mark = marks.find((one) => one[0] <= begin && one[1] >= end);
      const name = [kind && "t-" + kind, mark && mark[2]].filter(Boolean).join(" ");
      pieces.push(name ? make("span", { className: name, textContent: text.slice(begin, end) }) : text.slice(begin, end));
    }
    return pieces;
  }
  number() {
    const wrong = new Set(this.marks.filter((one) => one[2] === "error").map((one) => this.lineOf(one[0]))), lines = [];
    for (let i = this.from; i < this.to; i++) lines.push(wrong.has(i) ? make("b", { textContent: i + 1 }) : String(i + 1), "\n");
    const box = $("gutter").firstElementChild;
    box.replaceChildren(...lines);
    box.style.minWidth = `${String(this.starts.length).length}ch`; // as wide whatever is seen
  }
}
