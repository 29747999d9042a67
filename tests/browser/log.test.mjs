// SPDX-License-Identifier: MIT
// The log of readings in the bench page, in a real browser, from disk: entering, what can go wrong with the browser's storage, and what
// leaves and enters it. The same variables as page.test.mjs.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { after, before, test } from "node:test";
import { axe_file, openBrowser } from "./browser.mjs";

const page_file = pathToFileURL(resolve(process.env.ARRIS_PAGE)).href;
const program = resolve(process.env.ARRIS_PROGRAM);
const pictures = process.env.ARRIS_SCREENSHOTS ? resolve(process.env.ARRIS_SCREENSHOTS) : null;
const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
let browser, folder;

before(async () => {
  browser = await openBrowser();
  folder = mkdtempSync(join(tmpdir(), "arris-log-"));
  if (pictures) mkdirSync(pictures, { recursive: true });
});
after(async () => {
  await browser.close();
  rmSync(folder, { recursive: true });
});

const bench = `title = "Log"
[tool.t]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
[edge.one]
tool = "t"
steps = [{ hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = true }, { read = "off the stone", replicates = 2 }, { strop = "felt", compound = "diamond 1 µm", laps = 20 }, { read = "stropped" }, { cut = "white oak", passes = 100 }, { read = "after 100" }]
[edge.two]
tool = "t"
steps = [{ hone = "soft waterstone, JIS #4000", strokes = 20, after_burr = true }, { read = "off the stone" }, { cut = "white oak", passes = 100 }]
`;

/** A page of `context`, ready, with the bench above and the log unfolded. */
async function openIn(context, { fresh = true } = {}) {
  const page = await context.newPage();
  page.setDefaultTimeout(120_000); // machines that are busy are slow
  const said = [];
  page.on("console", (m) => ["error", "warning"].includes(m.type()) && said.push(m.text()));
  page.on("pageerror", (e) => said.push(String(e)));
  await page.goto(page_file);
  await page.waitForSelector("body.ready");
  if (fresh) {
    const file = join(folder, "log.toml");
    writeFileSync(file, bench);
    await page.setInputFiles("#files", file);
    await page.waitForFunction(() => document.querySelector("#title").textContent === "Log");
  }
  await page.locator("#log-block > summary").click();
  return { page, said };
}
async function open(options = phone, init = null) {
  const context = await browser.newContext({ acceptDownloads: true, ...options });
  if (init) await context.addInitScript(init);
  return { context, ...(await openIn(context)), close: () => context.close() };
}

const tap = async (page, digits) => {
  for (const d of digits) await page.getByRole("button", { name: d === "." ? "decimal point" : d, exact: true }).tap();
};
const writeDown = async (page, digits) => {
  await tap(page, digits);
  await page.getByRole("button", { name: "Write it down" }).tap();
  await page.waitForFunction((value) => document.querySelector("#log-told").textContent.startsWith(`${value} gf written down`), String(Number(digits)));
};
const now = (page) => page.locator("#log-now").textContent();
const rows = (page) => page.evaluate(() => window.arrisBench.store.rows());
async function csvOf(page) {
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#log-save").click()]);
  const file = join(folder, `${Math.random()}.csv`);
  await download.saveAs(file);
  return file;
}

test("readings are written down with large keys, each next moment is offered, and all is there after a reload", async () => {
  const { page, said, close } = await open();
  assert.equal(await now(page), "one · off the stone · reading 1 of 2");
  assert.match(await page.locator("#log-before").textContent(), /hone on soft waterstone, JIS #1000, 20 strokes after the burr/);
  for (const key of await page.locator(".pad").all()) {
    const { width, height } = await key.boundingBox();
    assert.ok(width >= 60 && height >= 56, "a key is too small for a wet finger");
  }
  await writeDown(page, "176");
  assert.equal(await now(page), "one · off the stone · reading 2 of 2");
  await writeDown(page, "181.5");
  assert.match(await now(page), /^one · stropped · reading 1/);
  assert.match(await page.locator("#log-before").textContent(), /strop on felt.*20 laps/);
  await writeDown(page, "98");
  // undo: the moment comes back, and the reading stays as taken back
  await page.locator("#log-undo").tap();
  await page.waitForFunction(() => /stropped/.test(document.querySelector("#log-now").textContent));
  assert.match(await page.locator("#log-told").textContent(), /^Taken back: 98 gf/);
  assert.equal((await rows(page)).length, 2);
  await page.locator("#log-redo").tap();
  await page.waitForFunction(() => window.arrisBench.store.rows().length === 3);
  await page.reload();
  await page.waitForSelector("body.ready");
  assert.equal(await page.locator("#title").textContent(), "Log", "the setting was not kept");
  await page.locator("#log-block > summary").click();
  assert.match(await now(page), /^one · after 100/);
  assert.deepEqual((await rows(page)).map((r) => [r.edge, r.step, r.reading_gf, r.replicate]), [["one", "off the stone", "176", "1"], ["one", "off the stone", "181.5", "2"], ["one", "stropped", "98", "1"]]);
  // the program reads what the page saves
  const csv = await csvOf(page);
  const toml = join(folder, "with.toml");
  writeFileSync(toml, `${bench}[readings]\nfile = ${JSON.stringify(csv)}\n`);
  assert.match(execFileSync(program, ["readings", toml], { encoding: "utf8" }), /3 readings/);
  if (pictures) await page.screenshot({ path: join(pictures, "log-390.png"), fullPage: true });
  assert.deepEqual(said, []);
  await close();
});

test("a keyboard does as well, a decimal comma too; what is no reading is said and kept in the field", async () => {
  const { page, said, close } = await open({ viewport: { width: 1280, height: 900 } });
  await page.locator("#reading").focus();
  await page.keyboard.type("176,5");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => window.arrisBench.store.rows().length === 1);
  assert.equal((await rows(page))[0].reading_gf, "176.5");
  for (const wrong of ["0", "17.", "1e3", "12..4", "-5"]) {
    await page.locator("#reading").fill(wrong);
    await page.keyboard.press("Enter");
    if (wrong === "17.") { // a number still
      await page.waitForFunction(() => window.arrisBench.store.rows().length === 2 && /^17 gf written/.test(document.querySelector("#log-told").textContent));
    } else {
      await page.waitForFunction((text) => document.querySelector("#log-told").textContent.startsWith(`“${text}” is no reading in gf`), wrong);
      assert.equal(await page.locator("#reading").inputValue(), wrong);
    }
  }
  assert.equal((await rows(page)).length, 2);
  assert.deepEqual(said, []);
  await close();
});

test("who types on while a reading is being kept loses nothing", async () => {
  const { page, close } = await open({ viewport: { width: 1280, height: 900 } });
  await page.locator("#reading").focus();
  for (const value of ["170", "171", "172", "173", "174"]) {
    await page.keyboard.type(value);
    await page.keyboard.press("Enter");
  }
  await page.waitForFunction(() => window.arrisBench.store.rows().length === 5);
  assert.deepEqual((await rows(page)).map((r) => r.reading_gf), ["170", "171", "172", "173", "174"]);
  assert.deepEqual((await rows(page)).slice(0, 4).map((r) => r.step), ["off the stone", "off the stone", "stropped", "after 100"]);
  await close();
});

test("each of several people is offered their own next reading", async () => {
  const { page, close } = await open();
  const person = async (name) => {
    await page.locator("#log-operator").fill(name);
    await page.locator("#log-operator").press("Enter");
    await page.waitForFunction((n) => [...document.querySelectorAll(".people button[aria-pressed=true]")].some((b) => b.textContent === n), name);
  };
  await person("K");
  await writeDown(page, "170");
  await writeDown(page, "172");
  assert.match(await now(page), /stropped/);
  await person("M");
  assert.equal(await now(page), "one · off the stone · reading 1 of 2");
  await writeDown(page, "180");
  await page.getByRole("button", { name: "K", exact: true }).tap();
  assert.match(await now(page), /stropped/);
  assert.deepEqual((await rows(page)).map((r) => [r.operator, r.replicate]), [["K", "1"], ["K", "2"], ["M", "1"]]);
  await close();
});

test("read blind, only codes are seen, and every edge has its turn", async () => {
  const { page, said, close } = await open();
  await page.locator("#log-blind-begin").tap();
  await page.waitForSelector("#log-blind-end");
  const seen = new Set();
  for (let i = 0; i < 3; ++i) { // two of "one", one of "two", in either order
    const text = await page.locator("#log").evaluate((e) => e.innerText);
    assert.doesNotMatch(text, /\bone\b|\btwo\b|stone|felt/);
    seen.add((await now(page)).split(" ")[0]);
    assert.match(await now(page), /^[A-Z]{2}\d · stage 1 · reading \d of \d$/);
    await writeDown(page, String(150 + i));
  }
  assert.equal(seen.size, 2);
  assert.match(await now(page), /stage 2/);
  if (pictures) await page.screenshot({ path: join(pictures, "log-blind-390.png"), fullPage: true });
  // it goes on after a reload
  await page.waitForTimeout(100);
  await page.reload();
  await page.waitForSelector("body.ready");
  await page.locator("#log-block > summary").click();
  assert.match(await now(page), /stage 2/);
  await page.locator("#log-blind-end").tap();
  assert.ok((await rows(page)).every((r) => r.code && !r.edge));
  // the codes are in the setting, so the readings belong to their edges
  await page.waitForFunction(() => window.arrisBench.answer.readings === 3);
  assert.deepEqual(said, []);
  await close();
});

test("the stopwatch goes on while the page is closed, and its time stands with the reading", async () => {
  const { page, close } = await open();
  await page.getByRole("button", { name: "Start the watch" }).tap();
  await page.waitForTimeout(200);
  await page.reload();
  await page.waitForSelector("body.ready");
  await page.locator("#log-block > summary").click();
  await page.waitForFunction(() => document.querySelector(".clock").textContent >= "0:01");
  await page.getByRole("button", { name: "Note the time" }).tap();
  await writeDown(page, "170");
  assert.match((await rows(page))[0].note, /^hone on soft waterstone.*: [1-9]\d* s$/);
  await close();
});

test("storage full: the reading stands in the tab, it is said, and kept once there is room", async () => {
  const { page, close } = await open(phone, () => {
    const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (...args) {
      if (window.isFull && this.name === "entries") throw new DOMException("no room", "QuotaExceededError");
      return put.apply(this, args);
    };
  });
  await writeDown(page, "170");
  await page.evaluate(() => (window.isFull = true));
  await writeDown(page, "171");
  await writeDown(page, "172");
  assert.match(await page.locator("#log-state").textContent(), /storage is full\. 2 readings stand in this tab alone: save the log as CSV/);
  assert.deepEqual((await rows(page)).map((r) => r.reading_gf), ["170", "171", "172"]);
  assert.match(readFileSync(await csvOf(page), "utf8"), /,171,.*\n.*,172,/);
  await page.evaluate(() => (window.isFull = false));
  await page.getByRole("button", { name: "Try again" }).tap();
  await page.waitForFunction(() => document.querySelector("#log-state").textContent === "");
  await page.reload();
  await page.waitForSelector("body.ready");
  assert.deepEqual((await rows(page)).map((r) => r.reading_gf), ["170", "171", "172"]);
  await close();
});

test("storage refused: it is said before anything is written down, and all can be saved", async () => {
  const { page, said, close } = await open(phone, () => {
    Object.defineProperty(window, "indexedDB", { get() { throw new DOMException("refused", "SecurityError"); } });
  });
  assert.match(await page.locator("#log-state").textContent(), /keeps nothing for this page.*save the log as CSV before you close it/s);
  await writeDown(page, "170");
  await writeDown(page, "171");
  assert.match(await now(page), /stropped/);
  assert.match(readFileSync(await csvOf(page), "utf8"), /,170,1.*\n.*,171,2/);
  assert.deepEqual(said, []);
  await close();
});

test("two tabs write at once: nothing is lost, and each sees the other's readings", async () => {
  const context = await browser.newContext({ acceptDownloads: true, ...phone });
  const { page: a } = await openIn(context);
  const { page: b } = await openIn(context);
  // at the same moment, many times
  const many = (page, base) => page.evaluate(async (from) => {
    for (let i = 0; i < 25; ++i) await window.arrisBench.store.add([{ edge: "one", step: "off the stone", reading_gf: String(from + i), date: "2025-06-03" }]);
  }, base);
  await Promise.all([many(a, 100), many(b, 200)]);
  for (const page of [a, b]) {
    await page.waitForFunction(() => window.arrisBench.store.rows().length === 50, null, { timeout: 10_000 });
    const all = await rows(page);
    assert.equal(new Set(all.map((r) => r.reading_gf)).size, 50);
    assert.deepEqual([...new Set(all.map((r) => Number(r.replicate)))].sort((x, y) => x - y), Array.from({ length: 50 }, (_, i) => i + 1), "a number was given twice");
  }
  assert.match(await b.locator("#log-count").textContent(), /50 in this browser/);
  // what is typed in one tab is not taken by another that is opened while the first lives
  await tap(a, "17");
  const { page: c } = await openIn(context, { fresh: false });
  assert.equal(await c.locator("#reading").inputValue(), "");
  await context.close();
});

test("a tab that is killed in the middle of a reading: what was typed comes back, what was written down is there", async () => {
  const context = await browser.newContext(phone);
  const { page } = await openIn(context);
  await writeDown(page, "170");
  await tap(page, "17");
  await page.waitForTimeout(300);
  const cdp = await context.newCDPSession(page);
  cdp.send("Page.crash").catch(() => {});
  await page.waitForEvent("crash");
  await page.close();
  const { page: next } = await openIn(context, { fresh: false });
  assert.deepEqual((await rows(next)).map((r) => r.reading_gf), ["170"]);
  assert.equal(await next.locator("#reading").inputValue(), "17");
  assert.match(await next.locator("#log-told").textContent(), /You had typed 17 when the page was closed/);
  await context.close();
});

test("a log of a newer version is shown and never written", async () => {
  const context = await browser.newContext({ acceptDownloads: true, ...phone });
  const first = await context.newPage();
  writeFileSync(join(folder, "blank.html"), "<!doctype html><title>blank</title>");
  await first.goto(pathToFileURL(join(folder, "blank.html")).href);
  await first.evaluate(() => new Promise((done, fail) => {
    const request = indexedDB.open("arris", 7);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries", { keyPath: "id" }).put({ id: "0", undone: false, from: "entered", future: 5, row: { edge: "one", step: "off the stone", reading_gf: "170", replicate: "1" } });
    };
    request.onsuccess = () => {
      request.result.close();
      done();
    };
    request.onerror = () => fail(request.error);
  }));
  const { page, said } = await openIn(context);
  assert.match(await page.locator("#log-state").textContent(), /written by a newer version of this page\. It is left as it is/);
  await writeDown(page, "171");
  assert.match(await page.locator("#log-state").textContent(), /1 reading stands in this tab alone/);
  assert.match(readFileSync(await csvOf(page), "utf8"), /,170,1.*\n.*,171,/);
  await page.close();
  const there = await first.evaluate(() => new Promise((done) => {
    const request = indexedDB.open("arris");
    request.onsuccess = () => {
      const all = request.result.transaction("entries").objectStore("entries").getAll();
      all.onsuccess = () => done([request.result.version, all.result.length, all.result[0].future]);
    };
  }));
  assert.deepEqual(there, [7, 1, 5]);
  assert.deepEqual(said, []);
  await context.close();
});

test("workbooks come in and go out as the program reads and writes them", async () => {
  const { page, said, close } = await open();
  const csv = join(folder, "by-hand.csv"), book = join(folder, "by-hand.xlsx");
  writeFileSync(csv, "edge,step,reading_gf,operator,date,note\none,off the stone,176.5,007,2025-06-03,'=1+1\none,off the stone,180,,2025-06-04,\"a, \"\"b\"\" <&> µ\"\n");
  execFileSync(program, ["import", csv, "--out", book], { stdio: "pipe" });
  await page.setInputFiles("#log-files", book);
  await page.waitForFunction(() => /2 readings put into the log/.test(document.querySelector("#log-files-told").textContent));
  const plain = (await rows(page)).map(({ edge, step, reading_gf, operator, date, note }) => ({ edge, step, reading_gf, operator, date, note }));
  assert.deepEqual(plain, [
    { edge: "one", step: "off the stone", reading_gf: "176.5", operator: "007", date: "2025-06-03", note: "=1+1" },
    { edge: "one", step: "off the stone", reading_gf: "180", operator: undefined, date: "2025-06-04", note: 'a, "b" <&> µ' },
  ]);
  const saved = await csvOf(page);
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#log-save-workbook").click()]);
  assert.equal(download.suggestedFilename(), "readings.xlsx");
  const out = join(folder, "out.xlsx");
  await download.saveAs(out);
  const read = (file) => execFileSync(program, ["import", file], { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
  assert.equal(read(out), read(saved));
  assert.deepEqual((await rows(page)).length, 2);
  await page.setInputFiles("#log-files", out);
  await page.waitForFunction(() => /2 were in it already/.test(document.querySelector("#log-files-told").textContent));
  // as readings of a configuration too, and saved with it as text
  await page.setInputFiles("#files", [join(folder, "log.toml"), book]);
  await page.waitForFunction(() => window.arrisBench.state.readings?.name === "by-hand.xlsx");
  assert.deepEqual(said, []);
  await close();
});

test("files as people keep them come in, what is guessed is said, and nothing comes in twice", async () => {
  const { page, said, close } = await open();
  const file = join(folder, "sommer.csv");
  writeFileSync(file, "edge;step;reading gf;date\none;off the stone;176,5;2025-06-03\ntwo;off the stone;181,0;2025-06-03\nnine;off the stone;160,0;2025-06-04\n");
  await page.setInputFiles("#log-files", file);
  await page.waitForFunction(() => /put into the log/.test(document.querySelector("#log-files-told").textContent));
  assert.match(await page.locator("#log-files-told").textContent(), /3 readings put into the log/);
  assert.ok(await page.locator("#log-files-told li").count() > 0, "nothing is said of what was guessed");
  assert.deepEqual((await rows(page)).map((r) => r.reading_gf), ["176.5", "181.0", "160.0"]);
  await page.setInputFiles("#log-files", file);
  await page.waitForFunction(() => /3 were in it already/.test(document.querySelector("#log-files-told").textContent));
  // what is saved comes into another browser the same
  const csv = await csvOf(page);
  const other = await open();
  await other.page.setInputFiles("#log-files", csv);
  await other.page.waitForFunction(() => window.arrisBench.store.rows().length === 3);
  assert.equal(readFileSync(await csvOf(other.page), "utf8"), readFileSync(csv, "utf8"));
  await other.close();
  // two of the three are of this setting, and the studies have them
  await page.waitForFunction(() => window.arrisBench.answer.readings === 2);
  await page.locator("#log-all > summary").click();
  await page.waitForFunction(() =>
    /1 reading is of edges or moments that this setting does not have/.test(document.querySelector("#log-all").textContent));
  // ambiguous dates are refused with both readings of them, and what is no workbook with what to do
  writeFileSync(join(folder, "dates.csv"), "edge,step,reading_gf,date\none,off the stone,170,03/04/2025\n");
  await page.setInputFiles("#log-files", join(folder, "dates.csv"));
  await page.waitForFunction(() => /Nothing was put into the log/.test(document.querySelector("#log-files-told").textContent));
  for (const [name, bytes] of [["june.xlsx", "PK\u0003\u0004"], ["june.xls", Buffer.from("d0cf11e0a1b11ae1", "hex")]]) {
    writeFileSync(join(folder, name), bytes);
    await page.setInputFiles("#log-files", join(folder, name));
    await page.waitForFunction((n) => new RegExp(`${n}: .*Save it anew as xlsx or ods`, "s").test(document.querySelector("#log-files-told").textContent), name);
  }
  assert.equal((await rows(page)).length, 3);
  assert.deepEqual(said, []);
  await close();
});

test("where a file does not say how it is written, who keeps it does: a column for each moment, units, dates", async () => {
  const { page, said, close } = await open();
  const told = (pattern) => page.waitForFunction((p) => new RegExp(p, "s").test(document.querySelector("#log-files-told").textContent), pattern);
  writeFileSync(join(folder, "wide.csv"), "edge;fresh;after some;weather;day read\none;170,5;201;dry;3/4/2025\ntwo;180,5;211;;4/4/2025\n");
  await page.setInputFiles("#log-files", join(folder, "wide.csv"));
  await told("hold numbers: readings at a moment each");
  const column = (name) => page.getByLabel(`The column “${name}” is`);
  await page.getByLabel("Readings are in").selectOption("gf");
  await column("fresh").selectOption("readings at the moment …");
  await page.getByLabel("Moment of the column fresh").fill("off the stone");
  await column("after some").selectOption("readings at the moment …");
  await page.getByLabel("Moment of the column after some").fill("60 passes");
  await page.locator("#form-read").click();
  // one thing after the other: the dates have two readings still
  await told("with the day first, or .* with the month first");
  assert.equal(await page.getByLabel("Moment of the column fresh").inputValue(), "off the stone", "what was said is asked again");
  await page.getByLabel("Dates have").selectOption("day first");
  await page.locator("#form-read").click();
  await told("4 readings put into the log");
  assert.deepEqual((await rows(page)).map(({ edge, step, passes, reading_gf, date, note }) => [edge, step ?? passes, reading_gf, date, note]), [
    ["one", "off the stone", "170.5", "2025-04-03", "weather: dry"], ["one", "60", "201", "2025-04-03", "weather: dry"],
    ["two", "off the stone", "180.5", "2025-04-04", undefined], ["two", "60", "211", "2025-04-04", undefined]]);
  // a moment that is called by its passes is that moment
  writeFileSync(join(folder, "called.csv"), "edge,step,reading_gf\none,70 passes,205\n");
  await page.setInputFiles("#log-files", join(folder, "called.csv"));
  await told("1 readings? put into the log");
  assert.equal((await rows(page)).at(-1).passes, "70");
  await page.waitForFunction(() => window.arrisBench.answer.readings === 5);
  assert.deepEqual(said, []);
  await close();
});

test("the check edge is written down on every test day, and tells whether the tester has changed", async () => {
  const { page, said, close } = await open();
  await writeDown(page, "171");
  await page.locator("#log-check").tap();
  assert.equal(await now(page), "check edge · reading 1");
  await writeDown(page, "181");
  assert.equal(await now(page), "check edge · reading 2", "the next is one more of it, until another edge is chosen");
  const [, row] = await rows(page);
  assert.deepEqual([row.edge, row.step, row.passes, row.reading_gf], ["check edge", undefined, undefined, "181"]);
  await page.locator("#log-check").tap();
  assert.match(await now(page), /^one · off the stone/);
  // a tester that steps up by 20 gf
  await page.evaluate(() => window.arrisBench.store.add(Array.from({ length: 24 }, (_, i) => ({ edge: "check edge", reading_gf: String(180 + ((i * 7) % 5) + (i < 16 ? 0 : 20)), date: `2025-06-${String(i + 1).padStart(2, "0")}` }))));
  await page.locator("#work-block > summary").click();
  await page.locator("#check").click();
  await page.waitForSelector("#check-result .headline");
  assert.match(await page.locator("#check-result .headline").textContent(), /check edge.* has changed/);
  assert.ok(await page.locator("#check-result svg").count() > 0, "no chart");
  assert.equal(await page.locator("#check-edge").inputValue(), "0");
  // it is no reading of an edge of the setting, and nothing is said to be amiss with it
  await page.waitForFunction(() => window.arrisBench.answer.readings === 1);
  await page.locator("#log-all > summary").click();
  assert.doesNotMatch(await page.locator("#log-all").textContent(), /does not have/);
  // the program takes the log as it is
  const checked = execFileSync(program, ["log", "check", await csvOf(page), "--edge", "check edge"], { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
  assert.match(checked, /check edge.* has changed/s);
  assert.deepEqual(said, []);
  await close();
});

test("this year is held against last year", async () => {
  const { page, said, close } = await open();
  // edges sharpened alike tell how much edges differ
  const file = join(folder, "years.toml");
  writeFileSync(file, bench.slice(0, bench.indexOf("[edge.two]")).replace("Log", "Years") + bench.slice(bench.indexOf("[edge.one]"), bench.indexOf("[edge.two]")).replace("edge.one", "edge.two"));
  await page.setInputFiles("#files", file);
  await page.waitForFunction(() => document.querySelector("#title").textContent === "Years");
  await page.evaluate(() => window.arrisBench.store.add([2024, 2025].flatMap((year) => ["one", "two"].flatMap((edge) => Array.from({ length: 6 }, (_, i) => (
    { edge, step: "off the stone", reading_gf: String((year === 2024 ? 180 : 210) + ((i * 7) % 5)), date: `${year}-06-0${1 + Math.floor(i / 3)}` }))))));
  await page.locator("#work-block > summary").click();
  await page.locator("#between").click();
  await page.waitForSelector("#look-result .headline");
  assert.match(await page.locator("#look-result .headline").textContent(), /^Readings of 2025 are 1\.\d+ times those of 2024/);
  await page.locator("#report").click();
  await page.waitForSelector("#report-save");
  assert.deepEqual(said, []);
  await close();
});

for (const [width, height] of [[390, 844], [1280, 900]]) {
  for (const colorScheme of ["light", "dark"]) {
    test(`the log and the photograph fit ${width} px, ${colorScheme}, and have no faults of accessibility`, async () => {
      const { page, said, close } = await open({ viewport: { width, height }, hasTouch: true, colorScheme });
      await writeDown(page, "170");
      await page.locator("#log-elsewhere > summary").click();
      await page.locator("#log-all > summary").click();
      await page.locator("#photo-block > summary").click();
      await page.locator("#work-block > summary").click();
      await page.addScriptTag({ content: readFileSync(axe_file, "utf8") });
      const faults = await page.evaluate(async () => (await window.axe.run(document, { resultTypes: ["violations"] })).violations
        .map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160)).join(" | ")}`));
      assert.deepEqual(faults, []);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), "wider than the screen");
      if (pictures) await page.screenshot({ path: join(pictures, `log-full-${width}-${colorScheme}.png`), fullPage: true });
      assert.deepEqual(said, []);
      await close();
    });
  }
}
