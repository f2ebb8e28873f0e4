// Opens the report page in Chromium, as a file and served, and says what is wrong with it: one line of JSON for each check.
//
// Judges from outside: the browser itself (layout, console, requests, content policy) and axe-core (WCAG 2.2 A and AA, and
// its authors' best practice).
import { createRequire } from "node:module";
import { mkdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { join } from "node:path";

const wanted = JSON.parse(readFileSync(0, "utf8"));
const require = createRequire(join(wanted.modules, "package.json"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const say = (check, well, detail = "") => console.log(JSON.stringify({ check, well: Boolean(well), detail: String(detail).slice(0, 600) }));

const VIEWS = [
  { name: "phone-light", width: 360, height: 740, colorScheme: "light" },
  { name: "phone-dark", width: 360, height: 740, colorScheme: "dark" },
  { name: "desk-light", width: 1280, height: 900, colorScheme: "light" },
  { name: "desk-dark", width: 1280, height: 900, colorScheme: "dark" },
];

const browser = await chromium.launch({ executablePath: wanted.chromium, args: ["--no-sandbox"] });
try {
  for (const view of VIEWS) await judge(view);
} finally {
  await browser.close();
}

async function judge(view) {
  const at = `${wanted.name}, ${view.name}`;
  const context = await browser.newContext({ viewport: { width: view.width, height: view.height }, colorScheme: view.colorScheme });
  const page = await context.newPage();
  const loud = [], asked = [];
  page.on("console", (message) => { if (["error", "warning"].includes(message.type())) loud.push(message.text()); });
  page.on("pageerror", (error) => loud.push(String(error)));
  page.on("request", (request) => { if (!request.url().startsWith("data:")) asked.push(request.url()); });
  await page.goto(wanted.url, { waitUntil: "load" });
  await page.waitForTimeout(300);

  const own = new URL(wanted.url);
  const outside = asked.filter((url) => wanted.live ? new URL(url).origin !== own.origin : url !== wanted.url);
  say(`${at}: asks for nothing from outside`, outside.length === 0, outside);
  const size = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
  say(`${at}: is not scrolled sideways`, size[0] <= size[1], size);
  const scripts = await page.evaluate(() => document.scripts.length);
  say(`${at}: holds no script but its own`, scripts === (wanted.live ? 1 : 0), scripts);
  const ran = await page.evaluate(() => globalThis.ran ?? null);
  say(`${at}: runs nothing out of names and notes`, ran === null, ran);

  const text = await page.evaluate(() => document.body.innerText);
  for (const words of wanted.says) say(`${at}: says ${words}`, text.includes(words), "");
  const jobs = await page.$$eval("article h4", (heads) => heads.map((head) => head.textContent));
  say(`${at}: has the jobs in their order`, JSON.stringify(jobs) === JSON.stringify(wanted.jobs), jobs);
  const pictures = await page.$$eval("article img", (all) => all.map((one) => [one.complete && one.naturalWidth > 0, one.alt]));
  say(`${at}: shows every proof, with words for it`, pictures.length === jobs.length && pictures.every(([seen, alt]) => seen && alt), JSON.stringify(pictures));

  await page.evaluate(axe);
  const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  const violations = found.violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html).slice(0, 3).join(" | ")}`);
  say(`${at}: axe finds no violation (${found.passes.length} rules passed)`, violations.length === 0 && found.passes.length > 15, violations.join("; "));

  await keys(page, at);
  if (view.name === "desk-light") await links(page, at);
  if (wanted.shots) {
    mkdirSync(wanted.shots, { recursive: true });
    await page.screenshot({ path: join(wanted.shots, `${wanted.name}-${view.name}.png`), fullPage: true });
    if (view.name === "desk-light") await page.pdf({ path: join(wanted.shots, `${wanted.name}-print.pdf`), format: "A4", margin: { top: "1cm", bottom: "1cm", left: "1cm", right: "1cm" } });
  }
  if (wanted.live && view.name === "phone-light") await news(page, at);
  say(`${at}: nothing is complained of in the console`, loud.length === 0, loud);
  await context.close();
}

// Every link, box and excerpt is reached with the tabulator, in order, and is seen when it is.
async function keys(page, at) {
  const count = await page.evaluate(() => document.querySelectorAll("a[href], input, pre").length);
  await page.evaluate(() => { window.scrollTo(0, 0); document.activeElement.blur(); });
  const seen = [];
  for (let step = 0; step < count; step += 1) {
    await page.keyboard.press("Tab");
    seen.push(await page.evaluate(() => {
      const one = document.activeElement, box = one.getBoundingClientRect(), style = getComputedStyle(one);
      const inside = box.width > 0 && box.left >= 0 && box.right <= innerWidth + 1 && box.bottom > 0 && box.top < innerHeight;
      return { what: one.tagName + (one.getAttribute("href") ?? ""), well: inside && style.outlineStyle !== "none" };
    }));
  }
  const lost = seen.filter((one) => !one.well || !/^(A|INPUT|PRE)/.test(one.what));
  say(`${at}: all ${count} links are reached by keys and seen`, lost.length === 0 && seen[0].what === "A#sheet", JSON.stringify(lost));
}

// Every link leads to something.
async function links(page, at) {
  const all = await page.$$eval("a[href]", (links) => links.map((link) => [link.getAttribute("href"), link.href]));
  for (const [href, url] of all) {
    if (href.startsWith("#")) {
      const there = await page.evaluate((id) => document.getElementById(id) !== null, decodeURIComponent(href.slice(1)));
      say(`${at}: ${href} is on the page`, there);
      continue;
    }
    const bytes = url.startsWith("file:") ? readFileSync(fileURLToPath(url)) : Buffer.from(await (await fetch(url)).arrayBuffer());
    const signs = { pdf: "%PDF-1.", png: "\x89PNG", txt: "" };
    const sign = signs[href.split(".").pop()];
    say(`${at}: ${href} leads to what it says`, sign !== undefined && bytes.length > 100 && bytes.toString("latin1", 0, sign.length) === sign, bytes.length);
  }
  // Followed as a reader does.
  const first = page.locator("article a", { hasText: "Notes (text)" }).first();
  const [opened] = await Promise.all([page.waitForURL(/notes\.txt$/).then(() => true, () => false), first.click()]);
  say(`${at}: a link is followed by a click`, opened);
  await page.goBack();
}

// A page that is served finds a new job by itself, and stays when it is told to.
async function news(page, at) {
  const link = page.locator("article a").nth(2);
  await link.focus();
  const held = await link.getAttribute("href");
  console.log(JSON.stringify({ ask: "job" }));
  const found = await page.waitForFunction((count) => document.querySelectorAll("article").length > count, wanted.jobs.length, { timeout: 180000 }).then(() => true, () => false);
  const now = await page.$$eval("article h4", (heads) => heads.map((head) => head.textContent));
  say(`${at}: a new job comes onto the page by itself`, found && now.some((name) => name.startsWith("late-")), now);
  wanted.jobs = now;
  const kept = await page.evaluate(() => document.activeElement.getAttribute("href"));
  say(`${at}: and what was in focus still is`, kept === held, `${held} ${kept}`);
  say(`${at}: and it is said`, (await page.locator("#news").textContent()).startsWith("New at"));
}
