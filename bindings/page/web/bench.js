// SPDX-License-Identifier: MIT
// The bench: the setting that is on it, the last answer to it, and what follows when either changes.
import { buildControls, followQuick } from "./bench_controls.js";
import { at, h } from "./controls.js";
import { attempt, save } from "./files.js";
import { showReadings } from "./fitting.js";
import { callModule, Faults } from "./model.js";
import { announce, restsText, showSteps, showWay } from "./readout.js";
import { Store, suited } from "./store.js";
import { clone } from "./tree.js";
import { Work } from "./work.js";
import { isOpenedWorkbook, workbookOf } from "./workbook.js";

const membersAtOnce = [10, 20, 40, 80]; // versions of the model while something moves, as many as the machine manages in a frame
const membersAtRest = 1000; // and when it stands still

export class Bench {
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
    const steps = answer.ways[0].steps; // that which is edited stands first, or alone
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

  /** The ways that are shown: one, until two are asked for side by side. */
  shown(state = this.state) {
    return at("ways-block").open ? state.ways : [state.ways[state.edited]];
  }

  /** What the last answer says of the way that is edited. */
  way() {
    return this.answer.ways.find((w) => w.edge === this.wayName()) ?? this.answer.ways[0];
  }

  request(state, members) {
    const wide = at("results").clientWidth || 360;
    const ways = this.shown(state), two = ways.length > 1 && wide >= 640;
    const { tree, readings } = this.withLog(state);
    return {
      name: state.name, tree, files: state.files, readings,
      ways, moment: state.moment, members, use_fit: state.fit !== null, edited: state.ways[state.edited],
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

  /** Rows of files, by the program's own importer; `form` says how they are written. Throws Faults. */
  imported(files, form = {}) {
    return callModule(this.module, "import", { sources: files, form });
  }

  /** The heads of their columns. Throws Faults. */
  heads(files, form = {}) {
    return callModule(this.module, "heads", { sources: files, form });
  }

  /** All rows at hand: of the file that was opened, and of the log. */
  allRows() {
    const { readings, name, tree, files } = this.state;
    const of = JSON.stringify([readings, tree.readings ?? null]);
    if (this.openedRows?.of !== of) {
      const rows = readings === null ? [] : callModule(this.module, "import", { name, tree, files, sources: [readings] }).rows;
      this.openedRows = { of, rows };
    }
    return [...this.openedRows.rows, ...this.store.rows()];
  }

  /** Labels with the codes of these edges, or what is done with the one that is edited for the wall, as a page to print. Throws Faults. */
  sheets(asked) {
    const { name, tree, files } = this.state;
    return callModule(this.module, "sheets", { name, tree, files, ...asked }).html;
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
    const two = answer.ways.length > 1;
    answer.ways.forEach((way, i) => {
      showWay(at(`way-${i}`), at(`section-${i}`), way, answer, i, this.state.moment);
      at(`section-${i}`).classList.toggle("edited", way === this.way());
    });
    at("way-1").hidden = at("section-1").hidden = !two;
    at("ways").classList.toggle("one", !two);
    at("chart").innerHTML = answer.chart ?? ""; // written by the model, names in it escaped
    at("chart-block").hidden = !answer.chart;
    showSteps(this.way());
    at("rests").textContent = restsText(answer);
    at("fit-refused").textContent = answer.fit_refused
      ? `The fit is not used: ${answer.fit_refused}. A blade or material that was changed is another one.` : "";
    at("notes").replaceChildren(...answer.notes.map((n) => h("li", {}, `${n.what}.${n.next ? ` ${n.next}` : ""}`)));
    at("notes").hidden = answer.notes.length === 0;
    showReadings(this);
    followQuick(this);
    if (at("text-block").open) this.showText();
  }

  /** All controls, from the last answer. */
  build() {
    buildControls(this);
  }

  showText() {
    const { text } = callModule(this.module, "write", { tree: this.state.tree });
    at("text").textContent = text.split("\n").map((line, i) => `${String(i + 1).padStart(4)}  ${line}`).join("\n");
  }
}
