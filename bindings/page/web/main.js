// SPDX-License-Identifier: MIT
// The page is set going: the bench with its module and its store, and what its buttons do.
import { Bench } from "./bench.js";
import { at, h } from "./controls.js";
import { fromCode } from "./door.js";
import { attempt, openFiles, save } from "./files.js";
import { compare, fit } from "./fitting.js";
import { LogPanel } from "./log.js";
import { Background, callModule, Faults, unpacked } from "./model.js";
import { PhotoPanel } from "./photo.js";
import { share, takeLink } from "./share.js";
import { freeName, unrouted } from "./tree.js";

/** The code of the module. An older browser, which cannot unpack or run it, says so. */
async function compiled() {
  try {
    return await unpacked(at("wasm").textContent);
  } catch (error) {
    at("faults").textContent = `This browser is too old for the page, or too little memory is free: it takes Firefox 113, Safari 16.4, Chromium 95 or newer. (${error.message})`;
    at("faults").hidden = false;
    throw error;
  }
}

/** The bench, with the module on this thread and another on a second. */
async function openBench() {
  const moduleText = at("module").textContent;
  const code = compiled();
  document.head.append(h("script", { textContent: moduleText }));
  const module = await window.arrisModule(fromCode(await code));
  return new Bench(module, new Background(await code, moduleText, at("worker").textContent));
}

/** Which tab this is: the same after a reload, another in every tab. What a tab that is gone was in the middle of, another takes up. */
async function nameTab(bench) {
  let tab = null;
  try {
    tab = sessionStorage.getItem("arris-tab");
  } catch { /* storage is refused; the log says so */ }
  let alive = [];
  if (navigator.locks) {
    alive = ((await navigator.locks.query()).held ?? []).map((l) => l.name);
    if (tab && alive.includes(`arris-tab-${tab}`)) tab = null; // a tab that was copied has the name of the other
  }
  tab ??= Math.random().toString(36).slice(2, 10);
  try {
    sessionStorage.setItem("arris-tab", tab);
  } catch { /* as above */ }
  bench.tab = tab;
  navigator.locks?.request(`arris-tab-${tab}`, () => new Promise(() => {}));
  return (other) => alive.includes(`arris-tab-${other}`);
}

/** The log and what was on the bench last, from the browser's storage. */
async function openStore(bench) {
  const isAlive = await nameTab(bench);
  await bench.store.open();
  bench.store.changed = () => bench.logChanged();
  if (!(await takeLink(bench))) {
    const kept = Object.values(await bench.store.keptUnder("setting:")).sort((a, b) => (a.at < b.at ? 1 : -1));
    const own = kept.find((k) => k.key === `setting:${bench.tab}`) ?? kept[0];
    try {
      if (own) bench.takeSetting(own.value);
    } catch (error) { // of another version; it stays among the earlier ones
      if (!(error instanceof Faults)) throw error;
      bench.store.keep(`earlier:${own.at}`, own.value);
    }
  }
  if (!bench.state) bench.load({ name: "bench.toml", text: at("start").textContent });
  bench.log = new LogPanel(bench, at("log"), bench.tab);
  bench.log.advance();
  bench.log.takeDraft(await bench.store.keptUnder("draft:"), isAlive);
  bench.log.show();
  bench.photo = new PhotoPanel(bench, at("photo"));
  bench.photo.showKept();
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && bench.store.refresh());
  at("log-block").addEventListener("toggle", () => navigator.storage?.persist?.().catch(() => {})); // a browser that is short of room spares what it was asked to keep
  window.addEventListener("beforeunload", (event) => {
    if (bench.store.waiting.length > 0) event.preventDefault(); // the browser asks
  });
}

/** Where the page is served, it opens without a network from then on. */
function serveOffline() {
  if (!/^https?:$/.test(location.protocol) || !navigator.serviceWorker) return;
  document.head.append(h("link", { rel: "manifest", href: "manifest.webmanifest" }));
  navigator.serviceWorker.register("service-worker.js").catch(() => {}); // a server need not have it
}

/** While a finger is down controls stay; what was put off until then is done when it is up. */
function watchPointer(bench) {
  document.addEventListener("pointerdown", () => {
    bench.held = true;
  });
  for (const off of ["pointerup", "pointercancel"]) {
    document.addEventListener(off, () => {
      bench.held = false;
      if (bench.rebuildAtRest) bench.refineSoon();
    });
  }
}

/** Pictures are drawn for the width there is. */
function watchWidth(bench) {
  let width = at("results").clientWidth;
  new ResizeObserver(() => {
    if (Math.abs(at("results").clientWidth - width) < 8) return;
    width = at("results").clientWidth;
    bench.update();
  }).observe(at("results"));
}

/** Which ways are shown, which of them is changed, and at which moment. */
function connectWays(bench) {
  for (const i of [0, 1]) {
    at(`edit-${i}`).addEventListener("change", () => {
      bench.state.edited = i;
      bench.rebuilt();
    });
    at(`choose-${i}`).addEventListener("change", (event) => {
      bench.state.ways[i] = event.target.value;
      bench.rebuilt();
    });
  }
  for (const radio of document.querySelectorAll("[name=moment]")) {
    radio.addEventListener("change", () => {
      bench.state.moment = radio.value;
      bench.update();
    });
  }
  at("ways-block").addEventListener("toggle", () => bench.state && bench.rebuilt());
  at("wall").addEventListener("click", () => attempt(bench, () => bench.work.open(bench.sheets({ edge: bench.wayName() }))));
  at("second").addEventListener("click", () => {
    const { state } = bench;
    const name = freeName(state.tree, "edge", `${state.ways[0]} otherwise`);
    state.tree.edge[name] = unrouted(state.tree, state.ways[0]);
    state.ways[1] = name;
    state.edited = 1;
    bench.rebuilt();
  });
  at("alike").addEventListener("click", () => {
    const { tree, ways, edited } = bench.state;
    tree.edge[ways[1 - edited]] = unrouted(tree, ways[edited]);
    bench.rebuilt();
  });
}

/** What is opened and saved. */
function connectFiles(bench) {
  const written = (tree) => callModule(bench.module, "write", { tree }).text;
  at("files-block").addEventListener("toggle", () => at("files-block").open && bench.showEarlier());
  at("share").addEventListener("click", () => share(bench));
  at("files").addEventListener("change", async (event) => {
    await openFiles(bench, event.target.files);
    event.target.value = "";
  });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer.files.length > 0) openFiles(bench, event.dataTransfer.files);
  });
  at("save").addEventListener("click", () => save("bench.toml", written(bench.state.tree)));
  at("again").addEventListener("click", () => attempt(bench, () => bench.load({
    name: bench.state.name, text: written(bench.opened), files: bench.state.files, readings: bench.state.readings })));
  ["start", "chisel"].forEach((id, i) => at(`example-${i}`).addEventListener("click", () => attempt(bench, () => bench.load({
    name: "bench.toml", text: at(id).textContent }))));
  at("demo").addEventListener("click", () => attempt(bench, () => bench.load({
    name: "boatyard.toml", text: at("boatyard").textContent, readings: { name: "readings.csv", text: at("boatyard-readings").textContent } })));
  at("text-block").addEventListener("toggle", () => at("text-block").open && bench.showText());
}

/** What takes longer. */
function connectStudies(bench) {
  bench.work.connect();
  at("compare").addEventListener("click", () => compare(bench));
  at("fit").addEventListener("click", () => fit(bench));
}

async function begin() {
  const bench = await openBench();
  window.arrisBench = bench;
  at("version").textContent = `arris ${bench.about.version} (${bench.about.commit})`;
  at("caution").textContent = bench.about.caution;
  watchPointer(bench);
  watchWidth(bench);
  connectWays(bench);
  connectFiles(bench);
  connectStudies(bench);
  await openStore(bench);
  serveOffline();
  document.body.classList.add("ready");
  performance.mark("ready");
}

begin();
