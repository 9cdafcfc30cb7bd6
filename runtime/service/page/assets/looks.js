// Dark or light. By itself the page is dark while the sun is down where the lamp is, without a place
// of the lamp from 20:00 to 08:00, and always where the phone is set to dark.
import { get } from "/talk.js";

const KEY = "gloam-looks", GROUND = { night: "#0b0908", day: "#f6f1e9" };
let sun = null; // { day, rises, sets } in milliseconds

const choices = () => document.getElementsByName("looks");
const chosen = () => localStorage.getItem(KEY) || "auto";

function night() {
  if (matchMedia("(prefers-color-scheme: dark)").matches) return true;
  const now = new Date();
  if (sun && sun.day === now.toDateString()) return now < sun.rises || now > sun.sets;
  return now.getHours() >= 20 || now.getHours() < 8;
}

export function look() {
  const choice = chosen(), theme = choice === "auto" ? (night() ? "night" : "day") : choice;
  document.documentElement.dataset.theme = theme;
  document.querySelector('meta[name="theme-color"]').content = GROUND[theme];
  for (const input of choices()) input.checked = input.value === choice;
}

// Asked once a day, only where the file says where the lamp stands.
export async function lookAtSun(home) {
  const today = new Date().toDateString();
  if (!home || !home.place || (sun && sun.day === today)) return;
  try {
    const [day] = (await get("/week", { days: 1 })).days;
    if (day.sun && day.sun.rises && day.sun.sets)
      sun = { day: today, rises: new Date(day.sun.rises), sets: new Date(day.sun.sets) };
    look();
  } catch { /* by the hour, then */ }
}

export function listenLooks(now) {
  for (const input of choices())
    input.onchange = () => { localStorage.setItem(KEY, input.value); look(); };
  matchMedia("(prefers-color-scheme: dark)").onchange = look;
  setInterval(() => { look(); lookAtSun(now.home); }, 60000);
  look();
}
