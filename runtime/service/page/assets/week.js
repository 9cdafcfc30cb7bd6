// The days that come, each as a strip of its light with words below.
import { get } from "/talk.js";
import { $, make, plain, doing } from "/words.js";

const HOUR = 3600e3;

export class Week {
  constructor() {
    $("days-more").onclick = () => doing(() => this.read(this.next));
  }
  async show(lamp) {
    this.lamp = lamp;
    $("days").replaceChildren();
    $("week-lamp").textContent = lamp ? `Lamp ${plain(lamp)}.` : "";
    $("calendar").href = "/v1/calendar.ics" + (lamp ? "?lamp=" + encodeURIComponent(lamp) : "");
    await this.read(null);
  }
  async read(from) {
    const query = { days: 7, ...(from ? { from } : {}), ...(this.lamp ? { lamp: this.lamp } : {}) };
    try {
      const week = await get("/week", query);
      $("days").append(...week.days.map((day) => this.day(day)));
      const last = new Date(week.days.at(-1).date + "T12:00:00Z");
      this.next = new Date(+last + 24 * HOUR).toISOString().slice(0, 10);
    } catch (error) {
      if (error.code !== "no-timetable") throw error;
      $("days").replaceChildren(make("p", { textContent: "The file has no timetable: `at 19:30 play dusk` would be a first line of one." }));
    }
  }
  day(day) {
    const sun = day.sun ? (day.sun.kind === "rises" ? `sun ${day.sun.rises_clock || "–"} to ${day.sun.sets_clock || "–"}` : day.sun.kind === "stays-up" ? "the sun stays up" : "the sun stays down") : "";
    const title = make("h2", {}, `${day.weekday} ${Number(day.date.slice(8))}`, make("small", { textContent: sun }));
    const canvas = make("canvas", { role: "img", ariaLabel: `The light of ${day.weekday}: ${this.summary(day)}` });
    const list = make("ul", {}, ...day.plays.filter((play) => play.kind !== "passed-over").map((play) => this.play(play)));
    const box = make("article", { className: "day" }, title, canvas);
    if (day.change)
      box.append(make("p", { className: "change", textContent: `The clocks change: from ${day.change.before} to ${day.change.after}.` }));
    box.append(list);
    requestAnimationFrame(() => this.draw(canvas, day));
    return box;
  }
  summary(day) {
    return day.plays.filter((play) => play.routine).map((play) => `${plain(play.routine)} at ${play.clock}`).join(", ") || "nothing begins";
  }
  play(play) {
    const name = play.kind === "lowered" ? "not above a level" : play.kind === "raised" ? "the level is free again" : plain(play.routine) || "nothing of its own";
    const why = [play.cause, play.notes].filter(Boolean).join("; ");
    return make("li", {}, make("time", { dateTime: play.at, textContent: play.clock }),
      make("span", {}, (play.part ? `${plain(play.part)}: ` : "") + name + " ", make("small", { textContent: why })));
  }
  draw(canvas, day) {
    const ratio = devicePixelRatio || 1, width = (canvas.width = Math.round(canvas.clientWidth * ratio));
    const height = (canvas.height = Math.round(canvas.clientHeight * ratio));
    const context = canvas.getContext("2d"), count = day.colours.length, band = height - 16 * ratio;
    const begins = +new Date(day.begins), length = new Date(day.ends) - begins;
    const place = (instant) => ((new Date(instant) - begins) / length) * width;
    const style = getComputedStyle(canvas), faint = style.getPropertyValue("--faint"), accent = style.getPropertyValue("--accent");
    context.fillStyle = "#000";
    context.fillRect(0, 0, width, band);
    day.colours.forEach((colour, i) => {
      context.fillStyle = colour;
      context.fillRect((i * width) / count, 0, width / count + 1, band);
    });
    if (day.sun && day.sun.rises && day.sun.sets) {
      context.fillStyle = accent;
      context.fillRect(place(day.sun.rises), band, place(day.sun.sets) - place(day.sun.rises), 2 * ratio);
    }
    context.fillStyle = faint;
    context.font = `${11 * ratio}px system-ui, sans-serif`;
    for (let hour = 0; hour <= 24; hour += 6) {
      const text = String(hour), x = (hour / 24) * width;
      context.fillText(text, Math.min(Math.max(0, x - context.measureText(text).width / 2), width - context.measureText(text).width), height - 2 * ratio);
    }
    const now = (Date.now() - begins) / length;
    if (now >= 0 && now < 1) {
      context.fillStyle = style.getPropertyValue("--ink");
      context.fillRect(now * width - ratio, 0, 2 * ratio, band + 3 * ratio);
    }
  }
}
