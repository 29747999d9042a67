// SPDX-License-Identifier: MIT
// The bench page in Debian's Firefox, from disk: that it opens, computes, keeps a reading, takes a workbook and gives one; that it fits a
// phone and a screen, by day and in the dark, by keyboard, without faults of accessibility. What it does in detail is held in
// Chromium by the other tests; touch is, too, which Firefox on a desktop does not have. ARRIS_PAGE, ARRIS_PROGRAM as in log.test.mjs; FIREFOX names the browser
// (/usr/bin/firefox-esr).
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { test } from "node:test";
import { firefox } from "playwright-core";
import { axe_file } from "./browser.mjs";

const program = resolve(process.env.ARRIS_PROGRAM);
const executablePath = process.env.FIREFOX ?? "/usr/bin/firefox-esr";

test("Firefox opens the page, keeps a reading, and takes and gives workbooks", { skip: !existsSync(executablePath) }, async () => {
  const folder = mkdtempSync(join(tmpdir(), "arris-firefox-"));
  const browser = await firefox.launch({ channel: "moz-firefox", executablePath, headless: true });
  try {
    const context = await browser.newContext({ viewport: { width: 390, height: 844 }, acceptDownloads: true });
    const page = await context.newPage();
    page.setDefaultTimeout(120_000);
    const said = [], asked = [];
    page.on("console", (m) => ["error", "warning"].includes(m.type()) && said.push(m.text()));
    page.on("pageerror", (e) => said.push(String(e)));
    page.on("request", (r) => asked.push(r.url()));
    await page.goto(pathToFileURL(resolve(process.env.ARRIS_PAGE)).href);
    await page.waitForSelector("body.ready");
    const reads = () => page.locator("#way-0 .reading output").textContent();
    const before_it = await reads();
    await page.getByRole("slider", { name: /Number of laps/ }).first().evaluate((s) => {
      s.value = 90;
      s.dispatchEvent(new Event("input", { bubbles: true }));
    });
    await page.waitForFunction((was) => document.querySelector("#way-0 .reading output").textContent !== was, before_it);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), "wider than the screen");

    await page.locator("#log-block > summary").click();
    await page.locator("#reading").fill("171");
    await page.locator("#log-enter").click();
    const count = () => page.evaluate(() => window.arrisBench.store.rows().length);
    await page.waitForFunction(() => window.arrisBench.store.rows().length === 1);
    await page.reload();
    await page.waitForSelector("body.ready");
    assert.equal(await count(), 1);

    const csv = join(folder, "june.csv"), book = join(folder, "june.xlsx");
    writeFileSync(csv, "edge,passes,reading_gf,date\nfirst way,0,180.5,2025-06-03\nfirst way,0,181,2025-06-04\n");
    execFileSync(program, ["import", csv, "--out", book], { stdio: "pipe" });
    if (!(await page.locator("#log-save-workbook").isVisible())) await page.locator("#log-block > summary").click();
    await page.setInputFiles("#log-files", book);
    await page.waitForFunction(() => window.arrisBench.store.rows().length === 3);
    const written = await page.evaluate(() => {
      const bytes = window.arrisBench.exportedWorkbook(window.arrisBench.store.rows());
      return Array.from(bytes);
    });
    writeFileSync(join(folder, "out.xlsx"), Uint8Array.from(written));
    const read = execFileSync(program, ["import", join(folder, "out.xlsx")], { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
    assert.match(read, /,171,/);
    assert.match(read, /,180\.5,.*2025-06-03/);

    // numbers are pale while they are worked out anew
    await page.waitForFunction(() => !document.querySelector("#results.stale"), null, { timeout: 60_000 });
    await page.addScriptTag({ content: readFileSync(axe_file, "utf8") });
    const faults = await page.evaluate(async () => (await window.axe.run(document, { resultTypes: ["violations"] })).violations.map((v) => v.id));
    assert.deepEqual(faults, []);
    assert.deepEqual(said, []);
    assert.deepEqual(asked.filter((url) => !/^(file|data|blob):/.test(url)), []);
  } finally {
    await browser.close();
    rmSync(folder, { recursive: true });
  }
});

// the dark is a setting of this browser, which a context cannot change
for (const scheme of ["light", "dark"]) {
  test(`Firefox shows the page at 390 and 1280 px, ${scheme}, by keyboard and on paper`, { skip: !existsSync(executablePath) }, async () => {
    const browser = await firefox.launch({ channel: "moz-firefox", executablePath, headless: true,
      firefoxUserPrefs: { "layout.css.prefers-color-scheme.content-override": scheme === "dark" ? 0 : 1 } });
    try {
      for (const [width, height] of [[390, 844], [1280, 900]]) {
        const context = await browser.newContext({ viewport: { width, height } });
        const page = await context.newPage();
        page.setDefaultTimeout(120_000);
        await page.goto(pathToFileURL(resolve(process.env.ARRIS_PAGE)).href);
        await page.waitForSelector("body.ready");
        assert.equal(await page.evaluate(() => matchMedia("(prefers-color-scheme: dark)").matches), scheme === "dark");
        await page.locator("#log-block > summary").focus();
        await page.keyboard.press("Enter");
        await page.locator("#reading").focus();
        await page.keyboard.type("181,5");
        await page.keyboard.press("Enter");
        await page.waitForFunction(() => window.arrisBench.store.rows().at(-1)?.reading_gf === "181.5");
        await page.evaluate(() => document.querySelectorAll("details.part").forEach((d) => (d.open = true)));
        await page.waitForFunction(() => !document.querySelector("#results.stale"));
        await page.addScriptTag({ content: readFileSync(axe_file, "utf8") });
        const faults = await page.evaluate(async () => (await window.axe.run(document, { resultTypes: ["violations"] })).violations.map((v) => `${v.id}: ${v.nodes[0].html.slice(0, 120)}`));
        assert.deepEqual(faults, []);
        assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), "wider than the screen");
        const printed = await page.pdf();
        assert.ok(printed.subarray(0, 5).toString() === "%PDF-" && printed.length > 30_000, `${printed.length} bytes were printed`);
        await context.close();
      }
    } finally {
      await browser.close();
    }
  });
}
