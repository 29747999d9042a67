// SPDX-License-Identifier: MIT
// The readings on the bench, and what is made of them there: a fit, and a comparison of the two ways.
import { at, digits, h } from "./controls.js";
import { attempt, save } from "./files.js";
import { callModule } from "./model.js";
import { answerFigures } from "./work.js";

/** How many readings there are, and where they come from; what can be asked of them. */
export function showReadings(bench) {
  const { answer, mixed, state } = bench;
  const logged = bench.withLog(state).readings !== state.readings ? mixed.logged : 0;
  const from = [answer.readings > logged && state.readings ? state.readings.name : "", logged > 0 ? `the log in this browser (${logged})` : ""].filter(Boolean).join(" and ");
  const text = answer.readings > 0 ? `${answer.readings} ${answer.readings === 1 ? "reading" : "readings"} from ${from}.`
    : answer.is_lacking_readings ? `The configuration names readings in ${answer.readings_file}: open that file too.`
      : "No readings yet. Write some down, or open a CSV file of readings; its rows name the edges of this configuration.";
  at("readings").textContent = text;
  for (const id of ["fit", "look", "between"]) at(id).disabled = answer.readings === 0;
  at("check").disabled = bench.work.checked().length === 0;
  at("compare").disabled = state.ways.length < 2;
}

/** The two ways beside each other. */
export function compare(bench) {
  const { state } = bench;
  if (!at("ways-block").open) { // both are seen beside what is said of them
    at("ways-block").open = true;
    if (!bench.update()) return undefined;
  }
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

/** A fit to the readings, on which the bench rests from then on. */
export function fit(bench) {
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
