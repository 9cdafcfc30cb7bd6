// The page as a person uses it: node use.mjs GLOAM. Every control by touch and by key at three sizes,
// names for a screen reader, axe at WCAG 2.2 AA in both themes, two phones, a lamp that restarts, a
// slow network. With PICTURES=folder the screens are kept there.
import { writeFileSync } from "node:fs";
import { House, browser, expect, close, until, HOME } from "./house.mjs";
import { openPage, go, judge, measureTargets, picture } from "./screen.mjs";

const house = new House(process.argv[2]);
await house.start();
const chrome = await browser();
const heard = [];

const open = (width, height, looks, more) => openPage(chrome, house, heard, width, height, looks, more);
const plays = async (lamp = 0) => (await house.state()).lamps[lamp].plays;
const press = async (page, target, touch) => (touch ? page.locator(target).first().tap() : (await page.locator(target).first().focus(), page.keyboard.press("Enter")));

// -------- what is used in the dark --------

async function useNow(page, touch, how) {
  await press(page, '#routines [data-key="hues"]', touch);
  expect(await until(async () => (await plays()) === "hues"), `a routine to play by one ${how}`);
  expect(await until(async () => (await page.locator("#playing").textContent()) === "hues"), `the screen to tell what plays (${how})`);
  expect(await until(async () => page.locator("#undo").isVisible()), `undo to be offered (${how})`);
  await press(page, "#more", touch);
  expect(await until(async () => (await house.state()).by_hand.some((one) => /15min more/.test(one.what))), `15 more minutes (${how})`);
  await until(async () => page.locator("#undo").isVisible());
  await press(page, "#undo", touch);
  expect(await until(async () => !(await house.state()).by_hand.some((one) => /15min more/.test(one.what))), `undo to take the last act back (${how})`);
  await press(page, "#skip", touch);
  expect(await until(async () => (await house.state()).by_hand.some((one) => /^skip/.test(one.what))), `skip the next (${how})`);
  await press(page, "#level-less", touch);
  expect(await until(async () => (await house.state()).lamps[0].level.lightness === 95), `the level by its button (${how})`);
  if (touch) {
    const box = await page.locator("#level").boundingBox();
    await page.touchscreen.tap(box.x + box.width * 0.5, box.y + box.height / 2);
  } else {
    await page.locator("#level").focus();
    for (let i = 0; i < 45; i++) await page.keyboard.press("ArrowLeft");
  }
  expect(await until(async () => Math.abs((await house.state()).lamps[0].level.lightness - 50) < 4), `the level by its slider (${how}): ${(await house.state()).lamps[0].level.lightness}`);
  await press(page, "#events button", touch);
  expect(await until(async () => (await plays()) === "hues"), `an event of the file (${how})`);
  if (touch) await page.locator('input[name="for"][value="30min"]').tap();
  else { await page.locator('input[name="for"]:checked').focus(); await page.keyboard.press("ArrowRight"); }
  await press(page, '#routines [data-key="nightlight"]', touch);
  expect(await until(async () => (await house.state()).by_hand.some((one) => one.what.startsWith("nightlight for 30min"))), `a routine for half an hour (${how}): ${JSON.stringify((await house.state()).by_hand)}`);
  await press(page, "#off", touch);
  expect(await until(async () => (await plays()) === "off"), `off (${how})`);
  const dials = page.locator("#dials input");
  expect((await dials.count()) === 4, `four dials to be shown, not ${await dials.count()}`);
  await page.locator("#dials input[type=range]").first().focus();
  await page.keyboard.press("End");
  expect(await until(async () => (await house.state()).dials[0].says === "10%"), `a dial by keys (${how})`);
  await press(page, "#dials input[type=checkbox]", false);
  await page.locator("#dials input[type=checkbox]").press("Space");
  expect(await until(async () => (await house.state()).dials[2].says === "false"), `a switch (${how})`);
  await page.locator("#dials input[type=color]").fill("#00ff80");
  expect(await until(async () => (await house.state()).dials[1].value[0] < 0.01), `a colour (${how})`);
  for (let round = 0; round < 40; round++) {
    const list = (await house.state()).by_hand;
    if (!list.length) break;
    // a level that was drawn along is one line, which tells the last of them
    const line = page.locator("#hand li span").first();
    await until(async () => { const words = await line.textContent(); return list.some((one) => one.what === words); });
    await press(page, '#hand button[aria-label^="Clear"]', touch);
    await until(async () => (await house.state()).by_hand.length < list.length);
  }
  const last = (await house.state()).undo;
  expect(await until(async () => (await page.locator("#hand").textContent()).includes(last)), `what would be taken back to be told: ${last} (${how})`);
  expect((await house.state()).by_hand.length === 0, `what was done by hand to be cleared one by one (${how}): ${JSON.stringify((await house.state()).by_hand)}`);
  await page.evaluate(() => fetch("/v1/acts", { method: "POST", headers: { "Content-Type": "application/json" }, body: '{"act":"set calm = true"}' }));
  await until(async () => { await page.locator('input[name="for"][value=""]').check({ force: true }); return true; });
}

async function useLamps(page) {
  await page.locator('#lamps label:has-text("window")').click();
  await page.locator('#routines [data-key="window_glow"]').click();
  expect(await until(async () => (await plays(1)) === "window_glow" && (await plays(0)) !== "window_glow"), "the other lamp to play alone");
  const lit = await until(async () => page.evaluate(() => {
    const canvas = document.getElementById("light"), data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
    let most = 0;
    for (let i = 0; i < data.length; i += 4) if (data[i + 3]) most = Math.max(most, data[i]);
    return most > 60;
  }));
  expect(lit, "the light of that lamp to be drawn");
  await page.locator("#undo").click();
  await page.locator('#lamps label:has-text("lantern")').click();
}

// -------- writing --------

async function useWrite(page, how) {
  await go(page, "write");
  const field = page.locator("#text");
  expect(await until(async () => (await field.inputValue()) === HOME || (await field.inputValue()).includes("routine daybreak")), `the text of the lamp (${how})`);
  expect(await until(async () => (await page.locator("#paint .t-word").count()) > 20), `colours by the lexer (${how})`);
  expect((await page.locator("#gutter").textContent()).includes("20"), `line numbers (${how})`);
  const before = await field.inputValue();
  await field.fill(before.replace("* 70% }", "* 7s }"));
  expect(await until(async () => (await page.locator("#mistakes .error-line").count()) === 1), `a mistake to be told (${how})`);
  expect(await until(async () => (await page.locator("#paint .error").count()) >= 1), `it to be underlined (${how})`);
  expect(await page.locator("#keep").isDisabled(), `a text that is wrong not to be kept (${how})`);
  await page.locator("#mistakes .error-line").click();
  const at = await field.evaluate((element) => element.value.slice(0, element.selectionStart).split("\n").length);
  expect(at === 12, `the mistake to be found by a touch, not line ${at} (${how})`);
  const changed = before.replace("* 70% }", "* 50% }");
  await field.fill(changed);
  expect(await until(async () => !(await page.locator("#keep").isDisabled())), `a text that is right to be offered (${how})`);
  await page.locator("#draft-routine").selectOption("hues");
  expect(await until(async () => page.evaluate(() => {
    const canvas = document.getElementById("draft-light"), data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
    const seen = new Set();
    for (let i = 0; i < data.length; i += 4) if (data[i] + data[i + 1] + data[i + 2] > 150) seen.add(data[i] >> 5);
    return seen.size > 2;
  })), `a preview in the lamp's shape (${how})`);
  await page.locator("#draft-play").click();
  expect(await until(async () => (await page.locator("#draft-at").textContent()) !== "0:00"), `the preview to move (${how})`);
  await page.locator("#draft-play").click();
  await page.locator("#try").click();
  expect(await until(async () => ((await house.state()).trial || {}).routine === "hues"), `a trial (${how})`);
  await go(page, "now");
  expect(await until(async () => page.locator("#trial").isVisible()), `a trial to be told (${how})`);
  await page.locator("#trial-end").click();
  expect(await until(async () => (await house.state()).trial === null), `a trial to be stopped (${how})`);
  await go(page, "write");
  await page.locator("#keep").click();
  expect(await until(async () => house.text() === changed), `the text to be kept (${how})`);
  expect(await until(async () => (await page.locator("#versions li").count()) >= 2), `a version more (${how})`);
  await page.locator("#undo-keep").click();
  expect(await until(async () => house.text() === before), `a keep to be taken back (${how})`);
  await until(async () => (await field.inputValue()) === before);
}

async function useFiles(page) {
  await go(page, "write");
  await page.locator("#file").setInputFiles({ name: "wrong.gloam", mimeType: "text/plain", buffer: Buffer.from("routine ember { paint 2s + 30% }\n") });
  expect(await until(async () => /wrong in 1 place.*line 1/.test(await page.locator("#friend-says").textContent())), "a wrong file from a friend to be told before anything is done");
  await page.locator("#friend-leave").click();
  await page.locator("#file").setInputFiles({ name: "friend.gloam", mimeType: "text/plain", buffer: Buffer.from("routine ember { paint #ff3a00 * 5% }\n") });
  expect(await until(async () => /right/.test(await page.locator("#friend-says").textContent()) && (await page.locator("#friend-routines canvas").count()) === 1), `a file from a friend to be checked and shown: ${await page.locator("#friend-says").textContent()}`);
  await page.locator("#friend-add").click();
  expect(await until(async () => (await page.locator("#draft-routine option").allTextContents()).includes("ember")), "a file from a friend to be joined");
  await page.locator("#again").click();
  await until(async () => !(await page.locator("#text").inputValue()).includes("ember"));
}

// -------- for everybody --------

async function readAloud(page) {
  const tree = await page.locator("body").ariaSnapshot();
  for (const name of ['slider "Level"', 'button "Darker"', 'button "Brighter"', 'button "15 more minutes', 'button "Skip the next', 'button "Off', 'heading "', 'link "Week"', 'slider "How bright the night light is"', 'radiogroup "For how long"', 'radio "lantern"'])
    expect(tree.includes(name), `a screen reader to hear ${name}: ${tree.slice(0, 1500)}`);
}

// Names as long as they may be, many of them: all stays on the narrowest screen, and Undo too.
async function useLongNames() {
  const name = (kind, i) => `${kind}${String(i).padStart(2, "0")}${"m".repeat(57)}`, numbers = (count) => Array.from({ length: count }, (_, i) => i);
  const long = new House(process.argv[2]);
  writeFileSync(long.file, [
    'place 51.45, -2.59 zone "Europe/London"',
    ...numbers(16).map((i) => `lamp ${name("l", i)} { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" universe ${i + 1} supply 5V 1A }`),
    ...numbers(12).map((i) => `dial ${name("d", i)} = ${["10% from 0% to 100%", "#ff8800", "true"][i % 3]}`),
    ...numbers(3).map((i) => `event ${name("e", i)}`),
    ...numbers(30).map((i) => `routine ${name("r", i)} { paint gold * ${name("d", 3 * (i % 4))} }`),
    `at 03:10 play ${name("r", 0)} on lamp ${name("l", 0)}`,
    `at 19:30 play ${name("r", 1)} on lamp ${name("l", 0)}`,
    `when ${name("e", 0)} play ${name("r", 2)} for 10s`,
    ""].join("\n"));
  await long.start();
  const page = await openPage(chrome, long, heard, 360, 640, "night");
  await page.locator("#routines button").first().dispatchEvent("click");
  expect(await until(async () => page.locator("#undo").isVisible()), "undo to be offered for a long name");
  await picture(page, "now-long", "night");
  await measureTargets(page, "now with long names");
  const undo = await page.locator("#undo").boundingBox(), foot = await page.locator("#foot").boundingBox();
  expect(undo.x >= 0 && undo.x + undo.width <= 360 && undo.y >= 0 && undo.y + undo.height <= 640, `undo to be on the screen: ${JSON.stringify(undo)}`);
  expect(foot.height < 0.55 * 640, `what stands below to leave most of the screen free, not to take ${foot.height} of 640 px`);
  await page.locator("#undo").tap().catch(() => {});
  expect(await until(async () => (await long.state()).by_hand.length === 0), "undo to be touched there");
  for (const part of ["week", "write", "lamp"]) {
    await go(page, part);
    if (part === "week") await page.locator("#days button").first().tap();
    if (part === "write") {
      await until(async () => (await page.locator("#text").inputValue()).includes("routine"));
      await page.locator("#text").fill((await page.locator("#text").inputValue()) + `routine zz { paint gold * ${"q".repeat(60)} }\n`);
      await until(async () => (await page.locator("#mistakes .error-line").count()) > 0);
    }
    await page.waitForTimeout(500);
    await picture(page, `${part}-long`, "night");
    await measureTargets(page, `${part} with long names`);
  }
  await page.context().close();
  await long.stop();
  long.end();
}
await useLongNames();

for (const [width, height] of [[360, 640], [390, 844], [1280, 800]]) {
  for (const looks of ["night", "day"]) {
    const page = await open(width, height, looks);
    const name = `${width}x${height} by ${looks}`;
    if (looks === "night") {
      await useNow(page, width < 800, width < 800 ? "touch" : "key");
      if (width === 390) { await useLamps(page); await readAloud(page); }
      if (width !== 360) await useWrite(page, `${width} px`);
      if (width === 390) await useFiles(page);
      await go(page, "now");
    } else if (width < 800) await useNow(page, false, `key at ${width} px`);
    if (width === 390) await page.locator('#routines [data-key="hues"]').click();
    for (const part of ["now", "week", "write", "lamp"]) {
      await go(page, part);
      await page.waitForTimeout(part === "now" ? 1500 : 700);
      if (width === 390) await picture(page, part, looks);
      await measureTargets(page, `${part}, ${name}`);
      if (width !== 360) await judge(page, `${part}, ${name}`);
    }
    if (width === 1280 && looks === "night") await go(page, "now"), await picture(page, "wide", looks);
    await page.context().close();
  }
}

// -------- night --------

const night = await open(390, 844, "night");
await night.evaluate(() => fetch("/v1/acts", { method: "POST", headers: { "Content-Type": "application/json" }, body: '{"act":"play nightlight"}' }));
await until(async () => (await night.locator("#playing").textContent()) === "nightlight");
await night.waitForTimeout(1200);
const luminance = await night.evaluate(async (shot) => {
  const image = new Image();
  image.src = "data:image/png;base64," + shot;
  await image.decode();
  const canvas = new OffscreenCanvas(image.width, image.height), context = canvas.getContext("2d");
  context.drawImage(image, 0, 0);
  const data = context.getImageData(0, 0, image.width, image.height).data;
  const linear = (c) => ((c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  let sum = 0;
  for (let i = 0; i < data.length; i += 4) sum += 0.2126 * linear(data[i]) + 0.7152 * linear(data[i + 1]) + 0.0722 * linear(data[i + 2]);
  return sum / (data.length / 4);
}, (await night.screenshot()).toString("base64"));
console.log(`measured: mean relative luminance of the first screen at night ${(100 * luminance).toFixed(2)} % of a white screen`);
expect(luminance < 0.03, `the page not to dazzle at night: ${luminance}`);

// -------- the week --------

await go(night, "week");
expect(await until(async () => (await night.locator("#days .day").count()) === 7), "seven days");
expect(/02:40 daybreak/.test(await night.locator("#days").textContent()), "the week to say what plays when");
await night.locator('#days button:has-text("daybreak")').first().click();
expect(/by 03:10/.test(await night.locator("#days .reason:visible").textContent()), "the week to say why");
await night.locator("#days canvas").nth(1).click({ position: { x: 330, y: 20 } });
expect(/20:10 nightlight: dusk is over/.test(await night.locator("#days .day").nth(1).locator(".reason:visible").textContent()), "a touch on the picture to say why");
await night.locator("#days-more").click();
expect(await until(async () => (await night.locator("#days .day").count()) === 14), "seven days more");
const ics = await night.evaluate(async () => (await fetch(document.getElementById("calendar").href)).text());
expect(ics.startsWith("BEGIN:VCALENDAR"), "the calendar by its link");

// -------- two phones, a restart, a slow network --------

const other = await open(390, 844, "night");
await go(night, "now");
await other.locator('#routines [data-key="hues"]').click();
expect(await until(async () => (await night.locator("#playing").textContent()) === "hues"), "the second phone to see what the first did");
await night.locator("#off").click();
expect(await until(async () => (await other.locator("#playing").textContent()) === "off"), "the first phone to see what the second did");
await house.stop();
expect(await until(async () => night.locator("#trouble").isVisible()), "a lamp that does not answer to be told");
await house.start();
expect(await until(async () => !(await night.locator("#trouble").isVisible())), "the page to find the lamp again");
await night.locator('#routines [data-key="nightlight"]').click();
expect(await until(async () => (await plays()) === "nightlight"), "the page to work after the restart");
const slow = await (await chrome.newContext({ viewport: { width: 390, height: 844 } })).newPage();
const session = await slow.context().newCDPSession(slow);
await session.send("Network.enable");
await session.send("Network.emulateNetworkConditions", { offline: false, latency: 400, downloadThroughput: 50e3, uploadThroughput: 20e3 });
const began = Date.now();
await slow.goto(house.url);
await slow.waitForSelector("#routines button");
console.log(`measured: with 400 ms of delay and 50 kB a second the first screen is there after ${((Date.now() - began) / 1000).toFixed(1)} s`);
await slow.locator('#routines [data-key="hues"]').click();
expect(await until(async () => (await plays()) === "hues"), "a routine to play over a slow network");
expect(heard.filter((one) => !/ERR_|EventSource|fetch/.test(one)).length === 0, `no errors and no requests elsewhere: ${heard.join("; ")}`);
await chrome.close();
await house.stop();
house.end();
close();
