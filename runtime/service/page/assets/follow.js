// A control that the lamp follows while it is moved. What was done in one movement is one thing for
// who takes it back.
import { act, get } from "/talk.js";
import { say, doing, settled, steady } from "/words.js";

const STEP = 400; // the light glides for longer from one value to the next
const PAUSE = 2000; // after so long a movement is another one
const HEARD = 1000; // so long after its answer an act is in the state at the latest

// What an act is, as `undo` of the state names it, without the figures that change while a control is moved.
export const kindOf = (words) => (words || "").replace(/^cleared:/, "clear:").replace(/level [\d.]+ \([^)]*\)/, "level").replace(/ \(number \d+\)$/, "");

// The last acts, `count` at most, while they are of that kind: another phone's stays.
export async function takeBack(kind, count) {
  let said = "";
  for (let left = count; left > 0; left--) {
    if (kindOf((await get("/state")).undo) !== kind) break;
    said = (await act("undo")).said;
  }
  return said || "Something else was done since: it stands below By hand.";
}
// Says what was done, by `count` acts of a kind, and offers to take that back; `taken` is told when it is.
export function sayDone(said, kind = kindOf(said), count = 1, taken = () => {}) {
  say(said, () => { taken(); doing(async () => say(await takeBack(kind, count))); }, said);
}

export class Follow {
  // line(): the act for what it stands at; kind: of that in words, where its answer does not tell;
  // often(): whether the lamp is to be told on the way; again(): what the lamp tells counts again
  constructor(line, { kind = "", often = () => true, again }) {
    this.line = line;
    this.again = again;
    this.kind = kind;
    this.often = often;
    this.moves = this.answered = this.acts = this.when = this.until = 0;
    this.steadily = steady(STEP, () => this.act());
    this.once = settled(STEP, () => this.steadily());
  }
  moved() {
    if (Date.now() - this.when > PAUSE) this.acts = 0;
    this.when = Date.now();
    this.moves++;
    this.asks = this.line(); // now, since what it is about may be another by then
    if (this.often()) this.steadily();
    else this.once();
  }
  // What the lamp tells is not yet what was asked for.
  get ahead() { return this.answered < this.moves || Date.now() < this.until; }
  // It is about something else from here on; what was asked for is told to the lamp all the same.
  leave() { this.answered = this.moves; this.acts = this.until = 0; }
  async act() {
    const moves = this.moves, done = await doing(() => act(this.asks));
    this.answered = Math.max(this.answered, moves);
    if (moves < this.moves) { this.acts += done ? 1 : 0; return; }
    this.until = done ? Date.now() + HEARD : 0;
    clearTimeout(this.telling);
    if (done) this.telling = setTimeout(() => { if (!this.ahead) this.again(); }, HEARD + 10);
    else this.again();
    if (!done) return;
    this.acts++;
    sayDone(done.said, this.kind || kindOf(done.said), this.acts, () => { this.acts = 0; });
  }
}
