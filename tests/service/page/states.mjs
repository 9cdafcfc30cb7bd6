// What a page has to say when things are not as usual: node states.mjs GLOAM. Pairing, guests and
// invitations; a lamp that is not reached, a file that is wrong, no timetable; conflicts, and text
// that was not kept; clock changes; movement and flashes; dark and light by the sun.
import { writeFileSync } from "node:fs";
import { House, browser, expect, close, until, HOME } from "./house.mjs";
import { openPage, go, judge, measureTargets, picture } from "./screen.mjs";

const gloam = process.argv[2], chrome = await browser(), heard = [];
const wait = (milliseconds) => new Promise((done) => setTimeout(done, milliseconds));
async function housed(options, text, work) {
  const house = new House(gloam, options);
  if (text) writeFileSync(house.file, text);
  await house.start();
  try { await work(house); } finally { await house.stop(); house.end(); }
}
const act = (house, line) =>
  fetch(house.url + "v1/acts", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ act: line }) });

// -------- who may --------

async function pair(house, looks) {
  const page = await openPage(chrome, house, heard, 390, 844, looks, { wait: "#pair:not([hidden])" });
  expect(await page.locator("nav").isHidden(), "nothing else to be offered to who is not paired");
  await measureTargets(page, `pairing by ${looks}`);
  await judge(page, `pairing by ${looks}`);
  await picture(page, "pair", looks);
  return page;
}
async function usePairing(house) {
  await (await pair(house, "day")).context().close();
  const owner = await pair(house, "night");
  await owner.locator("#pair-show").tap();
  expect(await until(async () => /5 digits/.test(await owner.locator("#said").textContent())), "the page to say that the lamp shows a code");
  expect(await until(async () => owner.evaluate(() => document.activeElement.id === "pair-code")), "the code to be asked for at once");
  const code = /the code for 127\.0\.0\.1 is (\d+)/.exec(house.out)[1];
  await owner.locator("#pair-code").fill("99999999");
  await owner.locator("#pair-form button").tap();
  expect(await until(async () => (await owner.locator("#said-words").textContent()).length > 5), "a wrong code to be told");
  await owner.evaluate((text) => { // pasted, as WCAG 3.3.8 wants it to be possible
    const field = document.getElementById("pair-code");
    field.focus();
    field.select();
    document.execCommand("insertText", false, text);
  }, `${code.slice(0, 2)} ${code.slice(2)}`);
  await owner.locator("#pair-name").fill("phone by the bed");
  await owner.keyboard.press("Enter");
  expect(await until(async () => owner.locator("#routines button").first().isVisible()), "a phone with the code to be let in");
  await go(owner, "lamp");
  expect(await until(async () => /phone by the bed, this one/.test(await owner.locator("#sessions").textContent())), "the session to be listed");
  await owner.locator("#invite-guest").tap();
  await owner.waitForSelector("#invitation:not([hidden])");
  await judge(owner, "this lamp with an invitation");
  await measureTargets(owner, "this lamp with sessions");
  await useGuest(house, await owner.locator("#invitation").textContent());
  await go(owner, "now");
  await go(owner, "lamp");
  await owner.locator('#sessions button[aria-label*="the visitor"]').tap();
  expect(await until(async () => !/visitor/.test(await owner.locator("#sessions").textContent())), "a session to be ended");
  await owner.locator("#leave").tap();
  expect(await until(async () => owner.locator("#pair").isVisible()), "who leaves to be asked again");
  await owner.context().close();
}
async function useGuest(house, invitation) {
  const guest = await openPage(chrome, house, heard, 390, 844, "night", { wait: "#pair:not([hidden])" });
  await guest.locator("#pair-code").fill(invitation);
  await guest.locator("#pair-name").fill("the visitor");
  await guest.locator("#pair-form button").tap();
  await guest.waitForSelector("#routines button");
  expect(await until(async () => /guest/.test(await guest.locator("#notes").textContent())), "a guest to be told to be one");
  const open = await guest.evaluate(() => [...document.querySelectorAll("#hand-now button, #hand-now input, #routines button, #events button, #dials input")].filter((one) => !one.disabled).length);
  expect(open === 0, `nothing to be offered to a guest that a guest may not, not ${open} things`);
  await go(guest, "write");
  expect(await until(async () => guest.evaluate(() => document.getElementById("text").readOnly && document.getElementById("text").value.includes("daybreak"))), "a guest to read the text only");
  await guest.context().close();
}

// -------- what is not as usual --------

async function useLostPort(house) {
  const page = await openPage(chrome, house, heard, 360, 640, "night");
  expect(await until(async () => /not reached/.test(await page.locator("#notes").textContent())), `a lamp that is not reached to be told: ${await page.locator("#notes").textContent()}`);
  writeFileSync(house.file, "routine a { paint 2s + 30% }\n");
  house.child.kill("SIGHUP");
  expect(await until(async () => /file on the lamp is wrong.*cannot add/.test(await page.locator("#notes").textContent())), "a wrong file on the disk to be told");
  expect(await page.locator("#playing").textContent() !== "", "what plays still to be told");
  await judge(page, "a lamp with troubles");
  await page.context().close();
}
async function useNoTimetable(house) {
  const page = await openPage(chrome, house, heard, 390, 844, "night");
  expect(await page.locator("#length-entry").isHidden(), "the next entry not to be offered where there is none");
  expect(await page.locator("#skip").isDisabled() && await page.locator("#more").isDisabled(), "nothing to be held or skipped where nothing is");
  await page.locator("#routines button").first().tap();
  expect(await until(async () => (await page.locator("#playing").textContent()) === "glow"), "a routine to play for a time there");
  expect(await until(async () => /until \d\d:\d\d/.test(await page.locator("#why").textContent())), "until when to be told");
  await go(page, "week");
  expect(await until(async () => /no timetable/.test(await page.locator("#days").textContent())), "the week to say that there is no timetable");
  await page.context().close();
}

// -------- writing, by two --------

async function useConflict(house) {
  const page = await openPage(chrome, house, heard, 390, 844, "night");
  await go(page, "write");
  const field = page.locator("#text");
  await until(async () => (await field.inputValue()).includes("daybreak"));
  const mine = (await field.inputValue()).replace("* 70%", "* 60%"), theirs = HOME.replace("* 70%", "* 30%");
  await field.fill(mine);
  await until(async () => page.locator("#keep").isEnabled());
  writeFileSync(house.file, theirs);
  await page.locator("#keep").tap();
  expect(await until(async () => page.locator("#conflict").isVisible()), "a file that has changed meanwhile to be told");
  await judge(page, "writing");
  await page.locator("#conflict-leave").tap();
  expect((await field.inputValue()) === mine && house.text() === theirs, "nothing to be lost by that");
  await page.locator("#keep").tap();
  await page.locator("#conflict-theirs").tap();
  expect(await until(async () => (await field.inputValue()) === theirs), "theirs to be read");
  await page.locator("#undo").tap();
  expect(await until(async () => (await field.inputValue()) === mine), "mine to be brought back");
  await page.reload();
  await page.waitForSelector("#text:visible");
  expect(await until(async () => (await field.inputValue()) === mine), "what was not kept to be there after a reload");
  await field.evaluate((element) => {
    const data = new DataTransfer();
    data.items.add(new File(["routine ember { paint #ff3a00 * 5% }\n"], "friend.gloam"));
    element.dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
  });
  expect(await until(async () => /It is right/.test(await page.locator("#friend-says").textContent())), "a dropped file to be checked");
  await page.locator("#friend-leave").tap();
  // spans move with the text between two answers
  await page.route("**/v1/drafts", (route) => wait(1500).then(() => route.continue()));
  await field.evaluate((element) => { element.setRangeText("// new\n", 0, 0, "end"); element.dispatchEvent(new Event("input")); });
  const word = await page.locator("#paint .t-word").first().textContent();
  expect(word === "place", `colours to move with the text before the answer, not ${word}`);
  await page.keyboard.press("Escape");
  await page.context().close();
}

// -------- movement --------

// WCAG 2.3.1 counts pairs of opposing changes of 10 % of the greatest relative luminance, the darker
// image below 0.80. A sample is [milliseconds, least, most]: a code of a screen stands for light up to
// half a code off, and what may be a hair below the limit is not counted.
function flashes(samples) {
  let most = 0;
  for (let i = 0; i < samples.length; i++) {
    let turns = 0, extreme = samples[i], rising = null;
    for (let k = i; k < samples.length && samples[k][0] - samples[i][0] < 1000; k++) {
      const now = samples[k];
      if (rising !== true && now[1] - extreme[2] >= 0.1 && extreme[2] < 0.8) { turns++; rising = true; extreme = now; }
      else if (rising !== false && extreme[1] - now[2] >= 0.1 && now[2] < 0.8) { turns++; rising = false; extreme = now; }
      else if (rising === true ? now[2] > extreme[2] : rising === false ? now[1] < extreme[1] : false) extreme = now;
    }
    most = Math.max(most, Math.floor(turns / 2));
  }
  return most;
}
// by hand: black and white by turns for 100 ms each are five pairs in a second, a slow swing is none
const swing = (light) => Array.from({ length: 61 }, (_, i) => [i * 50, light(i), light(i)]);
expect(flashes(swing((i) => Math.floor(i / 2) % 2)) >= 4, "a fast flash to be counted");
expect(flashes(swing((i) => 0.11 * (Math.floor(i / 2) % 2))) >= 4, "a fast flash of 11 % to be counted");
expect(flashes(swing((i) => 0.85 + 0.15 * (Math.floor(i / 2) % 2))) === 0, "what is bright at its darkest not to be counted");
expect(flashes(swing((i) => i / 61)) === 0, "a slow rise not to be counted");
const watchCanvas = (page, selector, seconds) => page.evaluate(([what, end]) => new Promise((done) => {
  const canvas = document.querySelector(what), samples = [], began = performance.now();
  const linear = (c) => ((c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  const look = () => {
    const data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
    // of a spot the least of its neighbours, so that a rim where two things mix is no light of its own
    const luminance = (i, off) => {
      const [r, g, b] = [0, 1, 2].map((c) => linear(Math.min(255, Math.max(0, data[i + c] + off))));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    let found = -1, most = -1;
    for (let i = 0; i < data.length; i += 4) {
      if (data[i + 3] <= 200) continue;
      let darkest = i;
      for (const near of [i - 4, i + 4, i - 4 * canvas.width, i + 4 * canvas.width])
        if (near >= 0 && near < data.length && luminance(near, 0) < luminance(darkest, 0)) darkest = near;
      if (luminance(darkest, 0) > most) { found = darkest; most = luminance(found, 0); }
    }
    samples.push([performance.now() - began, ...(found < 0 ? [0, 0] : [luminance(found, -0.5), luminance(found, 0.5)])]);
    if (performance.now() - began < end * 1000) requestAnimationFrame(look);
    else done(samples);
  };
  look();
}), [selector, seconds]);
const spread = (samples) => Math.max(...samples.map((one) => one[1])) - Math.min(...samples.map((one) => one[1]));

async function useMovement(house) {
  const band = '#routines [data-key="beacon"] canvas';
  const still = await openPage(chrome, house, heard, 390, 844, "night");
  await still.waitForTimeout(800);
  expect(spread(await watchCanvas(still, band, 1.5)) < 0.001, "no thumbnail to move for who wants no movement");
  await still.context().close();
  const page = await openPage(chrome, house, heard, 390, 844, "night", { reducedMotion: "no-preference" });
  await until(async () => spread(await watchCanvas(page, band, 0.5)) > 0.1);
  const seen = await watchCanvas(page, band, 4);
  expect(spread(seen) > 0.1, "a thumbnail to move");
  expect(flashes(seen) <= 3, `a thumbnail to flash three times a second at most, not ${flashes(seen)}`);
  await go(page, "write");
  await page.locator("#draft-routine").selectOption("beacon");
  for (const speed of ["1", "60"]) {
    await page.locator("#draft-speed").selectOption(speed);
    if ((await page.locator("#draft-play").getAttribute("aria-label")) === "Play") await page.locator("#draft-play").tap();
    await page.waitForTimeout(1200);

    const shown = await watchCanvas(page, "#draft-light", 3);
    console.log(`measured: a preview of a lamp that flashes 3.3 times a second, ${speed} times as fast: ${flashes(shown)} flashes in the worst second, luminance between ${Math.min(...shown.map((one) => one[1])).toFixed(3)} and ${Math.max(...shown.map((one) => one[2])).toFixed(3)}`);
    expect(spread(shown) > 0.1, `a preview at speed ${speed} to move`);
    expect(flashes(shown) <= 3, `a preview at speed ${speed} to flash three times a second at most, not ${flashes(shown)}`);
  }
  await page.context().close();
}

// -------- the week in which clocks change, and the sun --------

async function useWeek(house) {
  const page = await openPage(chrome, house, heard, 390, 844, "night");
  await page.route("**/v1/week?days=7*", (route) => route.continue({ url: route.request().url() + "&from=2027-03-27" }));
  await go(page, "week");
  expect(await until(async () => /clocks change here: 01:00 becomes 02:00/.test(await page.locator("#days .day").nth(1).textContent())), "a change of the clocks to be told (28 March 2027, United Kingdom)");
  await page.context().close();
}
async function useSun(house) {
  const at = async (rises, sets, scheme) => {
    const context = await chrome.newContext({ viewport: { width: 390, height: 844 }, colorScheme: scheme });
    const page = await context.newPage();
    await page.route("**/v1/week?days=1", async (route) => {
      const answer = await route.fetch(), week = await answer.json();
      week.days[0].sun = { kind: "rises", rises: new Date(Date.now() + rises * 3600e3).toISOString(), sets: new Date(Date.now() + sets * 3600e3).toISOString() };
      await route.fulfill({ response: answer, json: week });
    });
    await page.goto(house.url);
    // before it knows the sun, which it keeps, the hour decides
    await until(async () => page.evaluate(() => /rises/.test(localStorage.getItem("gloam-sun"))));
    const theme = await page.evaluate(() => document.documentElement.dataset.theme);
    await context.close();
    return theme;
  };
  expect(await at(-3, 3, "light") === "day", "a light page while the sun is up");
  expect(await at(-9, -1, "light") === "night", "a dark page after sunset");
  expect(await at(1, 9, "light") === "night", "a dark page before sunrise");
  expect(await at(-3, 3, "dark") === "night", "a dark page where the phone is set to dark");
}

await housed(["--pairing", "code"], null, usePairing);
await housed(["--pairing", "none", "--wait"], HOME.replace('ws2812b port "e131:127.0.0.1"', 'ws2812b port "/dev/spidev9.9"'), useLostPort);
await housed(["--pairing", "none"], 'lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }\nroutine glow { paint gold * 20% }\n', useNoTimetable);
await housed(["--pairing", "none"], null, useConflict);
await housed(["--pairing", "none"], HOME + "routine beacon { paint black | white for 150ms each }\n", useMovement);
await housed(["--pairing", "none"], null, async (house) => { await useWeek(house); await useSun(house); });
expect(heard.filter((one) => !/ERR_|EventSource|fetch/.test(one)).length === 0, `no errors and no requests elsewhere: ${heard.join("; ")}`);
await chrome.close();
close();
