// SPDX-License-Identifier: MIT
// Debian's chromium, without anything of its own on the network.
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

// the packages lie in the build folder, not beside this file
const require = createRequire(join(resolve(process.env.ARRIS_BROWSER), "x.js"));
const { chromium } = require("playwright-core");

/** Script that looks for faults of accessibility in a page. */
export const axe_file = require.resolve("axe-core/axe.min.js");

export function openBrowser() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
}
