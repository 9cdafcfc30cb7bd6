// The page as a whole: which part is shown, who asks, whether the lamp is there.
import { get, onStranger, Events } from "/talk.js";
import { Now } from "/now.js";
import { Week } from "/week.js";
import { Write } from "/write.js";
import { Lamp, Pair } from "/lamp.js";
import { listenLooks, lookAtSun } from "/looks.js";
import { $, doing, say } from "/words.js";

const PARTS = ["now", "week", "write", "lamp"];
const now = new Now(), week = new Week(), write = new Write(now), lamp = new Lamp(start);
let me = null, shown = "";

// -------- the lamp is there, or not --------

let away = 0, gone = false;
function lost(is) {
  clearTimeout(away);
  if (!is) {
    $("trouble").hidden = true;
    if (gone) write.wake();
    gone = false;
    return;
  }
  gone = true;
  now.forget();
  away = setTimeout(async () => {
    tellTrouble("The lamp does not answer. It is asked again and again.");
    try { // it may be there, and this phone be no longer allowed
      if (!(await get("/me")).role || !me) start();
      else if (gone) tellTrouble("The lamp is there, but tells nothing of itself: perhaps too many pages are open. It is asked again and again.");
    } catch { /* not there yet */ }
  }, 1500);
}
// Said once, however often it is found out.
function tellTrouble(words) {
  if ($("trouble").textContent !== words || $("trouble").hidden) $("trouble").textContent = words;
  $("trouble").hidden = false;
}

const AGAIN = 2000; // where the home could not be read
let home = null, later = 0; // the home that was looked at last
async function taken(state) {
  clearTimeout(later);
  await now.take(state);
  if (now.stale) later = setTimeout(() => doing(() => taken(now.state)), AGAIN);
  if (shown === "lamp") lamp.tell(now.state);
  if (now.home === home) return;
  const first = !home;
  home = now.home;
  lookAtSun(home, true);
  if (first) return;
  if (shown === "week") await week.show(now.name());
  if (shown === "write") await write.refresh();
}
const events = new Events((state) => doing(() => taken(state)), (light) => now.takeLight(light), lost);
onStranger(() => { if (me && me.role) start(); });
// A phone that slept, changed its network or is out of its reach does not notice that its stream is dead.
const isSilent = (milliseconds) => !document.hidden && me && me.role && events.silent() > milliseconds;
const wake = () => { if (isSilent(20000)) events.open(); };
document.addEventListener("visibilitychange", wake);
addEventListener("online", wake);
addEventListener("pageshow", wake);
setInterval(() => { // two signs of life have not come
  if (!isSilent(40000)) return;
  lost(true);
  events.open();
}, 5000);

// -------- parts --------

async function show(part) {
  const allowed = me && me.role ? part : "pair";
  if (shown === "write" && allowed !== "write") write.hide();
  if (shown === "week" && allowed !== "week") week.hide();
  const turned = shown && shown !== allowed;
  if (turned) say("");
  shown = allowed;
  for (const id of [...PARTS, "pair"]) $(id).hidden = id !== allowed;
  $("hand-now").hidden = allowed !== "now";
  $("hand-write").hidden = allowed !== "write";
  document.querySelector("nav").hidden = allowed === "pair";
  for (const link of document.querySelectorAll("nav a"))
    if (link.hash === "#" + allowed) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  document.title = `${me ? me.lamp : "Lamp"}: ${allowed}`;
  // What had the focus is gone: it is read on from here.
  if (turned) $(allowed).querySelector("h1").focus({ preventScroll: true });
  if (allowed === "week") await week.show(now.name());
  if (allowed === "write") await write.show(me.role === "owner");
  if (allowed === "lamp") await lamp.show(me, now.state);
}
const part = () => { const hash = location.hash.slice(1); return PARTS.includes(hash) ? hash : "now"; };
addEventListener("hashchange", () => { doing(() => show(part())); scrollTo(0, 0); });
document.querySelector(".jump").onclick = (event) => { event.preventDefault(); $("main").focus(); };

// Who asks; one that is asked later counts alone.
const AWAY = 3000; // so long it is waited for, then it is told, and asked again
let asked = 0;
async function start() {
  const mine = ++asked;
  events.close();
  let told = null;
  const long = setTimeout(() => { if (mine === asked) lost(true); }, AWAY);
  try {
    told = await get("/me");
  } catch { /* not there */ }
  clearTimeout(long);
  if (mine !== asked) return;
  if (!told) {
    lost(true);
    setTimeout(() => { if (mine === asked) start(); }, AWAY);
    return;
  }
  me = told;
  lost(false);
  if (now.guest !== (me.role === "guest")) {
    now.guest = me.role === "guest";
    now.forget();
  }
  if (me.role) events.open();
  await doing(() => show(part()));
}

// What stands at the bottom covers nothing: the page ends above it, and what has the focus too.
new ResizeObserver(() => document.documentElement.style.setProperty("--foot", $("foot").offsetHeight + "px")).observe($("foot"));
listenLooks(now);
new Pair(start);
start();
