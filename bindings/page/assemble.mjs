// SPDX-License-Identifier: MIT
// Puts the page together: one HTML file with styles, scripts, the module and the first configuration in it.
//   usage: assemble.mjs MODULE.js ROOT OUT.html
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const [moduleFile, root, out] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));
const read = (...parts) => readFileSync(join(...parts), "utf8");
const web = (name) => read(here, "web", name);

// the styles of figures come out of the module itself
const module = await createRequire(import.meta.url)(resolve(moduleFile))({});
const reply = JSON.parse(module.ccall("arris_call", "string", ["string", "string"], ["style", "null"]));

// one script out of the parts, in the order in which they use one another
const script = ["tree.js", "model.js", "controls.js", "steps.js", "main.js"]
  .map((name) => web(name).replace(/^import .*;\n/gm, "").replace(/^export /gm, ""))
  .join("\n");
const inScript = (text) => text.replace(/<(?=\/script|!--|script)/gi, "\\x3c");
const inData = (text) => {
  if (/<\/script|<!--/i.test(text)) throw new Error("this text cannot stand in a page");
  return text;
};

const parts = {
  "/*@style*/": reply.answer + web("page.css"),
  "@start": inData(web("start.toml")),
  "@boatyard": inData(read(root, "configs/boatyard/boatyard.toml")),
  "@readings": inData(read(root, "configs/boatyard/readings.csv")),
  "@module": inScript(read(moduleFile)),
  "@script": `(() => {\n"use strict";\n${inScript(script)}})();`,
};
// all at once: what is put in may hold such marks itself
const page = web("page.html").replace(/(?<=>)@(start|boatyard|readings|module|script)(?=<)|\/\*@style\*\//g, (mark) => parts[mark]);
mkdirSync(dirname(out), { recursive: true });
writeFileSync(out, page);
console.log(`${out}: ${(page.length / 1e6).toFixed(2)} MB`);
