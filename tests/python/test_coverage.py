# SPDX-License-Identifier: MIT
"""The curves and campaigns that validation/coverage holds bands against."""

import os
import re
import sys

import numpy as np
import pytest

sys.path.insert(0, os.environ["ARRIS_SOURCE_DIR"])

from validation.coverage import bands  # noqa: E402
from validation.coverage.campaigns import holds, write  # noqa: E402
from validation.coverage.truths import ASKED_AT, IN_HAND_READ_TO, NEXT_EDGES, READ_AT, TRUTHS, Workshop, curve, draw  # noqa: E402


@pytest.mark.parametrize("truth", TRUTHS, ids=lambda t: t.name)
def test_a_curve_begins_at_nothing_ends_at_one_and_its_formula_is_its_slope(truth):
    x = np.array([0.0, 150.0])
    assert truth.shape(x) == pytest.approx([0, 1], abs=1e-12)
    passes = np.linspace(1, 300, 60)
    slope = (truth.shape(passes + 1e-4) - truth.shape(passes - 1e-4)) / 2e-4
    text = re.sub(r"\^", "**", truth.formula.format(m=0.6))
    told = np.array([eval(text, {"k": 1.0, "x": 0.6 * p, "exp": np.exp}) for p in passes])  # noqa: S307 (formulas of this project)
    assert told / slope == pytest.approx(np.full(60, told[0] / slope[0]), rel=1e-5)


def test_a_campaign_is_the_same_each_time_and_as_it_is_said_to_be(tmp_path):
    first, again = draw(TRUTHS[1], 3, 12), draw(TRUTHS[1], 3, 12)
    assert first.readings == again.readings
    assert draw(TRUTHS[1], 4, 12).readings != first.readings
    of_first_edge = {r.passes for r in first.readings if r.edge == 0}
    assert of_first_edge == set(READ_AT)
    assert max(r.passes for r in first.readings if r.edge == 11) == IN_HAND_READ_TO
    assert first.next_gf.shape == (NEXT_EDGES, len(ASKED_AT))
    # operators and lots go with no edge
    for edge in range(12):
        assert len({r.operator for r in first.readings if r.edge == edge}) == 2
    path = write(first, tmp_path, told=True)
    assert 'rate = "k/(1 + x/0.6/8)"' in path.read_text()
    assert len((tmp_path / "readings.csv").read_text().splitlines()) == len(first.readings) + 1


def test_luck_is_as_wide_as_the_workshop_says():
    workshop = Workshop()
    fresh = np.concatenate([draw(TRUTHS[2], c, 12).next_gf for c in range(60)])
    early = np.log(fresh[:, 0] / curve(workshop, TRUTHS[2], np.array(ASKED_AT), np.zeros(1), np.zeros(1))[0, 0])
    assert early.std() == pytest.approx(workshop.edge, rel=0.1)


def test_a_band_that_holds_nine_of_ten_passes_and_one_that_holds_half_does_not():
    tally = bands.Tally(TRUTHS[0], 40)
    width = np.ones(4)
    for _ in range(40):
        tally.next_held.append(np.array([0.9, 0.9, 0.5, 0.5]))
        tally.width.append(width)
        tally.told_width.append(width / 2)
    passed = {c.what.split(": ")[1]: c.passed for c in bands._checks(tally)}
    assert passed["next edges within the band of 90 % after 20 passes"]
    assert not passed["next edges within the band of 90 % after 150 passes"]
    assert not passed["next edges within the band of 90 % after 300 passes"]
    assert not passed["width of the band after 20 passes, over that of a fit that is told the curve"]
    assert holds(np.array([[1.0, 2.0], [1.0, 2.0]]), np.array([[1.5, 2.5]])).tolist() == [[True, False]]
    assert bands.edges_of(12) == 3 and bands.edges_of(11) == 12
