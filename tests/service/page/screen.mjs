// A page as it is opened, looked at and judged by every test of it.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { expect, watch } from "./house.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

// heard: what must not be heard of; wait: what has to be there first
export async function openPage(chrome, house, heard, width, height, looks, { wait = "#routines button", ...more } = {}) {
  const context = await chrome.newContext({ viewport: { width, height }, hasTouch: width < 800, isMobile: width < 800, reducedMotion: "reduce", ...more });
  const page = await context.newPage();
  page.setDefaultTimeout(20000);
  watch(page, house, heard);
  await page.addInitScript((choice) => { if (!localStorage.getItem("gloam-looks")) localStorage.setItem("gloam-looks", choice); }, looks);
  await page.goto(house.url);
  await page.waitForSelector(wait);
  return page;
}

export async function go(page, part) {
  await page.locator(`nav a[href="#${part}"]`).click();
  await page.waitForSelector(`#${part}:not([hidden])`);
}

export async function judge(page, name) {
  await page.evaluate(axe); // by the browser's own console, which the lamp's CSP does not bind
  const found = await page.evaluate((tags) => axe.run(document, { runOnly: tags }), TAGS);
  const told = found.violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.target + " " + (node.any[0] || {}).message).join(", ")}`);
  expect(told.length === 0, `axe to find nothing on ${name}: ${told.join("; ")}`);
  expect(found.passes.length > 10, `axe to have looked at ${name}`);
}

export async function measureTargets(page, name) {
  const small = await page.evaluate(() => [...document.querySelectorAll("button, a, input, select, label.button")]
    .filter((element) => element.checkVisibility({ opacityProperty: false, visibilityProperty: true }) && !element.closest(".jump") && !element.classList.contains("hidden") && !element.disabled)
    .map((element) => [element.id || element.textContent || element.type, element.getBoundingClientRect()])
    .filter(([, box]) => box.width > 0 && (box.height < 43.9 || box.width < 43.9)).map(([what, box]) => `${what} ${Math.round(box.width)}x${Math.round(box.height)}`));
  expect(small.length === 0, `each target to have 44 px at least on ${name}: ${small.join(", ")}`);
  // a phone makes its window as wide as what is on it
  const wide = await page.evaluate(() => document.documentElement.scrollWidth), screen = page.viewportSize().width;
  expect(wide <= screen, `${name} not to be wider than the screen: ${wide} of ${screen} px`);
}

const KEEP = process.env.PICTURES;
export async function picture(page, part, looks) {
  if (KEEP) await page.screenshot({ path: `${KEEP}/page-${part}-${looks}.png` });
}
