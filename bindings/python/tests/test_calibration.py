# SPDX-License-Identifier: MIT
"""The default parameters are those that the facts of the trade come to (configs/calibration)."""

import os
import pathlib
import sys

import arris
import numpy as np
import pytest

ROOT = pathlib.Path(os.environ.get("ARRIS_SOURCE_DIR", pathlib.Path(__file__).resolve().parents[3]))
sys.path.insert(0, str(ROOT))
from configs.calibration.facts import SLOPE, Facts  # noqa: E402


@pytest.fixture(scope="module")
def facts():
    return Facts(arris)


def test_defaults_are_what_the_facts_come_to(facts):
    """From the middle of the priors and from draws of them, without a look at the defaults."""
    found = facts.heard(starts=8)
    away = {path: z for path, z in facts.from_defaults(found).items() if path != SLOPE}
    # defaults are written to three figures: half a per cent at most, a hundredth of the narrowest of these priors
    assert max(map(abs, away.values())) < 0.02, away


def test_defaults_meet_every_fact(facts):
    """Within one and a half of the spread in which it is believed: what one set of defaults is to do."""
    now = facts.now()
    assert len(now.misses) == len(facts.levels) + len(facts.rises)
    assert now.farthest < 1.5
    for edge in ("plates", "chisel, plates"):
        assert 205 < now.readings[edge, "off the last plate"] < 265
        assert 120 < now.readings[edge, "hard strop"] < 160
    for edge in ("30°", "chisel, waterstones"):
        assert 120 < now.readings[edge, "hard strop"] < 160


def test_slope_of_the_tester_is_near_what_is_believed_of_lengths(facts):
    """It is held; free it comes to nearly the same, far within what readings can tell of it."""
    free = facts.heard(tester=True)
    assert facts.slope == pytest.approx(free.values[SLOPE], rel=0.15)


def test_result_tells_every_fact(facts):
    text = (ROOT / "configs/calibration/RESULT.md").read_text(encoding="utf-8")
    now = facts.now()
    rows = [line for line in text.splitlines() if line.startswith("| ") and "common practice" not in line]
    assert len(rows) == len(facts.facts)
    for row, miss in zip(rows, now.misses):
        stated = float(row.split("|")[5].split()[0])
        assert stated == pytest.approx(miss, abs=0.06)  # coefficients are written to three figures
    assert np.all(np.isfinite(now.misses))
