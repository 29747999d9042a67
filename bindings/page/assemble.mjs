// SPDX-License-Identifier: MIT
// Puts the page together: one HTML file with styles, scripts, the module and the first configuration in it.
//   usage: assemble.mjs ESBUILD ZOPFLI MODULE.js ROOT OUT.html
// The module's code lies in it packed (gzip), as text (web/text85.js); browsers unpack it themselves. Beside the page, for who serves it, a
// manifest and a service worker, which a page from disk neither needs nor asks for.
import { execFileSync } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { textOfBytes } from "./web/text85.js";

const [esbuild, zopfli, moduleFile, root, out] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));
const read = (...parts) => readFileSync(join(...parts), "utf8");
const web = (name) => join(here, "web", name);

const code = readFileSync(moduleFile.replace(/\.js$/, ".wasm"));

// the styles of figures come out of the module itself
const module = await createRequire(import.meta.url)(resolve(moduleFile))({ wasmBinary: code });
const reply = JSON.parse(module.ccall("arris_call", "string", ["string", "string"], ["style", "null"]));

// browsers back to those of 2023: the oldest Firefox with extended support
const minified = (input, ...options) => execFileSync(
  esbuild, ["--minify", "--charset=utf8", "--target=chrome115,firefox115", "--log-level=warning", ...options],
  { input, encoding: "utf8" }).trimEnd();
const bundle = (entry, format) => minified("", web(entry), "--bundle", `--format=${format}`, "--legal-comments=inline");

const inScript = (text) => text.replace(/<(?=\/script|!--|script)/gi, "\\x3c");
const inData = (text) => {
  if (/<\/script|<!--/i.test(text)) throw new Error("this text cannot stand in a page");
  return text;
};

// half a minute for a twentieth less: kept beside the module until that is compiled anew
function packed() {
  const file = moduleFile.replace(/\.js$/, ".wasm.gz"), of = moduleFile.replace(/\.js$/, ".wasm");
  if (!existsSync(file) || statSync(file).mtimeMs < statSync(of).mtimeMs)
    writeFileSync(file, execFileSync(zopfli, ["--i3", "-c", of], { maxBuffer: 1e8 }));
  return readFileSync(file);
}

const parts = {
  "/*@style*/": minified(reply.answer + read(web("page.css")), "--loader=css"),
  "@start": inData(read(web("start.toml"))),
  "@chisel": inData(read(root, "configs/examples/strop-only.toml")),
  "@boatyard": inData(read(root, "configs/boatyard/boatyard.toml")),
  "@readings": inData(read(root, "configs/boatyard/readings.csv")),
  "@wasm": inData(textOfBytes(packed())),
  "@module": inScript(read(moduleFile)),
  "@worker": inScript(bundle("worker.js", "iife")),
  "@script": inScript(bundle("main.js", "esm")),
};
// all at once: what is put in may hold such marks itself
const page = read(web("page.html")).replace(/(?<=>)@(start|chisel|boatyard|readings|wasm|module|worker|script)(?=<)|\/\*@style\*\//g, (mark) => parts[mark]);
mkdirSync(dirname(out), { recursive: true });
writeFileSync(out, page);
for (const name of ["manifest.webmanifest", "service-worker.js", "icon.svg"]) copyFileSync(join(here, "served", name), join(dirname(out), name));
console.log(`${out}: ${(page.length / 1e6).toFixed(2)} MB`);
