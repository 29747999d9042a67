// SPDX-License-Identifier: MIT
// What the bench page does beside the bench and the log: how it is met first, studies and their report, links, photographs, and being
// served. The same variables as page.test.mjs.
import assert from "node:assert/strict";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { after, before, test } from "node:test";
import { axe_file, openBrowser } from "./browser.mjs";
import { linkOf, textOf } from "../../bindings/page/web/link.js";
import { apexRadius, circleThrough, radiusSlack, scaleOf } from "../../bindings/page/web/radius.js";

const page_path = resolve(process.env.ARRIS_PAGE);
const page_file = pathToFileURL(page_path).href;
const pictures = process.env.ARRIS_SCREENSHOTS ? resolve(process.env.ARRIS_SCREENSHOTS) : null;
let browser, folder;

before(async () => {
  browser = await openBrowser();
  folder = mkdtempSync(join(tmpdir(), "arris-work-"));
  if (pictures) mkdirSync(pictures, { recursive: true });
});
after(async () => {
  await browser.close();
  rmSync(folder, { recursive: true });
});

async function open(options = {}, address = page_file) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, acceptDownloads: true, ...options });
  const page = await context.newPage();
  page.setDefaultTimeout(120_000); // machines that are busy are slow
  const said = [];
  page.on("console", (m) => ["error", "warning"].includes(m.type()) && said.push(m.text()));
  page.on("pageerror", (e) => said.push(String(e)));
  await page.goto(address);
  await page.waitForSelector("body.ready");
  return { context, page, said, close: () => context.close() };
}
const unfold = (page, ...ids) => page.evaluate((list) => list.forEach((id) => (document.getElementById(id).open = true)), ids);

test("the page weighs less than 3 MB and is ready soon", async () => {
  const size = statSync(page_path).size;
  const times = [];
  for (let i = 0; i < 5; ++i) {
    const { page, close } = await open();
    times.push(await page.evaluate(() => performance.getEntriesByName("ready")[0].startTime));
    await close();
  }
  times.sort((a, b) => a - b);
  console.log(`the page: ${(size / 1e6).toFixed(2)} MB; ready in ${(times[2] / 1000).toFixed(2)} s (median of 5, from the first byte)`);
  assert.ok(size < 3e6);
  // machines differ: the figure is told, and only what would be no answer at all is a failure
  assert.ok(times[2] < 20_000);
});

test("a browser that cannot run the module says so", async () => {
  const context = await browser.newContext();
  const page = await context.newPage();
  await page.addInitScript(() => delete window.DecompressionStream);
  await page.goto(page_file);
  await page.waitForSelector("#faults:not([hidden])");
  assert.match(await page.textContent("#faults"), /This browser is too old for the page/);
  await context.close();
});

for (const [width, height] of [[390, 844], [1280, 900]]) {
  test(`at first there are three examples, one picture and one slider, all in view at ${width} px`, async () => {
    const { page, said, close } = await open({ viewport: { width, height } });
    assert.equal(await page.locator(".examples button").count(), 3);
    assert.equal(await page.locator("input[type=range]:visible").count(), 1);
    for (const seen of ["#section-0 svg", "#quick input[type=range]", "#way-0 .reading", "#demo"]) {
      // the first drawing may be replaced by the next one meanwhile
      let box = null;
      for (let tries = 0; box === null && tries < 50; ++tries) box = await page.locator(seen).boundingBox();
      assert.ok(box !== null, `${seen} is not shown`);
      assert.ok(box.y >= 0 && box.y + box.height <= height, `${seen} is out of view: ${JSON.stringify(box)}`);
    }
    assert.equal(await page.locator("details.part[open]").count(), 0);
    assert.equal(await page.locator("#ways svg:visible").count(), 1, "one picture");
    // the second is beside it as soon as it is asked for
    await page.locator("#ways-block > summary").click();
    await page.waitForSelector("#way-1 .reading");
    assert.equal(await page.locator("#ways svg:visible").count(), width < 640 ? 1 : 2);
    await page.locator("#ways-block > summary").click();
    await page.waitForFunction(() => document.querySelector("#way-1").hidden);
    // laps of the strop and the cross-section move together
    const was = await page.locator("#section-0").innerHTML();
    await page.locator("#quick input[type=range]").evaluate((s) => {
      s.value = 90;
      s.dispatchEvent(new Event("input", { bubbles: true }));
    });
    await page.waitForFunction((html) => document.querySelector("#section-0").innerHTML !== html, was);
    if (pictures) await page.screenshot({ path: join(pictures, `first-${width}.png`) });
    for (const name of ["a paring chisel", "the boat yard’s tool room (invented)", "a plane iron"]) {
      await page.getByRole("button", { name }).click();
      assert.equal(await page.locator("#file-faults").textContent(), "");
      assert.equal(await page.locator("#section-0 svg").count(), 1);
      assert.equal(await page.locator("input[type=range]:visible").count(), 1, name);
    }
    assert.deepEqual(said, []);
    await close();
  });
}

test("readings, tester, forecast, upkeep, plan and a report are made in the page", { timeout: 400_000 }, async () => {
  const { page, said, close } = await open();
  await page.getByRole("button", { name: /boat yard/ }).click();
  await unfold(page, "work-block");
  const ask = async (id, box, pattern) => {
    const begun = Date.now();
    await page.locator(`#${id}`).click();
    await page.waitForSelector(`#${box} .headline, #${box} .fault`, { timeout: 200_000 });
    console.log(`${id} in the page: ${((Date.now() - begun) / 1000).toFixed(1)} s`);
    assert.match(await page.locator(`#${box} .headline`).first().textContent(), pattern);
  };
  await ask("look", "look-result", /\d/);
  assert.ok(await page.locator("#look-result svg").count() > 0, "no dots");
  assert.ok(await page.locator("#look-result table").count() > 0, "no table");
  // a boat yard read its edges once: no edge is one to check by, and there is one year; both are said, and nothing is a dead end
  await page.locator("#check").click();
  await page.waitForSelector("#check-result .fault");
  assert.ok(await page.locator("#check-edge option").count() > 10, "no other edge can be chosen");
  await page.locator("#between").click();
  await page.waitForSelector("#look-result .fault");
  assert.match(await page.locator("#look-result .fault").textContent(), /year|date/);
  await ask("forecast", "forecast-result", /passes/);
  await ask("upkeep", "upkeep-result", /strop|hone/i);
  await page.locator("#report").click();
  await page.waitForSelector("#report-save", { timeout: 200_000 });
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#report-save").click()]);
  const file = join(folder, "report.html");
  await download.saveAs(file);
  const report = readFileSync(file, "utf8");
  assert.match(report, /<svg/);
  for (const kind of ["readings", "forecast", "upkeep"]) assert.match(report, new RegExp(`arris ${kind} boatyard\\.toml`), kind);
  const reader = await page.context().newPage();
  await reader.goto(pathToFileURL(file).href);
  assert.match(await reader.locator("h1").textContent(), /\S/);
  if (pictures) await page.screenshot({ path: join(pictures, "work-1280.png"), fullPage: true });
  assert.deepEqual(said, []);
  await close();
});

test("a plan made in the page is read there, blind", { timeout: 300_000 }, async () => {
  const { page, said, close } = await open();
  await unfold(page, "work-block");
  await page.locator("#plan").click();
  await page.waitForSelector("#plan-take, #plan-result .fault", { timeout: 200_000 });
  assert.equal(await page.locator("#plan-result .fault").count(), 0, await page.locator("#plan-result").textContent());
  // what is printed: labels, run sheet, key and a sheet for each group, on A4
  const [print] = await Promise.all([page.context().waitForEvent("page"), page.locator("#plan-print").click()]);
  await print.waitForLoadState();
  assert.match(await print.locator("svg").first().textContent(), /Labels: cut out/);
  assert.ok(await print.locator("svg", { hasText: "for the wall" }).count() >= 2);
  await print.addScriptTag({ content: readFileSync(axe_file, "utf8") });
  assert.deepEqual(await print.evaluate(async () => (await window.axe.run(document, { resultTypes: ["violations"] })).violations.map((v) => v.id)), []);
  if (pictures) await print.screenshot({ path: join(pictures, "paper-1280.png") });
  await print.close();
  await page.locator("#plan-take").click();
  await page.waitForSelector("#log-blind-end");
  assert.match(await page.locator("#log-now").textContent(), /^[A-Z]+\d+ · stage 1 · reading 1 of \d+$/);
  // in the order of the sheet, block by block, by whom it names: rows of the first edges, each as it is offered
  const sheet = await page.evaluate(() => window.arrisBench.log.blind.sheet);
  for (let i = 0; i < 40; ++i) {
    const [code, step, operator, lot] = sheet[i];
    const now = await page.evaluate((value) => {
      const { log } = window.arrisBench, edge = log.edge();
      log.now.typed = String(value);
      const offered = [edge.code, edge.moments[log.now.moment].step, log.now.operator, log.now.lot];
      return log.write().then(() => offered);
    }, 150 + i);
    assert.deepEqual(now, [code, step, operator, lot], `row ${i + 1} of the sheet`);
  }
  const row = await page.evaluate(() => window.arrisBench.store.rows().at(-1));
  assert.equal(row.code, sheet[39][0]);
  assert.equal(row.edge, undefined);
  assert.deepEqual(said, []);
  await close();
});

test("the steps of an edge are printed for the wall", async () => {
  const { page, said, close } = await open();
  await unfold(page, "steps-block");
  const [wall] = await Promise.all([page.context().waitForEvent("page"), page.locator("#wall").click()]);
  await wall.waitForLoadState();
  assert.equal(await wall.title(), "first way");
  assert.match(await wall.locator("svg").first().textContent(), /hone on soft waterstone.*strop on thin hide on wood.*laps/s);
  assert.deepEqual(said, []);
  await close();
});

test("a setting goes into a link and out of it the same; a link that is not whole is refused in plain words", async () => {
  const { page, context, said, close } = await open();
  await page.locator("#quick input[type=number]").fill("44");
  await page.waitForTimeout(100);
  await unfold(page, "files-block");
  await page.locator("#share").click();
  const link = await page.locator("#share-link").inputValue();
  assert.ok(link.length < 2000, `${link.length} characters`);
  const shown = async (p) => [await p.locator("#way-0 .reading output").textContent(), await p.locator("#title").textContent(), await p.locator("#step-table").innerHTML()];
  const expected = await shown(page);
  const other = await browser.newContext();
  const reader = await other.newPage();
  await reader.goto(link);
  await reader.waitForSelector("body.ready");
  assert.deepEqual(await shown(reader), expected);
  await other.close();
  const hash = link.slice(link.indexOf("#"));
  const long = await linkOf("# ".repeat(3_000_000));
  const cases = [[hash.slice(0, -20), /missing|changed/], ["#setting=9.abc", /newer version/], ["#setting=1.", /empty/], ["#setting=1.%20<b>", /signs/], [long, /more than a setting/],
    [await linkOf("[tool.a]\nwidht_mm = 3\n"), /widht_mm/], [await linkOf("\u0000"), /link\.toml:1/]];
  for (const [bad, why] of cases) {
    const p = await context.newPage();
    await p.goto(page_file + bad);
    await p.waitForSelector("body.ready");
    assert.match(await p.locator("#link-told").textContent(), /^The link's setting was not taken: /);
    assert.match(await p.locator("#link-told").textContent(), why);
    assert.equal(await p.locator("#section-0 svg").count(), 1, "the bench is not there");
    await p.close();
  }
  assert.equal(await textOf("#steps-block"), null);
  assert.deepEqual(said, []);
  await close();
});

test("an apex radius is measured as docs/photograph.md says", () => {
  const on = (r, angle, x = 300, y = 200) => ({ x: x + r * Math.cos(angle), y: y + r * Math.sin(angle) });
  const circle = circleThrough([on(50, 0.3), on(50, 1.4), on(50, 2.6)]);
  assert.ok(Math.abs(circle.r - 50) < 1e-9 && Math.abs(circle.x - 300) < 1e-9 && Math.abs(circle.y - 200) < 1e-9);
  assert.equal(circleThrough([{ x: 0, y: 0 }, { x: 1, y: 1 }, { x: 2, y: 2 }]), null);
  // points 120° apart: the radius moves by a third of each slip along it, so that its σ is c·√(3·(1/3)²)
  const even = [0, 1, 2].map((k) => on(50, (2 * Math.PI * k) / 3));
  assert.ok(Math.abs(radiusSlack(even) - 0.5 * Math.sqrt(1 / 3)) < 1e-4, String(radiusSlack(even)));
  // near together, a click counts for more
  assert.ok(radiusSlack([0, 0.2, 0.4].map((a) => on(50, a))) > 10 * radiusSlack(even));
  const scale = scaleOf([200], 10, 0.1);
  assert.equal(scale.um_per_px, 0.05);
  assert.ok(Math.abs(scale.share - Math.hypot(Math.SQRT1_2 / 200, 0.01)) < 1e-12);
  const circles = [48, 50, 52].map((r) => [0, 2.1, 4.2].map((a) => on(r, a)));
  const found = apexRadius(circles, scale);
  assert.ok(Math.abs(found.radius_um - 2.5) < 1e-9);
  // spread of the three 2 px, of their mean 2/√3, beside the scale
  assert.ok(Math.abs(found.sd_um - 2.5 * Math.hypot(2 / Math.sqrt(3) / 50, scale.share)) < 1e-9);
  assert.equal(apexRadius([], scale), null);
});

test("a photograph is measured by touch and by keyboard, and its radius goes into the log with its uncertainty", async () => {
  const { page, said, close } = await open({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
  // a drawn micrograph: a bar of 200 px, an apex of 60 px
  const png = await page.evaluate(async () => {
    const canvas = new OffscreenCanvas(780, 520), pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, 780, 520);
    pen.fillStyle = "#000";
    pen.fillRect(40, 480, 200, 6);
    pen.beginPath();
    pen.arc(390, 200, 60, 0, 7);
    pen.fill();
    return [...new Uint8Array(await (await canvas.convertToBlob()).arrayBuffer())];
  });
  const file = join(folder, "apex.png");
  writeFileSync(file, Buffer.from(png));
  await unfold(page, "photo-block");
  await page.setInputFiles("#photo-file", file);
  await page.waitForSelector("#photo-canvas:visible");
  const tap = async (x, y) => {
    await page.locator("#photo-canvas").scrollIntoViewIfNeeded();
    const box = await page.locator("#photo-canvas").boundingBox();
    await page.locator("#photo-canvas").tap({ position: { x: (x * box.width) / 780, y: (y * box.height) / 520 } });
  };
  await tap(40, 482);
  await tap(240, 482);
  for (const angles of [[0.2, 1.6, 3.0], [3.3, 4.6, 6.0], [1.0, 3.0, 5.2]]) for (const a of angles) await tap(390 + 60 * Math.cos(a), 200 + 60 * Math.sin(a));
  const text = await page.locator("#photo-result").textContent();
  const [, radius, sd] = /Apex radius ([\d.]+) ± ([\d.]+) µm/.exec(text).map(Number);
  assert.ok(Math.abs(radius - 3) < 3 * sd + 0.05, text);
  assert.ok(sd > 0 && sd < 0.3, text);
  // by keyboard: one more circle
  await page.locator("#photo-canvas").focus();
  for (const keys of [["ArrowRight", 4], ["ArrowDown", 6], ["ArrowLeft", 8]]) {
    for (let i = 0; i < keys[1]; ++i) await page.keyboard.press(`Shift+${keys[0]}`);
    await page.keyboard.press("Enter");
  }
  assert.match(await page.locator("#photo-told").textContent(), /4 measured/);
  await page.locator("#photo-undo").click();
  await page.locator("#photo-undo").click();
  await page.locator("#photo-undo").click();
  assert.match(await page.locator("#photo-result").textContent(), /of 3 circles/);
  if (pictures) await page.screenshot({ path: join(pictures, "photo-390.png"), fullPage: true });
  await page.locator("#photo-write").click();
  await page.waitForFunction(() => window.arrisBench.store.rows().length === 1);
  const [row] = await page.evaluate(() => window.arrisBench.store.rows());
  assert.equal(Number(row.apex_radius_um).toPrecision(3), radius.toPrecision(3));
  assert.ok(Number(row.apex_radius_sd_um) > 0);
  assert.match(row.note, /^photograph apex\.png, 3 circles$/);
  // the photograph is still there after a reload, with what was clicked
  await page.reload();
  await page.waitForSelector("body.ready");
  await unfold(page, "photo-block");
  await page.getByRole("button", { name: "look again at apex.png" }).click();
  await page.waitForFunction(() => /of 3 circles/.test(document.querySelector("#photo-result").textContent));
  writeFileSync(join(folder, "no.png"), "no picture");
  await page.setInputFiles("#photo-file", join(folder, "no.png"));
  await page.waitForFunction(() => /no picture that this browser can show/.test(document.querySelector("#photo-told").textContent));
  assert.deepEqual(said, []);
  await close();
});

test("served, the page can be installed and opens without a network; from disk it asks for nothing of that", async () => {
  const types = { html: "text/html", js: "text/javascript", svg: "image/svg+xml", webmanifest: "application/manifest+json" };
  const server = createServer((request, reply) => {
    const name = new URL(request.url, "http://localhost").pathname.slice(1);
    if (!["arris.html", "service-worker.js", "icon.svg", "manifest.webmanifest"].includes(name)) {
      reply.writeHead(404).end();
      return;
    }
    reply.writeHead(200, { "Content-Type": types[name.split(".").at(-1)] }).end(readFileSync(join(dirname(page_path), name)));
  });
  await new Promise((done) => server.listen(0, "127.0.0.1", done));
  const address = `http://127.0.0.1:${server.address().port}/arris.html`;
  const { page, context, said, close } = await open({}, address);
  await page.evaluate(() => navigator.serviceWorker.ready);
  const manifest = await page.evaluate(async () => (await fetch(document.querySelector("link[rel=manifest]").href)).json());
  assert.equal(manifest.start_url, "arris.html");
  server.closeAllConnections();
  await new Promise((done) => server.close(done));
  await page.close();
  const again = await context.newPage();
  await again.goto(address);
  await again.waitForSelector("body.ready");
  assert.equal(await again.locator("#section-0 svg").count(), 1);
  assert.deepEqual(said, []);
  await close();
  const disk = await open();
  assert.equal(await disk.page.locator("link[rel=manifest]").count(), 0);
  await disk.close();
});
