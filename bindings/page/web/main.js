// SPDX-License-Identifier: MIT
// The page: what is opened, changed, shown and asked.
import { h, digits, numberControl, restartIds, typed } from "./controls.js";
import { fromCode } from "./door.js";
import { linkOf, textOf } from "./link.js";
import { LogPanel } from "./log.js";
import { Background, callModule, Faults, unpacked } from "./model.js";
import { PhotoPanel } from "./photo.js";
import { Store, suited } from "./store.js";
import { answerFigures, Work } from "./work.js";
import { fileFor, isOpenedWorkbook, workbookOf } from "./workbook.js";
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
    this.store = new Store();
    this.work = new Work(this);
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
    this.putEarlierAway();
    const answer = callModule(this.module, "bench", this.request(state, membersAtOnce[this.rung]));
    this.state = state;
    this.opened = clone(state.tree);
    this.open = new Set([0]);
    const steps = answer.ways[0].steps;
    const strop = steps.findIndex((s) => s.verb === "strop");
    if (strop > 0) this.open = new Set([strop]);
    this.work.clear();
    this.show(answer);
    this.build();
    this.refineSoon();
    if (!this.log) return;
    this.log.blind = null; // of other edges
    this.log.advance();
    this.log.show();
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
    const { tree, readings } = this.withLog(state);
    return {
      name: state.name, tree, files: state.files, readings,
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

  // ---- readings: those of a file that was opened, and those of the log that belong to these edges ----

  /** Edges with their steps and moments, of the setting on the bench; none where the model cannot take it. */
  moments(state = this.state) {
    const of = JSON.stringify([state.tree.edge, state.tree.route, state.tree.include, state.files]);
    if (this.read?.of !== of) {
      try {
        this.read = { of, moments: callModule(this.module, "moments", { name: state.name, tree: state.tree, files: state.files }) };
      } catch (error) {
        if (!(error instanceof Faults)) throw error;
        return this.read?.moments ?? [];
      }
    }
    return this.read.moments;
  }

  exported(rows) {
    return callModule(this.module, "export", { rows }).text;
  }

  /** The same as a workbook, xlsx. */
  exportedWorkbook(rows) {
    return workbookOf(callModule(this.module, "export", { rows }).columns, rows);
  }

  /** Rows of files, by the program's own importer. Throws Faults. */
  imported(files) {
    return callModule(this.module, "import", { sources: files });
  }

  withLog(state) {
    const rows = this.store.rows();
    if (rows.length === 0) return state;
    const used = suited(this.moments(state), rows).used;
    if (used.length === 0) return state;
    const of = JSON.stringify([used, state.readings, state.tree.readings ?? null]);
    if (this.mixed?.of !== of) {
      const { tree, name, files } = state;
      const opened = state.readings === null ? [] : callModule(this.module, "import", { name, tree, files, sources: [state.readings] }).rows;
      this.mixed = { of, from: opened.length, logged: used.length, readings: { name: "readings.csv", text: this.exported([...opened, ...used]) } };
    }
    return { tree: { ...state.tree, readings: { file: "readings.csv" } }, readings: this.mixed.readings };
  }

  /** The log has more in it, or less: here or in another tab. */
  logChanged() {
    this.log?.show();
    if (this.state) this.changed();
  }

  /** Whether an edge stands in this configuration itself, and not in one that it includes. */
  canCode(name) {
    return Boolean(this.state.tree.edge?.[name]);
  }

  /** Codes for edges that have none: {edge: code}. */
  giveCodes(codes) {
    for (const [name, code] of Object.entries(codes)) this.state.tree.edge[name].code = code;
    this.keepSetting();
  }

  save(name, text) {
    save(name, text);
  }

  text() {
    return callModule(this.module, "write", { tree: this.state.tree }).text;
  }

  /** The setting and its readings as the two files that the program reads. */
  saveBoth() {
    let { tree, readings } = this.withLog(this.state);
    if (readings && isOpenedWorkbook(readings)) {
      const { name, files } = this.state;
      readings = { text: this.exported(callModule(this.module, "import", { name, tree, files, sources: [readings] }).rows) };
      tree = { ...tree, readings: {} };
    }
    const named = readings === null ? tree : { ...tree, readings: { ...(tree.readings ?? {}), file: "readings.csv" } };
    save("bench.toml", callModule(this.module, "write", { tree: named }).text);
    if (readings !== null) save("readings.csv", readings.text);
  }

  /** A plan's edges on the bench, to be read blind. */
  takePlan({ key, sheet }) {
    const { state } = this;
    attempt(this, () => {
      this.load({ name: "plan.toml", text: key, files: [...state.files, { name: state.name, text: this.text() }] });
      at("log-block").open = true;
      this.log.beginSheet(this.imported([{ name: "sheet.csv", text: sheet }]).rows);
      at("log-block").scrollIntoView();
    });
  }

  // ---- the setting, kept in the browser ----

  setting() {
    const { name, files, readings, ways, edited, moment } = this.state;
    return { name, text: this.text(), files, readings, ways, edited, moment, title: this.answer.title };
  }

  keepSetting() {
    return this.store.keep(`setting:${this.tab}`, this.setting());
  }

  /** What was changed on the bench, before something else takes its place. */
  putEarlierAway() {
    if (!this.state || JSON.stringify(this.state.tree) === JSON.stringify(this.opened)) return;
    this.store.keep(`earlier:${new Date().toISOString()}`, this.setting());
  }

  /** Of a setting that was kept: as it stood. Throws Faults. */
  takeSetting(kept) {
    this.load(kept);
    const names = this.answer.edges.map((e) => e.name);
    const ways = (kept.ways ?? []).filter((n) => names.includes(n));
    if (ways.length > 0) {
      this.state.ways = ways;
      this.state.edited = Math.min(kept.edited ?? 0, ways.length - 1);
      this.rebuilt();
    }
  }

  async showEarlier() {
    const found = await this.store.keptUnder("earlier:");
    const own = Object.values(await this.store.keptUnder("setting:")).filter((k) => k.key !== `setting:${this.tab}`);
    const all = [...Object.values(found), ...own].sort((a, b) => (a.at < b.at ? 1 : -1));
    for (const old of all.slice(12)) this.store.keep(old.key, null);
    at("earlier").replaceChildren(...(all.length === 0 ? [] : [h("p", {}, "Earlier settings in this browser:"), h("ul", {}, all.slice(0, 12).map((k) => h("li", {},
      h("button", { type: "button", class: "small", onclick: () => attempt(this, () => this.takeSetting(k.value)) }, `${k.value.title || "without a title"}, ${new Date(k.at).toLocaleString()}`))))]));
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
      this.keepSetting();
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
    this.followQuick();
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
    this.buildQuick();
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

  /** One slider beside the picture: the laps of the strop, or else what the edge is first worked with. */
  buildQuick() {
    const { tree, ways, edited } = this.state;
    const way = this.answer.ways[edited];
    const places = stepsOf(tree, ways[edited]);
    const cut = way.steps.findIndex((s) => s.verb === "cut");
    const before = way.steps.map((s, i) => ({ s, i })).filter(({ i }) => cut <= 0 || i < cut);
    const found = before.filter(({ s }) => s.verb === "strop").at(-1) ?? way.steps.map((s, i) => ({ s, i })).find(({ s }) => s.verb === "strop")
      ?? before.find(({ s }) => s.verb === "hone") ?? (cut >= 0 ? { s: way.steps[cut], i: cut } : undefined);
    const place = found && places?.[found.i];
    this.quickOf = null;
    if (!place) {
      at("quick").replaceChildren();
      return;
    }
    const [key, what] = { strop: ["laps", "on"], hone: ["strokes", "on"], cut: ["passes", "in"] }[found.s.verb];
    const field = this.about.tables[found.s.verb].fields.find((f) => f.key === key);
    this.quickOf = { index: found.i, key };
    at("quick").replaceChildren(numberControl(field, found.s[key], (value) => {
      put(place.list[place.index], field, value);
      this.changed();
      this.rebuildSoon();
    }, { label: `number of ${key} ${what} ${found.s[found.s.verb]}${ways.length > 1 ? `: ${ways[edited]}` : ""}` }));
  }

  /** The slider beside the picture follows what is changed elsewhere. */
  followQuick() {
    const step = this.quickOf && this.answer.ways[this.state.edited].steps[this.quickOf.index];
    const value = step?.[this.quickOf.key];
    const [slider, box] = at("quick").querySelectorAll("input");
    if (value === undefined || !slider || at("quick").contains(document.activeElement) || Number(box.value) === value) return;
    slider.value = value;
    box.value = typed(value);
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
  if (f.passes.middle === 0) return [h("strong", {}, `Dull from the start: never below ${digits(limit.gf)} gf`), ` (span: ${passesText(f.passes.low, f.horizon)} … ${passesText(f.passes.high, f.horizon)} passes)`];
  const span = `${passesText(f.passes.low, f.horizon)} … ${passesText(f.passes.high, f.horizon)}`;
  return [`Passes in ${f.wood} until dull, at ${digits(limit.gf)} gf: `, h("strong", {}, passesText(f.passes.middle, f.horizon)), ` (${span})`];
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
    h("p", { class: "state" }, `on the tester, ${moment.label}; apex radius ${digits(moment.apex_radius_um, 2)} µm, dub ${digits(moment.dub_um, 2)} µm, ${burrText(moment.burr_um)}`),
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
  const { answer, mixed, state } = bench;
  const logged = bench.withLog(state).readings !== state.readings ? mixed.logged : 0;
  const from = [answer.readings > logged && state.readings ? state.readings.name : "", logged > 0 ? `the log in this browser (${logged})` : ""].filter(Boolean).join(" and ");
  const text = answer.readings > 0 ? `${answer.readings} readings from ${from}.`
    : answer.is_lacking_readings ? `The configuration names readings in ${answer.readings_file}: open that file too.`
      : "No readings yet. Write some down, or open a CSV file of readings; its rows name the edges of this configuration.";
  at("readings").textContent = text;
  for (const id of ["fit", "look", "check"]) at(id).disabled = answer.readings === 0;
  at("compare").disabled = state.ways.length < 2;
}

function compare(bench) {
  const { state } = bench;
  const request = bench.work.request({});
  const f = bench.answer.ways.map((w) => w.forecast?.horizon ?? 1);
  request.options = { members: 400, passes: Math.max(...f), limit: String(Number(bench.answer.limit.gf.toPrecision(10))) };
  if (state.ways.some((n) => n.includes(","))) {
    // an option cannot name such edges; a configuration of these two alone needs no names, but its readings would miss the others
    request.tree = { ...request.tree, edge: Object.fromEntries(state.ways.map((n) => [n, state.tree.edge[n]])) };
    delete request.tree.readings;
  } else {
    request.options.edge = state.ways.join(",");
  }
  return bench.work.study("compare", request, at("compare-result"));
}

function fit(bench) {
  const request = bench.work.request({ "no-profiles": "yes", starts: 4 });
  return bench.work.run("study", at("fit-result"), [["fit", request]], (result) => {
    if (result.converged) bench.work.made.set("fit", request);
    showFit(bench, result);
  });
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
    parts.push(...answerFigures(result.figures));
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

// ---- a setting as a link ----

async function share(bench) {
  const { state } = bench;
  const box = at("share-result");
  if (state.files.length > 0) {
    box.replaceChildren(h("p", {}, "This setting includes other files, which a link cannot carry: save the files and send them."));
    return;
  }
  const { readings, ...tree } = state.tree; // a link has no readings
  const link = location.href.replace(/#.*$/, "") + await linkOf(callModule(bench.module, "write", { tree }).text);
  const field = h("input", { type: "text", id: "share-link", readOnly: true, value: link, "aria-label": "The link" });
  const told = h("p", { role: "status" });
  box.replaceChildren(h("p", {}, `Whoever opens this link has the setting${readings ? ", without its readings" : ""}; all of it stands in the address (${link.length} characters), and no server sees it.`), field,
    h("div", { class: "buttons" }, h("button", { type: "button", onclick: async () => {
      try {
        await navigator.clipboard.writeText(link);
        told.textContent = "Copied.";
      } catch { // not every browser lets a page do that
        field.select();
        told.textContent = "Copy the marked text.";
      }
    } }, "Copy it")), told);
  field.focus();
  field.select();
}

/** The setting of the address, where it has one; what is wrong with a link is said, and the bench is as it would be without. Whether it was taken. */
async function takeLink(bench) {
  let text = null;
  const refuse = (why) => {
    at("link-told").replaceChildren(h("p", {}, `The link's setting was not taken: ${why}. Ask for the link again, whole, or for the file.`));
    at("link-told").hidden = false;
    return false;
  };
  try {
    text = await textOf(location.hash);
  } catch (error) {
    return refuse(error.message);
  }
  if (text === null) return false;
  try {
    bench.load({ name: "link.toml", text });
    return true;
  } catch (error) {
    if (!(error instanceof Faults)) throw error;
    return refuse(error.faults.map((f) => f.text.trim()).join(" "));
  }
}

// ---- the page is set going ----

/** The bench, with the module on this thread and another on a second. */
async function openBench() {
  const moduleText = at("module").textContent;
  const code = unpacked(at("wasm").textContent);
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
