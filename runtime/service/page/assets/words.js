// Small things that all parts use.

export const $ = (id) => document.getElementById(id);

export function make(tag, properties, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children);
  return element;
}

export const plain = (name) => (name || "").replaceAll("_", " ");
// Of a draft that takes longer to look at than the lamp has time for.
export const NOT_ALL = "Only a part was looked at for flashes and for light that keeps awake: `gloam check` on a computer looks at all.";

// What is made anew keeps the focus where it was: on what has the same id, or the same `data-key`.
export function sameFocus(box, work) {
  const had = box.contains(document.activeElement) ? document.activeElement : null;
  work();
  if (!had) return;
  const key = had.dataset.key && [...box.querySelectorAll("[data-key]")].find((one) => one.dataset.key === had.dataset.key);
  const again = (had.id && $(had.id)) || key || box.querySelector("button:not(:disabled), input:not(:disabled)") || $("main");
  again.focus();
}

// What is said at the bottom, aloud too; `undo` takes it back, once, and `what` is what it takes back.
let fading = 0;
function offer(undo) {
  if (!undo && document.activeElement === $("undo")) $("main").focus({ preventScroll: true });
  $("undo").hidden = !undo;
  $("undo").onclick = undo ? () => { offer(null); undo(); } : null;
}
export function say(words, undo, what) {
  $("said-words").textContent = words.replace(/ \(number \d+\)$/, "");
  offer(undo);
  $("undo").ariaLabel = what ? `Undo: ${what}` : "Undo";
  clearTimeout(fading);
  if (words) fading = setTimeout(() => say(""), undo ? 20000 : 7000);
}

// Runs what a press asks for, and says what came of it.
export async function doing(work) {
  try {
    return await work();
  } catch (error) {
    say(error.message);
    return null;
  }
}

// The present by the lamp's clock, which each of its answers tells (`Date`, RFC 9110, in whole seconds): a
// phone's own may be wrong.
let ahead = 0; // milliseconds
export function setPresent(date) {
  const told = Date.parse(date);
  if (told) ahead = told - Date.now();
}
export const present = () => Date.now() + ahead;

// The lamp's own clock: by the zone that the file names, else as far ahead of UTC as the lamp tells.
let zone = null, offset = null; // a name; { ahead, change }
export function setZone(name) {
  try {
    if (name) new Intl.DateTimeFormat("en-GB", { timeZone: name });
    zone = name;
  } catch { zone = null; }
}
export function setOffset(told) { offset = told; }

function local(instant, form) {
  const moment = new Date(instant);
  let at = moment, timeZone = zone || undefined; // the phone's
  if (!zone && offset && offset.ahead !== -60 * new Date(present()).getTimezoneOffset()) {
    const { ahead, change } = offset;
    at = new Date(+moment + 1000 * (change && moment >= new Date(change.at) ? change.ahead : ahead));
    timeZone = "UTC";
  }
  return new Intl.DateTimeFormat("en-GB", { ...form, timeZone }).format(at);
}
export function clock(instant) {
  const moment = new Date(instant), date = (at) => local(at, { day: "numeric", month: "short" });
  const time = local(moment, { hour: "2-digit", minute: "2-digit" });
  return date(moment) === date(present()) || moment - present() < 12 * 3600e3 && moment > present() ? time : `${time} on ${date(moment)}`;
}
export function day(instant) {
  return local(instant, { dateStyle: "medium", timeStyle: "short" });
}
export function duration(seconds) {
  const whole = Math.round(seconds), h = Math.floor(whole / 3600), m = Math.floor(whole / 60) % 60, s = whole % 60;
  return [h && `${h} h`, m && `${m} min`, s && `${s} s`].filter(Boolean).join(" ") || "0 s";
}

// Calls once nothing has been asked for so many milliseconds, with what was asked last.
export function settled(milliseconds, call) {
  let timer = 0;
  return (...values) => {
    clearTimeout(timer);
    timer = setTimeout(() => call(...values), milliseconds);
  };
}
// Calls at once, then one at a time and one in so many milliseconds at most; the last one always.
export function steady(milliseconds, call) {
  let busy = false, next = null;
  const run = async (values) => {
    busy = true;
    await Promise.allSettled([call(...values), new Promise((done) => setTimeout(done, milliseconds))]);
    busy = false;
    if (!next) return;
    const after = next;
    next = null;
    run(after);
  };
  return (...values) => { if (busy) next = values; else run(values); };
}

// What this browser keeps of the page; one that keeps nothing is told by false.
export function kept(key) {
  try { return localStorage.getItem(key); } catch { return null; }
}
export function keep(key, text) {
  try {
    if (text === null) localStorage.removeItem(key);
    else localStorage.setItem(key, text);
    return true;
  } catch { return false; }
}
