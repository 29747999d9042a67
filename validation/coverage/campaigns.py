# SPDX-License-Identifier: MIT
"""A drawn campaign as files, and what the program answers to them."""

from __future__ import annotations

import dataclasses
import json
import pathlib
import subprocess
from typing import Any, Optional

import numpy as np

from validation.coverage.truths import ASKED_AT, HAND_ASKED_AT, Drawn

PASS_M = 0.6
LIMIT_GF = 200
DRAWS = 500

HEAD = """\
title = "invented: {truth}"
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
apex_radius_um = 0.3
land_mm = 0.05
"""

EDGE = """\
[edge.E{edge}]
tool = "iron"
steps = [{{ cut = "white oak", passes = 400, pass_m = {pass_m} }}]
"""

#: What a fit is told that knows the true curve: a tester that is linear in the radius, and the slope of the curve.
TOLD = """\
[tester]
saturation_N = 500
cut_resistance_N = 0.02
[wear]
rate = "{formula}"
k = {{ value = {k}, unit = "1", low = 1e-8, high = 1e3, factor = 10 }}
[fit]
free = ["tester.slope_N_per_um", "wear.k"]
"""


@dataclasses.dataclass(frozen=True)
class Bands:
    """What was answered of one campaign; intervals are pairs along ASKED_AT (in hand: HAND_ASKED_AT), in gram-force."""

    next_gf: np.ndarray
    hand_gf: Optional[np.ndarray]  # None where the program has no answer for the edge in hand
    misfit: Optional[bool]  # whether it says that the model does not fit; None where it has no such test
    mixture: str  # on what the forecast rests


def _run(program: pathlib.Path, *words: Any) -> str:
    done = subprocess.run([str(program), *map(str, words)], capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(map(str, words))} ended with {done.returncode}:\n{done.stderr}")
    return done.stdout


def write(drawn: Drawn, folder: pathlib.Path, told: bool) -> pathlib.Path:
    """Configuration and readings of a campaign; ``told``: with the true curve as its law of wear."""
    folder.mkdir(parents=True, exist_ok=True)
    text = HEAD.format(truth=drawn.truth.name, limit=LIMIT_GF)
    text += "".join(EDGE.format(edge=e + 1, pass_m=PASS_M) for e in range(drawn.edges))
    if told:
        # some tenths of a micrometre after the last reading, whatever the shape; its prior is wide
        metres = 150 * PASS_M
        text += TOLD.format(formula=drawn.truth.formula.format(m=PASS_M), k=f"{0.3 / metres:.4g}")
    rows = ["edge,step,passes,reading_gf,replicate,operator,filament_lot,note,excluded"]
    rows += [f"E{r.edge + 1},,{r.passes},{r.gf:.1f},{r.replicate},{r.operator},{r.lot},," for r in drawn.readings]
    (folder / "readings.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    path = folder / "campaign.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _at(asked: tuple[int, ...], curves: list[dict[str, Any]], low: str, high: str) -> np.ndarray:
    """The band of a curve at the passes that are asked, all of which it must reach."""
    passes = np.array([row["passes"] for row in curves])
    assert passes[0] <= asked[0] and asked[-1] <= passes[-1]
    return np.array([[np.interp(x, passes, [row[name] for row in curves]) for name in (low, high)] for x in asked])


def _has(program: pathlib.Path, command: str, option: str) -> bool:
    return option in _run(program, command, "--help")


def answered(program: pathlib.Path, drawn: Drawn, folder: pathlib.Path, told: bool = False) -> Optional[Bands]:
    """What the program makes of a campaign; None where its fit does not converge."""
    path = write(drawn, folder, told)
    fitted = folder / "fit.h5"
    words = ["fit", path, "--starts", 4, "--no-profiles", "--draws", DRAWS, "--quiet", "--threads", 1, "--out", fitted, "--json", folder / "fit.json"]
    done = subprocess.run([str(program), *map(str, words)], capture_output=True, text=True)
    if done.returncode == 5:
        return None
    if done.returncode != 0:
        raise RuntimeError(f"fit of {path} ended with {done.returncode}:\n{done.stderr}")
    fit = json.loads((folder / "fit.json").read_text(encoding="utf-8"))
    common = ["--fit", fitted, "--passes", 600, "--members", DRAWS, "--limit", LIMIT_GF, "--threads", 1, "--json", "-"]
    forecast = json.loads(_run(program, "forecast", path, "--edge", "E1", *common))
    hand = None
    if _has(program, "forecast", "--from-now"):
        answer = json.loads(_run(program, "forecast", path, "--edge", f"E{drawn.edges}", "--from-now", *common))
        hand = _at(HAND_ASKED_AT, answer["curves"], "reading_low_gf", "reading_high_gf")
    return Bands(
        _at(ASKED_AT, forecast["curves"], "next_reading_low_gf", "next_reading_high_gf"), hand,
        fit["lack_of_fit"]["found"] if "lack_of_fit" in fit else None, forecast["rests_on"],
    )


def holds(band: np.ndarray, truth_gf: np.ndarray) -> np.ndarray:
    """Which true readings (… × where it was asked) lie in the band."""
    return (truth_gf >= band[:, 0]) & (truth_gf <= band[:, 1])


__all__ = ["Bands", "answered", "holds", "write"]
