// The days that come: each a strip of its light, below it what begins, and on a touch why.
import { get, LATER } from "/talk.js";
import { $, make, plain, doing, clock, present } from "/words.js";

const HOUR = 3600e3;
const MOST = 24; // plays of a day that are named
const AGAIN = 2000; // where the lamp could not be asked; then twice as long each time
const CEILINGS = ["lowered", "raised"];

export class Week {
  constructor() {
    this.days = new Map(); // canvas to day
    this.reads = 0; // one that was begun later counts alone
    this.sizes = new ResizeObserver((all) => { for (const { target } of all) this.draw(target, this.days.get(target)); });
    $("days-more").onclick = () => doing(() => this.read(this.next));
  }
  async show(lamp) {
    this.lamp = lamp;
    $("week-lamp").textContent = lamp ? `lamp ${plain(lamp)}` : "lamp";
    $("calendar").href = "/v1/calendar.ics" + (lamp ? "?lamp=" + encodeURIComponent(lamp) : "");
    clearInterval(this.minutes);
    this.minutes = setInterval(() => doing(() => this.goOn()), 60000);
    await this.read(null);
  }
  hide() {
    clearInterval(this.minutes);
    clearTimeout(this.again);
  }
  clear() {
    this.sizes.disconnect();
    this.days.clear();
    $("days").replaceChildren();
  }
  // The present moves; after midnight it has left the first day.
  async goOn() {
    if (document.hidden) return;
    const [first] = this.days.values();
    if (first && present() >= new Date(first.ends)) await this.read(null, { than: first.date });
    else for (const [canvas, day] of this.days) this.draw(canvas, day);
  }
  // from: a date, whose days are added; null: anew from today; than: the first date that is shown, which
  // stays where today is no other one; pause: before it is asked for again
  async read(from, { than, pause = AGAIN } = {}) {
    clearTimeout(this.again);
    const mine = ++this.reads, query = { days: 7, ...(from ? { from } : {}), ...(this.lamp ? { lamp: this.lamp } : {}) };
    let week;
    try {
      week = await get("/week", query);
    } catch (error) {
      if (mine !== this.reads) return;
      if (LATER.includes(error.status))
        this.again = setTimeout(() => doing(() => this.read(from, { than, pause: Math.min(pause * 2, 60000) })), pause);
      if (error.code !== "no-timetable") throw error;
      this.clear();
      $("days").replaceChildren(make("p", {}, "The file has no timetable. ", make("code", { textContent: "at 19:30 play NAME" }), " would be a first line of one."));
      $("days-more").hidden = true;
      return;
    }
    if (mine !== this.reads || week.days[0].date === than) return;
    if (!from) this.clear();
    const last = new Date(week.days.at(-1).date + "T12:00:00Z");
    $("days-more").hidden = false;
    this.next = new Date(+last + 24 * HOUR).toISOString().slice(0, 10);
    $("days").append(...week.days.map((day) => this.day(day)));
    if (week.whole === false) $("days").append(make("p", { className: "faint", textContent: "More begins on these days than can be listed." }));
  }

  // -------- a day --------
  day(day) {
    const title = make("h2", {}, `${day.weekday} ${Number(day.date.slice(8))}`, make("small", { textContent: this.sun(day.sun) }));
    const canvas = make("canvas", { role: "img", ariaLabel: `The light of ${day.weekday}: ${this.summary(day)}` });
    const why = make("p", { className: "reason", hidden: true });
    const plays = day.plays.filter((play) => play.kind !== "passed-over" && !CEILINGS.includes(play.kind));
    const buttons = plays.slice(0, MOST).map((play) => this.play(play, why));
    canvas.onclick = (event) => {
      const at = this.moment(day, event.offsetX / canvas.clientWidth);
      const before = plays.findLastIndex((play) => +new Date(play.at) <= at);
      if (buttons[before]) buttons[before].click();
    };
    const box = make("article", { className: "day" }, title, canvas);
    if (day.change) box.append(make("p", { className: "wrong", textContent: `The clocks change here: ${day.change.before} becomes ${day.change.after}.` }));
    box.append(buttons.length ? make("ul", {}, ...buttons.map((button) => make("li", {}, button))) : make("p", { className: "faint", textContent: "Nothing begins." }), why);
    if (plays.length > MOST) box.append(make("p", { className: "faint low", textContent: `and ${plays.length - MOST} more` }));
    for (const play of day.plays.filter((one) => one.kind === "lowered"))
      box.append(make("p", { className: "faint low", textContent: play.cause }));
    this.days.set(canvas, day);
    this.sizes.observe(canvas);
    return box;
  }
  sun(sun) {
    if (!sun) return "";
    if (sun.kind !== "rises") return sun.kind === "stays-up" ? "the sun stays up" : "the sun stays down";
    return `sun ${sun.rises_clock || "–"} to ${sun.sets_clock || "–"}`;
  }
  summary(day) {
    const named = day.plays.filter((play) => play.routine), more = named.length > MOST ? `, and ${named.length - MOST} more` : "";
    return named.slice(0, MOST).map((play) => `${plain(play.routine)} at ${play.clock}`).join(", ") + more || "nothing begins";
  }
  named(play) {
    return (play.part ? `${plain(play.part)}: ` : "") + (plain(play.routine) || "dark");
  }
  // Its reason stands below all of its day, one at a time.
  play(play, why) {
    const button = make("button", { type: "button", ariaExpanded: "false" },
      make("time", { dateTime: play.at, textContent: play.clock }), " " + this.named(play));
    button.onclick = () => {
      const open = button.ariaExpanded !== "true";
      for (const other of button.closest("ul").querySelectorAll("button")) other.ariaExpanded = "false";
      button.ariaExpanded = String(open);
      why.hidden = !open;
      const until = play.until ? `, until ${clock(play.until)}` : "";
      why.textContent = `${play.clock} ${this.named(play)}: ${[play.cause, play.notes].filter(Boolean).join("; ")}${until}`;
    };
    return button;
  }

  // -------- its light --------
  moment(day, part) { return +new Date(day.begins) + part * (new Date(day.ends) - new Date(day.begins)); }
  draw(canvas, day) {
    const ratio = devicePixelRatio || 1, width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
    if (!width) return;
    canvas.width = width;
    canvas.height = height;
    const context = canvas.getContext("2d"), band = height - 17 * ratio;
    const begins = +new Date(day.begins), length = new Date(day.ends) - begins;
    const place = (instant) => ((new Date(instant) - begins) / length) * width;
    const style = getComputedStyle(canvas), ink = (name) => style.getPropertyValue(name);
    this.colours(context, day.colours, width, band);
    context.fillStyle = ink("--accent");
    if (day.sun && day.sun.rises && day.sun.sets)
      context.fillRect(place(day.sun.rises), band + 2 * ratio, place(day.sun.sets) - place(day.sun.rises), 2 * ratio);
    if (day.change) context.fillRect(place(day.change.at) - ratio, 0, 2 * ratio, band);
    this.hours(context, day, place, height, ratio, ink("--faint"));
    const now = place(present());
    if (now < 0 || now >= width) return;
    context.fillStyle = "#fff";
    context.fillRect(now - ratio, 0, 2 * ratio, band);
    context.fillStyle = ink("--ink");
    context.beginPath();
    context.arc(now, band + 3 * ratio, 4 * ratio, 0, 2 * Math.PI);
    context.fill();
  }
  colours(context, colours, width, band) {
    context.fillStyle = "#000";
    context.fillRect(0, 0, width, band);
    colours.forEach((colour, i) => {
      context.fillStyle = colour;
      context.fillRect((i * width) / colours.length, 0, width / colours.length + 1, band);
    });
  }
  // Where the local clock shows the hour: on a day of 23 or 25 hours not at its share of 24.
  hours(context, day, place, height, ratio, colour) {
    const begins = +new Date(day.begins), width = place(day.ends);
    const minutes = (words) => Number(words.slice(0, 2)) * 60 + Number(words.slice(3, 5));
    const by = day.change ? (minutes(day.change.after) - minutes(day.change.before)) * 60000 : 0;
    context.fillStyle = colour;
    context.font = `${11 * ratio}px system-ui, sans-serif`;
    for (let hour = 0; hour <= 24; hour += 6) {
      const text = String(hour), wide = context.measureText(text).width, plainly = begins + hour * HOUR;
      const at = place(day.change && plainly > new Date(day.change.at) ? plainly - by : plainly);
      context.fillText(text, Math.min(Math.max(0, at - wide / 2), width - wide), height - 1);
    }
  }
}
