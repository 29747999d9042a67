// SPDX-License-Identifier: MIT
// Debian's chromium, without anything of its own on the network.
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

/** Script that looks for faults of accessibility in a page. */
export const axe_file = createRequire(import.meta.url).resolve("axe-core/axe.min.js");

export function openBrowser() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
}
