# SPDX-License-Identifier: MIT
"""The integrator beside closed solutions and beside other people's solvers."""

from __future__ import annotations

import functools
import importlib.util
import math
from typing import Any

import numpy as np

from validation.checks import Check, Section
from validation.outside import ROOT, Place, table

CLOSED = "closed solution (validation/data/ode_benchmarks.csv)"

#: exact sensitivities, by problem: functions of s, the value there and the parameters (ode_sensitivities.csv, written out)
SLOPES = {
    "exp_approach": {
        "r0": lambda s, r: math.exp(-s / 12),
        "ri": lambda s, r: 1 - math.exp(-s / 12),
        "L": lambda s, r: (8 - 0.5) * (s / 144) * math.exp(-s / 12),
    },
    "sqrt_growth": {"a": lambda s, r: s / math.sqrt(0.16 + 0.04 * s), "r0": lambda s, r: 0.4 / math.sqrt(0.16 + 0.04 * s)},
    "logistic": {
        "g": lambda s, r: r * s * (1 - r / 12),
        "K": lambda s, r: (r / 12) ** 2 * (1 - math.exp(-0.05 * s)),
        "r0": lambda s, r: (r / 0.4) ** 2 * math.exp(-0.05 * s),
    },
    "second_order_removal": {"b": lambda s, r: -((8 - 0.5) ** 2) * s / (1 + 0.02 * (8 - 0.5) * s) ** 2},
}

#: How far neighbouring solutions part: largest of |∂r(s)/∂r(s′)| on the way, by which an error made early has grown.
PARTING = {"logistic": 7.7, "gompertz": 4.2}  # r·(1 − r/K) and r·ln(K/r) at their largest, over those at the start


def exact() -> dict[str, dict[float, float]]:
    out: dict[str, dict[float, float]] = {}
    for row in table("validation/data/ode_benchmarks.csv"):
        out.setdefault(row["id"], {})[float(row["s"])] = float(row["r_exact(double)"])
    return out


def allowed(problem: str, tolerance: float, steps: int, largest: float) -> float:
    """Each step may err by the tolerance; errors add up, and grow where solutions part."""
    return max(steps, 10) * PARTING.get(problem, 1.0) * tolerance * (largest + 1e-2)


def closed_form(given: Any) -> list[Check]:
    truth = exact()
    out = []
    for kind, name in (("stepped", "steps"), ("grown", "the integral of 1/rate")):
        for row in given[kind]:
            problem = row["id"]
            if row["status"] == "not this way":
                # towards an equilibrium the integral of 1/rate has no end; the library then takes steps, as above
                out.append(
                    Check(f"{problem} by {name}, tolerance {row['tolerance']:g}: towards an equilibrium", CLOSED, "no such integral", "declined", "",
                          "1/rate grows without bound there; the library then takes steps", not row["values"])
                )
                continue
            pairs = list(zip(row["points"], row["values"]))
            if "after" in row:  # the event, and what goes on from it
                pairs += list(zip(row["after"]["points"], row["after"]["values"]))
            # values that were integrated, at s that the table has
            pairs = [(s, v) for s, v in pairs if s in truth[problem]]
            off = [abs(v - truth[problem][s]) for s, v in pairs]
            largest = max(abs(truth[problem][s]) for s, _ in pairs)
            bound = allowed(problem, row["tolerance"], row["steps"], largest)
            worst = int(np.argmax(off))
            good = row["status"] in ("done", "ended") and off[worst] <= bound and len(pairs) >= 2
            s, v = pairs[worst]
            out.append(
                Check(
                    what=f"{problem} by {name}, tolerance {row['tolerance']:g}: the worst of {len(pairs)} values, at s = {s:g}",
                    source=CLOSED,
                    theirs=truth[problem][s],
                    ours=v,
                    tolerance=f"± {bound:.1g}",
                    why="each step may err by the tolerance" + (", and early errors grow" if problem in PARTING else ""),
                    passed=good,
                    note=f"off by {off[worst]:.1g}" + (f"; {row['steps']} steps" if row["steps"] else ""),
                )
            )
            if problem.startswith("finite_time"):
                # from r = 1e-4 the rest of the way is 2√r/c
                end = row["end"] + 2 * math.sqrt(1e-4) / 0.1
                near_end = row["steps"] * row["tolerance"] * 4 / (0.1 * math.sqrt(1e-4))
                out.append(
                    Check(f"{problem}, tolerance {row['tolerance']:g}: where it ends", CLOSED, 40.0, end, f"± {near_end:.1g}",
                          "errors of the radius, over the rate at the event", abs(end - 40) <= near_end, note="event at 1e-4, the rest in closed form")
                )
            if problem.startswith("piecewise"):
                bound = row["steps"] * row["tolerance"] / 0.03
                out.append(
                    Check(f"{problem}, tolerance {row['tolerance']:g}: where the rate changes", CLOSED, 20.0, row["end"], f"± {max(bound, 1e-11):.1g}",
                          "errors of the radius, over the rate", abs(row["end"] - 20) <= max(bound, 1e-11))
                )
    refused = given["refused"]
    out.append(
        Check(
            what="a problem of stiffness 1e6 with the settings of a configuration",
            source="what can be asked of a solver for problems that are not stiff",
            theirs="refused, and said so",
            ours=refused["status"],
            tolerance="",
            why="a wrong number would be worse; stages of the model are not stiff",
            passed=refused["status"] == "too many steps",
        )
    )
    return out


def sensitivities(given: Any) -> list[Check]:
    out = []
    for row in given["sensitivities"]:
        for name, ours in row["slopes"].items():
            theirs = SLOPES[row["id"]][name](row["s"], row["value"])
            bound = 4e-9 * 100 * max(abs(theirs), 1e-2)
            out.append(
                Check(
                    what=f"{row['id']}: derivative by {name} at s = {row['s']:g}",
                    source="closed sensitivity (validation/data/ode_sensitivities.csv)",
                    theirs=theirs,
                    ours=ours,
                    tolerance="± 4e-7 relative",
                    why="derivatives are held to four times 1e-9 per step, some hundred steps",
                    passed=abs(ours - theirs) <= bound,
                )
            )
    return out


def slopes(given: Any) -> list[Check]:
    out = []
    for row in given:
        # looser, other rules of the step come first: its beginning, and growth by no more than a seventh of the radius
        tolerance = np.log10(np.array([p for p in row["by_tolerance"] if p[0] < 4e-8]))
        step = np.log10(np.array([p for p in row["by_step"] if p[1] > 1e-13]))  # below, rounding
        by_tolerance = float(np.polyfit(tolerance[:, 0], tolerance[:, 1], 1)[0])
        by_step = float(np.polyfit(step[:, 0], step[:, 1], 1)[0])
        out.append(
            Check(f"{row['id']}: error against tolerance from 3e-8 down, slope of the logs", "theory of step control", 1.0, by_tolerance, "± 0.3",
                  "steps go as the fifth root of the tolerance, errors as their fifth power; whole numbers of steps make it uneven",
                  abs(by_tolerance - 1) <= 0.3)
        )
        out.append(
            Check(f"{row['id']}: error against step, fixed steps, slope of the logs", "Dormand & Prince: order 5", 5.0, by_step, "4.6 … 6.5",
                  "long steps: the next order, with a coefficient that is not small, still shows", 4.6 <= by_step <= 6.5)
        )
    return out


def other_solvers(given: Any) -> list[Check]:
    """SUNDIALS and GSL on the right-hand sides of the library."""
    out = []
    for row in given:
        ours = np.array(row["ours_9"])
        size = np.maximum(np.abs(ours), 1e-2)
        name = f"{row['name']}, {row['count']:g}"
        for key, source in (("cvode_adams", "SUNDIALS CVODE 6.4, Adams"), ("cvodes_bdf", "SUNDIALS CVODES 6.4, BDF"), ("gsl", "GSL 2.7, Prince–Dormand 8")):
            theirs = np.array(row[key])
            off = np.abs(theirs - ours) / size
            k = int(np.argmax(off))
            out.append(
                Check(f"{name}: {('radius', 'scratch', 'burr')[k]}, the worst component", source, float(theirs[k]), float(ours[k]), "± 1e-7 relative",
                      "1e-9 per step and some hundred steps here, 1e-10 per step there", bool(off[k] <= 1e-7), unit="µm",
                      note=f"off by {off[k]:.1g}")
            )
        coarse = np.abs(np.array(row["ours_6"]) - ours) / size
        k = int(np.argmax(coarse))
        out.append(
            Check(f"{name}: with the usual tolerance of 1e-6, {('radius', 'scratch', 'burr')[k]}", "the same, at 1e-9", float(ours[k]), float(row["ours_6"][k]), "± 1e-4 relative",
                  "1e-6 per step, some hundred steps", bool(coarse[k] <= 1e-4), unit="µm", note=f"off by {coarse[k]:.1g}")
        )
        # how much a component moves when a parameter moves by its own size
        mine = np.array(row["our_slopes"]) * np.array(row["values"])[:, None]
        cvodes = np.array(row["cvodes_slopes"]) * np.array(row["values"])[:, None]
        off = np.abs(mine - cvodes) / size
        i, k = np.unravel_index(int(np.argmax(off)), off.shape)
        out.append(
            Check(f"{name}: {('radius', 'scratch', 'burr')[k]} by {row['parameters'][i].split('.')[-1]}, the worst derivative", "SUNDIALS CVODES 6.4, forward sensitivities",
                  float(cvodes[i, k]), float(mine[i, k]), "± 2e-6 of the component",
                  "4e-9 per step and some hundred steps here, 1e-7 per step there, where slopes of the right-hand side are differences", bool(off[i, k] <= 2e-6),
                  unit="µm per own size", note=f"off by {off[i, k]:.1g}")
        )
    return out


def equations() -> Any:
    """The equations at the head of the files in sim/laws, written anew in Python for the tests of the package."""
    path = ROOT / "bindings" / "python" / "tests" / "test_integrator.py"
    spec = importlib.util.spec_from_file_location("test_integrator", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def whole_histories(place: Place) -> list[Check]:
    """Hone, strop, cut: scipy and R with right-hand sides of their own."""
    arris = place.package()
    anew = equations()
    rng = np.random.default_rng(3)
    cases, ours = [], []
    for _ in range(4):
        tool = arris.Tool(steel="O1", width_mm=rng.uniform(20, 60), thickness_mm=3.2, primary_bevel_deg=25, micro_bevel_deg=rng.uniform(27, 35),
                          apex_radius_um=rng.uniform(0.4, 2), scratch_um=rng.uniform(0.1, 0.6), land_mm=rng.uniform(0.3, 1))
        hone = arris.hone("soft waterstone, JIS #1000", strokes=rng.uniform(10, 60), force_N=15, stroke_mm=100)
        strop = arris.strop("thin hide on wood", compound="chromium oxide 0.5 µm", laps=rng.uniform(5, 40), force_N=10, angle_offset_deg=rng.uniform(-0.5, 0.5))
        cut = arris.cut("sugar maple", passes=rng.uniform(30, 300), pass_m=0.6)
        campaign = arris.loads(
            arris.Configuration(tool={"iron": tool}, edge={"A": arris.Edge(tool="iron", steps=[hone, strop, cut])},
                                numerics=arris.Numerics(relative_tolerance=1e-9)).to_toml()
        )
        steps = arris.simulate(campaign).steps("A")
        ours.append([anew.as_simulated(steps, i) for i in range(3)])
        cases.append((campaign, hone, strop, cut))

    out = []
    solvers = {"LSODA": "scipy 1.10, LSODA", "DOP853": "scipy 1.10, DOP853", "Radau": "scipy 1.10, Radau"}
    for number, ((campaign, hone, strop, cut), mine) in enumerate(zip(cases, ours), 1):
        for method, source in solvers.items():
            e = anew.Equations(campaign, functools.partial(anew.solve, method=method, rtol=1e-10, atol=1e-13))
            honed = e.hone(e.begin(), hone)
            stropped = e.strop(honed, strop)
            theirs = [anew.components(e, state) for state in (honed, stropped, e.cut(stropped, cut))]
            out.append(_history_check(f"history {number}: hone, strop, cut", source, np.array(theirs), np.array(mine)))

    outline = {f"outline.{name}": value for name, value in anew.OUTLINE.items()}
    given = [_constants(*case) | outline for case in cases]
    for number, (theirs, mine) in enumerate(zip(place.r("histories.R", given), ours), 1):
        out.append(_history_check(f"history {number}: hone, strop, cut", "R 4.2, deSolve lsoda", np.array(theirs), np.array(mine)))
    return out


def _history_check(name: str, source: str, theirs: np.ndarray, mine: np.ndarray) -> Check:
    off = np.abs(theirs - mine) / np.maximum(np.abs(theirs), 0.01)
    i, k = np.unravel_index(int(np.argmax(off)), off.shape)
    component = ("radius", "scratch", "burr", "dub", "depth to flat", "chips")[k]
    return Check(
        f"{name}; worst: {component} after the {('honing', 'stropping', 'cutting')[i]}", source, float(theirs[i, k]), float(mine[i, k]),
        "± 1e-6 relative", "1e-9 and 1e-10 per step, of which stiff solvers take thousands; right-hand sides written anew", bool(off[i, k] <= 1e-6), unit="µm",
        note=f"off by {off[i, k]:.1g}",
    )


def _constants(campaign: Any, hone: Any, strop: Any, cut: Any) -> dict[str, float]:
    """What R needs to write the equations down by itself: numbers of the configuration, none worked out."""
    values = campaign.parameters["value"].to_dict()
    wanted = {
        "abrasion", "critical_size_um", "size_exponent", "active_grit_load_exponent", "radius_per_scratch", "carbide_share", "floor_radius_um",
        "floor_exponent", "burr_growth", "burr_limit_um", "burr_limit_exponent", "burr_loss_strop", "burr_break_off_m", "dub_share", "dub_depth_share",
        "chip_load_N_per_m", "chip_least_um", "chip_length_m", "nicks_um_per_km", "wood_hardness_exponent", "silica_per_pct", "collapse_load_N_per_m", "collapse_length_m",
    }
    out = {k: float(values[f"coefficients.{k}"]) for k in wanted}
    for prefix, short in ((f"medium.{hone.hone}.", "medium"), (f"backing.{strop.strop}.", "backing"), (f"compound.{strop.compound}.", "compound"),
                          (f"wood.{cut.cut}.", "wood"), ("steel.O1.", "steel"), ("tool.iron.", "tool"), ("tester.", "tester"), ("wear.", "wear")):
        for path, value in values.items():
            if path.startswith(prefix) and isinstance(value, float) and math.isfinite(value):
                out[f"{short}.{path[len(prefix):]}"] = value
    out |= {"strokes": hone.strokes, "hone_N": hone.force_N, "stroke_mm": hone.stroke_mm, "laps": strop.laps, "strop_N": strop.force_N,
            "lap_mm": 200.0, "offset_deg": strop.angle_offset_deg, "scatter_deg": 0.25, "passes": cut.passes, "pass_m": cut.pass_m}
    return out


def sections(place: Place) -> list[Section]:
    problems = place.numbers("closed-form")
    checks = [*closed_form(problems), *sensitivities(problems), *slopes(place.numbers("convergence")), *other_solvers(place.numbers("histories")), *whole_histories(place)]
    return [
        Section(
            "Numerics",
            [
                "Sixteen problems with closed solutions through the library's integrator, at two tolerances; their sensitivities through its exact derivatives; "
                "how errors fall with tolerance and step; the stages of the model by SUNDIALS and GSL (the library's right-hand sides, other people's steps); "
                "whole histories by scipy and by R's deSolve, with right-hand sides written anew in each language.",
            ],
            checks,
        )
    ]
