// SPDX-License-Identifier: MIT
// How files of readings are written, where they do not say it themselves: what [readings] of a configuration states, asked at the bench.
import { h } from "./controls.js";

/** What of a form has a few choices, each as [value, what is seen]. */
const choices = {
  unit: ["Readings are in", ["gf", "gram-force"], ["N", "newtons"]],
  decimal: ["Numbers have a decimal", ["point", "point"], ["comma", "comma"]],
  dates: ["Dates have", ["day first", "the day first"], ["month first", "the month first"], ["days since 1900", "days counted from 1900"], ["days since 1904", "days counted from 1904"]],
  separator: ["Columns are separated by", ["comma", "commas"], ["semicolon", "semicolons"], ["tab", "tabs"]],
};

const columns = [["edge", "the edge"], ["code", "its code"], ["step", "the moment, by its name"], ["passes", "the passes made before"], ["reading", "the reading"], ["date", "the day"],
  ["operator", "who reads"], ["filament_lot", "the lot of the filament"], ["test_day", "the test day"], ["replicate", "which reading of it"], ["note", "a note"],
  ["excluded", "why it is left out"], ["keep", "something else, kept in the note"], ["leave out", "nothing that is needed"]];
const atMoment = "readings at the moment …";

const select = (id, value, first, list) => h("select", { id }, h("option", { value: "" }, first), list.map(([v, says]) => h("option", { value: v, selected: v === value }, says)));

/** A form to fill in, and to try with. `heads` are the columns of the files; `form` is what was said before; `moments` are names of moments
 *  that the setting has; `read(form)` is called with what is said. */
export function importForm({ heads, form, moments, hasWorkbook, read }) {
  const field = (id, label, ...inputs) => h("div", { class: "field" }, h("label", { htmlFor: id }, label), ...inputs);
  const asFound = "as the file shows";
  const few = Object.entries(choices).map(([key, [says, ...list]]) => [key, select(`form-${key}`, form[key], asFound, list), says]);
  const sheet = h("input", { type: "text", id: "form-sheet", value: form.sheet ?? "", autocomplete: "off" });
  const each = heads.map((head, i) => {
    const was = form.moments?.[head] !== undefined ? atMoment : form.columns?.[head] ?? "";
    const what = select(`form-column-${i}`, was, asFound, [...columns, [atMoment, atMoment]]);
    const moment = h("input", { type: "text", value: form.moments?.[head] ?? "", "aria-label": `Moment of the column ${head}`, placeholder: "60 passes", hidden: was !== atMoment, autocomplete: "off" });
    moment.setAttribute("list", "form-moments");
    what.addEventListener("change", () => (moment.hidden = what.value !== atMoment));
    return { head, what, moment };
  });
  const said = () => {
    const out = {};
    for (const [key, input] of few) if (input.value) out[key] = input.value;
    if (sheet.value.trim()) out.sheet = sheet.value.trim();
    const pairs = (list, value) => Object.fromEntries(list.map((c) => [c.head, value(c)]));
    out.columns = pairs(each.filter((c) => c.what.value && c.what.value !== atMoment), (c) => c.what.value);
    out.moments = pairs(each.filter((c) => c.what.value === atMoment && c.moment.value.trim()), (c) => c.moment.value.trim());
    return out;
  };
  return h("form", { class: "said", onsubmit: (event) => {
    event.preventDefault();
    read(said());
  } }, h("p", { class: "title" }, "Say how it is written"),
  h("datalist", { id: "form-moments" }, moments.map((m) => h("option", { value: m }))),
  ...few.map(([, input, says]) => field(input.id, says, input)),
  hasWorkbook ? field("form-sheet", "Sheet of the workbook, where there are several", sheet) : null,
  ...each.map(({ head, what, moment }) => field(what.id, `The column “${head}” is`, what, moment)),
  h("div", { class: "buttons" }, h("button", { type: "submit", id: "form-read" }, "Read it so")));
}
