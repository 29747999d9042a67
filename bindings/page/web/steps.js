// SPDX-License-Identifier: MIT
// The controls of a blade and of its steps. `bench` is the page: its tree, last answer, description, and what to call when
// something was changed.
import { choiceControl, gradeControl, h, numberControl, textControl, tickControl } from "./controls.js";
import { freeName, gritParts, gritText, mediumParts, put, tableOf } from "./tree.js";

const verbs = {
  hone: "Hone the bevel",
  back: "Take the burr off on the back",
  strop: "Strop",
  cut: "Cut wood",
  read: "Read it on the tester",
  dress: "Dress a medium",
};

// what is seen at once; the other fields of a step stand below "more"
const first = {
  hone: ["strokes", "after_burr", "force_N"],
  back: ["strokes", "force_N"],
  strop: ["laps", "force_N"],
  cut: ["passes", "pass_m"],
  read: ["replicates"],
  dress: [],
};

/** "hone on soft waterstone, JIS #1000" */
export function stepTitle(step) {
  const what = step[step.verb];
  const with_ = step.compound && step.compound !== "none" ? ` with ${step.compound}` : "";
  return {
    hone: `hone on ${what}`,
    back: `back on ${what}`,
    strop: `strop on ${what}${with_}`,
    cut: `cut ${what}`,
    read: `read: ${what}`,
    dress: `dress ${what}`,
  }[step.verb];
}

/** "20 strokes after the burr" */
export function stepCount(step) {
  if (step.verb === "hone") return `${step.strokes} strokes${step.after_burr ? " after the burr" : ""}`;
  if (step.verb === "back") return `${step.strokes} strokes`;
  if (step.verb === "strop") return `${step.laps} laps`;
  if (step.verb === "cut") return `${step.passes} passes`;
  return "";
}

function fieldOf(bench, table, key) {
  return bench.about.tables[table].fields.find((f) => f.key === key);
}

/** Names of a kind of material: those that come with the program, and the configuration's own. */
function namesOf(bench, kind) {
  const shipped = bench.about.materials[kind]?.map((m) => m.name) ?? [];
  const own = Object.keys(bench.state.tree[kind] ?? {}).filter((n) => !shipped.some((s) => s.toLowerCase() === n.toLowerCase()));
  return [...own, ...shipped];
}

function materialChoice(bench, kind, label, value, change, described = () => "") {
  const names = namesOf(bench, kind);
  const shown = names.find((n) => n.toLowerCase() === value.toLowerCase());
  const options = (shown === undefined ? [value, ...names] : names).map((n) => [n, described(n) ? `${n} (${described(n)})` : n]);
  const note = bench.about.materials[kind]?.find((m) => m.name === (shown ?? value))?.note ?? "";
  return choiceControl(label, options, shown ?? value, change, { hint: note });
}

/** A control for one field of `table`, which is what the tree holds; `resolved` is what the model made of it. */
function control(bench, kind, key, table, resolved, path) {
  const field = fieldOf(bench, kind, key);
  const changed = (value) => {
    put(table(), field, value);
    bench.changed();
  };
  if (field.type === "bool") return tickControl(field, Boolean(resolved[key]), changed, { path });
  if (field.type === "str") return textControl(field, resolved[key], changed, { path });
  return numberControl(field, resolved[key] ?? NaN, changed, { path });
}

function more(children) {
  return children.length === 0 ? null : h("details", { class: "more" }, h("summary", {}, "more"), children);
}

function mediumControls(bench, step, resolved, verb) {
  const { tree } = bench.state;
  const parts = mediumParts(tree, step[verb]);
  const own = Object.keys(tree.medium ?? {});
  const families = namesOf(bench, "family");
  const options = [...own.map((n) => [n, n]), ...families.map((n) => [`family:${n}`, n])];
  const now = parts === null ? (own.find((n) => n.toLowerCase() === step[verb].toLowerCase()) ?? step[verb])
    : `family:${families.find((n) => n.toLowerCase() === parts.family.toLowerCase()) ?? parts.family}`;
  const size = bench.answer.model.medium[resolved[verb]]?.size_um;
  const out = [choiceControl(verb === "hone" ? "Medium under the bevel" : "Medium under the back", options, now, (value) => {
    step[verb] = value.startsWith("family:") ? `${value.slice(7)}, ${parts?.grit ?? `${Number((size ?? 10).toPrecision(3))} µm`}` : value;
    bench.rebuilt();
  })];
  if (parts === null) {
    if (own.length > 0 && tree.medium[now] && size !== undefined) {
      const field = fieldOf(bench, "medium", "size_um");
      out.push(numberControl(field, size, (value) => {
        delete tree.medium[now].grit;
        put(tree.medium[now], field, value);
        bench.changed();
      }, { path: `medium.${now}.size_um` }));
    }
    return out;
  }
  const grit = gritParts(bench.about.grits, parts.grit) ?? { standard: "", size_um: size ?? 10 };
  const standards = [["", "micrometres"], ...bench.about.grits.map((g) => [g.standard, `${g.standard}: ${g.describes}`])];
  const say = (next) => {
    step[verb] = `${parts.family}, ${gritText(bench.about.grits, next)}`;
  };
  out.push(choiceControl("Grit stated in", standards, grit.standard, (standard) => {
    if (standard === "") {
      say({ standard, size_um: size ?? 10 });
    } else {
      // the nearest number of the other standard
      const grades = bench.about.grits.find((g) => g.standard === standard).grades;
      const off = (g) => Math.abs(Math.log(g.size_um / (size ?? 10)));
      say({ standard, number: grades.reduce((a, b) => (off(b) < off(a) ? b : a)).number });
    }
    bench.rebuilt();
  }));
  if (grit.standard === "") {
    out.push(numberControl(fieldOf(bench, "medium", "size_um"), grit.size_um, (value) => {
      if (value === undefined) return;
      say({ standard: "", size_um: value });
      bench.changed();
    }));
  } else {
    out.push(gradeControl(bench.about.grits.find((g) => g.standard === grit.standard), grit.number, (number) => {
      say({ standard: grit.standard, number });
      bench.changed();
    }));
  }
  return out;
}

// The table of the pad under this step, to be changed: one of the way's own, so that nothing else changes with it.
function ownPad(bench, step) {
  const { tree } = bench.state;
  const name = step.strop;
  const known = Object.keys(tree.backing ?? {}).find((n) => n.toLowerCase() === name.toLowerCase());
  if (known !== undefined && !bench.isFitted(`backing.${known}.modulus_MPa`)) return tree.backing[known];
  const pad = freeName(tree, "backing", `pad of the ${bench.wayName()}`);
  const table = tableOf(tree, "backing", pad);
  for (const [key, value] of Object.entries(bench.answer.model.backing[name] ?? {})) {
    if (typeof value === "number" && key !== "modulus_low_MPa" && key !== "modulus_high_MPa") table[key] = value;
  }
  table.note = `begun as ${name}`;
  step.strop = pad;
  bench.rebuildSoon();
  return table;
}

function padControls(bench, step, resolved) {
  const about = (name) => {
    const pad = bench.answer.model.backing[name] ?? bench.about.materials.backing.find((m) => m.name === name);
    return pad?.modulus_MPa === undefined ? "" : `${pad.modulus_MPa} MPa, ${pad.thickness_mm} mm`;
  };
  const pad = bench.answer.model.backing[resolved.strop] ?? {};
  const out = [materialChoice(bench, "backing", "Pad of the strop", step.strop, (value) => {
    step.strop = value;
    bench.rebuilt();
  }, about)];
  for (const key of ["modulus_MPa", "thickness_mm"]) {
    const field = fieldOf(bench, "backing", key);
    out.push(numberControl(field, pad[key] ?? NaN, (value) => {
      put(ownPad(bench, step), field, value);
      bench.changed();
    }, { path: `backing.${resolved.strop}.${key}`, label: key === "modulus_MPa" ? "modulus of the pad: how hard it is" : "thickness of the pad" }));
  }
  out.push(materialChoice(bench, "compound", "Compound on it", step.compound ?? "none", (value) => {
    step.compound = value;
    bench.rebuilt();
  }));
  return out;
}

function subjectControls(bench, step, resolved) {
  if (resolved.verb === "hone" || resolved.verb === "back") return mediumControls(bench, step, resolved, resolved.verb);
  if (resolved.verb === "strop") return padControls(bench, step, resolved);
  if (resolved.verb === "cut") {
    return [materialChoice(bench, "wood", "Wood", step.cut, (value) => {
      step.cut = value;
      bench.rebuilt();
    })];
  }
  if (resolved.verb === "dress") {
    const used = Object.keys(bench.answer.model.medium);
    return [choiceControl("Medium that is dressed", used.map((n) => [n, n]), step.dress, (value) => {
      step.dress = value;
      bench.rebuilt();
    })];
  }
  return [textControl(fieldOf(bench, "read", "read"), step.read, (value) => {
    step.read = value;
    bench.rebuilt();
  })];
}

// a step to put behind another
function newStep(bench, verb, neighbours) {
  const last = (key) => neighbours.map((s) => s[key]).filter((v) => v !== undefined).at(-1);
  if (verb === "hone") return { hone: last("hone") ?? "hard waterstone, JIS #6000", strokes: 20 };
  if (verb === "back") return { back: last("hone") ?? "hard waterstone, JIS #6000", strokes: 10 };
  if (verb === "strop") return { strop: "thin hide on wood", compound: "chromium oxide 0.5 µm", laps: 20 };
  if (verb === "cut") return { cut: last("cut") ?? "white oak", passes: 100, pass_m: last("pass_m") ?? 0.6 };
  if (verb === "dress") return { dress: last("hone") ?? last("back") ?? "hard waterstone, JIS #6000" };
  const names = bench.answer.ways.flatMap((w) => w.steps.map((s) => s.read));
  let name = "a reading";
  for (let n = 2; names.includes(name); ++n) name = `a reading (${n})`;
  return { read: name };
}

function stepCard(bench, place, resolved, number, open) {
  const step = place.list[place.index];
  const kind = resolved.verb;
  const fields = bench.about.tables[kind].fields.map((f) => f.key).filter((k) => k !== kind && k !== "compound" && k !== "note");
  const make = (key) => control(bench, kind, key, () => step, resolved, `step.${number - 1}.${key}`);
  const behind = h("select", { "aria-label": `What to add behind step ${number}` }, Object.entries(verbs).map(([v, text]) => h("option", { value: v }, text)));
  const move = (by) => {
    const [taken] = place.list.splice(place.index, 1);
    place.list.splice(place.index + by, 0, taken);
    bench.rebuilt(number - 1 + by);
  };
  return h("details", { class: "step", open, "data-step": number - 1 },
    h("summary", {}, h("span", { class: "number" }, String(number)), h("span", { class: "what" }, stepTitle(resolved)), h("span", { class: "count" }, stepCount(resolved))),
    place.route ? h("p", { class: "hint shown" }, `Of the route “${place.route}”: every edge that follows it changes with it.`) : null,
    subjectControls(bench, step, resolved),
    fields.filter((k) => first[kind].includes(k)).map(make),
    more(fields.filter((k) => !first[kind].includes(k)).map(make)),
    h("div", { class: "buttons" },
      h("button", { type: "button", disabled: place.index === 0, onclick: () => move(-1) }, "Earlier"),
      h("button", { type: "button", disabled: place.index === place.list.length - 1, onclick: () => move(1) }, "Later"),
      h("button", { type: "button", onclick: () => {
        place.list.splice(place.index, 1);
        bench.rebuilt();
      } }, "Take out")),
    h("div", { class: "buttons" }, behind, h("button", { type: "button", onclick: () => {
      place.list.splice(place.index + 1, 0, newStep(bench, behind.value, place.list.slice(0, place.index + 1)));
      bench.rebuilt(number);
    } }, "Add behind it")));
}

/** The list of steps of the way that is edited; `open` holds the numbers (from 0) of the cards that stand open. */
export function stepCards(bench, places, way, open) {
  if (places === null || places.length !== way.steps.length)
    return [h("p", {}, "The steps of this edge stand in another file that the configuration includes; they can be looked at, not changed here.")];
  return places.map((place, i) => stepCard(bench, place, way.steps[i], i + 1, open.has(i)));
}

const blade = {
  first: ["primary_bevel_deg", "micro_bevel_deg", "apex_radius_um"],
  rest: ["back_bevel_deg", "hardness_hrc", "width_mm", "thickness_mm", "land_mm", "scratch_um", "burr_um", "chip_um", "back_contact_mm", "bevel_contact_mm"],
};

/** The controls of the blade of the way that is edited. */
export function bladeControls(bench, edgeName, way) {
  const { tree } = bench.state;
  const resolved = bench.answer.model.tool[way.tool];
  const tools = Object.keys(tree.tool ?? {});
  // a blade that a fit took as given is another one when it changes
  const table = () => {
    const name = tree.edge[edgeName].tool;
    const known = tools.find((n) => n.toLowerCase() === name.toLowerCase()) ?? name;
    if (!bench.isFitted(`tool.${known}.width_mm`)) return tableOf(tree, "tool", known);
    const other = freeName(tree, "tool", `${known}, changed`);
    tableOf(tree, "tool", other);
    Object.assign(tree.tool[other], tree.tool[known]);
    tree.edge[edgeName].tool = other;
    bench.rebuildSoon();
    return tree.tool[other];
  };
  const make = (key) => control(bench, "tool", key, table, resolved, `tool.${way.tool}.${key}`);
  return [
    tools.length > 1 ? choiceControl("Blade", tools.map((n) => [n, n]), way.tool, (value) => {
      tree.edge[edgeName].tool = value;
      bench.rebuilt();
    }) : null,
    materialChoice(bench, "steel", "Steel", tree.tool?.[way.tool]?.steel ?? resolved.steel, (value) => {
      table().steel = value;
      bench.rebuilt();
    }),
    blade.first.map(make),
    choiceControl("Honed on", [["1", "one side, as a plane iron or chisel"], ["2", "both sides in turn, as a knife"]], String(resolved.honed_sides), (value) => {
      table().honed_sides = Number(value);
      bench.rebuilt();
    }),
    more(blade.rest.map(make)),
  ];
}

/** Controls of a table that is there once: the tester, the scatter of readings. */
export function tableControls(bench, kind) {
  const resolved = bench.answer.tables[kind];
  const table = () => (bench.state.tree[kind] ??= {});
  return bench.about.tables[kind].fields.filter((f) => f.key !== "filament").map((f) => control(bench, kind, f.key, table, resolved, `${kind}.${f.key}`));
}

export function filamentControl(bench) {
  return materialChoice(bench, "filament", "Filament in the tester", bench.answer.tables.tester.filament, (value) => {
    (bench.state.tree.tester ??= {}).filament = value;
    bench.rebuilt();
  });
}
