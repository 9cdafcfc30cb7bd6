// A lamp that is asked too often, answers late, wrongly or not at all: node late.mjs GLOAM. How often
// the page asks; what was typed is never lost; two answers in the wrong order; a lamp that comes back
// as another; where the focus goes when what had it is gone. node late.mjs GLOAM NAME...: these alone.
import { execFileSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import { House, browser, expect, close, until, HOME } from "./house.mjs";
import { openPage, go } from "./screen.mjs";

const gloam = process.argv[2], chrome = await browser(), heard = [];
const wait = (milliseconds) => new Promise((done) => setTimeout(done, milliseconds));
const LAMP = 'lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }\n';
const GLOW = LAMP + "routine glow { paint gold * 20% }\n"; // no place, no timetable
const JSON_HEAD = { "Content-Type": "application/json" };
const act = (house, line) => fetch(house.url + "v1/acts", { method: "POST", headers: JSON_HEAD, body: JSON.stringify({ act: line }) });

const only = process.argv.slice(3);

async function housed(text, work, options = ["--pairing", "none"]) {
  if (only.length && !only.includes(work.name)) return;
  const house = new House(gloam, options);
  if (text) writeFileSync(house.file, text);
  await house.start();
  try {
    await work(house, (more) => openPage(chrome, house, heard, 390, 844, "night", more));
  } catch (error) {
    expect(false, `${work.name} to come to its end: ${error.message.split("\n")[0]}`);
  } finally {
    for (const context of chrome.contexts()) await context.close();
    await house.stop();
    house.end();
  }
}
// What the page asks for, from here on.
function asked(page, pattern) {
  const list = [];
  page.on("request", (request) => { if (pattern.test(new URL(request.url()).pathname + new URL(request.url()).search)) list.push(request); });
  return list;
}
const text = (page, id) => page.locator("#" + id).textContent();
const says = (page, pattern) => until(async () => pattern.test(await text(page, "said-words")));

// The most red on a canvas.
const lightOf = (page, id) => page.evaluate((name) => {
  const canvas = document.getElementById(name), data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  let most = 0;
  for (let i = 0; i < data.length; i += 4) if (data[i + 3] > 250) most = Math.max(most, data[i]);
  return most;
}, id);

// -------- how often it asks --------

// A place without a timetable has no week, and no sun.
async function sunIsAskedOnce(house, open) {
  const page = await open(), weeks = asked(page, /week/);
  for (let i = 0; i < 30; i++) await act(house, `level ${50 + i} for 1h`);
  expect(await until(async () => (await text(page, "level-words")) === "79"), "thirty changes of the state to come to the page");
  expect(weeks.length <= 1, `the sun not to be asked for at each change of the state, but ${weeks.length} times`);
}

const levelOf = async (house) => (await house.state()).lamps[0].level.lightness;
async function draw(page, selector, steps, pause) {
  for (let i = 1; i <= steps; i++) {
    await page.locator(selector).evaluate((element, value) => { element.value = value; element.dispatchEvent(new Event("input")); }, 100 - i);
    await wait(pause);
  }
}
async function lightFollowsTheFinger(house, open) {
  const page = await open();
  await act(house, "set rest = 4%");
  const acts = asked(page, /acts/), began = Date.now();
  const drawn = draw(page, "#level", 40, 50);
  expect(await until(async () => (await levelOf(house)) < 100), "the level to follow while it is drawn along");
  await drawn;
  const took = Date.now() - began;
  expect(await until(async () => (await levelOf(house)) === 60), `the last place of the level to be told: ${await levelOf(house)}`);
  await wait(500);
  // one in 400 ms at most, and the last
  expect(acts.length >= 4 && acts.length <= 3 + took / 400, `the lamp to be told in steps of the movement, not ${acts.length} times in ${took} ms`);
  expect((await page.locator("#hand li").count()) === 2, `one movement to be one line: ${await text(page, "hand")}`);
  await page.locator("#undo").click();
  expect(await until(async () => (await levelOf(house)) === 100), `a movement to be taken back as a whole: ${await levelOf(house)}`);
  expect((await house.state()).undo === "set rest", `and nothing else: ${(await house.state()).undo}`);
  await draw(page, "#level", 20, 50);
  await until(async () => (await levelOf(house)) === 80);
  await page.locator('#hand button[aria-label^="Clear"]').click();
  expect(await until(async () => (await house.state()).by_hand.length === 0), "a movement to be cleared as a whole");
  expect(await says(page, /cleared/), "that to be told");
  await page.locator("#undo").click();
  expect(await until(async () => (await levelOf(house)) === 80), "that to be taken back as a whole");
  const dial = asked(page, /acts/);
  await page.locator("#dials input[type=range]").first().evaluate(async (element) => {
    for (let i = 1; i <= 20; i++) {
      element.value = 0.04 + i / 1000;
      element.dispatchEvent(new Event("input"));
      await new Promise((done) => setTimeout(done, 50));
    }
  });
  expect(dial.length >= 2, `a dial to be followed, not told ${dial.length} times in 1 s`);
  expect(await until(async () => Math.abs(parseFloat((await house.state()).dials[0].says) - 6) < 0.05), `the last place of a dial to be told: ${(await house.state()).dials[0].says}`);
  await wait(600);
  await page.locator("#undo").click();
  expect(await until(async () => (await house.state()).dials[0].says === "4%"), "a dial to be taken back as a whole");
}
// Another phone's act in between stays.
async function undoLeavesOthersAlone(house, open) {
  const page = await open();
  await draw(page, "#level", 20, 50);
  await until(async () => (await levelOf(house)) === 80);
  await until(async () => page.locator("#undo").isVisible());
  await act(house, "play hues for 5min");
  await page.locator("#undo").click();
  expect(await says(page, /Something else was done/), "what somebody else did since to be told");
  expect((await house.state()).by_hand.some((one) => one.what.startsWith("hues")), "what somebody else did since to stay");
}
// Undo takes back what it names, once, whatever was done.
async function undoTakesWhatItNames(house, open) {
  const page = await open(), acts = async () => (await house.state()).by_hand.map((one) => one.what).join("; ");
  const offered = () => until(async () => page.locator("#undo").isVisible());
  const doings = {
    "a routine": '#routines [data-key="nightlight"]', "Off": "#off", "15 more minutes": "#more", "a skip": "#skip",
    "a clear": '#hand button[aria-label^="Clear: skip"]',
  };
  await act(house, "play dusk for 20min on lamp window");
  for (const [name, selector] of Object.entries(doings)) {
    const before = await acts();
    await page.locator(selector).click();
    await until(async () => (await acts()) !== before);
    expect(await offered(), `undo to be offered after ${name}`);
    const done = await acts();
    await page.locator("#undo").dblclick();
    expect(await until(async () => (await acts()) === before), `two touches on Undo to take back ${name} alone: ${before}, then ${done}, now ${await acts()}`);
    await until(async () => /^taken back/.test(await text(page, "said-words")));
    await page.locator(selector).click();
    await until(async () => (await acts()) === done || name === "a clear" && !/skip/.test(await acts()));
    await offered();
    await act(house, "play hues for 5min on lamp window");
    const both = await acts();
    await page.locator("#undo").click();
    expect(await says(page, /Something else was done/), `what somebody else did after ${name} to be told: ${await text(page, "said-words")}`);
    expect((await acts()) === both, `what somebody else did after ${name} to stay`);
    await act(house, "undo");
  }
  // the line below By hand names what it takes back, too
  await until(async () => /skip/.test(await page.locator('#hand button[aria-label^="Take back"]').getAttribute("aria-label")));
  const before = await acts();
  await page.locator('#hand button[aria-label^="Take back"]').dblclick();
  await until(async () => (await acts()) !== before);
  await wait(500);
  expect(/skip/.test(await acts()) && /more/.test(await acts()), `two touches on Take back to take one act back: ${await acts()}`);
}
// What a control stands at is what the lamp has, whether an act was refused or somebody else did one at once.
async function figuresAreTheLamps(house, open) {
  const page = await open(), shows = (figure) => until(async () => (await text(page, "level-words")) === figure);
  const calm = page.locator("#dials input[type=checkbox]");
  expect(await shows("100"), `the level to stand at 100: ${await text(page, "level-words")}`);
  await page.route("**/v1/acts", (route) => wait(200).then(() => route.fulfill({ status: 422, contentType: "application/problem+json", body: '{"title":"Refused","status":422,"code":"refused","detail":"not now"}' })));
  await page.locator("#level-less").click();
  await says(page, /not now/);
  expect(await shows("100"), `a level that was refused not to be shown: ${await text(page, "level-words")}`);
  await calm.click();
  expect(await until(async () => calm.isChecked()), "a switch that was refused not to stand where it was put");
  await page.unroute("**/v1/acts");
  await page.locator("#level-less").click();
  await says(page, /^level 95/);
  await act(house, "level 30");
  expect(await shows("30"), `the level that another phone set at once to be shown: ${await text(page, "level-words")}`);
}
// Until what is there is known nothing can be done with it: an act would be for all lamps.
async function nothingIsDoneBlindly(house) {
  const page = await (await chrome.newContext({ viewport: { width: 390, height: 844 } })).newPage();
  page.on("pageerror", (error) => heard.push("error: " + error.message));
  const offered = () => page.locator("#hand-now button:enabled, #hand-now input:enabled").count();
  let held = "home";
  await page.route(/\/v1\/(home|events)/, async (route) => {
    await until(() => !route.request().url().includes(held), 60000);
    await route.continue().catch(() => {});
  });
  for (held of ["v1/home", "v1/events"]) {
    await page.goto(house.url);
    await page.waitForSelector("#hand-now:not([hidden])");
    await wait(500);
    expect((await offered()) === 0, `nothing to be offered before ${held} is answered, not ${await offered()} things`);
    held = "nothing";
    expect(await until(async () => (await offered()) >= 4), "it to be offered then");
  }
}
// To look at a lamp that has no next entry changes nothing of what one chose for the other.
async function choiceStays(house, open) {
  const page = await open(), chosen = () => page.locator('input[name="for"]:checked').getAttribute("value");
  const look = async (lamp) => { await page.locator(`#lamps label:has-text("${lamp}")`).click(); };
  await until(async () => page.locator("#length-entry").isVisible());
  await look("window");
  expect(await until(async () => (await chosen()) === "1h"), `an hour to be chosen where there is no next entry, not ${await chosen()}`);
  await look("lantern");
  expect(await until(async () => (await chosen()) === ""), `the next entry to be chosen again, not ${await chosen()}`);
  expect((await text(page, "off-words")) === "until the next", `Off to be until the next entry again: ${await text(page, "off-words")}`);
  await page.locator('input[name="for"][value="30min"]').check({ force: true });
  await look("window");
  await look("lantern");
  expect(await until(async () => (await chosen()) === "30min"), `half an hour to stay chosen, not ${await chosen()}`);
}
async function lampOfALevel(house, open) {
  const page = await open();
  await draw(page, "#level", 3, 20);
  await page.locator('#lamps label:has-text("window")').click();
  expect(await until(async () => (await levelOf(house)) === 97), `a level to go to the lamp at which it was drawn: ${await levelOf(house)}`);
  await wait(600);
  const other = (await house.state()).lamps[1].level;
  expect(!other.by_hand, `the level of the other lamp to stay: ${JSON.stringify(other)}`);
}
async function bandsComeLater(house) {
  let refused = 0;
  const context = await chrome.newContext({ viewport: { width: 390, height: 844 }, reducedMotion: "reduce" }), page = await context.newPage();
  await page.route("**/v1/routines/**", (route) => (refused++ < 2 ? route.fulfill({ status: 429, contentType: "application/problem+json", body: '{"title":"Too much at once","status":429,"code":"too-much"}' }) : route.continue()));
  await page.goto(house.url);
  await page.waitForSelector("#routines canvas");
  expect(await until(async () => (await page.locator("#routines canvas").first().evaluate((canvas) => canvas.height)) === 1), "a line of light that was refused to be asked for again");
}

// What failed once is asked for again, and is told.
const REFUSED = { status: 429, contentType: "application/problem+json", body: '{"title":"Too much at once","status":429,"code":"too-much","detail":"ask later"}' };
async function weekComesLater(house, open) {
  const page = await open();
  let refused = 0;
  await page.route("**/v1/week?days=7*", (route) => (refused++ < 1 ? route.fulfill(REFUSED) : route.continue()));
  await go(page, "week");
  expect(await says(page, /ask later/), `that the week is refused to be told: ${await text(page, "said-words")}`);
  expect(await until(async () => (await page.locator("#days .day").count()) === 7), `a week that was refused to be asked for again: ${await page.locator("#days .day").count()} days`);
}
async function startIsWaitedFor(house) {
  const page = await (await chrome.newContext({ viewport: { width: 390, height: 844 } })).newPage();
  let answers = false;
  await page.route("**/v1/me", (route) => (answers ? route.continue() : null));
  await page.goto(house.url);
  expect(await until(async () => page.locator("#trouble").isVisible()), "a lamp that does not say who may to be told");
  answers = true;
  await page.evaluate(() => location.reload());
  expect(await until(async () => (await page.locator("#routines button").count()) > 0 && page.locator("#trouble").isHidden()), "it to be there once it answers");
  // the first question stays without an answer, later ones have one
  let first = true;
  await page.unroute("**/v1/me");
  await page.route("**/v1/me", (route) => { if (!first) return route.continue(); first = false; });
  await page.evaluate(() => location.reload());
  expect(await until(async () => (await page.locator("#routines button").count()) > 0 && page.locator("#trouble").isHidden()), "a question that is lost not to be waited for");
}
async function keptStaysSaid(house, open) {
  const page = await open();
  let failing = true;
  await page.route("**/v1/home/versions", (route) => (failing ? route.abort() : route.continue()));
  await go(page, "write");
  await typed(page, "// one\n");
  await until(async () => page.locator("#keep").isEnabled());
  const lists = asked(page, /versions/);
  await page.locator("#keep").click();
  await until(() => lists.length > 0);
  await wait(300);
  expect(/^Kept/.test(await text(page, "said-words")) && await page.locator("#undo").isVisible(), `what was kept to be said though the list of versions cannot be read: ${await text(page, "said-words")}`);
  failing = false;
  expect(await until(async () => (await page.locator("#versions li").count()) >= 2), "the list to be read again");
}
// A browser that keeps nothing is told of as soon as something would be lost.
async function nothingKeptIsTold(house) {
  const page = await (await chrome.newContext({ viewport: { width: 390, height: 844 } })).newPage();
  await page.addInitScript(() => Object.defineProperty(window, "localStorage", { get() { throw new DOMException("no", "SecurityError"); } }));
  await page.goto(house.url + "#write");
  await typed(page, "// mine\n");
  expect(await says(page, /keeps nothing/), `that this browser keeps nothing to be told: ${await text(page, "said-words")}`);
}

// -------- what was typed --------

async function typed(page, more) {
  const field = page.locator("#text");
  await until(async () => (await field.inputValue()).includes("routine"));
  const mine = (await field.inputValue()) + more;
  await field.fill(mine);
  return mine;
}
async function undoKeepsWhatIsTyped(house, open) {
  const page = await open();
  await go(page, "write");
  await typed(page, "// one\n");
  await until(async () => page.locator("#keep").isEnabled());
  await page.locator("#keep").click();
  await says(page, /^Kept/);
  await until(async () => page.locator("#undo-keep").isEnabled());
  const mine = await typed(page, "// not kept yet\n");
  await page.locator("#undo-keep").click();
  expect(await until(async () => (await page.locator("#text").inputValue()) === GLOW), "the file before to be in the editor");
  expect(await says(page, /can be brought back/), `that what was typed can be brought back to be said: ${await text(page, "said-words")}`);
  await page.locator("#undo").click();
  expect(await until(async () => (await page.locator("#text").inputValue()) === mine), "what was typed to be brought back");
}
// The first check fails after the lamp's text was read: what was not kept is not forgotten by that.
async function storedTextSurvivesAFailure(house, open) {
  const page = await open();
  await go(page, "write");
  const mine = await typed(page, "// mine\n");
  await wait(300);
  let failures = 0;
  const fail = (route) => { failures++; return route.abort(); };
  await page.route("**/v1/drafts", fail);
  await page.reload();
  await page.waitForSelector("#text:visible");
  expect(await until(() => failures > 0), "the text to be checked, in vain");
  await wait(300);
  await page.unroute("**/v1/drafts");
  await page.reload();
  expect(await until(async () => (await page.locator("#text").inputValue()) === mine), `what was not kept to be there though the lamp did not answer once: ${(await page.locator("#text").inputValue()).slice(-20)}`);
  // nothing can be typed over it while the lamp's text is not there
  failures = 0;
  await page.route("**/v1/home/text", fail);
  await page.reload();
  await page.waitForSelector("#text:visible");
  expect(await until(() => failures > 0), "the lamp's text to be asked for, in vain");
  await wait(300);
  expect(await page.locator("#text").evaluate((element) => element.readOnly), "nothing to be typed while the lamp's text is not there");
  await page.unroute("**/v1/home/text");
  // the lamp's file has changed meanwhile: who keeps the old one's child is asked
  await go(page, "now");
  writeFileSync(house.file, GLOW.replace("20%", "30%"));
  await until(async () => (await house.state()).taken > 1);
  await page.reload();
  await go(page, "write");
  expect(await says(page, /changed since/), "that the file has changed since to be said");
  await until(async () => page.locator("#keep").isEnabled());
  await page.locator("#keep").click();
  expect(await until(async () => page.locator("#conflict").isVisible()), "a text made of an older file to ask before it is kept");
}
async function checkIsMadeAgain(house, open) {
  const page = await open();
  await go(page, "write");
  await typed(page, "");
  let failing = true;
  await page.route("**/v1/drafts", (route) => (failing ? route.abort() : route.continue()));
  await typed(page, "// more\n");
  await says(page, /does not answer/);
  failing = false;
  expect(await until(async () => page.locator("#keep").isEnabled()), "a text to be checked once the lamp answers again");
  let kept = 0;
  await page.route("**/v1/home/text", (route) => { if (route.request().method() === "PUT") kept++; return wait(400).then(() => route.continue()); });
  await page.locator("#keep").dispatchEvent("click");
  await page.locator("#keep").dispatchEvent("click");
  await says(page, /^Kept/);
  expect(kept === 1, `two touches on Keep to keep once, not ${kept} times`);
  // the answer is lost on its way: the text is kept all the same, and the file is no other one
  await page.unroute("**/v1/home/text");
  const mine = await typed(page, "// and more\n");
  await until(async () => page.locator("#keep").isEnabled());
  let lose = true;
  await page.route("**/v1/home/text", async (route) => {
    if (route.request().method() === "GET" && lose) return route.abort(); // what the page would read of it
    if (route.request().method() !== "PUT") return route.continue();
    await route.fetch();
    await route.abort();
  });
  await page.locator("#keep").click();
  expect(await says(page, /does not answer/), "an answer that was lost to be told");
  expect(house.text() === mine, "the text to be kept all the same");
  lose = false;
  await page.unroute("**/v1/home/text");
  await until(async () => page.locator("#keep").isEnabled());
  await page.locator("#keep").click();
  expect(await says(page, /^Kept/) && await page.locator("#conflict").isHidden(), `one's own text not to be taken for somebody else's: ${await text(page, "said-words")}`);
}
// A file of 92 kB, in 1,800 lines: what one key takes, and that colours are there wherever one looks.
async function longTextIsWritten(house, open) {
  const page = await open();
  await go(page, "write");
  const block = (n) => `// the baker's number ${n}\nroutine extra_${n} {\n${Array.from({ length: 6 }, (_, k) => `    paint oklch(75%, 0.12, angle + t / ${k + 9}s * 1turn) * 70% where ${k}0%\n`).join("")}}\n`;
  await typed(page, "");
  await page.locator("#text").evaluate((field, more) => { field.value += more; field.dispatchEvent(new Event("input")); }, Array.from({ length: 200 }, (_, n) => block(n)).join(""));
  expect(await until(async () => page.locator("#keep").isEnabled()), "a long text to be checked");
  const costs = await page.locator("#text").evaluate(async (field) => {
    const list = [];
    field.focus();
    field.setSelectionRange(50000, 50000);
    for (let i = 0; i < 15; i++) {
      const began = performance.now();
      document.execCommand("insertText", false, i % 2 ? " " : "a");
      document.body.getBoundingClientRect();
      list.push(performance.now() - began);
      await new Promise((done) => setTimeout(done, 50));
    }
    return list.sort((a, b) => a - b);
  });
  console.log(`measured: a key in a file of 92 kB takes ${costs[7].toFixed(1)} ms in the middle, ${costs[14].toFixed(1)} at most`);
  expect(costs[7] < 50, `a key not to be felt: ${costs[7].toFixed(1)} ms`);
  await page.locator("#text").evaluate((field) => { field.setSelectionRange(0, 0); field.scrollTop = field.scrollHeight; });
  expect(await until(async () => (await text(page, "paint")).includes("number 199")), "the end of a long text to be coloured");
  const count = (await page.locator("#text").inputValue()).split("\n").length;
  expect(await until(async () => (await text(page, "gutter")).trim().endsWith(String(count))), `the last line to be numbered ${count}: ${(await text(page, "gutter")).slice(-12)}`);
  const off = await page.evaluate(() => { // the last line of the copy over that of the field
    const field = document.getElementById("text"), copy = document.getElementById("paint").firstElementChild.getBoundingClientRect();
    return copy.bottom - (field.getBoundingClientRect().top + field.scrollHeight - field.scrollTop - parseFloat(getComputedStyle(field).paddingBottom));
  });
  expect(Math.abs(off) < 2, `the coloured copy to lie on its text, not ${off.toFixed(1)} pixels off`);
}
async function previewGoesOn(house, open) {
  const page = await open(), streams = asked(page, /drafts\/.*\/events/), drafts = asked(page, /drafts$/);
  await go(page, "write");
  await until(async () => page.locator("#draft-play").isEnabled());
  await page.locator("#draft-routine").selectOption("hues");
  await page.locator("#draft-play").click();
  await until(() => drafts.length >= 2);
  await wait(1200);
  expect(streams.length === 1, `a preview not to begin anew with each answer to the same text: ${streams.length} streams`);
}
async function usedFileHasItsOwnLines(house, open) {
  const page = await open();
  writeFileSync(house.file.replace("home.gloam", "palette.gloam"), "\nlet crust = 5s + 3%\n");
  await go(page, "write");
  await until(async () => (await page.locator("#text").inputValue()).includes("routine"));
  await page.locator("#text").fill('use "palette.gloam" as p\n' + GLOW);
  expect(await until(async () => /palette\.gloam, line 2: cannot add/.test(await text(page, "mistakes"))), `a mistake in a file that is used to be told with its name: ${await text(page, "mistakes")}`);
  expect((await page.locator("#paint .error").count()) === 0, "nothing of this text to be underlined for it");
  await page.locator("#text").fill(GLOW.replace("20%", "2s"));
  await until(async () => (await page.locator("#mistakes button").count()) === 1);
  await page.route("**/v1/drafts", () => {});
  await page.locator("#text").evaluate((element) => { element.setRangeText("// new\n// new\n", 0, 0, "end"); element.dispatchEvent(new Event("input")); });
  await page.locator("#mistakes button").click();
  const chosen = await page.locator("#text").evaluate((element) => element.value.slice(element.selectionStart, element.selectionEnd));
  expect(chosen === "gold", `a mistake to be found where it is by now, not \`${chosen}\``);
}
async function friendIsToldOfErrors(house, open) {
  const page = await open();
  await go(page, "write");
  const choose = (name, buffer) => page.locator("#file").setInputFiles({ name, mimeType: "text/plain", buffer });
  await page.route("**/v1/drafts", (route) => (/ember/.test(route.request().postData()) ? route.abort() : route.continue()));
  await choose("friend.gloam", Buffer.from("routine ember { paint gold }\n"));
  expect(await until(async () => /does not answer/.test(await text(page, "friend-says"))), `why a file could not be checked to be told: ${await text(page, "friend-says")}`);
  expect(await page.locator("#friend-take").isDisabled() && await page.locator("#friend-add").isDisabled(), "what could not be checked not to be taken");
  await page.locator("#friend-leave").click();
  await choose("picture.png", Buffer.from([0x89, 0x50, 0x4e, 0x47, 0xff, 0xfe]));
  expect(await until(async () => /not a text/.test(await text(page, "friend-says"))), "what is no text to be told");
  await page.locator("#friend-leave").click();
}

// -------- answers in the wrong order --------

async function lateWeeks(house, open) {
  const page = await open();
  await page.route("**/v1/week?days=7*", (route) => wait(800).then(() => route.continue()));
  for (const part of ["week", "now", "week"]) await page.evaluate((hash) => { location.hash = hash; }, part);
  await until(async () => (await page.locator("#days .day").count()) >= 7);
  await wait(1500);
  expect((await page.locator("#days .day").count()) === 7, `a week that is asked for twice to be shown once, not ${await page.locator("#days .day").count()} days`);
  await page.locator("#days-more").dispatchEvent("click");
  await page.locator("#days-more").dispatchEvent("click");
  await until(async () => (await page.locator("#days .day").count()) >= 14);
  await wait(1500);
  expect((await page.locator("#days .day").count()) === 14, `seven days more on two touches, not ${await page.locator("#days .day").count() - 7}`);
  // another file: another week, without being asked for
  writeFileSync(house.file, HOME.replace("at 04:00 play off", "at 04:10 play off"));
  expect(await until(async () => /04:10 off/.test(await text(page, "days"))), "the week to be that of the file that plays");
}
// The stroke of the present goes on; hours stand where the clock shows them on a day of 23 hours (28
// March 2027, United Kingdom: 06:00 is five hours after midnight).
async function presentGoesOn(house) {
  const context = await chrome.newContext({ viewport: { width: 390, height: 844 }, timezoneId: "Europe/London" }), page = await context.newPage();
  await page.route(/\/v1\/(?!events)/, async (route) => { // so that the lamp's clock is none but the browser's
    const response = await route.fetch(), { date, ...headers } = response.headers();
    await route.fulfill({ response, headers });
  });
  await page.addInitScript(() => {
    window.written = [];
    const write = CanvasRenderingContext2D.prototype.fillText;
    CanvasRenderingContext2D.prototype.fillText = function (words, x, y) {
      window.written.push([words, (x + this.measureText(words).width / 2) / this.canvas.width]);
      write.call(this, words, x, y);
    };
  });
  // of the lamp's day, which is another than that of UTC for an hour of a summer's night
  const week = await (await fetch(house.url + "v1/week?days=1")).json();
  await page.clock.install({ time: new Date(Date.parse(week.days[0].begins) + 12 * 3600e3) });
  await page.goto(house.url);
  await go(page, "week");
  await until(async () => (await page.locator("#days .day").count()) === 7);
  const stroke = () => page.locator("#days canvas").first().evaluate((canvas) => {
    const data = canvas.getContext("2d").getImageData(0, 2, canvas.width, 1).data;
    for (let i = 0; i < canvas.width; i++) if (data[4 * i] + data[4 * i + 1] + data[4 * i + 2] > 750) return i / canvas.width;
    return -1;
  });
  await until(async () => (await stroke()) > 0);
  const before = await stroke();
  await page.clock.fastForward("02:00:00");
  await until(async () => (await stroke()) !== before);
  expect(Math.abs((await stroke()) - before - 2 / 24) < 0.01, `the present to be two hours on after two hours: from ${before.toFixed(3)} to ${(await stroke()).toFixed(3)} of the day`);
  await page.route("**/v1/week?days=7*", (route) => route.continue({ url: route.request().url() + "&from=2027-03-28" }));
  await go(page, "now");
  await page.evaluate(() => { window.written = []; });
  await go(page, "week");
  const sixes = () => page.evaluate(() => window.written.filter(([words]) => words === "6").map(([, where]) => where));
  expect(await until(async () => (await sixes()).some((where) => Math.abs(where - 5 / 23) < 0.005)), `06:00 to stand at 5/23 of a day of 23 hours, not at ${(await sixes()).map((where) => where.toFixed(3)).join(", ")}`);
}
// A phone whose clock is ahead by days shows the lamp's present, and leaves alone what was opened.
async function lampsClockCounts(house) {
  const page = await (await chrome.newContext({ viewport: { width: 390, height: 844 } })).newPage(), weeks = asked(page, /week\?days=7/);
  await page.clock.install({ time: Date.now() + 49 * 3600e3 });
  await page.goto(house.url);
  await page.waitForSelector("#routines button");
  await go(page, "week");
  await until(async () => (await page.locator("#days .day").count()) === 7);
  const white = await page.locator("#days canvas").evaluateAll((all) => all.map((canvas) => {
    const data = canvas.getContext("2d").getImageData(0, 2, canvas.width, 1).data;
    return data.some((_, i) => i % 4 === 0 && data[i] + data[i + 1] + data[i + 2] > 750);
  }));
  expect(white[0] && white.filter((one) => one).length === 1, `the present to lie in the first day, not in ${white.map(Number)}`);
  await page.locator("#days-more").click();
  await until(async () => (await page.locator("#days .day").count()) === 14);
  const before = weeks.length;
  await page.locator('#days button:has-text("daybreak")').first().click();
  for (let level = 60; level < 64; level++) { // what the lamp tells in between shows that it is there
    await page.clock.fastForward(32000);
    await act(house, `level ${level} for 1h`);
    await until(async () => (await text(page, "level-words")) === String(level));
  }
  await wait(500);
  expect(weeks.length === before && (await page.locator("#days .day").count()) === 14, `no week to be read anew at each minute: ${weeks.length - before} more, ${await page.locator("#days .day").count()} days`);
  expect(await page.locator("#days .reason:visible").count() === 1, "what was opened to stay open");
  await go(page, "now");
  await act(house, "play off for 15h on lamp lantern");
  const ends = new Date(Date.now() + 15 * 3600e3).toLocaleDateString("en-GB", { day: "numeric", month: "short", timeZone: "Europe/London" }), today = new Date().toLocaleDateString("en-GB", { day: "numeric", month: "short", timeZone: "Europe/London" });
  expect(await until(async () => new RegExp(`until \\d\\d:\\d\\d${ends === today ? " ·" : ` on ${ends}`}`).test(await text(page, "why"))), `today to be the lamp's: ${await text(page, "why")}`);
}
// Where the file names no zone the lamp's own counts, wherever the phone is.
async function timesAreTheLamps(house) {
  for (const timezoneId of ["America/New_York", "Asia/Kathmandu", "Europe/London"]) {
    const context = await chrome.newContext({ viewport: { width: 390, height: 844 }, timezoneId }), page = await context.newPage();
    await page.goto(house.url);
    await page.waitForSelector("#routines button");
    await page.locator('input[name="for"][value="until"]').check({ force: true });
    for (const time of ["22:00", "09:30"]) {
      await page.locator("#until").fill(time);
      await page.locator("#off").click();
      expect(await until(async () => (await text(page, "why")).startsWith(`until ${time}`)), `a light that is off until ${time} to be told so to a phone in ${timezoneId}: ${await text(page, "why")}`);
    }
    expect(/at 19:30 \(at 19:30\)|at 19:30 on .*\(at 19:30\)/.test(await text(page, "next")), `what comes at 19:30 to be told so to a phone in ${timezoneId}: ${await text(page, "next")}`);
    await context.close();
  }
}
async function latePicture(house, open) {
  const page = await open();
  await go(page, "write");
  await until(async () => page.locator("#draft-play").isEnabled());
  await page.locator("#draft-routine").selectOption("daybreak");
  await wait(700);
  let late = true;
  await page.route("**/v1/drafts/*/light*", async (route) => { const answer = await route.fetch(); if (late) { late = false; await wait(1200); } await route.fulfill({ response: answer }); });
  const seek = (time) => page.locator("#draft-time").evaluate((element, value) => { element.value = value; element.dispatchEvent(new Event("input")); }, time);
  await seek(1790); // nearly all light, told late
  await wait(300);
  await seek(0); // dark
  await wait(2500);
  const most = await lightOf(page, "draft-light");
  expect(most < 60, `the picture of the moment that was chosen last, not of one before (${most})`);
}

// -------- a lamp that comes back as another --------

async function lampComesBack(house, open) {
  const page = await open();
  await page.evaluate(() => { location.hash = "write"; });
  await until(async () => page.locator("#text").isVisible());
  await wait(600);
  await house.stop();
  await until(async () => page.locator("#trouble").isVisible());
  writeFileSync(house.file, GLOW.replace("glow", "shimmer"));
  await house.start();
  expect(await until(async () => !(await page.locator("#trouble").isVisible())), "the lamp to be found again");
  expect(await until(async () => (await page.locator("#text").inputValue()).includes("shimmer")), "its new file to be read where nothing was written");
  expect(await until(async () => (await lightOf(page, "draft-light")) > 60), "the preview of it to be there");
  await go(page, "now");
  expect(await until(async () => /shimmer/.test(await text(page, "routines"))), `its new file to be known: ${await text(page, "routines")}`);
  // a lamp more: its light too
  writeFileSync(house.file, 'lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }\nlamp window { pixels 60 shape strip chip sk6812 port "e131:127.0.0.1" universe 5 supply 5V 2A }\nroutine glow { paint gold }\n');
  await until(async () => (await page.locator("#lamps label").count()) === 2);
  await page.locator('#lamps label:has-text("window")').click();
  await page.locator("#routines button").first().click();
  expect(await until(async () => (await lightOf(page, "light")) > 150), "the light of a lamp that a new file brings to be seen");
}
async function draftsAreForgotten(house, open) {
  const page = await open();
  await go(page, "write");
  await until(async () => page.locator("#try").isEnabled());
  await go(page, "now");
  await house.stop();
  await until(async () => page.locator("#trouble").isVisible());
  await house.start();
  await until(async () => !(await page.locator("#trouble").isVisible()));
  await go(page, "write");
  await page.locator("#draft-routine").selectOption("hues");
  await page.locator("#draft-play").click();
  expect(await until(async () => (await text(page, "draft-at")) !== "0:00"), `a preview to move after the lamp was away: ${await text(page, "said-words")}`);
  for (let i = 0; i < 17; i++) // other phones' drafts take the place of this one
    await fetch(house.url + "v1/drafts", { method: "POST", headers: JSON_HEAD, body: JSON.stringify({ text: `routine other_${i} { paint gold }\n` }) });
  await page.locator("#draft-play").click();
  await wait(300);
  for (let i = 0; i < 17; i++)
    await fetch(house.url + "v1/drafts", { method: "POST", headers: JSON_HEAD, body: JSON.stringify({ text: `routine another_${i} { paint gold }\n` }) });
  await page.locator("#try").click();
  expect(await until(async () => ((await house.state()).trial || {}).routine === "hues"), `a draft that had to go to be made again for a trial: ${await text(page, "said-words")}`);
}
async function paired(house) {
  const page = await openPage(chrome, house, heard, 390, 844, "night", { wait: "#pair:not([hidden])" });
  await page.locator("#pair-show").click();
  await says(page, /5 digits/);
  await page.locator("#pair-code").fill(/the code for 127\.0\.0\.1 is (\d+)/.exec(house.out)[1]);
  await page.locator("#pair-form button").click();
  await page.waitForSelector("#routines button");
  return page;
}
async function endedSession(house) {
  const page = await paired(house);
  await page.evaluate(() => fetch("/v1/sessions/mine", { method: "DELETE" })); // as another phone would
  await page.locator("#routines button").first().click();
  expect(await until(async () => page.locator("#pair").isVisible()), "who was ended to be asked for a code at the next touch");
}

// -------- what is left open --------

const EMBER = { name: "friend.gloam", mimeType: "text/plain", buffer: Buffer.from("routine ember { paint gold }\n") };
async function friendIsOpen(page) {
  await go(page, "write");
  await until(async () => (await page.locator("#text").inputValue()).includes("routine"));
  await page.locator("#file").setInputFiles(EMBER);
  await until(async () => /It is right/.test(await text(page, "friend-says")));
}
const answersTo = (page, selector) => page.locator(selector).click({ timeout: 3000 }).then(() => true, () => false);
async function dialogsGoWithTheirPart(house, open) {
  const page = await open();
  await friendIsOpen(page);
  await page.goBack();
  await page.waitForSelector("#now:not([hidden])");
  expect(await answersTo(page, "#level-less"), "the level to be touched after one went back with a file of a friend open");
  await go(page, "write");
  const mine = await typed(page, "// mine\n");
  await until(async () => page.locator("#keep").isEnabled());
  writeFileSync(house.file, HOME.replace("* 70%", "* 30%"));
  await page.locator("#keep").click();
  await until(async () => page.locator("#conflict").isVisible());
  await page.goBack();
  await page.waitForSelector("#now:not([hidden])");
  expect(await answersTo(page, "#level-less"), "the level to be touched after one went back with a question open");
  // the question comes when one has gone
  await go(page, "write");
  await page.route("**/v1/home/text", (route) => (route.request().method() === "PUT" ? wait(600).then(() => route.continue()) : route.continue()));
  await page.locator("#keep").click();
  await go(page, "now");
  expect(await says(page, /has changed meanwhile/), `a conflict to be told to who has gone on: ${await text(page, "said-words")}`);
  expect(await answersTo(page, "#level-less"), "the level to be touched then");
  await go(page, "write");
  expect((await page.locator("#text").inputValue()) === mine, "nothing to be lost by that");
}
async function dialogsGoWithTheSession(house) {
  const page = await paired(house);
  await friendIsOpen(page);
  await page.evaluate(() => fetch("/v1/sessions/mine", { method: "DELETE" })); // as another phone would
  await page.locator("#file").setInputFiles(EMBER);
  await page.waitForSelector("#pair:not([hidden])");
  expect(await answersTo(page, "#pair-code"), "the code to be given by who was ended with a file of a friend open");
}

// -------- a lamp that is silent --------

// A program that hangs, or a phone out of reach, ends no connection. Time passes by the browser's clock.
async function silenceIsNoticed(house) {
  const context = await chrome.newContext({ viewport: { width: 390, height: 844 } }), page = await context.newPage();
  const session = await context.newCDPSession(page), signs = [], streams = asked(page, /v1\/events/);
  await session.send("Network.enable");
  session.on("Network.eventSourceMessageReceived", ({ eventName }) => { if (eventName === "alive") signs.push(eventName); });
  await page.clock.install();
  await page.goto(house.url);
  await page.waitForSelector("#routines button");
  await page.clock.fastForward(10000);
  expect(await until(() => signs.length > 0, 60000), "a lamp of which nothing is to be told to give a sign of life");
  await page.clock.fastForward(32000);
  await wait(500);
  expect(streams.length === 1, `a stream with signs of life to be left alone, not opened ${streams.length} times`);
  const server = Number(execFileSync("pgrep", ["-P", String(house.child.pid), "-x", "gloam-page"]).toString());
  process.kill(server, "SIGSTOP");
  try {
    await page.clock.fastForward(50000);
    await page.clock.fastForward(2000);
    expect(await until(async () => /does not answer/.test(await text(page, "trouble")) && page.locator("#trouble").isVisible()), "a lamp that is silent for 50 s to be told");
  } finally {
    process.kill(server, "SIGCONT");
  }
  expect(await until(async () => page.locator("#trouble").isHidden()), "it to be found again");
}

// -------- keys --------

async function focusStays(house, open) {
  const page = await open();
  const focus = () => page.evaluate(() => document.activeElement.id || document.activeElement.dataset.key || document.activeElement.tagName);
  for (const part of ["week", "write", "lamp", "now"]) {
    await page.locator(`nav a[href="#${part}"]`).focus();
    await page.keyboard.press("Enter");
    await page.waitForSelector(`#${part}:not([hidden])`);
    const title = part === "now" ? "playing" : part + "-title";
    expect(await until(async () => (await focus()) === title), `who goes to ${part} to be at its head, not at ${await focus()}`);
  }
  await go(page, "week");
  await page.locator(".jump").focus();
  await page.keyboard.press("Enter");
  expect((await focus()) === "main" && await page.locator("#week").isVisible(), `the jump to the content to stay on the page: ${await focus()}`);
  await go(page, "now");
  await page.locator('#routines [data-key="hues"]').focus();
  writeFileSync(house.file, HOME + "routine ember { paint #ff3a00 * 5% }\n");
  await until(async () => /ember/.test(await text(page, "routines")));
  expect((await focus()) === "hues", `a new file to leave the focus where it was, not at ${await focus()}`);
  await page.keyboard.press("Enter");
  await until(async () => page.locator("#undo").isVisible());
  await page.locator("#undo").focus();
  await page.keyboard.press("Enter");
  await until(async () => !(await page.locator("#undo").isVisible()));
  expect((await focus()) !== "BODY", "the focus not to be lost with what is taken back");
  // Tab can be undone by the field's own undo
  await go(page, "write");
  await until(async () => (await page.locator("#text").inputValue()).includes("routine"));
  await page.locator("#text").focus();
  const before = await page.locator("#text").inputValue();
  await page.keyboard.press("Tab");
  expect((await page.locator("#text").inputValue()).startsWith("    place"), "Tab to indent");
  await page.keyboard.press("Control+z");
  expect((await page.locator("#text").inputValue()) === before, "the field's own undo to take an indent back");
}

const PLACE = 'place 51.45, -2.59 zone "Europe/London"\n';
await housed(PLACE + GLOW, sunIsAskedOnce);
await housed(null, lightFollowsTheFinger);
await housed(null, undoLeavesOthersAlone);
await housed(null, undoTakesWhatItNames);
await housed(null, figuresAreTheLamps);
await housed(null, nothingIsDoneBlindly);
await housed(HOME.replace(/^.* on lamp window.*$/gm, ""), choiceStays);
await housed(null, lampOfALevel);
await housed(GLOW, bandsComeLater);
await housed(null, weekComesLater);
await housed(GLOW, startIsWaitedFor);
await housed(GLOW, keptStaysSaid);
await housed(GLOW, nothingKeptIsTold);
await housed(GLOW, undoKeepsWhatIsTyped);
await housed(GLOW, storedTextSurvivesAFailure);
await housed(GLOW, checkIsMadeAgain);
await housed(GLOW, longTextIsWritten);
await housed(null, previewGoesOn);
await housed(GLOW, usedFileHasItsOwnLines);
await housed(null, friendIsToldOfErrors);
await housed(null, lateWeeks);
await housed(null, presentGoesOn);
await housed(null, lampsClockCounts);
process.env.TZ = "Europe/London"; // of the lamp's machine
await housed(GLOW + "at 19:30 play glow\nuntil clock is set play glow\n", timesAreTheLamps);
delete process.env.TZ;
await housed(null, latePicture);
await housed(GLOW, lampComesBack);
await housed(null, draftsAreForgotten);
await housed(null, endedSession, ["--pairing", "code"]);
await housed(null, dialogsGoWithTheirPart);
await housed(null, dialogsGoWithTheSession, ["--pairing", "code"]);
await housed(GLOW, silenceIsNoticed);
await housed(null, focusStays);
expect(heard.filter((one) => !/ERR_|EventSource|fetch/.test(one)).length === 0, `no errors and no requests elsewhere: ${heard.join("; ")}`);
await chrome.close();
close();
