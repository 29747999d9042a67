// SPDX-License-Identifier: MIT
// Files that are opened and saved.
import { at, h } from "./controls.js";
import { Faults } from "./model.js";
import { fileFor } from "./workbook.js";

/** A text, or the bytes of a workbook, as a file of that name. */
export function save(name, text) {
  const url = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  h("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}

/** Does what may find faults in files: these are shown, and all stays as it was. */
export function attempt(bench, work) {
  try {
    work();
    at("file-faults").replaceChildren();
  } catch (error) {
    if (!(error instanceof Faults)) throw error;
    at("file-faults").replaceChildren(h("h2", {}, "This file was not taken"), ...error.faults.map((f) => h("pre", {}, f.text)),
      h("p", {}, "What you had on the bench is as it was."));
    at("file-faults").scrollIntoView({ block: "nearest" });
  }
}

/** Files that were chosen or dropped: configurations, and readings. */
export async function openFiles(bench, list) {
  const files = await Promise.all([...list].map(fileFor));
  const isCsv = (f) => /\.(csv|xlsx|ods|xls)$/i.test(f.name);
  const readings = files.find(isCsv) ?? null;
  const configurations = files.filter((f) => !isCsv(f));
  attempt(bench, () => {
    if (configurations.length === 0) {
      if (readings) bench.loadReadings(readings);
      return;
    }
    // the one that no other includes
    const main = configurations.find((f) => !configurations.some((g) => g !== f && g.text.includes(f.name))) ?? configurations[0];
    bench.load({ ...main, files: configurations.filter((f) => f !== main), readings });
  });
}
