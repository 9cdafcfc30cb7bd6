// The page as a whole: which part is shown, who asks, dark or light.
import { get, Events } from "/talk.js";
import { Now } from "/now.js";
import { Week } from "/week.js";
import { Write } from "/write.js";
import { Lamp, Pair } from "/lamp.js";
import { $, doing } from "/words.js";

const PARTS = ["now", "week", "write", "lamp"];
const now = new Now(), week = new Week(), write = new Write();
write.now = now;
let me = null, shown = "";

// -------- dark or light --------

const LOOKS = "gloam-looks";
function look() {
  const choice = localStorage.getItem(LOOKS) || "auto", hour = new Date().getHours();
  const dark = hour >= 18 || hour < 8 || matchMedia("(prefers-color-scheme: dark)").matches;
  const theme = choice === "auto" ? (dark ? "night" : "day") : choice;
  document.documentElement.dataset.theme = theme;
  document.querySelector('meta[name="theme-color"]').content = theme === "night" ? "#0b0908" : "#f6f1e9";
  for (const input of document.getElementsByName("looks")) input.checked = input.value === choice;
}
for (const input of document.getElementsByName("looks"))
  input.onchange = () => { localStorage.setItem(LOOKS, input.value); look(); };
look();
setInterval(look, 60000);

// -------- the lamp is there, or not --------

let away = 0;
function lost(is) {
  clearTimeout(away);
  if (!is) { $("trouble").hidden = true; return; }
  away = setTimeout(async () => {
    $("trouble").textContent = "The lamp does not answer. It is tried again.";
    $("trouble").hidden = false;
    try {
      const who = await get("/me");
      if (!who.role) start();
    } catch { /* not there yet */ }
  }, 1500);
}
const events = new Events((state) => doing(() => now.take(state)), (light) => now.takeLight(light), lost);

// -------- parts --------

async function show(part) {
  const allowed = me && me.role ? part : "pair";
  if (shown === "write" && allowed !== "write") write.hide();
  shown = allowed;
  for (const id of [...PARTS, "pair"]) $(id).hidden = id !== allowed;
  document.querySelector("nav").hidden = allowed === "pair";
  for (const link of document.querySelectorAll("nav a"))
    if (link.hash === "#" + allowed) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  document.title = `${me ? me.lamp : "Lamp"}: ${allowed}`;
  if (allowed === "week") await week.show(now.name());
  if (allowed === "write") await write.show(me.role);
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
  document.body.classList.toggle("guest", me.role === "guest");
  if (me.role) events.open();
  await doing(() => show(part()));
}
const lamp = new Lamp(start);
new Pair(start);
start();
