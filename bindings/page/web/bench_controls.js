// SPDX-License-Identifier: MIT
// The controls of the bench, built of its last answer: which edges, blade, steps, limit, tester, and the slider beside the picture.
import { at, digits, h, numberControl, restartIds, typed } from "./controls.js";
import { bladeControls, filamentControl, stepCards, tableControls } from "./steps.js";
import { put, stepsOf } from "./tree.js";

/** All controls, from the last answer. */
export function buildControls(bench) {
  const { tree, ways, edited } = bench.state;
  const focused = document.activeElement?.id;
  const unfolded = () => [...document.querySelectorAll("#controls details.more")];
  const open = unfolded().map((d) => d.open);
  restartIds();
  const names = bench.answer.edges.map((e) => e.name);
  at("title").textContent = bench.answer.title || "Without a title";
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
  buildQuick(bench);
  at("second").hidden = ways.length > 1;
  at("alike").hidden = ways.length < 2;
  at("alike").textContent = ways.length < 2 ? "" : `Make “${ways[1 - edited]}” like this one`;

  const way = bench.way();
  at("blade").replaceChildren(...bladeControls(bench, ways[edited], way).flat().filter(Boolean));
  at("steps").replaceChildren(...stepCards(bench, stepsOf(tree, ways[edited]), way, bench.open));
  for (const card of at("steps").querySelectorAll("details.step"))
    card.addEventListener("toggle", () => bench.open[card.open ? "add" : "delete"](Number(card.dataset.step)));
  buildLimit(bench);
  at("tester").replaceChildren(filamentControl(bench), ...tableControls(bench, "tester"));
  at("scatter").replaceChildren(...tableControls(bench, "scatter"));
  const now = unfolded();
  if (now.length === open.length) now.forEach((d, i) => (d.open = open[i]));
  if (focused && at(focused)) at(focused).focus();
}

/** One slider beside the picture: the laps of the strop, or else what the edge is first worked with. */
function buildQuick(bench) {
  const { tree, ways, edited } = bench.state;
  const way = bench.way();
  const places = stepsOf(tree, ways[edited]);
  const cut = way.steps.findIndex((s) => s.verb === "cut");
  const before = way.steps.map((s, i) => ({ s, i })).filter(({ i }) => cut <= 0 || i < cut);
  const found = before.filter(({ s }) => s.verb === "strop").at(-1) ?? way.steps.map((s, i) => ({ s, i })).find(({ s }) => s.verb === "strop")
    ?? before.find(({ s }) => s.verb === "hone") ?? (cut >= 0 ? { s: way.steps[cut], i: cut } : undefined);
  const place = found && places?.[found.i];
  bench.quickOf = null;
  if (!place) {
    at("quick").replaceChildren();
    return;
  }
  const [key, what] = { strop: ["laps", "on"], hone: ["strokes", "on"], cut: ["passes", "in"] }[found.s.verb];
  const field = bench.about.tables[found.s.verb].fields.find((f) => f.key === key);
  bench.quickOf = { index: found.i, key };
  at("quick").replaceChildren(numberControl(field, found.s[key], (value) => {
    put(place.list[place.index], field, value);
    bench.changed();
    bench.rebuildSoon();
  }, { label: `number of ${key} ${what} ${found.s[found.s.verb]}${bench.shown().length > 1 ? `: ${ways[edited]}` : ""}` }));
}

/** The slider beside the picture follows what is changed elsewhere. */
export function followQuick(bench) {
  const step = bench.quickOf && bench.way().steps[bench.quickOf.index];
  const value = step?.[bench.quickOf.key];
  const [slider, box] = at("quick").querySelectorAll("input");
  if (value === undefined || !slider || at("quick").contains(document.activeElement) || Number(box.value) === value) return;
  slider.value = value;
  box.value = typed(value);
}

function buildLimit(bench) {
  const { limits, limit } = bench.answer;
  const named = bench.state.limit || limits.find((l) => l.name === limit.name)?.name || "";
  const field = bench.about.tables.output.fields.find((f) => f.key === "reading_limit_gf");
  const set = (gf) => {
    put((bench.state.tree.output ??= {}), field, gf);
  };
  const select = h("select", { id: "task" },
    h("option", { value: "", selected: named === "" }, "a reading of my own"),
    limits.map((l) => h("option", { value: l.name, selected: l.name === named }, `${l.name}: ${digits(l.reading_gf)} gf`)));
  select.addEventListener("change", () => {
    bench.state.limit = select.value;
    const chosen = limits.find((l) => l.name === select.value);
    if (chosen) set(chosen.reading_gf);
    bench.rebuilt();
  });
  at("limit").replaceChildren(
    h("div", { class: "field" }, h("label", { htmlFor: "task" }, "The edge is too dull for"), select),
    numberControl(field, limit.gf, (value) => {
      bench.state.limit = "";
      at("task").value = "";
      set(value);
      bench.changed();
    }, { path: "output.reading_limit_gf", label: "when it reads more than" }));
}
