// SPDX-License-Identifier: MIT
// Controls made from the fields of a table: label, unit, range and explanation are those of the model.

/** The element of the page that has this id. */
export const at = (id) => document.getElementById(id);

/** A new element. Texts become text, never markup. */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "class") element.className = value;
    else if (name in element && name !== "list") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat().filter((c) => c !== null && c !== undefined && c !== false));
  return element;
}

/** A number as it would be typed. */
export const typed = (value) => String(Number(value.toPrecision(7)));

/** Significant digits without an exponent; "–" where there is none. */
export function digits(value, significant = 3) {
  if (typeof value !== "number" || !Number.isFinite(value)) return "–";
  if (Math.abs(value) < 5e-5) return "0"; // nothing here is told that finely
  const places = Math.min(12, Math.max(0, significant - 1 - Math.floor(Math.log10(Math.abs(value)))));
  const unit = 10 ** Math.max(0, Math.floor(Math.log10(Math.abs(value))) - significant + 1);
  return places > 0 ? value.toFixed(places) : String(Math.round(value / unit) * unit);
}

// How far a slider goes at a bench, and its step; "log" takes equal ratios. Any value of the field's own range can be typed.
const travel = {
  strokes: [0, 200, 1],
  max_strokes: [10, 2000, 10],
  laps: [0, 120, 1],
  passes: [10, 1000, 10],
  pass_m: [0.05, 3, 0.05],
  force_N: [1, 60, 0.5],
  stroke_mm: [10, 300, 5],
  angle_offset_deg: [-2, 2, 0.1],
  angle_scatter_deg: [0, 2, 0.05],
  shaving_um: [5, 300, 5],
  primary_bevel_deg: [15, 45, 0.5],
  micro_bevel_deg: [15, 60, 0.5],
  back_bevel_deg: [0, 25, 0.5],
  thickness_mm: [0.1, 20, "log"],
  width_mm: [3, 100, 1],
  hardness_hrc: [50, 66, 0.5],
  apex_radius_um: [0.05, 50, "log"],
  scratch_um: [0.01, 10, "log"],
  burr_um: [0, 60, 1],
  chip_um: [0, 200, 1],
  land_mm: [0.05, 10, "log"],
  modulus_MPa: [0.5, 5000, "log"],
  unevenness_um: [0, 40, 1],
  size_um: [0.1, 200, "log"],
  replicates: [1, 10, 1],
  reading_gf: [40, 500, 5],
  reading_limit_gf: [40, 500, 5],
};

function travelOf(field, value) {
  const low = typeof field.low === "number" ? field.low : 0;
  const high = typeof field.high === "number" ? field.high : 100;
  let [from, to, step] = travel[field.key] ?? [low, high, low > 0 && high / low > 50 ? "log" : (high - low) / 200];
  from = Math.max(from, low);
  to = Math.min(to, high);
  if (field.type === "int") step = 1;
  if (Number.isFinite(value)) {
    if (value < from && (step !== "log" || value > 0)) from = value;
    if (value > to) to = value;
  }
  return { from, to, step };
}

const steps = 400; // of a slider of equal ratios

function onSlider(t, value) {
  return t.step === "log" ? Math.round((steps * Math.log(value / t.from)) / Math.log(t.to / t.from)) : value;
}
function offSlider(t, place) {
  if (t.step !== "log") return Number(Number(place).toPrecision(10));
  return Number((t.from * (t.to / t.from) ** (place / steps)).toPrecision(3));
}

/** "0.1 … 500 N" */
function rangeText(field) {
  if (typeof field.low !== "number" || typeof field.high !== "number") return "";
  return `${typed(field.low)} … ${typed(field.high)}${field.unit ? ` ${field.unit}` : ""}`;
}

// what stands behind the first clause of a field's meaning goes into its explanation
const clauses = (text) => text.split(/; (.*)/);

function hintText(field, label) {
  const parts = [];
  const rest = label === undefined ? clauses(field.says)[1] : undefined;
  if (rest) parts.push(`${sentence(rest)}.`);
  if (rangeText(field)) parts.push(`Allowed: ${rangeText(field)}.`);
  if (field.derived) parts.push(`Left empty: from ${field.status || "other values"}.`);
  else if (field.default !== null && field.default !== "" && field.type !== "bool")
    parts.push(`Usual: ${field.type === "str" ? field.default : typed(field.default)}${field.status ? ` (${field.status})` : ""}.`);
  else if (field.optional) parts.push("May be left empty.");
  return parts.join(" ");
}

const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);
let ids = 0;
/** Controls that are made anew in the same order have the same ids, so that the one that had the keyboard keeps it. */
export function restartIds() {
  ids = 0;
}

/** A number: slider and box. `change(value)` hears of every movement; `undefined` where the box was emptied and may be.
 *  `path` is what the model calls it in what it finds wrong. */
export function numberControl(field, value, change, { path = "", label } = {}) {
  const id = `f${++ids}`;
  const t = travelOf(field, value);
  const unit = field.unit ? ` ${field.unit}` : "";
  const slider = h("input", { type: "range", id, min: t.step === "log" ? 0 : t.from, max: t.step === "log" ? steps : t.to });
  slider.step = t.step === "log" ? 1 : t.step;
  const box = h("input", {
    type: "number", step: "any", inputMode: "decimal", "aria-label": `${label ?? clauses(field.says)[0]}${unit}, as a number`,
  });
  const hint = h("p", { class: "hint", id: `${id}-hint` }, hintText(field, label));
  const element = h("div", { class: "field", "data-key": path },
    h("label", { htmlFor: id }, sentence(label ?? clauses(field.says)[0]), field.unit ? h("span", { class: "unit" }, `, ${field.unit}`) : null),
    h("div", { class: "pair" }, slider, box), hint);
  slider.setAttribute("aria-describedby", hint.id);
  box.setAttribute("aria-describedby", hint.id);
  const show = (v) => {
    if (Number.isFinite(v)) slider.setAttribute("aria-valuetext", `${digits(v, 4)}${unit}`);
    else slider.setAttribute("aria-valuetext", "left empty");
  };
  const complain = (text) => {
    element.classList.toggle("wrong", text !== "");
    hint.textContent = text || hintText(field, label);
  };
  if (Number.isFinite(value)) {
    slider.value = onSlider(t, value);
    box.value = typed(value);
  } else {
    slider.value = slider.min;
  }
  show(value);
  slider.addEventListener("input", () => {
    const v = offSlider(t, Number(slider.value));
    box.value = String(v);
    complain("");
    show(v);
    change(v);
  });
  box.addEventListener("input", () => {
    const v = box.valueAsNumber;
    if (box.value === "" && !box.validity.badInput && (field.optional || field.derived || field.default !== null)) {
      complain("");
      show(NaN);
      return change(undefined);
    }
    if (!Number.isFinite(v)) return complain("A number is needed here, with a decimal point.");
    if (v < field.low || v > field.high) return complain(`${typed(v)} is outside what is allowed: ${rangeText(field)}.`);
    if (field.type === "int" && !Number.isInteger(v)) return complain("A whole number is needed here.");
    complain("");
    slider.value = onSlider(t, Math.min(t.to, Math.max(t.from, v)));
    show(v);
    change(v);
  });
  return element;
}

/** A choice. `options`: [value, label]. */
export function choiceControl(label, options, value, change, { path = "", hint = "" } = {}) {
  const id = `f${++ids}`;
  const select = h("select", { id }, options.map(([v, text]) => h("option", { value: v, selected: v === value }, text)));
  if (hint) select.setAttribute("aria-describedby", `${id}-hint`);
  select.addEventListener("change", () => change(select.value));
  return h("div", { class: "field", "data-key": path }, h("label", { htmlFor: id }, sentence(label)), select,
    hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null);
}

export function tickControl(field, value, change, { path = "", label } = {}) {
  const id = `f${++ids}`;
  const box = h("input", { type: "checkbox", id, checked: value, "aria-describedby": `${id}-hint` });
  box.addEventListener("change", () => change(box.checked));
  return h("div", { class: "field tick", "data-key": path }, box, h("label", { htmlFor: id }, sentence(label ?? clauses(field.says)[0])),
    h("p", { class: "hint", id: `${id}-hint` }, hintText(field, label)));
}

export function textControl(field, value, change, { path = "" } = {}) {
  const id = `f${++ids}`;
  const box = h("input", { type: "text", id, value: value ?? "" });
  box.addEventListener("change", () => change(box.value));
  return h("div", { class: "field", "data-key": path }, h("label", { htmlFor: id }, sentence(field.says)), box);
}

/** A slider over the numbers of a grit standard, coarse to fine. */
export function gradeControl(standard, number, change) {
  const id = `f${++ids}`;
  const grades = [...standard.grades].sort((a, b) => b.size_um - a.size_um);
  let at = grades.findIndex((g) => g.number === number);
  if (at < 0) at = Math.floor(grades.length / 2);
  const slider = h("input", { type: "range", id, min: 0, max: grades.length - 1, step: 1 });
  slider.value = at;
  const told = h("output", { htmlFor: id, class: "told" });
  const show = () => {
    const g = grades[Number(slider.value)];
    const text = `${standard.mark.replace("{}", String(g.number))} · ${digits(g.size_um)} µm`;
    told.textContent = text;
    slider.setAttribute("aria-valuetext", text);
  };
  show();
  slider.addEventListener("input", () => {
    show();
    change(grades[Number(slider.value)].number);
  });
  return h("div", { class: "field" }, h("label", { htmlFor: id }, "Grit, coarse to fine"), h("div", { class: "pair" }, slider, told));
}
