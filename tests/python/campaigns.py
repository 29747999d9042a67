# SPDX-License-Identifier: MIT
"""Made-up campaigns, and ways to say each of them otherwise: what the program, the package and the page's module are held to.

    python3 tests/python/campaigns.py SEED…      all of it as JSON, for tests in other languages
"""

import copy
import dataclasses
import json
import random
import sys

STONES = ["soft waterstone, JIS #1000", "hard waterstone, JIS #8000", "soft waterstone, JIS #4000", "vitrified ceramic, 5 µm"]
WOODS = ["teak", "white oak", "black cherry"]
COUNTS = {"hone": "strokes", "back": "strokes", "strop": "laps", "cut": "passes"}
# what an edge has come to
STATE = ("apex_radius_um", "scratch_um", "burr_um", "land_mm", "mass_loss_mg", "reading_gf", "dub_depth_um")
# a step in two, or other points, begins an integration anew: within its tolerance of 1e-8 at each step, with room
ANEW = 1e-5


def made_up(seed):
    """An invented campaign: values of its blade, and edges by name, each a list of steps."""
    draw = random.Random(seed)
    edges = {}
    for n in range(draw.randint(1, 3)):
        steps = [{"hone": draw.choice(STONES), "strokes": draw.randint(20, 80), "force_N": draw.randint(10, 30), "stroke_mm": 100} for _ in range(draw.randint(1, 3))]
        steps.append({"back": STONES[1], "strokes": draw.randint(0, 10), "force_N": 8, "stroke_mm": 60})
        if draw.random() < 0.7:
            steps.append({"strop": "thin hide on wood", "compound": "chromium oxide 0.5 µm", "laps": draw.randint(5, 40), "force_N": draw.randint(4, 12), "stroke_mm": 200})
        steps.append({"read": "ready"})
        steps.append({"cut": draw.choice(WOODS), "passes": 2 * draw.randint(10, 150), "pass_m": 0.6})
        steps.append({"read": "worn"})
        edges[f"E{n}"] = steps
    tool = {"steel": "O1", "width_mm": draw.randint(20, 60), "thickness_mm": 3, "primary_bevel_deg": draw.randint(22, 28), "micro_bevel_deg": draw.randint(29, 35), "apex_radius_um": draw.randint(2, 6)}
    return {"tool": tool, "output": {"reading_limit_gf": 250, "points_per_step": 6}, "edges": edges, "tables": ""}


def said(value):
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (str, bool)) else repr(value)


def steps_text(steps):
    return "[\n" + "".join("  { " + ", ".join(f"{key} = {said(value)}" for key, value in step.items()) + " },\n" for step in steps) + "]\n"


def edges_text(campaign, tool="iron"):
    return "".join(f'[edge."{name}"]\ntool = "{tool}"\nsteps = {steps_text(steps)}' for name, steps in campaign["edges"].items())


def table(name, values):
    return f"[{name}]\n" + "".join(f"{key} = {said(value)}\n" for key, value in values.items())


def head_text(campaign, tool="iron"):
    return table(f"tool.{tool}", campaign["tool"]) + table("output", campaign["output"]) + "[numerics]\nrelative_tolerance = 1e-8\n" + campaign["tables"]


def toml(campaign):
    return head_text(campaign) + edges_text(campaign)


def toml_with_routes(campaign):
    """The same, with what is done before an edge is ready in a route of its name."""
    text = head_text(campaign)
    for name, steps in campaign["edges"].items():
        ready = next(n for n, step in enumerate(steps) if "read" in step)
        text += f'[route."r {name}"]\nsteps = {steps_text(steps[:ready])}[edge."{name}"]\ntool = "iron"\nroute = "r {name}"\nsteps = {steps_text(steps[ready:])}'
    return text


@dataclasses.dataclass
class Law:
    """Two texts that mean the same. `names` tells how edges of the plain one are called in the other, `scale` what is multiplied there."""

    name: str
    plain: str
    other: str
    files: dict = dataclasses.field(default_factory=dict)
    names: dict = dataclasses.field(default_factory=dict)
    scale: dict = dataclasses.field(default_factory=dict)
    only_ends: bool = False
    columns: tuple = ()  # of the curve; all of them where there are none here
    tolerance: float = 0.0
    loose: dict = dataclasses.field(default_factory=dict)  # tolerances of columns that are looser, each with a reason where it is stated


def with_steps(campaign, change):
    """The campaign with each step in the place of what `change` makes of it, a list."""
    return {**campaign, "edges": {name: [new for step in steps for new in change(step)] for name, steps in campaign["edges"].items()}}


def read_in_between(campaign):
    return {**campaign, "edges": {name: [new for n, step in enumerate(steps) for new in ({"read": f"before {n + 1}"}, step)] for name, steps in campaign["edges"].items()}}


def with_values(campaign, part, **values):
    """Values of a table replaced; those that are None taken out."""
    out = copy.deepcopy(campaign)
    out[part] = {key: value for key, value in {**out[part], **values}.items() if value is not None}
    return out


def in_two(verb):
    count = COUNTS[verb]

    def change(step):
        if verb not in step:
            return [step]
        first = step[count] // 3
        return [{**step, count: first}, {**step, count: step[count] - first}]

    return change


def laws(seed):
    """Every way to say the campaign of this seed otherwise."""
    c = made_up(seed)
    plain, tool = toml(c), c["tool"]
    same = lambda name, other, **more: Law(name, plain, other, **more)
    other_names = {name: "Ä " + name for name in c["edges"]}
    yield same("the order of edges", toml({**c, "edges": dict(reversed(c["edges"].items()))}))
    yield same("names of edges", toml({**c, "edges": {other_names[n]: s for n, s in c["edges"].items()}}), names=other_names)
    yield same("names of tools", head_text(c, '"no. 5"') + edges_text(c, "no. 5"))
    yield same("edges before their tool", edges_text(c) + head_text(c))
    yield same("the order of keys", toml({**c, "tool": dict(reversed(tool.items()))}))
    yield same("a file that is included", 'include = ["edges.toml"]\n' + head_text(c), files={"edges.toml": edges_text(c)})
    yield same("a file that is included and overruled", 'include = ["base.toml"]\n' + table("tool.iron", {"width_mm": tool["width_mm"]}), files={"base.toml": toml(with_values(c, "tool", width_mm=77))})
    yield same("lines that end otherwise, and remarks", "# invented\r\n" + plain.replace("\n", " # as it was\r\n\r\n"))
    yield same("numbers written otherwise", toml(with_values(c, "tool", width_mm=float(tool["width_mm"]), thickness_mm=3.0)).replace("thickness_mm = 3.0", "thickness_mm = 0.3e1"))
    yield same("a route by its name", toml_with_routes(c))
    own = with_steps(c, lambda s: [{k: ("my stone" if v == STONES[1] else v) for k, v in s.items()}])
    yield same("a medium with a name of its own", toml({**own, "tables": '[medium."my stone"]\nfamily = "hard waterstone"\ngrit = "JIS #8000"\n'}))
    yield same("an edge twice", toml({**c, "edges": {**c["edges"], **{name + " again": s for name, s in c["edges"].items()}}}))
    yield same("a reading in between", toml(read_in_between(c)), only_ends=True)
    yield same("steps of nothing", toml(with_steps(c, lambda s: [s] if "read" in s else [{**s, COUNTS[next(iter(s))]: 0}, s])), only_ends=True)
    # a unit is a division: of the last place
    unit = 1e-9
    yield same("inches for millimetres", toml(with_values(c, "tool", width_mm=None, width_in=tool["width_mm"] / 25.4, thickness_mm=None, thickness_in=3 / 25.4)), tolerance=unit)
    yield same("radian for degrees", toml(with_values(c, "tool", primary_bevel_deg=None, primary_bevel_rad=tool["primary_bevel_deg"] * 0.017453292519943295)), tolerance=unit)
    yield same("nanometres for micrometres", toml(with_values(c, "tool", apex_radius_um=None, apex_radius_nm=1000 * tool["apex_radius_um"])), tolerance=unit)
    force = lambda s: [{k.replace("force_N", "force_kgf"): (v / 9.80665 if k == "force_N" else v) for k, v in s.items()}]
    yield same("kilogram-force for newton", toml(with_steps(c, force)), tolerance=unit)
    length = lambda s: [{k.replace("stroke_mm", "stroke_cm").replace("pass_m", "pass_in"): (v / 10 if k == "stroke_mm" else v / 0.0254 if k == "pass_m" else v) for k, v in s.items()}]
    yield same("centimetres and inches for lengths of strokes and passes", toml(with_steps(c, length)), tolerance=unit)
    half = lambda s: [{**s, "passes": 2 * s["passes"], "pass_m": 0.3} if "cut" in s else s]
    yield same("twice the passes, half as long", toml(with_steps(c, half)), tolerance=unit, columns=(*STATE, "path_m", "passes"), scale={"passes": 2.0, "passes_to_limit": 2.0})
    # pressure is what counts: a blade twice as wide under twice the force loses twice the steel
    wide = with_steps(with_values(c, "tool", width_mm=2 * tool["width_mm"]), lambda s: [{**s, "force_N": 2 * s["force_N"]} if "force_N" in s else s])
    yield same("a blade twice as wide under twice the force", toml(wide), tolerance=1e-6, scale={"mass_loss_mg": 2.0, "steel_removed_mg": 2.0})
    for verb, says in (("cut", "a stretch in wood in two"), ("strop", "a strop in two"), ("back", "the back in two")):
        yield same(says, toml(with_steps(c, in_two(verb))), only_ends=True, tolerance=ANEW)
    # how fast a burr breaks that is longer than the medium lets stand is set by its length when a step begins (sim/laws/burr.hpp): what is
    # left of it behind back, strop and wood may differ by a fifth, and a reading by its part
    yield same("a stone in two", toml(with_steps(c, in_two("hone"))), only_ends=True, tolerance=ANEW, loose={"burr_um": 0.2, "reading_gf": 0.05})
    yield same("how often one looks", toml(with_values(c, "output", points_per_step=97)), only_ends=True, tolerance=ANEW)
    yield same("a tighter tolerance", plain.replace("1e-8", "1e-10"), only_ends=True, tolerance=ANEW)


def difference(law, plain, other):
    """What differs in the edges of two simulations, each a dict of name to {"status", "passes_to_limit", "track": columns}; empty: nothing
    but what the law lets differ."""
    for name, mine in plain.items():
        theirs = other[law.names.get(name, name)]
        if theirs["status"] != mine["status"]:
            return f"{name} ends as {theirs['status']}, not as {mine['status']}"
        columns = law.columns or (STATE if law.only_ends else mine["track"])
        for column in columns:
            a, b = ([edge["track"][column][-1]] if law.only_ends else edge["track"][column] for edge in (mine, theirs))
            if len(a) != len(b):
                return f"{name} has {len(b)} points, not {len(a)}"
            scale, tolerance = law.scale.get(column, 1.0), law.loose.get(column, law.tolerance)
            for i, (x, y) in enumerate(zip(a, b)):
                # below a hundredth of a micrometre nothing is shown: there differences count as at that
                if x != y and not abs(y - scale * x) <= tolerance * max(abs(scale * x), 1e-2):
                    return f"{name} {column} {i}: {y!r}, not {scale * x!r}"
        a, b = mine["passes_to_limit"], theirs["passes_to_limit"]
        if (a is None) != (b is None):
            return f"{name} lasts {b}, not {a}"
        # where a curve meets the limit is found between its points
        if a is not None and a != b and abs(b / law.scale.get("passes_to_limit", 1.0) - a) > max(law.tolerance, 0.02 if law.only_ends else 0.0) * a + 1e-9:
            return f"{name} lasts {b} passes, not {a}"
    return ""


if __name__ == "__main__":
    print(json.dumps([dataclasses.asdict(law) for seed in map(int, sys.argv[1:]) for law in laws(seed)]))
