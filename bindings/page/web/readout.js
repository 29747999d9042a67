// SPDX-License-Identifier: MIT
// What is read off an answer: numbers beside the pictures, the table of steps, what it rests on.
import { at, digits, h, typed } from "./controls.js";
import { stepCount, stepTitle } from "./steps.js";

const tones = ["ink", "ochre"];

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
export function showWay(box, figure, way, answer, index, wanted) {
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

/** The table of steps, and their cards' titles. */
export function showSteps(way) {
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

/** What the numbers are, and what they rest on. */
export function restsText(answer) {
  const what = answer.is_fitted
    ? "Bold numbers, lines and pictures are what the model gives for the values that fit your readings best"
    : "Bold numbers, lines and pictures are what the model gives for the values as set here";
  return `${what}; the span beside a bold number holds it and 9 in 10 of the ${answer.members} versions of the model that were run. ${answer.rests_on}`;
}

/** The same for who hears the page: once it has come to rest. */
export function announce(answer) {
  at("told").textContent = answer.ways
    .filter((w) => !w.message)
    .map((w) => `${w.edge} reads ${grams(w.moments.ready.reading_gf)} gram-force ready for work, ${grams(w.ready.low)} to ${grams(w.ready.high)}.`)
    .join(" ");
}
