// SPDX-License-Identifier: MIT
// Reports in a real browser, opened from disk: no message on the console, no request, no fault of accessibility, keyboard, telephone
// and desk, day and night, paper. usage: node test_reports.mjs FOLDER REPORT.html...; pictures of the screen go to FOLDER.
// CHROMIUM names the browser (/usr/bin/chromium).
import { createRequire } from "node:module";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { pathToFileURL } from "node:url";

const [folder, ...reports] = process.argv.slice(2);
const require = createRequire(import.meta.url);
const { chromium } = require("playwright-core");
const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

let passed = 0, failed = 0;
function check(what, fine, told = "") {
  if (fine) { passed += 1; return; }
  failed += 1;
  console.error(`FAILED: ${what}${told ? ": " + told : ""}`);
}

const profile = fs.mkdtempSync(path.join(os.tmpdir(), "arris-browser-"));
const browser = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  headless: true,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});

async function opened(report, { width, height = 900, dark = false }) {
  const page = await browser.newPage();
  const messages = [], requests = [];
  page.on("console", (m) => { if (m.type() !== "debug") messages.push(m.text()); });
  page.on("pageerror", (e) => messages.push(String(e)));
  page.on("request", (r) => { if (!r.url().startsWith("data:")) requests.push(r.url()); });
  await page.setViewportSize({ width, height });
  await page.emulateMedia({ colorScheme: dark ? "dark" : "light" });
  await page.goto(pathToFileURL(path.resolve(report)).href);
  return { page, messages, requests };
}

for (const report of reports) {
  const name = path.basename(report, ".html");
  for (const { width, dark } of [{ width: 390, dark: false }, { width: 1280, dark: false }, { width: 390, dark: true }]) {
    const where = `${name} at ${width}${dark ? ", dark" : ""}`;
    const { page, messages, requests } = await opened(report, { width, dark });

    check(`${where}: it asks for nothing but itself`, requests.length === 1 && requests[0].startsWith("file:"), requests.slice(1).join(" "));
    const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    check(`${where}: nothing sticks out to the right`, over <= 0, `${over} px`);

    // pictures are seen, one width of each, and their letters can be read
    const pictures = await page.evaluate(() => {
      const seen = [...document.querySelectorAll("svg")].filter((s) => s.getClientRects().length > 0 && s.closest("figure"));
      const small = [];
      for (const s of seen) {
        const scale = s.getBoundingClientRect().width / s.viewBox.baseVal.width;
        for (const t of s.querySelectorAll("text")) {
          const size = parseFloat(getComputedStyle(t).fontSize) * scale;
          if (size < 9.5) small.push(`${t.textContent}: ${size.toFixed(1)} px`);
        }
      }
      return { count: seen.length, small };
    });
    check(`${where}: there are pictures`, pictures.count > 0);
    check(`${where}: letters in pictures are 9.5 px high or more`, pictures.small.length === 0, pictures.small.slice(0, 3).join("; "));

    // everything open, as a reader who opens all would have it
    await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
    for (const button of await page.$$(".live button")) await button.click();
    await page.addScriptTag({ content: axe });
    const result = await page.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"] }));
    for (const v of result.violations)
      check(`${where}: accessible`, false, `${v.id} (${v.impact}) ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(" | ")}`);
    check(`${where}: rules of accessibility were applied`, result.passes.length > 10, String(result.passes.length));
    check(`${where}: no message on the console`, messages.length === 0, messages.slice(0, 3).join(" | "));
    await page.close();

    const shot = await opened(report, { width, dark });
    await shot.page.screenshot({ path: path.join(folder, `${name}-${width}${dark ? "-dark" : ""}.png`), fullPage: true, timeout: 120_000 });
    await shot.page.close();
  }

  // keyboard alone: the first stop leads to the answer, every lid opens by Enter
  {
    const { page } = await opened(report, { width: 1280 });
    await page.keyboard.press("Tab");
    check(`${name}: the first stop leads to the answer`, (await page.evaluate(() => document.activeElement.className)) === "skip");
    let lid = false;
    for (let i = 0; i < 60 && !lid; ++i) {
      await page.keyboard.press("Tab");
      lid = await page.evaluate(() => document.activeElement.tagName === "SUMMARY");
    }
    check(`${name}: a table is reached by the keyboard`, lid);
    await page.keyboard.press("Enter");
    check(`${name}: Enter opens it`, await page.evaluate(() => document.activeElement.parentElement.open === true));
    check(`${name}: where the keyboard is can be seen`, await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle !== "none"));

    // a chart opens by the keyboard and draws something
    const button = await page.$(".live button");
    if (button) {
      await button.focus();
      await page.keyboard.press("Enter");
      check(`${name}: a chart opens`, (await page.$$(".live .uplot canvas")).length > 0);
      const inked = await page.evaluate(() => {
        const c = document.querySelector(".live canvas");
        const d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
        let n = 0;
        for (let i = 3; i < d.length; i += 4) n += d[i] > 0 ? 1 : 0;
        return n / (d.length / 4);
      });
      check(`${name}: and draws a curve`, inked > 0.01, String(inked));
      await page.screenshot({ path: path.join(folder, `${name}-chart.png`), fullPage: false });
    }
    await page.close();
  }

  // paper: on light ground even where the screen is dark, with the folded parts
  {
    const { page, messages } = await opened(report, { width: 800, dark: true });
    await page.emulateMedia({ media: "print", colorScheme: "dark" });
    const ground = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    check(`${name}: paper stays light`, /rgb\(2[0-9]{2}, 2[0-9]{2}, 2[0-9]{2}\)/.test(ground), ground);
    await page.pdf({ path: path.join(folder, `${name}.pdf`), format: "A4" });
    check(`${name}: it prints`, fs.statSync(path.join(folder, `${name}.pdf`)).size > 20000 && messages.length === 0, messages.join(" | "));
    await page.close();
  }
}

// without a script the pictures are there all the same
{
  const bare = await chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
  const context = await bare.newContext({ javaScriptEnabled: false });
  const page = await context.newPage();
  await page.goto(pathToFileURL(path.resolve(reports[0])).href);
  check("without scripts: the chart stays away", (await page.locator(".live:visible").count()) === 0);
  check("without scripts: the pictures are there", (await page.locator("figure svg:visible").count()) > 0);
  await bare.close();
}

await browser.close();
fs.rmSync(profile, { recursive: true, force: true });
console.log(`${passed} passed, ${failed} failed; pictures of the screen are in ${folder}`);
process.exit(failed > 0 ? 1 : 0);
