# SPDX-License-Identifier: MIT
"""Campaigns with several ways of sharpening, each of which reads otherwise than any table says; whether forecasts of each way hold its edges.

    F(x) = F_way·exp(a)·( 1 + A·exp(g_way + b)·h(x) ),   h logarithmic (truths.py)

``F_way`` and ``g_way`` scatter from way to way; ``a`` and ``b`` are the luck of an edge. All numbers are inventions of this project.
"""

from __future__ import annotations

import dataclasses
import json
import math
import os
import concurrent.futures
import pathlib
import subprocess
import tempfile
from typing import Optional

import numpy as np

from validation.checks import Check, Section
from validation.coverage.campaigns import DRAWS, LIMIT_GF, PASS_M
from validation.coverage.truths import TRUTHS, Workshop
from validation.outside import Place

HEAD = """\
title = "invented: ways that read otherwise than their tables say"
[output]
reading_limit_gf = {limit}
[readings]
file = "readings.csv"
[tool.iron]
kind = "plane iron"
steel = "O1"
width_mm = 50
thickness_mm = 3.2
primary_bevel_deg = 25
micro_bevel_deg = 30
apex_radius_um = 3
land_mm = 0.3
[route.waterstones]
steps = [ {{ hone = "soft waterstone, JIS #1000", strokes = 30 }}, {{ hone = "hard waterstone, JIS #8000", strokes = 30 }}, {{ back = "hard waterstone, JIS #8000", strokes = 8 }} ]
[route.plates]
steps = [ {{ hone = "plated diamond, 25 µm", strokes = 30 }}, {{ hone = "plated diamond, 9 µm", strokes = 30 }}, {{ back = "plated diamond, 9 µm", strokes = 8 }} ]
[route.film]
steps = [ {{ hone = "lapping film, 15 µm", strokes = 30 }}, {{ hone = "lapping film, 3 µm", strokes = 30 }}, {{ back = "lapping film, 3 µm", strokes = 8 }} ]
"""

EDGE = """\
[edge.E{edge}]
tool = "iron"
route = "{way}"
steps = [ {{ read = "off the medium", replicates = 4 }}, {{ strop = "thin hide on wood", compound = "chromium oxide 0.5 µm", laps = 20 }}, {{ cut = "white oak", passes = 400, pass_m = {pass_m} }} ]
"""

#: Off the medium and stropped, gf: as the rules of thumb of the trade have it (common practice, no source).
WAYS = {"waterstones": (130.0, 115.0), "plates": (230.0, 135.0), "film": (140.0, 115.0)}
EDGES_EACH = 4
READ_AT = (0, 20, 60, 150)
ASKED_AT = (1, 20, 60, 150)
WAY_SD = 0.15
NEXT_EDGES = 40
LEAST = 80.0

_logarithmic = next(t for t in TRUTHS if t.name == "logarithmic").shape


@dataclasses.dataclass
class Drawn:
    """One campaign: rows of readings, and what next edges of each way would show (ways × edges × ASKED_AT)."""

    rows: list[str]
    next_gf: np.ndarray


def draw(number: int, workshop: Workshop = Workshop()) -> Drawn:
    rng = np.random.default_rng([20812, number])
    rows, truths, edge = ["edge,step,passes,reading_gf,replicate,operator,filament_lot,note,excluded"], [], 0
    operators, lots = rng.normal(0, workshop.operator, 2), rng.normal(0, workshop.lot, 2)

    def read(edge: int, step: str, passes: str, value: float) -> None:
        for r in range(4):
            o, l = r % 2, (edge + r // 2) % 2
            shown = value * math.exp(operators[o] + lots[l] + rng.normal(0, workshop.reading))
            rows.append(f"E{edge},{step},{passes},{shown:.1f},{r + 1},{'KM'[o]},N-{l},,")

    for off, stropped in WAYS.values():
        off, stropped = (value * math.exp(rng.normal(0, WAY_SD)) for value in (off, stropped))
        rise = workshop.rise * math.exp(rng.normal(0, WAY_SD))
        worn = lambda a, b, x: stropped * np.exp(a) * (1 + rise * np.exp(b) * _logarithmic(np.asarray(x, float)))  # noqa: E731
        for _ in range(EDGES_EACH):
            edge += 1
            a, b = rng.normal(0, workshop.edge), rng.normal(0, workshop.rate)
            read(edge, "off the medium", "", off * math.exp(a))
            for x in READ_AT:
                read(edge, "", str(x), float(worn(a, b, x)))
        lucks = rng.normal(0, workshop.edge, NEXT_EDGES), rng.normal(0, workshop.rate, NEXT_EDGES)
        truths.append(np.array([worn(a, b, ASKED_AT) for a, b in zip(*lucks)]))
    return Drawn(rows, np.array(truths))


def held(program: pathlib.Path, number: int) -> Optional[np.ndarray]:
    """Shares of next edges within their bands, ways × ASKED_AT; None where the fit does not converge."""
    drawn = draw(number)
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "readings.csv").write_text("\n".join(drawn.rows) + "\n", encoding="utf-8")
        path, fitted = folder / "campaign.toml", folder / "fit.h5"
        edges = [EDGE.format(edge=k * EDGES_EACH + e + 1, way=way, pass_m=PASS_M) for k, way in enumerate(WAYS) for e in range(EDGES_EACH)]
        path.write_text(HEAD.format(limit=LIMIT_GF) + "".join(edges), encoding="utf-8")
        words = ["fit", path, "--starts", 4, "--no-profiles", "--draws", DRAWS, "--quiet", "--threads", 1, "--out", fitted]
        done = subprocess.run([str(program), *map(str, words)], capture_output=True, text=True)
        if done.returncode == 5:
            return None
        if done.returncode != 0:
            raise RuntimeError(f"fit of {path} ended with {done.returncode}:\n{done.stderr}")
        out = []
        for k in range(len(WAYS)):
            words = ["forecast", path, "--fit", fitted, "--edge", f"E{k * EDGES_EACH + 1}", "--passes", 400, "--members", DRAWS, "--limit", LIMIT_GF, "--threads", 1, "--json", "-"]
            answer = json.loads(subprocess.run([str(program), *map(str, words)], capture_output=True, text=True, check=True).stdout)
            passes = [row["passes"] for row in answer["curves"]]
            low, high = (np.interp(ASKED_AT, passes, [row[f"next_reading_{end}_gf"] for row in answer["curves"]]) for end in ("low", "high"))
            out.append(((drawn.next_gf[k] >= low) & (drawn.next_gf[k] <= high)).mean(axis=0))
    return np.array(out)


def shares(program: pathlib.Path, campaigns: int, jobs: int) -> tuple[np.ndarray, int]:
    """Of campaigns whose fits converged (campaigns × ways × ASKED_AT), and how many there are."""
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:  # the work is done by processes
        found = [h for h in pool.map(lambda n: held(program, n), range(campaigns)) if h is not None]
    return np.array(found).reshape(len(found), len(WAYS), len(ASKED_AT)), len(found)


def sections(place: Place) -> list[Section]:
    campaigns = 2 if place.fast else max(2, place.campaigns // 10)  # each fit takes some ten times as long as with one way
    found, converged = shares(place.program, campaigns, os.cpu_count() or 1)
    checks = []
    for k, at in enumerate(ASKED_AT):
        # edges of one campaign share their bands: campaigns are what is counted
        of_campaign = found[:, :, k].mean(axis=1)
        low = LEAST - 200 * float(np.std(of_campaign)) / math.sqrt(max(1, converged))
        share = 100 * float(of_campaign.mean())
        checks.append(Check(
            what=f"ways that read otherwise than their tables say: next edges within the band of 90 % after {at} passes",
            source="nominal coverage", theirs=90.0, ours=share, unit="%", tolerance=f"≥ {low:.0f} %",
            why=f"{LEAST:.0f} %, and two standard errors of {converged} campaigns", passed=share >= low,
            explained="How a way wears is taken from the law, and only its level from its readings.",
        ))
    rows = [[way, *(f"{100 * found[:, w, k].mean():.0f}" for k in range(len(ASKED_AT)))] for w, way in enumerate(WAYS)]
    return [Section(
        "Ways that read otherwise than the model says",
        [
            f"{campaigns} campaigns ({converged} fits converged) of three ways of sharpening with four edges each. What a way reads off its medium, what it reads stropped and how fast it wears scatter by {100 * WAY_SD:.0f} % "
            "about rules of thumb of the trade (common practice, no source), so that no table of media has them. Bands are those of `arris forecast --fit` for an edge of each way, "
            f"held against {NEXT_EDGES} edges of it that were not read.",
        ],
        checks, tables=[("Next edges held, %", ["way", *(f"after {at} passes" for at in ASKED_AT)], rows)],
    )]
