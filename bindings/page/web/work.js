// SPDX-License-Identifier: MIT
// What the readings say: studies by the module on the other thread, their answers with figures and tables, and a report of them all.
import { at, digits, h } from "./controls.js";
import { Faults } from "./model.js";

/** In the order in which a report has them. */
const order = ["readings", "between", "check", "fit", "forecast", "compare", "upkeep", "plan"];
/** Studies that the module knows by another name. */
const called = { between: "compare" };

export function answerTable(table) {
  const columns = table.columns.filter((c) => c.head !== "");
  const rows = columns[0]?.values.length ?? 0;
  const number = (value, c) => (c.places >= 0 ? value.toFixed(c.places) : digits(value, c.significant));
  const cell = (c, i) => (c.units === "" ? c.values[i] : c.values[i] === null ? "" : c.values[i] === "beyond" ? "more" : number(c.values[i], c));
  const look = (c) => (c.units === "" ? { class: "words" } : {});
  return h("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": table.says },
    h("table", {}, h("caption", {}, table.says),
      h("thead", {}, h("tr", {}, columns.map((c) => h("th", { scope: "col", title: c.says, ...look(c) }, c.head)))),
      h("tbody", {}, Array.from({ length: rows }, (_, i) => h("tr", {}, columns.map((c, k) => h(k === 0 ? "th" : "td", { ...look(c), ...(k === 0 ? { scope: "row" } : {}) }, cell(c, i))))))));
}

/** Pictures of an answer, written by the model, names in them escaped; those of less weight are folded. */
export function answerFigures(figures = []) {
  return figures.map((f) => {
    const picture = h("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": f.title });
    picture.innerHTML = f.svg;
    const figure = h("figure", { class: "figure" }, picture, h("figcaption", {}, f.caption));
    return f.folded ? h("details", {}, h("summary", {}, f.title), figure) : h("div", {}, h("p", { class: "title" }, f.title), figure);
  });
}

export function showAnswer(box, answer) {
  box.replaceChildren(h("p", { class: "headline" }, answer.headline), ...answerFigures(answer.figures),
    ...answer.tables.filter((t) => t.shown).map(answerTable),
    ...answer.remarks.map((r) => h("p", {}, r)),
    h("p", {}, answer.rests_on), ...answer.cautions.map((c) => h("p", { class: "caution" }, c)));
}

export class Work {
  /** `bench` is the page. */
  constructor(bench) {
    this.bench = bench;
    this.made = new Map(); // study → its request, of those that are shown
  }

  clear() {
    this.made.clear();
    for (const id of ["look", "check", "fit", "forecast", "compare", "upkeep", "plan", "report"]) at(`${id}-result`).replaceChildren();
    at("check-of").replaceChildren();
  }

  /** Of the setting as it stands. */
  request(options) {
    const { name, tree, files, readings } = this.bench.request(this.bench.state, 0);
    return { name, tree, files, readings, options, figure_width: Math.max(300, Math.min(720, at("work-block").clientWidth - 8)) };
  }

  /** Runs what takes longer on the other thread, with what it says of its progress and a button that stops it. */
  async run(lane, box, calls, done) {
    const { background } = this.bench;
    const bar = h("progress", { max: 1, "aria-label": "how far it is" });
    const stage = h("span", {}, "beginning");
    box.replaceChildren(h("p", { class: "busy", role: "status" }, stage, bar,
      h("button", { type: "button", onclick: () => background.stop(lane) }, "Stop")));
    try {
      done(await background.ask(lane, calls, (name, of, all) => {
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

  /** A study, its answer in `box`. */
  study(what, request, box, more = () => []) {
    return this.run("study", box, [["hold", this.bench.state.fit], [called[what] ?? what, request]], (answer) => {
      this.made.set(what, request);
      showAnswer(box, answer);
      box.append(...more(answer));
    });
  }

  limit() {
    return String(Number(this.bench.answer.limit.gf.toPrecision(10)));
  }

  /** What was read by which the tester may be checked, as {edge, moment, times}: on so many days, or where none has a date so
   *  often; that of most first. Rows of a code are of its edge. */
  checked() {
    const { bench } = this, days = new Map();
    const edges = bench.moments(), edgeOf = (row) => row.edge || edges.find((e) => e.code && e.code === row.code)?.edge || row.code;
    const rows = bench.allRows().filter((r) => (r.reading_gf || r.reading_N) && !r.excluded && (r.edge || r.code));
    rows.forEach((row, i) => {
      const key = JSON.stringify([edgeOf(row), row.step || (row.passes ? `${row.passes} passes` : "")]);
      if (!days.has(key)) days.set(key, new Set());
      days.get(key).add(row.date ?? i);
    });
    const said = (of) => `${of.size} ${[...of].every((d) => typeof d === "string") ? "day" : "reading"}${of.size === 1 ? "" : "s"}`;
    return [...days].sort(([, a], [, b]) => b.size - a.size).map(([key, of]) => ({ edge: JSON.parse(key)[0], moment: JSON.parse(key)[1], times: said(of) }));
  }

  /** Has the tester changed? By what was read on most days, or by another that is chosen. */
  check() {
    const { bench } = this, all = this.checked();
    const name = ({ edge, moment, times }) => `${edge}${moment ? `, ${moment}` : ""}: ${times}`;
    const run = ({ edge, moment }) => {
      const edges = bench.moments();
      const rows = bench.allRows().map(({ code, ...r }) => (r.edge ? r : { ...r, edge: edges.find((e) => e.code && e.code === code)?.edge ?? code })).filter((r) => r.edge === edge);
      const request = { ...this.request({ edge, ...(moment ? { moment } : {}) }), log: { name: "the log", text: bench.exported(rows) } };
      return this.study("check", request, at("check-result"));
    };
    const select = h("select", { id: "check-edge" }, all.map((one, i) => h("option", { value: i }, name(one))));
    select.addEventListener("change", () => run(all[Number(select.value)]));
    at("check-of").replaceChildren(...(all.length > 1 ? [h("div", { class: "field" }, h("label", { htmlFor: "check-edge" }, "Checked by"), select)] : []));
    return run(all[0]);
  }

  /** A page to print, in a tab of its own. */
  open(html) {
    const url = URL.createObjectURL(new Blob([html], { type: "text/html" }));
    h("a", { href: url, target: "_blank", rel: "noopener" }).click();
    setTimeout(() => URL.revokeObjectURL(url), 60_000);
  }

  plan() {
    return this.study("plan", this.request({}), at("plan-result"), ({ papers }) => (papers ? [h("div", { class: "buttons" },
      h("button", { type: "button", id: "plan-print", onclick: () => this.open(papers.print) }, "Print labels, run sheet and routes"),
      h("button", { type: "button", onclick: () => this.bench.save("sheet.csv", papers.sheet) }, "Save the run sheet"),
      h("button", { type: "button", onclick: () => this.bench.save("plan.toml", papers.key) }, "Save its key"),
      h("button", { type: "button", id: "plan-take", onclick: () => this.bench.takePlan(papers) }, "Read it here, blind"))] : []));
  }

  report() {
    const of = order.filter((what) => this.made.has(what)).map((what) => [what, this.made.get(what)]);
    const box = at("report-result");
    if (of.length === 0) {
      box.replaceChildren(h("p", {}, "Ask one of the questions above first: a report is made of their answers."));
      return undefined;
    }
    return this.run("study", box, [["hold", this.bench.state.fit], ["report", { of: of.map(([what, request]) => [called[what] ?? what, request]) }]], ({ html }) => {
      const url = URL.createObjectURL(new Blob([html], { type: "text/html" }));
      box.replaceChildren(h("div", { class: "buttons" }, h("a", { href: url, target: "_blank", rel: "noopener", class: "button", id: "report-open" }, "Open the report"),
        h("button", { type: "button", id: "report-save", onclick: () => this.bench.save("report.html", html) }, "Save the report")));
    });
  }

  connect() {
    at("look").addEventListener("click", () => this.study("readings", this.request({}), at("look-result")));
    at("between").addEventListener("click", () => this.study("between", this.request({ between: "years" }), at("look-result")));
    at("check").addEventListener("click", () => this.check());
    at("forecast").addEventListener("click", () => this.study("forecast", this.request({ members: 300, limit: this.limit() }), at("forecast-result")));
    at("upkeep").addEventListener("click", () => this.study("upkeep", this.request({ members: 60, limit: this.limit() }), at("upkeep-result")));
    at("plan").addEventListener("click", () => this.plan());
    at("report").addEventListener("click", () => this.report());
  }
}
