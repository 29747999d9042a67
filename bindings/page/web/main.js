// SPDX-License-Identifier: MIT
// The page: what is opened, changed, shown and asked.
import { h, digits, numberControl, restartIds, typed } from "./controls.js";
import { Background, callModule, Faults } from "./model.js";
import { bladeControls, filamentControl, stepCards, stepCount, stepTitle, tableControls } from "./steps.js";
import { freeName, put, stepsOf } from "./tree.js";

const at = (id) => document.getElementById(id);
const clone = (value) => JSON.parse(JSON.stringify(value));
const membersAtOnce = [10, 20, 40, 80]; // versions of the model while something moves, as many as the machine manages in a frame
const membersAtRest = 1000; // and when it stands still
const tones = ["ink", "ochre"];

class Bench {
  constructor(module, background) {
    this.module = module;
    this.background = background;
    this.about = callModule(module, "describe", null);
    this.state = null;
    this.answer = null; // the last that was good
    this.open = new Set();
    this.asked = 0; // counts what was shown, so that late answers are known
    this.rung = 1; // of membersAtOnce
    this.quick = 0; // answers in a row that left room for more
  }

  /** As many members as are answered well within a frame of 16 ms. */
  suit(took) {
    this.quick = took < 5 ? this.quick + 1 : 0;
    if (took > 12 && this.rung > 0) this.rung -= 1;
    if (this.quick >= 12 && this.rung < membersAtOnce.length - 1) {
      this.rung += 1;
      this.quick = 0;
    }
  }

  // ---- opening ----

  /** Puts a configuration (and what came with it) in the place of the present one. Throws Faults, and then all stays as it was. */
  load({ name, text, files = [], readings = null, fit = null }) {
    const read = callModule(this.module, "read", { name, text, files, readings });
    const names = read.edges.map((e) => e.name);
    const state = { name, tree: read.tree, files, readings, ways: names.slice(0, 2), edited: 0, moment: this.state?.moment ?? "ready", limit: "", fit };
    const answer = callModule(this.module, "bench", this.request(state, membersAtOnce[this.rung]));
    this.state = state;
    this.opened = clone(state.tree);
    this.open = new Set([0]);
    const steps = answer.ways[0].steps;
    const strop = steps.findIndex((s) => s.verb === "strop");
    if (strop > 0) this.open = new Set([strop]);
    clearStudies();
    this.show(answer);
    this.build();
    this.refineSoon();
  }

  /** Readings for the present configuration. Throws Faults, and then all stays as it was. */
  loadReadings(readings) {
    const state = { ...this.state, tree: clone(this.state.tree), readings, fit: null };
    state.tree.readings = { ...(state.tree.readings ?? {}), file: readings.name };
    const answer = callModule(this.module, "bench", this.request(state, membersAtOnce[this.rung]));
    this.state = state;
    this.show(answer);
    this.build();
    this.refineSoon();
  }

  request(state, members) {
    const wide = at("results").clientWidth || 360;
    const two = state.ways.length > 1 && wide >= 640;
    return {
      name: state.name, tree: state.tree, files: state.files, readings: state.readings,
      ways: state.ways, moment: state.moment, members, use_fit: state.fit !== null, edited: state.ways[state.edited],
      width: wide < 640 ? 320 : Math.min(520, two ? wide / 2 - 12 : wide), whole: wide >= 640,
      chart_width: Math.max(320, Math.min(900, wide)),
    };
  }

  /** All that numbers and spans depend on, as a text: the moment that is drawn and how many versions are asked are not among it. */
  asksFor() {
    return JSON.stringify({ ...this.request(this.state, 0), moment: "" });
  }

  /** Spans of many versions stay while nothing they depend on has changed. */
  keepSpans(answer) {
    const kept = this.refined?.answer;
    if (!kept || answer === kept || answer.members >= kept.members || this.refined.of !== this.asksFor()) return;
    answer.members = kept.members;
    answer.chart = kept.chart;
    answer.ways.forEach((way, i) => {
      if (way.message || kept.ways[i].message) return;
      way.ready = kept.ways[i].ready;
      way.forecast = kept.ways[i].forecast;
    });
  }

  // ---- changing ----

  wayName() {
    return this.state.ways[this.state.edited];
  }

  /** Whether a fit that is in use took this number as given. */
  isFitted(path) {
    return this.state.fit !== null && this.state.fit.groups.groups.given.axes.path.includes(path);
  }

  /** A number was changed: the answer comes with the next frame. */
  changed() {
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => {
      this.frame = 0;
      this.update();
    });
  }

  /** What controls there are has changed too. `open`: a card to open. */
  rebuilt(open) {
    if (open !== undefined) this.open.add(open);
    if (this.update()) this.build();
  }

  /** The same once the finger is off: a control must not vanish while it is dragged. */
  rebuildSoon() {
    this.rebuildAtRest = true;
  }

  /** Whether there was a new answer. */
  update() {
    const begun = performance.now();
    try {
      this.show(callModule(this.module, "bench", this.request(this.state, membersAtOnce[this.rung])));
    } catch (error) {
      if (!(error instanceof Faults)) throw error;
      this.complain("The model cannot take this", error.faults, "What is shown is from before; nothing you opened is lost.");
      at("results").classList.add("stale");
      return false;
    }
    const took = performance.now() - begun;
    window.arrisTiming = { last: took, members: membersAtOnce[this.rung] };
    at("took").textContent = `Last change answered in ${took.toFixed(1)} ms, with ${membersAtOnce[this.rung]} versions of the model.`;
    this.suit(took);
    this.refineSoon();
    return true;
  }

  /** At rest the band is worked out anew with many more versions of the model. */
  refineSoon() {
    clearTimeout(this.rest);
    const asked = ++this.asked;
    this.rest = setTimeout(async () => {
      if (this.rebuildAtRest && !this.held) {
        this.rebuildAtRest = false;
        this.build();
      }
      announce(this.answer);
      try {
        const answer = await this.background.ask("refine", [
          ["hold", this.state.fit], ["bench", this.request(this.state, membersAtRest)],
        ]);
        if (asked !== this.asked) return;
        this.refined = { of: this.asksFor(), answer };
        this.show(answer);
      } catch (error) {
        if (!(error instanceof Faults) && !["replaced", "stopped"].includes(error.message)) throw error;
      }
    }, 350);
  }

  // ---- showing ----

  complain(title, faults, after = "") {
    const box = at("faults");
    box.replaceChildren(h("h2", {}, title), ...faults.map((f) => h("pre", {}, f.text)), h("p", {}, after));
    box.hidden = false;
    for (const field of document.querySelectorAll(".field.wrong")) field.classList.remove("wrong");
    for (const fault of faults) {
      for (const field of document.querySelectorAll("[data-key]")) {
        if (fault.key && field.dataset.key === fault.key) field.classList.add("wrong");
      }
    }
  }

  show(answer) {
    this.keepSpans(answer);
    this.answer = answer;
    answer.is_fitted = this.state.fit !== null && !answer.fit_refused;
    at("faults").hidden = true;
    at("results").classList.remove("stale");
    const { ways, edited } = this.state;
    const two = ways.length > 1;
    answer.ways.forEach((way, i) => {
      showWay(at(`way-${i}`), at(`section-${i}`), way, answer, i, this.state.moment);
      at(`section-${i}`).classList.toggle("edited", i === edited);
    });
    at("way-1").hidden = at("section-1").hidden = !two;
    at("chart").innerHTML = answer.chart ?? ""; // written by the model, names in it escaped
    at("chart-block").hidden = !answer.chart;
    showSteps(answer.ways[edited]);
    at("rests").textContent = restsText(answer);
    at("fit-refused").textContent = answer.fit_refused
      ? `The fit is not used: ${answer.fit_refused}. A blade or material that was changed is another one.` : "";
    at("notes").replaceChildren(...answer.notes.map((n) => h("li", {}, `${n.what}.${n.next ? ` ${n.next}` : ""}`)));
    at("notes").hidden = answer.notes.length === 0;
    showReadings(this);
    if (at("text-block").open) this.showText();
  }

  showText() {
    const { text } = callModule(this.module, "write", { tree: this.state.tree });
    at("text").textContent = text.split("\n").map((line, i) => `${String(i + 1).padStart(4)}  ${line}`).join("\n");
  }

  /** All controls, from the last answer. */
  build() {
    const { tree, ways, edited } = this.state;
    const focused = document.activeElement?.id;
    const unfolded = () => [...document.querySelectorAll("#controls details.more")];
    const open = unfolded().map((d) => d.open);
    restartIds();
    const names = this.answer.edges.map((e) => e.name);
    at("title").textContent = this.answer.title || "Without a title";
    for (const i of [0, 1]) {
      const select = at(`choose-${i}`);
      select.replaceChildren(...names.map((n) => h("option", { value: n, selected: n === ways[i], disabled: n === ways[1 - i] }, n)));
      select.disabled = names.length === 0;
      if (i === 1) select.parentElement.hidden = ways.length < 2;
      const tab = at(`edit-${i}`);
      tab.checked = i === edited;
      at(`edit-${i}-name`).textContent = ways[i] ?? "";
      tab.parentElement.hidden = i >= ways.length;
    }
    at("second").hidden = ways.length > 1;
    at("alike").hidden = ways.length < 2;
    at("alike").textContent = ways.length < 2 ? "" : `Make “${ways[1 - edited]}” like this one`;

    const way = this.answer.ways[edited];
    at("blade").replaceChildren(...bladeControls(this, ways[edited], way).flat().filter(Boolean));
    at("steps").replaceChildren(...stepCards(this, stepsOf(tree, ways[edited]), way, this.open));
    for (const card of at("steps").querySelectorAll("details.step"))
      card.addEventListener("toggle", () => this.open[card.open ? "add" : "delete"](Number(card.dataset.step)));
    this.buildLimit();
    at("tester").replaceChildren(filamentControl(this), ...tableControls(this, "tester"));
    at("scatter").replaceChildren(...tableControls(this, "scatter"));
    const now = unfolded();
    if (now.length === open.length) now.forEach((d, i) => (d.open = open[i]));
    if (focused && at(focused)) at(focused).focus();
  }

  buildLimit() {
    const { limits, limit } = this.answer;
    const named = this.state.limit || limits.find((l) => l.name === limit.name)?.name || "";
    const field = this.about.tables.output.fields.find((f) => f.key === "reading_limit_gf");
    const set = (gf) => {
      put((this.state.tree.output ??= {}), field, gf);
    };
    const select = h("select", { id: "task" },
      h("option", { value: "", selected: named === "" }, "a reading of my own"),
      limits.map((l) => h("option", { value: l.name, selected: l.name === named }, `${l.name}: ${digits(l.reading_gf)} gf`)));
    select.addEventListener("change", () => {
      this.state.limit = select.value;
      const chosen = limits.find((l) => l.name === select.value);
      if (chosen) set(chosen.reading_gf);
      this.rebuilt();
    });
    at("limit").replaceChildren(
      h("div", { class: "field" }, h("label", { htmlFor: "task" }, "The edge is too dull for"), select),
      numberControl(field, limit.gf, (value) => {
        this.state.limit = "";
        at("task").value = "";
        set(value);
        this.changed();
      }, { path: "output.reading_limit_gf", label: "when it reads more than" }));
  }
}

// ---- what is shown of an answer ----

const grams = (value) => digits(value, value < 100 ? 2 : 3); // nobody reads a tester closer
const passesText = (value, horizon) => {
  if (value === "beyond") return `more than ${typed(horizon)}`;
  return value === 0 ? "none" : digits(value, 2);
};

function lifeText(way, limit) {
  const f = way.forecast;
  if (!f) return "It cuts no wood here: add a step that does to see how long it lasts.";
  if (f.passes.middle === 0) return [h("strong", {}, `Never below ${digits(limit.gf)} gf`), ` (span: ${passesText(f.passes.low, f.horizon)} … ${passesText(f.passes.high, f.horizon)} passes)`];
  const span = `${passesText(f.passes.low, f.horizon)} … ${passesText(f.passes.high, f.horizon)}`;
  return [`Passes in ${f.wood} to ${digits(limit.gf)} gf: `, h("strong", {}, passesText(f.passes.middle, f.horizon)), ` (${span})`];
}

const leastBurr = 1e-3; // µm; below it there is none

const burrText = (um) => (um < leastBurr ? "no burr" : `burr ${digits(um, 2)} µm`);

/** Numbers of the moment that the picture shows; a span is known for the edge that is ready for work. */
function showWay(box, figure, way, answer, index, wanted) {
  const name = h("h2", {}, h("span", { class: `key key-${tones[index]}`, "aria-hidden": "true" }), way.edge);
  if (way.message) {
    box.replaceChildren(name, h("p", { class: "failed" }, way.message));
    figure.replaceChildren();
    return;
  }
  const moment = way.moments[wanted] ?? way.moments.ready;
  figure.innerHTML = way.section; // written by the model, names in it escaped
  const span = moment === way.moments.ready ? h("span", { class: "band" }, `${grams(way.ready.low)} … ${grams(way.ready.high)}`) : "";
  box.replaceChildren(name,
    h("p", { class: "reading" }, h("output", {}, grams(moment.reading_gf)), " gf ", span),
    h("p", { class: "state" }, `${moment.label}; apex radius ${digits(moment.apex_radius_um, 2)} µm, dub ${digits(moment.dub_um, 2)} µm, ${burrText(moment.burr_um)}`),
    h("p", { class: "life" }, lifeText(way, answer.limit)));
}

function showSteps(way) {
  const head = ["step", "count", "burr after", "radius µm", "dub µm", "scratch µm", "burr µm", "reads gf"];
  at("step-table-name").textContent = way.edge;
  const count = (s) => (typeof s.count === "number" ? typed(Number(s.count.toPrecision(3))) : "");
  const burr = (s) => (s.verb !== "hone" ? "" : typeof s.strokes_to_burr === "number" ? digits(s.strokes_to_burr, 2) : "none");
  const rows = way.message ? [] : way.summary.map((s, i) => h("tr", {},
    h("th", { scope: "row" }, `${i + 1} ${stepTitle(way.steps[i])}`),
    [count(s), burr(s), digits(s.apex_radius_after_um), s.dub_after_um > 0 ? digits(s.dub_after_um, 2) : "", digits(s.scratch_after_um, 2), s.burr_after_um < leastBurr ? "none" : digits(s.burr_after_um, 2), grams(s.reading_after_gf)]
      .map((text) => h("td", {}, text))));
  at("step-table").replaceChildren(h("thead", {}, h("tr", {}, head.map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, rows));
  document.querySelectorAll("#steps details.step").forEach((card, i) => {
    const title = card.querySelector(".what"), told = card.querySelector(".count");
    if (!way.steps[i] || !title) return;
    title.textContent = stepTitle(way.steps[i]);
    told.textContent = stepCount(way.steps[i]);
  });
}

function restsText(answer) {
  const what = answer.is_fitted
    ? "Bold numbers, lines and pictures are what the model gives for the values that fit your readings best"
    : "Bold numbers, lines and pictures are what the model gives for the values as set here";
  return `${what}; the span beside a bold number holds it and 9 in 10 of the ${answer.members} versions of the model that were run. ${answer.rests_on}`;
}

function announce(answer) {
  at("told").textContent = answer.ways
    .filter((w) => !w.message)
    .map((w) => `${w.edge} reads ${grams(w.moments.ready.reading_gf)} gram-force ready for work, ${grams(w.ready.low)} to ${grams(w.ready.high)}.`)
    .join(" ");
}

// ---- readings, fit, comparison ----

function showReadings(bench) {
  const { answer } = bench;
  const text = answer.readings > 0 ? `${answer.readings} readings from ${bench.state.readings.name}.`
    : answer.is_lacking_readings ? `The configuration names readings in ${answer.readings_file}: open that file too.`
      : "No readings yet. Open a CSV file of readings; its rows name the edges of this configuration.";
  at("readings").textContent = text;
  at("fit").disabled = answer.readings === 0;
}

function clearStudies() {
  at("fit-result").replaceChildren();
  at("compare-result").replaceChildren();
}

function answerTable(table) {
  const columns = table.columns.filter((c) => c.head !== "");
  const rows = columns[0]?.values.length ?? 0;
  const cell = (c, i) => (c.units === "" ? c.values[i] : c.values[i] === null ? "" : c.values[i] === "beyond" ? "more" : digits(c.values[i], c.significant));
  return h("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": table.says },
    h("table", {}, h("caption", {}, table.says),
      h("thead", {}, h("tr", {}, columns.map((c) => h("th", { scope: "col", title: c.says }, c.head)))),
      h("tbody", {}, Array.from({ length: rows }, (_, i) => h("tr", {}, columns.map((c, k) => h(k === 0 ? "th" : "td", k === 0 ? { scope: "row" } : {}, cell(c, i))))))));
}

function showAnswer(box, answer) {
  box.replaceChildren(h("p", { class: "headline" }, answer.headline),
    ...answer.tables.filter((t) => t.shown).map(answerTable),
    ...answer.remarks.map((r) => h("p", {}, r)),
    h("p", {}, answer.rests_on), ...answer.cautions.map((c) => h("p", { class: "caution" }, c)));
}

/** Runs what takes longer on the other thread, with what it says of its progress and a button that stops it. */
async function study(bench, lane, box, calls, done) {
  const bar = h("progress", { max: 1 });
  const stage = h("span", {}, "beginning");
  box.replaceChildren(h("p", { class: "busy", role: "status" }, stage, bar,
    h("button", { type: "button", onclick: () => bench.background.stop(lane) }, "Stop")));
  try {
    done(await bench.background.ask(lane, calls, (name, of, all) => {
      stage.textContent = name;
      bar.max = all || 1;
      bar.value = of;
    }));
  } catch (error) {
    if (error instanceof Faults) box.replaceChildren(...error.faults.map((f) => h("pre", { class: "fault", role: "alert" }, f.text)));
    else if (error.message === "stopped") box.replaceChildren(h("p", {}, "Stopped."));
    else if (error.message !== "replaced") throw error;
  }
}

function compare(bench) {
  const { state } = bench;
  const request = bench.request(state, 0);
  const f = bench.answer.ways.map((w) => w.forecast?.horizon ?? 1);
  request.options = { members: 400, passes: Math.max(...f), limit: String(Number(bench.answer.limit.gf.toPrecision(10))) };
  if (state.ways.some((n) => n.includes(","))) {
    // an option cannot name such edges; a configuration of these two alone needs no names, but its readings would miss the others
    request.tree = { ...state.tree, edge: Object.fromEntries(state.ways.map((n) => [n, state.tree.edge[n]])) };
    delete request.tree.readings;
  } else {
    request.options.edge = state.ways.join(",");
  }
  return study(bench, "study", at("compare-result"), [["hold", state.fit], ["compare", request]], (answer) => showAnswer(at("compare-result"), answer));
}

function fit(bench) {
  const request = bench.request(bench.state, 0);
  request.options = { "no-profiles": "yes", starts: 4 };
  return study(bench, "study", at("fit-result"), [["fit", request]], (result) => showFit(bench, result));
}

/** What a parameter is, without the symbol that an equation has for it. */
const withoutSymbol = (says) => says.replace(/ \p{L}+∞/u, "").replace(/, (?:\p{L}|\p{L}+_\S+)$/u, "");

function showFit(bench, result) {
  const box = at("fit-result");
  const parts = [h("p", { class: "headline" }, result.sentence)];
  if (result.converged) {
    const p = result.groups.groups.parameters.data, paths = result.groups.groups.parameters.axes.parameter;
    const cell = (i) => (typeof p.low.values[i] === "number" ? `${digits(p.low.values[i])} … ${digits(p.high.values[i])}` : "not determined by the readings");
    parts.push(h("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": "Parameters" }, h("table", {}, h("caption", {}, "Parameters, with spans of 90 %"),
      h("thead", {}, h("tr", {}, ["parameter", "value", "unit", "90 %"].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, paths.map((path, i) => h("tr", {}, h("th", { scope: "row", title: path }, withoutSymbol(p.says.values[i])),
        h("td", {}, digits(p.value.values[i])), h("td", {}, p.unit.values[i]), h("td", {}, cell(i))))))));
    for (const u of result.undetermined) parts.push(h("p", {}, `${u.says}${u.settled_by ? ` ${u.settled_by}` : ""}`));
    parts.push(h("p", {}, `${result.rests_on} A fitted value is an estimate, not a promise.`));
    bench.state.fit = result;
    callModule(bench.module, "hold", result);
    bench.rebuilt();
    parts.push(h("p", {}, "The predictions now rest on this fit, by its normal approximation; posterior draws take the program: arris fit --draws."),
      h("button", { type: "button", onclick: (event) => {
        bench.state.fit = null;
        bench.rebuilt();
        event.target.disabled = true;
      } }, "Back to the priors"));
    parts.push(h("button", { type: "button", onclick: () => save("fitted.toml", result.fitted) }, "Save the fitted configuration"),
      h("button", { type: "button", onclick: () => attempt(bench, () => bench.load({
        name: "fitted.toml", text: result.fitted, files: bench.state.files, readings: bench.state.readings, fit: bench.state.fit })) }, "Go on with the fitted values"));
  }
  parts.push(h("details", {}, h("summary", {}, "All that the fit tells"), h("pre", {}, result.text)));
  box.replaceChildren(...parts);
}

// ---- files ----

function save(name, text) {
  const url = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  h("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}

/** Does what may find faults in files: these are shown, and all stays as it was. */
function attempt(bench, work) {
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

async function openFiles(bench, list) {
  const files = await Promise.all([...list].map(async (file) => ({ name: file.name, text: await file.text() })));
  const isCsv = (f) => /\.csv$/i.test(f.name);
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

/** An edge with the steps of its route written out, so that it can be changed by itself. */
function unrouted(tree, name) {
  const edge = clone(tree.edge[name]);
  const places = stepsOf(tree, name);
  if (places) {
    delete edge.route;
    edge.steps = places.map((p) => clone(p.list[p.index]));
  }
  delete edge.code;
  return edge;
}

// ---- the page is set going ----

/** The bench, with the module on this thread and another on a second. */
async function openBench() {
  const moduleText = at("module").textContent;
  document.head.append(h("script", { textContent: moduleText }));
  const module = await window.arrisModule({});
  return new Bench(module, new Background(moduleText, at("worker").textContent));
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
  at("demo").addEventListener("click", () => attempt(bench, () => bench.load({
    name: "boatyard.toml", text: at("boatyard").textContent, readings: { name: "readings.csv", text: at("boatyard-readings").textContent } })));
  at("text-block").addEventListener("toggle", () => at("text-block").open && bench.showText());
}

/** What takes longer. */
function connectStudies(bench) {
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
  bench.load({ name: "bench.toml", text: at("start").textContent });
  document.body.classList.add("ready");
}

begin();
