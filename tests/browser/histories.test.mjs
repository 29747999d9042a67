// SPDX-License-Identifier: MIT
// The same histories by the program and by the module of the page: the same numbers.
//   ARRIS_PROGRAM build/arris, ARRIS_MODULE build/page-module/bindings/page/arris_page.js
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { before, test } from "node:test";

const program = resolve(process.env.ARRIS_PROGRAM);
const source = resolve(process.env.ARRIS_SOURCE_DIR);
let module;

before(async () => {
  module = await createRequire(import.meta.url)(resolve(process.env.ARRIS_MODULE))({
    wasmBinary: readFileSync(process.env.ARRIS_MODULE.replace(/\.js$/, ".wasm")) });
});

function call(what, request) {
  return JSON.parse(module.ccall("arris_call", "string", ["string", "string"], [what, JSON.stringify(request)]));
}

// numbers in 0 … 1, the same in every run (mulberry32)
function source_of_numbers(seed) {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** A configuration of `count` edges, each with a blade, stones, strop and wood of its own. */
function configuration(count, seed) {
  const random = source_of_numbers(seed);
  const between = (low, high) => (low + (high - low) * random()).toFixed(3);
  const one = (list) => list[Math.floor(random() * list.length)];
  const steels = ["O1", "A2", "D2", "W1", "52100"];
  const families = ["soft waterstone", "hard waterstone", "oilstone", "plated diamond", "lapping film", "vitrified ceramic"];
  const pads = ["thin hide on wood", "thick hide", "soft hide", "felt", "MDF", "balsa"];
  const compounds = ["none", "chromium oxide 0.5 µm", "alumina 1 µm", "diamond 1 µm", "diamond 0.25 µm"];
  const woods = ["white oak", "coast Douglas-fir", "sugar maple", "yellow-poplar", "angelique"];
  let text = `title = "Histories, invented"\n[output]\npoints_per_step = 6\nreading_limit_gf = 200\n`;
  for (let i = 0; i < count; ++i) {
    const bevel = 20 + 12 * random();
    const knife = random() < 0.15;
    text += `[tool."t${i}"]\nsteel = "${one(steels)}"\nwidth_mm = ${between(5, 60)}\nthickness_mm = ${between(2, 5)}\n` +
      `primary_bevel_deg = ${bevel.toFixed(2)}\nmicro_bevel_deg = ${(bevel + (random() < 0.3 ? 0 : 1 + 8 * random())).toFixed(2)}\n` +
      `apex_radius_um = ${between(0.3, 8)}\nscratch_um = ${between(0.05, 2)}\nland_mm = ${between(0.1, 1)}\nhoned_sides = ${knife ? 2 : 1}\n`;
    text += `[edge."e${i}"]\ntool = "t${i}"\nsteps = [\n`;
    let size = 10 + 40 * random();
    const stones = 1 + Math.floor(4 * random());
    for (let s = 0; s < stones; ++s) {
      const medium = `${one(families)}, ${size.toFixed(2)} µm`;
      text += `{ hone = "${medium}", strokes = ${Math.floor(5 + 60 * random())}, force_N = ${between(5, 40)}, stroke_mm = ${between(50, 150)} },\n`;
      if (s === stones - 1 && !knife) text += `{ back = "${medium}", strokes = ${Math.floor(20 * random())}, force_N = ${between(5, 20)} },\n`;
      size *= 0.2 + 0.4 * random();
    }
    if (random() < 0.8) text += `{ strop = "${one(pads)}", compound = "${one(compounds)}", laps = ${Math.floor(60 * random())}, force_N = ${between(2, 20)} },\n`;
    text += `{ read = "ready" },\n{ cut = "${one(woods)}", passes = ${Math.floor(20 + 480 * random())}, pass_m = ${between(0.1, 1.2)} },\n]\n`;
  }
  return text;
}

/** The largest relative difference of each edge, {edge: [difference, where]}, between program and module. */
function differences(text) {
  const folder = mkdtempSync(join(tmpdir(), "arris-"));
  try {
    const file = join(folder, "histories.toml");
    const out = join(folder, "histories.json");
    writeFileSync(file, text);
    execFileSync(program, ["simulate", file, "--quiet", "--json", out]);
    const native = JSON.parse(readFileSync(out, "utf8"));
    const reply = call("simulate", { name: "histories.toml", text });
    assert.equal(reply.errors, undefined, JSON.stringify(reply.errors?.slice(0, 2)));
    const groups = reply.answer.groups.edge.groups;
    assert.equal(Object.keys(groups).length, 200);
    assert.equal(native.edges.length, 200);
    const worst = {};
    let compared = 0;
    for (const edge of native.edges) {
      assert.equal(edge.status, "ok");
      worst[edge.name] = [0, ""];
      for (const part of ["track", "steps"]) {
        const columns = groups[edge.name].groups[part].data;
        edge[part].forEach((row, i) => {
          for (const [name, value] of Object.entries(row)) {
            const other = columns[name].values[i];
            if (typeof value !== "number") {
              assert.equal(other, value);
              continue;
            }
            // Quantities near zero (a burr that is gone) count against a millionth of a micrometre, below which nothing is shown.
            const off = Math.abs(other - value) / Math.max(Math.abs(value), 1e-6);
            if (!(off <= worst[edge.name][0])) worst[edge.name] = [off, `${edge.name} ${part} ${i} ${name}: ${value} natively, ${other} in the module`];
            compared += 1;
          }
        });
      }
    }
    assert.ok(compared > 50000);
    return worst;
  } finally {
    rmSync(folder, { recursive: true });
  }
}

const most = (worst) => Object.values(worst).reduce((a, b) => (b[0] > a[0] ? b : a));

test("200 histories agree to 1e-9", () => {
  // Both are the same sources in IEEE doubles; only exp, log and the like differ, by a unit in the last place (1e-16) at each of some
  // thousand steps of an integration whose errors damp out: 1e-12 at worst. What is asked for is 1e-9. Such a unit can decide whether a
  // step passes whose error is all but its bound, and then the two take other steps, each as good as the tolerance says. So they are
  // asked to keep to 1e-9, by which such a step differs by a part of it.
  const text = configuration(200, 20260101);
  const [off, where] = most(differences(text.replace("[output]", "[numerics]\nrelative_tolerance = 1e-9\n[output]")));
  console.log(`steps to 1e-9: largest relative difference ${off.toExponential(2)}`);
  assert.ok(off < 1e-9, where);
  // at the tolerance that is usual, 1e-6, the same holds of all edges but the few that took another step, and of those to ten tolerances,
  // as of programs on unlike processors (DEVELOPERS.md)
  const usual = differences(text), [far, at] = most(usual);
  const apart = Object.values(usual).filter(([d]) => d >= 1e-9).length;
  console.log(`steps to 1e-6: ${apart} of 200 took another step, largest relative difference ${far.toExponential(2)}`);
  assert.ok(far < 1e-5, at);
  assert.ok(apart <= 4, `${apart} of 200 edges differ by more than 1e-9`);
});

test("errors are those of the program, with line and column", () => {
  const folder = mkdtempSync(join(tmpdir(), "arris-"));
  try {
    const faulty = {
      "key.toml": `[tool.a]\nsteel = "O1"\nwidht_mm = 50\nthickness_mm = 3\nprimary_bevel_deg = 25\n[edge.e]\ntool = "a"\nsteps = [{ read = "x" }]\n`,
      "range.toml": `[tool.a]\nsteel = "O1"\nwidth_mm = 5e9\nthickness_mm = 3\nprimary_bevel_deg = 25\n[edge.e]\ntool = "a"\nsteps = [{ hone = "soft waterstone, 1000", strokes = 5 }]\n`,
      "syntax.toml": `[tool.a\nsteel = "O1"\n`,
    };
    for (const [name, text] of Object.entries(faulty)) {
      writeFileSync(join(folder, name), text);
      let told = "";
      try {
        execFileSync(program, ["check", name], { cwd: folder, stdio: ["ignore", "pipe", "pipe"] });
        assert.fail(`${name} was accepted`);
      } catch (error) {
        told = String(error.stderr);
      }
      const { errors } = call("read", { name, text });
      assert.ok(errors.length > 0);
      for (const fault of errors) {
        assert.ok(fault.line > 0 && fault.column > 0);
        assert.ok(told.includes(fault.text), `${told}\nlacks\n${fault.text}`);
      }
    }
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test("every shipped configuration goes through the tree and back unchanged", () => {
  const files = ["configs/boatyard/boatyard.toml", "configs/boatyard/truth.toml", "bindings/page/web/start.toml",
    ...["back-bevel", "film-only", "marking-knife", "one-stone", "rabbet-plane-teak", "regrind-coarse-plate", "skew-chisel-pine-end-grain",
      "spokeshave-green-ash", "strop-only", "two-strops", "violin-gouge"].map((n) => `configs/examples/${n}.toml`)];
  const folder = mkdtempSync(join(tmpdir(), "arris-"));
  try {
    for (const file of files) {
      const text = readFileSync(join(source, file), "utf8");
      const siblings = file.includes("truth") ? [{ name: "boatyard.toml", text: readFileSync(join(source, "configs/boatyard/boatyard.toml"), "utf8") }] : [];
      const first = call("read", { name: "first.toml", text, files: siblings });
      assert.equal(first.errors, undefined, `${file}: ${JSON.stringify(first.errors?.[0])}`);
      const written = call("write", { tree: first.answer.tree }).answer.text;
      const second = call("read", { name: "second.toml", text: written, files: siblings });
      assert.equal(second.errors, undefined, `${file}: ${JSON.stringify(second.errors?.[0])}`);
      assert.deepEqual(second.answer.tree, first.answer.tree);
      // in the same order too, and the program takes it
      assert.equal(JSON.stringify(second.answer.tree), JSON.stringify(first.answer.tree));
      if (siblings.length === 0 && second.answer.readings_file === "") {
        writeFileSync(join(folder, "second.toml"), written);
        execFileSync(program, ["check", join(folder, "second.toml")], { stdio: "pipe" });
      }
    }
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test("texts that TOML must quote come back as they were", () => {
  const tree = {
    title: 'He said "no" \\ and\nleft\u0001 — µm',
    edge: { "a.b c": { tool: "t", note: "", steps: [{ read: "x\ty" }] } },
    tool: { t: { steel: "O1", width_mm: 1e-7, thickness_mm: 3.25, list: [1, [2, 3]], honed_sides: 2, flag: true, value_of: { value: 3, status: "estimate" } } },
    prior: { "tester.slope_N_per_um": { median: 1e22, low: { "toml literal": "-inf" } } },
  };
  const { text } = call("write", { tree }).answer;
  const folder = mkdtempSync(join(tmpdir(), "arris-"));
  try {
    // python's own reader is the judge
    const file = join(folder, "x.toml");
    writeFileSync(file, text);
    const read = execFileSync("/usr/bin/python3", ["-c", "import json, sys, tomllib; print(json.dumps(tomllib.load(open(sys.argv[1], 'rb'))))", file], { encoding: "utf8" });
    const wanted = JSON.parse(JSON.stringify(tree));
    wanted.prior["tester.slope_N_per_um"].low = null;
    assert.deepEqual(JSON.parse(read.replace("-Infinity", "null")), wanted);
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test("readings with a fault are told with line and column", () => {
  const text = readFileSync(join(source, "configs/boatyard/boatyard.toml"), "utf8");
  const readings = { name: "readings.csv", text: "edge,step,passes,reading_gf\nA1,stropped,,\"eighty\"\n" };
  const { errors } = call("bench", { name: "boatyard.toml", text, readings, ways: ["A1"] });
  assert.equal(errors[0].line, 2);
  assert.equal(errors[0].column, 15); // behind the quote
  assert.match(errors[0].text, /^readings\.csv:2:15: /);
});

test("numbers in a file of readings are read alike", () => {
  const folder = mkdtempSync(join(tmpdir(), "arris-"));
  try {
    const text = `[tool.a]\nsteel = "O1"\nwidth_mm = 50\nthickness_mm = 3\nprimary_bevel_deg = 25\n[readings]\nfile = "r.csv"\n` +
      `[edge.e]\ntool = "a"\nsteps = [{ hone = "soft waterstone, JIS #1000", strokes = 5 }, { read = "x" }]\n`;
    writeFileSync(join(folder, "c.toml"), text);
    for (const number of ["120", "1.2e2", "1.2E+2", ".5e3", "120.", "12e", "1e2.5", "0x78", "+120", "-5", "1,2", "12 0", "--3", ".", "1e999", "120abc", "٣"]) {
      const csv = `edge,step,reading_gf\ne,x,"${number}"\n`;
      writeFileSync(join(folder, "r.csv"), csv);
      let told = "";
      try {
        execFileSync(program, ["simulate", "c.toml", "--quiet"], { cwd: folder, stdio: ["ignore", "pipe", "pipe"] });
      } catch (error) {
        told = String(error.stderr);
      }
      const reply = call("simulate", { name: "c.toml", text, readings: { name: "r.csv", text: csv } });
      if (told === "") {
        assert.equal(reply.errors, undefined, `${number}: ${JSON.stringify(reply.errors)}`);
      } else {
        assert.ok(reply.errors, `${number} was taken, and the program says: ${told}`);
        assert.ok(told.includes(reply.errors[0].text), `${told}\nlacks\n${reply.errors[0].text}`);
      }
    }
  } finally {
    rmSync(folder, { recursive: true });
  }
});
