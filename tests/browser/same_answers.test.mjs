// SPDX-License-Identifier: MIT
// A campaign said otherwise is the same campaign in the module of the page too: the laws that the program is held to
// (tests/python/campaigns.py). ARRIS_CAMPAIGNS=100 tries more of them.
//   ARRIS_SOURCE_DIR ., ARRIS_MODULE build/page-module/bindings/page/arris_page.js
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { before, test } from "node:test";

const source = resolve(process.env.ARRIS_SOURCE_DIR);
const count = Number(process.env.ARRIS_CAMPAIGNS ?? 6);
let module, laws;

before(async () => {
  const code = resolve(process.env.ARRIS_MODULE);
  // a node with `fetch` would ask for the code by an address
  module = await createRequire(import.meta.url)(code)({ wasmBinary: readFileSync(code.replace(/\.js$/, ".wasm")) });
  const seeds = Array.from({ length: count }, (_, n) => String(n));
  laws = JSON.parse(execFileSync("/usr/bin/python3", ["-B", join(source, "tests/python/campaigns.py"), ...seeds], { encoding: "utf8", maxBuffer: 1e9 }));
});

function call(what, request) {
  return JSON.parse(module.ccall("arris_call", "string", ["string", "string"], [what, JSON.stringify(request)]));
}

/** Edges by name, each with its curve as columns, its status and its life. */
function simulated(text, files) {
  const reply = call("simulate", { name: "c.toml", text, files: Object.entries(files).map(([name, content]) => ({ name, text: content })) });
  assert.equal(reply.errors, undefined, JSON.stringify(reply.errors?.[0]));
  const { edges, edge } = reply.answer.groups;
  return Object.fromEntries(edges.data.name.values.map((name, i) => [name, {
    status: edges.data.status.values[i],
    life: edges.data.passes_to_limit.values[i],
    track: Object.fromEntries(Object.entries(edge.groups[name].groups.track.data).map(([key, column]) => [key, column.values])),
  }]));
}

const state = ["apex_radius_um", "scratch_um", "burr_um", "land_mm", "mass_loss_mg", "reading_gf", "dub_depth_um"];

// as `difference` of campaigns.py
function compare(law, plain, other) {
  let compared = 0;
  for (const [name, mine] of Object.entries(plain)) {
    const theirs = other[law.names[name] ?? name];
    assert.equal(theirs.status, mine.status, `${law.name}: ${name}`);
    const columns = law.columns.length > 0 ? law.columns : law.only_ends ? state : Object.keys(mine.track);
    for (const column of columns) {
      const last = (values) => (law.only_ends ? values.slice(-1) : values);
      const [a, b] = [last(mine.track[column]), last(theirs.track[column])];
      assert.equal(b.length, a.length, `${law.name}: points of ${name}`);
      const scale = law.scale[column] ?? 1, tolerance = law.loose[column] ?? law.tolerance;
      a.forEach((x, i) => {
        const near = b[i] === x || Math.abs(b[i] - scale * x) <= tolerance * Math.max(Math.abs(scale * x), 1e-2);
        assert.ok(near, `${law.name}: ${name} ${column} ${i}: ${b[i]}, not ${scale * x}`);
        compared += 1;
      });
    }
    assert.equal(theirs.life === null, mine.life === null, `${law.name}: life of ${name}`);
    if (mine.life !== null && mine.life !== theirs.life) {
      const most = Math.max(law.tolerance, law.only_ends ? 0.02 : 0) * mine.life + 1e-9;
      assert.ok(Math.abs(theirs.life / (law.scale.passes_to_limit ?? 1) - mine.life) <= most, `${law.name}: life of ${name}`);
    }
  }
  return compared;
}

test("a campaign said otherwise is the same campaign", () => {
  const known = new Map();
  let compared = 0;
  for (const law of laws) {
    if (!known.has(law.plain)) known.set(law.plain, simulated(law.plain, {}));
    compared += compare(law, known.get(law.plain), simulated(law.other, law.files));
  }
  assert.equal(known.size, count);
  assert.equal(laws.length, 27 * count);
  assert.ok(compared > 10000);
});

test("through the tree and back it is the same campaign", () => {
  for (const { plain } of laws.filter((law) => law.name === "the order of edges")) {
    const read = call("read", { name: "c.toml", text: plain });
    const written = call("write", { tree: read.answer.tree }).answer.text;
    assert.deepEqual(simulated(written, {}), simulated(plain, {}));
  }
});

test("a forecast of one member lasts as long as the simulation", () => {
  let seen = 0;
  for (const { plain } of laws.filter((law) => law.name === "the order of edges")) {
    const long = plain.replaceAll(/passes = \d+/g, "passes = 5000").replace("reading_limit_gf = 250", "reading_limit_gf = 400").replace("points_per_step = 6", "points_per_step = 60");
    const edges = simulated(long, {});
    const reply = call("forecast", { name: "c.toml", text: long, options: { members: "1" } });
    assert.equal(reply.errors, undefined, JSON.stringify(reply.errors?.[0]));
    const lives = reply.answer.tables.find((table) => table.name === "lives");
    const column = (name) => lives.columns.find((c) => c.name === name).values;
    column("edge").forEach((name, i) => {
      if (!(edges[name].life > 0)) return;
      assert.ok(Math.abs(column("passes")[i] / edges[name].life - 1) < 0.02, `${name}: ${column("passes")[i]}, not ${edges[name].life}`);
      seen += 1;
    });
  }
  assert.ok(seen > 0);
});
