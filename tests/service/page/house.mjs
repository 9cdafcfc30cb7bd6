// A player with its page, and a browser; counts as the other tests do.
import { spawn } from "node:child_process";
import { mkdtempSync, writeFileSync, readFileSync, rmSync, mkdirSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

export const HOME = `place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }
lamp window { pixels 60 shape strip chip sk6812 port "e131:127.0.0.1" universe 5 supply 5V 2A level 60% }
dial rest = 2% from 0.5% to 10% "How bright the night light is"
dial shade = #ff8800 "The shade of the window"
dial calm = true "No movement"
dial pace = 20s from 5s to 60s "How slowly it moves"
event bell "The shop bell"
routine daybreak lasts 30min { paint black -> #3a0f00 at 40% -> 2000K -> 2700K throughout }
routine dusk lasts 40min then nightlight { paint 2700K * 60% -> #ff3a00 * rest throughout }
routine nightlight { paint #ff3a00 * rest }
routine hues { paint oklch(75%, 0.12, angle + t / 40s * 1turn) * 70% }
routine window_glow { paint if calm then shade * 40% else shade * noise(pos * 3, t / pace) }
by 03:10 on tue..sat play daybreak on lamp lantern
at 04:00 play off on lamp lantern fading 2min
at 19:30 play dusk on lamp lantern
at sunset - 20min not after 21:00 play window_glow on lamp window
at 22:00 play off on lamp window fading 2min
between 21:00 and 02:30 keep level under 10% on lamp lantern
when bell play hues for 10s
until clock is set play nightlight
`;

export class House {
  constructor(gloam, options = ["--pairing", "none"], port = 0) {
    this.gloam = gloam;
    this.options = options;
    this.port = port;
    this.folder = mkdtempSync(join(tmpdir(), "gloam-page-"));
    mkdirSync(join(this.folder, "home"));
    mkdirSync(join(this.folder, "run"), { mode: 0o700 });
    this.file = join(this.folder, "home", "home.gloam");
    writeFileSync(this.file, HOME);
  }
  async start() {
    this.out = "";
    const environment = { ...process.env, XDG_RUNTIME_DIR: join(this.folder, "run") };
    for (const name of ["JOURNAL_STREAM", "NOTIFY_SOCKET", "RUNTIME_DIRECTORY"]) delete environment[name];
    this.child = spawn(this.gloam, ["run", "--trust-after", "1s", "--state", join(this.folder, "state.json"), "--page", `127.0.0.1:${this.port}`, ...this.options, this.file], { env: environment });
    for (const stream of [this.child.stdout, this.child.stderr]) stream.on("data", (data) => (this.out += data));
    for (let i = 0; i < 200; i++) {
      const match = /page: http:\/\/localhost:(\d+)\//.exec(this.out);
      if (match) {
        this.port = Number(match[1]);
        this.url = `http://127.0.0.1:${this.port}/`;
        return;
      }
      await new Promise((done) => setTimeout(done, 100));
    }
    throw new Error("the player does not serve its page: " + this.out);
  }
  async stop() {
    this.child.kill("SIGTERM");
    await new Promise((done) => this.child.on("exit", done));
  }
  text() { return readFileSync(this.file, "utf8"); }
  async state() { return (await fetch(this.url + "v1/state")).json(); }
  end() { rmSync(this.folder, { recursive: true, force: true }); }
}

export const browser = () =>
  chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });

let passed = 0, failed = 0;
export function expect(holds, what) {
  if (holds) passed++;
  else {
    failed++;
    console.log("expected " + what);
  }
}
export function close() {
  console.log(`${passed} passed, ${failed} failed`);
  process.exitCode = failed ? 1 : 0;
}

// What must never happen on any page: errors, and requests to anybody but the lamp.
export function watch(page, house, heard) {
  page.on("pageerror", (error) => heard.push("error: " + error.message));
  page.on("console", (message) => {
    if (message.type() === "error" && !/Failed to load resource/.test(message.text())) heard.push("console: " + message.text());
  });
  page.on("request", (request) => {
    if (!request.url().startsWith(house.url) && !request.url().startsWith("data:")) heard.push("request to " + request.url());
  });
}

// How long is waited is against hanging only.
export async function until(check, patience = 20000) {
  for (let waited = 0; waited < patience; waited += 100) {
    try {
      if (await check()) return true;
    } catch { /* not yet */ }
    await new Promise((done) => setTimeout(done, 100));
  }
  return false;
}
