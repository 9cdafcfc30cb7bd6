// Dark or light. By itself the page is dark while the sun is down where the lamp is, without a place
// of the lamp from 20:00 to 08:00, and always where the phone is set to dark.
import { get } from "/talk.js";
import { keep, kept, present } from "/words.js";

const KEY = "gloam-looks", GROUND = { night: "#0b0908", day: "#f6f1e9" };
const SUN = "gloam-sun"; // as it was told today, so that the page is dark at once in the evening
const AGAIN = 3600e3; // after so long the lamp is asked for the sun again where it had none
let sun = remembered(); // { day, kind, rises, sets } of the lamp's place
let asked = 0;

function remembered() {
  try {
    const { day, kind, rises, sets } = JSON.parse(kept(SUN));
    return { day, kind, rises: rises && new Date(rises), sets: sets && new Date(sets) };
  } catch { return null; }
}
const choices = () => document.getElementsByName("looks");
const chosen = () => kept(KEY) || "auto";

function night() {
  if (matchMedia("(prefers-color-scheme: dark)").matches) return true;
  const now = new Date(present());
  if (sun && sun.day === now.toDateString()) {
    if (sun.kind === "stays-down") return true;
    if (sun.rises && sun.sets) return now < sun.rises || now > sun.sets;
  }
  return now.getHours() >= 20 || now.getHours() < 8;
}

function look() {
  const choice = chosen(), theme = choice === "auto" ? (night() ? "night" : "day") : choice;
  document.documentElement.dataset.theme = theme;
  document.querySelector('meta[name="theme-color"]').content = GROUND[theme];
  for (const input of choices()) input.checked = input.value === choice;
}

// Asked once a day, and when another file plays (`anew`); only where the file says where the lamp
// stands. Where nothing comes of it, not again for an hour.
export async function lookAtSun(home, anew = false) {
  const today = new Date(present()).toDateString();
  if (!home) return;
  if (!home.place) {
    sun = null;
    keep(SUN, null);
    return;
  }
  if (!anew && ((sun && sun.day === today) || Date.now() - asked < AGAIN)) return;
  asked = Date.now();
  try {
    const [{ sun: told }] = (await get("/week", { days: 1 })).days;
    const instant = (text) => (text ? new Date(text) : null);
    sun = told ? { day: today, kind: told.kind, rises: instant(told.rises), sets: instant(told.sets) } : null;
  } catch { if (anew) sun = null; /* by the hour, then */ }
  keep(SUN, sun && JSON.stringify(sun));
  look();
}

export function listenLooks(now) {
  for (const input of choices())
    input.onchange = () => { keep(KEY, input.value); look(); };
  matchMedia("(prefers-color-scheme: dark)").onchange = look;
  setInterval(() => { look(); lookAtSun(now.home); }, 60000);
  look();
}
