// The page as a whole: which part is shown, who asks, whether the lamp is there.
import { get, Events } from "/talk.js";
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

let away = 0;
function lost(is) {
  clearTimeout(away);
  if (!is) { $("trouble").hidden = true; return; }
  away = setTimeout(async () => {
    $("trouble").textContent = "The lamp does not answer. It is asked again and again.";
    $("trouble").hidden = false;
    try { // it may be there, and this phone be no longer allowed
      if (!(await get("/me")).role) start();
    } catch { /* not there yet */ }
  }, 1500);
}
async function taken(state) {
  await now.take(state);
  if (shown === "lamp") lamp.tell(state);
  lookAtSun(now.home);
}
const events = new Events((state) => doing(() => taken(state)), (light) => now.takeLight(light), lost);
// A phone that slept or changed its network does not notice that its stream is dead.
const wake = () => { if (!document.hidden && me && me.role && events.silent() > 20000) events.open(); };
document.addEventListener("visibilitychange", wake);
addEventListener("online", wake);
addEventListener("pageshow", wake);

// -------- parts --------

async function show(part) {
  const allowed = me && me.role ? part : "pair";
  if (shown === "write" && allowed !== "write") write.hide();
  if (shown && shown !== allowed) say("");
  shown = allowed;
  for (const id of [...PARTS, "pair"]) $(id).hidden = id !== allowed;
  $("hand-now").hidden = allowed !== "now";
  $("hand-write").hidden = allowed !== "write";
  document.querySelector("nav").hidden = allowed === "pair";
  for (const link of document.querySelectorAll("nav a"))
    if (link.hash === "#" + allowed) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  document.title = `${me ? me.lamp : "Lamp"}: ${allowed}`;
  if (allowed === "week") await week.show(now.name());
  if (allowed === "write") await write.show(me.role === "owner");
  if (allowed === "lamp") await lamp.show(me, now.state);
}
const part = () => { const hash = location.hash.slice(1); return PARTS.includes(hash) ? hash : "now"; };
addEventListener("hashchange", () => { doing(() => show(part())); scrollTo(0, 0); });

async function start() {
  events.close();
  try {
    me = await get("/me");
  } catch {
    lost(true);
    setTimeout(start, 3000);
    return;
  }
  lost(false);
  now.guest = me.role === "guest";
  if (me.role) events.open();
  await doing(() => show(part()));
}

// What stands at the bottom covers nothing: the page ends above it, and what has the focus too.
new ResizeObserver(() => document.documentElement.style.setProperty("--foot", $("foot").offsetHeight + "px")).observe($("foot"));
listenLooks(now);
new Pair(start);
start();
