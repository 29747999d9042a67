// SPDX-License-Identifier: MIT
// Writing readings down at the bench: one edge, one moment, large keys. What is typed is kept with every key; what is written down is in
// the log before the next is offered.
import { h, typed } from "./controls.js";
import { importForm } from "./import_form.js";
import { stepCount, stepTitle } from "./steps.js";
import { checkEdge, suited } from "./store.js";
import { Watch } from "./watch.js";
import { fileFor, isOpenedWorkbook } from "./workbook.js";

const today = () => {
  const now = new Date();
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}`;
};

const limits = { gf: [1e-3, 1e6], N: [1e-5, 1e4] };

/** "176,5" and "176.5" are the same number; null where it is none, or none that a tester shows. */
export function readingIn(text, unit) {
  const plain = text.trim().replace(",", ".");
  if (!/^(\d+\.?\d*|\.\d+)$/.test(plain)) return null;
  const value = Number(plain);
  const [low, high] = limits[unit];
  return value >= low && value <= high ? String(value) : null;
}

export const momentName = (moment) => moment.step || (moment.passes === 0 ? "as it goes to work" : `after ${typed(moment.passes)} passes`);

/** The edge or filament that does no work: it has one moment, which is every day. */
const toCheck = { edge: checkEdge, code: "", steps: [], moments: [{ step: "", passes: 0, replicates: 1, after: -1 }] };

/** Of a row, or of an edge with its moment: when it was read; nothing of the check edge. */
const when = (edge, moment) => (edge === checkEdge && !moment.step && !Number(moment.passes) ? "" : momentName({ step: moment.step, passes: Number(moment.passes ?? 0) }));

/** "60 passes" in a column of moments is no name of one, unless the setting has it. */
function withPasses(row, edges) {
  const [, passes] = /^(\d+(?:\.\d+)?) passes$/.exec(row.step ?? "") ?? [];
  if (!passes || row.passes || edges.some((e) => e.moments.some((m) => same(m.step, row.step)))) return row;
  const { step, ...rest } = row;
  return { ...rest, passes };
}

/** In an order of chance. */
function shuffled(list) {
  const out = [...list];
  for (let i = out.length - 1; i > 0; --i) {
    const j = crypto.getRandomValues(new Uint32Array(1))[0] % (i + 1);
    [out[i], out[j]] = [out[j], out[i]];
  }
  return out;
}

/** Two letters that are not taken for one another, and a digit. */
function freeCode(taken) {
  const letters = "ABCDEFGHJKLMNPRSTUVWXYZ";
  for (;;) {
    const [a, b, c] = crypto.getRandomValues(new Uint32Array(3));
    const code = letters[a % letters.length] + letters[b % letters.length] + String(2 + (c % 8));
    if (!taken.has(code)) return code;
  }
}

const same = (a, b) => a.trim().toLowerCase() === b.trim().toLowerCase();

export class LogPanel {
  /** `bench` has `store`, `moments()`, `giveCodes(codes)`, `logChanged()`, `save(name, text)`, `exported(rows)`, `exportedWorkbook(rows)`, `imported(files, form)`. */
  constructor(bench, box, tab) {
    this.bench = bench;
    this.store = bench.store;
    this.tab = tab;
    this.now = { typed: "", unit: "gf", operator: "", lot: "", edge: "", moment: 0, passes: null, note: "", date: "" };
    this.blind = null; // {stage, order, at}, or of a plan {stage, sheet}
    this.undoneNow = [];
    this.queue = Promise.resolve();
    this.watch = new Watch(() => this.keepDraft(), (text) => {
      this.now.note = [this.now.note, text].filter(Boolean).join("; ");
      this.note.value = this.now.note;
      this.keepDraft();
      this.tell(`Noted with the next reading: ${text}.`);
    });
    this.build(box);
    this.connectKeys(box);
  }

  // ---- what there is to read ----

  edges() {
    return this.bench.moments();
  }

  edge() {
    const edges = this.edges();
    return edges.find((e) => e.edge === this.now.edge) ?? (this.now.edge === checkEdge ? toCheck : edges[0]);
  }

  moment() {
    const edge = this.edge();
    if (this.now.passes !== null) return { step: "", passes: this.now.passes, replicates: 1, after: -1 };
    return edge?.moments[Math.min(this.now.moment, edge.moments.length - 1)];
  }

  isOf(row, edge, moment) {
    const isEdge = row.edge ? same(row.edge, edge.edge) : Boolean(row.code && edge.code && same(row.code, edge.code));
    return isEdge && (moment.step ? Boolean(row.step) && same(row.step, moment.step) : !row.step && Number(row.passes || 0) === moment.passes);
  }

  /** Readings of this moment that the one who reads has taken. */
  taken(edge, moment) {
    return this.store.rows().filter((r) => this.isOf(r, edge, moment) && (r.operator ?? "") === this.now.operator && (r.reading_gf || r.reading_N) && !r.excluded).length;
  }

  /** The first moment of the edge that lacks readings; its number of moments where none does. */
  nextOf(edge) {
    const at = edge.moments.findIndex((m) => this.taken(edge, m) < m.replicates);
    return at < 0 ? edge.moments.length : at;
  }

  /** To the next moment that is to be read: of this edge, or of the next edge that lacks one. */
  advance() {
    if (this.blind) return this.advanceBlind();
    const edges = this.edges();
    if (this.edge() === toCheck) return; // until another edge is chosen
    this.now.passes = null;
    const from = Math.max(0, edges.indexOf(this.edge()));
    for (let i = 0; i < edges.length; ++i) {
      const edge = edges[(from + i) % edges.length];
      const at = this.nextOf(edge);
      if (at < edge.moments.length) {
        this.now.edge = edge.edge;
        this.now.moment = at;
        return;
      }
    }
  }

  isAllRead() {
    const edges = this.edges();
    return edges.length > 0 && edges.every((e) => this.nextOf(e) >= e.moments.length);
  }

  // ---- blind ----

  /** Codes instead of names, all edges at one moment of theirs, in an order of chance. */
  beginBlind() {
    // edges of an included file without a code cannot be given one here
    const edges = this.edges().filter((e) => e.moments.length > 0 && (e.code || this.bench.canCode(e.edge)));
    const taken = new Set(edges.map((e) => e.code).filter(Boolean));
    const codes = {};
    for (const edge of edges) {
      if (edge.code) continue;
      codes[edge.edge] = freeCode(taken);
      taken.add(codes[edge.edge]);
    }
    if (edges.length === 0) {
      this.tell("All edges stand in an included file, and have no code there: give them one (code = \"K7\") and open the files again.");
      return;
    }
    if (Object.keys(codes).length > 0) this.bench.giveCodes(codes);
    const blind = new Set(edges.map((e) => e.edge));
    const stage = Math.min(...this.edges().filter((e) => blind.has(e.edge)).map((e) => this.nextOf(e)));
    this.blind = { stage, order: shuffled(edges.map((e) => e.edge)), at: 0 };
    this.advanceBlind();
    this.keepDraft();
    this.show();
  }

  /** Reads by the run sheet of a plan, `rows` of it as {code, step, operator, filament_lot}: block by block, in its order. */
  beginSheet(rows) {
    this.blind = { stage: 0, sheet: rows.map((r) => [r.code, r.step ?? "", r.operator ?? "", r.filament_lot ?? ""]) };
    this.advanceBlind();
    this.keepDraft();
    this.show();
  }

  /** To the first row of the sheet that is not read yet. A sheet that names who reads, and with which lot, sets both. */
  advanceSheet() {
    const edges = new Map(this.edges().filter((e) => e.code).map((e) => [e.code, e])), often = new Map();
    for (const [code, step, operator, lot] of this.blind.sheet) {
      const edge = edges.get(code), moment = edge?.moments.findIndex((m) => same(m.step, step)) ?? -1;
      if (moment < 0) continue; // an edge that has been taken out since
      if (operator) this.now.operator = operator;
      const row = JSON.stringify([code, step, operator]);
      often.set(row, (often.get(row) ?? 0) + 1);
      if (this.taken(edge, edge.moments[moment]) >= often.get(row)) continue;
      Object.assign(this.now, { edge: edge.edge, moment, passes: null, lot: lot || this.now.lot });
      this.blind.stage = moment;
      return;
    }
    this.blind.done = true;
  }

  advanceBlind() {
    if (this.blind.sheet) return this.advanceSheet();
    const edges = this.edges();
    const stages = Math.max(...edges.map((e) => e.moments.length));
    for (let turn = 0; turn <= stages * (this.blind.order.length + 1); ++turn) {
      const edge = edges.find((e) => e.edge === this.blind.order[this.blind.at]);
      const moment = edge?.moments[this.blind.stage];
      if (edge && moment && this.taken(edge, moment) < moment.replicates) {
        this.now.edge = edge.edge;
        this.now.moment = this.blind.stage;
        this.now.passes = null;
        return;
      }
      this.blind.at += 1;
      if (this.blind.at >= this.blind.order.length) {
        if (this.blind.stage + 1 >= stages) break;
        this.blind = { stage: this.blind.stage + 1, order: shuffled(this.blind.order), at: 0 };
      }
    }
    this.blind.done = true;
  }

  endBlind() {
    this.blind = null;
    this.advance();
    this.keepDraft();
    this.show();
  }

  // ---- what is drawn once ----

  build(box) {
    const field = (id, label, input) => h("div", { class: "field" }, h("label", { htmlFor: id }, label), input);
    this.state = h("div", { id: "log-state", role: "status" });
    this.people = h("div", { class: "people", role: "group", "aria-label": "Who reads" });
    this.before = h("p", { id: "log-before" });
    this.head = h("h3", { id: "log-now", "aria-live": "polite" });
    this.reading = h("input", { id: "reading", type: "text", inputMode: "none", autocomplete: "off", maxLength: 12, "aria-describedby": "log-now log-told", enterKeyHint: "done" });
    this.unit = h("select", { id: "log-unit" }, h("option", { value: "gf" }, "gf"), h("option", { value: "N" }, "N"));
    this.told = h("p", { id: "log-told", role: "status" });
    const key = (label, name, press, more = "") => h("button", { type: "button", class: `pad ${more}`, "aria-label": name, onclick: press }, label);
    const digits = [..."123456789"].map((d) => key(d, d, () => this.press(d)));
    this.keys = h("div", { class: "pads", role: "group", "aria-label": "Keys" }, digits, key(".", "decimal point", () => this.press(".")), key("0", "0", () => this.press("0")),
      key("⌫", "take the last digit away", () => this.press("back")));
    this.enter = h("button", { type: "submit", class: "pad wide", id: "log-enter" }, "Write it down");
    this.undo = h("button", { type: "button", id: "log-undo", onclick: () => this.takeBack() }, "Undo");
    this.redo = h("button", { type: "button", id: "log-redo", hidden: true, onclick: () => this.bringBack() }, "Bring it back");
    this.none = h("button", { type: "button", id: "log-none", onclick: () => this.writeNone() }, "No reading (slipped)");
    this.toCheck = h("button", { type: "button", id: "log-check", onclick: () => {
      this.now.edge = this.edge() === toCheck ? "" : checkEdge;
      this.now.moment = 0;
      this.now.passes = null;
      this.advance();
      this.keepDraft();
      this.show();
    } });
    this.form = h("form", { id: "log-form", onsubmit: (event) => {
      event.preventDefault();
      this.write();
    } }, h("div", { class: "typed" }, h("label", { htmlFor: "reading" }, "Reading"), this.reading, h("label", { htmlFor: "log-unit", class: "unseen" }, "Unit"), this.unit), this.keys, this.enter,
    h("div", { class: "buttons" }, this.undo, this.redo, this.none, this.toCheck));
    this.edgeSelect = h("select", { id: "log-edge" });
    this.momentSelect = h("select", { id: "log-moment" });
    this.passes = h("input", { id: "log-passes", type: "number", min: 0, step: "any", inputMode: "numeric" });
    this.lot = h("input", { id: "log-lot", type: "text", autocomplete: "off" });
    this.note = h("input", { id: "log-note", type: "text", autocomplete: "off" });
    this.date = h("input", { id: "log-date", type: "date" });
    this.elsewhere = h("details", { id: "log-elsewhere" }, h("summary", {}, "Another edge, moment, lot or day"),
      field("log-edge", "Edge", this.edgeSelect), field("log-moment", "Moment", this.momentSelect), field("log-passes", "Or after so many passes", this.passes),
      field("log-lot", "Lot of the filament", this.lot), field("log-note", "Note", this.note), field("log-date", "Day, where it is not today", this.date));
    this.blindBox = h("div", { id: "log-blind" });
    this.last = h("ol", { id: "log-last", "aria-label": "The last readings", reversed: true });
    this.all = h("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": "All readings" });
    this.whole = h("details", { id: "log-all" }, h("summary", {}, "The whole log"), this.all);
    this.whole.addEventListener("toggle", () => this.whole.open && this.showAll());
    this.files = h("input", { type: "file", id: "log-files", multiple: true, accept: ".csv,.txt,.tsv,.xlsx,.ods,text/csv,text/plain" });
    this.filesTold = h("div", { id: "log-files-told", role: "status" });
    box.replaceChildren(this.state, this.people, this.before, this.watch.element, this.head, this.form, this.told, this.elsewhere, this.blindBox, this.last, this.whole,
      h("div", { class: "buttons" }, h("button", { type: "button", id: "log-save", onclick: () => this.saveCsv() }, "Save the log as CSV"),
        h("button", { type: "button", id: "log-save-workbook", onclick: () => this.saveWorkbook() }, "Save it for a spreadsheet (xlsx)"),
        h("button", { type: "button", id: "log-save-both", onclick: () => this.bench.saveBoth() }, "Save setting and readings")),
      field("log-files", "Put readings of files into the log (CSV, or a spreadsheet: xlsx, ods)", this.files), this.filesTold);
  }

  connectKeys(box) {
    this.reading.addEventListener("input", () => {
      this.now.typed = this.reading.value;
      this.keepDraft();
    });
    // digits go into the reading wherever in the panel the finger last was
    box.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches("input,select,textarea")) return;
      if (/^[0-9.,]$/.test(event.key)) this.press(event.key);
      else if (event.key === "Backspace") this.press("back");
      else return;
      event.preventDefault();
    });
    const set = (element, event, change) => element.addEventListener(event, () => {
      change();
      this.keepDraft();
      this.show();
    });
    set(this.unit, "change", () => (this.now.unit = this.unit.value));
    set(this.edgeSelect, "change", () => {
      this.now.edge = this.edgeSelect.value;
      this.now.passes = null;
      this.now.moment = Math.min(this.nextOf(this.edge()), this.edge().moments.length - 1);
    });
    set(this.momentSelect, "change", () => {
      this.now.moment = Number(this.momentSelect.value);
      this.now.passes = null;
    });
    set(this.passes, "change", () => {
      const value = this.passes.valueAsNumber;
      const most = this.edge()?.steps.reduce((sum, s) => sum + (s.verb === "cut" ? s.passes : 0), 0) ?? 0;
      if (Number.isFinite(value) && value >= 0 && value <= most) {
        this.now.passes = value;
        this.tell("");
      } else {
        this.now.passes = null;
        if (this.passes.value !== "") this.tell(`This edge makes ${typed(most)} passes in its setting; lengthen its cut first, then write down what it reads.`);
      }
    });
    set(this.lot, "change", () => (this.now.lot = this.lot.value.trim()));
    set(this.note, "input", () => (this.now.note = this.note.value));
    set(this.date, "change", () => (this.now.date = this.date.value));
    this.files.addEventListener("change", async () => {
      const list = [...this.files.files];
      const files = await Promise.all(list.map(fileFor));
      this.files.value = "";
      await this.importFiles(files);
    });
  }

  // ---- doing ----

  press(key) {
    const text = this.now.typed;
    if (key === "back") this.now.typed = text.slice(0, -1);
    else if (text.length < 12 && !(/[.,]/.test(key) && /[.,]/.test(text))) this.now.typed = text + key;
    this.reading.value = this.now.typed;
    this.keepDraft();
  }

  tell(text) {
    this.told.textContent = text;
  }

  row() {
    const edge = this.edge(), moment = this.moment();
    const row = this.blind ? { code: edge.code } : { edge: edge.edge };
    if (moment.step) row.step = moment.step;
    else if (edge !== toCheck) row.passes = typed(moment.passes);
    if (this.now.operator) row.operator = this.now.operator;
    if (this.now.lot) row.filament_lot = this.now.lot;
    row.date = this.now.date || today();
    if (this.now.note) row.note = this.now.note;
    return row;
  }

  write() {
    if (!this.edge()) return undefined;
    const value = readingIn(this.now.typed, this.now.unit);
    if (value === null) {
      this.tell(this.now.typed === "" ? "Type what the tester shows first." : `“${this.now.typed}” is no reading in ${this.now.unit}: a number above 0 is needed.`);
      this.reading.focus();
      return undefined;
    }
    const { unit } = this.now;
    return this.put((row) => ({ ...row, [`reading_${unit}`]: value }), `${value} ${unit}`);
  }

  writeNone() {
    if (!this.edge()) return undefined;
    return this.put((row) => ({ ...row, note: [row.note, "no reading: slipped or spoilt"].filter(Boolean).join("; ") }), "No reading");
  }

  /** One reading into the log; the next one is offered once it is there. The field is free at once, so that who types on loses nothing;
   *  the draft keeps what was typed until the log has it. */
  put(complete, what) {
    const { note } = this.now;
    this.now.typed = this.now.note = this.reading.value = this.note.value = "";
    this.queue = this.queue.then(async () => {
      const where = this.where();
      const row = this.row();
      await this.store.add([complete(note ? { ...row, note } : row)]);
      this.undoneNow = [];
      this.advance();
      this.keepDraft();
      this.tell(`${what} written down for ${where}.`);
      this.show();
    });
    return this.queue;
  }

  where() {
    const edge = this.edge(), moment = this.moment();
    if (this.blind) return `${edge.code}, stage ${this.blind.stage + 1}`;
    return [edge.edge, when(edge.edge, moment)].filter(Boolean).join(", ");
  }

  async takeBack(id) {
    const entry = id ? this.store.all().find((e) => e.id === id) : this.store.all().filter((e) => !e.undone && e.from === "entered").at(-1);
    if (!entry) return this.tell("There is nothing to undo.");
    await this.store.mark(entry.id, true);
    this.undoneNow.push(entry.id);
    if (!this.blind) this.now.edge = this.edges().find((e) => entry.row.edge && same(e.edge, entry.row.edge))?.edge ?? this.now.edge;
    if (this.blind) this.blind = { ...this.blind, done: false, at: 0 };
    this.advance();
    this.keepDraft();
    this.tell(`Taken back: ${this.says(entry.row)}. It stays in the log as taken back.`);
    this.show();
  }

  async bringBack() {
    const id = this.undoneNow.pop();
    if (id) await this.store.mark(id, false);
    this.advance();
    this.keepDraft();
    this.tell("Brought back.");
    this.show();
  }

  /** A row in words; while reading is blind, no more than the one who reads may know. */
  says(row) {
    const value = row.reading_gf ? `${row.reading_gf} gf` : row.reading_N ? `${row.reading_N} N` : row.apex_radius_um ? `apex ${row.apex_radius_um} µm` : "no reading";
    if (this.blind) return `${value}${row.code ? `, ${row.code}` : ""}`;
    return [value, row.edge || row.code, when(row.edge, row), row.operator && `by ${row.operator}`].filter(Boolean).join(", ");
  }

  saveCsv() {
    const rows = this.store.rows();
    if (rows.length === 0) return this.tell("The log is empty.");
    this.bench.save("readings.csv", this.bench.exported(rows));
  }

  saveWorkbook() {
    const rows = this.store.rows();
    if (rows.length === 0) return this.tell("The log is empty.");
    this.bench.save("readings.xlsx", this.bench.exportedWorkbook(rows));
  }

  /** Files become rows by the program's own importer; what is guessed is said; rows that are in the log already are not put in twice. */
  async importFiles(files, form = {}) {
    let read;
    try {
      read = this.bench.imported(files, form);
    } catch (error) {
      if (!error.faults) throw error;
      this.filesTold.replaceChildren(h("p", {}, "Nothing was put into the log."), ...error.faults.map((f) => h("pre", {}, /arris import /.test(f.next) ? f.text.replace(f.next, "").trimEnd() : f.text)), this.formFor(files, form));
      return;
    }
    const edges = this.edges();
    read.rows = read.rows.map((row) => withPasses(row, edges));
    // a row without a number got one in the log: there it is known by all else, as often as it stands there
    const bare = (row) => JSON.stringify(Object.entries(row).filter(([k]) => k !== "replicate").sort());
    const numbered = new Set(), often = new Map();
    for (const row of this.store.rows()) {
      numbered.add(bare(row) + row.replicate);
      often.set(bare(row), (often.get(bare(row)) ?? 0) + 1);
    }
    const fresh = read.rows.filter((row) => {
      if (row.replicate) return !numbered.has(bare(row) + row.replicate);
      const there = often.get(bare(row)) ?? 0;
      often.set(bare(row), there - 1);
      return there <= 0;
    });
    await this.store.add(fresh, files.map((f) => f.name).join(", "));
    const twice = read.rows.length - fresh.length;
    this.filesTold.replaceChildren(h("p", {}, `${fresh.length} ${fresh.length === 1 ? "reading" : "readings"} put into the log${twice ? `; ${twice} ${twice === 1 ? "was" : "were"} in it already` : ""}.`), h("ul", {}, read.said.map((s) => h("li", {}, s))));
    this.advance();
    this.show();
  }

  /** Where a file does not say how it is written, who keeps it does. */
  formFor(files, form) {
    let heads = [];
    try {
      heads = this.bench.heads(files, form);
    } catch (error) {
      if (!error.faults) throw error; // which sheet or separator it is has to be said first
    }
    const moments = [...new Set(this.edges().flatMap((e) => e.moments.map((m) => m.step || `${typed(m.passes)} passes`)))];
    return importForm({ heads, form, moments, hasWorkbook: files.some(isOpenedWorkbook), read: (said) => this.importFiles(files, said) });
  }

  // ---- what is typed survives the tab ----

  keepDraft() {
    const draft = { ...this.now, blind: this.blind, watch: this.watch.kept };
    return this.store.keep(`draft:${this.tab}`, draft);
  }

  /** Takes up what a tab that is gone was in the middle of. `drafts` of the store; `isAlive(tab)`. */
  takeDraft(drafts, isAlive) {
    const all = Object.values(drafts).filter((d) => d.value && (d.key === `draft:${this.tab}` || !isAlive(d.key.slice(6)))).sort((a, b) => (a.at < b.at ? 1 : -1));
    const own = all.find((d) => d.key === `draft:${this.tab}`) ?? all[0];
    if (!own) return;
    const { blind, watch, ...now } = own.value;
    this.now = { ...this.now, ...now };
    this.blind = blind ?? null;
    this.watch.take(watch ?? null);
    for (const d of all) if (d !== own) this.store.keep(d.key, null);
    if (own.key !== `draft:${this.tab}`) this.store.keep(own.key, null);
    // where nothing was begun, the next reading counts, which another tab may have moved on
    if (!this.now.typed && this.now.passes === null) this.advance();
    this.keepDraft();
    if (this.now.typed) this.tell(`You had typed ${this.now.typed} when the page was closed; it stands in the field again, not yet written down.`);
  }

  // ---- showing ----

  show() {
    const edges = this.edges();
    this.showState();
    const rows = this.store.rows();
    document.getElementById("log-count").textContent = rows.length > 0 ? `(${rows.length} in this browser)` : "";
    this.showPeople();
    this.unit.value = this.now.unit;
    if (document.activeElement !== this.reading) this.reading.value = this.now.typed;
    this.form.hidden = edges.length === 0;
    this.showNow(edges);
    this.showElsewhere(edges);
    this.showBlind(edges);
    const entries = this.store.all();
    this.redo.hidden = this.undoneNow.length === 0;
    this.undo.disabled = !entries.some((e) => !e.undone && e.from === "entered");
    this.last.replaceChildren(...entries.filter((e) => e.from !== "file").slice(-5).reverse().map((e) => h("li", { class: e.undone ? "undone" : "" }, this.says(e.row),
      e.undone ? " (taken back)" : "", h("button", { type: "button", class: "small", "aria-label": `${e.undone ? "bring back" : "take back"} ${this.says(e.row)}`, onclick: () => (e.undone ? this.store.mark(e.id, false).then(() => this.show()) : this.takeBack(e.id)) }, e.undone ? "bring back" : "take back"))));
    if (this.whole.open) this.showAll();
  }

  showState() {
    const { store } = this;
    const n = store.waiting.length;
    const rest = n > 0 ? ` ${n} ${n === 1 ? "reading stands" : "readings stand"} in this tab alone: save the log as CSV before you close it.` : "";
    let text = "";
    if (store.state === "newer") text = `The log in this browser was written by a newer version of this page. It is left as it is, and shown as far as this page knows it; write down readings with the newer page, or save the log as CSV.${rest}`;
    else if (store.state === "unkept") text = `This browser keeps nothing for this page (a private window, or storage that is switched off). What you write down stands in this tab alone: save the log as CSV before you close it.`;
    else if (store.why === "full") text = `The browser's storage is full.${rest} Make room, and what waits is kept with the next reading.`;
    else if (store.why) text = `The browser did not keep the last change (${store.why}).${rest}`;
    const retry = n > 0 && store.state === "kept" ? h("button", { type: "button", onclick: () => store.retry() }, "Try again") : null;
    if (this.state.dataset.text === text + n) return;
    this.state.dataset.text = text + n;
    this.state.className = text ? "fault" : "";
    this.state.replaceChildren(...(text ? [h("p", {}, text), retry] : []).filter(Boolean));
  }

  showPeople() {
    const names = [...new Set([...this.store.rows().map((r) => r.operator ?? ""), this.now.operator].filter(Boolean))].sort().slice(0, 8);
    const choose = (name) => {
      this.now.operator = name;
      this.keepDraft();
      this.advance();
      this.show();
    };
    const other = h("input", { type: "text", id: "log-operator", "aria-label": "Another one who reads: initials", placeholder: names.length ? "someone else" : "who reads?", autocomplete: "off", maxLength: 20 });
    other.addEventListener("change", () => {
      const name = other.value.trim();
      other.value = ""; // the field goes when the names are shown anew
      if (name) choose(name);
    });
    if (document.activeElement?.id === "log-operator" && document.activeElement.value) return;
    this.people.replaceChildren(...names.map((n) => h("button", { type: "button", "aria-pressed": String(n === this.now.operator), onclick: () => choose(n) }, n)), other);
  }

  showNow(edges) {
    const edge = this.edge();
    if (!edge || (edge.moments.length === 0 && this.now.passes === null)) {
      this.head.textContent = "This setting has no edge to read.";
      this.before.textContent = "";
      return;
    }
    const moment = this.moment();
    this.toCheck.textContent = edge === toCheck ? "Back to the edges" : "Read the check edge";
    this.toCheck.hidden = Boolean(this.blind);
    if (edge === toCheck) {
      this.before.textContent = "The edge or filament that does no work, and tells whether the tester has changed: read it on every test day.";
    } else if (this.blind?.done || (!this.blind && this.now.passes === null && this.isAllRead())) {
      this.before.textContent = this.blind ? "All is read: end the blind reading to see what came out." : "All moments of this setting are read. What you write down now is one more of:";
    } else {
      const step = edge.steps.slice(0, moment.after + 1).filter((s) => s.verb !== "read").at(-1);
      const what = step ? `${stepTitle(step)}${stepCount(step) ? `, ${stepCount(step)}` : ""}` : "";
      this.watch.of(what);
      this.before.textContent = this.blind ? this.nextBlind(edge) : what ? `Before it: ${what}` : "Before it: nothing, as it was.";
    }
    const n = this.taken(edge, moment) + 1;
    this.head.textContent = this.blind ? `${edge.code} · stage ${this.blind.stage + 1} · reading ${n} of ${moment.replicates}`
      : `${[edge.edge, when(edge.edge, moment)].filter(Boolean).join(" · ")} · reading ${n}${moment.replicates > 1 ? ` of ${moment.replicates}` : ""}`;
    this.watch.element.hidden = Boolean(this.blind);
  }

  nextBlind(edge) {
    const by = this.blind.sheet ? [this.now.operator && `${this.now.operator} reads`, this.now.lot && `filament lot ${this.now.lot}`].filter(Boolean).join(", ") : "";
    return `Take the edge that is marked ${edge.code}${by ? `; ${by}` : ""}.`;
  }

  showElsewhere(edges) {
    this.elsewhere.hidden = Boolean(this.blind) || edges.length === 0;
    if (this.elsewhere.hidden) return;
    const edge = this.edge();
    this.edgeSelect.replaceChildren(...[...edges, ...(edge === toCheck ? [toCheck] : [])].map((e) => h("option", { value: e.edge, selected: e === edge }, e.code ? `${e.edge} (${e.code})` : e.edge)));
    this.momentSelect.replaceChildren(...edge.moments.map((m, i) => h("option", { value: i, selected: this.now.passes === null && i === this.now.moment }, edge === toCheck ? "any day" : `${momentName(m)}${this.taken(edge, m) >= m.replicates ? " (read)" : ""}`)));
    if (this.now.passes === null) this.passes.value = "";
    this.lot.value = this.now.lot;
    this.date.value = this.now.date;
    if (document.activeElement !== this.note) this.note.value = this.now.note;
  }

  showBlind(edges) {
    if (edges.length === 0) return this.blindBox.replaceChildren();
    if (!this.blind) {
      this.blindBox.replaceChildren(h("button", { type: "button", id: "log-blind-begin", onclick: () => this.beginBlind() }, "Read blind: codes only, one edge at a time"));
      return;
    }
    const open = document.getElementById("log-key")?.open;
    const key = () => h("table", {}, h("caption", {}, "Which code is which edge: for the one who marks the edges, not for the one who reads"), h("tbody", {},
      edges.filter((e) => e.code).map((e) => h("tr", {}, h("th", { scope: "row" }, e.code), h("td", {}, e.edge)))));
    this.blindBox.replaceChildren(h("p", {}, `Blind: names are hidden, and the order is ${this.blind.sheet ? "that of the plan: block by block, all edges of a block at one stage and then at the next" : "random"}. Mark each edge with its code first.`),
      h("details", { id: "log-key", open, ontoggle: (event) => event.target.open && event.target.children.length < 2 && event.target.append(key()) }, h("summary", {}, "Show which code is which"), open ? key() : null),
      h("button", { type: "button", id: "log-labels", onclick: () => this.bench.work.open(this.bench.sheets({ codes: edges.map((e) => e.code).filter(Boolean) })) }, "Print the codes to cut out"),
      h("button", { type: "button", id: "log-blind-end", onclick: () => this.endBlind() }, "End the blind reading"));
  }

  showAll() {
    if (this.blind) return this.all.replaceChildren(h("p", {}, "Hidden while you read blind."));
    const left = suited(this.edges(), this.store.rows()).left.filter((r) => r.edge !== checkEdge);
    const head = ["day", "edge", "moment", "reading", "by", "lot", "note", ""];
    const rows = this.store.all().slice().reverse().map((e) => {
      const r = e.row;
      const value = r.reading_gf ? `${r.reading_gf} gf` : r.reading_N ? `${r.reading_N} N` : r.apex_radius_um ? `apex ${r.apex_radius_um} µm` : "none";
      return h("tr", { class: e.undone ? "undone" : "" }, h("th", { scope: "row" }, r.date ?? ""), [r.edge || r.code || "", when(r.edge, r), value, r.operator ?? "", r.filament_lot ?? "", [r.note, r.excluded && `left out: ${r.excluded}`, e.undone && "taken back"].filter(Boolean).join("; ")].map((t) => h("td", {}, t)),
        h("td", {}, h("button", { type: "button", class: "small", "aria-label": `${e.undone ? "bring back" : "take back"} ${this.says(r)}`, onclick: () => (e.undone ? this.store.mark(e.id, false) : this.store.mark(e.id, true)) }, e.undone ? "bring back" : "take back")));
    });
    this.all.replaceChildren(
      left.length > 0 ? h("p", {}, `${left.length === 1 ? "1 reading is" : `${left.length} readings are`} of edges or moments that this setting does not have. The log keeps ${left.length === 1 ? "it; it is" : "them; they are"} left out here.`) : "",
      h("table", {}, h("thead", {}, h("tr", {}, head.map((t) => h("th", { scope: "col" }, t || h("span", { class: "unseen" }, "take back"))))), h("tbody", {}, rows)));
  }
}
