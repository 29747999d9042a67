// SPDX-License-Identifier: MIT
// The configuration as a tree (tables and keys as in the TOML), and what is changed in it. Nothing here knows the page.

/** A copy that shares nothing with what it is a copy of. */
export const clone = (value) => JSON.parse(JSON.stringify(value));

/** The steps of an edge in their order, those of routes it follows included: [{ list, index, route }], `list[index]` is the step.
 *  null where a route is not in this tree (it stands in an included file). */
export function stepsOf(tree, edgeName) {
  const edge = tree.edge?.[edgeName];
  if (!edge) return null;
  const named = (name) => Object.entries(tree.route ?? {}).find(([n]) => n.toLowerCase() === String(name).toLowerCase());
  const places = [];
  const walk = (list, route, depth) => {
    if (!Array.isArray(list) || depth > 20) return false;
    return list.every((step, index) => {
      if (step.follow === undefined) {
        places.push({ list, index, route });
        return true;
      }
      const found = named(step.follow);
      return found !== undefined && walk(found[1].steps, found[0], depth + 1);
    });
  };
  if (edge.route !== undefined) {
    const found = named(edge.route);
    if (found === undefined || !walk(found[1].steps, found[0], 1)) return null;
  }
  if (edge.steps !== undefined && !walk(edge.steps, "", 0)) return null;
  return places;
}

/** Puts a value under a field's key, in the place of one in another unit. */
export function put(table, field, value) {
  for (const other of field.alike ?? []) delete table[other];
  if (value === undefined || value === "") delete table[field.key];
  else table[field.key] = value;
}

/** The table of `kind` and `name`, made where it is not there. */
export function tableOf(tree, kind, name) {
  tree[kind] ??= {};
  const known = Object.keys(tree[kind]).find((n) => n.toLowerCase() === name.toLowerCase());
  return (tree[kind][known ?? name] ??= {});
}

/** A name that no table of `kind` has yet. */
export function freeName(tree, kind, wanted) {
  const taken = Object.keys(tree[kind] ?? {}).map((n) => n.toLowerCase());
  let name = wanted;
  for (let n = 2; taken.includes(name.toLowerCase()); ++n) name = `${wanted} (${n})`;
  return name;
}

/** "soft waterstone, JIS #1000" as family and grit; null for a medium that has a name of its own. */
export function mediumParts(tree, text) {
  const own = Object.keys(tree.medium ?? {}).find((n) => n.toLowerCase() === text.toLowerCase());
  const comma = text.lastIndexOf(",");
  if (own !== undefined || comma < 0) return null;
  return { family: text.slice(0, comma).trim(), grit: text.slice(comma + 1).trim() };
}

/** The standard and number of a grit, or its micrometres: { standard, number } or { size_um }; null where it is neither. */
export function gritParts(grits, text) {
  const size = /^([0-9.]+) *(?:µm|um|micron|microns)$/i.exec(text);
  if (size) return { standard: "", size_um: Number(size[1]) };
  const plain = text.replace(/\s+/g, "").toLowerCase();
  for (const g of grits) {
    for (const grade of g.grades) {
      const mark = g.mark.replace("{}", String(grade.number)).replace(/\s+/g, "").toLowerCase();
      if (plain === mark || plain === mark.replace("#", "")) return { standard: g.standard, number: grade.number };
    }
  }
  return null;
}

/** Grit as a step writes it. */
export function gritText(grits, parts) {
  if (!parts.standard) return `${Number(parts.size_um.toPrecision(3))} µm`;
  return grits.find((g) => g.standard === parts.standard).mark.replace("{}", String(parts.number));
}

/** An edge with the steps of its route written out, so that it can be changed by itself. */
export function unrouted(tree, name) {
  const edge = clone(tree.edge[name]);
  const places = stepsOf(tree, name);
  if (places) {
    delete edge.route;
    edge.steps = places.map((p) => clone(p.list[p.index]));
  }
  delete edge.code;
  return edge;
}
